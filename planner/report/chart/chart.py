"""Gauge against time for each supply of cylinders, as plain data in the unit of the policy.

The planned line falls and starts anew with each cylinder; below the leak line it has fallen too fast for the plan; the
least line is the gauge below which the rest of the trip no longer keeps its reserve; the change line is where a
cylinder is spent. The crew marks what it reads.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from planner import figures
from planner.constants import SAME_MIN
from planner.go.gauge_lines import Tooth, gauge_lines
from planner.report.card.order import order_places
from planner.report.change_gauge import change_gauge_kpa
from planner.results import Plan

MOST_GAUGE_MARKS = 8
MOST_MINUTE_MARKS = 9
MINUTE_STEPS = ((5, 1), (10, 2), (20, 5), (30, 5), (60, 10), (120, 30), (240, 60), (480, 120), (1440, 240))
"""Minutes between labelled marks, and between the finer lines of the grid."""


class Axis(NamedTuple):
    """An axis from 0 to `top`, labelled every `major`, with finer lines every `minor`."""

    top: float
    major: float
    minor: float

    def marks(self, step: float) -> tuple[float, ...]:
        """Multiples of a step from 0 to the top."""
        return tuple(number * step for number in range(figures.steps_down(self.top, step) + 1))


class TurnLines(NamedTuple):
    """The lines of one turn of a cylinder; `number` is its place in the order on the card.

    All hold (minute, gauge). The least line is in pieces where no gauge would do between them, the leak line where
    nothing above the least gauge is too fast.
    """

    label: str
    number: int | None
    planned: tuple[tuple[float, float], ...]
    least: tuple[tuple[tuple[float, float], ...], ...]
    leak: tuple[tuple[tuple[float, float], ...], ...] = ()


class LegMark(NamedTuple):
    """A leg on the time axis."""

    number: int
    from_min: float
    to_min: float
    no_change: bool


class Chart(NamedTuple):
    """The chart of one supply. `clocks` holds (minute, clock time); empty without a time of departure."""

    supply: str
    unit: str
    minutes: Axis
    gauge: Axis
    lines: tuple[TurnLines, ...]
    change: float
    change_text: str
    legs: tuple[LegMark, ...]
    clocks: tuple[tuple[float, str], ...]


def charts(plan: Plan) -> tuple[Chart, ...]:
    """A chart for each supply of cylinders that the trip draws on, in the order of the trip's supplies."""
    found = gauge_lines(plan.trip, plan.start_kpa, plan.ways)
    return tuple(_chart(plan, name, found[name]) for name in plan.supplies if found.get(name))


def _chart(plan: Plan, supply: str, teeth: tuple[Tooth, ...]) -> Chart:
    policy = plan.trip.policy
    unit = policy.pressure_unit
    per_unit = figures.KPA_PER_UNIT[unit]
    highest = max(point.gauge_kpa for tooth in teeth for point in tooth.points) / per_unit
    minutes = minute_axis(plan.trip.total_min, policy.reserve_time_min)
    change_kpa = max(change_gauge_kpa(plan, item) for item in plan.supplies[supply].cylinders)
    return Chart(
        supply=supply,
        unit=unit,
        minutes=minutes,
        gauge=gauge_axis(highest),
        lines=tuple(_line(plan, supply, tooth, per_unit) for tooth in teeth),
        change=change_kpa / per_unit,
        change_text=f"change at {figures.gauge_up(change_kpa, unit)}",
        legs=_legs(plan),
        clocks=tuple(
            (minute, clock)
            for minute in minutes.marks(minutes.major)
            if (clock := figures.clock_down(plan.trip.departs, minute, narrow=True))
        ),
    )


def gauge_axis(highest: float) -> Axis:
    """Round steps of 1, 2 or 5 with at most eight labels, and room for a reading above the highest planned gauge."""
    major = 1e-3
    while True:
        for factor, parts in ((1, 5), (2, 4), (5, 5)):
            step = major * factor
            if highest / step <= MOST_GAUGE_MARKS:
                minor = step / parts
                return Axis((figures.steps_up(highest, minor) + 1) * minor, step, minor)
        major *= 10


def minute_axis(total_min: float, reserve_time_min: float) -> Axis:
    """The trip, and beyond it the reserve time, though not more than a quarter of the trip or 10 min."""
    longest = total_min + max(10.0, min(reserve_time_min, total_min / 4))
    major, minor = next(
        (pair for pair in MINUTE_STEPS if longest / pair[0] <= MOST_MINUTE_MARKS),
        MINUTE_STEPS[-1],
    )
    return Axis(figures.steps_up(longest, minor) * minor, major, minor)


def _line(plan: Plan, supply: str, tooth: Tooth, per_unit: float) -> TurnLines:
    return TurnLines(
        label=tooth.cylinder,
        number=_number(plan, supply, tooth),
        planned=tuple((point.minute, point.gauge_kpa / per_unit) for point in tooth.points),
        least=_pieces(((point.minute, point.least_gauge_kpa) for point in tooth.points), per_unit),
        leak=_pieces(((point.minute, point.leak_gauge_kpa) for point in tooth.points), per_unit),
    )


def _pieces(
    points: Iterable[tuple[float, float | None]], per_unit: float
) -> tuple[tuple[tuple[float, float], ...], ...]:
    """A line in the pieces between which it has no gauge."""
    pieces: list[list[tuple[float, float]]] = [[]]
    for minute, gauge_kpa in points:
        if gauge_kpa is None:
            pieces.append([])
        else:
            pieces[-1].append((minute, gauge_kpa / per_unit))
    return tuple(tuple(piece) for piece in pieces if len(piece) > 1)


def _number(plan: Plan, supply: str, tooth: Tooth) -> int | None:
    """The place in the supply's order: the last that begins by then, where the cylinder comes round again."""
    known = [
        (number, turn.from_min)
        for number, planned, turn, _ in order_places(plan)
        if turn is not None and planned.supply.name == supply and turn.cylinder in tooth.cylinder.split("+")
    ]
    begun = [number for number, from_min in known if from_min <= tooth.points[0].minute + SAME_MIN]
    return begun[-1] if begun else known[0][0] if known else None


def _legs(plan: Plan) -> tuple[LegMark, ...]:
    marks = []
    start = 0.0
    for number, leg in enumerate(plan.trip.legs, start=1):
        marks.append(LegMark(number, start, start + leg.total_min, leg.no_change))
        start += leg.total_min
    return tuple(marks)
