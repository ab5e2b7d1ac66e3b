"""Fit the compact equation of state of `planner.gas.oxygen` to the published one, and print its table.

The published equation is that of Schmidt and Wagner (Fluid Phase Equilibria 1985;19:175-200), as CoolProp
carries it. The compact form keeps the pressure explicit in density:

    p = rho R T (1 + sum over i = 1..6, j = 0..3 of c[i][j] (rho / 500 kg/m3)^i (273.15 K / T)^j)

It is linear in its coefficients, so one weighted least-squares solution without iteration gives them; the
weight makes the relative error of pressure count the same everywhere. The grid reaches a little beyond the
range in which the planner allows the form, so that the edges of the range are no edges of the fit.

Run with the test extra installed: `python tests/published/fit_oxygen.py`.
"""

from __future__ import annotations

import CoolProp
import numpy as np
from CoolProp import AbstractState

DENSITY_SCALE_KG_PER_M3 = 500.0
TEMPERATURE_SCALE_K = 273.15
POWERS_OF_DENSITY = 6
POWERS_OF_TEMPERATURE = 4
DECIMALS = 7


def specific_gas_constant_kpa_m3_per_kg_k() -> float:
    """R of oxygen in the published equation: 8.31434 J/(mol K) over 0.0319988 kg/mol."""
    state = AbstractState("HEOS", "Oxygen")
    return float(state.gas_constant() / state.molar_mass() / 1000.0)


def published_density_kg_per_m3(pressure_kpa: float, temperature_degc: float) -> float:
    """Density by the published equation of state at an absolute pressure and a temperature."""
    state = AbstractState("HEOS", "Oxygen")
    state.update(CoolProp.PT_INPUTS, pressure_kpa * 1000.0, temperature_degc + 273.15)
    return float(state.rhomass())


def fit() -> list[list[float]]:
    """The coefficients, one row for each power of density from 1 up, one column for each power of 1/T from 0 up."""
    temperatures_degc = np.linspace(-65.0, 85.0, 51)
    pressures_kpa = np.concatenate([np.geomspace(1.0, 1000.0, 12), np.linspace(1200.0, 41500.0, 72)])
    points = np.array(
        [
            (pressure, degc + 273.15, published_density_kg_per_m3(float(pressure), float(degc)))
            for degc in temperatures_degc
            for pressure in pressures_kpa
        ]
    )
    pressure, kelvin, density = points.T
    ratio = density / DENSITY_SCALE_KG_PER_M3
    inverse = TEMPERATURE_SCALE_K / kelvin
    compressibility = pressure / (density * specific_gas_constant_kpa_m3_per_kg_k() * kelvin)
    columns = np.stack(
        [ratio**i * inverse**j for i in range(1, POWERS_OF_DENSITY + 1) for j in range(POWERS_OF_TEMPERATURE)],
        axis=1,
    )
    solution, *_ = np.linalg.lstsq(
        columns / compressibility[:, None], (compressibility - 1.0) / compressibility, rcond=None
    )
    rows = solution.reshape(POWERS_OF_DENSITY, POWERS_OF_TEMPERATURE)
    return [[round(float(value), DECIMALS) for value in row] for row in rows]


def main() -> None:
    """Print the gas constant and the table as they stand in `planner.gas.oxygen`."""
    print(f"R = {specific_gas_constant_kpa_m3_per_kg_k():.10f} kPa m3/(kg K)")
    for row in fit():
        print("    (" + ", ".join(f"{value:.{DECIMALS}f}" for value in row) + "),")


if __name__ == "__main__":
    main()
