"""The embedded font files: what they can show, their measures, and what their licence asks."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from fontTools.ttLib import TTFont

FOLDER = Path(__file__).resolve().parent.parent / "planner" / "fonts"
FILES = sorted(FOLDER.glob("*.ttf"))

# By hand, from the Unicode code charts.
ALPHABETS = {
    "Latin": "ABCXYZabcxyz ÀÿĐőŒšŽ ẞẽỹ",
    "Greek": "ΑΩαωάώς",
    "Cyrillic": "АЯаяЁёЇїҐґӘә",
    "signs": "0123456789 +-−–—×·°µ%‰≈≠≤≥→←↑↓•…′″₂²³½¼ ☐☑☒✓✗⚠",
}


@pytest.fixture(params=FILES, ids=lambda path: path.name)
def font(request: pytest.FixtureRequest) -> TTFont:
    return TTFont(request.param)


def test_there_are_four_faces() -> None:
    assert [path.name for path in FILES] == [
        "PlanSans-Bold.ttf",
        "PlanSans.ttf",
        "PlanSansCondensed-Bold.ttf",
        "PlanSansCondensed.ttf",
    ]


@pytest.mark.parametrize("alphabet", ALPHABETS)
def test_alphabets_are_there(font: TTFont, alphabet: str) -> None:
    known = font.getBestCmap()
    assert [character for character in ALPHABETS[alphabet] if ord(character) not in known] == []


@pytest.mark.hazard(21)
def test_the_zero_has_no_slash(font: TTFont) -> None:
    """Ring and counter alone, as the letter O: a slash closes the counter on a second copy, and it is read as 8."""
    outlines = font["glyf"]
    assert outlines[font.getBestCmap()[ord("0")]].numberOfContours == 2
    assert outlines[font.getBestCmap()[ord("O")]].numberOfContours == 2


@pytest.mark.hazard(21)
def test_a_zero_is_narrower_than_the_letter(font: TTFont) -> None:
    names, outlines = font.getBestCmap(), font["glyf"]
    wide = {letter: outlines[names[ord(letter)]].xMax - outlines[names[ord(letter)]].xMin for letter in "0O"}
    assert wide["0"] < 0.82 * wide["O"]


def test_digits_are_equally_wide(font: TTFont) -> None:
    assert len({font["hmtx"][font.getBestCmap()[ord(digit)]][0] for digit in "0123456789"}) == 1


def test_measures_are_those_of_the_note(font: TTFont) -> None:
    note = (FOLDER / "README.md").read_text(encoding="utf-8")
    units = font["head"].unitsPerEm
    for row, glyph in (("x-height", "x"), ("capitals", "H")):
        told = re.search(rf"^\| {row} \| ([0-9.]+) \|", note, re.MULTILINE)
        assert told is not None
        assert font["glyf"][font.getBestCmap()[ord(glyph)]].yMax / units == pytest.approx(float(told[1]), abs=0.00005)


def test_changed_fonts_do_not_use_the_reserved_names(font: TTFont) -> None:
    # The licence: a changed font must not be called by these words, and keeps the copyright notices.
    for record in font["name"].names:
        if record.nameID != 0:
            assert not re.search("Bitstream|Vera|Tavmjong|Arev", record.toUnicode())
    assert "Bitstream" in font["name"].getDebugName(0)
    assert "Tavmjong Bah" in font["name"].getDebugName(0)


def test_fonts_may_be_embedded_and_are_small(font: TTFont) -> None:
    assert font["OS/2"].fsType == 0  # OpenType: installable embedding, no restriction
    assert Path(font.reader.file.name).stat().st_size < 150_000
