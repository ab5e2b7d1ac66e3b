"""A poor photocopy: the critical figures are still told apart by their shapes.

A page is rendered at 100 dots an inch, blurred, and made black and white. Each letter is then compared with the
shapes of all that could stand in its place, drawn from the font and treated in the same way; the nearest must be the
right one.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import pytest
from PIL import Image, ImageChops, ImageDraw, ImageFilter, ImageFont, ImageStat

from planner.pages.drawing import fonts
from planner.pages.drawing.fonts import Face
from planner.pages.pack import Paper
from planner.report.card.card import card
from tests.pages.printed import PAPERS, TRIPS, Ink, bitmap, pages, printed

DOTS_PER_INCH = 100
SCALE = DOTS_PER_INCH / 72
BLUR = 0.8
THRESHOLD = 150
FINE = 8
NUDGES = (-0.4, 0.0, 0.4)
FONTS = Path(fonts.__file__).parents[2] / "fonts"
DIGITS = "0123456789"
CAPITALS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ-"


def copied(picture: Any) -> Any:
    """Blurred, then black or white."""
    return picture.filter(ImageFilter.GaussianBlur(BLUR)).point(lambda grey: 255 if grey > THRESHOLD else 0)


@cache
def photocopy(data: bytes, page: int) -> Any:
    return copied(bitmap(data, page, DOTS_PER_INCH))


@cache
def font(face: Face, size: float) -> Any:
    return ImageFont.truetype(str(FONTS / fonts.FILES[face]), round(size * SCALE * FINE))


@cache
def shape(letter: str, face: Face, size: float, box: tuple[int, int], at: tuple[float, float]) -> Any:
    """A letter as the photocopy would show it, in a box of dots, its foot at a place in dots."""
    large = Image.new("L", (box[0] * FINE, box[1] * FINE), 255)
    place = (at[0] * FINE, at[1] * FINE)
    ImageDraw.Draw(large).text(place, letter, font=font(face, size), fill=0, anchor="ls")
    return copied(large.resize(box, Image.Resampling.BOX))


def unlike(one: Any, other: Any) -> int:
    """How many dots differ."""
    return int(ImageChops.difference(one, other).histogram()[255])


def read(data: bytes, page: int, text: str, ink: Ink, face: Face, choice: str) -> str:
    """What a reader of shapes makes of the place of a text: only the width of its letters is taken from it."""
    paper = photocopy(data, page)
    found = ""
    for index, letter in enumerate(text):
        x = (ink.x + fonts.width(text[:index], face, ink.size)) * SCALE
        y = paper.height - ink.y * SCALE
        wide, high = fonts.width(letter, face, ink.size) * SCALE, 0.76 * ink.size * SCALE
        corner = (int(x) - 1, int(y - high) - 1)
        box = (int(wide) + 3, int(high) + 4)
        dots = paper.crop((*corner, corner[0] + box[0], corner[1] + box[1]))
        scores = {}
        for other in choice:
            # A letter narrower or wider than the place stands in its middle; the eye lays shapes over each other.
            aside = (wide - fonts.width(other, face, ink.size) * SCALE) / 2
            at = (x - corner[0] + aside, y - corner[1])
            scores[other] = min(
                unlike(dots, shape(other, face, ink.size, box, (round(at[0] + dx, 1), round(at[1] + dy, 1))))
                for dx in NUDGES
                for dy in NUDGES
            )
        found += min(scores, key=scores.__getitem__)
    return found


def placed(name: str, paper: Paper, text: str, face: Face, least_size: float = 13.0) -> tuple[int, Ink]:
    """The first piece of large text on the card that is this one, in a face, and its page."""
    return next(
        (number, ink)
        for number, page in enumerate(pages(printed(name, paper)))
        for ink in page
        if ink.text.strip() == text and ink.size >= least_size and ("Bold" in ink.font) == (face != "regular")
    )


def critical(name: str) -> dict[Face, list[str]]:
    """Bold: gauges to start at, to change at, expected, of a leak and least. Regular: minutes."""
    content = card(TRIPS[name]())
    assert content.minutes is not None
    bold = [figure for row in content.front.cylinders for figure in (row.least, row.change_at)]
    bold += [figure for row in content.front.legs for figure in (row.expected, row.leak, row.act)]
    regular = [minutes for row in content.minutes.rows for minutes in row.minutes]
    return {
        "bold": sorted({figure.split(" ")[0] for figure in bold if figure[:1].isdigit()}),
        "regular": sorted({figure.split(" ")[0] for figure in regular if figure[:1].isdigit()}),
    }


@pytest.mark.hazard(21)
@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", ["example", "six legs", "longest", "shortest"])
def test_critical_figures_are_read_from_a_photocopy(name: str, paper: Paper) -> None:
    misread = {}
    for face, figures in critical(name).items():
        assert len(figures) >= 3
        for figure in figures:
            page, ink = placed(name, paper, figure, face)
            got = read(printed(name, paper), page, figure, ink, face, DIGITS)
            if got != figure:
                misread[figure] = got
    assert misread == {}


@pytest.mark.hazard(21)
@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize(("name", "verdict"), [("example", "GO"), ("longest", "GO"), ("no_go", "NO-GO")])
def test_the_verdict_is_read_from_a_photocopy(name: str, verdict: str, paper: Paper) -> None:
    page, ink = placed(name, paper, verdict, "wide", 30.0)
    assert read(printed(name, paper), page, verdict, ink, "wide", CAPITALS) == verdict


@pytest.mark.hazard(21)
def test_a_figure_that_was_never_printed_is_not_read() -> None:
    """The check looks at the page: asked for another figure in the same place, it still reads what stands there."""
    page, ink = placed("example", "a4", "780", "bold")
    assert read(printed("example", "a4"), page, "999", ink, "bold", DIGITS) == "780"


@pytest.mark.hazard(21)
def test_a_go_is_not_taken_for_a_no_go_at_arms_length() -> None:
    """At 12 dots an inch no letter can be read: frame and hatching make a no-go darker at its side and foot."""

    def dark(name: str) -> list[float]:
        small = bitmap(printed(name), 0, 12).convert("L")
        wide, high = small.size
        strips = ((3, int(0.3 * high), 5, int(0.8 * high)), (0, int(0.872 * high), wide, int(0.886 * high)))
        return [255 - ImageStat.Stat(small.crop(strip)).mean[0] for strip in strips]

    side, foot = dark("no_go")
    for name in ("example", "six legs", "longest", "shortest"):
        assert side > 5 * dark(name)[0]
        assert foot > 2 * dark(name)[1]
