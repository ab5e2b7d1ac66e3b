"""Density of dry air: the compact form (`planner.gas.compact`) of its published equation of state.

Throughout the range of the form density is within 0.01 % of the published equation, and pressure rises strictly with
density; both are tested on a grid.

Source: E. W. Lemmon, R. T. Jacobsen, S. G. Penoncello and D. G. Friend, "Thermodynamic properties of air and mixtures
of nitrogen, argon, and oxygen from 60 to 2000 K at pressures to 2000 MPa", J Phys Chem Ref Data 2000;29:331-385,
doi 10.1063/1.1285884.
"""

from __future__ import annotations

from typing import Final

from planner.gas.compact import CompactEquation

COEFFICIENTS: Final = (
    (0.6507687, -0.5851165, -0.3471132, 0.0473035),
    (0.8763918, -1.5968561, 1.9861135, -0.6988366),
    (-4.2318893, 13.3737013, -16.2479665, 6.1343651),
    (16.5947363, -53.0876053, 63.2313367, -23.4133031),
    (-33.4516237, 111.8332856, -132.7157409, 48.6708178),
    (34.7624414, -121.4736640, 146.8695764, -54.4084142),
    (-16.8184567, 62.8015723, -79.2471085, 30.1676581),
    (2.7816706, -11.7373524, 16.0755553, -6.4180928),
)

# R: 8.31451 J/(mol K) over 0.02896546 kg/mol, as in the source.
AIR: Final = CompactEquation("air", 8.31451 / 28.96546, COEFFICIENTS)
