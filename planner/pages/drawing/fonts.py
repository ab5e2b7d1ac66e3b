"""The typeface of the pages: registered when first asked for, measured, and checked letter by letter.

The font files lie inside the package and are embedded as subsets, so that a page looks the same in every
reader. Text that holds a character which the font cannot show is refused by name: an empty box on paper
could stand for anything.
"""

from __future__ import annotations

import struct
import unicodedata
from functools import cache, lru_cache
from io import BytesIO
from typing import Any, Literal

from planner.package_file import package_bytes

Face = Literal["regular", "bold", "wide"]

FILES: dict[Face, str] = {
    "regular": "PlanSansCondensed.ttf",
    "bold": "PlanSansCondensed-Bold.ttf",
    "wide": "PlanSans-Bold.ttf",
}

CRITICAL_X_HEIGHT_PT = 7.2
"""Least x-height of text that must be read at a glance: 0.10 inch (NASA CR-177605, 1992, from memory)."""

_MOST_TEXTS = 8192
"""Texts whose form and width are kept: a long pack measures about half as many."""


class UnprintableError(ValueError):
    """Raised for text with a character that the font cannot show; names the character and the text."""

    def __init__(self, character: str, text: str) -> None:
        self.character = character
        self.text = text
        name = unicodedata.name(character, "no name")
        shown = character if character.isprintable() else ascii(character)[1:-1]
        super().__init__(f"the printed pages cannot show {shown!r} (U+{ord(character):04X}, {name}) in {text!r}")


@lru_cache(maxsize=_MOST_TEXTS)
def clean(text: str) -> str:
    """Text as it is printed: composed letters, one space for each run of white space, checked.

    Raises UnprintableError where a character has no glyph in one of the faces.
    """
    text = " ".join(unicodedata.normalize("NFC", text).split())
    if not _characters().issuperset(text):
        raise UnprintableError(next(character for character in text if character not in _characters()), text)
    return text


def showable(text: str) -> str:
    """Text with `?` for what no face can show: for words that must be printed whatever they hold."""
    text = " ".join(unicodedata.normalize("NFC", text).split())
    return "".join(character if character in _characters() else "?" for character in text)


def width(text: str, face: Face, size_pt: float) -> float:
    """Width of a text in points. A character that the font lacks, which `clean` refuses, counts as an empty box."""
    return _thousandths(text, face) * size_pt / 1000.0


@lru_cache(maxsize=_MOST_TEXTS)
def _thousandths(text: str, face: Face) -> float:
    """Width of a text in thousandths of the type size. The faces hold no kerning: letters stand side by side."""
    widths = _widths(face)
    try:
        return sum(map(widths.__getitem__, text))
    except KeyError:
        none = float(_font(face).face.defaultWidth)
        return sum(widths.get(character, none) for character in text)


def register(face: Face) -> str:
    """The name under which reportlab knows a face; registers it when first asked for."""
    return str(_font(face).fontName)


def typeface(face: Face) -> Any:
    """A face as the font object of reportlab."""
    return _font(face)


@cache
def x_height(face: Face) -> float:
    """Height of the letter x as a fraction of the type size, from the font's OS/2 table."""
    file = _font(face).face
    return float(struct.unpack(">h", file.get_table("OS/2")[86:88])[0]) / int(file.unitsPerEm)


@cache
def critical_size_pt() -> float:
    """The least type size, to 0.1 pt, at which every face has an x-height of 0.10 inch."""
    least = min(x_height(face) for face in FILES)
    tenths = int(10 * CRITICAL_X_HEIGHT_PT / least)
    while tenths / 10 * least < CRITICAL_X_HEIGHT_PT:
        tenths += 1
    return tenths / 10


@cache
def _characters() -> frozenset[str]:
    shared = set.intersection(*(set(_font(face).face.charToGlyph) for face in FILES))
    return frozenset(chr(code) for code in shared if code >= 32)


@cache
def _widths(face: Face) -> dict[str, float]:
    return {chr(code): float(wide) for code, wide in _font(face).face.charWidths.items()}


@cache
def _font(face: Face) -> Any:
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    data = package_bytes(f"fonts/{FILES[face]}")
    font = TTFont(FILES[face].removesuffix(".ttf"), BytesIO(data))
    pdfmetrics.registerFont(font)
    return font
