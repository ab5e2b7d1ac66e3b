"""The lines of one list that fit, numbered, with the service's own at its end."""

from __future__ import annotations

from planner.naming import listed
from planner.report.checklist.data import ChecklistItem
from planner.report.checklist.facts import Facts
from planner.report.checklist.table import EACH_BACKUP, EACH_FIXED, TableRow, lines_that_hold, words_of
from planner.results import Plan

OWN_PART = "Service's own"


def items(plan: Plan, name: str, facts: Facts) -> tuple[ChecklistItem, ...]:
    """The lines of a list whose condition is met, then those that the service has added to it."""
    found: list[ChecklistItem] = []
    for row in lines_that_hold(name, facts.words):
        for key, texts in _repeats(plan, row, facts.texts):
            ask, answer = row.filled(texts)
            found.append(ChecklistItem(key, len(found) + 1, row.part, ask, answer, row.source))
    for number, line in enumerate((line for line in plan.trip.policy.own_lines if line.list == name), start=1):
        source = line.source or "as the service states"
        found.append(ChecklistItem(f"own{number}", len(found) + 1, OWN_PART, line.text, "", source, own=True))
    return tuple(found)


def _fixed_supplies(plan: Plan) -> tuple[tuple[str, str], ...]:
    """Name and backup of every supply that stays with a vehicle."""
    return tuple(
        (name, supply.supply.backup or "the portable supply")
        for name, supply in plan.supplies.items()
        if supply.supply.fixed and supply.supply.gas == "oxygen"
    )


def by_backup(plan: Plan) -> dict[str, list[str]]:
    """The supplies that stay with a vehicle, by what is gone over to when they fail; without those that have none."""
    found: dict[str, list[str]] = {}
    for name, backup in _fixed_supplies(plan):
        if plan.supplies[name].supply.backup:
            found.setdefault(backup, []).append(name)
    return found


def backup_text(backup: str) -> str:
    """Under what name the texts of a plan hold what going over to a backup buys."""
    return f"vehicle_supply_lost_buys: {backup}"


def _repeats(plan: Plan, row: TableRow, texts: dict[str, str]) -> list[tuple[str, dict[str, str]]]:
    """Key and figures of each printing of a line: once, or once for each vehicle's supply, or for each backup."""
    known = words_of(row.when)
    if EACH_FIXED in known:
        each = [{"fixed_supply": name, "backup": backup} for name, backup in _fixed_supplies(plan)]
    elif EACH_BACKUP in known:
        each = [
            {
                "fixed_supply": listed(names, "or"),
                "backup": backup,
                "vehicle_supply_lost_buys": texts.get(backup_text(backup), ""),
            }
            for backup, names in by_backup(plan).items()
        ]
    else:
        return [(row.key, texts)]
    return [
        (row.key if number == 1 else f"{row.key}{number}", {**texts, **own}) for number, own in enumerate(each, start=1)
    ]
