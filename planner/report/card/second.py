"""The second sheet, as plain data: changes, arrival, return, readings that the front has no row for."""

from __future__ import annotations

from typing import NamedTuple

from planner.report.checklist.checklist import checklists
from planner.report.checklist.data import Change, Checklist
from planner.report.log.log import LogRow, log
from planner.results import Plan


class Second(NamedTuple):
    """The whole second sheet. `rows` are readings that have no box on the front or in a change; `free` are blank."""

    changes: tuple[Change, ...]
    after: tuple[Checklist, ...]
    turn_back: str
    rows: tuple[LogRow, ...]
    free: tuple[LogRow, ...]


def second(plan: Plan, turn_back: str) -> Second:
    """The second sheet of a plan; `turn_back` says until when to turn back."""
    lists = checklists(plan)
    rows = [row for part in log(plan) for row in part.rows]
    written = {blank.name for change in lists.changes for blank in change.blanks}
    return Second(
        changes=lists.changes,
        after=lists.after,
        turn_back=turn_back,
        rows=tuple(row for row in rows if not row.free and _left_over(row, written)),
        free=tuple(row for row in rows if row.free),
    )


def _left_over(row: LogRow, written: set[str]) -> bool:
    if row.at == "end" or row.what == "before departure" or not row.gauge:
        return False
    return f"log.{row.key}.gauge" not in written
