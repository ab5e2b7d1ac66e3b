"""Fit the compact equation of state of `planner.gas.compact` to the published ones, and print the tables.

The published equations are, for oxygen, that of Schmidt and Wagner (Fluid Phase Equilibria 1985;19:175-200), and for
dry air that of Lemmon, Jacobsen, Penoncello and Friend (J Phys Chem Ref Data 2000;29:331-385), as CoolProp carries
them. The compact form keeps the pressure explicit in density:

    p = rho R T (1 + sum over i = 1..n, j = 0..3 of c[i][j] (rho / 500 kg/m3)^i (273.15 K / T)^j)

It is linear in its coefficients, so one weighted least-squares solution without iteration gives them; the
weight makes the relative error of pressure count the same everywhere. The grid reaches a little beyond the
range in which the planner allows the form, so that the edges of the range are no edges of the fit.

Run with the test extra installed: `python tests/published/fit_gas.py`.
"""

from __future__ import annotations

import CoolProp
import numpy as np
from CoolProp import AbstractState

DENSITY_SCALE_KG_PER_M3 = 500.0
TEMPERATURE_SCALE_K = 273.15
POWERS_OF_DENSITY = {"Oxygen": 6, "Air": 8}  # the fewest that keep density within 0.01 %
POWERS_OF_TEMPERATURE = 4
DECIMALS = 7


def specific_gas_constant_kpa_m3_per_kg_k(gas: str = "Oxygen") -> float:
    """R of the published equation: oxygen 8.31434 J/(mol K) over 0.0319988 kg/mol, air 8.31451 over 0.02896546."""
    state = AbstractState("HEOS", gas)
    return float(state.gas_constant() / state.molar_mass() / 1000.0)


def published_density_kg_per_m3(pressure_kpa: float, temperature_degc: float, gas: str = "Oxygen") -> float:
    """Density by the published equation of state at an absolute pressure and a temperature."""
    state = AbstractState("HEOS", gas)
    state.update(CoolProp.PT_INPUTS, pressure_kpa * 1000.0, temperature_degc + 273.15)
    return float(state.rhomass())


def fit(gas: str = "Oxygen") -> list[list[float]]:
    """The coefficients, one row for each power of density from 1 up, one column for each power of 1/T from 0 up."""
    temperatures_degc = np.linspace(-65.0, 85.0, 51)
    pressures_kpa = np.concatenate([np.geomspace(1.0, 1000.0, 12), np.linspace(1200.0, 41500.0, 72)])
    points = np.array(
        [
            (pressure, degc + 273.15, published_density_kg_per_m3(float(pressure), float(degc), gas))
            for degc in temperatures_degc
            for pressure in pressures_kpa
        ]
    )
    pressure, kelvin, density = points.T
    ratio = density / DENSITY_SCALE_KG_PER_M3
    inverse = TEMPERATURE_SCALE_K / kelvin
    compressibility = pressure / (density * specific_gas_constant_kpa_m3_per_kg_k(gas) * kelvin)
    columns = np.stack(
        [ratio**i * inverse**j for i in range(1, POWERS_OF_DENSITY[gas] + 1) for j in range(POWERS_OF_TEMPERATURE)],
        axis=1,
    )
    solution, *_ = np.linalg.lstsq(
        columns / compressibility[:, None], (compressibility - 1.0) / compressibility, rcond=None
    )
    rows = solution.reshape(POWERS_OF_DENSITY[gas], POWERS_OF_TEMPERATURE)
    return [[round(float(value), DECIMALS) for value in row] for row in rows]


def main() -> None:
    """Print each gas constant and table as they stand in `planner.gas.oxygen` and `planner.gas.air`."""
    for gas in ("Oxygen", "Air"):
        print(f"{gas}: R = {specific_gas_constant_kpa_m3_per_kg_k(gas):.10f} kPa m3/(kg K)")
        for row in fit(gas):
            print("    (" + ", ".join(f"{value:.{DECIMALS}f}" for value in row) + "),")


if __name__ == "__main__":
    main()
