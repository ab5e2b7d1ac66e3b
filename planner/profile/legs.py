"""The legs of a trip, and the devices at work in each."""

from __future__ import annotations

from collections.abc import Mapping
from math import fsum

from planner import figures
from planner.constants import MINUTE_NOISE
from planner.gas import atmosphere
from planner.model import Delay, Divert, Leg, Supply, Use
from planner.profile.devices import DeviceText, known_names, used
from planner.profile.faults import listed_names, position
from planner.profile.fields import Fields
from planner.profile.limits import LONGEST_MIN
from planner.profile.supplies import known, names_under, unknown
from planner.text.source import Node
from planner.text.text_file import show


def read_legs(root: Fields, devices: Mapping[str, DeviceText], supplies: Mapping[str, Supply]) -> tuple[Leg, ...]:
    """Every leg in order."""
    legs = tuple(_read(root, node, devices, supplies) for node in root.items("legs"))
    if (
        legs
        and fsum(leg.total_min for leg in legs) > LONGEST_MIN
        and all(leg.duration_min <= LONGEST_MIN for leg in legs)
    ):
        root.add(
            "legs",
            "out_of_range",
            "legs of more than 14 days together",
            "a trip up to 14 days",
            "check the units of the durations",
        )
    return legs


def _read(root: Fields, node: Node, devices: Mapping[str, DeviceText], supplies: Mapping[str, Supply]) -> Leg:
    fields = Fields(root.faults, node, "leg")
    name = fields.text("name") or ""
    fields.title = f"leg {show(name)}" if name else "leg"
    duration, longest = fields.quantity("duration"), fields.quantity("longest")
    if duration is not None and longest is not None and longest < duration - MINUTE_NOISE:
        fields.add(
            "longest",
            "shorter_than_duration",
            f"longest {show(fields.text('longest') or '')} below duration {show(fields.text('duration') or '')}",
            "a time of at least the duration",
            "write the longest time that the leg may take, delays left out",
        )
    delays = tuple(_delay(Fields(root.faults, item, "delay")) for item in fields.items("delays"))
    supply = _supply(root, fields, supplies)
    pressure, altitude = _cabin(fields)
    by = fields.text("by")
    total = None if duration is None else duration + fsum(delay.time_min for delay in delays)
    return Leg(
        name=name,
        duration_min=0.0 if duration is None else duration,
        uses=_uses(root, fields, supply, devices, total, supplies),
        supply=supply,
        delays=delays,
        longest_min=longest,
        no_change=fields.flag("no_change") or False,
        by=by,
        cabin_pressure_kpa=pressure,
        cabin_altitude_m=altitude,
        magnet=fields.flag("magnet") or False,
        mains=fields.flag("mains") or False,
        divert=_divert(fields),
        where=position(node),
        magnet_said=fields.given("magnet"),
    )


def _supply(root: Fields, fields: Fields, supplies: Mapping[str, Supply]) -> str | None:
    """The supply that devices draw their oxygen from; one that holds air is told, and never stands for it."""
    supply = known(fields, "supply", names_under(root, "supplies"))
    if supply is not None and supply in supplies and supplies[supply].gas == "air":
        oxygen = listed_names(each.name for each in supplies.values() if each.gas == "oxygen")
        fields.add(
            "supply",
            "wrong_gas",
            f"supply {show(supply)}, which holds air, where oxygen is drawn",
            f"a supply of oxygen: {oxygen or 'none yet'}",
            f"write the supply of oxygen here; a blend takes its air by `air: {supply}` under `devices`",
        )
    return supply


def _delay(fields: Fields) -> Delay:
    time = fields.quantity("time")
    return Delay(fields.text("reason") or "", 0.0 if time is None else time)


def _divert(fields: Fields) -> Divert | None:
    node = fields.get("divert")
    if node is None:
        return None
    inner = Fields(fields.faults, node, "divert")
    return Divert(inner.text("to") or "", inner.quantity("time") or 0.0)


def _cabin(fields: Fields) -> tuple[float | None, float | None]:
    """Cabin pressure, kPa, and altitude, m: one is given, the other follows by the standard atmosphere."""
    if fields.given("cabin_altitude") and fields.given("cabin_pressure"):
        fields.add(
            "cabin_pressure", "two_ways", "cabin_pressure beside cabin_altitude", "one of the two", "take one out"
        )
        return None, None
    if fields.text("by") == "air" and not fields.given("cabin_altitude") and not fields.given("cabin_pressure"):
        fix = (
            "add `cabin_altitude:` with the highest that is expected; without a pressure cabin it is the altitude flown"
        )
        fields.missing("cabin_altitude", "`cabin_altitude` or `cabin_pressure` on every leg by air", fix)
    altitude, pressure = fields.quantity("cabin_altitude"), fields.quantity("cabin_pressure")
    if altitude is not None:
        return atmosphere.pressure_kpa(altitude), altitude
    return pressure, None if pressure is None else atmosphere.altitude_m(pressure)


def _uses(
    root: Fields,
    leg: Fields,
    supply: str | None,
    devices: Mapping[str, DeviceText],
    total_min: float | None,
    supplies: Mapping[str, Supply],
) -> tuple[Use, ...]:
    found: list[Use] = []
    seen: set[str] = set()
    without: list[str] = []
    names = names_under(root, "devices")
    for item in leg.items("devices"):
        fields, alone = Fields(root.faults, item, "use"), item.kind == "scalar"
        name_node = item if alone else fields.get("use")
        if name_node is None:
            continue
        name = name_node.text.strip()
        if names is not None and name not in names:
            unknown(root.faults, name_node, name, names, "device")
            continue
        if name in seen:
            root.faults.add(
                name_node,
                "device_twice",
                f"device {show(name)} twice in one leg",
                "each device once: one machine, one patient",
                "give the second one a name of its own under `devices`, with a `patient` label",
            )
            continue
        seen.add(name)
        own_supply, minutes = _supply(root, fields, supplies), _for(fields, total_min)
        if not leg.given("supply") and not fields.given("supply"):
            without.append(name)
        draft = devices.get(name)
        if draft is not None:
            device = draft.device() if alone else used(root.faults, draft, item, known_names(root, supplies))
            found.append(Use(device, own_supply or supply or "", minutes, position(item)))
    if without:
        there = names_under(root, "supplies")
        leg.missing(
            "supply",
            f"one of the supplies: {listed_names(there)}" if there else "a supply",
            f"add `supply:` with what {listed_names(without)} draws from",
        )
    return tuple(found)


def _for(fields: Fields, total_min: float | None) -> float | None:
    minutes = fields.quantity("for")
    if minutes is not None and total_min is not None and minutes > total_min + MINUTE_NOISE:
        fields.add(
            "for",
            "longer_than_leg",
            f"for {show(fields.text('for') or '')} in a leg of {figures.minutes_set(total_min)} with its delays",
            "a time up to that of the leg",
            "shorten it, or leave `for` out if the device runs for the whole leg",
        )
    return minutes
