"""What is wrong, where it stands, and how to mend it.

Two kinds of statement exist. A `Problem` is a fault of the text of a profile: nothing is planned until
it is mended. A `Finding` is a remark of the planner about a trip that could be read: a stop makes the
plan a no-go, a caution asks for a thought, a note explains.

This module imports nothing of the program.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal, NamedTuple

Level = Literal["stop", "caution", "note"]


class Position(NamedTuple):
    """A place in a text file. `line` and `column` count from 1; 0 means that the place is unknown."""

    line: int = 0
    column: int = 0


NOWHERE = Position()


class Mend(NamedTuple):
    """A mend ready to type: at the place of the problem `old` becomes `new`."""

    old: str
    new: str


class Problem(NamedTuple):
    """One fault of an input file.

    `found` says what stands there, `allowed` what may stand there, `fix` what to do; each is a phrase
    without a full stop at its end. `mends` are those that `fix` offers ready to type; where there are several, a
    person has to choose.
    """

    file: str
    line: int
    column: int
    code: str
    found: str
    allowed: str
    fix: str
    mends: tuple[Mend, ...] = ()

    def __str__(self) -> str:
        return (
            f"{self.file}:{self.line}:{self.column}  {self.code}  "
            f"{self.found}; allowed: {self.allowed}. Fix: {self.fix}."
        )


class ProblemsError(Exception):
    """Raised with every problem of an input at once, sorted by file and position."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = tuple(sorted(set(problems)))
        super().__init__("\n".join(map(str, self.problems)))


def told_lines(problems: Iterable[Problem]) -> list[str]:
    """A line for each thing that is wrong: where the same words belong to several places of a file, once, at the first.

    A key that is wrong in every row of a log is one slip of one hand, and reads as one.
    """
    alike: dict[Problem, list[Problem]] = {}
    for problem in problems:
        alike.setdefault(problem._replace(line=0, column=0), []).append(problem)
    lines = []
    for first, *others in alike.values():
        places = ", ".join(f"{each.line}:{each.column}" for each in others)
        lines.append(f"{first} Also at {places}." if others else str(first))
    return lines


def counted(problems: Sequence[Problem]) -> str:
    """How many things are wrong, and in how many places where these are more: `2 problems in 9 places`."""
    lines, places = len(told_lines(problems)), len(problems)
    return f"{lines} problem{'s' * (lines != 1)}" + (f" in {places} places" if places > lines else "")


class Finding(NamedTuple):
    """A remark about a trip that could be read.

    `code` is a stable snake_case name; `message` and `fix` are whole sentences for people. `line` and
    `column` point into the trip profile, or are None where no single place is meant.
    """

    level: Level
    code: str
    message: str
    fix: str
    line: int | None = None
    column: int | None = None


def finding(level: Level, code: str, message: str, fix: str, where: Position | None = None) -> Finding:
    """A finding, with its place in the profile where there is one."""
    placed = where if where is not None and where.line > 0 else None
    return Finding(level, code, message, fix, placed.line if placed else None, placed.column if placed else None)
