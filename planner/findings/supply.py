"""Remarks on what a supply is said to be: readings, gases, outlets, units that look wrong."""

from __future__ import annotations

from collections.abc import Iterator

from planner import figures
from planner.constants import KPA_PER_BAR, KPA_PER_PSI, PIN_INDEX
from planner.findings.common import remark
from planner.model import Cylinder, Policy, Supply, Trip
from planner.moments import minutes_between
from planner.naming import called, labelled
from planner.problems import Finding

_PLAUSIBLE_FULL_OVER = 1.1
_VERY_LOW_SHARE = 0.12


def of_supply(trip: Trip, supply: Supply) -> Iterator[Finding]:
    """Remarks on one supply and its cylinders."""
    used = any(supply.name in leg.supplies for leg in trip.legs)
    yield from _crossed(trip, supply)
    if supply.kind == "sizes":
        yield remark("no_readings", supply)
    if supply.kind == "litres" and supply.portable and supply.gas == "oxygen" and used:
        yield remark("single_supply", supply)
    if supply.liquid is not None and not supply.liquid.keep_said:
        yield remark("nothing_kept", supply)
    if supply.liquid is not None and not supply.stated_l and used:
        yield remark("liquid_gone", supply)
    if supply.kind in ("litres", "sizes") and supply.outlets is None and used:
        yield remark("outlets_not_stated" if supply.kind == "litres" else "outlets_to_be_had", supply)
    if supply.kind == "manifold" and len({cylinder.gauge_kpa for cylinder in supply.cylinders}) > 1:
        yield remark("manifold_gauges_differ", supply)
    yield from _outlets_clash(supply)
    for cylinder in supply.cylinders:
        yield from _cylinder(trip, supply, cylinder)


def _crossed(trip: Trip, supply: Supply) -> Iterator[Finding]:
    """A stop for each device that is to draw oxygen from a supply of air, or air from one of oxygen."""
    devices = {use.device: use.supply for leg in trip.legs for use in leg.uses if supply.name in use.supplies}
    for device, of_oxygen in devices.items():
        asked = "oxygen" if of_oxygen == supply.name else "air"
        if asked != supply.gas and not device.measured:
            yield remark("crossed_gas", device, asked=asked, supply=supply.name, gas=supply.gas)


def _outlets_clash(supply: Supply) -> Iterator[Finding]:
    """A manifold is drawn on through one set of outlets: a caution where a cylinder names others of its own."""
    if supply.kind != "manifold" or supply.outlets is None:
        return
    for cylinder in supply.cylinders:
        name = called(cylinder.label, cylinder.gas)
        if cylinder.outlets is not None and sorted(map(str, cylinder.outlets)) != sorted(map(str, supply.outlets)):
            yield remark("manifold_outlets_clash", cylinder, name=name, supply=supply.name)


def _cylinder(trip: Trip, supply: Supply, cylinder: Cylinder) -> Iterator[Finding]:
    name = f"{supply.name} {labelled(cylinder.label, cylinder.gas)}"
    if cylinder.gas != supply.gas:
        gas, pins = supply.gas, PIN_INDEX[supply.gas]
        yield remark("wrong_gas", cylinder, name=name, held=cylinder.gas, gas=gas, pins=pins)
    if cylinder.outlets is None and supply.outlets is None and supply.kind != "manifold":
        yield remark("outlets_assumed", cylinder, name=name)
    if cylinder.verified is False:
        yield remark("gauge_not_verified", cylinder, name=name)
    yield from _age(name, trip, cylinder)
    yield from plausible_gauge(name, cylinder, trip.policy)


def _age(name: str, trip: Trip, cylinder: Cylinder) -> Iterator[Finding]:
    """A caution where the reading is too old, or lies after departure; none where the two times cannot be compared."""
    age_min = reading_age_min(trip, cylinder)
    if age_min is None:
        return
    if age_min > trip.policy.reading_valid_for_min:
        valid = figures.hours_set(trip.policy.reading_valid_for_min)
        yield remark("reading_old", cylinder, name=name, age=figures.hours_up(age_min), valid=valid)
    elif age_min < 0.0:
        yield remark("reading_in_future", cylinder, name=name)


def reading_age_min(trip: Trip, cylinder: Cylinder) -> float | None:
    """How old a reading is at departure, minutes; None where the two times cannot be compared."""
    departs, checked = trip.departs, cylinder.checked
    if departs is None or checked is None or (checked.tzinfo is None) != (departs.tzinfo is None):
        return None
    return minutes_between(checked, departs)


def plausible_gauge(name: str, cylinder: Cylinder, policy: Policy) -> Iterator[Finding]:
    """A caution where a reading does not fit the filling pressure, with what may have been meant."""
    ratio = cylinder.gauge_kpa / cylinder.filling_gauge_kpa
    full = figures.gauge_read(cylinder.filling_gauge_kpa, policy.pressure_unit)
    if ratio > _PLAUSIBLE_FULL_OVER:
        reading = figures.gauge_read(cylinder.gauge_kpa, policy.pressure_unit)
        yield remark("gauge_above_filling", cylinder, name=name, reading=reading, full=full)
    elif 0.0 < ratio < _VERY_LOW_SHARE:
        value = cylinder.gauge_kpa / KPA_PER_PSI
        meant = ""
        if value * KPA_PER_BAR <= _PLAUSIBLE_FULL_OVER * cylinder.filling_gauge_kpa and value > 20.0:
            meant = f" Written as {figures.plain(value, 0)} psi, it may have been {figures.plain(value, 0)} bar."
        bar, psi = (figures.gauge_read(cylinder.gauge_kpa, unit) for unit in ("bar", "psi"))
        yield remark("gauge_very_low", cylinder, name=name, bar=bar, psi=psi, full=full, meant=meant)
