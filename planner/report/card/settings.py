"""Devices as set, for the cart card: what hands set stands first, what is drawn from the supply behind it."""

from __future__ import annotations

from typing import NamedTuple

from planner import figures
from planner.flow import devices
from planner.model import Device
from planner.results import Plan


class SetDevice(NamedTuple):
    """One device: what hands set on it (`SET 50 L/min, FiO2 0.50`), the rest in words, and what it draws.

    `legs` is empty where it is set so in all of its legs; `text` holds them too.
    """

    name: str
    set: str
    text: str
    draws: str
    legs: str = ""


def settings(plan: Plan) -> tuple[SetDevice, ...]:
    """Every device in use, once for each of its settings; with its legs where it is set differently in some."""
    found: dict[SetDevice, list[str]] = {}
    parted: set[SetDevice] = set()
    for index, leg in enumerate(plan.trip.legs, start=1):
        for use in (use for use in leg.uses if not use.device.measured):
            one = setting(use.device)
            if use.device.may_rise_to is not None:
                one = one._replace(draws=f"{one.draws}; {_risen(plan.trip.devices[use.device.may_rise_to])}")
            legs = found.setdefault(one, [])
            text = str(index)
            if use.for_min is not None:
                parted.add(one)
                text += f" (ONLY its first {figures.minutes_set(use.for_min)})"
            if text not in legs:
                legs.append(text)
    names = [one.name for one in found]
    return tuple(
        one._replace(text=f"{one.text}; leg {', '.join(legs)}", legs=f"leg {', '.join(legs)}")
        if names.count(one.name) > 1 or one in parted
        else one
        for one, legs in found.items()
    )


def _risen(device: Device) -> str:
    """What a device may rise to: `may be RAISED to mask, 12 L/min, which draws 12 L/min`."""
    flow = figures.flow_up(devices.demand_l_per_min(device))
    return f"may be RAISED to {device.name}, {set_to(device)}, which draws {flow}"


def setting(device: Device) -> SetDevice:
    """One device: `SET 450 mL × 16 /min, FiO2 0.60` and `ventilator, driving gas 0.5 L/min`, draws `5.5 L/min`."""
    text = device.type.replace("_", " ")
    if device.patient:
        text += f" ({device.patient})"
    draws = f"draws {figures.flow_up(devices.demand_l_per_min(device))} of oxygen"
    if device.air_supply is not None:
        draws += f" and {figures.flow_up(devices.air_l_per_min(device))} of AIR from {device.air_supply}"
    return SetDevice(device.name, f"SET {set_to(device)}", ", ".join((text, *_beside(device))), draws)


def set_to(device: Device) -> str:
    """What hands set on a device, `50 L/min, FiO2 0.50`: never what it draws, which a tired hand would set."""
    return ", ".join(_set(device)) or "as ordered"


def _set(device: Device) -> list[str]:
    """What is set by hand."""
    parts = [
        f"{figures.breath_set(volume_l)} × {figures.rate_set(device.rate_per_min)}"
        for volume_l in (device.tidal_volume_l, device.pulse_volume_l)
        if volume_l is not None and device.rate_per_min is not None
    ]
    if device.minute_volume_l_per_min is not None:
        parts.append(f"minute volume {figures.flow_set(device.minute_volume_l_per_min)}")
    flows = [
        (device.flow_l_per_min, ""),
        (device.total_flow_l_per_min, "total flow "),
        (device.oxygen_flow_l_per_min, "oxygen flow "),
    ]
    given = [(value, title) for value, title in flows if value is not None]
    parts += [f"{title if len(given) > 1 else ''}{figures.flow_set(value)}" for value, title in given]
    if device.fio2 is not None:
        parts.append(f"FiO2 {figures.fio2_set(device.fio2)}")
    return parts


def _beside(device: Device) -> list[str]:
    """What else is counted: it belongs to the device or the patient, and nobody sets it for the trip."""
    found = (
        (device.bias_flow_l_per_min, "bias flow"),
        (device.leak_l_per_min, "leak"),
        (device.drive_gas_l_per_min, "driving AIR" if device.driven_by == "air" else "driving gas"),
        (device.bleed_l_per_min, "bleed"),
    )
    battery = [] if device.battery_min is None else [f"batteries {figures.minutes_set(device.battery_min)}"]
    return [*(f"{title} {figures.flow_set(value)}" for value, title in found if value), *battery]
