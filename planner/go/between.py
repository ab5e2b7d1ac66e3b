"""Readings inside long legs: where nothing else asks for a gauge for a long time, the log does.

A leg that lasts longer than 45 min is cut into equal parts of at most 30 min, at whole minutes; at each cut every gauge
in use is read (by decision). A cut within 5 min of a planned change of cylinder is left out: the change asks for both
gauges. A leg has at most 12 cuts, so that a very long one does not fill pages: beyond 6 h 30 min its parts are longer
than 30 min, 47 min at 10 h.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

from planner import figures
from planner.constants import MINUTE_NOISE
from planner.flow.flows import rest
from planner.go.checkpoints import with_amounts, with_gauges
from planner.go.gauge_lines import cut
from planner.go.gauges import Gauges
from planner.go.worked import Worked
from planner.model import Trip, timed
from planner.results import Between, ChangeOver, Checkpoint

LONG_LEG_MIN = 45.0
LONGEST_PART_MIN = 30.0
MOST_CUTS = 12
NEAR_CHANGE_MIN = 5.0


def between(
    trip: Trip,
    every: Mapping[str, Worked],
    gauges: Mapping[str, Gauges],
    changes: Mapping[str, Sequence[ChangeOver]],
) -> tuple[Between, ...]:
    """Every reading inside the long legs of a trip, supply by supply, each in the order of time.

    `every`: each supply of the trip; `gauges`: those of each that has something on hand; `changes`: its changes of
    cylinder.
    """
    return tuple(
        found
        for name, one in every.items()
        if name in gauges
        for found in _of_supply(trip, one, gauges[name], [change.minute for change in changes[name]])
    )


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


def _of_supply(trip: Trip, one: Worked, gauges: Gauges, changes_min: Sequence[float]) -> Iterator[Between]:
    numbers: dict[float, int] = {}
    for _, leg, start, end in timed(trip.legs):
        if one.task.supply.name in leg.supplies:
            numbers |= {minute: number for number, minute in enumerate(cuts(start, end), start=1)}
    if not numbers:
        return
    if one.task.supply.liquid is not None:
        for minute, number in numbers.items():
            if ahead := rest(one.flow, minute):
                check = _reading(trip, one, minute, ahead[0].leg, ahead[0].flow_l_per_min)
                yield Between(number, with_amounts(trip, gauges, check, one.flow, ahead))
        return
    pieces = cut(one.flow, numbers)
    lowered = {(low.minute, low.leg): low.left_l for low in gauges.lowered(pieces) if low.at_start}
    for moment in one.course_over(pieces).moments:
        if moment.at_start and moment.minute in numbers:
            needs = gauges.needs(rest(one.flow, moment.minute))
            others_l = lowered.get((moment.minute, moment.leg), moment.left_l)
            shown = gauges.shown(moment, needs, others_l)
            if shown is not None and all(abs(moment.minute - change) > NEAR_CHANGE_MIN for change in changes_min):
                check = _reading(trip, one, moment.minute, moment.leg, moment.flow_l_per_min)
                yield Between(numbers[moment.minute], with_gauges(check, shown))


def _reading(trip: Trip, one: Worked, minute: float, leg: int, flow_l_per_min: float) -> Checkpoint:
    """A reading of which nothing is known yet."""
    return Checkpoint(minute, trip.legs[leg].name, leg, "between", one.task.supply.name, flow_l_per_min)
