"""A text with one mend put in, exactly where the problem stands."""

from __future__ import annotations

from typing import Final

from planner.problems import Mend
from planner.text.text_file import line_starts

_QUOTES: Final = ("", '"', "'")


def mended(text: str, line: int, column: int, mend: Mend) -> str | None:
    """The text with a mend at a place; None where what was found does not stand there as it was read.

    `line` and `column` count from 1, as in `planner.problems.Problem`. Quotes around what was found go with it.
    """
    starts = line_starts(text)
    if not 1 <= line <= len(starts) or column < 1:
        return None
    start = starts[line - 1] + column - 1
    for quote in _QUOTES:
        found = f"{quote}{mend.old}{quote}"
        if mend.old and text.startswith(found, start):
            return text[:start] + mend.new + text[start + len(found) :]
    return None
