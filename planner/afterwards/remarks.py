"""What is to be said of a log beside its figures.

Another print, unread supplies, departure readings that differ from the plan's, cylinders that nobody wrote down, and
cylinders that the plan does not have in use then.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Final

from planner import figures
from planner.afterwards.gauged import Gauged
from planner.afterwards.gauges_read import departure_reading, labels_of
from planner.afterwards.logbook import Logbook
from planner.afterwards.supply_now import carried, not_surely_on_board
from planner.afterwards.unit_slip import unit_doubts
from planner.constants import GAUGES_ALIKE_KPA, REFERENCE_TEMPERATURE_DEGC
from planner.cylinders.gauge_doubt import Reading
from planner.gas import contents
from planner.model import Supply
from planner.moments import minutes_between
from planner.naming import labelled
from planner.problems import Finding, finding
from planner.results import Order, Plan

CHANGED_WITHIN_MIN: Final = 5.0
"""A change may come so much earlier or later than planned without a word (by decision)."""

_SAME_READING_MIN: Final = 1.0
"""Two readings that were written for one minute are at most so far apart: times are known to a minute."""


def remarks(plan: Plan, log: Logbook, known: Mapping[str, Gauged], bounds_min: Sequence[float]) -> Iterator[Finding]:
    """Cautions and notes about a log and its plan. `bounds_min`: when the legs really began, and the end."""
    yield from unit_doubts(plan, log)
    if log.fingerprint is not None and not plan.trip.fingerprint.startswith(log.fingerprint.lower()):
        yield finding(
            "caution",
            "other_print",
            f"The log carries the fingerprint {log.fingerprint}, the profile has {plan.trip.fingerprint[:12]}: one was "
            "changed after the paper was printed.",
            "Compare with the profile that was printed, or take the plan of now as it is.",
        )
    if log.planned_departs is not None and plan.trip.departs is not None:
        later_min = minutes_between(log.planned_departs, plan.trip.departs)
        by = figures.minutes_set(abs(later_min))
        yield finding(
            "note",
            "left_at",
            f"The trip left at {plan.trip.departs:%H:%M}, {by} {'later' if later_min > 0.0 else 'earlier'} than "
            "planned: every minute is counted from then.",
            "Check that nobody breathed from these supplies before.",
        )
    if log.asked is not None:
        older, now = plan.trip.fingerprint[:12], log.asked.fingerprint[:12]
        yield finding(
            "caution",
            "older_print",
            f"The form is of an older print: card {older}, and the profile is now card {now}. It is compared with the "
            f"plan of card {older}, which the form holds.",
            "Look at what was changed since, and take away every older card.",
        )
    drawn = {name for leg in plan.trip.legs for name in leg.supplies}
    for name, whole in known.items():
        yield from _of_supply(plan, name, whole, log, drawn=name in drawn)
        yield from _other_choice(plan, whole, log)
        yield from _not_on_board(plan, whole, log)
        yield from _others_in_use(plan, whole, log, bounds_min)


def _of_supply(plan: Plan, name: str, whole: Gauged, log: Logbook, *, drawn: bool) -> Iterator[Finding]:
    read = [entry for entry in log.entries if entry.supply == name and entry.gauge_kpa is not None]
    closed = log.closing is not None and any(last.supply == name for last in log.closing.last)
    if drawn and not read and not closed:
        yield finding(
            "note",
            "not_read",
            f"{name}: no reading; it is taken as the plan has it.",
            "Read its gauge and write it down.",
        )
    yield from _at_departure(plan, whole, log)
    for label in whole.unlogged:
        yield finding(
            "caution",
            "use_not_written",
            f"{name} {_label(whole, label)} fell while the log has another cylinder in use: when it was in use is not "
            "known.",
            "Look which cylinder is open, shut the other, and write down changes when they are made.",
        )
    for label in labels_of(whole.supply):
        found = whole.readings.get(label)
        if found and whole.latest(label) is None:
            yield finding(
                "caution",
                "came_off_unread",
                f"{name} {_label(whole, label)} came off at a gauge that nobody wrote down: it counts as empty.",
                "Read it and write it down.",
            )
    if whole.supply.store is not None:
        for entry in read:
            if whole.readings[entry.cylinder or ""][0].minute > 0.0 and entry is next(
                each for each in read if each.cylinder == entry.cylinder
            ):
                yield finding(
                    "note",
                    "no_departure_reading",
                    f"{name} {_label(whole, entry.cylinder)} has no reading at departure: what it gave before "
                    f"{figures.minutes_set(entry.minute)} is "
                    "not known.",
                    "Read each cylinder from a store at departure.",
                    entry.where,
                )
    yield from _filled(name, whole, log)
    if log.closing is not None:
        for last in log.closing.last:
            if last.supply == name and last.gauge_kpa == 0.0:
                yield finding(
                    "caution",
                    "last_gauge_zero",
                    f"{name} {_label(whole, last.cylinder)} has a last gauge of 0: after bleeding that says nothing of "
                    "the gas.",
                    "Read it again with the valve open, then shut and bleed it, and write that down.",
                    last.where,
                )


def _at_departure(plan: Plan, whole: Gauged, log: Logbook) -> Iterator[Finding]:
    """Cautions of what was read up to departure: a last reading far from what the plan counted on, and a fall."""
    supply = whole.supply
    for label, found in whole.readings.items():
        entries = [
            entry
            for entry in log.entries
            if (entry.supply, entry.cylinder) == (supply.name, label)
            and entry.gauge_kpa is not None
            and entry.minute <= 0.0
        ]
        read = [replace(each, minute=entry.minute) for each, entry in zip(found, entries, strict=False)]
        if read:
            yield from _differs(plan, whole, label, read[-1])
            yield from _fell_before(whole, label, read, plan.trip.policy.pressure_unit)


def _differs(plan: Plan, whole: Gauged, label: str, read: Reading) -> Iterator[Finding]:
    """A caution where the last reading up to departure is far from what the plan counted on."""
    supply, unit = whole.supply, plan.trip.policy.pressure_unit
    counted = departure_reading(plan.trip, supply, label)
    if counted is None:
        return
    below = _held_l(read, GAUGES_ALIKE_KPA, min, supply) < _held_l(counted, 0.0, max, supply)
    if below or _held_l(read, -GAUGES_ALIKE_KPA, max, supply) > _held_l(counted, 0.0, min, supply):
        yield finding(
            "caution",
            "departure_differs",
            f"{supply.name} {_label(whole, label)} read {figures.gauge_read(read.gauge_kpa, unit)} at "
            f"departure, and the plan counted on {figures.gauge_read(counted.gauge_kpa, unit)}: another cylinder"
            f"{', a leak in the rack' if below else ', refilled'}, or misread.",
            "Read its label and its gauge again, and plan the trip with the gauge as it is.",
            read.where,
        )


def _fell_before(whole: Gauged, label: str, read: Sequence[Reading], unit: str) -> Iterator[Finding]:
    """A caution where a cylinder fell before departure by more than its readings may be off; not over a filling."""
    since = max((place for place, each in enumerate(read) if each.refilled), default=0)
    for part in (read[:since], read[since:]):
        if len(part) < 2:
            continue
        first, last = part[0], part[-1]
        minutes = max(_SAME_READING_MIN, last.minute - first.minute)
        alike_kpa = max(GAUGES_ALIKE_KPA, first.read_to_kpa + last.read_to_kpa)
        if _held_l(last, alike_kpa, min, whole.supply) < _held_l(first, 0.0, max, whole.supply):
            yield finding(
                "caution",
                "fell_before_departure",
                f"{whole.supply.name} {_label(whole, label)} fell from {figures.gauge_read(first.gauge_kpa, unit)} to "
                f"{figures.gauge_read(last.gauge_kpa, unit)} within {figures.minutes_set(minutes)}, before the trip "
                "left: a leak in the rack, a valve left open, or somebody breathed from it. What it lost then stands "
                "in none of the figures.",
                "Look at its valve, its seal and its flowmeter NOW, listen, and read it again: what leaked before "
                "leaks on.",
                last.where,
            )


def _held_l(read: Reading, more_kpa: float, degc: Callable[[tuple[float, float]], float], supply: Supply) -> float:
    """What a litre of water capacity held at a reading, or at so much more, as cold or as warm as it may have been."""
    gauge = min(contents.HIGHEST_GAUGE_KPA, max(0.0, read.gauge_kpa + more_kpa))
    between = read.degc_range or (REFERENCE_TEMPERATURE_DEGC, REFERENCE_TEMPERATURE_DEGC)
    return contents.contents_l(gauge, degc(between), 1.0, supply.gas)


def _label(whole: Gauged, label: str | None) -> str:
    """A cylinder as it is called on paper: one of air says AIR."""
    return labelled(label or "", whole.supply.gas)


def _filled(name: str, whole: Gauged, log: Logbook) -> Iterator[Finding]:
    """A note for each cylinder that was filled: it is warm at first, and the gauge falls as it cools."""
    filled = [(entry.cylinder or "", entry.where) for entry in log.entries if entry.supply == name and entry.refilled]
    last = [] if log.closing is None else [each for each in log.closing.last if each.supply == name]
    for label, where in [*filled, *((each.cylinder, each.where) for each in last if each.was_filled)]:
        yield finding(
            "note",
            "filled_since",
            f"{name} {_label(whole, label)} was filled: a cylinder just filled is warm, and its gauge falls as it "
            "cools.",
            "Read it again once it is as warm as the room, before it is counted on.",
            where,
        )
    for each in last:
        if each.refilled:
            yield finding(
                "note",
                "last_gauge_filled",
                f"{name} {_label(whole, each.cylinder)}: its gauge after the trip is not known, only the one since it "
                "was filled: what it gave after its last reading on the way is not compared.",
                "Write the gauge before filling as gauge, and the one since as refilled_to.",
                each.where,
            )


def _other_choice(plan: Plan, whole: Gauged, log: Logbook) -> Iterator[Finding]:
    """A caution where the store as it is now would give other cylinders than those that were taken along."""
    name = whole.supply.name
    if whole.supply.store is None:
        return
    chosen = [cylinder.label for cylinder in plan.trip.supplies[name].cylinders]
    logged = [entry.cylinder for entry in log.entries if entry.supply == name and entry.cylinder is not None]
    logged += [] if log.closing is None else [last.cylinder for last in log.closing.last if last.supply == name]
    other = [label for label in dict.fromkeys(logged) if label not in chosen]
    taken, took = (", ".join(_label(whole, label) for label in each) or "none" for each in (chosen, other))
    checked = {each.label: each.checked for each in whole.supply.store}
    departs = plan.trip.departs
    if other and departs is not None and all((checked[label] or departs) > departs for label in other):
        yield finding(
            "note",
            "store_read_since",
            f"{name}: the store has {took} as read since this trip left, and from it as it is now the plan takes "
            f"{taken}. What was used is held against the litres planned all the same.",
            "Nothing, if the card that was printed names the cylinders of the log.",
        )
    elif other:
        yield finding(
            "caution",
            "other_choice",
            f"{name}: from the store as it is now the plan takes {taken}, and the log has {took}: this "
            "holds the log against another choice than the one that was printed.",
            "Go by the print for what was planned, or compare with the store as it was (--close keeps it as "
            "NAME.before).",
        )


def _not_on_board(plan: Plan, whole: Gauged, log: Logbook) -> Iterator[Finding]:
    """A caution for what the rest counts on, of a trip on its way, and may stand in the store."""
    if log.closing is None:
        counted = whole.supply._replace(cylinders=carried(whole.supply, whole))
        for label in not_surely_on_board(plan.trip, counted, log):
            yield finding(
                "caution",
                "perhaps_not_on_board",
                f"{whole.supply.name}: {_label(whole, label)} is counted for the rest, and may not be on board: the "
                "log does not name it, and its store is not as it was.",
                "Look NOW, read what is there, and write it into the log.",
            )


def _others_in_use(plan: Plan, whole: Gauged, log: Logbook, bounds_min: Sequence[float]) -> Iterator[Finding]:
    """A note for each cylinder that was read while the plan has another in use; a manifold is always in use whole."""
    name = whole.supply.name
    if whole.supply.kind == "manifold":
        return
    order = [turn for turn in plan.supplies[name].order if turn.to_min > turn.from_min]
    read = [entry for entry in log.entries if entry.supply == name and entry.cylinder is not None and entry.in_use]
    read_at: dict[float, set[str | None]] = {}
    for entry in read:
        read_at.setdefault(entry.minute, set()).add(entry.cylinder)
    told = set()
    for entry in read:
        planned = _in_use(order, _planned_min(plan, entry.minute, bounds_min))
        if entry.minute <= 0.0 or not planned or planned & read_at[entry.minute]:
            continue
        pair = entry.cylinder, next(turn.cylinder for turn in order if turn.cylinder in planned)
        if pair not in told:
            told.add(pair)
            yield finding(
                "note",
                "other_in_use",
                f"{name}: {_label(whole, pair[0])} was read where the plan has {_label(whole, pair[1])} in use.",
                "Check the label. If it was not in use, write in_use: false beside its reading.",
                entry.where,
            )


def _in_use(order: Sequence[Order], minute: float) -> set[str]:
    """The cylinders that the plan has in use at a minute; around a change both."""
    return {
        turn.cylinder
        for turn in order
        if turn.from_min - CHANGED_WITHIN_MIN <= minute <= turn.to_min + CHANGED_WITHIN_MIN
    }


def _planned_min(plan: Plan, minute: float, bounds_min: Sequence[float]) -> float:
    """The planned minute that a real one stands for: the same share of the same leg, as the legs really went."""
    start = 0.0
    for leg, (began, ended) in zip(plan.trip.legs, pairwise(bounds_min), strict=True):
        if minute < ended:
            return start + leg.total_min * (minute - began) / (ended - began)
        start += leg.total_min
    return start
