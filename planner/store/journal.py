"""The journal of a store: every closing, undoing and note of a cylinder, one line each, only ever added to.

It stands beside the store as `NAME.journal`, one JSON document a line: `what` ("close", "undo", "written", or a note:
"read", "refilled", "out_of_use", "back_in_use"), `id` (drawn at a trip's first closing, kept when it is closed again),
`at` (when the line was written), `trip`, or `why` it is out of use, and `cylinders`: label, `from` and `to` (values of
the store before the trip or note, and after it), for a closing `was` (what it wrote over: its own earlier one, where it
corrects that), `drawn` (the gauge that the trip began with) and `refilled`. A line counts when it is whole: what a
power cut leaves of one is cut off by the next. The store is the view of it: a line is in the journal before the store
changes, and `written` follows when it has; what lacks that is put into the store by the next one that writes.
"""

from __future__ import annotations

import json
import os
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from planner.files.output import OutputError

SUFFIX: Final = ".journal"
JournalLine = Mapping[str, Any]
_WHAT: Final = frozenset({"close", "undo", "written", "read", "refilled", "out_of_use", "back_in_use"})


@dataclass(frozen=True, slots=True)
class ByTrip:
    """Which trip closes: its name, its own number if it has one, and the moment it departed, None where unknown."""

    name: str
    reference: str | None = None
    departs: datetime | None = None

    def told(self) -> dict[str, str | None]:
        """As it stands in a line."""
        departs = None if self.departs is None else self.departs.isoformat()
        return {"name": self.name, "reference": self.reference, "departs": departs}


def journal_path(store: Path) -> Path:
    """The journal of a store."""
    return store.with_name(store.name + SUFFIX)


def lines(store: Path, *, of_store: bool = True) -> list[JournalLine]:
    """Every whole line, oldest first. Raises `OutputError` for a journal that cannot be read or is none.

    `of_store` False: the journal of a file of history, whose lines name no cylinders.
    """
    path = journal_path(store)
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return []
    except OSError as error:
        raise OutputError(_text(path, error)) from None
    found: list[JournalLine] = []
    for number, text in enumerate(data.split(b"\n")[:-1], start=1):
        try:
            line = json.loads(text)
            whole = _is_line(line, of_store=of_store)
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
            whole = False
        if not whole:
            raise OutputError(
                f"{path}:{number}: no line of a journal. Fix: put the journal back as it was, or move it away."
            )
        found.append(line)
    return found


def _is_line(line: Any, *, of_store: bool) -> bool:
    """True for a line with all that is read of one; raises for one that lacks it, or is of another kind."""
    what = line["what"]
    datetime.fromisoformat(line.get("at", "2026-01-01"))
    trip = line["trip"] if what == "close" else line.get("trip", {})
    if what not in _WHAT or not isinstance(line["id"], str) or not isinstance(trip, dict):
        return False
    keys = {"out_of_use"} if what in ("out_of_use", "back_in_use") else {"gauge", "checked"}
    for one in line["cylinders"] if of_store and what != "written" else ():
        states = [one["from"], one["to"], one.get("was", one["from"])]
        texts = [one.get("drawn"), *(text for state in states for text in state.values())]
        if not isinstance(one["label"], str) or any(state.keys() != keys for state in states):
            return False
        if not all(text is None or isinstance(text, str) for text in texts):
            return False
        if any(state.get("gauge", "") is None for state in states):
            return False
    return True


def append(store: Path, line: JournalLine) -> None:
    """Adds one line, whole and on the disk when this returns. The store's lock is held. Raises `OutputError`."""
    path = journal_path(store)
    data = json.dumps({**line, "at": datetime.now(UTC).isoformat(timespec="seconds")}).encode("ascii") + b"\n"
    try:
        new = not path.exists()
        with path.open("r+b" if not new else "xb") as file:
            file.seek(_whole(path))
            file.truncate()
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        raise OutputError(_text(path, error)) from None


def _whole(path: Path) -> int:
    """Bytes up to the end of the last whole line."""
    return path.read_bytes().rfind(b"\n") + 1


def new_id() -> str:
    """An id for a closing."""
    return secrets.token_hex(8)


def standing(found: Sequence[JournalLine]) -> dict[str, JournalLine]:
    """The closings that hold, by id: the last of each id, without those undone."""
    held: dict[str, JournalLine] = {}
    for line in found:
        if line["what"] == "close":
            held.pop(line["id"], None)
            held[line["id"]] = line
        elif line["what"] == "undo":
            held.pop(line["id"], None)
    return held


def of_trip(found: Sequence[JournalLine], by: ByTrip, *, undated: bool = False) -> JournalLine | None:
    """The last closing of a trip that holds; None where it has none.

    Without a departure nothing tells a trip from another one planned with the same profile: then None too, unless
    `undated`.
    """
    if by.departs is None and not undated:
        return None
    return next((line for line in reversed(standing(found).values()) if line["trip"] == by.told()), None)


def unwritten(found: Sequence[JournalLine]) -> JournalLine | None:
    """The last line that the store may lack; None where it has all."""
    return found[-1] if found and found[-1]["what"] != "written" else None


def history(store: Path, label: str) -> list[JournalLine]:
    """Closings, undoings and notes that name a cylinder, oldest first, each with that cylinder alone."""
    told: list[JournalLine] = []
    for line in lines(store):
        mine = [one for one in line.get("cylinders", ()) if one["label"] == label]
        if mine:
            told.append({**line, "cylinders": mine})
    return told


def _text(path: Path, error: OSError) -> str:
    reason = (error.strerror or type(error).__name__).lower()
    return f"{path}: cannot be read or written ({reason}). Fix: get leave to write it; the store is as it was."
