"""A store file under its lock: read, caught up with its journal, and changed whole or not at all.

Only the values named change (`planner.store.store_text`). Every change stands in the journal first
(`planner.store.journal`), and what a killed program did not write is put in by the next one that opens the store. The
file as it was before the last trip stands beside it as `NAME.before`.
"""

from __future__ import annotations

import stat
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from planner.files.file_lock import locked
from planner.files.output import OutputError, write_whole
from planner.problems import Problem, ProblemsError
from planner.store import journal
from planner.store.store_text import NewValues, with_values
from planner.text import source
from planner.text.node import Node

KEPT: Final = ".before"


@contextmanager
def opened(path: Path) -> Iterator[OpenStore]:
    """A store that nobody else changes meanwhile. Raises `ProblemsError` and `OutputError`."""
    target = path.resolve()
    with locked(target):
        yield OpenStore(path, target)


class OpenStore:
    """A store file: `path` as given, `target` where it is, its `text`, and the `lines` of its journal."""

    def __init__(self, path: Path, target: Path) -> None:
        self.path, self.target = path, target
        self.lines = journal.lines(target)
        self._read()
        last = journal.unwritten(self.lines)
        if last is not None:
            self._write(last, self._after(last))

    def stands(self, label: str, state: Mapping[str, str | None]) -> bool:
        """True where a cylinder stands in the store with these values."""
        cylinder = self._cylinders.get(label)
        return cylinder is not None and all((text_of(cylinder, key) or None) == text for key, text in state.items())

    def known(self, labels: Iterable[str]) -> Mapping[str, Node]:
        """All cylinders by label. Raises `ProblemsError` where one of `labels` is not among them."""
        missing = [label for label in labels if label not in self._cylinders]
        if missing:
            raise ProblemsError(_missing(self.path, label, self._cylinders) for label in missing)
        return self._cylinders

    def commit(self, line: journal.JournalLine, *, keep_anew: bool = False) -> Path:
        """Write a line of the journal, then the store as it follows; where the file as it was is kept.

        `keep_anew`: this file, in the place of an earlier one.
        """
        kept, after = self.target.with_name(self.target.name + KEPT), self._after(line)
        journal.append(self.target, line)
        if line["what"] == "close" and (keep_anew or not kept.exists()):
            _put(kept, self._data, self._mode)
        self._write(line, after)
        return kept

    def _after(self, line: journal.JournalLine) -> str:
        """The text with the changes of a line of the journal, where the store stands as it did before that line."""
        due = {
            one["label"]: one["to"]
            for one in line["cylinders"]
            if self.stands(one["label"], one.get("was", one["from"]))
        }
        return self.with_values(due)

    def with_values(self, new: NewValues) -> str:
        """The text with new values of some cylinders (`planner.store.store_text`)."""
        return with_values(self.text, new, str(self.path)) if new else self.text

    def _write(self, line: journal.JournalLine, after: str) -> None:
        if after != self.text:
            _put(self.target, after.encode("utf-8"), self._mode)
        journal.append(self.target, {"what": "written", "id": line["id"]})
        self._read()

    def _read(self) -> None:
        try:
            self._data = self.target.read_bytes()
            self.text = self._data.decode("utf-8")
        except (OSError, UnicodeDecodeError):
            source.load(self.path)  # tells what is wrong with the file
            raise
        self._mode = stat.S_IMODE(self.target.stat().st_mode)
        listed = source.loads(self.text, str(self.path)).root.get("cylinders")
        self._cylinders = {text_of(node, "label"): node for node in (listed.items if listed is not None else ())}


def text_of(node: Node, key: str) -> str:
    """The text of a value, empty for none."""
    value = node.get(key)
    return "" if value is None else value.text.strip()


def _put(path: Path, data: bytes, mode: int) -> None:
    def write(temporary: Path) -> None:
        temporary.write_bytes(data)

    try:
        write_whole(path, write, mode=mode)
    except OutputError as error:
        what = str(error).partition(" Fix: ")[0]
        fix = "get leave to write in its folder, or free the disk, and close the trip again; the store is as it was"
        raise OutputError(f"{what} Fix: {fix}.") from None


def _missing(path: Path, label: str, known: Iterable[str]) -> Problem:
    return Problem(
        str(path),
        0,
        0,
        "cylinder_unknown",
        f"no cylinder `{label}` in the store",
        ", ".join(known) or "none",
        "write its label as it stands in the store, or put its entry back",
    )
