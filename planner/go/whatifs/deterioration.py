"""A patient gets worse: the risen settings for `rise_for` from the worst minute, then the planned ones again.

All devices of one patient rise together, each patient in turn. Where nothing is planned to be drawn, this is what the
oxygen is carried for.
"""

from __future__ import annotations

from collections.abc import Iterator

from planner import figures
from planner.go.whatifs.kind import Kind
from planner.go.whatifs.scenario import Planned, Scenario, altered, risen_device, with_devices
from planner.model import Device, Leg, Trip
from planner.results import WhatIf


def _scenarios(planned: Planned) -> Iterator[Scenario]:
    trip = planned.trip
    if trip.policy.rise_for_min <= 0.0:
        return
    rising = [use.device for leg in trip.legs for use in leg.uses if use.device.may_rise_to is not None]
    for patient in dict.fromkeys(device.patient for device in rising):

        def change(_: Leg, device: Device, patient: str | None = patient) -> Device:
            return risen_device(trip, device) if device.patient == patient else device

        yield from altered(
            planned,
            "deterioration",
            with_devices(trip.legs, change),
            from_departure=False,
            lasts_min=trip.policy.rise_for_min,
            comes_back=True,
            patient=patient,
        )


def _detail(trip: Trip, row: WhatIf) -> str:
    who = "" if row.patient is None else f"{row.patient}, "
    return f"{who}risen settings for {figures.minutes_up(trip.policy.rise_for_min)} from the worst minute"


WHAT_IF = Kind(
    title="Patient gets worse",
    condition="If ",
    about=lambda _, row: "the patient gets worse" if row.patient is None else f"patient {row.patient} gets worse",
    scenarios=_scenarios,
    detail=_detail,
    short_title=lambda _, row: "Patient gets worse" if row.patient is None else f"{row.patient} gets worse",
    at_the_worst=True,
)
