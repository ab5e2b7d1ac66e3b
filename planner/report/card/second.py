"""The second sheet, as plain data: changes, arrival, return, readings that the front has no row for."""

from __future__ import annotations

from typing import NamedTuple

from planner import figures
from planner.report import words
from planner.report.card.legs import read_where, sole_labels
from planner.report.checklist.checklist import checklists
from planner.report.checklist.data import ChangeList, Checklist
from planner.report.log.log import LogRow, battery_leads, battery_of, log
from planner.results import Plan, TurnBack

STARTS, INSIDE = "start", "between"


class ReadingRow(NamedTuple):
    """A reading that has no box on the front or in a change: `where` and `what` say of what and when.

    `key` names its boxes; `expected`, `leak` with what each minute later takes off it, and `least` are empty where they
    do not apply. `flow` is False where none runs. `last`: the last gauge of a cylinder, which may have been filled
    since.
    """

    key: str
    where: str
    what: str
    expected: str
    least: str
    flow: bool
    leak: str = ""
    leak_a_minute: str = ""
    last: bool = False


class Second(NamedTuple):
    """The whole second sheet. `rows` are readings without a box elsewhere; `free` are the keys of blank ones."""

    changes: tuple[ChangeList, ...]
    after: tuple[Checklist, ...]
    turn_back: str
    rows: tuple[ReadingRow, ...]
    free: tuple[str, ...]


def second(plan: Plan) -> Second:
    """The second sheet of a plan."""
    lists = checklists(plan)
    rows = [row for part in log(plan) for row in part.rows]
    written = {blank.name for change in lists.changes for blank in change.blanks}
    sole = sole_labels(plan)
    return Second(
        changes=lists.changes,
        after=lists.after,
        turn_back=turn_back(plan),
        rows=tuple(_reading(plan, sole, row) for row in rows if _left_over(plan, row, written)),
        free=tuple(row.key for row in rows if row.free),
    )


def _left_over(plan: Plan, row: LogRow, written: set[str]) -> bool:
    if row.free or not row.supply:
        return not row.free and not battery_leads(plan, row.cylinder)
    if row.at == "end" or row.what == "before departure" or not row.gauge:
        return False
    return f"log.{row.key}.gauge" not in written


def _reading(plan: Plan, sole: frozenset[str], row: LogRow) -> ReadingRow:
    what = row.what
    if row.leg is not None and row.at in (STARTS, INSIDE):
        flow = row.what.rpartition(", ")[2]
        what = f"{'start of ' if row.at == STARTS else ''}leg {row.leg + 1}, {flow}"
    return ReadingRow(
        key=row.key,
        where=read_where(plan, sole, row.supply, row.cylinder),
        what=", ".join(filter(None, (" ".join(filter(None, (row.elapsed, row.clock))), what))),
        expected="" if row.expected == figures.NONE else row.expected,
        least="" if row.least == figures.NONE else row.least,
        flow=row.leg is not None and bool(row.supply),
        leak=row.leak,
        leak_a_minute=row.leak_a_minute,
        last=row.last,
    )


def turn_back(plan: Plan) -> str:
    """Until when one can turn back or divert, and the supply that decides it."""
    texts = [_window(plan, window) for window in plan.turn_backs]
    if not any(window.to is None for window in plan.turn_backs):
        texts.insert(0, "CANNOT turn back at any minute")
    known = {window.leg for window in plan.turn_backs}
    texts += [
        f"CANNOT divert to {leg.divert.to} at any minute"
        for leg in plan.trip.legs
        if leg.divert is not None and leg.name not in known
    ]
    return "; ".join(texts)


def _window(plan: Plan, window: TurnBack) -> str:
    """`Can turn back until minute 54 (15:14, cart decides)`; a diversion says from when on."""
    what = "Can turn back" if window.to is None else f"can divert to {window.to}"
    if window.from_min > 0.0:
        what += f" from minute {figures.steps_up(window.from_min, 1.0)}"
    decides = window.decided_by if window.by_battery is None else battery_of(window.by_battery)
    if decides is None:
        return f"{what} at any minute" if window.from_min <= 0.0 else f"{what} on, to the end of its leg"
    return f"{what} until {words.minute_and_clock(plan, window.to_min)}, {decides} decides"
