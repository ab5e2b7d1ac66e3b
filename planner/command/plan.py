"""The verbs `plan` and `check`: reads trips, plans them, prints, writes files, and finds the exit code."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple

import click

from planner.command import trips as paths
from planner.command.streams import stop_if_stopped
from planner.command.telling import (
    GO,
    INTERNAL,
    NO_GO,
    PROBLEMS,
    USAGE,
    internal_error,
    kept,
    say,
    tell_problems,
    told,
    worst_code,
)
from planner.files.output import OutputError, make_folder, write_bytes, write_text
from planner.problems import ProblemsError, told_lines
from planner.report.screen import printable
from planner.report.summary import summary
from planner.report.words import reasons

if TYPE_CHECKING:
    from planner.model import Trip
    from planner.pages.pack import Pages, Paper
    from planner.results import Plan

WORTH_A_PROCESS: Final = 20
"""Trips that keep a process busy for longer than it takes to start, pages and all. By decision."""


class PlanOptions(NamedTuple):
    """What the command line asks for of each trip.

    `readings` to `to_go_min` are of one trip on its way: its readings, when and where it is; None where it does not
    say. `give_back`: a faulty request form is written as it was filled in. `several` trips are told apart.
    """

    formats: Sequence[str]
    output: Path
    paper: Paper
    changes: Sequence[str]
    fillable: bool
    pages: Pages
    jobs: int | None
    give_back: bool
    readings: str | None
    at: str | None
    leg: int | None
    to_go_min: float | None
    issued: datetime
    several: bool = False


class TripOutcome(NamedTuple):
    """What has come of planning a trip: the cards written, and why it is refused or no go."""

    written: list[Path]
    why: list[str]


def plan_trips(trips: Sequence[str], asked: PlanOptions) -> int:
    """Plans every trip and gives its formats; the worst exit code. One trip's fault does not stop the others.

    With `jobs` above 1 that many processes share the trips; what is printed and written is the same. A card that lies
    in the folder from an earlier plan of a trip that now gives none, or is no go, makes way for a page that says VOID.
    """
    asked = asked._replace(several=len(trips) > 1)
    named = list(zip(trips, file_names(trips), strict=True))
    jobs = asked.jobs
    if jobs is None:
        jobs = 1 if len(trips) < 2 * WORTH_A_PROCESS else _processes(len(trips))
    alone = min(jobs, len(trips)) <= 1
    codes = [_one(asked, trip, name) for trip, name in named] if alone else _together(asked, named, jobs)
    if asked.several and "text" in asked.formats:
        say(tally(codes), err="json" in asked.formats)
    return worst_code(codes)


def tally(codes: Sequence[int]) -> str:
    """How many trips came out how, in one line.

    >>> tally([GO, NO_GO, GO, PROBLEMS])
    '4 trips: 2 GO, 1 NO-GO, 1 with problems in the profile.'
    """
    words = {
        GO: "GO",
        NO_GO: "NO-GO",
        PROBLEMS: "with problems in the profile",
        USAGE: "not written",
        INTERNAL: "ended by a fault of the program",
    }
    counts = [f"{codes.count(code)} {text}" for code, text in words.items() if code in codes]
    return f"{len(codes)} trips: {', '.join(counts)}."


def _processes(trips: int) -> int:
    from planner.files.many import processes_worth

    return processes_worth(trips, WORTH_A_PROCESS)


def _together(asked: PlanOptions, named: Sequence[tuple[str, str]], jobs: int) -> list[int]:
    """The exit codes of trips planned in several processes; prints what each had to say, in the order of the trips."""
    from planner.files.many import Lost, shown_progress, spread

    with shown_progress("Trips planned", wanted="json" not in asked.formats) as tell:
        outcomes = spread(partial(_kept, asked), named, jobs=jobs, tell=tell)
    codes = []
    for (trip, _), outcome in zip(named, outcomes, strict=True):
        if isinstance(outcome, Lost):
            say(f"{printable(trip)}: internal error: the process that planned it ended; work it out by hand.", err=True)
            codes.append(INTERNAL)
            continue
        code, texts = outcome
        codes.append(worst_code((code, guarded(trip, partial(_printed, texts)))))
    return codes


def _kept(asked: PlanOptions, named: tuple[str, str]) -> tuple[int, list[tuple[str, bool, bool]]]:
    """Plans one trip in a process of its own: the exit code, and what is to be printed."""
    with kept() as texts:
        return _one(asked, *named), texts


def _printed(texts: Sequence[tuple[str, bool, bool]]) -> int:
    for text, err, nl in texts:
        say(text, err=err, nl=nl)
    return GO


def _one(asked: PlanOptions, trip: str, name: str) -> int:
    """Plans one of the trips, under its name where there are several; the exit code."""
    apart = asked.several and "text" in asked.formats
    if apart:
        say(f"--- {printable(trip)} ---", err="json" in asked.formats)
    out = TripOutcome([], [])
    code = guarded(trip, partial(_plan_one, asked, trip, asked.output / name, out), out.why)
    if code != GO and not out.written:
        code = worst_code((code, guarded(trip, partial(_void, asked, asked.output / f"{name}.pdf", out.why))))
    if apart:
        say("", err="json" in asked.formats)
    return code


def check_trips(trips: Sequence[str]) -> int:
    """Reads every trip and says which have no problems; the worst exit code."""
    return worst_code([guarded(trip, partial(_check_one, trip)) for trip in trips])


def file_names(trips: Sequence[str]) -> list[str]:
    """A file name without its ending for each trip, from the profile's own name; no two are the same.

    >>> file_names(["a/night.yaml", "b/Night.yaml", "day 1.yaml"])
    ['night', 'Night-2', 'day_1']
    """
    names: list[str] = []
    taken: set[str] = set()
    for trip in trips:
        stem = re.sub(r"[^\w.-]+", "_", Path(trip).stem).strip("._")[:80] or "trip"
        name, number = stem, 1
        while name.casefold() in taken:
            number += 1
            name = f"{stem}-{number}"
        taken.add(name.casefold())
        names.append(name)
    return names


def guarded(trip: str, work: Callable[[], int], why: list[str] | None = None) -> int:
    """The exit code of one trip; every fault is told on standard error, and kept in `why` where that is given."""
    why = [] if why is None else why
    try:
        return work()
    except ProblemsError as error:
        why += map(printable, told_lines(error.problems))
        tell_problems(error.problems, trip, "nothing planned")
        return PROBLEMS
    except OutputError as error:
        return told(error)
    except (BrokenPipeError, click.ClickException):
        raise
    except Exception as error:  # noqa: BLE001 - one line and code 4 for this trip, and the next trip is still planned
        stop_if_stopped(error)
        why.append(f"{printable(trip)}: {internal_error(error)}")
        say(why[-1], err=True)
        return INTERNAL


def _check_one(trip: str) -> int:
    paths.trip_at(trip)
    say(f"{printable(trip)}: no problems")
    return GO


def _read(asked: PlanOptions, trip: str, stem: Path) -> Trip:
    """The trip; a faulty request form goes back with its faults where that is asked for."""
    try:
        return paths.trip_at(trip, asked.changes)
    except ProblemsError:
        if asked.give_back and paths.is_form(trip):
            written = paths.give_back(trip, stem.parent, asked.paper)
            if written is not None:
                say(f"Written: {written}", err=True)
        raise


def _plan_one(asked: PlanOptions, trip: str, stem: Path, out: TripOutcome) -> int:
    from planner.planning import plan

    found = _read(asked, trip, stem)
    if asked.readings is not None:
        from planner.store.noted import with_why

        found = with_why(found)
    made = plan(found)
    if asked.readings is not None:
        from planner.readings.read import onward_trip

        made = plan(onward_trip(asked.readings, made, at=asked.at, leg=asked.leg, to_go_min=asked.to_go_min))
    out.why.extend(f"NO-GO: {reason.text}" for reason in reasons(made))
    if "json" in asked.formats:
        from planner.report.json_result import json_line

        say(json_line(made))
    if "text" in asked.formats:
        say(summary(made, asked.issued), nl=False, err="json" in asked.formats)
    code = GO if made.go else NO_GO
    if "pdf" in asked.formats or "csv" in asked.formats:
        make_folder(stem.parent)
    if "csv" in asked.formats:
        _write_csv(made, stem)
    if "pdf" in asked.formats:
        code = worst_code((code, _write_pdf(asked, made, trip, stem, out)))
    return code


def _void(asked: PlanOptions, path: Path, why: Sequence[str]) -> int:
    """A page that says VOID in the place of a card of an earlier plan, where one lies there."""
    from planner.pages.void import void_bytes
    from planner.report.old_card import old_card

    old = old_card(path)
    if old is None or not why or any(_is_absent(text) for text in why):
        return GO
    data = void_bytes(old, why, issued=asked.issued, paper=asked.paper)
    write_bytes(path, data)
    say(f"VOID: {path} held card {old.number}, which is not valid any more. Take every copy of it away.", err=True)
    return GO


def _is_absent(text: str) -> bool:
    """True where the profile itself was not found: a slip of the name says nothing of any card."""
    return "no_such_file  no file of this name; allowed: a YAML file with a trip" in text


def _write_csv(made: Plan, stem: Path) -> None:
    from planner.report.table_csv import tables

    for table, text in tables(made).items():
        path = stem.with_name(f"{stem.name}-{table}.csv")
        write_text(path, text)
        say(f"Written: {path}", err=True)


def _write_pdf(asked: PlanOptions, made: Plan, trip: str, stem: Path, out: TripOutcome) -> int:
    from planner.pages.drawing.fonts import UnprintableError
    from planner.pages.pack import TooLongError, pack_bytes

    path = stem.with_name(f"{stem.name}.pdf")
    try:
        data = pack_bytes(made, paper=asked.paper, issued=asked.issued, fillable=asked.fillable, pages=asked.pages)
    except (UnprintableError, TooLongError) as error:
        unprintable = isinstance(error, UnprintableError)
        fix = "write the name in other letters" if unprintable else "split the trip, or list what one crew takes"
        out.why.append(printable(f"{trip}: {error}. Fix: {fix}. No PDF was written."))
        say(out.why[-1], err=True)
        return PROBLEMS
    write_bytes(path, data)
    out.written.append(path)
    say(f"Written: {path}", err=True)
    return GO
