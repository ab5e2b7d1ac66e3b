"""The file of a service's history: whole lines are added to it and nothing is ever taken out.

One writer at a time holds its lock. All lines of a trip go to the disk in one write. The ID of a trip is drawn when it
is first closed and kept in a journal beside the file (`planner.store.journal`), or is that of the journal of the store
that the closing was written into: closing again adds lines under the same ID, which take the place of the earlier ones,
and an undone closing adds a line of kind `void`.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

from planner.afterwards.review.history import FORMAT
from planner.files.file_lock import locked
from planner.files.output import OutputError
from planner.store import journal
from planner.store.journal import ByTrip


class Added(NamedTuple):
    """What was added: the file, the trip's ID, and how many lines; none where the same stood there already."""

    file: Path
    trip: str
    lines: int


def add(path: Path, lines: Sequence[dict[str, Any]], by: ByTrip, store_id: str | None = None) -> Added:
    """Adds the lines of a closed trip. Raises `OutputError` where the file or its journal cannot be written."""
    target = path.resolve()
    digest = hashlib.sha256(json.dumps(list(lines), sort_keys=True).encode()).hexdigest()
    with locked(target):
        found = journal.lines(target, of_store=False)
        earlier = _earlier(found, by, digest)
        id_ = store_id or (journal.new_id() if earlier is None else str(earlier["id"]))
        same = earlier is not None and earlier["id"] == id_ and earlier.get("lines") == digest
        if same and journal.unwritten(found) != earlier:
            return Added(path, id_, 0)
        if not same:
            journal.append(target, {"what": "close", "id": id_, "trip": by.told(), "lines": digest})
        _append(target, [{"history": FORMAT, "trip": id_, **line} for line in lines])
        journal.append(target, {"what": "written", "id": id_})
    return Added(path, id_, len(lines))


def void(path: Path, by: ByTrip, store_id: str | None = None) -> Added | None:
    """Takes a trip out of the history by a line of kind `void`; None where its closing does not stand there."""
    target = path.resolve()
    with locked(target):
        found = journal.lines(target, of_store=False)
        standing = journal.standing(found)
        closed = standing.get(store_id) if store_id is not None else journal.of_trip(found, by, undated=True)
        if closed is None:
            return None
        id_ = str(closed["id"])
        _append(target, [{"history": FORMAT, "trip": id_, "kind": "void"}])
        journal.append(target, {"what": "undo", "id": id_, "trip": by.told()})
        journal.append(target, {"what": "written", "id": id_})
    return Added(path, id_, 1)


def _earlier(found: Sequence[journal.JournalLine], by: ByTrip, digest: str) -> journal.JournalLine | None:
    """The closing of this trip that stands; of a trip without a departure only one with the very same lines."""
    known = journal.of_trip(found, by)
    if known is not None:
        return known
    standing = reversed(journal.standing(found).values())
    return next((one for one in standing if one["trip"] == by.told() and one.get("lines") == digest), None)


def _append(target: Path, rows: Sequence[dict[str, Any]]) -> None:
    """Adds lines in one write. A line that a power cut left unfinished is ended first, and stays as it is."""
    data = b"".join(json.dumps(row, allow_nan=False).encode("ascii") + b"\n" for row in rows)
    try:
        with target.open("a+b") as file:
            size = file.seek(0, os.SEEK_END)
            if size:
                file.seek(size - 1)
                data = data if file.read(1) == b"\n" else b"\n" + data
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        reason = (error.strerror or type(error).__name__).lower()
        raise OutputError(f"{target}: the history cannot be written ({reason}). Fix: get leave to write it.") from None
