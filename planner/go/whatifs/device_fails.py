"""Any device that has no what-if of its own, and names a fallback, fails: each in turn, until help is there.

Help comes after `help_within` where the policy has it (inside a hospital), or on a leg that can be broken off after the
time to that place and the handover there; else the fallback goes on to the end of the trip. The case then ends.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import inf

from planner import figures
from planner.go.whatifs.kind import Kind
from planner.go.whatifs.scenario import Planned, Scenario, Span, altered, fallback, with_devices
from planner.go.whatifs.take_over import mends
from planner.model import Device, Leg, Trip, timed
from planner.results import WhatIf
from planner.trade.catalog import device_types


def _scenarios(planned: Planned) -> Iterator[Scenario]:
    trip = planned.trip
    failing = {
        use.device.name: use.device
        for leg in trip.legs
        for use in leg.uses
        if use.device.if_it_fails is not None and device_types()[use.device.type].fails == "device_fails"
    }
    by_help: dict[float, list[Span]] = {}
    for _, leg, start, end in timed(trip.legs):
        by_help.setdefault(_help_min(trip, leg), []).append((start, end))
    for name in failing:

        def change(_: Leg, device: Device, name: str = name) -> Device:
            return fallback(trip, device) if device.name == name and device.if_it_fails is not None else device

        uses = with_devices(trip.legs, change)
        for help_min, begins in by_help.items():
            yield from altered(
                planned,
                "device_fails",
                uses,
                from_departure=False,
                lasts_min=help_min,
                begins=tuple(begins) if len(by_help) > 1 else None,
                device=name,
            )


def _help_min(trip: Trip, leg: Leg) -> float:
    """How long the fallback has to last when a device fails in a leg, minutes."""
    within = inf if trip.policy.help_within_min is None else trip.policy.help_within_min
    if leg.divert is None:
        return within
    return min(within, leg.divert.time_min + trip.policy.handover_time_min)


def _title(_: Trip, row: WhatIf) -> str:
    return f"{row.device} fails"


def _detail(trip: Trip, row: WhatIf) -> str:
    help_min = trip.policy.help_within_min
    until = "" if help_min is None else f", its fallback for {figures.minutes_up(help_min)} until help is there"
    return f"{row.device}, at the worst minute{until}"


WHAT_IF = Kind(
    title="A device fails",
    condition="If ",
    about=lambda _, row: f"{row.device} fails",
    scenarios=_scenarios,
    detail=_detail,
    short_title=_title,
    mends=mends,
    device_fails=True,
    at_the_worst=True,
)
