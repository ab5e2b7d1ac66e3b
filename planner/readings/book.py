"""The tree of a readings file to a logbook, held against the schema and the plan of its trip."""

from __future__ import annotations

from typing import Final

from planner.afterwards.logbook import Logbook
from planner.afterwards.schedule import real_bounds
from planner.profile import structure
from planner.profile.faults import Faults, told
from planner.readings.checks import impossible
from planner.readings.entries import LogReader, with_end
from planner.results import Plan
from planner.text.source import Node

FORMAT: Final = "1"


def logbook(root: Node, file: str, plan: Plan, *, late: bool = False) -> Logbook:
    """The logbook of a tree of readings; `file` is the name that problems carry. Raises as `read_readings`.

    `late`: the trip is said to be on its way still, so that a reading after its planned end is none too late.
    """
    faults = Faults(file)
    _check_format(faults, root)
    root, left = structure.check(faults, root, "readings")
    log = LogReader(faults, plan.trip).log(root)
    structure.tell_left(faults, left)
    if faults:
        raise told(faults.problems)
    bounds = real_bounds(plan.trip.legs, log)
    log = with_end(log, max(bounds[-1], log.last_min))
    problems = impossible(plan, log, late=late)
    if problems:
        raise told(problems)
    return log


def _check_format(faults: Faults, root: Node) -> None:
    """Readings of another format are judged no further: their keys may mean something else."""
    node = root.get("readings")
    if node is not None and node.kind == "scalar" and node.text.isdecimal() and node.text != FORMAT:
        fix = "write `readings: 1`, or use the version of this program that reads the other format"
        faults.add(node, "format_unknown", f"readings format {node.text}", FORMAT, fix)
        raise told(faults.problems)
