"""Density of a gas by a compact equation of state, explicit in pressure.

    p = rho R T (1 + sum over i = 1..n of C_i(T) (rho / 500 kg/m3)^i)
    C_i(T) = sum over j = 0..3 of c[i][j] (273.15 K / T)^j

p absolute pressure, kPa; rho density, kg/m3; T temperature, K; R specific gas constant, kPa m3/(kg K). The
coefficients of a gas, with their number n, stand in a module of its own, with the published equation
that they were fitted to by tests/published/fit_gas.py.

Range: -60 to 80 degC and 0 to 40 200 kPa absolute, that is a little more than 400 bar gauge. Outside it the form means
nothing, so every function refuses with `ValueError`.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

from planner.constants import KELVIN_AT_0_DEGC
from planner.figures import as_given as given

LOWEST_TEMPERATURE_DEGC: Final = -60.0
HIGHEST_TEMPERATURE_DEGC: Final = 80.0
HIGHEST_PRESSURE_KPA: Final = 40_200.0

DENSITY_SCALE_KG_PER_M3: Final = 500.0
TEMPERATURE_SCALE_K: Final = 273.15

# From the ideal gas, Newton's method is exact to the last digits after five steps all over the range.
NEWTON_STEPS: Final = 6
NEWTON_NEAR: Final = 1e-8
"""Each step squares what the one before was off by: after a step of less than this share nothing is left to mend."""

Coefficients = tuple[float, float, float, float]


class CompactEquation:
    """The equation of one gas. Each gas has one object, made once.

    `gas`: its name, for messages. `gas_constant_kpa_m3_per_kg_k`: R above. `coefficients`: one row for each power of
    density from 1 to n, of four columns, one for each power of 1/T from 0 to 3; no dimension.
    """

    def __init__(self, gas: str, gas_constant_kpa_m3_per_kg_k: float, coefficients: tuple[Coefficients, ...]) -> None:
        self.gas = gas
        self.gas_constant_kpa_m3_per_kg_k = gas_constant_kpa_m3_per_kg_k
        self.coefficients = coefficients

    def density_kg_per_m3(self, pressure_kpa_abs: float, temperature_degc: float) -> float:
        """Density, kg/m3, by Newton's method on the form above.

        `pressure_kpa_abs`: kPa, from 0 to 40 200. `temperature_degc`: of the gas, degC, from -60 to 80. Raises
        `ValueError` outside either range.

        >>> from planner.gas.oxygen import OXYGEN
        >>> round(OXYGEN.density_kg_per_m3(101.325, 21.1), 4)
        1.3262
        """
        if not 0.0 <= pressure_kpa_abs <= HIGHEST_PRESSURE_KPA:
            raise ValueError(
                f"absolute pressure {given(pressure_kpa_abs)} kPa is outside 0 to {given(HIGHEST_PRESSURE_KPA)} kPa, "
                f"where the density of {self.gas} is known to this program"
            )
        rt, powers = _isotherm(self, temperature_degc)
        target = pressure_kpa_abs / (rt * DENSITY_SCALE_KG_PER_M3)
        x = target
        for _ in range(NEWTON_STEPS):
            value = slope = 0.0
            for c, c_of_slope in powers:
                value = c + x * value
                slope = c_of_slope + x * slope
            step = (x * (1.0 + x * value) - target) / (1.0 + x * slope)
            x -= step
            if abs(step) <= NEWTON_NEAR * x:
                break
        return x * DENSITY_SCALE_KG_PER_M3

    def pressure_kpa(self, density_kg_per_m3: float, temperature_degc: float) -> float:
        """Absolute pressure, kPa, from density: the form above as it stands.

        `density_kg_per_m3`: from 0 to the density at 40 200 kPa. `temperature_degc`: from -60 to 80. Raises
        `ValueError` outside either range.
        """
        highest = _highest_density_kg_per_m3(self, temperature_degc)
        if not 0.0 <= density_kg_per_m3 <= highest:
            raise ValueError(
                f"density {given(density_kg_per_m3)} kg/m3 is outside 0 to {given(highest)} kg/m3, "
                f"the density of {self.gas} at {given(HIGHEST_PRESSURE_KPA)} kPa absolute and "
                f"{given(temperature_degc)} degC"
            )
        x = density_kg_per_m3 / DENSITY_SCALE_KG_PER_M3
        rt, powers = _isotherm(self, temperature_degc)
        value = 0.0
        for c, _ in powers:
            value = c + x * value
        return density_kg_per_m3 * rt * (1.0 + x * value)


@lru_cache(maxsize=256)
def _isotherm(equation: CompactEquation, temperature_degc: float) -> tuple[float, tuple[tuple[float, float], ...]]:
    """R T in kPa m3/kg, and (C_i, (i + 1) C_i) from the highest i down, at a temperature within the range."""
    if not LOWEST_TEMPERATURE_DEGC <= temperature_degc <= HIGHEST_TEMPERATURE_DEGC:
        raise ValueError(
            f"gas temperature {given(temperature_degc)} degC is outside {given(LOWEST_TEMPERATURE_DEGC)} to "
            f"{given(HIGHEST_TEMPERATURE_DEGC)} degC, where the density of {equation.gas} is known to this program"
        )
    kelvin = temperature_degc + KELVIN_AT_0_DEGC
    inverse = TEMPERATURE_SCALE_K / kelvin
    at_t = [a + inverse * (b + inverse * (c + inverse * d)) for a, b, c, d in equation.coefficients]
    powers = tuple((value, (index + 2.0) * value) for index, value in enumerate(at_t))
    return equation.gas_constant_kpa_m3_per_kg_k * kelvin, powers[::-1]


@lru_cache(maxsize=256)
def _highest_density_kg_per_m3(equation: CompactEquation, temperature_degc: float) -> float:
    """Density at the highest pressure of the range."""
    return equation.density_kg_per_m3(HIGHEST_PRESSURE_KPA, temperature_degc)
