"""The readings log on paper: which rows there are, their names, and boxes large enough to write in."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from planner import figures
from planner.pages.drawing import fonts
from planner.pages.drawing.layout import BODY_BOTTOM, LEFT, FormField, Page
from planner.pages.log import ELAPSED, log_pages
from planner.pages.pack import Paper
from planner.planning import plan
from planner.profile.read import parse_trip, read_trip
from planner.report.card.card import card
from planner.report.chart.chart import charts
from planner.report.log.log import FREE_ROWS, LogRow, log
from planner.results import Plan
from tests.make_plan import example, example_trip, longest
from tests.pages.printed import MM, PAPERS, SHORTEST, TRIPS, page_numbers, pages, printed, strokes

ROOT = Path(__file__).parents[2]
TITLE = "Readings log"


def rows(made: Plan) -> list[LogRow]:
    return [row for part in log(made) for row in part.rows]


def boxes(made: Plan) -> list[FormField]:
    found: list[Page] = log_pages(made, log(made), charts(made))
    return [item for page in found for item in page.items if isinstance(item, FormField)]


def test_every_reading_of_the_trip_has_its_row() -> None:
    """By hand: all four cylinders before departure; A after leg 1 and 2; main over leg 3; A over leg 4; both shut.

    Leg 3 takes 47 min, 35 and a delay of 12: two parts, so one reading between.
    """
    keys = [row.key for row in rows(example())]
    assert keys == [
        *("cart.A.1", "cart.B.1", "cart.C.1", "ambulance.main.1"),
        *(
            "cart.A.2",
            "cart.A.3",
            "ambulance.main.2",
            "between.3.1.ambulance",
            "ambulance.main.3",
            "cart.A.4",
            "cart.A.5",
        ),
        *("cart.A.6", "ambulance.main.4"),
        *(f"free.{number}" for number in range(1, FREE_ROWS + 1)),
    ]


def test_each_change_asks_for_what_comes_off_and_what_goes_on() -> None:
    """Cylinders of 420 L at 4.05 L/min: the first change falls at 103 min, 20:30 + 1 h 43 min = 22:13."""
    found = [row for row in rows(longest()) if row.elapsed == "103 min"]
    assert [row.what for row in found] == ["change: comes off", "change: goes on"]
    assert [row.expected for row in found] == ["500 psi", "1990 psi"]
    assert {row.clock for row in found} == {"22:13"}


def test_the_front_and_the_log_ask_at_the_end_of_each_leg_what_the_plan_expects() -> None:
    for name in ("example", "six legs", "shortest"):
        made = TRIPS[name]()
        expected = [
            (figures.gauge_nearest(check.gauge_kpa, "psi"), figures.gauge_up_or_none(check.least_gauge_kpa, "psi"))
            for check in made.checkpoints
            if check.at == "end" and check.gauge_kpa is not None
        ]
        assert len(expected) >= len(made.trip.legs)
        assert [(row.expected, row.act) for row in card(made).front.legs] == expected
        assert [(row.expected, row.least) for row in rows(made) if row.what.startswith("arrive")] == expected


def test_a_wall_outlet_has_no_gauge_and_a_stated_amount_its_own() -> None:
    text = SHORTEST.replace("legs:", "legs:\n  - {name: Ward, duration: 5 min, supply: wall, devices: [cannula]}")
    text = text.replace("supplies:", "supplies:\n  wall: {pipeline: true}\n  tank: {litres: 900 L, fixed: true}")
    text += "  - {name: Van, duration: 5 min, supply: tank, devices: [cannula]}\n"
    found = {row.key: row for row in rows(plan(parse_trip(text)))}
    assert (found["wall.supply.1"].cylinder, found["wall.supply.1"].gauge) == ("wall outlet", False)
    assert (found["tank.supply.1"].cylinder, found["tank.supply.1"].gauge) == ("its own gauge", True)
    names = [box.name for box in boxes(plan(parse_trip(text)))]
    assert "log.wall.supply.1.flow" in names
    assert "log.wall.supply.1.gauge" not in names


def test_a_vessel_of_liquid_is_named_with_what_it_holds_and_read_on_its_own_gauge() -> None:
    made = plan(read_trip(ROOT / "profiles" / "long-flight-on-liquid.yaml"))
    (name,) = (name for name, supply in made.trip.supplies.items() if supply.liquid is not None)
    first = next(row for row in rows(made) if row.key == f"{name}.supply.1")
    assert (first.what, first.where, first.cylinder) == ("before departure", "liquid oxygen", "its own gauge")
    assert first.supply == name


def test_cylinders_open_together_are_read_on_one_gauge() -> None:
    one = "    cylinders:\n      - {label: A, size: US-E, gauge: 2000 psi}"
    two = f"    manifold: true\n{one}\n      - {{label: B, size: US-E, gauge: 2000 psi}}"
    found = rows(plan(parse_trip(SHORTEST.replace(one, two))))
    assert {row.cylinder for row in found if not row.free} == {"A+B"}
    assert [row.key for row in found if not row.free] == ["cart.A+B.1", "cart.A+B.2", "cart.A+B.3"]


@pytest.mark.parametrize("name", ["example", "longest", "shortest", "six legs", "unbroken"])
def test_names_of_boxes_are_unique_and_stable(name: str) -> None:
    names = [box.name for box in boxes(TRIPS[name]())]
    assert len(set(names)) == len(names)
    assert names == [box.name for box in boxes(TRIPS[name]())]


def test_another_clock_and_other_gauges_keep_the_names() -> None:
    made = example_trip()
    later = plan(made._replace(departs=None))
    assert [box.name for box in boxes(plan(made))] == [box.name for box in boxes(later)]


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", ["example", "longest", "shortest"])
def test_boxes_to_write_in_are_10_mm_on_the_page(name: str, paper: Paper) -> None:
    """Four upright sides for each row, each at least 10 mm long, at least 10 mm apart."""
    made = TRIPS[name]()
    data = printed(name, paper)
    wanted = sum(len(part.rows) for part in log(made))
    found = 0
    for number in page_numbers(data, TITLE):
        sides = [
            line for line in strokes(data, number) if line.x1 == line.x2 and 9 * MM < abs(line.y1 - line.y2) < 40 * MM
        ]
        for top in {round(max(line.y1, line.y2), 1) for line in sides}:
            here = [line for line in sides if abs(max(line.y1, line.y2) - top) < 0.2]
            across = sorted({round(line.x1, 1) for line in here})
            if len(across) < 5:
                continue
            found += 1
            assert min(b - a for a, b in pairwise(across)) >= 10 * MM - 0.1
            assert all(abs(line.y1 - line.y2) >= 10 * MM for line in here)
    assert found == wanted


def test_the_head_names_the_unit_of_what_is_written() -> None:
    text = " ".join(ink.text.strip() for ink in pages(printed("example"))[page_numbers(printed("example"), TITLE)[0]])
    for word in (
        "time gauge, psi L/min initials",
        "SHOULD READ LEAK BELOW ACT BELOW",
        "Below ACT BELOW before departure",
    ):
        assert word in text


def test_the_head_is_repeated_on_every_page_of_the_log() -> None:
    data = printed("longest")
    for number in page_numbers(data, TITLE):
        text = " ".join(ink.text.strip() for ink in pages(data)[number])
        assert ("SHOULD READ" in text) or ("Gauge against time" in text)


def test_a_no_go_has_no_log() -> None:
    assert page_numbers(printed("no_go"), TITLE) == []


@pytest.mark.parametrize("name", ["longest", "six legs", "example"])
def test_rows_never_run_off_the_page(name: str) -> None:
    made = TRIPS[name]()
    for page in log_pages(made, log(made), charts(made)):
        assert (
            max([item.y + item.height for item in page.items if isinstance(item, FormField)], default=0.0)
            <= BODY_BOTTOM
        )


@pytest.mark.hazard(21)
@pytest.mark.parametrize("name", ["example", "longest", "shortest"])
def test_times_of_the_log_are_read_at_arms_length(name: str) -> None:
    """x-height of 0.10 inch: NASA CR-177605 (1992), from memory. Elapsed minutes and clock times, in their column."""
    times = [text.split(" ")[0] for row in rows(TRIPS[name]()) for text in (row.elapsed, row.clock) if text]
    data = printed(name)
    column = [ink for number in page_numbers(data, TITLE) for ink in pages(data)[number] if ink.left < LEFT + ELAPSED]
    large = [ink for ink in column if ink.size * fonts.x_height("bold") >= 7.2 - 1e-3]
    assert sorted(ink.text.strip() for ink in large if ink.text.strip() in times) == sorted(times)
    assert min(ink.left for ink in column) >= LEFT - 0.5, "also where a clock time is of the next day"


def test_each_row_says_what_and_where() -> None:
    """Before departure and after return the size of the cylinder, on the way the leg; a change says which comes off."""
    made = longest()
    legs = {leg.name for leg in made.trip.legs}
    sizes = {
        f"US-{one.cylinder.size.removeprefix('US-')}" if one.cylinder.size else one.cylinder.label_contents
        for supply in made.supplies.values()
        for one in supply.cylinders
    }
    told = [row for row in rows(made) if not row.free]
    for row in told:
        if row.what in ("before departure", "after return, shut"):
            assert any(size and size in row.where for size in sizes), row
        else:
            assert row.where in legs, row
    assert {row.what for row in told} >= {"before departure", "after return, shut"}
