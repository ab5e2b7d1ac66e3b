"""What somebody notes of a cylinder in the store between trips: read again, refilled, put out of use, back in use.

Each note is a line of the journal with its own time, and the store follows it. A cylinder out of use stands in the
store with `out_of_use: true`, and no trip is given it.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Any, NamedTuple

from planner.files.output import OutputError
from planner.model import Trip
from planner.profile.store import parse_store
from planner.store import journal
from planner.store.closing import LastReading, NewGauges
from planner.store.store_file import OpenStore, opened, text_of
from planner.text.letters import unshown


class Note(NamedTuple):
    """A note of one cylinder.

    `what`: `read`, `refilled`, `out_of_use` or `back_in_use`; `text`: for the first two its gauge as typed, for the
    third why.
    """

    what: str
    label: str
    text: str = ""


class Noted(NamedTuple):
    """A note that was written: the gauge as it was and is; `later`: not written, the store has a later reading."""

    note: Note
    before: str
    after: str
    later: bool = False


def note_all(path: Path, notes: Sequence[Note], moment: datetime) -> list[Noted]:
    """Write notes into a store and its journal, one after another; `moment`: when gauges were read.

    Each of `notes` names another cylinder. Raises `ProblemsError` where the store has a fault, a cylinder is not there,
    a gauge cannot be, or rises without being refilled, and `OutputError` where the store cannot be written. All are
    looked at before the first is written.
    """
    with opened(path) as store:
        parse_store(store.text, str(path))
        store.known(note.label for note in notes)
        gauges = {note.label: {"gauge": note.text} for note in notes if note.what in ("read", "refilled")}
        parse_store(store.with_values(gauges), str(path))
        changes = [(note, _change(store, note, moment)) for note in notes]
        told = []
        for note, change in changes:
            before = text_of(store.known([note.label])[note.label], "gauge")
            if change is not None:
                line = {"what": note.what, "id": journal.new_id(), "cylinders": [change]}
                store.commit(line | ({"why": note.text} if note.what == "out_of_use" else {}))
            after = text_of(store.known([note.label])[note.label], "gauge")
            told.append(Noted(note, before, after, later=change is None))
        return told


def with_why(trip: Trip) -> Trip:
    """The trip with why each cylinder of its store files is out of use, where a journal says it in printable letters.

    A journal that cannot be read says nothing: a trip on its way is planned again without it.
    """
    supplies = dict(trip.supplies)
    for name, supply in trip.supplies.items():
        if supply.store is None or supply.store_file is None:
            continue
        why: dict[str, str] = {}
        with suppress(OutputError):
            for line in journal.lines(Path(supply.store_file).resolve()):
                if line["what"] == "out_of_use":
                    told = " ".join(str(line.get("why", "")).split())
                    why |= {one["label"]: "" if unshown(told) else told for one in line["cylinders"]}
        store = (one._replace(out_of_use_why=why.get(one.label, "")) if one.out_of_use else one for one in supply.store)
        supplies[name] = supply._replace(store=tuple(store))
    return trip._replace(supplies=supplies)


def _change(store: OpenStore, note: Note, moment: datetime) -> dict[str, Any] | None:
    """The change of a note as the journal holds it; None for a reading older than the one in the store."""
    if note.what in ("read", "refilled"):
        reading = LastReading(note.text, moment, zoned=False, refilled=note.what == "refilled")
        return next(iter(NewGauges(store, {note.label: reading}).entries()), None)
    was = text_of(store.known([note.label])[note.label], "out_of_use") or None
    to = "true" if note.what == "out_of_use" else "false"
    return {"label": note.label, "from": {"out_of_use": was}, "to": {"out_of_use": to}}
