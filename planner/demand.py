"""Legs to piecewise-constant flow on each supply.

A leg takes its duration plus its delays. A device runs for the whole leg or for the first `for_min` minutes of it.
The flow on a supply is therefore constant between the starts and ends of legs and the ends of such parts.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from math import fsum
from typing import NamedTuple

from planner.devices import demand_l_per_min, formula, guideline_demand_l_per_min, outlet_kind
from planner.model import Leg, Use
from planner.outlets import Asks, Need
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


class Stretch(NamedTuple):
    """A run of neighbouring legs in which no cylinder should be changed, in elapsed minutes."""

    start_min: float
    end_min: float
    first_leg: int
    last_leg: int


def flows(legs: Sequence[Leg]) -> dict[str, Flow]:
    """The flow on each supply that a leg uses, in the order of time. Gaps are legs on other supplies."""
    found: dict[str, list[Segment]] = {}
    start = 0.0
    for index, leg in enumerate(legs):
        end = start + leg.total_min
        for supply, uses in _by_supply(leg.uses).items():
            found.setdefault(supply, []).extend(_segments(index, start, end, uses, leg.magnet))
        start = end
    return {supply: tuple(segments) for supply, segments in found.items()}


def _by_supply(uses: Iterable[Use]) -> Mapping[str, list[Use]]:
    found: dict[str, list[Use]] = {}
    for use in uses:
        found.setdefault(use.supply, []).append(use)
    return found


def _segments(leg: int, start: float, end: float, uses: Sequence[Use], magnet: bool) -> Iterable[Segment]:
    drawn = [(use, demand_l_per_min(use.device)) for use in uses]
    needs = sorted(Need(outlet_kind(use.device), flow, use.device.name) for use, flow in drawn if flow > 0.0)
    asks = Asks(tuple(needs), magnet)
    stops = [end if use.for_min is None else min(start + use.for_min, end) for use in uses]
    at = start
    for stop in sorted({*stops, end}):
        if stop > at:
            flow = fsum(flow for (_, flow), until in zip(drawn, stops, strict=True) if until >= stop)
            yield Segment(at, stop, leg, flow, asks)
            at = stop


def litres(flow: Flow) -> float:
    """Litres drawn over a whole flow."""
    return fsum(segment.litres for segment in flow)


def peak_l_per_min(flow: Flow) -> float:
    """Highest flow at any moment, however short, L/min."""
    return max((segment.flow_l_per_min for segment in flow), default=0.0)


def rest(flow: Flow, minute: float) -> Flow:
    """What is still to come of a flow at an elapsed minute."""
    return tuple(
        segment
        if segment.start_min >= minute
        else Segment(minute, segment.end_min, segment.leg, segment.flow_l_per_min, segment.asks)
        for segment in flow
        if segment.end_min > minute
    )


def until(flow: Flow, minute: float) -> Flow:
    """What has gone by of a flow at an elapsed minute."""
    return tuple(
        segment
        if segment.end_min <= minute
        else Segment(segment.start_min, minute, segment.leg, segment.flow_l_per_min, segment.asks)
        for segment in flow
        if segment.start_min < minute
    )


def splice(before: Flow, after: Flow, minute: float) -> Flow:
    """One flow up to an elapsed minute and another from it on."""
    return until(before, minute) + rest(after, minute)


def final_uses(leg: Leg) -> tuple[Use, ...]:
    """The uses still running at the end of a leg."""
    return tuple(use for use in leg.uses if use.for_min is None or use.for_min >= leg.total_min)


def stretches(legs: Sequence[Leg]) -> tuple[Stretch, ...]:
    """The runs of neighbouring legs marked `no_change`."""
    found: list[Stretch] = []
    start = 0.0
    for index, leg in enumerate(legs):
        end = start + leg.total_min
        if leg.no_change:
            if found and found[-1].last_leg == index - 1:
                found[-1] = Stretch(found[-1].start_min, end, found[-1].first_leg, index)
            else:
                found.append(Stretch(start, end, index, index))
        start = end
    return tuple(found)


def ledger(legs: Sequence[Leg], supply: str) -> tuple[LedgerLine, ...]:
    """What each device draws from a supply in each leg."""
    return tuple(
        LedgerLine(
            leg=leg.name,
            device=use.device.name,
            device_type=use.device.type,
            flow_l_per_min=demand_l_per_min(use.device),
            minutes=_minutes(leg, use),
            litres=demand_l_per_min(use.device) * _minutes(leg, use),
            formula=formula(use.device),
            patient=use.device.patient,
        )
        for leg in legs
        for use in leg.uses
        if use.supply == supply
    )


def doubling_l(legs: Sequence[Leg], supply: str) -> float:
    """The published doubling formula on a supply: 2 x minutes x (minute volume x FiO2 + driving gas), litres.

    Devices other than ventilators count with 2 x minutes x demand. For a second look only.
    """
    return 2.0 * fsum(
        guideline_demand_l_per_min(use.device) * _minutes(leg, use)
        for leg in legs
        for use in leg.uses
        if use.supply == supply
    )


def _minutes(leg: Leg, use: Use) -> float:
    return leg.total_min if use.for_min is None else use.for_min
