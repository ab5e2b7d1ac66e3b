"""The charts of gauge against time, measured on the printed page."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

import pytest

from planner.constants import KPA_PER_PSI
from planner.pages import chart as drawn
from planner.pages.drawing.labels import Labels
from planner.pages.drawing.layout import Blank, Line
from planner.pages.drawing.layout import Polyline as Stroked
from planner.pages.log import log_pages
from planner.pages.pack import pack_bytes
from planner.planning import plan
from planner.profile.read import parse_trip
from planner.report.chart.chart import charts, gauge_axis, minute_axis
from planner.report.log.log import log
from planner.results import Plan
from tests.make_plan import example_trip
from tests.pages.printed import ISSUED, MM, SHORTEST, Ink, Stroke, page_numbers, pages, strokes

TITLE = "Readings log"


class Plot(NamedTuple):
    """One chart as it lies on the page: its two axes, each as value -> place, and the strokes inside."""

    minutes: dict[float, float]
    gauge: dict[float, float]
    lines: list[Stroke]
    texts: list[Ink]

    def point(self, x: float, y: float) -> tuple[float, float]:
        """Minute and gauge of a place on the page."""
        return _value(self.minutes, x), _value(self.gauge, y)


def _value(axis: dict[float, float], place: float) -> float:
    (low, low_at), *_, (high, high_at) = sorted(axis.items())
    return low + (high - low) * (place - low_at) / (high_at - low_at)


def _nearest(places: list[float], place: float) -> float:
    """The line of the grid that a figure stands at."""
    found = min(places, key=lambda other: abs(other - place))
    assert abs(found - place) < 1.5
    return found


def plots(data: bytes) -> list[Plot]:
    """The charts of a pack, top first: each lies between its title and the foot of its time axis."""
    found = []
    for number in page_numbers(data, TITLE):
        texts = pages(data)[number]
        titles = [ink for ink in texts if ink.text.startswith("Gauge against time")]
        feet = [ink for ink in texts if ink.text.strip() == "min" and ink.left < 40]
        for title in titles:
            foot = max((ink for ink in feet if ink.top < title.bottom), key=lambda ink: ink.top)
            inside = [ink for ink in texts if foot.bottom - 20 < ink.bottom < title.bottom]
            lines = [line for line in strokes(data, number) if foot.top < max(line.y1, line.y2) < title.bottom]
            upright = [line.x1 for line in lines if line.x1 == line.x2 and abs(line.weight - 0.6) < 0.01]
            level = [line.y1 for line in lines if line.y1 == line.y2 and abs(line.weight - 0.6) < 0.01]
            minutes = {
                float(ink.text): _nearest(upright, (ink.left + ink.right) / 2)
                for ink in inside
                if abs(ink.bottom - foot.bottom) < 2 and re.fullmatch(r"\d+ *", ink.text)
            }
            gauge = {
                float(ink.text.split()[0]): _nearest(level, (ink.bottom + ink.top) / 2)
                for ink in inside
                if ink.right < min(minutes.values()) and re.match(r"\d+\b", ink.text) and ink.bottom > foot.top
            }
            found.append(Plot(minutes, gauge, lines, inside))
    return found


@pytest.fixture(scope="module")
def made() -> Plan:
    return plan(example_trip())


@pytest.fixture(scope="module")
def found(made: Plan) -> list[Plot]:
    return plots(pack_bytes(made, issued=ISSUED))


def ends(plot: Plot, weight: float) -> list[tuple[float, float]]:
    """Corners of the lines of one weight, as minute and gauge."""
    lines = [line for line in plot.lines if abs(line.weight - weight) < 0.01]
    return [plot.point(*end) for line in lines for end in ((line.x1, line.y1), (line.x2, line.y2))]


def has(corners: list[tuple[float, float]], minute: float, gauge: float) -> bool:
    """True where a line has a corner there, to a quarter of a minute and 5 psi."""
    return any(abs(x - minute) < 0.25 and abs(y - gauge) < 5 for x, y in corners)


def test_each_supply_of_cylinders_has_its_chart(found: list[Plot]) -> None:
    assert len(found) == 2


def test_planned_and_least_line_pass_through_the_checkpoints(made: Plan, found: list[Plot]) -> None:
    tried = 0
    for check in made.checkpoints:
        plot = found[["cart", "ambulance"].index(check.supply)]
        assert check.gauge_kpa is not None
        least = check.least_gauge_kpa
        assert least is not None
        assert has(ends(plot, drawn.PLANNED), check.minute, check.gauge_kpa / KPA_PER_PSI)
        assert has(ends(plot, drawn.LEAST), check.minute, least / KPA_PER_PSI)
        tried += 1
    assert tried == 8


@pytest.mark.hazard(32)
def test_the_line_for_too_fast_passes_through_the_limits_of_the_checkpoints(made: Plan, found: list[Plot]) -> None:
    """And stands nowhere at departure, where nothing has fallen yet."""
    tried = 0
    for check in made.checkpoints:
        corners = ends(found[["cart", "ambulance"].index(check.supply)], drawn.LEAK)
        assert not any(minute < 0.25 for minute, _ in corners)
        if check.leak is not None:
            assert has(corners, check.minute, check.leak.gauge_kpa / KPA_PER_PSI)
            tried += 1
    assert tried >= 6


def test_without_a_limit_for_too_fast_no_words_point_to_one() -> None:
    """A stated amount has no gauge, and so no limit."""
    stated = SHORTEST.replace("cylinders:\n      - {label: A, size: US-E, gauge: 2000 psi}", "litres: 900 L")
    none, some = (
        " ".join(ink.text for page in pages(pack_bytes(plan(parse_trip(text)), issued=ISSUED)) for ink in page)
        for text in (stated, SHORTEST)
    )
    for words in ("leak below", "LEAK BELOW", "Below LEAK", "LEAK?", "too fast"):
        assert words in some
        assert words not in none


@pytest.mark.hazard(17)
def test_the_change_line_lies_at_the_gauge_to_change_at(found: list[Plot]) -> None:
    """500 psi on the cart. In the ambulance at -5 degC the same 500 psi are what stands at 554.7 psi at 21.1 degC, by

    densities of CoolProp 8.0.0, in kg/m3: 52.784 - 1.456 (-5 degC, less what stays) + 1.326 = 52.654 at 21.1 degC.
    """
    for plot, gauge in zip(found, (500.0, 554.7), strict=True):
        corners = [(x, y) for x, y in ends(plot, drawn.CHANGE) if abs(y - gauge) < 5]
        assert min(x for x, _ in corners) == pytest.approx(0, abs=0.3)
        assert max(x for x, _ in corners) > 120


def test_a_change_of_cylinder_makes_a_new_tooth() -> None:
    """Cylinders of 424 L at 8 L/min: A is changed after 53 min for B, which begins at its own gauge."""
    two = (
        SHORTEST.replace(
            "{label: A, size: US-E, gauge: 2000 psi}",
            "{label: A, size: US-E, gauge: 2000 psi}\n      - {label: B, size: US-E, gauge: 1800 psi}",
        )
        .replace("10 min", "62 min")
        .replace("2 L/min", "8 L/min")
    )
    (plot,) = plots(pack_bytes(plan(parse_trip(two)), issued=ISSUED))
    corners = ends(plot, drawn.PLANNED)
    assert has(corners, 0, 2000)
    assert has(corners, 53, 500)
    assert has(corners, 53, 1800)
    # B gives 62 x 8 - 424 = 72 L: 72 / 0.28 = 257 psi by the hand method
    assert max(x for x, _ in corners) == pytest.approx(62, abs=0.25)
    last = min(y for x, y in corners if x > 61.5)
    assert last == pytest.approx(1800 - 257, abs=15)
    names = " ".join(ink.text for ink in plot.texts)
    assert "A: planned" in names
    assert "B: planned" in names


def test_the_three_lines_differ_without_colour_and_are_named(made: Plan, found: list[Plot]) -> None:
    weights = sorted((drawn.PLANNED, drawn.LEAST, drawn.CHANGE))
    assert weights[2] >= 1.8 * weights[1]  # the least line is by far the heaviest
    items = [item for page in log_pages(made, log(made), charts(made)) for item in page.items]
    dashed = {item.weight for item in items if isinstance(item, Stroked) and item.dashed}
    assert dashed == {drawn.CHANGE, drawn.LEAK}
    assert not any(item.dashed for item in items if isinstance(item, Stroked) and item.weight not in dashed)
    for plot, gauge in zip(found, (500, 560), strict=True):
        names = " ".join(ink.text.strip() for ink in plot.texts)
        assert "planned" in names
        assert "least gauge: below it, ACT" in names
        assert "below it: LEAK?" in names
        assert f"change at {gauge} psi" in names


def test_the_grid_can_be_read_and_its_axes_have_units(found: list[Plot]) -> None:
    for plot in found:
        assert len(plot.gauge) >= 3
        assert len(plot.minutes) >= 5
        texts = [ink.text.strip() for ink in plot.texts]
        assert "min" in texts
        assert "clock" in texts
        assert any(re.fullmatch(r"\d+ psi", text) for text in texts)
        level = sorted({round(line.y1, 1) for line in plot.lines if line.y1 == line.y2 and line.weight < 0.7})
        upright = sorted({round(line.x1, 1) for line in plot.lines if line.x1 == line.x2 and line.weight < 0.7})
        for places in (level, upright):
            assert len(places) > 10
            assert min(b - a for a, b in pairwise(places)) > 4  # 1.4 mm


def test_the_word_leg_and_the_highest_gauge_do_not_touch() -> None:
    """Some of these axes end at their highest label, some above it."""
    tried = 0
    for gauge in ("2000 psi", "1950 psi", "1900 psi", "1850 psi", "1700 psi", "1500 psi", "1400 psi", "900 psi"):
        data = pack_bytes(plan(parse_trip(SHORTEST.replace("2000 psi", gauge))), issued=ISSUED)
        for number in page_numbers(data, TITLE):
            texts = pages(data)[number]
            for word in (ink for ink in texts if ink.text.strip() == "leg"):
                for label in (ink for ink in texts if ink.text.strip().endswith(" psi") and ink.left < word.right + 4):
                    if label.bottom > word.bottom - 40.0 and label.bottom < word.top:
                        assert label.top < word.bottom
                        tried += 1
    assert tried >= 3


def test_clock_times_stand_under_the_minutes_of_the_plan(found: list[Plot]) -> None:
    """Departs 14:20: 20 min later it is 14:40."""
    for plot in found:
        clocks = {ink.text.strip(): (ink.left + ink.right) / 2 for ink in plot.texts}
        assert clocks["14:20"] == pytest.approx(plot.minutes[0], abs=0.5)
        assert clocks["14:40"] == pytest.approx(plot.minutes[20], abs=0.5)
        assert clocks["16:00"] == pytest.approx(plot.minutes[100], abs=0.5)


def test_without_a_clock_there_are_blanks_for_it() -> None:
    (plot,) = plots(pack_bytes(plan(parse_trip(SHORTEST)), issued=ISSUED))
    data = pack_bytes(plan(parse_trip(SHORTEST)), issued=ISSUED)
    number = page_numbers(data, TITLE)[-1]
    blanks = [line for line in strokes(data, number) if line.y1 == line.y2 and abs(line.x2 - line.x1 - 26) < 0.5]
    assert len(blanks) == len(plot.minutes)


def test_the_crew_is_told_what_to_do() -> None:
    data = pack_bytes(plan(example_trip()), issued=ISSUED)
    text = " ".join(ink.text.strip() for number in page_numbers(data, TITLE) for ink in pages(data)[number])
    assert "Mark each real reading with a cross. Below the falling dashed line: too fast for the plan" in text
    assert "Below the heavy line with teeth: act." in text
    assert "A bar under a leg: change no cylinder in it." in text


def test_teeth_lie_below_the_least_line(made: Plan) -> None:
    items = [item for page in log_pages(made, log(made), charts(made)) for item in page.items]
    teeth = [
        item
        for item in items
        if isinstance(item, Line) and item.weight == 0.9 and item.x1 > item.x2 and item.y2 > item.y1
    ]
    assert len(teeth) > 20
    least = [item for item in items if isinstance(item, Stroked) and item.weight == drawn.LEAST]
    for tooth in teeth:
        on = [
            abs(y1 + (y2 - y1) * (tooth.x1 - x1) / (x2 - x1) - tooth.y1) < 0.1
            for path in least
            for (x1, y1), (x2, y2) in pairwise(path.points)
            if x1 <= tooth.x1 <= x2 and x1 < x2
        ]
        assert any(on)


def test_names_cover_no_line(made: Plan) -> None:
    items = [item for page in log_pages(made, log(made), charts(made)) for item in page.items]
    blanks = [item for item in items if isinstance(item, Blank)]
    assert len(blanks) >= 6
    for path in (item for item in items if isinstance(item, Stroked)):
        for x, y in path.points:
            assert not any(
                blank.x < x < blank.x + blank.width and blank.y < y < blank.y + blank.height for blank in blanks
            )


def test_names_make_way_for_each_other() -> None:
    line = [(0.0, 50.0), (300.0, 50.0)]
    labels = Labels((0.0, 0.0, 300.0, 100.0), [line])
    for name in ("first", "second", "third"):
        labels.place(name, line, above=True)
    boxes = [(label.left, label.right, label.top) for label in labels.placed]
    assert len({(round(left), round(top)) for left, _, top in boxes}) == 3
    for index, (left, right, top) in enumerate(boxes):
        for other_left, other_right, other_top in boxes[index + 1 :]:
            assert right < other_left or other_right < left or abs(top - other_top) >= 10


@pytest.mark.parametrize(
    ("highest", "top", "major"),
    [
        (2100.0, 2200.0, 500.0),
        (137.0, 145.0, 20.0),
        (13700.0, 14500.0, 2000.0),
        (13.7, 14.5, 2.0),
        (1500.0, 1550.0, 200.0),
    ],
)
def test_the_gauge_axis_is_round_and_reaches_above_the_plan(highest: float, top: float, major: float) -> None:
    axis = gauge_axis(highest)
    assert (axis.top, axis.major) == pytest.approx((top, major))


@pytest.mark.parametrize(
    ("total", "reserve", "top", "major"),
    [(103.0, 30.0, 130.0, 20.0), (10.0, 30.0, 20.0, 5.0), (320.0, 30.0, 350.0, 60.0)],
)
def test_the_time_axis_reaches_beyond_the_trip(total: float, reserve: float, top: float, major: float) -> None:
    """103 min and a quarter of it, 25.75, is 128.75: up to 130."""
    axis = minute_axis(total, reserve)
    assert (axis.top, axis.major) == (top, major)


@pytest.mark.hazard(21)
def test_lines_of_the_grid_stand_apart_on_a_copy() -> None:
    """2 mm or more (common practice, no source): closer ones run together on a copy of a low chart."""
    file = Path(__file__).parents[2] / "demo" / "valley-to-coast.yaml"
    drawn_low = plots(pack_bytes(plan(parse_trip(file.read_text(encoding="utf-8"))), issued=ISSUED))
    assert len(drawn_low) == 3
    for plot in drawn_low:
        grid = (0.25, 0.6)
        level = {round(line.y1, 2) for line in plot.lines if line.y1 == line.y2 and round(line.weight, 2) in grid}
        level = {y for y in level if min(plot.gauge.values()) <= y <= max(plot.gauge.values())}
        assert len(level) > 5
        assert min(there - here for here, there in pairwise(sorted(level))) > 2 * MM


def test_the_gauge_axis_is_in_the_unit_of_the_policy() -> None:
    made = plan(parse_trip(SHORTEST))
    policy = made.trip.policy._replace(pressure_unit="bar")
    (found,) = charts(made._replace(trip=made.trip._replace(policy=policy)))
    assert found.unit == "bar"
    assert found.lines[0].planned[0][1] == pytest.approx(2000 * KPA_PER_PSI / 100)
    assert found.change_text == "change at 35 bar"  # 500 psi is 34.5 bar
