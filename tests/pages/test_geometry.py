"""Where things stand on paper, measured on the rendered pages, for the longest trip, the shortest and others."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path

import pytest

from planner.pages.drawing import fonts
from planner.pages.pack import Paper, pack_bytes
from planner.planning import plan
from planner.profile.read import read_trip
from planner.report.card.card import card
from tests.pages.printed import ISSUED, MM, PAPERS, TRIPS, Ink, bitmap, pages, printed

ROOT = Path(__file__).parents[2]

every_pack = pytest.mark.longer(
    ("name", "paper"),
    [*zip(TRIPS, [*PAPERS] * 3, strict=True)],
    [(name, paper) for name in TRIPS for paper in PAPERS],
)
"""Each trip on one paper or the other, with `--long` on both."""
every_trip = pytest.mark.parametrize("name", TRIPS)

HEIGHT = {"a4": 297 * MM, "letter": 279.4 * MM}
WIDTH = {"a4": 210 * MM, "letter": 215.9 * MM}
WHITE = 255


@every_pack
def test_the_top_24_mm_are_free_for_the_clip(name: str, paper: Paper) -> None:
    for number in range(len(pages(printed(name, paper)))):
        picture = bitmap(printed(name, paper), number)
        assert picture.crop((0, 0, picture.width, int(24 * MM))).getextrema()[0] == WHITE, f"page {number + 1}"


@every_pack
def test_nothing_leaves_the_margins(name: str, paper: Paper) -> None:
    """6 mm at the sides and the foot: what common printers leave white (common practice, no source)."""
    for number in range(len(pages(printed(name, paper)))):
        picture = bitmap(printed(name, paper), number)
        wide, high, edge = picture.width, picture.height, int(6 * MM)
        for strip in ((0, 0, edge, high), (wide - edge, 0, wide, high), (0, high - edge, wide, high)):
            assert picture.crop(strip).getextrema()[0] == WHITE, f"page {number + 1}"


@every_pack
def test_no_text_overlaps_another(name: str, paper: Paper) -> None:
    for number, page in enumerate(pages(printed(name, paper)), start=1):
        found = [(one.text, other.text) for one, other in _near(page) if _overlap(one, other)]
        assert found == [], f"page {number}"


def _near(page: tuple[Ink, ...]) -> list[tuple[Ink, Ink]]:
    """Pairs of texts whose heights meet."""
    ordered = sorted(page, key=lambda ink: ink.bottom)
    pairs = []
    for index, one in enumerate(ordered):
        for other in ordered[index + 1 :]:
            if other.bottom >= one.top:
                break
            pairs.append((one, other))
    return pairs


def _overlap(one: Ink, other: Ink) -> bool:
    across = min(one.right, other.right) - max(one.left, other.left)
    up = min(one.top, other.top) - max(one.bottom, other.bottom)
    return across > 0.05 and up > 0.05


@every_pack
def test_words_of_a_line_stand_apart(name: str, paper: Paper) -> None:
    """Two texts on one baseline are at least 1.5 pt apart, so that no figure runs into the next."""
    for number, page in enumerate(pages(printed(name, paper)), start=1):
        for one, other in _near(page):
            if abs(one.bottom - other.bottom) < 3 and one.text.strip() and other.text.strip():
                gap = max(one.left, other.left) - min(one.right, other.right)
                assert gap > 1.5, f"page {number}: {one.text!r} and {other.text!r}"


@every_pack
@pytest.mark.hazard(21)
def test_no_text_is_smaller_than_9_pt(name: str, paper: Paper) -> None:
    for page in pages(printed(name, paper)):
        assert min(ink.size for ink in page) >= 9.0 - 1e-4


@every_trip
@pytest.mark.hazard(21)
def test_critical_figures_have_an_x_height_of_a_tenth_of_an_inch(name: str) -> None:
    """0.10 inch: NASA CR-177605 (typography of flight-deck documentation, 1992), from memory."""
    content = card(TRIPS[name]())
    figures = [figure for row in content.front.cylinders for figure in (row.least, row.change_at)]
    figures += [figure for row in content.front.legs for figure in (row.expected, row.leak, row.act)]
    figures += [] if content.minutes is None else [text for row in content.minutes.rows for text in row.minutes]
    if not content.go:
        figures = [row.required for row in content.balance]
    numbers = {figure.split(" ")[0] for figure in figures if re.match(r"\d", figure)}
    assert numbers
    for number in numbers:
        sizes = [ink.size for page in pages(printed(name)) for ink in page if ink.text.strip() == number]
        assert sizes, number
        assert max(sizes) * fonts.x_height("bold") >= 7.2 - 1e-3, number
    for setting in content.settings:
        first = setting.set.split(", ")[0]
        sizes = [ink.size for page in pages(printed(name)) for ink in page if ink.text.strip().startswith(first[:12])]
        assert sizes, setting
        assert max(sizes) * fonts.x_height("bold") >= 7.2 - 1e-3, setting


def test_the_x_height_is_measured_from_the_outline_of_the_letter() -> None:
    """The share of the type size that the font states, against the ink of a rendered page at 13.2 pt."""
    ink = next(ink for ink in pages(printed("shortest"))[0] if ink.text.strip() == "1 Lift")
    assert ink.top - ink.bottom == pytest.approx(0.7598 * 13.2, abs=0.2)  # ascender of l and f: DejaVu Sans 2.37
    assert fonts.x_height("regular") == pytest.approx(1120 / 2048)  # DejaVu Sans 2.37, glyph x, by fontTools
    assert fonts.critical_size_pt() == 13.2  # 7.2 / 0.5469 = 13.17


@every_trip
def test_both_papers_carry_the_same_layout(name: str) -> None:
    """One layout: the same texts at the same places, the frame at the top of either paper."""
    across, up = (WIDTH["letter"] - WIDTH["a4"]) / 2, HEIGHT["letter"] - HEIGHT["a4"]
    for one, other in zip(pages(printed(name, "a4")), pages(printed(name, "letter")), strict=True):
        assert [ink.text for ink in one] == [ink.text for ink in other]
        for here, there in zip(one, other, strict=True):
            assert there.left - here.left == pytest.approx(across, abs=0.01)
            assert there.bottom - here.bottom == pytest.approx(up, abs=0.01)


@pytest.mark.parametrize(("name", "count"), [("shortest", 1), ("example", 1), ("six legs", 1), ("no_go", 1)])
def test_the_card_is_one_page_up_to_six_legs_and_four_cylinders(name: str, count: int) -> None:
    assert sum(_is_card(page) for page in pages(printed(name))) == count


def _is_card(page: tuple[Ink, ...]) -> bool:
    """The card opens with its verdict larger than any other page does."""
    return page[0].text.strip() in ("GO", "NO-GO") and page[0].size >= 20


def _all(page: tuple[Ink, ...]) -> str:
    return "\n".join(ink.text for ink in page)


@pytest.mark.hazard(21)
def test_the_pages_need_no_colour_and_no_grey() -> None:
    """Nothing but black on white is drawn: every grey level set in the page streams is 0 or 1, and no colour at all."""
    for name in TRIPS:
        for content in _streams(printed(name)):
            assert b" Tj" in content
            greys = re.findall(rb"(?<![\d.])([\d.]+) [gG]\b", _without_text(content))
            assert {float(grey) for grey in greys} <= {0.0, 1.0}
            assert not re.search(rb" (rg|RG|k|K|sc|SC|scn|SCN|cs|CS|sh)\b(?![^(]*\))", _without_text(content))


def _without_text(content: bytes) -> bytes:
    return re.sub(rb"\((?:\\.|[^\\()])*\)", b"()", content)


def _streams(data: bytes) -> list[bytes]:
    from io import BytesIO

    from pypdf import PdfReader

    return [page.get_contents().get_data() for page in PdfReader(BytesIO(data)).pages]  # type: ignore[union-attr]


def test_pages_stand_in_their_order() -> None:
    """Page x of y counts through the pack."""
    for name in TRIPS:
        numbers = [re.search(r"page (\d+) of (\d+)", _all(page)) for page in pages(printed(name))]
        found = [(int(number[1]), int(number[2])) for number in numbers if number]
        assert len(found) == len(numbers)
        assert all(second == (first[0] + 1, first[1]) for first, second in pairwise(found))
        assert found[0][0] == 1
        assert found[-1][0] == found[-1][1]


@pytest.mark.parametrize(
    ("path", "most"),
    [("profiles/ward-to-scan.yaml", 11), ("profiles/ventilated-by-road.yaml", 16), ("demo/valley-to-coast.yaml", 21)],
)
def test_a_pack_is_no_longer_than_it_needs_to_be(path: str, most: int) -> None:
    """Counted by hand on looked-at packs, no page to spare: lists whole, no type smaller, no line over 95 letters.

    A longer one asks for a look.
    """
    assert len(pages(pack_bytes(plan(read_trip(ROOT / path)), issued=ISSUED))) <= most
