"""Settings that were changed on the way, read as in a `use` of a profile."""

from __future__ import annotations

from typing import Any

from planner.afterwards.logbook import SettingsChange, Value
from planner.model import Device, Trip
from planner.profile import devices as profile_devices
from planner.profile.faults import Faults, listed_names
from planner.profile.fields import Fields
from planner.text.source import Node
from planner.text.spelling import slip
from planner.text.text_file import show
from planner.trade.catalog import device_types, settings


def settings_changes(trip: Trip, fields: Fields) -> tuple[SettingsChange, ...]:
    """The `settings` of a reading: devices with what was changed of them."""
    found = []
    node = fields.get("settings")
    for name, value in node.pairs if node is not None else ():
        if id(name) in fields.faults.refused or id(value) in fields.faults.refused:
            continue
        device = trip.devices.get(name.text)
        if device is None:
            meant = slip(name.text, trip.devices)
            fix = "check the name" if meant is None else f"write {show(meant)}"
            allowed = f"one of the devices: {listed_names(trip.devices)}"
            fields.faults.add(name, "device_unknown", f"device {show(name.text)}", allowed, fix)
            continue
        change = _change_of(trip, fields.faults, device, value)
        if change is not None:
            found.append(change)
    return tuple(found)


def _change_of(trip: Trip, faults: Faults, device: Device, node: Node) -> SettingsChange | None:
    """What a mapping of settings changes of a device, read as in a `use` of a profile."""
    known = settings()
    unknown = [key for key, _ in node.pairs if key.text not in known]
    for key in unknown:
        kind = device_types()[device.type]
        meant = slip(key.text, kind.keys)
        fix = "take it out" if meant is None else f"write {show(meant)}"
        faults.add(key, "key_unknown", f"unknown setting {show(key.text)}", listed_names(kind.keys), fix)
    if unknown:
        return None
    told = len(faults.problems)
    after = profile_devices.used(
        faults, _draft(device), node, profile_devices.Known(tuple(trip.devices), trip.supplies)
    )
    if len(faults.problems) > told:
        return None
    fields = [setting.field for setting in known.values()]
    given = {known[key.text].field for key, _ in node.pairs}
    values: list[tuple[str, Value]] = [
        (field, getattr(after, field))
        for field in fields
        if field in given or getattr(after, field) != getattr(device, field)
    ]
    return SettingsChange(device.name, tuple(values))


def _draft(device: Device) -> profile_devices.DeviceText:
    """A device of a trip as the profile reader has it before it is finished."""
    values: dict[str, Any] = {
        key: getattr(device, setting.field)
        for key, setting in settings().items()
        if getattr(device, setting.field, None) is not None
    }
    texts = {key: str(value) for key, value in values.items()}
    return profile_devices.DeviceText(
        device.name, Node("map"), device_types().get(device.type), device.where, texts, values
    )
