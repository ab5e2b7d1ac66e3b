"""Text for a screen: its width, lines and tables that fit, and names that cannot steer it.

A screen has at least 80 columns; where the terminal is known to be wider, tables and lines may be wider too. Nothing is
lost where a table is too wide: a long name goes on in the line below.
"""

from __future__ import annotations

import re
import shutil
import textwrap
from collections.abc import Iterable, Sequence
from itertools import zip_longest
from typing import Final

LEAST_WIDE: Final = 80
MOST_WIDE: Final = 120
READABLE: Final = 100
"""Lines of text are no longer than that, however wide the screen."""
NARROWEST: Final = 8
_MOST_LINES: Final = 4
"""Lines that one cell of a table may take; a name as long as that is cut, and stands in full on paper."""


_WITH_ITS_UNIT: Final = re.compile(r"(?<=[0-9]) (?=(?:L|L/min|mL|min|h|psi|bar|kPa|MPa|kg|%|x)\b)|(?<=\bx) (?=[A-Z])")
_TIED: Final = "\u00a0"


def width() -> int:
    """Columns of the screen: of the terminal, or what `COLUMNS` says, from 80 to 120; 80 where nobody knows."""
    return min(max(shutil.get_terminal_size((LEAST_WIDE, 24)).columns, LEAST_WIDE), MOST_WIDE)


def printable(text: str) -> str:
    """The text with every control character shown as `?`, so that a name cannot steer the screen."""
    return "".join(char if char.isprintable() else "?" for char in text)


def short(text: str, wide: int) -> str:
    """The text, cut to a width with three dots at its end."""
    return text if len(text) <= wide else text[: max(0, wide - 3)] + "..."[:wide]


def wrap(text: str, first: str = "", rest: str | None = None) -> list[str]:
    """The text on as many lines as it needs, the first one led by `first`, the others by `rest`."""
    after = " " * len(first) if rest is None else rest
    return _lines(text, min(width(), READABLE), first, after)


def table(
    head: Sequence[str],
    rows: Iterable[Sequence[str]],
    right: frozenset[int] = frozenset(),
    shrink: Sequence[int] = (),
    indent: str = "  ",
) -> list[str]:
    """A table in columns two spaces apart; the columns of `right` stand flush right. A head may have several lines.

    Where the table is wider than the screen, the widest column of `shrink` gives way, and its texts go on below.
    """
    cells = [list(row) for row in rows]
    heads = [part.split("\n") for part in head]
    high = max(map(len, heads))
    above = [[""] * (high - len(parts)) + parts for parts in heads]
    columns = range(len(head))
    widths = [max(map(len, (*above[column], *(row[column] for row in cells)))) for column in columns]
    room = width() - len(indent) - 2 * (len(head) - 1)
    while sum(widths) > room:
        wide = max(shrink, key=lambda index: widths[index], default=None)
        if wide is None or widths[wide] <= NARROWEST:
            break
        widths[wide] -= 1
    lines = [[parts[line] for parts in above] for line in range(high)]
    for row in cells:
        parts = [_parts(text, widths[at]) for at, text in enumerate(row)]
        lines += map(list, zip_longest(*parts, fillvalue=""))
    return [
        indent
        + "  ".join(
            short(text, widths[at]).rjust(widths[at]) if at in right else short(text, widths[at]).ljust(widths[at])
            for at, text in enumerate(line)
        ).rstrip()
        for line in lines
    ]


def _parts(text: str, wide: int) -> list[str]:
    """A cell in lines; its first spaces stay."""
    if len(text) <= wide:
        return [text]
    lead = " " * (len(text) - len(text.lstrip(" ")))
    parts = _lines(text, wide, lead, "")
    return (
        parts
        if len(parts) <= _MOST_LINES
        else [*parts[: _MOST_LINES - 1], short(" ".join(parts[_MOST_LINES - 1 :]), wide)]
    )


def _lines(text: str, wide: int, first: str, rest: str) -> list[str]:
    """A text in lines; a number and its unit stay together."""
    tied = _WITH_ITS_UNIT.sub(_TIED, text)
    lines = textwrap.wrap(tied, wide, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False)
    return [line.replace(_TIED, " ") for line in lines]
