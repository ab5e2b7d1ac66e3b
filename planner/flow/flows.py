"""Legs to piecewise-constant flow on each supply.

A leg takes its duration plus its delays. A device runs for the whole leg or for the first `for_min` minutes of it.
The flow on a supply is therefore constant between the starts and ends of legs and the ends of such parts.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from functools import lru_cache
from math import fsum
from operator import attrgetter
from typing import NamedTuple

from planner.flow.devices import (
    air_formula,
    air_l_per_min,
    demand_l_per_min,
    formula,
    guideline_demand_l_per_min,
    outlet_kind,
)
from planner.flow.outlets import Asks, OutletNeed
from planner.model import Device, Leg, Use, timed
from planner.results import LedgerLine


class Segment(NamedTuple):
    """A constant flow on one supply, L/min, from one elapsed minute to another, within leg number `leg` (from 0).

    `asks` holds the outlets that all devices of the leg on this supply need at once, also those that have
    ended before this segment: a cylinder serves the whole leg or does not serve it.
    """

    start_min: float
    end_min: float
    leg: int
    flow_l_per_min: float
    asks: Asks

    @property
    def litres(self) -> float:
        """Litres drawn in the segment."""
        return self.flow_l_per_min * (self.end_min - self.start_min)


Flow = tuple[Segment, ...]


class NoChange(NamedTuple):
    """A run of neighbouring legs in which no cylinder should be changed, in elapsed minutes."""

    start_min: float
    end_min: float
    first_leg: int
    last_leg: int


def flows(legs: Sequence[Leg], altered: Sequence[Sequence[Use]] | None = None) -> dict[str, Flow]:
    """The flow on each supply that a leg uses, in the order of time. Gaps are legs on other supplies.

    `altered` gives for each leg the uses that stand in place of its own.
    """
    found: dict[str, list[Segment]] = {}
    for index, leg, start, end in timed(legs):
        drawn: dict[str, list[tuple[OutletNeed, float]]] = {}
        for use in leg.uses if altered is None else altered[index]:
            until_min = end if use.for_min is None else min(start + use.for_min, end)
            for air, need in _needs(use.device):
                drawn.setdefault(air or use.supply, []).append((need, until_min))
        for supply, parts in drawn.items():
            asks = Asks(tuple(sorted([need for need, _ in parts if need.flow_l_per_min > 0.0])), leg.magnet)
            found.setdefault(supply, []).extend(_segments(index, start, end, parts, asks))
    return {supply: tuple(segments) for supply, segments in found.items()}


@lru_cache(maxsize=256)
def _needs(device: Device) -> tuple[tuple[str | None, OutletNeed], ...]:
    """What a device draws through an outlet each: oxygen, of which its use names the supply, and air from its own."""
    kind = outlet_kind(device)
    oxygen, air = OutletNeed(kind, demand_l_per_min(device), device.name), air_l_per_min(device)
    if device.air_supply is None:
        return ((None, oxygen),)
    return ((None, oxygen), (device.air_supply, OutletNeed(kind, air, device.name)))


def _segments(
    leg: int, start: float, end: float, drawn: Sequence[tuple[OutletNeed, float]], asks: Asks
) -> Iterator[Segment]:
    at = start
    for stop in sorted({end, *[until_min for _, until_min in drawn]}):
        if stop > at:
            flow = fsum([need.flow_l_per_min for need, until_min in drawn if until_min >= stop])
            yield Segment(at, stop, leg, flow, asks)
            at = stop


_start = attrgetter("start_min")
_end = attrgetter("end_min")


def litres(flow: Flow) -> float:
    """Litres drawn over a whole flow."""
    return fsum([segment.litres for segment in flow])


def peak_l_per_min(flow: Flow) -> float:
    """Highest flow at any moment, however short, L/min."""
    return max([segment.flow_l_per_min for segment in flow], default=0.0)


def rest(flow: Flow, minute: float) -> Flow:
    """What is still to come of a flow at an elapsed minute."""
    ahead = flow[bisect_right(flow, minute, key=_end) :]
    if ahead and ahead[0].start_min < minute:
        return (ahead[0]._replace(start_min=minute), *ahead[1:])
    return ahead


def until(flow: Flow, minute: float) -> Flow:
    """What has gone by of a flow at an elapsed minute."""
    gone = flow[: bisect_left(flow, minute, key=_start)]
    if gone and gone[-1].end_min > minute:
        return (*gone[:-1], gone[-1]._replace(end_min=minute))
    return gone


def between(flow: Flow, start_min: float, end_min: float) -> Flow:
    """The part of a flow from one elapsed minute to a later one."""
    near = flow[bisect_right(flow, start_min, key=_end) : bisect_left(flow, end_min, key=_start)]
    return rest(until(near, end_min), start_min)


def splice(before: Flow, after: Flow, minute: float) -> Flow:
    """One flow up to an elapsed minute and another from it on."""
    return until(before, minute) + rest(after, minute)


def final_uses(leg: Leg) -> tuple[Use, ...]:
    """The uses still running at the end of a leg."""
    return tuple(use for use in leg.uses if use.for_min is None or use.for_min >= leg.total_min)


def no_change_spans(legs: Sequence[Leg]) -> tuple[NoChange, ...]:
    """The runs of neighbouring legs marked `no_change`."""
    found: list[NoChange] = []
    for index, leg, start, end in timed(legs):
        if leg.no_change and found and found[-1].last_leg == index - 1:
            found[-1] = found[-1]._replace(end_min=end, last_leg=index)
        elif leg.no_change:
            found.append(NoChange(start, end, index, index))
    return tuple(found)


def ledger(legs: Sequence[Leg], supply: str) -> tuple[LedgerLine, ...]:
    """What each device draws from a supply in each leg."""
    return tuple(
        _line(leg, use, air=use.supply != supply) for leg in legs for use in leg.uses if supply in use.supplies
    )


def _line(leg: Leg, use: Use, *, air: bool) -> LedgerLine:
    minutes = _minutes(leg, use)
    flow = air_l_per_min(use.device) if air else demand_l_per_min(use.device)
    return LedgerLine(
        leg=leg.name,
        device=use.device.name,
        device_type=use.device.type,
        flow_l_per_min=flow,
        minutes=minutes,
        litres=flow * minutes,
        formula=air_formula(use.device) if air else formula(use.device),
        patient=use.device.patient,
    )


def doubling_l(legs: Sequence[Leg], supply: str) -> float:
    """The published doubling formula on a supply: 2 x minutes x (minute volume x FiO2 + driving gas), litres.

    Devices other than ventilators, and air, count with 2 x minutes x demand. For a second look only.
    """
    return 2.0 * fsum(
        (guideline_demand_l_per_min(use.device) if use.supply == supply else air_l_per_min(use.device))
        * _minutes(leg, use)
        for leg in legs
        for use in leg.uses
        if supply in use.supplies
    )


def _minutes(leg: Leg, use: Use) -> float:
    return leg.total_min if use.for_min is None else use.for_min
