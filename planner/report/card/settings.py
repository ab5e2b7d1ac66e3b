"""Devices as set, each with its flow, for the cart card."""

from __future__ import annotations

from planner import figures
from planner.flow import devices
from planner.model import Device
from planner.report.card.data import Setting
from planner.results import Plan


def settings(plan: Plan) -> tuple[Setting, ...]:
    """Every device in use, once for each of its settings; with its legs where it is set differently in some."""
    found: dict[tuple[str, str, str], list[int]] = {}
    for index, leg in enumerate(plan.trip.legs, start=1):
        for use in leg.uses:
            key = (use.device.name, setting_text(use.device), figures.flow_up(devices.demand_l_per_min(use.device)))
            legs = found.setdefault(key, [])
            if index not in legs:
                legs.append(index)
    several = {name for name, _, _ in found if sum(other == name for other, _, _ in found) > 1}
    return tuple(
        Setting(name, f"{text}; leg {', '.join(map(str, legs))}" if name in several else text, flow)
        for (name, text, flow), legs in found.items()
    )


def setting_text(device: Device) -> str:
    """A device's settings in words: `ventilator, 450 mL × 16 /min, FiO2 0.60, driving gas 0.5 L/min`."""
    parts = [device.type.replace("_", " ")]
    if device.patient:
        parts[0] += f" ({device.patient})"
    if device.tidal_volume_l is not None and device.rate_per_min is not None:
        parts.append(f"{figures.plain(1000 * device.tidal_volume_l, 1)} mL × {figures.plain(device.rate_per_min)} /min")
    if device.pulse_volume_l is not None and device.rate_per_min is not None:
        parts.append(f"{figures.plain(1000 * device.pulse_volume_l, 1)} mL × {figures.plain(device.rate_per_min)} /min")
    for value, title in (
        (device.minute_volume_l_per_min, "minute volume"),
        (device.flow_l_per_min, "flow"),
        (device.total_flow_l_per_min, "total flow"),
        (device.oxygen_flow_l_per_min, "oxygen flow"),
        (device.bias_flow_l_per_min or None, "bias flow"),
        (device.leak_l_per_min or None, "leak"),
        (device.drive_gas_l_per_min or None, "driving gas"),
    ):
        if value is not None:
            parts.append(f"{title} {figures.flow_set(value)}")
    if device.fio2 is not None:
        parts.insert(2 if len(parts) > 1 else 1, f"FiO2 {device.fio2:.2f}")
    return ", ".join(parts)
