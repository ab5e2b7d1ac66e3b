"""A fallback takes over from a device for all remaining use."""

from __future__ import annotations

from collections.abc import Iterator

from planner.go.whatifs.kind import Kind
from planner.go.whatifs.scenario import Planned, Scenario, altered, fallback, with_devices
from planner.model import Device, Leg
from planner.results import WhatIf
from planner.trade.catalog import device_types


def fails(name: str, the_device: str) -> Kind:
    """The what-if `name`: every device of the types that name it fails, and its fallback takes over to the end."""
    return Kind(
        title=f"{the_device.removeprefix('The ').capitalize()} fails",
        condition=f"If {the_device.lower()} fails",
        scenarios=lambda planned: _of_types(planned, name),
        mends=mends,
        device_fails=True,
        at_the_worst=True,
    )


def _of_types(planned: Planned, name: str) -> Iterator[Scenario]:
    trip = planned.trip
    types = {kind.name for kind in device_types().values() if kind.fails == name}
    failing = dict.fromkeys(use.device.name for leg in trip.legs for use in leg.uses if use.device.type in types)
    if not failing:
        return

    def change(_: Leg, device: Device) -> Device:
        return fallback(trip, device) if device.type in types else device

    uses = with_devices(trip.legs, change)
    yield from altered(planned, name, uses, from_departure=False, device=", ".join(failing))


def mends(_: WhatIf) -> tuple[str, ...]:
    """What would mend the failure of a device, beside more oxygen."""
    return ("settle a fallback that uses less, if a clinician agrees",)
