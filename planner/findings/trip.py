"""Remarks that need no litres: the setting, the policy, devices, altitude, magnet rooms."""

from __future__ import annotations

import re
from collections.abc import Iterator

from planner import figures
from planner.constants import LEAST_LIKELY_ALTITUDE_M, LEAST_LIKELY_FLOW_L_PER_MIN, M_PER_FT
from planner.findings.supply import of_supply
from planner.flow.devices import is_blend
from planner.gas.mixing import fio2_at_cabin, inspired_fraction_kept
from planner.model import Device, Trip
from planner.naming import all_called, labelled
from planner.problems import Finding, finding
from planner.trade.catalog import VENTILATOR_FAILS, device_types, settings

_REACH = {"road": 1, "rail": 1, "water": 1, "air": 2}
_MAGNET_ROOM = re.compile(r"\b(?:magnet(?:ic)?|f?mri|mr (?:room|suite|scan(?:ner)?))\b", re.IGNORECASE)
_REACH_OF_SETTING = {"in_house": 0, "road": 1, "air": 2}


def of_trip(trip: Trip) -> Iterator[Finding]:
    """Remarks that need no litres: the setting, devices, gases, altitude, magnet, policy."""
    if not trip.setting_given:
        yield finding(
            "caution",
            "setting_assumed",
            "No setting is given; the policy for road transport is taken.",
            "Write setting: in_house, road or air.",
        )
    if trip.policy.overrides:
        keys = ", ".join(trip.policy.overrides)
        yield finding(
            "note", "policy_overridden", f"The policy of this trip sets: {keys}.", "Check it against your service's."
        )
    yield from _milder_policy(trip)
    yield from _devices(trip)
    yield from _thousand_times(trip)
    yield from _altitude(trip)
    yield from _unsaid_magnet(trip)
    yield from _magnet(trip)
    for supply in trip.supplies.values():
        yield from of_supply(trip, supply)


def _milder_policy(trip: Trip) -> Iterator[Finding]:
    """A caution for each leg that goes farther than the setting whose policy is taken."""
    for leg in trip.legs:
        if _REACH.get(leg.by or "", 0) > _REACH_OF_SETTING[trip.setting]:
            yield finding(
                "caution",
                "setting_and_leg",
                f"{leg.name} goes by {leg.by}, and the policy taken is that of setting {trip.setting}.",
                f"Write setting: {'air' if leg.by == 'air' else 'road'}, or ask your service if this policy holds.",
                leg.where,
            )


def _devices(trip: Trip) -> Iterator[Finding]:
    for device in _working(trip):
        kind = device_types()[device.type]
        ventilates = kind.fails == VENTILATOR_FAILS
        for key, usual in kind.usual.items():
            value = getattr(device, settings()[key].field)
            if value is not None and not usual.low <= value <= usual.high:
                yield finding(
                    "caution",
                    "unusual_setting",
                    f"{device.name}: {key} {figures.plain(value)} is outside the usual {figures.plain(usual.low)} to "
                    f"{figures.plain(usual.high)} {usual.unit}"
                    f" for a {kind.title}.",
                    "Check the figure and its unit against the order.",
                    device.where,
                )
        if ventilates and device.if_it_fails is None:
            yield finding(
                "caution",
                "no_fallback",
                f"{device.name} names nothing for if_it_fails; a manual resuscitator at 15 L/min is assumed.",
                "Name the device that takes over, with its flow.",
                device.where,
            )
        stand_in = trip.devices.get(device.if_it_fails or "")
        breathes = stand_in is not None and "breathes" in device_types()[stand_in.type].traits
        if ventilates and stand_in is not None and not breathes:
            yield finding(
                "caution",
                "fallback_does_not_breathe",
                f"{device.name} falls back on {stand_in.name}, which does not breathe for the patient; oxygen for "
                "doing it by hand is not counted.",
                "Name a manual resuscitator with its flow, unless a clinician settles that the patient can go without.",
                device.where,
            )
        if device.drive == "pneumatic" and not device.drive_gas_l_per_min:
            yield finding(
                "caution",
                "no_driving_gas",
                f"{device.name} is driven by gas, and its driving gas is counted as 0 L/min.",
                "Take the figure from its manual; 0 only where the manual says that it uses none.",
                device.where,
            )


_FLOWS = ("flow_l_per_min", "total_flow_l_per_min", "oxygen_flow_l_per_min", "minute_volume_l_per_min")


