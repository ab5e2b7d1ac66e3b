"""Names that differ by the hand alone: by what is no letter or digit, or by one slip.

A label of a cylinder is never proposed by a slip, only where its letters and digits are those of one label: another
cylinder is another number of litres, and likeness knows nothing of litres.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from itertools import islice
from typing import Final

_SHORTEST_LIKE: Final = 4
_LONG: Final = 9
_MOST_LETTERS: Final = 60
_MOST_NAMES: Final = 200


def letters(text: str) -> str:
    """A word in small letters and digits alone: `Non-Rebreather` and `non_rebreather` are one."""
    return "".join(letter for letter in text.casefold() if letter.isalnum())


def same_letters(text: str, known: Iterable[str]) -> str | None:
    """The only known name with the same letters and digits; None where there is none, or more than one.

    >>> same_letters("e 02", ["E-02", "E-20"])
    'E-02'
    >>> same_letters("E-2", ["E-02"]) is None
    True
    """
    word = letters(text)
    found = [name for name in islice(known, _MOST_NAMES) if word and letters(name) == word]
    return found[0] if len(found) == 1 else None


def slip(text: str, known: Iterable[str]) -> str | None:
    """The only known name that is one slip of the hand away; None where there is none, or more than one.

    One slip is a letter too many, too few, another, or two that changed places; two of them in a name of nine letters
    and more. A digit is never a slip: `vent1` and `vent2` are two machines. Short names are too much alike.

    >>> slip("ventilater", ["ventilator", "nebulizer"])
    'ventilator'
    >>> slip("vent1", ["vent2", "bag"]) is None
    True
    """
    word = letters(text)
    if not _SHORTEST_LIKE <= len(word) <= _MOST_LETTERS:
        return None
    found, digits = [], _digits(word)
    for name in islice(known, _MOST_NAMES):
        if len(name) > 2 * _MOST_LETTERS:
            continue
        other = _letters(name)
        allowed = 2 if min(len(word), len(other)) >= _LONG else 1
        if abs(len(word) - len(other)) > allowed or _digits(other) != digits or _slips(word, other) > allowed:
            continue
        found.append(name)
        if len(found) > 1:
            break
    return found[0] if len(found) == 1 else None


_letters = lru_cache(maxsize=1024)(letters)
"""Of names that many words of one file are held against."""


@lru_cache(maxsize=1024)
def _digits(word: str) -> str:
    return "".join(letter for letter in word if letter.isdigit())


def _slips(word: str, other: str) -> int:
    """Letters to add, take away, change, or swap with their neighbour to make one word of the other."""
    before: list[int] = []
    last = list(range(len(other) + 1))
    for row, letter in enumerate(word, 1):
        this = [row]
        for column, known in enumerate(other, 1):
            cost = min(last[column] + 1, this[-1] + 1, last[column - 1] + (letter != known))
            if row > 1 and column > 1 and letter == other[column - 2] and word[row - 2] == known:
                cost = min(cost, before[column - 2] + 1)
            this.append(cost)
        before, last = last, this
    return last[-1]
