"""What every verb says in the same way: exit codes, problems, faults of the program, the time of issue."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import click

from planner.command.streams import stop_if_stopped
from planner.files.output import OutputError
from planner.problems import Problem, ProblemsError, counted, told_lines
from planner.report.screen import printable

GO, PROBLEMS, USAGE, NO_GO, INTERNAL = 0, 1, 2, 3, 4
WORST_FIRST = (INTERNAL, USAGE, PROBLEMS, NO_GO, GO)

EPOCH_NAME = "SOURCE_DATE_EPOCH"


def worst_code(codes: Iterable[int]) -> int:
    """The worst exit code, in the order 4, 2, 1, 3, 0."""
    return min(codes, key=WORST_FIRST.index, default=GO)


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
    import traceback  # needed only where something has gone wrong

    frames = traceback.extract_tb(error.__traceback__)
    where = f" at {Path(frames[-1].filename).name}:{frames[-1].lineno}" if frames else ""
    text = " ".join(str(error).split())[:200]
    return printable(
        f"internal error{where}: {type(error).__name__}: {text}. This is a fault of the program, not of the profile; "
        "work this trip out by hand and report the line."
    )


_KEPT: list[list[tuple[str, bool, bool]]] = []


@contextmanager
def kept() -> Iterator[list[tuple[str, bool, bool]]]:
    """What is said while the block runs, in place of the screen: texts, and how each is to be said."""
    _KEPT.append([])
    try:
        yield _KEPT[-1]
    finally:
        _KEPT.pop()


def say(text: str, *, err: bool = False, nl: bool = True) -> None:
    """Prints a text. Raises `OutputError` where the screen or file behind it takes no more, as on a full disk."""
    if _KEPT:
        _KEPT[-1].append((text, err, nl))
        return
    try:
        click.echo(text, err=err, nl=nl)
    except BrokenPipeError:
        raise
    except OSError as error:
        name = "standard error" if err else "standard output"
        raise OutputError(f"{name}: cannot be written ({(error.strerror or str(error)).lower()}).") from None


def tell_problems(problems: Sequence[Problem], file: str | None = None, what: str = "") -> None:
    """Tells each problem on standard error, then how many `file` has and `what` follows (`nothing planned`)."""
    for line in told_lines(problems):
        say(printable(line), err=True)
    if file is not None:
        say(f"{printable(file)}: {counted(problems)}, {what}.", err=True)


def told(error: Exception) -> int:
    """Tells on standard error what ended a verb, in full; the exit code. Ctrl-C behind it is raised again."""
    if isinstance(error, ProblemsError):
        tell_problems(error.problems)
        return PROBLEMS
    if isinstance(error, OutputError):
        say(printable(str(error)), err=True)
        return USAGE
    stop_if_stopped(error)
    say(internal_error(error), err=True)
    return INTERNAL
