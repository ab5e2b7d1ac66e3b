"""The verb `review`: reads files of history and prints what they teach."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack
from pathlib import Path

from planner.afterwards.review.history import read
from planner.afterwards.review.review import review
from planner.command.telling import GO, PROBLEMS, say, tell_problems
from planner.report.review.json import review_result
from planner.report.review.text import review_text
from planner.report.screen import printable


def review_files(files: Sequence[str], *, formats: Sequence[str], made: int | None) -> int:
    """Reviews files of history, all together; the exit code. A line that cannot be used is told and skipped."""
    with ExitStack() as opened:
        sources: list[tuple[str, Iterable[str]]] = []
        for file in files:
            try:
                lines = opened.enter_context(Path(file).open(encoding="utf-8", errors="replace"))
            except OSError as error:
                say(
                    printable(f"{file}: the history cannot be read: {(error.strerror or str(error)).lower()}"), err=True
                )
                return PROBLEMS
            sources.append((file, _capped(lines)))
        history = read(sources)
    found = review(history, made)
    if "json" in formats:
        say(json.dumps(review_result(found), allow_nan=False))
    if "text" in formats:
        say(review_text(found, history), nl=False, err="json" in formats)
    return GO


def review_cylinder(label: str, store: str, *, formats: Sequence[str]) -> int:
    """Tells the history of one cylinder from the journal of its store; the exit code."""
    from planner.files.output import OutputError
    from planner.problems import ProblemsError
    from planner.profile.store import read_store
    from planner.report.review.cylinder import cylinder_result, cylinder_text, steps
    from planner.store import journal

    try:
        known = [each.label for each in read_store(store).cylinders]
        found = steps(journal.history(Path(store).resolve(), label))
    except ProblemsError as error:
        tell_problems(error.problems)
        return PROBLEMS
    except OutputError as error:
        say(printable(str(error)), err=True)
        return PROBLEMS
    if label not in known and not found:
        there = ", ".join(known)
        say(printable(f"{store}: no cylinder {label}; there are {there}. Fix: write its label as it stands."), err=True)
        return PROBLEMS
    if "json" in formats:
        say(json.dumps(cylinder_result(label, found), allow_nan=False))
    if "text" in formats:
        say(cylinder_text(label, store, found), nl=False, err="json" in formats)
    return GO


_LONGEST_LINE = 65_536


def _capped(lines: Iterable[str]) -> Iterator[str]:
    """Lines of a file; one too long to be of a history is cut, and then told as broken."""
    for line in lines:
        yield line if len(line) <= _LONGEST_LINE else line[:_LONGEST_LINE] + "\n"
