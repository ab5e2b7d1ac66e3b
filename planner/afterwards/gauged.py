"""Which cylinder of a supply was in use when, and what its gauge is known to have shown, from the log of the crew.

The cylinder that was read is taken to be in use, and a reading of another one is a change. At departure, where all are
read, it is the first in the order of the plan. Where both are read at a change, what is read next tells which was in
use from then on. A cylinder that was not in use kept its gauge. Where a gauge fell although the log has another one
in use, when it was in use is not known, only between which readings. One that was filled on the way is another
cylinder from then on: nothing is measured over its filling.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise
from math import inf
from typing import NamedTuple

from planner.afterwards.logbook import Entry, Logbook
from planner.constants import MINUTE_NOISE, REFERENCE_TEMPERATURE_DEGC
from planner.cylinders.fall import Readings
from planner.cylinders.gauge_doubt import Reading, doubt_between, half_division_kpa, water_capacities_l
from planner.cylinders.measured import Measured, measure
from planner.model import Cylinder, Policy, Supply, Trip
from planner.results import Plan


@dataclass(frozen=True, slots=True)
class InUse:
    """A cylinder in use: from some minute between `from_low` and `from_high` to one between `to_low` and `to_high`."""

    label: str
    from_low: float
    from_high: float
    to_low: float
    to_high: float

    def may_overlap(self, start: float, end: float) -> bool:
        """True where it may have been in use at some time between two minutes."""
        return self.from_low < end - MINUTE_NOISE and self.to_high > start + MINUTE_NOISE


class _Turns(NamedTuple):
    """When one cylinder was in use, turn after turn: its places among the turns of its supply, and the widest times."""

    places: list[int]
    from_low: list[float]
    to_high: list[float]

    def next_after(self, minute: float) -> int | None:
        """The place of the first turn that may go on after a minute."""
        turn = bisect_right(self.to_high, minute + MINUTE_NOISE)
        return self.places[turn] if turn < len(self.places) else None

    def begins_after(self, minute: float) -> float:
        """From when on it may be in use after a minute; inf where it is not."""
        turn = bisect_right(self.to_high, minute + MINUTE_NOISE)
        return self.from_low[turn] if turn < len(self.places) else inf

    def ends_before(self, minute: float) -> float:
        """Until when it may have been in use before a minute; -inf where it was not."""
        turn = bisect_left(self.from_low, minute - MINUTE_NOISE)
        return self.to_high[turn - 1] if turn else -inf


_NO_TURNS = _Turns([], [], [])


@dataclass(frozen=True)
class Gauged:
    """A supply whose cylinders have gauges: what was read of each, in the order of time, and which was in use.

    Asked of every pair of minutes, so that no answer goes through all readings or all turns.
    """

    supply: Supply
    policy: Policy
    readings: dict[str, list[Reading]]
    in_use: tuple[InUse, ...] = ()
    unlogged: tuple[str, ...] = field(default=())
    """Cylinders whose gauge fell although the log has another one in use."""

    def cylinders(self, label: str) -> tuple[Cylinder, ...]:
        """The cylinder of a label; all of a manifold."""
        return cylinders_of(self.supply, label)

    @cached_property
    def minutes(self) -> list[float]:
        """Every minute at which something was read, in order."""
        return sorted({reading.minute for found in self.readings.values() for reading in found})

    @cached_property
    def _turns(self) -> dict[str, _Turns]:
        found: dict[str, _Turns] = {}
        for place, turn in enumerate(self.in_use):
            of_label = found.setdefault(turn.label, _Turns([], [], []))
            of_label.places.append(place)
            of_label.from_low.append(turn.from_low)
            of_label.to_high.append(turn.to_high)
        return found

    @cached_property
    def _fillings(self) -> dict[str, list[float]]:
        filled = {label: [each.minute for each in found if each.refilled] for label, found in self.readings.items()}
        return {label: minutes for label, minutes in filled.items() if minutes}

    @cached_property
    def known_until(self) -> list[float]:
        """For each minute, how far on every gauge stays known of what may be in use from it."""
        return [min((self._until(label, start) for label in self._turns), default=-inf) for start in self.minutes]

    @cached_property
    def known_since(self) -> list[float]:
        """For each minute, how far back it is known what the gauges showed at it of what may have been in use."""
        return [max((self._since(label, end) for label in self._turns), default=inf) for end in self.minutes]

    def involved(self, start: float, end: float) -> tuple[str, ...]:
        """The cylinders that may have been in use between two minutes, in the order of use."""
        firsts = {label: turns.next_after(start) for label, turns in self._turns.items()}
        found = [(first, label) for label, first in firsts.items() if first is not None]
        return tuple(label for first, label in sorted(found) if self.in_use[first].from_low < end - MINUTE_NOISE)

    def at(self, label: str, minute: float) -> Reading | None:
        """What the gauge of a cylinder showed at a minute; None where it was not read while it stayed the same."""
        found = self.readings.get(label, [])
        place = bisect_right(found, minute + MINUTE_NOISE, key=_minute)
        before, after = found[max(0, place - 1) : place], found[place : place + 1]
        if before and (
            before[0].minute > minute - MINUTE_NOISE or not self._may_be_used(label, before[0].minute, minute)
        ):
            return before[0]
        if after and not after[0].refilled and not self._may_be_used(label, minute, after[0].minute):
            return after[0]
        return None

    def ends(self, label: str, start: float, end: float) -> tuple[Reading, Reading] | None:
        """What the gauge of a cylinder showed at two minutes; None where one is not known, or it was filled between."""
        if self._filled_after(label, start) < end - MINUTE_NOISE:
            return None
        first, second = self.at(label, start), self._at_end(label, end)
        return None if first is None or second is None else (first, second)

    def _until(self, label: str, start: float) -> float:
        """How far on, from a minute, what a cylinder gave is known, or is nothing since it was not in use."""
        used = self._turns[label].begins_after(start)
        if self.at(label, start) is not None:
            used = max(used, self._filled_after(label, start))
        return used + MINUTE_NOISE

    def _since(self, label: str, end: float) -> float:
        """How far back, from a minute, what a cylinder gave is known, or is nothing since it was not in use."""
        if self._at_end(label, end) is not None:
            return -inf
        return self._turns[label].ends_before(end) - MINUTE_NOISE

    def _filled_after(self, label: str, minute: float) -> float:
        """When a cylinder was filled next after a minute; inf where it was not."""
        filled = self._fillings.get(label, ())
        place = bisect_right(filled, minute + MINUTE_NOISE)
        return filled[place] if place < len(filled) else inf

    def _at_end(self, label: str, minute: float) -> Reading | None:
        """What a gauge showed at the end of a time; of one that was filled then, the reading before."""
        if self._filled_after(label, minute - 2.0 * MINUTE_NOISE) > minute + MINUTE_NOISE:
            return self.at(label, minute)
        found = [each for each in self.readings[label] if each.minute <= minute + MINUTE_NOISE]
        place = max(number for number, each in enumerate(found) if each.refilled)
        last = found[place - 1] if place else None
        if last is None or last.minute > minute - MINUTE_NOISE:
            return last
        return None if self._may_be_used(label, last.minute, minute) else last

    def latest(self, label: str) -> Reading | None:
        """The last reading of a cylinder, unless it was in use after it and came off at a gauge nobody wrote down."""
        found = self.readings.get(label, [])
        if not found:
            return None
        last = found[-1]
        gone = [turn for turn in self.in_use if turn.label == label and turn.to_high < inf]
        if any(turn.may_overlap(last.minute, inf) for turn in gone):
            return None
        return last

    @property
    def current(self) -> str | None:
        """The cylinder in use at the end of the log."""
        return next((turn.label for turn in reversed(self.in_use) if turn.to_high == inf), None)

    def _may_be_used(self, label: str, start: float, end: float) -> bool:
        return self._turns.get(label, _NO_TURNS).begins_after(start) < end - MINUTE_NOISE

    def between(self, label: str, first: Reading, second: Reading, minutes: tuple[float, float]) -> Measured:
        """What a cylinder gave between two readings, which hold for two minutes."""
        return measured_between(self.cylinders(label), self.policy, first, second, minutes)


def _minute(reading: Reading) -> float:
    return reading.minute


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


def gauged(plan: Plan, log: Logbook) -> dict[str, Gauged]:
    """Every supply of cylinders or of a manifold with what was read of it."""
    found = {}
    for name, supply in plan.trip.supplies.items():
        if supply.kind in ("cylinders", "manifold") and labels_of(supply):
            readings = readings_of(plan.trip, supply, log)
            whole = Gauged(supply, plan.trip.policy, readings)
            turns = _turns(plan, whole, [entry for entry in log.entries if entry.supply == name])
            found[name] = _with_unlogged(Gauged(supply, plan.trip.policy, readings, turns))
    return found


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
    for entry in entries:
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
    closing = log.closing
    for last in () if closing is None else closing.last:
        if closing is not None and last.supply == supply.name and not last.refilled:
            told = last.temperature_degc
            known = _given_degc(supply, last.cylinder, given) if logged is None else logged
            degc, between = _degc(told, known if told is None else told, supply.coldest_degc)
            read = Reading(
                closing.minute, last.gauge_kpa, last.read_to_kpa, degc, closing.to_the_minute, between, last.where
            )
            found.setdefault(last.cylinder, []).append(read)
    return found


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


def _turns(plan: Plan, whole: Gauged, entries: Sequence[Entry]) -> tuple[InUse, ...]:
    """Who was in use when, by the log; by the plan where the log says nothing."""
    name = whole.supply.name
    order = [turn for turn in plan.supplies[name].order if turn.to_min > turn.from_min]
    first = "+".join(c.label for c in whole.supply.cylinders) if whole.supply.kind == "manifold" else None
    if first is None:
        first = order[0].cylinder if order else labels_of(whole.supply)[0]
    starts: list[tuple[str, float, float]] = [(first, -inf, -inf)]
    groups = _groups(entries)
    before = 0.0
    seen = False
    for place, (minute, group) in enumerate(groups):
        current = starts[-1][0]
        change = next((entry for entry in group if entry.change_to is not None), None)
        labels = list(dict.fromkeys(entry.cylinder for entry in group if entry.cylinder is not None))
        if change is not None and change.change_to is not None:
            if change.cylinder is not None and change.cylinder != current:
                starts.append((change.cylinder, before, minute))
            starts.append((change.change_to, minute, minute))
        elif current not in labels and labels:
            planned = any(turn.from_min < minute for turn in order[1:] if turn.cylinder == labels[-1])
            if not seen and (minute <= 0.0 or not planned):
                starts = [(labels[-1], -inf, -inf)]
            else:
                starts.append((labels[-1], before, minute))
        elif len(labels) > 1 and minute > 0.0:
            other = [label for label in labels if label != current][-1]
            if _took_over(whole, groups[place + 1 :], minute, current, other):
                starts.append((other, minute, minute))
        before = minute
        seen = seen or minute > 0.0
    ends = [(low, high) for _, low, high in starts[1:]] + [(inf, inf)]
    return tuple(InUse(label, low, high, *end) for (label, low, high), end in zip(starts, ends, strict=True))


def _groups(entries: Sequence[Entry]) -> list[tuple[float, list[Entry]]]:
    """Entries that tell of a cylinder in use, by minute."""
    found: dict[float, list[Entry]] = {}
    for entry in entries:
        if entry.in_use and (entry.gauge_kpa is not None or entry.change_to is not None):
            found.setdefault(max(0.0, entry.minute), []).append(entry)
    return sorted(found.items())


def _took_over(
    whole: Gauged, later: Sequence[tuple[float, list[Entry]]], minute: float, current: str, other: str
) -> bool:
    """True where the other of two cylinders that were read at one minute was in use from then on."""
    if later:
        labels = {entry.cylinder for entry in later[0][1]}
        if (current in labels) != (other in labels):
            return other in labels
    fell = {label: _fell_kpa(whole, label, minute) for label in (current, other)}
    fell_current, fell_other = fell[current], fell[other]
    if fell_current is not None and fell_other is not None:
        return fell_other > fell_current
    gauge = next(r.gauge_kpa for r in reversed(whole.readings[current]) if r.minute <= minute)
    reading = next(r.read_to_kpa for r in reversed(whole.readings[current]) if r.minute <= minute)
    return gauge <= whole.policy.change_over_at_kpa + whole.policy.gauge_allowance_kpa + reading


def _fell_kpa(whole: Gauged, label: str, minute: float) -> float | None:
    found = whole.readings.get(label, [])
    here = [reading for reading in found if reading.minute <= minute]
    after = [reading for reading in found if reading.minute > minute]
    return here[-1].gauge_kpa - after[0].gauge_kpa if here and after and not after[0].refilled else None


def _with_unlogged(whole: Gauged) -> Gauged:
    """The same, with cylinders that fell and of which the log knows no use: in use some time between two readings."""
    turns, fallen = list(whole.in_use), []
    for label, found in whole.readings.items():
        for first, second in pairwise(found):
            if (
                second.refilled
                or second.minute <= first.minute
                or any(turn.label == label and turn.may_overlap(first.minute, second.minute) for turn in whole.in_use)
            ):
                continue
            if whole.between(label, first, second, (first.minute, second.minute)).lowest_l_per_min > 0.0:
                turns.append(InUse(label, first.minute, second.minute, first.minute, second.minute))
                fallen.append(label)
    turns.sort(key=lambda turn: turn.from_low)
    return Gauged(whole.supply, whole.policy, whole.readings, tuple(turns), tuple(dict.fromkeys(fallen)))
