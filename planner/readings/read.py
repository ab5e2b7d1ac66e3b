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
from planner.afterwards.schedule import real_bounds
from planner.problems import Problem, ProblemsError
from planner.profile import structure
from planner.profile.faults import Faults, told
from planner.readings.checks import impossible
from planner.readings.entries import LogReader, with_end
from planner.results import Plan
from planner.text import source
from planner.text.source import Node

__all__ = ["logbook", "parse_readings", "read_readings"]

FORMAT: Final = "1"
TABLES: Final = (".csv", ".tsv")
WHAT: Final = "a file of readings: YAML, a table (.csv), or the filled-in form (.pdf)"


def read_readings(path: str | os.PathLike[str], plan: Plan) -> Logbook:
    """The logbook of a file of readings, held against the plan of its trip.

    The ending of the name tells the kind: `.pdf` a filled-in form, `.csv` or `.tsv` a table, all else YAML. A form
    of an older print is held against the plan that it was printed from, which the logbook then names. Raises
    `ProblemsError` with every problem at once, and no other error for any content of the file.
    """
    ending = Path(path).suffix.casefold()
    try:
        if ending == ".pdf":
            from planner.readings.form import form_tree, read_form

            filled = read_form(path, plan)
            found = logbook(form_tree(filled), os.fspath(path), filled.plan)
            return found if filled.plan is plan else replace(found, printed_from=filled.plan, asked=plan.trip)
        if ending in TABLES:
            from planner.readings.table import table_tree

            root = table_tree(path)
        else:
            root = source.load(path).root
    except ProblemsError as error:
        raise ProblemsError(_of_readings(problem) for problem in error.problems) from None
    return logbook(root, os.fspath(path), plan)


def parse_readings(text: str, plan: Plan, file: str = "readings.yaml") -> Logbook:
    """The logbook of a YAML text; `file` is the name that problems carry. Raises as `read_readings`."""
    return logbook(source.loads(text, file).root, file, plan)


def logbook(root: Node, file: str, plan: Plan) -> Logbook:
    """The logbook of a tree of readings; `file` is the name that problems carry. Raises as `read_readings`."""
    faults = Faults(file)
    _check_format(faults, root)
    root, left = structure.check(faults, root, "readings")
    log = LogReader(faults, plan.trip).log(root)
    structure.tell_left(faults, left)
    if faults:
        raise told(faults.problems)
    bounds = real_bounds(plan.trip.legs, log)
    log = with_end(log, max(bounds[-1], log.last_min))
    problems = impossible(plan, log)
    if problems:
        raise told(problems)
    return log


def _of_readings(problem: Problem) -> Problem:
    """A problem of the whole file, which is none of a trip or a policy."""
    if problem.code == "not_text":
        return problem._replace(allowed=WHAT, fix="give it an ending that says what it is: .pdf, .csv or .yaml")
    return problem._replace(allowed=WHAT) if problem.line == 0 and "a trip or a policy" in problem.allowed else problem


def _check_format(faults: Faults, root: Node) -> None:
    """Readings of another format are judged no further: their keys may mean something else."""
    node = root.get("readings")
    if node is not None and node.kind == "scalar" and node.text.isdecimal() and node.text != FORMAT:
        fix = "write `readings: 1`, or use the version of this program that reads the other format"
        faults.add(node, "format_unknown", f"readings format {node.text}", FORMAT, fix)
        raise told(faults.problems)
