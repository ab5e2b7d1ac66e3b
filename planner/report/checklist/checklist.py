"""The checklists that fit a plan: before departure, at each change, on arrival, on return.

Lines come from `planner/trade/data/checklists.csv`, those of the service from its own file. A no-go plan has no lists
to travel by: only what to draw where cylinders are still missing.
"""

from __future__ import annotations

from collections.abc import Iterable

from planner.report.checklist.changes import changes
from planner.report.checklist.data import ChangeList, Checklist, ChecklistItem, Checklists, WriteIn
from planner.report.checklist.facts import Facts, trip_facts
from planner.report.checklist.items import items
from planner.report.checklist.table import COMMON_PRACTICE
from planner.results import Plan, SupplyPlan

LISTS = {
    "drawing": ("draw", "Draw cylinders", "A plan can only be go with readings: write them here and plan again."),
    "before_departure": ("before", "Before departure", "No departure with a line open."),
    "arrival": ("arrival", "On arrival", "The travel supply stays on until gas flows from the wall."),
    "return": ("return", "On return", "A cylinder left open is empty, and a fire hazard."),
}
"""Key, title and note of each list."""
MOST_TO_DRAW = 8
"""Blanks for no more cylinders than this."""


def checklists(plan: Plan) -> Checklists:
    """Every list of a plan."""
    facts = trip_facts(plan)
    drawing = (_list(plan, "drawing", facts, _to_draw(plan)),) if "to_draw" in facts.words else ()
    if not plan.go:
        return Checklists(False, drawing, (), (), _sources(drawing, ()))
    before = (*drawing, _list(plan, "before_departure", facts))
    after = (_list(plan, "arrival", facts), _list(plan, "return", facts))
    on_the_way = changes(plan)
    return Checklists(True, before, on_the_way, after, _sources((*before, *after), on_the_way))


def _list(plan: Plan, name: str, facts: Facts, readings: tuple[WriteIn, ...] = ()) -> Checklist:
    key, title, note = LISTS[name]
    return Checklist(
        key=key,
        title=title,
        note=note,
        items=items(plan, name, facts),
        readings=readings,
        signed=(
            WriteIn(f"{key}.time", "time", f"{title}: time when done"),
            WriteIn(f"{key}.initials", "initials", f"{title}: initials of who read"),
            WriteIn(f"{key}.second.initials", "second", f"{title}: initials of who answered"),
        ),
    )


def _to_draw(plan: Plan) -> tuple[WriteIn, ...]:
    """A box for the gauge of every cylinder still to be drawn, of the first size that is enough."""
    found = []
    for name, supply in plan.supplies.items():
        full = _first_count(supply)
        if supply.supply.kind == "sizes" and full is not None:
            size, count = full
            found += [
                WriteIn(f"draw.{name}.{number}.gauge", f"{size} {number}", f"gauge of {size} number {number} ({name})")
                for number in range(1, min(count, MOST_TO_DRAW) + 1)
            ]
    return tuple(found)


def _first_count(supply: SupplyPlan) -> tuple[str, int] | None:
    return next(((full.size, full.count) for full in supply.full_cylinders if full.count is not None), None)


def _sources(lists: Iterable[Checklist], on_the_way: Iterable[ChangeList]) -> tuple[str, ...]:
    """Each source with the lines that it stands behind; what is not named is common practice."""
    found: dict[str, dict[str, list[str]]] = {}
    for each in lists:
        for item in each.items:
            _note(found, item, each.title, str(item.number))
    for change in on_the_way:
        for item in change.items:
            _note(found, item, f"change {change.number}", str(item.number))
    notes = tuple(f"{_places(places)}: {source}." for source, places in found.items())
    return (*notes, f"All other lines: {COMMON_PRACTICE}.")


def _note(found: dict[str, dict[str, list[str]]], item: ChecklistItem, title: str, place: str) -> None:
    if item.source != COMMON_PRACTICE:
        found.setdefault(item.source, {}).setdefault(title, []).append(place)


def _places(places: dict[str, list[str]]) -> str:
    """`before departure 1, 4; change 1 line 3`: changes that name the same lines are told together."""
    parts: dict[str, list[str]] = {}
    for title, numbers in places.items():
        parts.setdefault(", ".join(numbers), []).append(title)
    told = []
    for line, titles in parts.items():
        lists = [title for title in titles if not title.startswith("change ")]
        changed = ", ".join(title.removeprefix("change ") for title in titles if title.startswith("change "))
        told += [f"{title} {line}" for title in lists]
        if changed:
            told.append(f"change {changed} line {line}")
    return "; ".join(told)
