"""The verb `review`: reads files of history and prints what they teach."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import click

from planner.afterwards.review.history import History, lines_of, read
from planner.afterwards.review.review import Review, review
from planner.command.telling import GO, PROBLEMS, say, time_of_issue
from planner.files.output import OutputError, make_folder, write_bytes, write_text
from planner.report.review.json import review_result
from planner.report.review.proposals import policy_text
from planner.report.review.text import broken_lines, review_text
from planner.report.screen import printable

if TYPE_CHECKING:
    from planner.pages.pack import Paper


class ReviewOptions(NamedTuple):
    """What the command line asks for, beside the files.

    `made`: how many trips were made, if told. `propose`: where to write what is proposed; `force`: over a file that is
    there.
    """

    formats: Sequence[str]
    made: int | None
    output: Path
    paper: Paper
    propose: Path | None
    force: bool


def review_files(files: Sequence[str], asked: ReviewOptions) -> int:
    """Reviews files of history, all together; the exit code. A line that cannot be used is told and skipped."""
    if asked.propose is not None and asked.propose.exists() and not asked.force:
        raise click.UsageError(f"{asked.propose} exists already. Fix: give another name, or --force to write over it.")
    with ExitStack() as opened:
        sources: list[tuple[str, Iterable[str]]] = []
        for file in files:
            try:
                lines = lines_of(opened.enter_context(Path(file).open(encoding="utf-8", errors="replace")))
            except OSError as error:
                say(
                    printable(f"{file}: the history cannot be read: {(error.strerror or str(error)).lower()}"), err=True
                )
                return PROBLEMS
            sources.append((file, lines))
        history = read(sources)
    return _give(review(history, asked.made), history, asked)


def _give(found: Review, history: History, asked: ReviewOptions) -> int:
    """Prints and writes what was asked for; the exit code."""
    if "json" in asked.formats:
        say(json.dumps(review_result(found), allow_nan=False))
    if "text" in asked.formats:
        say(review_text(found, history), nl=False, err="json" in asked.formats)
    else:
        for line in broken_lines(history):
            say(printable(line), err=True)
    if "pdf" in asked.formats:
        _write_pdf(found, asked)
    if asked.propose is not None:
        text = policy_text(found)
        if text is None:
            say(f"Nothing is proposed yet; {asked.propose} is not written.", err=True)
        else:
            write_text(asked.propose, text)
            say(f"Written: {asked.propose}, for a person to read and sign.", err=True)
    return GO


def _write_pdf(found: Review, asked: ReviewOptions) -> None:
    from planner.pages.review.review import review_bytes
    from planner.report.review.page import review_page

    make_folder(asked.output)
    path = asked.output / "review.pdf"
    data = review_bytes(review_page(found), paper=asked.paper, issued=time_of_issue())
    write_bytes(path, data)
    say(f"Written: {path}", err=True)


def review_cylinder(label: str, store: str, *, formats: Sequence[str]) -> int:
    """Tells the history of one cylinder from the journal of its store; the exit code."""
    from planner.profile.store import read_store
    from planner.report.review.cylinder import journal_result, journal_steps, journal_text
    from planner.store import journal

    try:
        known = {each.label: each for each in read_store(store).cylinders}
        now = known.get(label)
        found = journal_steps(journal.history(Path(store).resolve(), label), now)
    except OutputError as error:
        say(printable(str(error)), err=True)
        return PROBLEMS
    if label not in known and not found:
        there = ", ".join(known)
        say(printable(f"{store}: no cylinder {label}; there are {there}. Fix: write its label as it stands."), err=True)
        return PROBLEMS
    if "json" in formats:
        say(json.dumps(journal_result(label, found, now), allow_nan=False))
    if "text" in formats:
        say(journal_text(label, store, found, now), nl=False, err="json" in formats)
    return GO
