"""The lines of one list that fit, numbered, with the service's own at its end."""

from __future__ import annotations

from planner.report.checklist.data import Item
from planner.report.checklist.facts import Facts
from planner.report.checklist.table import EACH_FIXED, Row, chosen, words_of
from planner.results import Plan

OWN_PART = "Service's own"


def items(plan: Plan, name: str, facts: Facts) -> tuple[Item, ...]:
    """The lines of a list whose condition is met, then those that the service has added to it."""
    found: list[Item] = []
    for row in chosen(name, facts.words):
        for key, texts in _repeats(plan, row, facts.texts):
            ask, answer = row.filled(texts)
            found.append(Item(key, len(found) + 1, row.part, ask, answer, row.source))
    for number, line in enumerate((line for line in plan.trip.policy.own_lines if line.list == name), start=1):
        source = line.source or "as the service states"
        found.append(Item(f"own{number}", len(found) + 1, OWN_PART, line.text, "", source, own=True))
    return tuple(found)


def fixed_supplies(plan: Plan) -> tuple[tuple[str, str], ...]:
    """Name and backup of every supply that stays with a vehicle."""
    return tuple(
        (name, supply.supply.backup or "the portable supply")
        for name, supply in plan.supplies.items()
        if supply.supply.fixed
    )


def lost_text(supply: str) -> str:
    """Under what name the texts of a plan hold what happens when a supply of a vehicle is lost."""
    return f"vehicle_supply_lost: {supply}"


def _repeats(plan: Plan, row: Row, texts: dict[str, str]) -> list[tuple[str, dict[str, str]]]:
    """Key and figures of each printing of a line: once, or once for every supply that stays with a vehicle."""
    if EACH_FIXED not in words_of(row.when):
        return [(row.key, texts)]
    found = []
    for number, (name, backup) in enumerate(fixed_supplies(plan), start=1):
        own = {"fixed_supply": name, "backup": backup, "vehicle_supply_lost": texts.get(lost_text(name), "")}
        own["vehicle_supply_lost_buys"] = own["vehicle_supply_lost"]
        found.append((row.key if number == 1 else f"{row.key}{number}", {**texts, **own}))
    return found
