"""The verb `store`: notes what was read, refilled or put out of use between trips, in the store and its journal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path

import click

from planner.command.telling import GO, PROBLEMS, say, tell_problems, time_of_issue
from planner.constants import GAUGES_ALIKE_KPA
from planner.problems import Problem, ProblemsError
from planner.profile.clock import read_moment
from planner.profile.faults import Faults, told
from planner.profile.fields import Fields
from planner.report.screen import printable, wrap
from planner.store.closing import typed_gauge_kpa
from planner.store.noted import Note, Noted, note_all
from planner.text.node import Node


def note_in_store(store: str, notes: Sequence[Note], at: str | None) -> int:
    """Notes everything in a store and tells each; the exit code, which is no go where a note was left out."""
    if not notes:
        raise click.UsageError("nothing to note. Fix: give --read, --refilled, --out-of-use or --back-in-use.")
    labels = [note.label for note in notes]
    twice = [label for label in dict.fromkeys(labels) if labels.count(label) > 1]
    if twice:
        raise click.UsageError(
            f"more than one note of {', '.join(twice)}: which comes first nobody can tell. Fix: give one note of each "
            "cylinder, and the next one after it."
        )
    try:
        found = note_all(Path(store), notes, _moment(at))
    except ProblemsError as error:
        tell_problems(error.problems, store, "nothing noted")
        return PROBLEMS
    for each in found:
        for text in _told(each, store):
            say("\n".join(printable(line) for line in wrap(text)))
    return PROBLEMS if any(each.later for each in found) else GO


def _moment(at: str | None) -> datetime:
    """When gauges were read. Raises `ProblemsError` for a time that cannot be read, or that has not come yet."""
    now = time_of_issue()
    if at is None:
        return now
    faults = Faults("--at")
    node = Node("map", pairs=((Node("scalar", "at"), Node("scalar", at)),))
    moment = read_moment(Fields(faults, node, "--at"), "at", None)
    if moment is None:
        raise told(faults.problems)
    if moment > (now if moment.tzinfo is not None else now.replace(tzinfo=None)):
        allowed = f"a time up to now, {now:%Y-%m-%d %H:%M}"
        fix = "look at the year, the day and the clock; leave --at out for a gauge that is read now"
        raise ProblemsError([Problem("--at", 0, 0, "not_yet", f"{at}, which has not come yet", allowed, fix)])
    return moment


def _told(each: Noted, store: str) -> Iterator[str]:
    note = each.note
    if each.later:
        yield (
            f"NOT NOTED: {store} has a later reading of {note.label}, {each.before}: left. If its time there is wrong, "
            "correct `checked` in the store, and note this one again."
        )
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
