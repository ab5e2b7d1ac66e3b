"""A reading of a battery: of which device, and what it shows: `60 %`, `3 of 5` lamps, or `110 min`."""

from __future__ import annotations

import re
from typing import Final, NamedTuple

from planner.afterwards.logbook import BatteryRead
from planner.go.batteries import batteries
from planner.model import Trip
from planner.profile.fields import Fields
from planner.profile.limits import LIMITS
from planner.readings.of_what import alone, of_which
from planner.text import quantities
from planner.text.text_file import show

_PERCENT: Final = re.compile(r"([0-9]{1,3}(?:\.[0-9]+)?) ?%", re.ASCII)
_LAMPS: Final = re.compile(r"([0-9]{1,2})(?: ?/ ?| of )([1-9][0-9]?)(?: lamps?)?", re.ASCII)
_ALLOWED: Final = "a share such as `60 %`, lamps such as `3 of 5`, or minutes as it shows them, such as `110 min`"


class OfDevice(NamedTuple):
    """The device and what its battery shows."""

    device: str
    read: BatteryRead


def read_battery(trip: Trip, fields: Fields) -> OfDevice | None:
    """The battery of a mapping with `battery` or `device`; None where anything is wrong, which is told."""
    text, known = fields.text("battery"), list(batteries(trip))
    others = ("gauge", "cylinder", "change_to", "amount", "flow", "supply")
    alone(fields, "battery", others, "a battery, or what a supply shows")
    if text is None:
        fields.missing("battery", _ALLOWED, "add `battery:` with what it shows")
        return None
    if not known:
        fix = "take it out, or give the readings of the trip that they belong to"
        fields.add("battery", "of_no_use", "a battery, and no device on one", "readings of what the trip has", fix)
        return None
    name = of_which(fields, "device", known, "battery", "device on a battery")
    if name is None:
        return None
    read = _shown(text.strip())
    if read is None:
        fix = "write it as it stands on the device, with its unit"
        fields.add("battery", "not_a_charge", f"battery {show(text)}", _ALLOWED, fix)
        return None
    return OfDevice(name, read)


def _shown(text: str) -> BatteryRead | None:
    if found := _PERCENT.fullmatch(text):
        share = float(found[1]) / 100.0
        return BatteryRead(text, share, share) if share <= 1.0 else None
    if found := _LAMPS.fullmatch(text):
        lit, lamps = int(found[1]), int(found[2])
        return BatteryRead(text, max(0, lit - 1) / lamps, lit / lamps) if lit <= lamps else None
    try:
        minutes = quantities.parse(text, "duration")
    except quantities.QuantityError:
        return None
    return BatteryRead(text, minutes=minutes) if LIMITS["battery"].holds(minutes) else None
