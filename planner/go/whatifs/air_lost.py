"""The air of blends is gone from the worst minute on: a cylinder left behind, a compressor that stops.

Blends then draw their whole flow and bleed as oxygen, and give all of it to the patient. A ventilator does what it says
under `without_air`: it takes oxygen alone, its driving gas too, or its fallback takes over. Room air is never gone.
"""

from __future__ import annotations

from collections.abc import Iterator

from planner.go.whatifs.kind import Kind
from planner.go.whatifs.scenario import Planned, Scenario, altered, with_devices, without_air
from planner.model import Device, Leg, Trip
from planner.results import WhatIf


def _scenarios(planned: Planned) -> Iterator[Scenario]:
    trip = planned.trip

    def change(_: Leg, device: Device) -> Device:
        return without_air(trip, device)

    for scenario in altered(planned, "air_lost", with_devices(trip.legs, change), from_departure=False):
        if trip.supplies[scenario.supply].gas == "oxygen":
            yield scenario


def _detail(_: Trip, __: WhatIf) -> str:
    return "from the worst minute, blends draw their whole flow and bleed as oxygen"


WHAT_IF = Kind(
    title="Air of the blends lost",
    condition="If the air of the blends is lost",
    scenarios=_scenarios,
    detail=_detail,
    short_title=lambda _, __: "Air lost: all oxygen",
    mends=lambda _: ("agree with a clinician on a lower flow, or on a resuscitator, for the way without air",),
    at_the_worst=True,
)
