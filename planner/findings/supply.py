"""Remarks on what a supply is said to be: readings, gases, outlets, units that look wrong."""

from __future__ import annotations

from collections.abc import Iterator

from planner import figures
from planner.constants import KPA_PER_BAR, KPA_PER_PSI, PIN_INDEX
from planner.model import Cylinder, Policy, Supply, Trip
from planner.moments import minutes_between
from planner.naming import called, labelled
from planner.problems import Finding, finding

_PLAUSIBLE_FULL_OVER = 1.1
_VERY_LOW_SHARE = 0.12


def of_supply(trip: Trip, supply: Supply) -> Iterator[Finding]:
    """Remarks on one supply and its cylinders."""
    used = any(supply.name in leg.supplies for leg in trip.legs)
    yield from _crossed(trip, supply)
    if supply.kind == "sizes":
        yield finding(
            "stop",
            "no_readings",
            f"{supply.name} names sizes only; nothing is drawn yet and no gauge is read.",
            "Draw the cylinders counted here, read each gauge with the valve open, and list them under cylinders.",
            supply.where,
        )
    if supply.kind == "litres" and supply.portable and supply.gas == "oxygen" and used:
        yield finding(
            "caution",
            "single_supply",
            f"{supply.name} is one portable supply of a stated amount: no spare is counted for it.",
            "Carry a cylinder with a regulator as a spare.",
            supply.where,
        )
    if supply.liquid is not None and not supply.liquid.keep_said:
        yield finding(
            "caution",
            "nothing_kept",
            f"{supply.name} is counted down to empty: nothing says what is left in it.",
            "Write keep: with what its gauge cannot tell from empty.",
            supply.where,
        )
    if supply.liquid is not None and not supply.stated_l and used:
        yield finding(
            "stop",
            "liquid_gone",
            f"{supply.name}: what was read in it has boiled away by the end of the longest trip, or is to be kept.",
            "Fill it, read it again shortly before you leave, and write the new amount with its time.",
            supply.where,
        )
    if supply.kind == "litres" and supply.outlets is None and used:
        yield finding(
            "caution",
            "outlets_not_stated",
            f"The outlets of {supply.name} are not stated and could not be checked.",
            "Check that it has an outlet for every device, or write outlets.",
            supply.where,
        )
    if supply.kind == "sizes" and supply.outlets is None and used:
        yield finding(
            "note",
            "outlets_to_be_had",
            f"The counts for {supply.name} take it that each cylinder is drawn with the outlets the devices need.",
            "Check regulators, flowmeters and 50-psi outlets when the cylinders are drawn.",
            supply.where,
        )
    if supply.kind == "manifold" and len({cylinder.gauge_kpa for cylinder in supply.cylinders}) > 1:
        yield finding(
            "caution",
            "manifold_gauges_differ",
            f"The cylinders of the manifold {supply.name} have different readings; the lowest is taken for all.",
            "Open all valves, wait, and read the one gauge.",
            supply.where,
        )
    yield from _outlets_clash(supply)
    for cylinder in supply.cylinders:
        yield from _cylinder(trip, supply, cylinder)


def _crossed(trip: Trip, supply: Supply) -> Iterator[Finding]:
    """A stop for each device that is to draw oxygen from a supply of air, or air from one of oxygen."""
    devices = {use.device: use.supply for leg in trip.legs for use in leg.uses if supply.name in use.supplies}
    for device, of_oxygen in devices.items():
        asked = "oxygen" if of_oxygen == supply.name else "air"
        if asked != supply.gas and not device.measured:
            yield finding(
                "stop",
                "wrong_gas",
                f"{device.name} takes its {asked} from {supply.name}, which holds {supply.gas}.",
                f"Give it a supply of {asked}.",
                device.where,
            )


