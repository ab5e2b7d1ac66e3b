"""The battery of a concentrator or ventilator ends sooner than it is said to, and its fallback takes over.

It begins once battery / battery_factor minutes on battery are over, and lasts to the end of the trip: legs with mains
feed the device again, but nobody counts on it.
"""

from __future__ import annotations

from collections.abc import Iterator

from planner import figures
from planner.flow.flows import splice
from planner.go.batteries import batteries, ends_at_min
from planner.go.whatifs.kind import Kind
from planner.go.whatifs.scenario import Planned, Scenario, altered, fallback, with_devices
from planner.go.whatifs.take_over import mends
from planner.model import Device, Leg, Trip
from planner.results import WhatIf


def _scenarios(planned: Planned) -> Iterator[Scenario]:
    trip = planned.trip
    for name in batteries(trip):
        minute = ends_at_min(trip, name)
        if minute is None:
            continue

        def change(_: Leg, device: Device, name: str = name) -> Device:
            return fallback(trip, device) if device.name == name else device

        for scenario in altered(planned, "battery_ends", with_devices(trip.legs, change), device=name):
            yield scenario._replace(after=splice(scenario.before, scenario.after, minute))


def _detail(trip: Trip, row: WhatIf) -> str:
    minute = ends_at_min(trip, row.device or "")
    when = "" if minute is None else f", {figures.minutes_down(minute)} after departure"
    return f"{row.device}{when}"


WHAT_IF = Kind(
    title="A battery ends",
    condition="If ",
    about=lambda _, row: f"the battery of {row.device} ends",
    scenarios=_scenarios,
    detail=_detail,
    short_title=lambda _, row: f"Battery of {row.device} ends",
    mends=mends,
)
