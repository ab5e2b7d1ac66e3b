"""The conversation of `new`: asks each question until its answer is taken, and for the file to write."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path

import click

from planner.command.keyboard import at_a_terminal, typed
from planner.files.output import free_path
from planner.new_trip.answers import AnswerError
from planner.new_trip.interview import Interview
from planner.new_trip.questions import Question
from planner.new_trip.shorthand.taken import Taken
from planner.report.screen import printable, wrap

LONGEST_NAME = 60
_NAME = re.compile(r"[^:%?*<>|\"]*\w[^:%?*<>|\"]*\.ya?ml", re.IGNORECASE)
"""A name that a profile can have: an answer to another question, such as `:` or `40 %`, is none."""


def converse(interview: Interview, said: Taken | None) -> str | None:
    """Asks until every question is answered; where nobody sits at the keyboard, the first refusal ends it.

    What a line said already is answered from it; where nobody sits at the keyboard it has to say everything.
    """
    asked: Question | None = None
    while (question := interview.question) is not None:
        known = None if said is None else said.answer(interview)
        if question is not asked:
            tell(interview.remarks)
            asked = question
            if known is None:
                _show(question, interview.default)
        if known is None and said is not None and not at_a_terminal():
            return f"{question.text}: the line does not say it"
        text = typed("> ") if known is None else known
        if text == "?":
            tell([question.help])
        elif text.casefold() == "back":
            if not interview.back():
                tell(["This is the first question."])
            elif said is not None:
                said.leave(interview)
        else:
            try:
                interview.answer(text)
            except AnswerError as error:
                if not at_a_terminal():
                    return f"{question.text}: {error}"
                tell([str(error)])
                asked = interview.question
                if known is not None and said is not None:
                    said.leave(interview)
                    asked = None
    tell(interview.remarks)
    return None


def ask_for_file(interview: Interview, *, force: bool, ask: bool) -> Path | None:
    """The file to write; None where the last answer is to be taken back. Its usual name where nobody can be asked."""
    usual = free_name(interview.trip_name)
    if not ask:
        return Path(usual)
    while True:
        click.echo(f"File to write [{usual}]")
        text = typed("> ")
        if text.casefold() == "back":
            return None
        path = Path(text or usual)
        reason = not_to_be_written(path, force=force)
        if text == "?":
            reason = "The name of a file, in this folder unless you name another."
        elif _NAME.fullmatch(path.name) is None:
            reason = f"{path.name}: is no name for a profile. Fix: write one that ends in .yaml, or Enter for {usual}."
        if not reason:
            return path
        tell([reason])


def free_name(trip: str, folder: Path = Path()) -> str:
    """A file name from the name of a trip that no file has yet: `ward-to-scanner-and-back.yaml`."""
    stem = re.sub(r"[^\w]+", "-", trip.casefold()).strip("-_")[:LONGEST_NAME] or "trip"
    return free_path(folder, stem, ".yaml").name


def not_to_be_written(path: Path, *, force: bool) -> str | None:
    """Why a file is not to be written, None where it may be."""
    if not path.parent.is_dir():
        return f"{path.parent}: is no folder. Fix: make it first, or name another."
    if path.is_dir():
        return f"{path}: is a folder. Fix: add the name of a file, as in {path / 'trip.yaml'}."
    if path.exists() and not force:
        return f"{path}: exists already. Fix: give another name, or --force to write over it."
    return None


def _show(question: Question, usual: str | None) -> None:
    click.echo("")
    for line in wrap(printable(question.text + ("" if usual is None else f" [{usual}]")), "", "  "):
        click.echo(line)
    for line in question.options:
        click.echo(printable(f"  {line}"))


def tell(lines: Iterable[str]) -> None:
    """Prints lines of remarks, indented."""
    for line in lines:
        for part in wrap(printable(line), "  "):
            click.echo(part)
