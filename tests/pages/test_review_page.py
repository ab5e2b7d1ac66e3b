"""The page of closed trips as it is printed: every figure there, every trip a dot, nothing over anything else."""

from __future__ import annotations

import random
from datetime import UTC, datetime
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from pypdf import PdfReader

from planner.afterwards.review.history import FlowGroup, History
from planner.afterwards.review.review import FlowRow, Review, limit, review
from planner.command.cli import main
from planner.pages.drawing import fonts
from planner.pages.drawing.layout import BODY_BOTTOM, LEFT, RIGHT, Box, Page, TextRun
from planner.pages.pack import Paper
from planner.pages.review.review import review_bytes, review_pages
from planner.report.review.page import COLUMNS, HIGHEST, DotRow, review_page

ISSUED = datetime(2026, 12, 3, tzinfo=UTC)


def with_ratios(*series: list[float], **more: Any) -> Review:
    """A review whose groups have these ratios."""
    empty = review(History())
    rows = tuple(
        FlowRow(FlowGroup("simple_mask", f"setting {number}"), limit(ratios), ratios)
        for number, ratios in enumerate(series)
    )
    return empty._replace(flows=rows, **more)


def lognormal(trips: int, spread: float = 0.3) -> list[float]:
    rng = random.Random(trips)  # noqa: S311 - repeatable, not secret
    return [rng.lognormvariate(0.05, spread) for _ in range(trips)]


def words(pages: list[Page]) -> str:
    return " ".join(item.text for page in pages for item in page.items if isinstance(item, TextRun))


def dots(page: Page) -> list[Box]:
    return [item for item in page.items if isinstance(item, Box) and item.solid]


def row(ratios: list[float]) -> DotRow:
    return review_page(with_ratios(ratios)).plots[0].rows[0]


@pytest.mark.parametrize("trips", [1, 59, 400, 5000])
def test_each_trip_is_a_dot_or_its_share_of_one(trips: int) -> None:
    ratios = lognormal(trips)
    found = row(ratios)
    shown = sum(count for _, count in found.columns) + found.beyond
    assert trips <= shown * found.per_dot
    assert max(count for _, count in found.columns) <= HIGHEST
    if found.per_dot == 1:
        assert shown == trips
    else:
        assert f"a dot is up to {found.per_dot} trips" in found.facts
    assert len(dots(review_pages(review_page(with_ratios(ratios)))[0])) == shown


def test_dots_stand_over_their_ratio() -> None:
    """Three trips at 0.5, 1.0 and 1.2 of an axis to 1.5: columns 36, 73 and 88 of 110 by hand."""
    assert COLUMNS == 110
    assert row([0.5, 1.0, 1.2]).columns == ((36, 1), (73, 1), (88, 1))
    pages = review_pages(review_page(with_ratios([0.5, 1.0, 1.2])))
    first, second, third = (box.x for box in dots(pages[0]))
    assert (third - second) / (second - first) == pytest.approx((88 - 73) / (73 - 36))


def test_the_one_long_wait_among_thousands_is_seen() -> None:
    found = row([1.0] * 4999 + [2.4, 7.205])
    assert (found.per_dot, found.beyond) == (500, 1)
    assert [count for _, count in found.columns] == [10]
    assert "2 trips over 1.5, the most 7.21" in found.notes


def test_trips_that_ran_out_stand_apart_and_are_counted() -> None:
    found = row([1.0] * 58 + [float("inf")])
    assert (found.ran_out, found.beyond, found.limit) == (1, 0, None)
    assert "1 trip ran out of oxygen or had to be cut short for it" in found.notes
    assert "limit: no limit: too many trips ran out" in found.facts
    assert "ran out" in words(review_pages(review_page(with_ratios([1.0, float("inf")]))))


