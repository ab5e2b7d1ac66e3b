"""Widths of the columns of a table, from what stands in them."""

from __future__ import annotations

from planner.pages.drawing import fonts
from planner.pages.drawing.lines import SMALL
from planner.report.blocks import Table

GAP = 8.0
LONGEST_WORD = 120.0


def _measure(text: str, *, head: bool) -> float:
    return fonts.width(fonts.clean(text), "bold" if head else "regular", SMALL) + 0.1


def column_widths(table: Table, room: float) -> list[float]:
    """Widths of the columns: as wide as they need where that fits, else the widest give way first.

    No column is made narrower than its longest word, unless the words alone do not fit: then the longest are broken.
    """
    columns = list(zip(table.head, *table.rows, strict=True))
    wish = [max(_measure(text, head=index == 0) for index, text in enumerate(column)) for column in columns]
    room -= GAP * (len(columns) - 1)
    words = [
        max(_measure(word, head=index == 0) for index, text in enumerate(column) for word in text.split() or [""])
        for column in columns
    ]
    longest = LONGEST_WORD if sum(min(word, LONGEST_WORD) for word in words) <= room else _level(words, room)
    least = [min(word, longest) for word in words]
    if sum(wish) <= room:
        if len(wish) > 1:
            wish[-1] += room - sum(wish) if (len(columns) - 1) not in table.right else 0.0
        return wish
    free = max(0.0, room - sum(least))
    over = [want - low for want, low in zip(wish, least, strict=True)]
    level = _level(over, free)
    return [low + min(more, level) for low, more in zip(least, over, strict=True)]


def _level(over: list[float], free: float) -> float:
    """The height to which `free` fills the columns evenly, none above its own wish."""
    rest, count = free, len(over)
    low = 0.0
    for value in sorted(over):
        if (value - low) * count > rest:
            return low + rest / count
        rest -= (value - low) * count
        low, count = value, count - 1
    return low
