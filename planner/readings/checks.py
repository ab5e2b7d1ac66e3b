"""What a log cannot say: a gauge that rises without a change of cylinder, a time after the end."""

from __future__ import annotations

from itertools import pairwise

from planner import figures
from planner.afterwards.gauges_read import cylinders_of, labels_of, measured_between, readings_of
from planner.afterwards.logbook import Logbook
from planner.afterwards.schedule import real_bounds
from planner.afterwards.vessels import amounts
from planner.cylinders.gauge_doubt import Reading
from planner.model import Supply
from planner.problems import NOWHERE, Position, Problem
from planner.results import Plan

AFTER_END_MIN = 1.0
"""A reading may be so many minutes after the end: both times are known to a minute only."""


def impossible(plan: Plan, log: Logbook, *, late: bool = False) -> list[Problem]:
    """Every entry that cannot be, with its place; `late` where the trip is said to be on its way still."""
    return [*(() if late else _after_the_end(plan, log)), *_rising(plan, log), *_filled(plan, log)]


def _after_the_end(plan: Plan, log: Logbook) -> list[Problem]:
    end = real_bounds(plan.trip.legs, log)[-1]
    return [
        _problem(
            log,
            entry.where,
            "time_after_end",
            f"a reading at {figures.minutes_set(entry.minute, 6)}, where the trip ends at "
            f"{figures.minutes_set(end, 6)}",
            "readings up to the end of the trip, and the last gauges under `closed`",
            "check the time; if the trip took longer, write in which leg it was read, as in "
            f"`leg: {len(plan.trip.legs)}`, or when the patient came off, as `ended:` under `closed`",
        )
        for entry in log.entries
        if entry.minute > end + AFTER_END_MIN
    ]


def _rising(plan: Plan, log: Logbook) -> list[Problem]:
    found = []
    for supply in plan.trip.supplies.values():
        if supply.kind in ("cylinders", "manifold"):
            readings = readings_of(plan.trip, supply, log)
            for label in labels_of(supply):
                found += _rising_one(plan, log, supply, label, readings.get(label, []))
    return found


def _filled(plan: Plan, log: Logbook) -> list[Problem]:
    """Vessels of liquid that hold more than before, whatever the readings were off by."""
    found = []
    for name, readings in amounts(plan.trip, log).items():
        where = {entry.minute: entry.where for entry in log.entries if entry.supply == name}
        for first, second in pairwise(readings):
            if second.amount_kg > first.amount_kg + first.read_to_kg + second.read_to_kg:
                fix = "check both weights and their units; one that was filled is planned again with its new amount"
                at = f"at {figures.minutes_set(second.minute, 6)}"
                told = f"{name} {at} holds more than before"
                place = where.get(second.minute, NOWHERE)
                found.append(_problem(log, place, "amount_rises", told, "an amount that falls, or stays", fix))
    return found


def _rising_one(plan: Plan, log: Logbook, supply: Supply, label: str, readings: list[Reading]) -> list[Problem]:
    """Readings of one cylinder that show more gas than the one before, whatever the gauge was off by."""
    unit = plan.trip.policy.pressure_unit
    found = []
    for first, second in pairwise(readings):
        known, where = first.where, second.where
        if not second.refilled and _rises(plan, supply, label, first, second):
            before = figures.gauge_read(first.gauge_kpa, unit)
            said = "in the profile" if known == NOWHERE else f"on line {known.line}" if known.line else "before"
            fix = (
                "check the reading and the label; another cylinder has a label of its own, and one that was filled in "
                "between says so with `refilled: true`"
            )
            if known == NOWHERE:
                fix = "add its reading at departure, `time: 0 min`, or correct the profile with --set"
            found.append(
                _problem(
                    log,
                    where,
                    "gauge_rises",
                    f"{figures.gauge_read(second.gauge_kpa, unit)} on {supply.name} {label} after {before} {said}",
                    "a gauge that falls, or stays, but for what it can be read to",
                    fix,
                )
            )
    return found


def _rises(plan: Plan, supply: Supply, label: str, first: Reading, second: Reading) -> bool:
    if second.gauge_kpa <= first.gauge_kpa + first.read_to_kpa + second.read_to_kpa:
        return False
    if second.minute <= first.minute:
        return True
    measured = measured_between(cylinders_of(supply, label), plan.trip.policy, first, second)
    return measured.highest_l_per_min < 0.0


def _problem(log: Logbook, where: Position, code: str, found: str, allowed: str, fix: str) -> Problem:
    return Problem(log.file, where.line, where.column, code, found, allowed, fix)
