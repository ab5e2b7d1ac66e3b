"""Gauge against time on each supply, minute by minute: what it should show, and the least it may show.

The planned gauge falls as litres are drawn (`planner.cylinders.depletion`); the least gauge is that of
`planner.go.checkpoints`
at any minute of the way. Both belong to the cylinder in use, so that they form one tooth for each turn of a cylinder.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import NamedTuple

from planner.constants import SAME_MIN
from planner.cylinders.depletion import course_of
from planner.cylinders.onhand import OnHand, on_hand
from planner.cylinders.turns import Moment
from planner.flow.flows import Flow, Segment, flows, no_change_spans, rest
from planner.go.accepted import eased
from planner.go.checkpoints import least_gauge_kpa, lowest_start, start_of
from planner.go.leak import Leaks
from planner.go.worked import Worked
from planner.go.worst_minute import Way
from planner.model import Trip
from planner.results import LeakGauge

STEPS = 48
"""Into how many parts of equal time a trip is cut; changes of flow and of cylinder are cut besides."""


StartGauges = Mapping[str, Sequence[float | None]]
"""The gauges to depart with, kPa, of the cylinders of each supply."""

NO_START: StartGauges = MappingProxyType({})

Ways = Mapping[str, Way]
"""What the planned course of each supply chooses wherever it has a choice."""

NO_WAYS: Ways = MappingProxyType({})


class GaugePoint(NamedTuple):
    """At an elapsed minute: the planned gauge, the least gauge, and the limit for too fast, kPa as indicated.

    `least_gauge_kpa` is None where no gauge of the cylinder in use would do, `leak_gauge_kpa` at departure and where it
    would not be above the least gauge.
    """

    minute: float
    gauge_kpa: float
    least_gauge_kpa: float | None
    leak_gauge_kpa: float | None = None


class GaugeAt(NamedTuple):
    """What a supply should show at an elapsed minute: the cylinder in use from then on, its flow, and its gauges."""

    minute: float
    leg: int
    cylinder: str
    flow_l_per_min: float
    gauge_kpa: float
    least_gauge_kpa: float | None
    leak: LeakGauge | None = None


class Tooth(NamedTuple):
    """One turn of a cylinder. Two points at one minute are a step: the least gauge falls as a leg ends."""

    cylinder: str
    points: tuple[GaugePoint, ...]


def gauge_lines(trip: Trip, start_kpa: StartGauges = NO_START, ways: Ways = NO_WAYS) -> dict[str, tuple[Tooth, ...]]:
    """The teeth of each supply of cylinders that the trip draws on, in the order of time.

    `ways`: that of the planned course on each supply, else the first on which every leg is carried.

    Straight lines between the points never lie below the true least gauge by more than the bend of the real gas
    between two of them. A supply that waits for its first leg has its first tooth drawn level from departure.
    """
    found = {}
    for name, flow in flows(trip.legs).items():
        stock = on_hand(trip.supplies[name], trip.policy)
        if stock is not None and stock.helds and flow:
            found[name] = _teeth(
                _GaugeLine(eased(trip, name, flow), stock, start_kpa.get(name, ())), flow, ways.get(name)
            )
    return found


def gauges_at(
    trip: Trip, one: Worked, minutes: Iterable[float], start_kpa: Sequence[float | None]
) -> tuple[GaugeAt, ...]:
    """The points of the lines of one supply at some elapsed minutes, worked out there and not drawn between others.

    `trip` has the policy that holds for the supply (`planner.go.accepted`); `start_kpa`: its gauges to depart with.
    None for a supply without gauges, and none for a minute in which it waits or nothing is left in it.
    """
    wanted, flow, stock = set(minutes), one.flow, one.stock
    if stock is None or not stock.helds or not flow or not wanted:
        return ()
    found = []
    line = _GaugeLine(trip, stock, start_kpa)
    cut = tuple(_cut(flow, wanted))
    line.follow(cut)
    course = course_of(stock.tanks, cut, one.task.no_change, moments=True, serving=stock.serving, way=one.way)
    for moment in course.moments:
        if moment.tank is not None and moment.at_start and moment.minute in wanted:
            point = line.point(flow, moment, moment.minute)
            label = stock.label_of(moment.tank) or ""
            flow_l_per_min, least = moment.flow_l_per_min, point.least_gauge_kpa
            leak = line.leak(moment, least)
            found.append(GaugeAt(moment.minute, moment.leg, label, flow_l_per_min, point.gauge_kpa, least, leak))
    return tuple(found)


def _teeth(line: _GaugeLine, flow: Flow, way: Way | None) -> tuple[Tooth, ...]:
    trip, stock = line.trip, line.stock
    no_change = no_change_spans(trip.legs)
    changes = [change.minute for change in course_of(stock.tanks, flow, no_change, way=way).changes]
    step = trip.total_min / STEPS
    fine = tuple(_cut(flow, [*changes, *(number * step for number in range(1, STEPS))]))
    moments = course_of(stock.tanks, fine, no_change, moments=True, way=way).moments
    line.follow(fine)
    ends = {segment.end_min for segment in flow}
    teeth: list[tuple[int, list[GaugePoint]]] = []
    for moment in moments:
        tank = moment.tank
        if tank is None:
            break
        if not teeth or (teeth[-1][0] != tank and moment.at_start):
            teeth.append((tank, []))
        points = teeth[-1][1]
        for point in _points(line, flow, moment, ends):
            leak = line.leak(moment, point.least_gauge_kpa)
            full = point if leak is None else point._replace(leak_gauge_kpa=leak.gauge_kpa)
            if not points and len(teeth) == 1 and point.minute > 0.0:
                points.append(point._replace(minute=0.0))
            if not points or points[-1] != full:
                points.append(full)
    return tuple(Tooth(stock.label_of(tank) or "", tuple(points)) for tank, points in teeth)


def _points(line: _GaugeLine, flow: Flow, moment: Moment, ends: set[float]) -> Iterable[GaugePoint]:
    """The point of a moment; at the end of a piece of flow, first that of the minute that ends, then what follows."""
    if not moment.at_start and moment.minute in ends:
        yield line.point(flow, moment, moment.minute - SAME_MIN)
    yield line.point(flow, moment, moment.minute)


class _GaugeLine:
    """One supply of a trip, with what its cylinders would hold had all left at the gauge to depart with."""

    def __init__(self, trip: Trip, stock: OnHand, start_kpa: Sequence[float | None]) -> None:
        self.trip, self.stock, self.start_kpa = trip, stock, start_kpa
        self._lowered: dict[tuple[float, int, bool], Sequence[float]] = {}
        self._leaks = Leaks(stock, trip.policy)

    def follow(self, flow: Flow) -> None:
        """Note what is left at every start and end of a segment of a flow."""
        low = lowest_start(self.stock, self.trip.policy, self.start_kpa)
        if low is not None:
            moments = course_of(low.tanks, flow, no_change_spans(self.trip.legs), moments=True).moments
            self._lowered = {(one.minute, one.leg, one.at_start): one.left_l for one in moments}

    def point(self, flow: Flow, moment: Moment, from_min: float) -> GaugePoint:
        """The gauges of a moment; `from_min`: from when on the rest of the flow is still to come."""
        tank, stock = moment.tank, self.stock
        source = None if tank is None else stock.held_of(tank)
        if tank is None or source is None:
            raise ValueError("no cylinder is in use at this moment")
        left = moment.left_l[tank]
        others = self._lowered.get((moment.minute, moment.leg, moment.at_start), moment.left_l)
        least = least_gauge_kpa(stock, self.trip.policy, rest(flow, from_min), tank, others)
        if least is not None and left >= stock.tanks[tank].usable_l:
            least = max(least, start_of(self.start_kpa, tank))
        return GaugePoint(moment.minute, source.gauge_after(stock.tanks[tank].usable_l - left), least)

    def leak(self, moment: Moment, least_kpa: float | None) -> LeakGauge | None:
        """The limit for too fast at a moment; None at departure."""
        tank = moment.tank
        if tank is None or moment.minute <= 0.0:
            return None
        drawn_l = self.stock.tanks[tank].usable_l - moment.left_l[tank]
        return self._leaks.gauge(tank, drawn_l, moment.flow_l_per_min, least_kpa)


def _cut(flow: Flow, minutes: Iterable[float]) -> Iterable[Segment]:
    """The same flow in more pieces: none of them holds one of the minutes inside."""
    marks = sorted(set(minutes))
    for segment in flow:
        inside = [minute for minute in marks if segment.start_min < minute < segment.end_min]
        for start, end in zip([segment.start_min, *inside], [*inside, segment.end_min], strict=True):
            yield Segment(start, end, segment.leg, segment.flow_l_per_min, segment.asks)
