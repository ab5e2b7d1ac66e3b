"""What must hold of the reader, whatever it reads: a trip that can be planned, or problems that can be told."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from pathlib import Path

from planner.planning import plan
from planner.problems import Problem, ProblemsError
from planner.profile.read import read_trip
from planner.profile.store import read_store
from planner.readings.read import read_readings
from planner.text.text_file import BREAK, MOST_PROBLEMS
from tests.fuzz.mutate import READINGS, STORE, TABLE, TRIP, Case


def judge(case: Case, folder: Path) -> tuple[Problem, ...]:
    """Read the files of a case, plan its trip if there is one, and give the problems that came of it.

    Raises AssertionError for problems that cannot be told, and lets every other error than `ProblemsError` pass.
    """
    for name, data in case.files.items():
        (folder / name).write_bytes(data)
    readers: list[Callable[[], object]] = [lambda: read_store(folder / STORE)]
    found: list[Problem] = []
    try:
        planned = plan(read_trip(folder / TRIP, case.changes))
        readers += [lambda: read_readings(folder / READINGS, planned), lambda: read_readings(folder / TABLE, planned)]
    except ProblemsError as error:
        found += _told(error, case, folder)
    for reader in readers:
        try:
            reader()
        except ProblemsError as error:
            found += _told(error, case, folder)
    return tuple(found)


def _told(error: ProblemsError, case: Case, folder: Path) -> tuple[Problem, ...]:
    assert 0 < len(error.problems) <= MOST_PROBLEMS + 1 + len(case.changes), f"{len(error.problems)} problems"
    for problem in error.problems:
        check_problem(problem, case, folder)
    return error.problems


def check_problem(problem: Problem, case: Case, folder: Path) -> None:
    """A problem has a place inside its file and words for what was found, what is allowed and how to mend it."""
    told = str(problem)
    assert told.isprintable(), told
    assert len(told) < 5000, f"a problem of {len(told)} letters"
    for phrase in (problem.code, problem.found, problem.allowed, problem.fix):
        assert phrase, told
        assert phrase == phrase.strip(), told
    assert problem.line >= 1, told
    assert problem.column >= 1, told
    if problem.file.startswith("--set "):
        return
    name = Path(problem.file).relative_to(folder).as_posix()
    lines = _lines(case.files[name])
    assert problem.line <= len(lines), told
    assert problem.column <= len(lines[problem.line - 1]) + 1, told


@lru_cache(maxsize=8)
def _lines(data: bytes) -> list[str]:
    return BREAK.split(data.decode("utf-8", "replace").removeprefix("\ufeff"))
