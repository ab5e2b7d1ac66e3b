"""The figures of a shift and of a review, wherever they stand: JSON, tables for a spreadsheet, screen and pages."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from planner import figures
from planner.afterwards.review.history import lines_of, read
from planner.afterwards.review.review import review
from planner.pages.review.review import review_pages
from planner.pages.shift.shift import shift_pages
from planner.planning import plan
from planner.profile.read import read_trip
from planner.report.review.json import review_result
from planner.report.review.page import review_page
from planner.report.review.text import review_text
from planner.report.shift.data import result, tables
from planner.report.shift.result import ShiftResult
from planner.report.shift.shift import shift_sheet
from planner.report.shift.text import shift_summary
from planner.shift.allotment import allotment
from planner.shift.shift import shift, taken_twice
from planner.shift.trip import trip_need
from tests.places.printed import Said, Sheet, screen_table
from tests.places.printed import read as read_page

SIZES = ("Cylinders", "DRAW", "Part-used", "OUT AT ONCE", "From", "Until", "By")
TRIPS = ("Trip", "Leaves", "Back", "Name", "Cylinders", "Verdict")
RATIOS = {
    "flow": ("Device and setting", "Trips", "Median", "95 of 100 trips use at most"),
    "time": ("Leg or wait", "Trips", "Median", "95 of 100 trips take at most"),
}
OF_A_SIZE = ("draw", "part-used", "out at once")


def shift_said(profiles: list[Path]) -> Iterator[Said]:
    """Of each size how many are drawn, part-used and out at once, and when; of each trip when it leaves and is back."""
    made = shift([trip_need(plan(read_trip(path))) for path in profiles], None)
    found = ShiftResult(
        made, (), None, "", False, taken_twice(made.trips), allotment=allotment(made, None, refilled=False)
    )
    document, sheet = result(found), shift_sheet(found)
    for row in document["cylinders"]:
        key = ("fixed" if row["fixed"] else "portable", row["size"] or "all")
        counts = (row["to_draw"], row["part_used"], row["most_out_at_once"])
        yield from (Said(figure, key, "JSON", str(count)) for figure, count in zip(OF_A_SIZE, counts, strict=True))
        times = [figures.clock_down(made.first, row[name], narrow=True) for name in ("from_min", "until_min")]
        yield Said("out", key, "JSON", " to ".join(times))
    for row in document["trips"]:
        for name in ("leaves", "back"):
            clock = figures.clock_down(made.first, row[f"{name}_min"], narrow=True)
            yield Said(name, (str(row["number"]),), "JSON", clock)
    for row in csv.DictReader(io.StringIO(tables(found)["cylinders"])):
        counts = (row["to_draw"], row["part_used"], row["most_out_at_once"])
        key = (row["kept"], row["size"])
        yield from (Said(figure, key, "CSV", count) for figure, count in zip(OF_A_SIZE, counts, strict=True))
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COLUMNS", "120")
        text = shift_summary(sheet)
    for row in screen_table(text, SIZES, "DRAW"):
        group, _, size = row["Cylinders"].partition(": ")
        yield from _of_a_size(group, size, [row[head] for head in SIZES[1:4]], "screen")
        yield Said("out", _size(group, size), "screen", f"{row['From']} to {row['Until']}")
    for row in screen_table(text, TRIPS, "Trip"):
        yield from (Said(name, (row["Trip"],), "screen", row[name.capitalize()]) for name in ("leaves", "back"))
    for page in map(read_page, shift_pages(sheet)):
        yield from _page_of_a_shift(page)


def _size(group: str, size: str) -> tuple[str, str]:
    return ("portable" if group == "Portable" else "fixed", "all" if size == "all sizes" else size)


def _of_a_size(group: str, size: str, counts: list[str], place: str) -> Iterator[Said]:
    for figure, count in zip(OF_A_SIZE, counts, strict=True):
        yield Said(figure, _size(group, size), place, "0" if count == figures.NONE else count)


def _page_of_a_shift(page: Sheet) -> Iterator[Said]:
    """Rows below the heads of their columns, each by its first cell; the times of a size stand a little higher."""
    tops = [piece for piece in page.pieces if piece.text in ("Portable", "Fixed to vehicles")]
    for top, below in zip(tops, [*(piece.y for piece in tops[1:]), 0.0], strict=True):
        heads = [piece for piece in page.pieces if abs(piece.y - top.y) < 0.3][1:]
        end = max((p.y for p in page.pieces if p.text.startswith("Portable cylinders out")), default=0.0)
        for first in page.pieces:
            if first.left == top.left and max(below, end) < first.y < top.y:
                row = [piece for piece in page.pieces if -1.0 < piece.y - first.y < 6.0]
                counts = [next(p.text for p in row if abs(p.right - head.right) < 0.5) for head in heads[:3]]
                yield from _of_a_size(top.text, first.text, counts, "page")
                (times,) = [piece.text for piece in row if abs(piece.left - heads[3].left) < 0.5]
                yield Said("out", _size(top.text, first.text), "page", times)
    if number := page.head("no."):
        for first in page.pieces:
            if abs(first.right - number.right) < 0.5 and first.y < number.y:
                row = [piece for piece in page.pieces if abs(piece.y - first.y) < 0.3]
                for name, head in (("leaves", page.head("LEAVES")), ("back", page.head("back by"))):
                    assert head is not None
                    yield Said(
                        name, (first.text,), "page", next(p.text for p in row if abs(p.right - head.right) < 0.5)
                    )


def review_said(history: Path) -> Iterator[Said]:
    """Of each series the trips, the median and the limit."""
    with history.open(encoding="utf-8") as lines:
        known = read([(str(history), lines_of(lines))])
    found = review(known, None)
    document, text = review_result(found), review_text(found, known)
    pages = " ".join(piece.text for page in review_pages(review_page(found)) for piece in read_page(page).pieces)
    told = iter(
        re.findall(
            r"(\d+) trips?, a dot is [^;]*(?:; median ([\d.]+))?(?:; 95 of 100 trips \w+ at most ([\d.]+))?", pages
        )
    )
    for kind in ("flow", "time"):
        rows = screen_table(text, RATIOS[kind], "Trips")
        for number, (one, row) in enumerate(zip(document[f"{kind}s"], rows, strict=True), start=1):
            key = (kind, number)
            median, upper = (
                None if one[name] is None else figures.ratio_up(one[name]) for name in ("median", "upper_95_95")
            )
            in_json = (str(one["trips"]), median or figures.NONE, upper or "")
            limit = row[RATIOS[kind][3]]
            on_screen = (row["Trips"], row["Median"], limit if re.fullmatch(r"[\d.]+", limit) else "")
            for place, texts in (("JSON", in_json), ("screen", on_screen), ("page", next(told))):
                yield from (
                    Said(name, key, place, t) for name, t in zip(("trips", "median", "limit"), texts, strict=True)
                )
