"""Density of oxygen gas: the compact form (`planner.gas.compact`) of its published equation of state.

Throughout the range of the form density is within 0.01 % of the published equation, and pressure rises strictly with
density; both are tested on a grid.

Source: R. Schmidt and W. Wagner, "A new form of the equation of state for pure substances and its
application to oxygen", Fluid Phase Equilibria 1985;19:175-200, doi 10.1016/0378-3812(85)87016-3.
"""

from __future__ import annotations

from typing import Final

from planner.gas.compact import CompactEquation

COEFFICIENTS: Final = (
    (0.5212374, -0.5653226, -0.3373714, 0.0416560),
    (0.4802783, -1.1460293, 1.3207625, -0.3998776),
    (-0.7626737, 2.9922173, -3.3400248, 1.2072710),
    (0.9165207, -3.1330669, 3.3662102, -1.2448319),
    (-0.4346240, 1.5795000, -1.6461277, 0.5857983),
    (0.0587999, -0.2617912, 0.2959184, -0.1039535),
)

# R: 8.31434 J/(mol K) over 0.0319988 kg/mol, as in the source.
OXYGEN: Final = CompactEquation("oxygen", 8.31434 / 31.9988, COEFFICIENTS)
