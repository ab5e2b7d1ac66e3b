"""How densely the card is set: as airy as its number of pages allows. Type sizes never change."""

from __future__ import annotations

from typing import NamedTuple


class Spacing(NamedTuple):
    """Heights of rows and gaps, points: rows of the travel tables, rows of the minutes, gaps, lines to tick.

    `source` is the most lines of source and outlets beside a leg; what is beyond stands on the sheet.
    """

    row: float
    minutes_row: float
    gap: float
    tick: float
    source: int


AIRY = Spacing(row=20.0, minutes_row=18.0, gap=11.0, tick=14.0, source=6)
PLAIN = Spacing(row=18.0, minutes_row=16.6, gap=8.0, tick=13.0, source=6)
TIGHT = Spacing(row=16.2, minutes_row=15.2, gap=4.5, tick=12.0, source=6)
LEVELS = (AIRY, PLAIN, TIGHT, AIRY._replace(source=3), TIGHT._replace(source=3))
"""What is tried in turn; source and outlets are cut only where that saves a page."""
