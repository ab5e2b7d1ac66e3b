"""A poor photocopy: the critical figures are still told apart by their shapes.

A page is rendered at 100 dots an inch, blurred, and made black and white. Each letter is then compared with the
shapes of all that could stand in its place, drawn from the font and treated in the same way; the nearest must be the
right one.

Then two generations of a dark and of a light copier: a general reader of text reads every figure again, where one is
installed, and without it the shapes of 0 and 8 are compared.
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
from tests.pages.copies import DOTS_PER_INCH as COPIER
from tests.pages.copies import READER, THRESHOLDS, column_read, copied_twice, misread
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
@pytest.mark.longer("paper", ["letter"], list(PAPERS))
@pytest.mark.longer("name", ["six legs", "longest"], ["example", "six legs", "longest", "shortest"])
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
@pytest.mark.longer("paper", ["a4"], list(PAPERS))
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
        strips = ((3, int(0.3 * high), 5, int(0.8 * high)), (0, int(0.879 * high), wide, int(0.893 * high)))
        return [255 - ImageStat.Stat(small.crop(strip)).mean[0] for strip in strips]

    side, foot = dark("no_go")
    for name in ("example", "six legs", "longest", "shortest"):
        assert side > 5 * dark(name)[0]
        assert foot > 5 * dark(name)[1]


def clear_of_neighbours(page: tuple[Ink, ...], ink: Ink) -> tuple[float, float, float, float]:
    """Left, bottom, right, top of a figure with a little paper round it, and no ink of what stands beside it."""
    beside = [other for other in page if other is not ink and abs(other.y - ink.y) < 1.0 and other.text.strip()]
    left = max([ink.left - 4.0, *(other.right + 1.0 for other in beside if other.right <= ink.left + 0.1)])
    right = min([ink.right + 4.0, *(other.left - 1.0 for other in beside if other.left >= ink.right - 0.1)])
    return left, ink.y - 1.2, right, ink.y + 0.76 * ink.size + 2.0


def figures_of_copies(name: str, kind: str) -> tuple[list[str], list[Any]]:
    """Every figure of five or fewer digits on the card, as printed, and its place on the second copy."""
    wanted = {figure for found in critical(name).values() for figure in found}
    texts, lines = [], []
    for number, page in enumerate(pages(printed(name))[:4]):
        found = [ink for ink in page if ink.text.strip() in wanted and ink.size >= 13.0]
        if not found:
            continue
        paper = copied_twice(bitmap(printed(name), number, COPIER), kind)
        for ink in found:
            left, bottom, right, top = (side * COPIER / 72 for side in clear_of_neighbours(page, ink))
            texts.append(ink.text.strip())
            lines.append(paper.crop((int(left), int(paper.height - top), int(right), int(paper.height - bottom))))
    return texts, lines


@pytest.mark.hazard(21)
@pytest.mark.skipif(READER is None, reason="no reader of printed text is installed")
@pytest.mark.longer("kind", [*THRESHOLDS][:1], list(THRESHOLDS))
@pytest.mark.longer("name", ["six legs"], ["example", "six legs", "longest", "shortest"])
def test_a_general_reader_reads_every_figure_of_a_second_copy(name: str, kind: str) -> None:
    texts, lines = figures_of_copies(name, kind)
    assert len(texts) >= 10
    assert misread(lines, texts) == []


def drawn(text: str, face: Face, *, slash: bool = False) -> Any:
    """A text at the size of the card as it comes from the printer; `slash` strokes each zero through."""
    wide = 60 + round(fonts.width(text, face, 13.2) * COPIER / 72)
    large = Image.new("L", (wide * FINE, 60 * FINE), 255)
    pen, type_ = (
        ImageDraw.Draw(large),
        ImageFont.truetype(str(FONTS / fonts.FILES[face]), round(13.2 * COPIER / 72 * FINE)),
    )
    pen.text((30 * FINE, 44 * FINE), text, font=type_, fill=0, anchor="ls")
    step, size = type_.getlength("0"), 13.2 * COPIER / 72 * FINE
    for index, letter in enumerate(text):
        if slash and letter == "0":  # from stem to stem, as thick as four fifths of a stem
            left, middle = 30 * FINE + type_.getlength(text[:index]), 44 * FINE - 0.365 * size
            ends = (left + 0.22 * step, middle + 0.15 * size, left + 0.78 * step, middle - 0.15 * size)
            pen.line(ends, fill=0, width=round(0.2 * step))
    return large.resize((wide, 60), Image.Resampling.BOX)


@pytest.mark.hazard(21)
@pytest.mark.skipif(READER is None, reason="no reader of printed text is installed")
@pytest.mark.parametrize("kind", THRESHOLDS)
def test_the_reader_would_miss_figures_whose_zero_has_a_slash(kind: str) -> None:
    """The check can fail: the same copies of the same figures, with a stroke through each zero."""
    texts = [f"{number}0" for number in (50, 80, 105, 130, 145, 168, 189, 205, 1000, 1390)]
    plain, slashed = (
        column_read([copied_twice(drawn(text, "regular", slash=slash), kind) for text in texts])
        for slash in (False, True)
    )
    assert plain == texts
    assert sum(text != read for text, read in zip(texts, slashed, strict=True)) >= 3


def shared(one: Any, other: Any) -> float:
    """Ink that two shapes share, as a part of the ink of both together."""
    one, other = ImageChops.invert(one), ImageChops.invert(other)
    return float(ImageChops.multiply(one, other).histogram()[255] / ImageChops.lighter(one, other).histogram()[255])


def holes(shape_: Any) -> int:
    """White areas that black encloses."""
    flooded = shape_.copy()
    ImageDraw.floodfill(flooded, (0, 0), 0)
    count = 0
    for place in ((x, y) for y in range(flooded.height) for x in range(flooded.width)):
        if flooded.getpixel(place) == 255:
            ImageDraw.floodfill(flooded, place, 0)
            count += 1
    return count


@pytest.mark.hazard(21)
@pytest.mark.parametrize("kind", THRESHOLDS)
@pytest.mark.parametrize("face", ["bold", "regular"])
def test_a_zero_stays_apart_from_an_eight_on_a_second_copy(face: Face, kind: str) -> None:
    """Its one counter stays open, and a plain zero shares less ink with an 8 than one with a slash does."""
    assert holes(copied_twice(drawn("0", face), kind)) == 1
    zero, eight = (copied_twice(drawn(letter, face), kind) for letter in "08")
    slashed = copied_twice(drawn("0", face, slash=True), kind)
    assert shared(zero, eight) < 0.85
    assert shared(zero, eight) < shared(slashed, eight) - 0.02
    assert holes(slashed) != 1