def _thousand_times(trip: Trip) -> Iterator[Finding]:
    """A caution where a figure is so small that a thousand times as much is likelier: `1.5 mL/min`, `8 ft`."""
    for device in _working(trip):
        for flow in (getattr(device, name) for name in _FLOWS):
            if flow is not None and 0.0 < flow < LEAST_LIKELY_FLOW_L_PER_MIN:
                yield finding(
                    "caution",
                    "thousand_times",
                    f"{device.name}: a flow of {figures.plain(1000.0 * flow)} mL/min is less than a flowmeter can "
                    f"give; {figures.plain(1000.0 * flow)} L/min is a thousand times as much.",
                    "Check the figure and its unit against the order.",
                    device.where,
                )
    for leg in trip.legs:
        altitude_m = leg.cabin_altitude_m
        if altitude_m is not None and 0.0 < altitude_m < LEAST_LIKELY_ALTITUDE_M:
            yield finding(
                "caution",
                "thousand_times",
                f"{leg.name}: a cabin altitude of {figures.plain(altitude_m, 1)} m "
                f"({figures.plain(altitude_m / M_PER_FT, 0)} ft) is next to the ground; are thousands meant?",
                "Write the highest cabin altitude in whole feet or metres, as in 8000 ft; 0 ft for the ground.",
                leg.where,
            )


def _working(trip: Trip) -> list[Device]:
    return list(dict.fromkeys(use.device for leg in trip.legs for use in leg.uses))


def _altitude(trip: Trip) -> Iterator[Finding]:
    for leg in trip.legs:
        cabin = leg.cabin_pressure_kpa
        if cabin is None or cabin >= trip.home_pressure_kpa:
            continue
        for device in dict.fromkeys(use.device for use in leg.uses):
            if device.fio2 is not None and (is_blend(device) or "entrains" in device_types()[device.type].traits):
                wanted = fio2_at_cabin(device.fio2, trip.home_pressure_kpa, cabin)
                if wanted > 1.0:
                    yield finding(
                        "stop",
                        "inspired_oxygen_not_kept",
                        f"{leg.name}: to keep the inspired oxygen of {device.name} at FiO2 "
                        f"{figures.fio2_set(device.fio2)} the cabin "
                        f"would ask for FiO2 {figures.fio2_up(wanted)}, which cannot be given.",
                        "A clinician decides: a lower cabin altitude, other support, or another way to travel.",
                        leg.where,
                    )
                else:
                    yield finding(
                        "note",
                        "inspired_oxygen",
                        f"{leg.name}: to keep the inspired oxygen of {device.name}, FiO2 "
                        f"{figures.fio2_set(device.fio2)} on the "
                        f"ground becomes {figures.fio2_up(wanted)} in the cabin.",
                        "The plan follows the set FiO2; the what-if inspired_oxygen_kept shows the litres.",
                        leg.where,
                    )
            else:
                kept = inspired_fraction_kept(trip.home_pressure_kpa, cabin)
                yield finding(
                    "caution",
                    "inspired_oxygen_falls",
                    f"{leg.name}: {device.name} is set by flow alone; in the cabin {figures.percent_down(kept)} of the "
                    "home inspired oxygen is left.",
                    "Watch the saturation and have more flow at hand; a clinician decides.",
                    leg.where,
                )


def names_magnet_room(leg: str) -> bool:
    """True for a leg whose name speaks of a magnet room.

    >>> names_magnet_room("In the MRI room"), names_magnet_room("Ward to scanner")
    (True, False)
    """
    return _MAGNET_ROOM.search(leg) is not None


def _unsaid_magnet(trip: Trip) -> Iterator[Finding]:
    """A question for each leg that is called after a magnet room, where no leg of the trip says `magnet`."""
    if any(leg.magnet_said or leg.magnet for leg in trip.legs):
        return
    for leg in trip.legs:
        if names_magnet_room(leg.name):
            yield finding(
                "caution",
                "magnet_not_said",
                f"{leg.name} is called after a magnet room, and nothing says if it goes in.",
                "Write magnet: true on the leg if it does, magnet: false if it stays outside the door.",
                leg.where,
            )


def _magnet(trip: Trip) -> Iterator[Finding]:
    for leg in trip.legs:
        if not leg.magnet:
            continue
        for name in leg.supplies:
            supply = trip.supplies[name]
            if supply.kind in ("cylinders", "manifold"):
                unsafe = [
                    labelled(cylinder.label, cylinder.gas) for cylinder in supply.cylinders if not cylinder.magnet_safe
                ]
                safe = len(supply.cylinders) - len(unsafe)
                if not safe:
                    yield finding(
                        "stop",
                        "magnet",
                        f"{leg.name} is a magnet room and no cylinder of {name} is marked magnet_safe.",
                        "Take a cylinder labelled safe for the magnet room and mark it magnet_safe: true.",
                        leg.where,
                    )
                elif unsafe:
                    yield finding(
                        "caution",
                        "magnet_leave_outside",
                        f"{leg.name} is a magnet room: leave {all_called(unsafe)} of {name} outside.",
                        "Park every cylinder that is not marked magnet_safe before the door.",
                        leg.where,
                    )
            elif supply.portable:
                yield finding(
                    "stop" if supply.kind == "litres" else "caution",
                    "magnet",
                    f"{leg.name} is a magnet room and nothing says that {name} is safe in it.",
                    "Draw a cylinder labelled safe for the magnet room.",
                    leg.where,
                )
