"""How much delay a plan bears.

A breaking delay is the time in one leg, at its last flow, that uses up all that a supply has left at the end of the
plan. Every cylinder counts here, spare included; residual and allowance stay untouched.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import fsum, inf
from typing import NamedTuple

from planner.constants import MINUTE_NOISE
from planner.cylinders.boiling import lasting_min
from planner.cylinders.course import Underway, on_the_way
from planner.cylinders.depletion import all_serve
from planner.cylinders.drift import Drift
from planner.cylinders.halving import least_by_search
from planner.cylinders.onhand import OnHand
from planner.cylinders.ways import carried
from planner.flow.flows import Flow, Segment, litres
from planner.go.worked import Worked
from planner.model import Trip
from planner.results import BreakingDelay

_LONGEST_DELAY_MIN = 14.0 * 24.0 * 60.0
_FINE_MIN = 1e-3


def breaking_delays(trip: Trip, every: Mapping[str, Worked]) -> tuple[BreakingDelay, ...]:
    """For each leg and each supply that flows at its end, the minutes that would use it up; smallest first."""
    found, end_min = [], trip.total_min
    for name, one in every.items():
        flow, stock = one.flow, one.stock
        if stock is None:
            continue
        uniform = all_serve(stock.serving, flow)
        left = fsum(tank.usable_l for tank in stock.tanks) - litres(flow)
        states = [] if uniform else _planned(one, stock)
        for place, segment in _last_of_legs(flow):
            index = segment.leg
            if segment.flow_l_per_min <= 0.0:
                continue
            by_sum = lasting_min(stock.supply, max(0.0, left), segment.flow_l_per_min, end_min)
            minutes = by_sum if uniform else _searched(states, flow, place)
            reserve_min = _into_reserve_min(one, segment.flow_l_per_min, end_min)
            reserve_min = None if reserve_min is None else min(reserve_min, minutes)
            found.append(BreakingDelay(trip.legs[index].name, index, name, minutes, reserve_min))
    return tuple(sorted(found, key=lambda row: row.minutes))


def _planned(one: Worked, stock: OnHand) -> list[Underway]:
    """The planned course before each segment, and at the end: from there a delay, which nobody has foreseen."""
    usable_l = [tank.usable_l for tank in stock.tanks]
    return on_the_way(Underway(usable_l, stock.serving, one.task.no_change, way=one.way), one.flow)


def _into_reserve_min(one: Worked, flow_l_per_min: float, end_min: float) -> float | None:
    """What is counted above the need / flow: for so long a delay leaves the reserve whole."""
    have_l, required_l = one.serving_without_spare_l, one.task.need.required_l
    if have_l is None or have_l < required_l:
        return None
    return lasting_min(one.task.supply, have_l - required_l, flow_l_per_min, end_min)


def _last_of_legs(flow: Flow) -> Iterator[tuple[int, Segment]]:
    """The last segment of each leg, with its place in the flow."""
    for place, segment in enumerate(flow):
        if place + 1 == len(flow) or flow[place + 1].leg != segment.leg:
            yield place, segment


class _Delayed(NamedTuple):
    """Whether oxygen runs out after a delay, and how much shorter and longer it may be for the same tanks in turn."""

    minutes: float
    breaks: bool
    low: float
    high: float

    def tells(self, minutes: float) -> bool:
        """True where another delay ends alike."""
        return self.low + MINUTE_NOISE < minutes - self.minutes < self.high - MINUTE_NOISE


def _searched(states: Sequence[Underway], flow: Flow, place: int) -> float:
    """By halving, where outlets differ: the longest delay at the end of a segment that still holds, from below."""
    known: list[_Delayed] = []

    def breaks(minutes: float) -> bool:
        for one in known:
            if one.tells(minutes):
                return one.breaks
        known.append(_delayed(states[place], flow, place, minutes))
        return known[-1].breaks

    found = least_by_search(breaks, 0.0, _LONGEST_DELAY_MIN, fine=_FINE_MIN)
    return _LONGEST_DELAY_MIN if found is None else max(0.0, found - _FINE_MIN)


def _delayed(course: Underway, flow: Flow, place: int, minutes: float) -> _Delayed:
    """A course that draws a segment for so many minutes more, and then what lies ahead of it."""
    segment, ahead = flow[place], flow[place + 1 :]
    end = segment.end_min + minutes
    delayed = segment._replace(end_min=end)

    def follow(way: Underway) -> None:
        way.follow((delayed,), flow)
        drift = way.drift = Drift(begins=False)
        if way.out is not None:
            drift.low = way.out[0] - end
            return
        tank, in_use_from_min, _ = way.begun[-1]  # the segment flows, so that there is one
        drift.low = in_use_from_min - end
        drift.left_off(tank, segment.flow_l_per_min, way.left[tank])
        way.follow(ahead, flow)

    found = carried(course, (delayed, *ahead), follow)
    low, high = (-inf, inf) if found.drift is None else (found.drift.low, found.drift.high)
    return _Delayed(minutes, found.out is not None, low, high)
