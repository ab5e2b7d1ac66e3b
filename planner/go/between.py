"""Readings inside long legs: where nothing else asks for a gauge for a long time, the log does.

A leg that lasts longer than 45 min is cut into equal parts of at most 30 min, at whole minutes; at each cut every gauge
in use is read (by decision). A cut within 5 min of a planned change of cylinder is left out: the change asks for both
gauges. A leg has at most 12 cuts, so that a very long one does not fill pages: beyond 6 h 30 min its parts are longer
than 30 min, 47 min at 10 h.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import pairwise

from planner import figures
from planner.constants import MINUTE_NOISE
from planner.flow.flows import flows, rest
from planner.go.accepted import eased
from planner.go.checkpoints import with_amounts
from planner.go.gauge_lines import gauges_at
from planner.model import Trip
from planner.results import Between, Checkpoint, Plan

LONG_LEG_MIN = 45.0
LONGEST_PART_MIN = 30.0
MOST_CUTS = 12
NEAR_CHANGE_MIN = 5.0


def between(plan: Plan) -> tuple[Between, ...]:
    """Every reading inside the long legs of a plan, supply by supply, each in the order of time."""
    return tuple(found for supply in plan.supplies for found in _of_supply(plan, supply))


def cuts(start_min: float, end_min: float) -> tuple[float, ...]:
    """The elapsed minutes at which a leg between two others is cut; none where it is not long."""
    total = end_min - start_min
    if total <= LONG_LEG_MIN:
        return ()
    longest = max(LONGEST_PART_MIN, float(figures.steps_up(total / (MOST_CUTS + 1), 1.0)))
    parts = figures.steps_up(total / longest, 1.0)
    while True:
        marks = [float(figures.steps_down(start_min + total * place / parts, 1.0)) for place in range(1, parts)]
        apart = [later - earlier for earlier, later in pairwise([start_min, *marks, end_min])]
        if max(apart) <= longest + MINUTE_NOISE or parts > MOST_CUTS:
            return tuple(marks)
        parts += 1


def _of_supply(plan: Plan, supply: str) -> Iterator[Between]:
    trip = plan.trip
    if trip.supplies[supply].kind not in ("cylinders", "manifold") and trip.supplies[supply].liquid is None:
        return
    numbers: dict[float, int] = {}
    start = 0.0
    for leg in trip.legs:
        end = start + leg.total_min
        if supply in leg.supplies:
            numbers |= {minute: number for number, minute in enumerate(cuts(start, end), start=1)}
        start = end
    if trip.supplies[supply].liquid is not None:
        yield from _of_vessel(trip, supply, numbers)
    changes = [change.minute for change in plan.supplies[supply].change_overs]
    for found in gauges_at(trip, supply, numbers, plan.start_kpa, plan.ways):
        if all(abs(found.minute - minute) > NEAR_CHANGE_MIN for minute in changes):
            check = Checkpoint(
                minute=found.minute,
                leg=trip.legs[found.leg].name,
                leg_index=found.leg,
                at="between",
                supply=supply,
                flow_l_per_min=found.flow_l_per_min,
                cylinder=found.cylinder,
                gauge_kpa=found.gauge_kpa,
                minutes_left=None,
                cylinder_minutes_left=None,
                least_gauge_kpa=found.least_gauge_kpa,
                leak=found.leak,
            )
            yield Between(numbers[found.minute], check)


def _of_vessel(trip: Trip, supply: str, numbers: Mapping[float, int]) -> Iterator[Between]:
    flow = flows(trip.legs).get(supply, ())
    eased_trip = eased(trip, supply, flow)
    for minute, number in numbers.items():
        ahead = rest(flow, minute)
        if ahead:
            leg = ahead[0].leg
            check = Checkpoint(
                minute=minute,
                leg=trip.legs[leg].name,
                leg_index=leg,
                at="between",
                supply=supply,
                flow_l_per_min=ahead[0].flow_l_per_min,
                cylinder=None,
                gauge_kpa=None,
                minutes_left=None,
                cylinder_minutes_left=None,
                least_gauge_kpa=None,
            )
            yield Between(number, with_amounts(eased_trip, check, flow, ahead))
