"""What a concentrator can do by its manual: the greatest flow, and up to which altitude. Beyond either it is a stop.

A concentrator that is asked for more gives less oxygen in each litre; where the air is thin it makes less. How much is
in its manual alone (by decision: nothing is assumed of a device).
"""

from __future__ import annotations

from collections.abc import Iterator

from planner import figures
from planner.constants import M_PER_FT
from planner.gas.atmosphere import altitude_m
from planner.go.batteries import makes_oxygen
from planner.model import Device, Leg, Trip
from planner.problems import Finding, finding


def of_concentrators(trip: Trip) -> Iterator[Finding]:
    """A stop beyond what a manual says, and a caution where nobody says what it does."""
    for device in dict.fromkeys(use.device for leg in trip.legs for use in leg.uses):
        if makes_oxygen(device):
            yield from _flow(device)
    for leg in trip.legs:
        for device in dict.fromkeys(use.device for use in leg.uses):
            if makes_oxygen(device):
                yield from _altitude(leg, device)


def _flow(device: Device) -> Iterator[Finding]:
    flow, most = device.flow_l_per_min, device.greatest_flow_l_per_min
    if flow is None:
        yield finding(
            "caution",
            "concentrator_flow_not_said",
            f"{device.name}: nothing says which flow the patient has from it, nor the greatest that it gives.",
            "Write flow: as ordered, and greatest_flow: from the device's manual. A pulse setting is no flow in L/min: "
            "look in the manual what it stands for.",
            device.where,
        )
    elif most is None:
        yield finding(
            "caution",
            "greatest_flow_not_said",
            f"{device.name} is to give {figures.flow_set(flow)}, and nothing says that it can.",
            "Write greatest_flow: from the device's manual.",
            device.where,
        )
    elif flow > most:
        yield finding(
            "stop",
            "beyond_greatest_flow",
            f"{device.name} is to give {figures.flow_set(flow)}, and gives at most {figures.flow_set(most)} by its "
            "manual.",
            "Take a concentrator that gives it, or cylinders, or liquid; a clinician decides on another flow.",
            device.where,
        )


def _altitude(leg: Leg, device: Device) -> Iterator[Finding]:
    """Of a leg with a cabin: one without is taken for the ground."""
    if leg.cabin_pressure_kpa is None:
        return
    here, limit = altitude_m(leg.cabin_pressure_kpa), device.altitude_limit_m
    if limit is None and here > 0.0:
        yield finding(
            "caution",
            "altitude_limit_not_said",
            f"{leg.name}: {device.name} in a cabin at {_height(here)}, and nothing says that it works there.",
            "Write altitude_limit: from the device's manual.",
            leg.where,
        )
    elif limit is not None and here > limit + 0.5:
        yield finding(
            "stop",
            "beyond_altitude_limit",
            f"{leg.name}: {device.name} in a cabin at {_height(here)}, and by its manual it works up to "
            f"{_height(limit)}.",
            "Take cylinders or liquid for this leg, another device, or a lower cabin altitude.",
            leg.where,
        )


def _height(metres: float) -> str:
    return f"{figures.plain(metres, 0)} m ({figures.plain(metres / M_PER_FT, 0)} ft)"
