"""Litres in a cylinder from its gauge, and back.

    contents = V x (rho(gauge + 101.325 kPa, T) - rho(101.325 kPa, T)) / rho_ref

V water capacity, litres; rho density of the gas (`planner.gas.oxygen`, `planner.gas.air`); T its temperature. rho_ref
is the density at 21.1 degC and 101.325 kPa, so that a litre of contents is a litre of the dry gas in that
state. What stays in the cylinder at zero gauge is not counted: it does not come out. The gas is oxygen unless said.

The gauge is read against an outside pressure of one standard atmosphere. No credit is taken for the extra
gas that flows out at altitude.
"""

from __future__ import annotations

from functools import lru_cache
from math import inf
from typing import Final, Literal

from planner.constants import REFERENCE_TEMPERATURE_DEGC, STANDARD_PRESSURE_KPA
from planner.figures import as_given as given
from planner.gas.air import AIR
from planner.gas.compact import CompactEquation
from planner.gas.oxygen import OXYGEN

Gas = Literal["oxygen", "air"]

HIGHEST_GAUGE_KPA: Final = 40_000.0
"""The highest gauge pressure for which contents are known: 400 bar."""

EQUATIONS: Final[dict[str, CompactEquation]] = {"oxygen": OXYGEN, "air": AIR}
"""Of each gas by which its density is worked out."""


@lru_cache(maxsize=256)
def _left_at_zero_gauge_kg_per_m3(gas: Gas, temperature_degc: float) -> float:
    """Density in a cylinder that has blown down to the atmosphere."""
    return EQUATIONS[gas].density_kg_per_m3(STANDARD_PRESSURE_KPA, temperature_degc)


REFERENCE_DENSITY_KG_PER_M3: Final[dict[str, float]] = {
    "oxygen": _left_at_zero_gauge_kg_per_m3("oxygen", REFERENCE_TEMPERATURE_DEGC),
    "air": _left_at_zero_gauge_kg_per_m3("air", REFERENCE_TEMPERATURE_DEGC),
}
"""Of each gas at 21.1 degC and 101.325 kPa."""


def _check_water_capacity(water_capacity_l: float) -> None:
    if not 0.0 < water_capacity_l < inf:
        raise ValueError(f"water capacity {given(water_capacity_l)} L is not a number above 0 L")


def per_litre(gas: Gas, gauge_kpa: float, temperature_degc: float) -> float:
    """Litres of gas for each litre of water capacity; arguments and errors as those of `contents_l()`."""
    if not 0.0 <= gauge_kpa <= HIGHEST_GAUGE_KPA:
        raise ValueError(
            f"gauge pressure {given(gauge_kpa)} kPa is outside 0 to {given(HIGHEST_GAUGE_KPA)} kPa (400 bar)"
        )
    full = EQUATIONS[gas].density_kg_per_m3(gauge_kpa + STANDARD_PRESSURE_KPA, temperature_degc)
    return (full - _left_at_zero_gauge_kg_per_m3(gas, temperature_degc)) / REFERENCE_DENSITY_KG_PER_M3[gas]


_contents_per_litre = lru_cache(maxsize=256)(per_litre)
"""The same: change-over, filling and full gauges come again and again."""


def contents_l(gauge_kpa: float, temperature_degc: float, water_capacity_l: float, gas: Gas = "oxygen") -> float:
    """Contents of a cylinder, litres of gas at 21.1 degC and 101.325 kPa, down to zero gauge.

    `gauge_kpa`: gauge pressure, kPa, from 0 to 40 000 (400 bar). `temperature_degc`: temperature of the gas,
    degC, from -60 to 80. `water_capacity_l`: litres, above 0. Raises `ValueError` outside these ranges.

    >>> round(contents_l(15168.5, 21.1, 3.859))  # 2200 psi
    616
    >>> round(contents_l(15168.5, 21.1, 3.859, "air"))
    576
    """
    _check_water_capacity(water_capacity_l)
    return water_capacity_l * _contents_per_litre(gas, gauge_kpa, temperature_degc)


def gauge_kpa(contents_l: float, temperature_degc: float, water_capacity_l: float, gas: Gas = "oxygen") -> float:
    """Gauge pressure, kPa, of a cylinder that holds `contents_l`: the exact inverse of `contents_l()`.

    `contents_l`: litres of gas at 21.1 degC and 101.325 kPa, from 0 to what the cylinder holds at
    40 000 kPa. `temperature_degc`: temperature of the gas, degC, from -60 to 80. `water_capacity_l`: litres,
    above 0. Raises `ValueError` outside these ranges.

    >>> round(gauge_kpa(616.0, 21.1, 3.859), -1)  # 2200 psi is 15 168 kPa
    15170.0
    """
    _check_water_capacity(water_capacity_l)
    per_litre = contents_l / water_capacity_l
    most_per_litre = _contents_per_litre(gas, HIGHEST_GAUGE_KPA, temperature_degc)
    if not 0.0 <= per_litre <= most_per_litre * (1.0 + 1e-12):
        raise ValueError(
            f"contents of {given(contents_l)} L are outside 0 to {given(most_per_litre * water_capacity_l)} L, "
            f"what a cylinder of {given(water_capacity_l)} L water capacity holds at {given(HIGHEST_GAUGE_KPA)} kPa "
            f"(400 bar) and {given(temperature_degc)} degC"
        )
    density = per_litre * REFERENCE_DENSITY_KG_PER_M3[gas] + _left_at_zero_gauge_kg_per_m3(gas, temperature_degc)
    gauge = EQUATIONS[gas].pressure_kpa(density, temperature_degc) - STANDARD_PRESSURE_KPA
    # The last binary digit must not carry an empty or a brimful cylinder out of the range of `contents_l()`.
    return min(max(gauge, 0.0), HIGHEST_GAUGE_KPA)


def water_capacity_l(contents_l: float, gauge_kpa: float, temperature_degc: float, gas: Gas = "oxygen") -> float:
    """Water capacity, litres, of a cylinder that holds `contents_l` at a gauge pressure, as its label states.

    `contents_l`: litres of gas at 21.1 degC and 101.325 kPa, above 0. `gauge_kpa`: kPa, above 0 and to
    40 000. `temperature_degc`: temperature at which the label holds, degC, from -60 to 80. Raises
    `ValueError` outside these ranges.

    >>> round(water_capacity_l(616.0, 15168.5, 21.1), 3)  # 0.28 L/psi x 2200 psi
    3.859
    """
    if not 0.0 < contents_l < inf:
        raise ValueError(f"contents of {given(contents_l)} L are not a number above 0 L")
    per_litre = _contents_per_litre(gas, gauge_kpa, temperature_degc)
    if per_litre <= 0.0:
        raise ValueError("a gauge pressure of 0 kPa tells nothing of the water capacity; it must be above 0 kPa")
    return contents_l / per_litre
