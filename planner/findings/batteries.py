"""Stops and cautions about devices that live on a battery."""

from __future__ import annotations

from collections.abc import Iterator

from planner import figures
from planner.findings.common import remark
from planner.go.batteries import makes_oxygen
from planner.model import Device, Trip
from planner.problems import Finding
from planner.results import Battery


def of_batteries(trip: Trip, found: dict[str, Battery]) -> Iterator[Finding]:
    """A stop where a battery does not last, or a concentrator has none; a caution where nobody says of a ventilator."""
    working = {use.device.name: use.device for leg in trip.legs for use in leg.uses}
    for name, battery in found.items():
        yield from _of(trip, working[name], battery)


def _of(trip: Trip, device: Device, battery: Battery) -> Iterator[Finding]:
    needed_min, have_min = battery.on_battery_min, battery.have_min
    asked_min = needed_min * (trip.policy.battery_factor if makes_oxygen(device) else 1.0)
    needed = figures.minutes_up(needed_min)
    if needed_min <= 0.0:
        return
    if have_min is None:
        yield remark("no_battery" if makes_oxygen(device) else "battery_not_said", device, needed=needed)
    elif needed_min > have_min:
        yield remark("battery_short", device, needed=needed, have=figures.minutes_down(have_min))
    elif asked_min > have_min:
        yield remark(
            "battery_short_of_factor",
            device,
            needed=needed,
            factor=figures.factor_set(trip.policy.battery_factor),
            asked=figures.minutes_up(asked_min),
            have=figures.minutes_down(have_min),
        )
