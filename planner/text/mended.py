"""A text with one mend put in, exactly where the problem stands."""

from __future__ import annotations

from typing import Final

from planner.problems import Mend
from planner.text.text_file import BREAK

_QUOTES: Final = ("", '"', "'")


def mended(text: str, line: int, column: int, mend: Mend) -> str | None:
    """The text with a mend at a place; None where what was found does not stand there as it was read.

    `line` and `column` count from 1, as in `planner.problems.Problem`. Quotes around what was found go with it.
    """
    start = _offset(text, line, column)
    if start is None:
        return None
    for quote in _QUOTES:
        found = f"{quote}{mend.old}{quote}"
        if mend.old and text.startswith(found, start):
            return text[:start] + mend.new + text[start + len(found) :]
    return None


def _offset(text: str, line: int, column: int) -> int | None:
    """Where a place begins, in characters; None outside the text."""
    if line < 1 or column < 1:
        return None
    start = 0
    for _ in range(line - 1):
        after = BREAK.search(text, start)
        if after is None:
            return None
        start = after.end()
    return start + column - 1
