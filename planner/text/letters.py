"""Which letters the printed pages can show: known here without loading a font.

`SHOWN` is what `tests/tools/make_fonts.py` prints; a test holds it against the font files.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from functools import cache
from typing import Final

SHOWN: Final = (
    r"\u0020-\u007e\u00a0-\u024f\u02b0-\u02e9\u02ec-\u02ee\u02f3\u02f7\u0300-\u034f\u0351-\u0353\u0357\u0358\u035a"
    r"\u035c-\u0362\u0370-\u0377\u037a-\u037f\u0384-\u038a\u038c\u038e-\u03a1\u03a3-\u0525\u1e00-\u1efb\u2000-\u205f"
    r"\u2070\u2071\u2074-\u208e\u2090-\u209c\u20a0-\u20b5\u20b8-\u20ba\u20bd\u2103\u2109\u2116\u2122\u2153\u2154"
    r"\u215b-\u215e\u2190-\u2199\u21d2\u21d4\u2206\u2211\u2212\u2215\u221a\u221e\u2248\u2260\u2261\u2264\u2265\u25a0"
    r"\u25a1\u25aa\u25ab\u25b2\u25b3\u25b6\u25b7\u25bc\u25bd\u25c0\u25c1\u25c6\u25c7\u25cb\u25cf\u2610-\u2612\u26a0"
    r"\u2713\u2714\u2717\u2718"
)
"""Code points and ranges of them that every face of the pages holds, as between the brackets of a pattern."""

MOST_NAMED: Final = 4


def unshown(text: str) -> str:
    """The letters of a text that the pages cannot show, each once, in their order; a text is printed composed.

    >>> unshown("Ward 三, café")
    '三'
    """
    if text.isascii() and text.isprintable():
        return ""
    return "".join(dict.fromkeys(_unshown().findall(unicodedata.normalize("NFC", text))))


def named(letters: str) -> str:
    """Letters with their numbers, for a message: `三 (U+4E09)`; one that a screen cannot show by its number alone."""
    shown = [
        f"{letter} (U+{ord(letter):04X})"
        if letter.isprintable() and not unicodedata.category(letter).startswith("M")
        else f"U+{ord(letter):04X}"
        for letter in letters[:MOST_NAMED]
    ]
    more = len(letters) - MOST_NAMED
    return ", ".join(shown) + (f" and {more} more" if more > 0 else "")


def escaped(text: str) -> str:
    """A text as the pages can show it: a letter that they cannot stands as its number. For paths, as of folders.

    >>> escaped("trips/三.yaml")
    'trips/(U+4E09).yaml'
    """
    return replaced(text, lambda letter: f"(U+{ord(letter):04X})")


def replaced(text: str, instead: Callable[[str], str]) -> str:
    """A text, composed, with something else instead of each letter that the pages cannot show."""
    return _unshown().sub(lambda found: instead(found.group()), unicodedata.normalize("NFC", text))


@cache
def _unshown() -> re.Pattern[str]:
    return re.compile(rf"[^\s{SHOWN}]")
