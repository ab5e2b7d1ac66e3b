"""The verbs `plan` and `check`: reads trips, plans them, prints, writes files, and finds the exit code."""

from __future__ import annotations

import os
import re
import traceback
from collections.abc import Callable, Iterable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Literal, cast

import click

from planner.output import OutputError, make_folder, write_text, write_whole
from planner.problems import ProblemsError
from planner.report.summary import printable, summary

if TYPE_CHECKING:
    from planner.results import Plan

GO, PROBLEMS, USAGE, NO_GO, INTERNAL = 0, 1, 2, 3, 4
WORST_FIRST = (INTERNAL, USAGE, PROBLEMS, NO_GO, GO)

EPOCH_NAME = "SOURCE_DATE_EPOCH"


def worst(codes: Iterable[int]) -> int:
    """The worst exit code, in the order 4, 2, 1, 3, 0."""
    return min(codes, key=WORST_FIRST.index, default=GO)


def plan_trips(
    trips: Sequence[str],
    *,
    formats: Sequence[str],
    output: Path,
    paper: str,
    changes: Sequence[str],
    fillable: bool = False,
) -> int:
    """Plans every trip and gives its formats; the worst exit code. One trip's fault does not stop the others."""
    issued = time_of_issue()
    codes = []
    for trip, name in zip(trips, file_names(trips), strict=True):
        if len(trips) > 1 and "text" in formats:
            say(f"--- {printable(trip)} ---", err="json" in formats)
        stem = output / name

        def one(trip: str = trip, stem: Path = stem) -> int:
            return _plan_one(
                trip, stem, formats=formats, paper=paper, changes=changes, issued=issued, fillable=fillable
            )

        codes.append(_guarded(trip, one))
        if len(trips) > 1 and "text" in formats:
            say("", err="json" in formats)
    return worst(codes)


def check_trips(trips: Sequence[str]) -> int:
    """Reads every trip and says which have no problems; the worst exit code."""
    return worst([_guarded(trip, lambda trip=trip: _check_one(trip)) for trip in trips])  # type: ignore[misc]


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


def time_of_issue() -> datetime:
    """Now, with the zone of this machine; `SOURCE_DATE_EPOCH` (seconds, UTC) in its place makes output repeatable."""
    given = os.environ.get(EPOCH_NAME, "").strip()
    if not given:
        return datetime.now(UTC).astimezone()
    try:
        return datetime.fromtimestamp(int(given), UTC)
    except (ValueError, OverflowError, OSError):
        raise click.UsageError(f"{EPOCH_NAME} is {given!r}, not a whole number of seconds since 1970.") from None


def internal_error(error: BaseException) -> str:
    """One line for what was not foreseen: what it was, and where in the program."""
    frames = traceback.extract_tb(error.__traceback__)
    where = f" at {Path(frames[-1].filename).name}:{frames[-1].lineno}" if frames else ""
    text = " ".join(str(error).split())[:200]
    return printable(
        f"internal error{where}: {type(error).__name__}: {text}. This is a fault of the program, not of the profile; "
        "work this trip out by hand and report the line."
    )


def say(text: str, *, err: bool = False, nl: bool = True) -> None:
    """Prints a text. Raises `OutputError` where the screen or file behind it takes no more, as on a full disk."""
    try:
        click.echo(text, err=err, nl=nl)
    except BrokenPipeError:
        raise
    except OSError as error:
        name = "standard error" if err else "standard output"
        raise OutputError(f"{name}: cannot be written ({(error.strerror or str(error)).lower()}).") from None


def _guarded(trip: str, work: Callable[[], int]) -> int:
    """The exit code of one trip; every fault is told on standard error."""
    try:
        return work()
    except ProblemsError as error:
        for problem in error.problems:
            say(printable(str(problem)), err=True)
        number = len(error.problems)
        say(f"{printable(trip)}: {number} problem{'s' * (number != 1)}, nothing planned.", err=True)
        return PROBLEMS
    except OutputError as error:
        say(printable(str(error)), err=True)
        return USAGE
    except (BrokenPipeError, click.ClickException):
        raise
    except Exception as error:  # noqa: BLE001 - one line and code 4 for this trip, and the next trip is still planned
        say(f"{printable(trip)}: {internal_error(error)}", err=True)
        return INTERNAL


def _check_one(trip: str) -> int:
    from planner.profile import read_trip

    read_trip(trip)
    say(f"{printable(trip)}: no problems")
    return GO


def _plan_one(
    trip: str,
    stem: Path,
    *,
    formats: Sequence[str],
    paper: str,
    changes: Sequence[str],
    issued: datetime,
    fillable: bool,
) -> int:
    from planner.plan import plan
    from planner.profile import read_trip

    made = plan(read_trip(trip, changes))
    if "json" in formats:
        from planner.report.json_result import json_line

        say(json_line(made))
    if "text" in formats:
        say(summary(made), nl=False, err="json" in formats)
    code = GO if made.go else NO_GO
    if "pdf" in formats or "csv" in formats:
        make_folder(stem.parent)
    if "csv" in formats:
        _write_csv(made, stem)
    if "pdf" in formats:
        code = worst((code, _write_pdf(made, trip, stem, paper=paper, issued=issued, fillable=fillable)))
    return code


def _write_csv(made: Plan, stem: Path) -> None:
    from planner.report.table_csv import tables

    for table, text in tables(made).items():
        path = stem.with_name(f"{stem.name}-{table}.csv")
        write_text(path, text)
        say(f"Written: {path}", err=True)


def _write_pdf(made: Plan, trip: str, stem: Path, *, paper: str, issued: datetime, fillable: bool) -> int:
    from planner.pages.fonts import UnprintableError
    from planner.pages.pack import pack_bytes

    path = stem.with_name(f"{stem.name}.pdf")
    try:
        size = cast(Literal["a4", "letter"], paper)
        data = pack_bytes(made, paper=size, issued=issued, fillable=fillable)
    except UnprintableError as error:
        text = f"{trip}: {error}. Fix: write the name in other letters. No PDF was written."
        say(printable(text), err=True)
        return PROBLEMS
    write_whole(path, lambda temporary: _put(temporary, data))
    say(f"Written: {path}", err=True)
    return GO


def _put(path: Path, data: bytes) -> None:
    path.write_bytes(data)