def _outlets_clash(supply: Supply) -> Iterator[Finding]:
    """A manifold is drawn on through one set of outlets: a caution where a cylinder names others of its own."""
    if supply.kind != "manifold" or supply.outlets is None:
        return
    for cylinder in supply.cylinders:
        name = called(cylinder.label, cylinder.gas)
        if cylinder.outlets is not None and sorted(map(str, cylinder.outlets)) != sorted(map(str, supply.outlets)):
            yield finding(
                "caution",
                "manifold_outlets_clash",
                f"{name} of the manifold {supply.name} has other outlets than the manifold; those of the manifold are "
                "taken.",
                f"Leave outlets out at {name}, or correct those of {supply.name}.",
                cylinder.where,
            )


def _cylinder(trip: Trip, supply: Supply, cylinder: Cylinder) -> Iterator[Finding]:
    name = f"{supply.name} {labelled(cylinder.label, cylinder.gas)}"
    if cylinder.gas != supply.gas:
        pins = PIN_INDEX[supply.gas]
        yield finding(
            "stop",
            "wrong_gas",
            f"{name} holds {cylinder.gas}, not {supply.gas}; nothing is counted from it.",
            f"Take it off the cart. Check label and pin index ({supply.gas} {pins}) of the one you take instead.",
            cylinder.where,
        )
    if cylinder.outlets is None and supply.outlets is None and supply.kind != "manifold":
        yield finding(
            "note",
            "outlets_assumed",
            f"{name}: no outlets are stated; one flowmeter to 15 L/min is taken.",
            "Write outlets where it has others.",
            cylinder.where,
        )
    if cylinder.verified is False:
        yield finding(
            "caution",
            "gauge_not_verified",
            f"{name}: the reading was not taken with the valve open and gas flowing.",
            "Open the valve, let gas flow, and read again before departure.",
            cylinder.where,
        )
    if trip.departs is not None and cylinder.checked is not None:
        checked = cylinder.checked
        if (checked.tzinfo is None) == (trip.departs.tzinfo is None):
            age_min = minutes_between(checked, trip.departs)
            if age_min > trip.policy.reading_valid_for_min:
                yield finding(
                    "caution",
                    "reading_old",
                    f"{name} was read {figures.hours_up(age_min)} before departure.",
                    f"Read it again: a reading counts for {figures.hours_set(trip.policy.reading_valid_for_min)}.",
                    cylinder.where,
                )
            elif age_min < 0.0:
                yield finding(
                    "caution",
                    "reading_in_future",
                    f"{name}: the time of the reading lies after departure.",
                    "Check the date and the clock.",
                    cylinder.where,
                )
    yield from plausible_gauge(name, cylinder, trip.policy)


def plausible_gauge(name: str, cylinder: Cylinder, policy: Policy) -> Iterator[Finding]:
    """A caution where a reading does not fit the filling pressure, with what may have been meant."""
    ratio = cylinder.gauge_kpa / cylinder.filling_gauge_kpa
    full = figures.gauge_read(cylinder.filling_gauge_kpa, policy.pressure_unit)
    if ratio > _PLAUSIBLE_FULL_OVER:
        yield finding(
            "caution",
            "gauge_above_filling",
            f"{name} is said to read {figures.gauge_read(cylinder.gauge_kpa, policy.pressure_unit)}, above "
            f"its filling pressure of {full}.",
            "Check the gauge, the unit and the size; the reading was counted as written.",
            cylinder.where,
        )
    elif 0.0 < ratio < _VERY_LOW_SHARE:
        psi = cylinder.gauge_kpa / KPA_PER_PSI
        meant = ""
        if psi * KPA_PER_BAR <= _PLAUSIBLE_FULL_OVER * cylinder.filling_gauge_kpa and psi > 20.0:
            meant = f" Written as {figures.plain(psi, 0)} psi, it may have been {figures.plain(psi, 0)} bar."
        yield finding(
            "caution",
            "gauge_very_low",
            f"{name} reads {figures.gauge_read(cylinder.gauge_kpa, 'bar')} "
            f"({figures.gauge_read(cylinder.gauge_kpa, 'psi')}) where a full one reads {full}.{meant}",
            "Check the unit of the reading.",
            cylinder.where,
        )
