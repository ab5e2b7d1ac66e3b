"""Time on battery of each device that lives on one, and when a battery may be taken to end.

Time on battery is that of the legs without mains in which a device runs, delays and `longest` counted; mains feeds a
device and charges nothing. A battery is taken to end after battery / battery_factor: what airlines commonly ask of a
concentrator is half as much again as the flight (factor 1.5, from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from math import fsum, inf

from planner.model import Device, Leg, Trip, Use, timed
from planner.results import Battery, BatteryAt
from planner.trade.catalog import device_types


def lives_on_battery(use: Use) -> bool:
    """True for what makes its own oxygen, and for what is electric or says how long its battery lasts."""
    device = use.device
    kind = device_types()[device.type]
    if "battery" not in kind.optional:
        return False
    return "makes_oxygen" in kind.traits or device.drive == "electric" or device.battery_min is not None


def batteries(trip: Trip) -> dict[str, Battery]:
    """By name of the device: what its batteries last, None where nobody says, and how long it is on them, minutes."""
    found: dict[str, Battery] = {}
    for leg in trip.legs:
        for use in leg.uses:
            if lives_on_battery(use):
                name = use.device.name
                known = found.get(name, Battery(use.device.battery_min, use.device.battery_used_min))
                on_battery = 0.0 if leg.mains else _longest_min(leg, use)
                found[name] = Battery(known.have_min, known.on_battery_min + on_battery)
    return found


def ends_at_min(trip: Trip, device: str) -> float | None:
    """The elapsed minute of the planned trip at which the battery of a device may be taken to end; None where never."""
    one = said(trip.legs).get(device)
    return None if one is None else minute_spent(trip.legs, device, left_min(trip, one))


def said(legs: Iterable[Leg]) -> dict[str, tuple[Device, float]]:
    """The devices of some legs of which is said how long their battery lasts, by name, each with that, minutes."""
    found: dict[str, tuple[Device, float]] = {}
    for leg in legs:
        for use in leg.uses:
            if use.device.battery_min is not None:
                found.setdefault(use.device.name, (use.device, use.device.battery_min))
    return found


def left_min(trip: Trip, one: tuple[Device, float]) -> float:
    """What may be counted on of a battery as the trip begins: battery / battery_factor, less what it has given.

    Below 0 where more is gone than may be counted on.
    """
    device, battery_min = one
    return battery_min / trip.policy.battery_factor - device.battery_used_min


def going_on(trip: Trip) -> Iterator[tuple[str, float]]:
    """Each device at work to the end of the trip, and the elapsed minute to which its battery may be counted on.

    The last leg is taken to go on without end. What decides go decides here: `battery_factor` for what makes its own
    oxygen, and for others what is said of the battery.
    """
    endless = trip.legs[-1]._replace(duration_min=inf, delays=())
    for name, (device, battery_min) in said((endless,)).items():
        counted = battery_min / _factor(trip, device) - device.battery_used_min
        minute = minute_spent((*trip.legs[:-1], endless), name, counted)
        if minute is not None:
            yield name, minute


def minute_spent(legs: Sequence[Leg], device: str, left: float, times: float = 1.0) -> float | None:
    """The elapsed minute at which so many minutes on battery are spent, each counted so many times; None for never."""
    for _, leg, start, _ in timed(legs):
        minutes = planned_min(leg, device)
        if times * minutes > left:
            return start + max(0.0, left) / times
        left -= times * minutes
    return None


def planned_min(leg: Leg, device: str) -> float:
    """How long a device is on its battery in a leg as planned, minutes."""
    runs = [use.for_min for use in leg.uses if use.device.name == device and not leg.mains]
    return max([leg.total_min if minutes is None else minutes for minutes in runs], default=0.0)


def battery_checks(trip: Trip) -> Iterator[BatteryAt]:
    """What each device that lives on a battery should still have before departure and at the end of each leg.

    The least is what the longest times of the legs to come ask for, so that a battery that reads so much could begin
    the rest of the trip by itself.
    """
    for name, battery in batteries(trip).items():
        uses = [next((use for use in leg.uses if use.device.name == name), None) for leg in trip.legs]
        last = max(number for number, use in enumerate(uses) if use is not None)
        device = next(use.device for use in uses if use is not None)
        factor = _factor(trip, device)
        ahead = battery.on_battery_min - device.battery_used_min
        left = None if battery.have_min is None else battery.have_min - device.battery_used_min
        yield BatteryAt(name, 0.0, "", None, left, ahead * factor)
        for (number, leg, _, end), use in zip(timed(trip.legs[: last + 1]), uses, strict=False):
            if use is not None and not leg.mains:
                ahead -= _longest_min(leg, use)
                left = None if left is None else left - planned_min(leg, name)
            shown = None if left is None else max(0.0, left)
            yield BatteryAt(name, end, leg.name, number, shown, max(0.0, ahead) * factor)


def _factor(trip: Trip, device: Device) -> float:
    return trip.policy.battery_factor if makes_oxygen(device) else 1.0


def asked_min(trip: Trip, device: Device, legs: Sequence[Leg]) -> tuple[float, float]:
    """The longest time off the mains that a device has in some legs, and what its battery must last for that."""
    uses = [(leg, use) for leg in legs for use in leg.uses if use.device.name == device.name and not leg.mains]
    ahead = fsum(_longest_min(leg, use) for leg, use in uses)
    return ahead, ahead * _factor(trip, device)


def makes_oxygen(device: Device) -> bool:
    """True for a concentrator, whose battery must last `battery_factor` times as long as it is needed."""
    return "makes_oxygen" in device_types()[device.type].traits


def _longest_min(leg: Leg, use: Use) -> float:
    if use.for_min is not None:
        return use.for_min
    delays = leg.total_min - leg.duration_min
    return delays + max(leg.duration_min, leg.longest_min or 0.0)
