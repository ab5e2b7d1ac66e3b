"""Readings of the crew, format 1: a YAML file, a table (CSV), or the filled-in form of the pack, to a logbook.

All three become one tree, which is held against one schema. Every problem is told at once, with its place: line and
column of a file, row and column of a table, or the field of the form. The format is described in
profiles/readings/README.md.
"""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from typing import Final

from planner.afterwards.logbook import Logbook
from planner.afterwards.onward import Now
from planner.model import Trip
from planner.problems import Problem, ProblemsError
from planner.readings.book import logbook
from planner.readings.left import as_left
from planner.readings.on_board import out_since, with_those_on_board
from planner.readings.onward import again
from planner.readings.times import minute_of
from planner.results import Plan
from planner.text import source
from planner.text.source import Node

__all__ = ["onward_trip", "parse_readings", "read_readings"]

TABLES: Final = (".csv", ".tsv")
WHAT: Final = "a file of readings: YAML, a table (.csv), or the filled-in form (.pdf)"


def read_readings(path: str | os.PathLike[str], plan: Plan) -> Logbook:
    """The logbook of a file of readings, held against the plan of its trip.

    The ending of the name tells the kind: `.pdf` a filled-in form, `.csv` or `.tsv` a table, all else YAML. A form
    of an older print is held against the plan that it was printed from, which the logbook then names. Raises
    `ProblemsError` with every problem at once, and no other error for any content of the file.
    """
    root, printed = _tree(path, plan)
    own = with_those_on_board(printed, root)
    left = as_left(own, root, os.fspath(path))
    found = logbook(root, os.fspath(path), left)
    if left is plan:
        return found
    older = None if printed is plan else plan.trip
    return replace(found, printed_from=left, asked=older, planned_departs=None if left is own else own.trip.departs)


def onward_trip(
    path: str | os.PathLike[str],
    plan: Plan,
    *,
    at: str | None = None,
    leg: int | None = None,
    to_go_min: float | None = None,
) -> Trip:
    """What is left of a planned trip by a file of readings, as a trip of its own.

    It begins `at` a time, else at the last reading. `leg` is the number of the leg under way, with `to_go_min`, the
    minutes left of it; by the log where not given. A form of an older or later print is taken with the plan that it was
    printed from. Raises `ProblemsError` with every problem at once, and no other error for any content of the file.
    """
    root, own = _tree(path, plan)
    left = as_left(own, root, os.fspath(path))
    at_min = None if at is None else minute_of(at, "--at", left.trip.departs)
    rest = again(own, root, os.fspath(path), Now(at_min, None if leg is None else leg - 1, to_go_min))
    return rest if own is plan else out_since(rest, plan.trip)


def _tree(path: str | os.PathLike[str], plan: Plan) -> tuple[Node, Plan]:
    """The tree of a file of readings, and the plan that it belongs to; as `read_readings`."""
    ending = Path(path).suffix.casefold()
    try:
        if ending == ".pdf":
            from planner.readings.form import form_tree, read_form

            filled = read_form(path, plan)
            return form_tree(filled), filled.plan
        if ending in TABLES:
            from planner.readings.table import table_tree

            return table_tree(path), plan
        return source.load(path).root, plan
    except ProblemsError as error:
        raise ProblemsError(_of_readings(problem) for problem in error.problems) from None


def parse_readings(text: str, plan: Plan, file: str = "readings.yaml") -> Logbook:
    """The logbook of a YAML text; `file` is the name that problems carry. Raises as `read_readings`."""
    return logbook(source.loads(text, file).root, file, plan)


def _of_readings(problem: Problem) -> Problem:
    """A problem of the whole file, which is none of a trip or a policy."""
    if problem.code == "not_text":
        return problem._replace(allowed=WHAT, fix="give it an ending that says what it is: .pdf, .csv or .yaml")
    return problem._replace(allowed=WHAT) if problem.line == 0 and "a trip or a policy" in problem.allowed else problem
