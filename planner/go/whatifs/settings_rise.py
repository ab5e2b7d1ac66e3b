"""Settings rise from departure to the end: to the device that one names for it, else a blend to 100 % oxygen."""

from __future__ import annotations

from collections.abc import Iterator

from planner.flow.devices import at_fio2, is_blend
from planner.go.whatifs.kind import Kind
from planner.go.whatifs.scenario import Planned, Scenario, altered, risen_device, with_devices
from planner.model import Device, Leg, Trip
from planner.results import WhatIf


def _scenarios(planned: Planned) -> Iterator[Scenario]:
    def rise(_: Leg, device: Device) -> Device:
        if device.may_rise_to is None and is_blend(device):
            return at_fio2(device, 1.0)
        return risen_device(planned.trip, device)

    yield from altered(planned, "settings_rise", with_devices(planned.trip.legs, rise))


def _detail(trip: Trip, _: WhatIf) -> str:
    used = [use.device for leg in trip.legs for use in leg.uses]
    blends = any(device.may_rise_to is None and is_blend(device) for device in used)
    if not any(device.may_rise_to is not None for device in used):
        return "from departure, blends at 100 % oxygen"
    return "from departure, as far as the trip names" + (", other blends at 100 % oxygen" if blends else "")


WHAT_IF = Kind(title="Settings rise", condition="If settings rise", scenarios=_scenarios, detail=_detail)
