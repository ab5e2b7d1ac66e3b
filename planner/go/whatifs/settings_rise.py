"""Settings rise from departure to the end: to the device that one names for it, else a blend to 100 % oxygen.

That spares air. What is hard on a supply of air is a blend that falls to FiO2 0.21, at its own flow or the risen one.
"""

from __future__ import annotations

from collections.abc import Iterator

from planner.constants import AIR_OXYGEN_FRACTION
from planner.flow.devices import air_l_per_min, at_fio2, is_blend
from planner.go.whatifs.kind import Kind
from planner.go.whatifs.scenario import Planned, Scenario, altered, risen_device, with_devices
from planner.model import Device, Leg, Trip
from planner.results import WhatIf


def _scenarios(planned: Planned) -> Iterator[Scenario]:
    def rise(_: Leg, device: Device) -> Device:
        if device.may_rise_to is None and is_blend(device):
            return at_fio2(device, 1.0)
        return risen_device(planned.trip, device)

    def fall(_: Leg, device: Device) -> Device:
        return max((_on_air(device), _on_air(risen_device(planned.trip, device))), key=air_l_per_min)

    for change, gas in ((rise, "oxygen"), (fall, "air")):
        for scenario in altered(planned, "settings_rise", with_devices(planned.trip.legs, change)):
            if planned.trip.supplies[scenario.supply].gas == gas:
                yield scenario


def _on_air(device: Device) -> Device:
    return at_fio2(device, AIR_OXYGEN_FRACTION) if is_blend(device) else device


def _detail(trip: Trip, row: WhatIf) -> str:
    if trip.supplies[row.supply].gas == "air":
        return "from departure, blends at FiO2 0.21"
    used = [use.device for leg in trip.legs for use in leg.uses]
    blends = any(device.may_rise_to is None and is_blend(device) for device in used)
    if not any(device.may_rise_to is not None for device in used):
        return "from departure, blends at 100 % oxygen"
    return "from departure, as far as the trip names" + (", other blends at 100 % oxygen" if blends else "")


def _title(trip: Trip, row: WhatIf) -> str:
    return "Blends fall to FiO2 0.21" if trip.supplies[row.supply].gas == "air" else "Settings rise"


WHAT_IF = Kind(
    title="Settings rise",
    condition="If ",
    about=lambda trip, row: "blends fall to FiO2 0.21" if _title(trip, row).startswith("Blends") else "settings rise",
    scenarios=_scenarios,
    detail=_detail,
    short_title=_title,
)
