"""A filled-in request form as a profile: the cells to YAML, and the problems of that YAML back to their cells.

The profile is read by the same reader as any other, so that a form can say nothing that a profile cannot. What is empty
is a problem of its cell; nothing is guessed.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Final, NamedTuple

from planner.files.apart import TooMuchError, apart
from planner.model import Policy, Trip
from planner.new_trip.usual import AROUND
from planner.new_trip.wording import free
from planner.problems import Problem, ProblemsError
from planner.profile.read import parse_trip
from planner.readings import pdf_fields
from planner.request import cells
from planner.request.cells import BEGINNING, Cell, FormRow
from planner.request.profile import ProfileDraft, written
from planner.text.text_file import UNSEEN
from planner.trade.policy_table import policy_defaults

MOST_BYTES: Final = 5_000_000
"""A blank form takes about 200 kB; viewers add a little."""
_ALLOWED: Final = "a request form of this program, filled in and saved"
_FIX: Final = "fill in the form that `new --form` writes, and save it"
_REFUSED: Final = {
    "too_much": ("more in it than a form holds, or more than reading it may take of memory and time", _FIX),
    "locked": ("a PDF that is locked", "save a copy that asks for no password and is not encrypted"),
    "not_a_pdf": ("no PDF that can be read", _FIX),
}


_FOLLOWS: Final = ("key_missing", "value_missing", "gas_not_said")
"""Problems of the profile that say of a line what the form says of its cell."""


class Remark(NamedTuple):
    """A problem and the cell that it stands beside, `leg.2.minutes`; empty where it is of the whole form."""

    cell: str
    problem: Problem


class Request(NamedTuple):
    """A filled-in form: its values by cell (`leg.2.minutes`), the profile it makes, and what is wrong with it."""

    file: str
    unit: str
    values: Mapping[str, str]
    text: str
    remarks: tuple[Remark, ...]


def trip_of_request(path: str | os.PathLike[str], changes: Sequence[str] = ()) -> Trip:
    """The trip that a filled-in form asks for. Raises `ProblemsError` with every problem at once."""
    request = read_request(path)
    if request.remarks:
        raise ProblemsError([remark.problem for remark in request.remarks])
    return parse_trip(request.text, request.file, Path(path).parent, changes)


def policy_of(path: Path | None) -> Policy:
    """What a service's policy file says, the defaults without one. Raises `ProblemsError` for what is wrong in it."""
    if path is None:
        return policy_defaults("road")
    return parse_trip(f"{AROUND}policy: {free(path.name)}\n", "form", path.parent).policy


def read_request(path: str | os.PathLike[str]) -> Request:
    """What a form says, with its problems as remarks. Raises `ProblemsError` where the file is no such form."""
    file = os.fspath(path)
    values = _values(file)
    form, unit = values.pop("form", ""), values.pop("unit", "psi")
    if form != cells.FORM:
        raise ProblemsError([Problem(file, 1, 1, "not_a_request", "a PDF without a request form", _ALLOWED, _FIX)])
    return asked_for(file, unit, values)


def asked_for(file: str, unit: str, values: Mapping[str, str]) -> Request:
    """What the values of a form's cells say; `unit` is the one that its gauges are printed with."""
    made = written(values, unit)
    return Request(file, unit, values, made.text, tuple(_remarks(file, unit, made)))


def _values(file: str) -> dict[str, str]:
    try:
        if Path(file).stat().st_size > MOST_BYTES:
            raise ProblemsError([Problem(file, 1, 1, "too_large", "more than 5 MB", _ALLOWED, _FIX)])
        with Path(file).open("rb") as stream:
            stream.read(1)
        answer = apart(pdf_fields, file, "")
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or "no file can have this name").lower()
        found, fix = f"a file that cannot be read ({reason})", "check the name and the folder"
        raise ProblemsError([Problem(file, 1, 1, "not_readable", found, _ALLOWED, fix)]) from None
    except TooMuchError:
        answer = "too_much"
    if isinstance(answer, str):
        found, fix = _REFUSED[answer]
        raise ProblemsError([Problem(file, 1, 1, answer, found, _ALLOWED, fix)])
    found_values: dict[str, str] = answer["values"]
    return {
        name.removeprefix(BEGINNING): UNSEEN.sub("?", " ".join(text.split()))
        for name, text in found_values.items()
        if name.startswith(BEGINNING) and text.strip()
    }


def _remarks(file: str, unit: str, made: ProfileDraft) -> list[Remark]:
    """The form's own problems, then those of the profile that it makes, each at its cell."""
    places = {f"{row.name}.{cell.key}": (row, cell) for row in cells.form_rows(unit) for cell in row.cells}
    found = [Remark(fault.cell, Problem(_where(file, *places[fault.cell]), 1, 1, *fault.told)) for fault in made.faults]
    try:
        parse_trip(made.text, file, Path(file).parent)
    except ProblemsError as error:
        for problem in error.problems:
            cell = made.cells.get(problem.line, "")
            if made.faults and (problem.code in _FOLLOWS or problem.found.endswith("an empty list")):
                continue  # it follows from what is empty
            if cell in places:
                found.append(Remark(cell, problem._replace(file=_where(file, *places[cell]), line=1, column=1)))
            else:
                found.append(Remark("", problem._replace(line=1, column=1)))
    return list(dict.fromkeys(found))


def _where(file: str, row: FormRow, cell: Cell) -> str:
    return f"{file} (page {'12'[row.page - 1]}, {row.title}: {cell.title})"
