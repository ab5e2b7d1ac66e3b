"""A fallback takes over from a device for all remaining use."""

from __future__ import annotations

from collections.abc import Iterator

from planner.go.whatifs.scenario import Planned, Scenario, altered, fallback, with_devices
from planner.model import Device, Leg
from planner.results import WhatIf


def of_type(planned: Planned, name: str, device_type: str) -> Iterator[Scenario]:
    """Every device of a type gives way to its fallback, from the worst minute to the end."""
    trip = planned.trip
    failing = dict.fromkeys(use.device.name for leg in trip.legs for use in leg.uses if use.device.type == device_type)
    if not failing:
        return

    def change(_: Leg, device: Device) -> Device:
        return fallback(trip, device) if device.type == device_type else device

    uses = with_devices(trip.legs, change)
    yield from altered(planned, name, uses, from_departure=False, device=", ".join(failing))


def mends(_: WhatIf) -> tuple[str, ...]:
    """What would mend the failure of a device, beside more oxygen."""
    return ("settle a fallback that uses less, if a clinician agrees",)
