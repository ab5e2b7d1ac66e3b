"""What is to be said of a log beside its figures: another print, unread supplies, cylinders that nobody wrote down."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from planner.logbook import Logbook
from planner.problems import Finding
from planner.results import Plan
from planner.turns import Gauged, labels_of


def remarks(plan: Plan, log: Logbook, known: Mapping[str, Gauged]) -> Iterator[Finding]:
    """Cautions and notes about a log and its plan."""
    if log.fingerprint is not None and not plan.trip.fingerprint.startswith(log.fingerprint.lower()):
        yield Finding(
            "caution",
            "other_print",
            f"The log carries the fingerprint {log.fingerprint}, the profile has {plan.trip.fingerprint[:12]}: one was "
            "changed after the paper was printed.",
            "Compare with the profile that was printed, or take the plan of now as it is.",
        )
    drawn = {use.supply for leg in plan.trip.legs for use in leg.uses}
    for name, whole in known.items():
        yield from _of_supply(name, whole, log, drawn=name in drawn)


def _of_supply(name: str, whole: Gauged, log: Logbook, *, drawn: bool) -> Iterator[Finding]:
    read = [entry for entry in log.entries if entry.supply == name and entry.gauge_kpa is not None]
    closed = log.closing is not None and any(last.supply == name for last in log.closing.last)
    if drawn and not read and not closed:
        yield Finding(
            "note",
            "not_read",
            f"{name}: no reading; it is taken as the plan has it.",
            "Read its gauge and write it down.",
        )
    for label in whole.unlogged:
        yield Finding(
            "caution",
            "use_not_written",
            f"{name} {label} fell while the log has another cylinder in use: when it was in use is not known.",
            "Look which cylinder is open, shut the other, and write down changes when they are made.",
        )
    for label in labels_of(whole.supply):
        found = whole.readings.get(label)
        if found and whole.latest(label) is None:
            yield Finding(
                "caution",
                "came_off_unread",
                f"{name} {label} came off at a gauge that nobody wrote down: it counts as empty.",
                "Read it and write it down.",
            )
    if whole.supply.store is not None:
        for entry in read:
            if whole.readings[entry.cylinder or ""][0].minute > 0.0 and entry is next(
                each for each in read if each.cylinder == entry.cylinder
            ):
                yield Finding(
                    "note",
                    "no_departure_reading",
                    f"{name} {entry.cylinder} has no reading at departure: what it gave before {entry.minute:g} min is "
                    "not known.",
                    "Read each cylinder from a store at departure.",
                    entry.where.line or None,
                    entry.where.column or None,
                )
    if log.closing is not None:
        for last in log.closing.last:
            if last.supply == name and last.gauge_kpa == 0.0:
                yield Finding(
                    "caution",
                    "last_gauge_zero",
                    f"{name} {last.cylinder} has a last gauge of 0: after bleeding that says nothing of the gas.",
                    "Read it again with the valve open, then shut and bleed it, and write that down.",
                    last.where.line or None,
                    last.where.column or None,
                )