def test_median_and_limit_have_their_names_and_figures() -> None:
    """Of 0.50, 0.51 ... 1.08 the median is 0.79 and the limit 1.08, the largest of 59 (Wilks 1941)."""
    found = row([0.5 + index / 100 for index in range(59)])
    assert found.median == pytest.approx(0.79 / 1.5)
    assert found.limit == pytest.approx(1.08 / 1.5)
    assert "median 0.79; 95 of 100 trips use at most 1.08 (95 % confidence)" in found.facts
    said = words(review_pages(review_page(with_ratios([1.0] * 59))))
    assert "median" in said.split()
    assert "limit" in said.split()
    few = row([1.0] * 41)
    assert few.limit is None
    assert "limit: not enough yet: 41 of 59" in few.facts


def covered_area(item: TextRun | Box) -> tuple[float, float, float, float]:
    if isinstance(item, Box):
        return item.x, item.y, item.x + item.width, item.y + item.height
    return item.x, item.y - 0.7 * item.size, item.x + fonts.width(item.text, item.face, item.size), item.y


@pytest.mark.parametrize("trips", [59, 400, 5000])
@pytest.mark.parametrize("spread", [0.01, 0.3, 1.5])
def test_nothing_is_drawn_over_anything_else(trips: int, spread: float) -> None:
    """Texts over texts or dots; dots over dots would be a blob."""
    ratios = lognormal(trips, spread)
    late = [*ratios, float("inf")]
    found = review_page(with_ratios(ratios, [0.02] * trips, late, [1.49] * 60, changed=()))
    for page in review_pages(found):
        drawn = [item for item in page.items if isinstance(item, TextRun) or (isinstance(item, Box) and item.solid)]
        areas = [(covered_area(item), item) for item in drawn]
        for (left, _, right, bottom), item in areas:
            assert left >= LEFT - 0.01, item
            assert right <= RIGHT + 0.01, item
            assert bottom <= BODY_BOTTOM + 0.01, item
        seen = sorted(areas, key=lambda each: each[0][0])
        for (one, first), (other, second) in combinations(seen, 2):
            apart = other[0] >= one[2] - 0.05 or other[1] >= one[3] - 0.05 or one[1] >= other[3] - 0.05
            assert apart, (first, second)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_same_history_gives_the_same_bytes(paper: Paper) -> None:
    found = review_page(with_ratios(lognormal(400)))
    assert review_bytes(found, paper=paper, issued=ISSUED) == review_bytes(found, paper=paper, issued=ISSUED)


def test_a_name_that_the_font_cannot_show_or_that_is_long_costs_nothing() -> None:
    found = with_ratios([1.0] * 5)
    odd = FlowGroup("simple_mask", "road", "settings 🚑 " * 20, "x" * 300)
    pages = review_pages(review_page(found._replace(flows=(found.flows[0]._replace(group=odd),))))
    assert "settings ?" in words(pages)


def test_many_groups_go_on_under_the_same_heading() -> None:
    pages = review_pages(review_page(with_ratios(*[[1.0, 1.1]] * 40)))
    assert len(pages) > 2
    for page in pages[1:-1]:
        assert "What closed trips teach, continued" in words([page])
        assert "Used over planned litres, by device, continued" in words([page])


def test_the_page_of_the_demo_says_what_the_screen_says(tmp_path: Path) -> None:
    history = Path(__file__).resolve().parents[2] / "demo" / "history.jsonl"
    arguments = ["review", str(history), "--made", "150", "--format", "text,pdf", "--output", str(tmp_path)]
    result = CliRunner().invoke(main, arguments, standalone_mode=False)
    printed = " ".join(page.extract_text() for page in PdfReader(tmp_path / "review.pdf").pages)
    printed = " ".join(printed.split())
    for text in (
        "140 closed trips: planned litres and reserve covered 139 of them",
        "10 trips made and not closed",
        "CHANGED: wait: scanner has become larger",
        "not enough yet: 51 of 59",
        "longest 17 min where 12 min are planned",
        "It is no judgement of a person",
    ):
        assert text in printed, text
        assert text in " ".join(result.stdout.split()) or text.startswith("It is no")
    for figure in ("1.12", "1.63", "1.40", "2.44"):
        assert figure in printed
        assert figure in result.stdout
