"""A trip by its path on the command line: a profile, or a request form filled in by a ward (PDF)."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from planner.model import Trip
    from planner.pages.pack import Paper


def is_form(path: str | Path) -> bool:
    """True where a file's name is that of a PDF."""
    return Path(path).suffix.casefold() == ".pdf"


def trip_at(path: str, changes: Sequence[str] = ()) -> Trip:
    """The trip of a profile or of a request form. Raises `ProblemsError` with every problem at once."""
    if is_form(path):
        from planner.request.read import trip_of_request  # pypdf and its limits: for forms alone

        return trip_of_request(path, changes)
    from planner.profile.read import read_trip

    return read_trip(path, changes)


def give_back(path: str, folder: Path, paper: Paper) -> Path | None:
    """Writes a faulty form as it was filled in, with its faults in words beside the cells; None where it has none.

    Raises `ProblemsError` where the file is no request form, and `OutputError` where nothing can be written.
    """
    from planner.files.output import make_folder, write_bytes
    from planner.pages.request import request_bytes
    from planner.request.read import read_request

    request = read_request(path)
    if not request.remarks:
        return None
    target = folder / f"{Path(path).stem}-to-mend.pdf"
    data = request_bytes(request.unit, paper=paper, values=request.values, remarks=request.remarks)
    make_folder(folder)
    write_bytes(target, data)
    return target


def write_form(path: Path, policy: Path | None, paper: Paper) -> None:
    """Writes a blank request form as a policy has it. Raises `ProblemsError` and `OutputError`."""
    from planner.files.output import write_bytes
    from planner.pages.request import request_bytes
    from planner.request.read import policy_of

    own = policy_of(policy)
    data = request_bytes(own.pressure_unit, paper=paper, own=own.form)
    write_bytes(path, data)


def profile_of(path: Path) -> str:
    """The text of the profile that a request form makes. Raises `ProblemsError`."""
    from planner.problems import ProblemsError
    from planner.request.read import read_request

    request = read_request(path)
    if request.remarks:
        raise ProblemsError([remark.problem for remark in request.remarks])
    return request.text
