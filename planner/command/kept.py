"""The answers to `new` that Ctrl-C leaves behind, in a file from which it goes on.

The file holds what was typed and nothing else, one answer a line; never a patient's name, as every question says.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

from planner.files.output import OutputError, free_path, write_text
from planner.new_trip.answers import AnswerError
from planner.new_trip.interview import Interview
from planner.problems import Problem, ProblemsError
from planner.text.text_file import ProblemList, read_text

NAME: Final = "unfinished-trip"
_FIRST: Final = "# Answers to `new` so far. Go on: transport-oxygen new --resume"
_MOST: Final = 500


def keep(interview: Interview, resumed: Path | None) -> str:
    """Keeps the answers that stand, in the file that they came from or a new one; what to say of it."""
    if not interview.answers:
        return "No answers to keep."
    path = resumed or free_path(Path(), NAME, ".txt")
    try:
        write_text(path, "\n".join([f"{_FIRST} {path}", *interview.answers]) + "\n")
    except OutputError as error:
        return f"{error} The answers are not kept."
    many = len(interview.answers)
    return f"No profile is written. {many} answer{'s' * (many > 1)} kept. Go on: transport-oxygen new --resume {path}"


def take_up(interview: Interview, path: Path) -> str:
    """Gives the answers of a file to an interview; what to say of it. Raises `ProblemsError`.

    Where one is not taken any more, since devices or policy have changed, it is asked again from there.
    """
    lines = read_text(str(path), ProblemList(str(path))).splitlines()
    if not lines or not lines[0].startswith(_FIRST) or len(lines) > _MOST:
        may, fix = "a file that Ctrl-C in `new` left behind", "name that file, or begin anew without --resume"
        raise ProblemsError([Problem(str(path), 1, 1, "no_answers", "no answers to `new`", may, fix)])
    for number, text in enumerate(lines[1:]):
        try:
            interview.answer(text)
        except AnswerError as error:
            return f"{number} of {len(lines) - 1} answers taken up; the next is no longer taken: {error}"
    return f"{len(lines) - 1} answers taken up; `back` goes through them."
