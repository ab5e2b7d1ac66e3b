"""The verb `store`: notes what was read, refilled or put out of use between trips, in the store and its journal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path

import click

from planner.command.telling import GO, PROBLEMS, say, tell_problems, time_of_issue
from planner.constants import GAUGES_ALIKE_KPA
from planner.problems import ProblemsError
from planner.profile.clock import read_moment
from planner.profile.faults import Faults, told
from planner.profile.fields import Fields
from planner.report.screen import printable, wrap
from planner.store.closing import typed_gauge_kpa
from planner.store.noted import Note, Noted, note_all
from planner.text.node import Node


def note_in_store(store: str, notes: Sequence[Note], at: str | None) -> int:
    """Notes everything in a store and tells each; the exit code."""
    if not notes:
        raise click.UsageError("nothing to note. Fix: give --read, --refilled, --out-of-use or --back-in-use.")
    try:
        found = note_all(Path(store), notes, _moment(at))
    except ProblemsError as error:
        tell_problems(error.problems, store, "nothing noted")
        return PROBLEMS
    for each in found:
        for text in _told(each, store):
            say("\n".join(printable(line) for line in wrap(text)))
    return GO


def _moment(at: str | None) -> datetime:
    """When gauges were read. Raises `ProblemsError` for a time that cannot be read."""
    if at is None:
        return time_of_issue()
    faults = Faults("--at")
    node = Node("map", pairs=((Node("scalar", "at"), Node("scalar", at)),))
    moment = read_moment(Fields(faults, node, "--at"), "at", None)
    if moment is None:
        raise told(faults.problems)
    return moment


def _told(each: Noted, store: str) -> Iterator[str]:
    note = each.note
    if each.later:
        yield f"CAUTION: {store} has a later reading of {note.label}: left."
    elif note.what == "out_of_use":
        yield f"NOTED. {note.label} is out of use ({note.text}): no trip is given it. Tag it, and keep it apart."
    elif note.what == "back_in_use":
        yield f"NOTED. {note.label} is back in use, at {each.after} as last read. Read its gauge before it is used."
    else:
        yield f"NOTED. {note.label} {note.what}: {each.before} to {each.after}."
        if typed_gauge_kpa(each.before) - typed_gauge_kpa(each.after) > GAUGES_ALIKE_KPA:
            yield (
                f"CAUTION: {note.label} read {each.before} before, and no trip was closed with it since: it may leak, "
                "or was used without being closed. Look at its valve and seal."
            )
