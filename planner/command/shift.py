"""The verb `shift`: plans every trip of a shift, over several processes, and gives one sheet for all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final

from planner.bedside.options import OptionReader
from planner.command.answer import refuse
from planner.command.telling import (
    GO,
    INTERNAL,
    NO_GO,
    PROBLEMS,
    internal_error,
    say,
    tell_problems,
    time_of_issue,
    told,
    worst_code,
)
from planner.files.many import Lost, processes_worth, shown_progress, spread
from planner.files.output import OutputError, make_folder, write_bytes, write_text
from planner.problems import ProblemsError
from planner.profile.limits import LONGEST_MIN, Limit
from planner.report.screen import printable
from planner.report.shift.result import ShiftResult, Unread
from planner.report.shift.shift import shift_sheet
from planner.shift.allotment import allotment
from planner.shift.shift import shift, taken_twice
from planner.shift.store import against
from planner.shift.trip import TripNeed, trip_need

if TYPE_CHECKING:
    from planner.pages.pack import Paper
    from planner.profile.store import Store

NAME: Final = "shift"
TURNAROUND: Final = Limit("duration", "a time from 0 to 14 days", 0.0, LONGEST_MIN)


@dataclass(frozen=True, slots=True)
class ShiftOptions:
    """What the command line asks for, beside the trips."""

    formats: Sequence[str]
    output: Path
    paper: Paper
    turnaround: str | None
    store: str | None
    refilled: bool
    jobs: int | None


def shift_trips(trips: Sequence[str], asked: ShiftOptions) -> int:
    """Plans every trip, gives the formats of the shift, and the worst exit code. One bad profile spoils only itself."""
    options = OptionReader()
    turnaround_min = options.quantity("--turnaround", asked.turnaround, TURNAROUND)
    if options.problems:
        return refuse(options, NAME)
    issued = time_of_issue()
    store, codes = _store(asked.store)
    outcomes = _planned(trips, asked)
    unread = tuple(outcome for outcome in outcomes if isinstance(outcome, Unread))
    codes += [_told(item) for item in unread]
    needs = [outcome for outcome in outcomes if isinstance(outcome, TripNeed)]
    if not needs:
        say(f"No trip of {len(trips)} could be planned; no shift.", err=True)
        return worst_code(codes)
    made = shift(needs, turnaround_min)
    result = ShiftResult(
        shift=made,
        unread=unread,
        store=None if store is None else against(store.in_use, made),
        store_name="" if store is None else store.name or store.file,
        refilled=asked.refilled,
        twice=taken_twice(made.trips),
        store_fingerprint="" if store is None else store.fingerprint,
        allotment=allotment(made, None if store is None else store.in_use, refilled=asked.refilled),
    )
    codes.append(GO if result.go else NO_GO)
    codes.append(_give(result, asked, issued))
    return worst_code(codes)


def plan_one(path: str) -> TripNeed | Unread:
    """What a shift needs to know of the trip in a file, or why it cannot be known. Runs in a process of its own."""
    from planner.command.trips import trip_at
    from planner.planning import plan

    try:
        return trip_need(plan(trip_at(path)))
    except ProblemsError as error:
        return Unread(path, error.problems)
    except Exception as error:  # noqa: BLE001 - one line for this trip, and the others are still planned
        return Unread(path, (), internal_error(error))


def _planned(trips: Sequence[str], asked: ShiftOptions) -> list[TripNeed | Unread]:
    jobs = processes_worth(len(trips)) if asked.jobs is None else asked.jobs
    with shown_progress("Trips planned", wanted="json" not in asked.formats) as tell:
        found = spread(plan_one, trips, jobs=jobs, tell=tell)
    return [_lost(outcome) if isinstance(outcome, Lost) else outcome for outcome in found]


def _lost(lost: Lost) -> Unread:
    return Unread(str(lost.item), (), "internal error: the process that planned it ended; work this trip out by hand.")


def _store(path: str | None) -> tuple[Store | None, list[int]]:
    """The store, None where none is asked for or its file has problems, which are then told."""
    if path is None:
        return None, []
    from planner.profile.store import read_store

    try:
        return read_store(path), []
    except ProblemsError as error:
        tell_problems(error.problems, path, "no store is held against the need")
        return None, [PROBLEMS]


def _told(unread: Unread) -> int:
    """Tells on standard error why a trip is not planned; the exit code."""
    if unread.error is not None:
        say(printable(f"{unread.file}: {unread.error}"), err=True)
        return INTERNAL
    tell_problems(unread.problems, unread.file, "not in the shift")
    return PROBLEMS


def _give(result: ShiftResult, asked: ShiftOptions, issued: datetime) -> int:
    """Prints and writes what was asked for; the exit code, `USAGE` where something cannot be written."""
    try:
        if "json" in asked.formats:
            from planner.report.shift.data import json_line

            say(json_line(result))
        if "text" in asked.formats:
            from planner.report.shift.text import shift_summary

            say(shift_summary(shift_sheet(result)), nl=False, err="json" in asked.formats)
        if "pdf" in asked.formats or "csv" in asked.formats:
            make_folder(asked.output)
        if "csv" in asked.formats:
            _write_csv(result, asked.output)
        if "pdf" in asked.formats:
            _write_pdf(result, asked, issued)
    except OutputError as error:
        return told(error)
    return GO


def _write_csv(result: ShiftResult, folder: Path) -> None:
    from planner.report.shift.data import tables

    for table, text in tables(result).items():
        path = folder / f"{NAME}-{table}.csv"
        write_text(path, text)
        say(f"Written: {path}", err=True)


def _write_pdf(result: ShiftResult, asked: ShiftOptions, issued: datetime) -> None:
    from planner.pages.shift.shift import shift_bytes

    path = asked.output / f"{NAME}.pdf"
    data = shift_bytes(shift_sheet(result), paper=asked.paper, issued=issued)
    write_bytes(path, data)
    say(f"Written: {path}", err=True)
