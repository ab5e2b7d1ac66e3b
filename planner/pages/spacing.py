"""How densely the card is set: as airy as its number of pages allows. Type sizes never change."""

from __future__ import annotations

from typing import NamedTuple


class Spacing(NamedTuple):
    """Heights of rows and gaps, points: rows of the travel tables, rows of the minutes, gaps, lines to tick."""

    row: float
    minutes_row: float
    gap: float
    tick: float


AIRY = Spacing(row=20.0, minutes_row=18.0, gap=11.0, tick=14.0)
PLAIN = Spacing(row=18.0, minutes_row=16.6, gap=8.0, tick=13.0)
TIGHT = Spacing(row=16.2, minutes_row=15.2, gap=4.5, tick=12.0)
LEVELS = (AIRY, PLAIN, TIGHT)
