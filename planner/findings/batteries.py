"""Stops and cautions about devices that live on a battery."""

from __future__ import annotations

from collections.abc import Iterator

from planner import figures
from planner.go.batteries import makes_oxygen
from planner.model import Device, Trip
from planner.problems import Finding, finding
from planner.results import Battery


def of_batteries(trip: Trip, found: dict[str, Battery]) -> Iterator[Finding]:
    """A stop where a battery does not last, or a concentrator has none; a caution where nobody says of a ventilator."""
    working = {use.device.name: use.device for leg in trip.legs for use in leg.uses}
    for name, battery in found.items():
        yield from _of(trip, working[name], battery)


def _of(trip: Trip, device: Device, battery: Battery) -> Iterator[Finding]:
    needed, have = battery.on_battery_min, battery.have_min
    factor = trip.policy.battery_factor
    lives_alone = makes_oxygen(device)
    if needed <= 0.0:
        return
    off_mains = f"{device.name} is off the mains for {figures.minutes_up(needed)}"
    if have is None and lives_alone:
        yield finding(
            "stop",
            "no_battery",
            f"{off_mains}, and nothing says how long its battery lasts.",
            "Write battery: with the time that all batteries carried last at these settings, by its manual, or "
            "mains: true on each leg where it is plugged in.",
            device.where,
        )
    elif have is None:
        yield finding(
            "caution",
            "battery_not_said",
            f"{off_mains}, and nothing says how long its battery lasts.",
            "Read its charge before you leave, and write battery: with what it lasts at these settings.",
            device.where,
        )
    elif needed > have:
        yield finding(
            "stop",
            "battery_short",
            f"{device.name} is on battery for {figures.minutes_up(needed)}, and its batteries last "
            f"{figures.minutes_down(have)}.",
            "Carry more batteries, travel on mains where there is any (mains: true), or take another device.",
            device.where,
        )
    elif lives_alone and needed * factor > have:
        yield finding(
            "stop",
            "battery_short",
            f"{device.name} is on battery for {figures.minutes_up(needed)}; {figures.factor_set(factor)} times that, "
            f"{figures.minutes_up(needed * factor)}, is asked, and its batteries last {figures.minutes_down(have)}.",
            "Carry more batteries, travel on mains where there is any (mains: true), or take cylinders for it.",
            device.where,
        )
