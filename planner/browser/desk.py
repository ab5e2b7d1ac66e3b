"""What the page asks of the program: run a verb on files, or go through the questions. Texts in, texts out.

The page's worker calls these inside the browser; nothing here knows of a browser, and so the tests call them too. Each
call begins in an empty folder and leaves nothing behind.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

ONE_AT_A_TIME = ("plan", "shift")
"""Verbs that know `--jobs`: a browser has no processes to share work with."""

LARGEST_TEXT: Final = 1_000_000
"""Bytes of a file that can name another one: no larger profile is read."""

_DEPTH: Final = ("a", "b", "c", "trip")
"""Folders above the trip's own, so that `../stores/cage.yaml` has a place too."""


def run(words: Sequence[str], files: Mapping[str, bytes], issued_s: int | None = None) -> dict[str, Any]:
    """Runs one verb of the command in a folder that has these files, by name.

    Gives `code` (the exit code), `out` and `err` (what was printed), and `files` (what was written, by name).
    `issued_s` is the time of issue in seconds since 1970; now unless given.
    """
    from planner.command.cli import main

    alone = ["--jobs", "1"] if words and words[0] in ONE_AT_A_TIME else []
    before = Path.cwd()
    with tempfile.TemporaryDirectory() as top, _issued(issued_s), _kept() as (out, err):
        folder = _laid_out(Path(top), files)
        try:
            os.chdir(folder)
            code = main.main([*words, *alone], standalone_mode=False)
            return {"code": code, "out": out.text, "err": err.text, "files": _written(folder, files)}
        finally:
            os.chdir(before)


def ask(answers: Sequence[str]) -> dict[str, Any]:
    """The question that follows these answers, from the generator of the verb `new`.

    Gives `text`, `options`, `default`, `help`, `remarks` and `number` of the question; at the end `profile` and `name`
    in its place. Where the last answer is refused, the same question with `refused`, the reason.
    """
    from planner.command.conversation import free_name
    from planner.new_trip.answers import AnswerError
    from planner.new_trip.interview import Interview
    from planner.new_trip.usual import built_in

    interview = Interview(built_in())
    taken, refused = 0, ""
    for answer in answers:
        try:
            interview.answer(answer)
        except AnswerError as error:
            refused = str(error)
            break
        taken += 1
    said = {"taken": taken, "refused": refused, "remarks": list(interview.remarks)}
    question = interview.question
    if question is None:
        return {**said, "profile": interview.text(Path()), "name": free_name(interview.trip_name)}
    return {
        **said,
        "text": question.text,
        "options": list(question.options),
        "default": question.default,
        "help": question.help,
    }


def _laid_out(top: Path, files: Mapping[str, bytes]) -> Path:
    """A folder with the files, each also at every place where another names it: `policies/ground.yaml`."""
    folder = top.joinpath(*_DEPTH)
    folder.mkdir(parents=True)
    texts = "\n".join(bytes(data).decode("utf-8", "ignore") for data in files.values() if len(data) <= LARGEST_TEXT)
    for name, data in files.items():
        plain = Path(name).name
        named = set(re.findall(rf"[\w./-]*/{re.escape(plain)}\b", texts))
        for place in (plain, *sorted(named)):
            path = Path(os.path.normpath(folder / place))
            if path.is_relative_to(top) and not path.is_dir():
                with contextlib.suppress(OSError):  # a place that cannot be is told as a missing file
                    path.parent.mkdir(parents=True, exist_ok=True)
                    path.write_bytes(bytes(data))
    return folder


@contextlib.contextmanager
def _issued(seconds: int | None) -> Iterator[None]:
    from planner.command.telling import EPOCH_NAME

    if seconds is not None:
        os.environ[EPOCH_NAME] = str(seconds)
    try:
        yield
    finally:
        if seconds is not None:
            os.environ.pop(EPOCH_NAME, None)


class _Stream(io.TextIOWrapper):
    """A stream kept in memory, with bytes below it as a terminal's has."""

    def __init__(self) -> None:
        super().__init__(io.BytesIO(), encoding="utf-8", newline="\n", write_through=True)

    @property
    def text(self) -> str:
        self.flush()
        kept = self.buffer
        assert isinstance(kept, io.BytesIO)  # noqa: S101 - made above
        return kept.getvalue().decode("utf-8")


@contextlib.contextmanager
def _kept() -> Iterator[tuple[_Stream, _Stream]]:
    out, err = _Stream(), _Stream()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        yield out, err


def _written(folder: Path, given: Mapping[str, bytes]) -> dict[str, bytes]:
    """Every file that is new or changed, by its path below the folder."""
    found = {}
    for path in sorted(folder.rglob("*")):
        if path.is_file():
            name, data = path.relative_to(folder).as_posix(), path.read_bytes()
            if path.name not in given or bytes(given[path.name]) != data:
                found[name] = data
    return found
