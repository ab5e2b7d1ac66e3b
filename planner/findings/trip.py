"""Remarks that need no litres: the setting, the policy, devices, altitude, magnet rooms."""

from __future__ import annotations

import re
from collections.abc import Iterator

from planner import figures
from planner.constants import LEAST_LIKELY_ALTITUDE_M, LEAST_LIKELY_FLOW_L_PER_MIN, M_PER_FT
from planner.findings.common import remark
from planner.findings.supply import of_supply
from planner.flow.devices import is_blend
from planner.gas.mixing import fio2_at_cabin, inspired_fraction_kept
from planner.model import Device, Trip
from planner.naming import all_called, labelled
from planner.problems import Finding
from planner.trade.catalog import VENTILATOR_FAILS, device_types, settings

_REACH = {"road": 1, "rail": 1, "water": 1, "air": 2}
_MAGNET_ROOM = re.compile(r"\b(?:magnet(?:ic)?|f?mri|mr (?:room|suite|scan(?:ner)?))\b", re.IGNORECASE)
_REACH_OF_SETTING = {"in_house": 0, "road": 1, "air": 2}


def of_trip(trip: Trip) -> Iterator[Finding]:
    """Remarks that need no litres: the setting, devices, gases, altitude, magnet, policy."""
    if not trip.setting_given:
        yield remark("setting_assumed")
    if trip.policy.overrides:
        yield remark("policy_overridden", keys=", ".join(trip.policy.overrides))
    yield from _milder_policy(trip)
    yield from _devices(trip)
    yield from _thousand_times(trip)
    yield from _altitude(trip)
    yield from _unsaid_magnet(trip)
    yield from _magnet(trip)
    for supply in trip.supplies.values():
        yield from of_supply(trip, supply)
        for one in supply.cylinders:
            if one.out_of_use:
                why = f" ({one.out_of_use_why})" if one.out_of_use_why else ""
                yield remark("out_of_use_on_board", supply, label=labelled(one.label, one.gas), why=why)


def _milder_policy(trip: Trip) -> Iterator[Finding]:
    """A caution for each leg that goes farther than the setting whose policy is taken."""
    for leg in trip.legs:
        if _REACH.get(leg.by or "", 0) > _REACH_OF_SETTING[trip.setting]:
            wider = "air" if leg.by == "air" else "road"
            yield remark("setting_and_leg", leg, by=leg.by, setting=trip.setting, wider=wider)


def _devices(trip: Trip) -> Iterator[Finding]:
    for device in _working(trip):
        kind = device_types()[device.type]
        ventilates = kind.fails == VENTILATOR_FAILS
        for key, usual in kind.usual.items():
            value = getattr(device, settings()[key].field)
            just_in_case = value == 0.0 and device.may_rise_to is not None
            if value is not None and not usual.low <= value <= usual.high and not just_in_case:
                yield remark(
                    "unusual_setting",
                    device,
                    key=key,
                    value=figures.plain(value),
                    low=figures.plain(usual.low),
                    high=figures.plain(usual.high),
                    unit=usual.unit,
                    kind=kind.title,
                )
        if ventilates and device.if_it_fails is None:
            yield remark("no_fallback", device)
        stand_in = trip.devices.get(device.if_it_fails or "")
        if ventilates and stand_in is not None and "breathes" not in device_types()[stand_in.type].traits:
            yield remark("fallback_does_not_breathe", device, stand_in=stand_in.name)
        if device.drive == "pneumatic" and not device.drive_gas_l_per_min:
            yield remark("no_driving_gas", device)


_FLOWS = ("flow_l_per_min", "total_flow_l_per_min", "oxygen_flow_l_per_min", "minute_volume_l_per_min")


def _thousand_times(trip: Trip) -> Iterator[Finding]:
    """A caution where a figure is so small that a thousand times as much is likelier: `1.5 mL/min`, `8 ft`."""
    for device in _working(trip):
        for flow in (getattr(device, name) for name in _FLOWS):
            if flow is not None and 0.0 < flow < LEAST_LIKELY_FLOW_L_PER_MIN:
                yield remark("flow_thousand_times", device, thousand=figures.plain(1000.0 * flow))
    for leg in trip.legs:
        altitude_m = leg.cabin_altitude_m
        if altitude_m is not None and 0.0 < altitude_m < LEAST_LIKELY_ALTITUDE_M:
            metres, feet = figures.plain(altitude_m, 1), figures.plain(altitude_m / M_PER_FT, 0)
            yield remark("altitude_thousand_times", leg, metres=metres, feet=feet)


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
                row = "inspired_oxygen_not_kept" if wanted > 1.0 else "inspired_oxygen"
                fio2, wanted_fio2 = figures.fio2_set(device.fio2), figures.fio2_up(wanted)
                yield remark(row, leg, device=device.name, fio2=fio2, wanted=wanted_fio2)
            else:
                kept = inspired_fraction_kept(trip.home_pressure_kpa, cabin)
                yield remark("inspired_oxygen_falls", leg, device=device.name, kept=figures.percent_down(kept))


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
            yield remark("magnet_not_said", leg)


def _magnet(trip: Trip) -> Iterator[Finding]:
    for leg in trip.legs:
        if not leg.magnet:
            continue
        for name in leg.supplies:
            supply = trip.supplies[name]
            if supply.kind in ("cylinders", "manifold"):
                unsafe = [labelled(one.label, one.gas) for one in supply.cylinders if not one.magnet_safe]
                if len(unsafe) == len(supply.cylinders):
                    yield remark("magnet_none_safe", leg, supply=name)
                elif unsafe:
                    yield remark("magnet_leave_outside", leg, unsafe=all_called(unsafe), supply=name)
            elif supply.portable:
                yield remark("magnet_amount" if supply.kind == "litres" else "magnet_to_be_drawn", leg, supply=name)
