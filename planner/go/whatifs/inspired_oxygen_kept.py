"""FiO2 is raised on each leg with a cabin altitude, so that the inspired oxygen stays what it was at home."""

from __future__ import annotations

from collections.abc import Iterator

from planner.flow.devices import at_fio2, is_blend
from planner.gas.mixing import fio2_at_cabin
from planner.go.whatifs.kind import Kind
from planner.go.whatifs.scenario import Planned, Scenario, altered, with_devices
from planner.model import Device, Leg


def _scenarios(planned: Planned) -> Iterator[Scenario]:
    trip = planned.trip

    def kept(leg: Leg, device: Device) -> Device:
        if leg.cabin_pressure_kpa is None or device.fio2 is None or not is_blend(device):
            return device
        wanted = fio2_at_cabin(device.fio2, trip.home_pressure_kpa, leg.cabin_pressure_kpa)
        return at_fio2(device, min(1.0, max(device.fio2, wanted)))

    yield from altered(planned, "inspired_oxygen_kept", with_devices(trip.legs, kept))


WHAT_IF = Kind(
    title="FiO2 raised for altitude",
    condition="If FiO2 is raised for the altitude",
    scenarios=_scenarios,
    detail=lambda _, __: "on each leg with a cabin altitude",
)
