"""Gauge against time on each supply, minute by minute: what it should show, and the least it may show.

The planned gauge falls as litres are drawn; the least gauge is that of `planner.go.gauges` at any minute of the way.
Both belong to the cylinder in use, so that they form one tooth for each turn of a cylinder.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import NamedTuple

from planner.constants import SAME_MIN
from planner.cylinders.depletion import course_of
from planner.cylinders.onhand import on_hand
from planner.cylinders.turns import Moment
from planner.flow.flows import Flow, flows, no_change_spans, rest
from planner.go.accepted import eased
from planner.go.gauges import Gauges
from planner.go.idle import idle_cases
from planner.go.worst_minute import Way
from planner.model import Trip

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
    no_change = no_change_spans(trip.legs)
    found = {}
    idle = idle_cases(trip)
    for name, flow in flows(trip.legs).items():
        stock = on_hand(trip.supplies[name], trip.policy)
        if stock is not None and stock.helds and flow:
            gauges = Gauges(stock, eased(trip, name, flow), no_change, start_kpa.get(name, ()), idle=idle.get(name, ()))
            found[name] = _teeth(gauges, flow, trip.total_min / STEPS, ways.get(name))
    return found


def _teeth(gauges: Gauges, flow: Flow, step_min: float, way: Way | None) -> tuple[Tooth, ...]:
    stock, no_change = gauges.stock, gauges.no_change
    changes = [change.minute for change in course_of(stock.tanks, flow, no_change, way=way).changes]
    fine = cut(flow, [*changes, *(number * step_min for number in range(1, STEPS))])
    moments = course_of(stock.tanks, fine, no_change, moments=True, way=way).moments
    lowered = {(one.minute, one.leg, one.at_start): one.left_l for one in gauges.lowered(fine)}
    ends = {segment.end_min for segment in flow}
    teeth: list[tuple[int, list[GaugePoint]]] = []
    for moment in moments:
        tank = moment.tank
        if tank is None:
            break
        if not teeth or (teeth[-1][0] != tank and moment.at_start):
            teeth.append((tank, []))
        points = teeth[-1][1]
        others_l = lowered.get((moment.minute, moment.leg, moment.at_start), moment.left_l)
        for from_min in _from_min(moment, ends):
            shown = gauges.shown(moment, gauges.needs(rest(flow, from_min)), others_l)
            if shown is None:
                continue
            leak_kpa = None if shown.leak is None else shown.leak.gauge_kpa
            point = GaugePoint(moment.minute, shown.gauge_kpa, shown.least_kpa, leak_kpa)
            if not points and len(teeth) == 1 and point.minute > 0.0:
                points.append(GaugePoint(0.0, point.gauge_kpa, point.least_gauge_kpa))
            if not points or points[-1] != point:
                points.append(point)
    return tuple(Tooth(stock.label_of(tank) or "", tuple(points)) for tank, points in teeth)


def _from_min(moment: Moment, ends: Collection[float]) -> Iterator[float]:
    """From when on the flow is still to come; at the end of a piece of flow, first as if that minute went on."""
    if not moment.at_start and moment.minute in ends:
        yield moment.minute - SAME_MIN
    yield moment.minute


def cut(flow: Flow, minutes: Iterable[float]) -> Flow:
    """The same flow in more pieces: none of them holds one of the minutes inside."""
    marks = sorted(set(minutes))
    found = []
    for segment in flow:
        inside = [minute for minute in marks if segment.start_min < minute < segment.end_min]
        for start, end in zip([segment.start_min, *inside], [*inside, segment.end_min], strict=True):
            found.append(segment._replace(start_min=start, end_min=end))
    return tuple(found)
