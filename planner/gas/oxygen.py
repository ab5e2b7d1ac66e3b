"""Density of oxygen gas: a compact form of its published equation of state.

The form is explicit in pressure:

    p = rho R T (1 + sum over i = 1..6 of C_i(T) (rho / 500 kg/m3)^i)
    C_i(T) = sum over j = 0..3 of c[i][j] (273.15 K / T)^j

p absolute pressure, kPa; rho density, kg/m3; T temperature, K; R = 8.31434 / 31.9988 kPa m3/(kg K). The
coefficients were fitted to the equation of Schmidt and Wagner (1985) by tests/published/fit_oxygen.py.

Range: -60 to 80 degC and 0 to 40 200 kPa absolute, that is a little more than 400 bar gauge. Throughout the
range density is within 0.01 % of the published equation, and pressure rises strictly with density; both
are tested on a grid. Outside it the form means nothing, so every function refuses with `ValueError`.

Source: R. Schmidt and W. Wagner, "A new form of the equation of state for pure substances and its
application to oxygen", Fluid Phase Equilibria 1985;19:175-200, doi 10.1016/0378-3812(85)87016-3.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

from planner.constants import KELVIN_AT_0_DEGC

LOWEST_TEMPERATURE_DEGC: Final = -60.0
HIGHEST_TEMPERATURE_DEGC: Final = 80.0
HIGHEST_PRESSURE_KPA: Final = 40_200.0

GAS_CONSTANT_KPA_M3_PER_KG_K: Final = 8.31434 / 31.9988
DENSITY_SCALE_KG_PER_M3: Final = 500.0
TEMPERATURE_SCALE_K: Final = 273.15

# One row for each power of density, from 1 to 6; in it one column for each power of 1/T, from 0 to 3.
COEFFICIENTS: Final = (
    (0.5212374, -0.5653226, -0.3373714, 0.0416560),
    (0.4802783, -1.1460293, 1.3207625, -0.3998776),
    (-0.7626737, 2.9922173, -3.3400248, 1.2072710),
    (0.9165207, -3.1330669, 3.3662102, -1.2448319),
    (-0.4346240, 1.5795000, -1.6461277, 0.5857983),
    (0.0587999, -0.2617912, 0.2959184, -0.1039535),
)

# From the ideal gas, Newton's method is exact to the last digits after five steps all over the range.
NEWTON_STEPS: Final = 6


@lru_cache(maxsize=256)
def _isotherm(temperature_degc: float) -> tuple[float, float, float, float, float, float, float]:
    """R T in kPa m3/kg, and C_1 to C_6, at a temperature within the range."""
    if not LOWEST_TEMPERATURE_DEGC <= temperature_degc <= HIGHEST_TEMPERATURE_DEGC:
        raise ValueError(
            f"gas temperature {temperature_degc:g} degC is outside {LOWEST_TEMPERATURE_DEGC:g} to "
            f"{HIGHEST_TEMPERATURE_DEGC:g} degC, where the density of oxygen is known to this program"
        )
    kelvin = temperature_degc + KELVIN_AT_0_DEGC
    inverse = TEMPERATURE_SCALE_K / kelvin
    c1, c2, c3, c4, c5, c6 = (a + inverse * (b + inverse * (c + inverse * d)) for a, b, c, d in COEFFICIENTS)
    return GAS_CONSTANT_KPA_M3_PER_KG_K * kelvin, c1, c2, c3, c4, c5, c6


@lru_cache(maxsize=256)
def _highest_density_kg_per_m3(temperature_degc: float) -> float:
    """Density at the highest pressure of the range."""
    return density_kg_per_m3(HIGHEST_PRESSURE_KPA, temperature_degc)


def density_kg_per_m3(pressure_kpa_abs: float, temperature_degc: float) -> float:
    """Density of oxygen gas, kg/m3, by Newton's method on the form above.

    `pressure_kpa_abs`: absolute pressure, kPa, from 0 to 40 200. `temperature_degc`: temperature of the
    gas, degC, from -60 to 80. Raises `ValueError` outside either range.

    >>> round(density_kg_per_m3(101.325, 21.1), 4)
    1.3262
    """
    if not 0.0 <= pressure_kpa_abs <= HIGHEST_PRESSURE_KPA:
        raise ValueError(
            f"absolute pressure {pressure_kpa_abs:g} kPa is outside 0 to {HIGHEST_PRESSURE_KPA:g} kPa, "
            "where the density of oxygen is known to this program"
        )
    rt, c1, c2, c3, c4, c5, c6 = _isotherm(temperature_degc)
    scaled_rt = rt * DENSITY_SCALE_KG_PER_M3
    target = pressure_kpa_abs / scaled_rt
    x = target
    for _ in range(NEWTON_STEPS):
        value = x * (1.0 + x * (c1 + x * (c2 + x * (c3 + x * (c4 + x * (c5 + x * c6))))))
        slope = 1.0 + x * (
            2.0 * c1 + x * (3.0 * c2 + x * (4.0 * c3 + x * (5.0 * c4 + x * (6.0 * c5 + x * (7.0 * c6)))))
        )
        x -= (value - target) / slope
    return x * DENSITY_SCALE_KG_PER_M3


def pressure_kpa(density_kg_per_m3: float, temperature_degc: float) -> float:
    """Absolute pressure of oxygen gas, kPa, from its density: the form above as it stands.

    `density_kg_per_m3`: from 0 to the density at 40 200 kPa. `temperature_degc`: from -60 to 80. Raises
    `ValueError` outside either range.

    >>> round(pressure_kpa(1.3262, 21.1), 1)
    101.3
    """
    rt, c1, c2, c3, c4, c5, c6 = _isotherm(temperature_degc)
    highest = _highest_density_kg_per_m3(temperature_degc)
    if not 0.0 <= density_kg_per_m3 <= highest:
        raise ValueError(
            f"density {density_kg_per_m3:g} kg/m3 is outside 0 to {highest:g} kg/m3, the density of oxygen at "
            f"{HIGHEST_PRESSURE_KPA:g} kPa absolute and {temperature_degc:g} degC"
        )
    x = density_kg_per_m3 / DENSITY_SCALE_KG_PER_M3
    return density_kg_per_m3 * rt * (1.0 + x * (c1 + x * (c2 + x * (c3 + x * (c4 + x * (c5 + x * c6))))))
