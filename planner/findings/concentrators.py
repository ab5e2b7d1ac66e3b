"""What a concentrator can do by its manual: the greatest flow, and up to which altitude. Beyond either it is a stop.

A concentrator that is asked for more gives less oxygen in each litre; where the air is thin it makes less. How much is
in its manual alone (by decision: nothing is assumed of a device).
"""

from __future__ import annotations

from collections.abc import Iterator

from planner import figures
from planner.constants import M_PER_FT
from planner.findings.common import remark
from planner.gas.atmosphere import altitude_m
from planner.go.batteries import makes_oxygen
from planner.model import Device, Leg, Trip
from planner.problems import Finding


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
        yield remark("concentrator_flow_not_said", device)
    elif most is None:
        yield remark("greatest_flow_not_said", device, flow=figures.flow_set(flow))
    elif flow > most:
        yield remark("beyond_greatest_flow", device, flow=figures.flow_set(flow), most=figures.flow_set(most))


def _altitude(leg: Leg, device: Device) -> Iterator[Finding]:
    """Of a leg with a cabin: one without is taken for the ground."""
    if leg.cabin_pressure_kpa is None:
        return
    here, limit = altitude_m(leg.cabin_pressure_kpa), device.altitude_limit_m
    if limit is None and here > 0.0:
        yield remark("altitude_limit_not_said", leg, device=device.name, height=_height(here))
    elif limit is not None and here > limit + 0.5:
        yield remark("beyond_altitude_limit", leg, device=device.name, height=_height(here), limit=_height(limit))


def _height(metres: float) -> str:
    return f"{figures.plain(metres, 0)} m ({figures.plain(metres / M_PER_FT, 0)} ft)"
