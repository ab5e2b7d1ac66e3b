"""What was read of the gauge of each cylinder, from the profile and the log of the crew, and what two readings tell.

Each reading carries what the temperature of its gas may be: its own, or a range about the last one given.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from planner.afterwards.logbook import Closing, Entry, Logbook
from planner.constants import REFERENCE_TEMPERATURE_DEGC
from planner.cylinders.fall import Readings
from planner.cylinders.gauge_doubt import Reading, doubt_between, half_division_kpa, water_capacities_l
from planner.cylinders.measured import Measured, measure
from planner.model import Cylinder, Policy, Supply, Trip


def cylinders_of(supply: Supply, label: str) -> tuple[Cylinder, ...]:
    """The cylinder of a label, on the supply or in its store; every one of a manifold. Raises KeyError for none."""
    if supply.kind == "manifold":
        return supply.cylinders
    for cylinder in (*supply.cylinders, *(supply.store or ())):
        if cylinder.label == label:
            return (cylinder,)
    raise KeyError(label)


def labels_of(supply: Supply) -> tuple[str, ...]:
    """The labels that readings of a supply carry: its cylinders, then those of its store; of a manifold all as one."""
    if supply.kind == "manifold":
        return ("+".join(cylinder.label for cylinder in supply.cylinders),)
    return tuple(dict.fromkeys(cylinder.label for cylinder in (*supply.cylinders, *(supply.store or ()))))


def readings_of(trip: Trip, supply: Supply, log: Logbook) -> dict[str, list[Reading]]:
    """What was read of each cylinder, in the order of time, each reading with what its temperature may be.

    The temperature of the profile stands for departure, and for later until the log gives another.
    """
    found: dict[str, list[Reading]] = {}
    entries = [entry for entry in log.entries if entry.supply == supply.name]
    given = supply.temperature_degc
    if given is None:
        given = next((entry.temperature_degc for entry in entries if entry.temperature_degc is not None), None)
    for label in labels_of(supply):
        at_departure = departure_reading(trip, supply, label, given)
        if at_departure is not None and not any(each.cylinder == label and _at_departure(each) for each in entries):
            found[label] = [at_departure]
    logged: float | None = None
    for entry in (*entries, *_last_gauges(supply, log.closing)):
        if entry.temperature_degc is not None:
            logged = entry.temperature_degc
        if entry.cylinder is None or entry.gauge_kpa is None:
            continue
        known = _given_degc(supply, entry.cylinder, given) if logged is None else logged
        degc, between = _degc(entry.temperature_degc, known, supply.coldest_degc)
        if entry.temperature_degc is None and entry.minute <= 0.0:
            degc, between = _departure_degc(supply, entry.cylinder, given)
        read = Reading(
            max(0.0, entry.minute),
            entry.gauge_kpa,
            entry.read_to_kpa,
            degc,
            entry.to_the_minute,
            between,
            entry.where,
            entry.refilled,
        )
        found.setdefault(entry.cylinder, []).append(read)
    return found


def _last_gauges(supply: Supply, closing: Closing | None) -> list[Entry]:
    """The last gauges of a supply as readings; of a cylinder refilled since, what was left is not known."""
    return [
        Entry(
            closing.minute,
            supply.name,
            last.cylinder,
            last.gauge_kpa,
            read_to_kpa=last.read_to_kpa,
            temperature_degc=last.temperature_degc,
            to_the_minute=closing.to_the_minute,
            where=last.where,
        )
        for last in (() if closing is None else closing.last)
        if closing is not None and last.supply == supply.name and not last.refilled
    ]


def _at_departure(entry: Entry) -> bool:
    return entry.gauge_kpa is not None and entry.minute <= 0.0


def _given_degc(supply: Supply, label: str, given: float | None) -> float | None:
    """The temperature that the profile gives for a cylinder: its own, else that of its supply, which is `given`."""
    own = min(cylinders_of(supply, label), key=lambda each: each.gauge_kpa).temperature_degc
    return given if own is None else own


Degc = tuple[float | None, tuple[float, float] | None]


def _departure_degc(supply: Supply, label: str, first_given: float | None) -> Degc:
    """The temperature of a reading at departure: the profile's, else as of any reading without its own."""
    cylinder = min(cylinders_of(supply, label), key=lambda each: each.gauge_kpa)
    told = cylinder.temperature_degc if cylinder.temperature_degc is not None else supply.temperature_degc
    if told is None and first_given is not None:
        between = _degc(None, first_given, supply.coldest_degc)[1]
        return REFERENCE_TEMPERATURE_DEGC, between
    return _degc(told, told, supply.coldest_degc)


def _degc(told: float | None, given: float | None, coldest: float | None) -> Degc:
    """The temperature of a reading as far as it is known, and between what it may be.

    Without its own it may be anything from the colder of the last one given and `coldest` to the warmer of the last
    one given and 21.1 degC.
    """
    if told is not None:
        return told, (told, told)
    if given is None and coldest is None:
        return None, None
    known = REFERENCE_TEMPERATURE_DEGC if given is None else given
    cold = min(known, known if coldest is None else coldest)
    return known, (cold, max(known, REFERENCE_TEMPERATURE_DEGC))


def departure_reading(trip: Trip, supply: Supply, label: str, first_given_degc: float | None = None) -> Reading | None:
    """The reading of the profile, as that of departure; `first_given_degc` is the first temperature of the log.

    Of a store only where it is known to have been read before departure, for a store is written anew after each trip.
    """
    cylinder = min(cylinders_of(supply, label), key=lambda each: each.gauge_kpa)
    if supply.store is not None:
        known = trip.departs is not None and cylinder.checked is not None
        if not known or cylinder.checked > trip.departs:  # type: ignore[operator]
            return None
    degc, between = _departure_degc(supply, label, first_given_degc)
    return Reading(0.0, cylinder.gauge_kpa, half_division_kpa(trip.policy.pressure_unit), degc, degc_range=between)


def measured_between(
    cylinders: Sequence[Cylinder],
    policy: Policy,
    first: Reading,
    second: Reading,
    minutes: tuple[float, float] | None = None,
) -> Measured:
    """The flow between two readings of one gauge, with its range (`planner.cylinders.measured`).

    `minutes`: from when to when, where a cylinder kept its gauge before or after; else those of the readings.
    """
    start, end = (first.minute, second.minute) if minutes is None else minutes
    doubt = doubt_between(cylinders, policy, replace(first, minute=start), replace(second, minute=end))
    capacity = water_capacities_l(cylinders)[0]
    gas = cylinders[0].counted_as

    def found(first_degc: float | None, second_degc: float | None) -> Measured:
        return measure(
            Readings(first.gauge_kpa, second.gauge_kpa, end - start, capacity, first_degc, second_degc, gas), doubt
        )

    as_known = found(first.temperature_degc, second.temperature_degc)
    (first_cold, first_warm), (second_cold, second_warm) = first.degc_between, second.degc_between
    if (first_cold, second_cold) == (first_warm, second_warm):
        return as_known
    least, most = found(first_warm, second_cold), found(first_cold, second_warm)
    return replace(
        as_known,
        lowest_l_per_min=min(as_known.lowest_l_per_min, least.lowest_l_per_min),
        highest_l_per_min=max(as_known.highest_l_per_min, most.highest_l_per_min),
        highest_same_capacity_l_per_min=max(
            as_known.highest_same_capacity_l_per_min, most.highest_same_capacity_l_per_min
        ),
    )
