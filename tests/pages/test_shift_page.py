"""The sheet of a shift on paper, measured as it is rendered: a usual shift on one page, a long one on several."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from io import BytesIO

import pytest
from pypdf import PdfReader

from planner.pages.drawing import fonts
from planner.pages.pack import Paper
from planner.pages.shift.shift import UNSHOWN, shift_bytes
from planner.problems import Finding, Problem
from planner.report.shift.result import ShiftResult, Unread
from planner.report.shift.shift import ShiftSheet, shift_sheet
from planner.shift.allotment import allotment
from planner.shift.shift import shift, taken_twice
from planner.shift.store import against
from planner.shift.trip import TripNeed
from tests.build import cylinder
from tests.pages.printed import ISSUED, MM, PAPERS, Ink, bitmap, pages
from tests.test_shift import at, need, wanted

STOP = Finding("stop", "not_enough", "cart needs 540 L, COUNTED 55 L (139 L kept as spare).", "Draw 3 more.")
UNREAD = Unread(
    "trips/bad.yaml", (Problem("trips/bad.yaml", 13, 39, "unit_missing", "duration `12`", "a time", "mend"),)
)
LONG = ("Ventilated adult, the farthest of the valley hospitals to the university hospital on the coast, by " * 2)[:120]


def usual() -> list[TripNeed]:
    """Ten trips: two that are no-go, one still to be drawn, one without a departure, one by road."""
    found = [
        need(f"Ward {number} to scan and back", at(7, 10 * number), 25 + number, *[wanted("US-E")] * (1 + number % 2))
        for number in range(7)
    ]
    found[2] = replace(found[2], go=False, stops=(STOP,))
    found[4] = replace(found[4], go=False, stops=(STOP._replace(code="no_readings"),))
    found += [
        need("Valley hospital to coast hospital", at(9), 90, *[wanted("US-E", 1900)] * 2, wanted("US-M", fixed=True)),
        need("Night transfer", at(23, 40), 60, wanted("US-D"), road=True),
        replace(need("Ward 2 to X-ray when called", None, 20, wanted("US-D", 1800)), reference="T-3107"),
    ]
    return [replace(one, reference=f"T-{3100 + number}") for number, one in enumerate(found)]


def worst() -> list[TripNeed]:
    """Sixty trips with the longest names, many sizes, and supplies that cannot be counted."""
    sizes = ("US-E", "US-D", "US-M", "UK-CD", "ISO-10")
    return [
        replace(
            need(LONG, at(number % 24, number, number // 24), 90, *map(wanted, sizes[: 1 + number % 5]), road=True),
            reference="T-" + "9" * 40,
            go=number % 9 > 0,
            stops=(STOP._replace(message=f"{LONG} {STOP.message}"),) * 3 if number % 9 == 0 else (),
            uncounted=("the trolley of the ward",) if number % 9 == 0 else (),
            stated=("aircraft",) if number % 4 == 0 else (),
        )
        for number in range(60)
    ]


def smallest() -> list[TripNeed]:
    """One trip that takes nothing."""
    return [need("A", None, 10)]


TRIPS = {"usual": usual, "worst": worst, "smallest": smallest}


@cache
def content(name: str) -> ShiftSheet:
    made = shift(TRIPS[name]())
    store, given = None, None
    if name != "smallest":
        shelf = [cylinder(f"S{n}", 2000 - 100 * n) for n in range(5)] + [cylinder("D1", 2000, "US-D")]
        shelf += [cylinder(f"T{n}", 2100) for n in range(4 if name == "usual" else 0)]
        store, given = against(shelf, made), allotment(made, shelf)
    unread = () if name == "smallest" else (UNREAD,) * (1 if name == "usual" else 5)
    return shift_sheet(ShiftResult(made, unread, store, "Cart room", False, taken_twice(made.trips), allotment=given))


@cache
def printed(name: str, paper: Paper = "a4") -> bytes:
    return shift_bytes(content(name), paper=paper, issued=ISSUED)


def text(page: tuple[Ink, ...]) -> str:
    return "\n".join(ink.text for ink in page)


every = pytest.mark.longer(
    ("name", "paper"),
    [*zip(TRIPS, [*PAPERS] * len(TRIPS), strict=False)],
    [(name, paper) for name in TRIPS for paper in PAPERS],
)


@every
def test_the_clip_and_the_margins_stay_free(name: str, paper: Paper) -> None:
    """24 mm for the clip of a board; 6 mm elsewhere, which common printers leave white (common practice, no source)."""
    for number in range(len(pages(printed(name, paper)))):
        picture = bitmap(printed(name, paper), number)
        wide, high, edge = picture.width, picture.height, int(6 * MM)
        strips = [
            (0, 0, wide, int(24 * MM)),
            (0, 0, edge, high),
            (wide - edge, 0, wide, high),
            (0, high - edge, wide, high),
        ]
        assert [picture.crop(strip).getextrema()[0] for strip in strips] == [255] * 4, f"page {number + 1}"


@every
def test_no_text_runs_into_another_and_none_is_small(name: str, paper: Paper) -> None:
    for number, page in enumerate(pages(printed(name, paper)), start=1):
        assert min(ink.size for ink in page) >= 9.0 - 1e-4
        found = [ink for ink in page if ink.text.strip()]
        for index, one in enumerate(found):
            for other in found[index + 1 :]:
                across = min(one.right, other.right) - max(one.left, other.left)
                up = min(one.top, other.top) - max(one.bottom, other.bottom)
                beside = abs(one.bottom - other.bottom) < 3 and across > -1.5
                assert not (across > 0.05 and up > 0.05), f"page {number}: {one.text!r} and {other.text!r}"
                assert not beside, f"page {number}: {one.text!r} and {other.text!r}"


@every
def test_black_on_white_only(name: str, paper: Paper) -> None:
    for page in PdfReader(BytesIO(printed(name, paper))).pages:
        contents = page.get_contents()
        assert contents is not None
        stream = re.sub(rb"\((?:\\.|[^\\()])*\)", b"()", contents.get_data())
        assert {float(grey) for grey in re.findall(rb"(?<![\d.])([\d.]+) [gG]\b", stream)} <= {0.0, 1.0}
        assert not re.search(rb" (rg|RG|k|K|sc|SC|scn|SCN|cs|CS|sh)\b", stream)


@pytest.mark.parametrize("paper", PAPERS)
def test_a_usual_shift_is_one_page(paper: Paper) -> None:
    """And one more for those who hand out the cylinders, where a store is known."""
    found = pages(printed("usual", paper))
    assert len(found) == 2
    assert "Trips by departure" in text(found[0])
    assert "TAKES" in text(found[1])
    assert "TAKES" not in text(found[0])
    assert "page 1 of 2" in text(found[0])


def test_a_long_shift_continues_under_the_same_head() -> None:
    found = pages(printed("worst"))
    assert len(found) > 2
    for number, page in enumerate(found, start=1):
        assert page[0].text.strip() == "NOT ALL GO"
        assert ("Shift sheet, continued" in text(page)) == (number > 1)
        assert f"page {number} of {len(found)}" in text(page)


def test_every_trip_and_every_count_stands_on_the_paper() -> None:
    words = text(pages(printed("usual"))[0])
    for line in content("usual").trips:
        assert line.trip in words
        assert line.leaves in words
    for size in content("usual").sizes:
        assert size.size in words
        assert size.trips in words
    long = "\n".join(map(text, pages(printed("worst"))))
    assert [number for number in range(1, 61) if not re.search(rf"^{number} *$", long, re.MULTILINE)] == []


def test_what_has_to_be_settled_stands_first() -> None:
    words = text(pages(printed("usual"))[0])
    order = [
        "NOT ALL GO",
        "NO-GO 3",
        "cart needs 540 L",
        "NOT READ, NOT COUNTED trips/bad.yaml",
        "NO-GO until read: trip 5",
        "DRAW",
    ]
    assert [words.find(part) for part in order] == sorted(words.find(part) for part in order)
    assert all(part in words for part in order)


def test_the_figures_to_act_on_are_large() -> None:
    """x-height 0.10 inch: NASA CR-177605 (typography of flight-deck documentation, 1992), from memory."""
    sizes = content("usual").sizes
    large = [ink.text.strip() for ink in pages(printed("usual"))[0] if ink.size * fonts.x_height("bold") >= 7.2 - 1e-3]
    for figure in [part for size in sizes for part in (size.draw, size.at_once, size.lacking) if part]:
        assert figure in large
    assert {line.leaves for line in content("usual").trips if line.leaves != "-"} <= set(large)


def test_both_papers_carry_the_same_texts() -> None:
    for one, other in zip(pages(printed("worst", "a4")), pages(printed("worst", "letter")), strict=True):
        assert [ink.text for ink in one] == [ink.text for ink in other]


def test_the_same_shift_gives_the_same_bytes() -> None:
    assert printed("usual") == shift_bytes(content("usual"), issued=ISSUED)


def test_letters_that_the_font_lacks_are_told() -> None:
    odd = replace(content("smallest"), span="3 Dec 🚑")
    words = text(pages(shift_bytes(odd, issued=ISSUED))[0])
    assert "3 Dec ?" in words
    assert UNSHOWN in words
    assert UNSHOWN not in text(pages(printed("smallest"))[0])


def test_a_letter_that_only_the_composed_text_lacks_is_told_too() -> None:
    """Alpha and its mark are held apart, the two as one letter are not (Unicode, Greek Extended): no endless search."""
    odd = replace(content("smallest"), span="3 Dec \u03b1\u0313")
    assert "3 Dec ?" in text(pages(shift_bytes(odd, issued=ISSUED))[0])


def test_who_takes_which_cylinder_stands_on_a_page_of_its_own_with_tomorrow() -> None:
    words = text(pages(printed("usual"))[-1])
    for line in content("usual").given:
        for part in (line.leaves, line.supply, line.size, line.cylinder, line.holds, line.comes):
            assert part in words
    assert {"NEW 1", "S0"} <= {line.cylinder for line in content("usual").given}
    for told in content("usual").tomorrow:
        assert told.split(":")[0] in words
    assert "For tomorrow" in words
    flat = " ".join(words.split())
    assert all(line.split(";")[0] in flat for line in content("usual").to_do)
    assert all(line.lacking for line in content("usual").sizes if line.group == "Portable")
