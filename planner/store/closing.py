"""Last gauges of a trip written back into its store, taken back again, and what that tells of a leak in the rack.

Only `gauge` and `checked` of the cylinders named change. Every closing stands in the journal first, so that it can be
undone. A cylinder that the store knows by a later reading keeps that one, and none gets fuller unless it was refilled.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Any, Final

from planner.constants import GAUGES_ALIKE_KPA
from planner.files.output import OutputError
from planner.model import Trip
from planner.problems import Problem, ProblemsError
from planner.profile.clock import read_moment
from planner.profile.faults import Faults
from planner.profile.fields import Fields
from planner.store import journal
from planner.store.journal import ByTrip
from planner.store.store_file import KEPT, OpenStore, opened, text_of
from planner.text.node import Node

_OFFSET: Final = re.compile(r":[0-9]{2} ?(Z|[+-][0-9]{2}:?[0-9]{2})$", re.ASCII)


@dataclass(frozen=True, slots=True)
class LastReading:
    """The last gauge of one cylinder, as typed, and when it was read.

    `zoned` False: the trip knows no zone, and the time is written without one where the store shows no other way.
    `dated` False: nobody knows when it was read, and `moment` stands in; it then only ever lowers a gauge. `refilled`:
    the log says that the cylinder was filled after the trip. `drawn` is the gauge that the trip began with, `place` the
    file, line and column of the last gauge, without a file for one that was read between trips.
    """

    gauge_text: str
    moment: datetime
    zoned: bool = True
    dated: bool = True
    refilled: bool = False
    drawn: str | None = None
    place: tuple[str, int, int] = ("", 0, 0)


@dataclass(frozen=True, slots=True)
class WrittenBack:
    """What was written: the file, the old gauge and the new one by label, and where the earlier file is kept.

    `newer` names cylinders of which the store has a later reading, which was left. `kept` is None where nothing
    had to change. `id` is that of the trip in the journal, None where it has none. `lost`: cylinders that read less at
    the beginning of the trip than in the store, with both gauges.
    """

    file: Path
    gauges: Mapping[str, tuple[str, str]]
    newer: tuple[str, ...]
    kept: Path | None
    lost: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    id: str | None = None


def write_back(path: Path, readings: Mapping[str, LastReading], by: ByTrip | None = None) -> WrittenBack:
    """Write last gauges, by label, into a store file. A trip that is closed again replaces what it closed before.

    Raises `ProblemsError` where the file cannot be read, lacks a cylinder, or a cylinder would get fuller, and
    `OutputError` where it cannot be written; then nothing has changed.
    """
    by = ByTrip("") if by is None else by
    with opened(path) as store:
        earlier = journal.of_trip(store.lines, by)
        new = NewGauges(store, readings, earlier)
        id_ = journal.new_id() if earlier is None else str(earlier["id"])
        if not new.changes_store or new.closed_before():
            return WrittenBack(path, new.changed, new.newer, None, new.lost(), None if earlier is None else id_)
        line = {"what": "close", "id": id_, "trip": by.told(), "cylinders": new.entries()}
        kept = store.commit(line, keep_anew=earlier is None)
    beside = path.with_name(path.name + KEPT) if store.target == path.absolute() else kept
    return WrittenBack(path, new.changed, new.newer, beside, new.lost(), id_)


def check_back(path: Path, readings: Mapping[str, LastReading], by: ByTrip) -> None:
    """Raises what `write_back` would, without writing, so that a trip with several stores is closed whole."""
    with opened(path) as store:
        NewGauges(store, readings, journal.of_trip(store.lines, by))


def closing_id(path: Path, by: ByTrip) -> str | None:
    """The ID of a trip's closing that stands in the journal of a store; None where it has none."""
    closed = journal.of_trip(journal.lines(path.resolve()), by, undated=True)
    return None if closed is None else str(closed["id"])


def undo(path: Path, by: ByTrip) -> Mapping[str, tuple[str, str]] | None:
    """Take back what a trip's closing wrote into a store: gauges, old and new, by label; None where it has none.

    A cylinder that was read again since keeps that reading. Raises as `write_back`.
    """
    with opened(path) as store:
        closed = journal.of_trip(store.lines, by, undated=True)
        if closed is None:
            return None
        back = [
            {"label": one["label"], "from": one["to"], "to": one["from"]}
            for one in closed["cylinders"]
            if store.stands(one["label"], one["to"])
        ]
        store.commit({"what": "undo", "id": closed["id"], "trip": by.told(), "cylinders": back})
    return {one["label"]: (one["from"]["gauge"], one["to"]["gauge"]) for one in back}


def as_it_was(trip: Trip, by: ByTrip) -> Trip:
    """A trip with its stores as they stood before it was closed, so that it compares alike however often.

    The trip itself where no closing of it stands, or a journal cannot be read: who closes it is told so.
    """
    supplies = dict(trip.supplies)
    zone = None if trip.departs is None else trip.departs.tzinfo
    for name, supply in trip.supplies.items():
        with suppress(OutputError):
            lines = [] if supply.store_file is None else journal.lines(Path(supply.store_file).resolve())
            closed = journal.of_trip(lines, by)
            before = {one["label"]: one["from"] for one in closed["cylinders"]} if closed else {}
            store = (
                cylinder
                if cylinder.label not in before
                else cylinder._replace(
                    gauge_kpa=typed_gauge_kpa(before[cylinder.label]["gauge"]),
                    checked=_moment(before[cylinder.label]["checked"], zone),
                )
                for cylinder in supply.store or ()
            )
            supplies[name] = supply._replace(store=tuple(store)) if before else supply
    return trip._replace(supplies=supplies)


def _moment(text: str | None, zone: tzinfo | None) -> datetime | None:
    node = Node("map", pairs=((Node("scalar", "checked"), Node("scalar", text or "")),))
    return None if text is None else read_moment(Fields(Faults(""), node, "cylinder"), "checked", zone)


class NewGauges:
    """What new readings make of a store. Raises `ProblemsError` for ones that cannot be.

    `earlier`: what the same trip closed before, which these readings correct.
    """

    def __init__(
        self, store: OpenStore, readings: Mapping[str, LastReading], earlier: journal.JournalLine | None = None
    ) -> None:
        self.readings, self.earlier = readings, earlier
        self.cylinders = store.known(readings)
        self.before = {one["label"]: one["from"] for one in (earlier or {}).get("cylinders", ())}
        self.newer = tuple(label for label, each in readings.items() if self._known_later(label, each))
        due = [label for label in readings if label not in self.newer]
        rising = [label for label in due if self._rise_kpa(label) > GAUGES_ALIKE_KPA]
        if rising:
            raise ProblemsError(
                _fuller(store.path, label, readings[label], self._prior(label)["gauge"]) for label in rising
            )
        self.now = {label: state_of(self.cylinders[label]) for label in due}
        self.new = {label: self._reading(label) for label in due}
        self.changed = {label: (self.now[label]["gauge"] or "", one["gauge"]) for label, one in self.new.items()}

    @property
    def changes_store(self) -> bool:
        """True where a gauge or a time is to change."""
        return any(self.now[label] != one for label, one in self.new.items())

    def entries(self) -> list[dict[str, Any]]:
        """The cylinders as a line of the journal holds them, those of the earlier closing that stay among them."""
        kept = [one for one in (self.earlier or {}).get("cylinders", ()) if one["label"] not in self.new]
        return kept + [
            {
                "label": label,
                "from": self._prior(label),
                "was": self.now[label],
                "to": one,
                "drawn": self.readings[label].drawn,
                "refilled": self.readings[label].refilled,
            }
            for label, one in self.new.items()
        ]

    def lost(self) -> dict[str, tuple[str, str]]:
        """What leaked in the rack: the gauge in the store, and the one that the trip began with where it is less."""
        found = {}
        for label, each in self.readings.items():
            before = self._prior(label)["gauge"] or ""
            if each.drawn is None or label in self.newer:
                continue
            if typed_gauge_kpa(before) - typed_gauge_kpa(each.drawn) > GAUGES_ALIKE_KPA:
                found[label] = (before, each.drawn)
        return found

    def closed_before(self) -> bool:
        """True where the trip has closed with these very gauges."""
        closed = {one["label"]: one["to"]["gauge"] for one in (self.earlier or {}).get("cylinders", ())}
        return bool(closed) and all(closed.get(label) == one["gauge"] for label, one in self.new.items())

    def _prior(self, label: str) -> dict[str, str | None]:
        """Gauge and time of a cylinder before this trip closed."""
        return self.before.get(label) or state_of(self.cylinders[label])

    def _rise_kpa(self, label: str) -> float:
        """By how much a cylinder would get fuller; 0 for one that was refilled."""
        each = self.readings[label]
        return (
            0.0
            if each.refilled
            else typed_gauge_kpa(each.gauge_text) - typed_gauge_kpa(self._prior(label)["gauge"] or "")
        )

    def _known_later(self, label: str, each: LastReading) -> bool:
        """True where the store has a reading from after this one. One without a time counts only where it is lower."""
        own = next((one["to"] for one in (self.earlier or {}).get("cylinders", ()) if one["label"] == label), None)
        if own is not None and own == state_of(self.cylinders[label]):
            return False  # what stands there is this trip's own closing, which it now corrects
        if not each.dated:
            return typed_gauge_kpa(each.gauge_text) >= typed_gauge_kpa(text_of(self.cylinders[label], "gauge"))
        return _known_later(self.cylinders[label], each.moment)

    def _reading(self, label: str) -> dict[str, str]:
        """What is to stand in the store: where the new gauge is a little higher, the lower one."""
        each = self.readings[label]
        gauge = each.gauge_text if self._rise_kpa(label) <= 0.0 else self._prior(label)["gauge"] or each.gauge_text
        return {"gauge": gauge, "checked": _checked(each, self.cylinders, label)}


def state_of(cylinder: Node) -> dict[str, str | None]:
    """Gauge and time of a cylinder as they stand in a store."""
    return {"gauge": text_of(cylinder, "gauge"), "checked": text_of(cylinder, "checked") or None}


def typed_gauge_kpa(gauge: str) -> float:
    """A gauge as it stands in a store, kPa; 0 for none that can be read."""
    pairs = ((Node("scalar", "gauge"), Node("scalar", gauge)),)
    found = Fields(Faults(""), Node("map", pairs=pairs), "cylinder").quantity("gauge")
    return 0.0 if found is None else found


def _fuller(path: Path, label: str, reading: LastReading, before: str | None) -> Problem:
    if not reading.place[0]:
        return Problem(
            str(path),
            0,
            0,
            "gauge_rises",
            f"cylinder `{label}` read again with {reading.gauge_text}, where the store has {before}",
            "a gauge not above the one in the store, unless the cylinder was refilled",
            "read the label and the gauge once more; if it was refilled, give "
            f'--refilled {label}="{reading.gauge_text}"',
        )
    return Problem(
        *reading.place,
        "gauge_rises",
        f"cylinder `{label}` with {reading.gauge_text} after the trip, where the store has {before} before it",
        "a last gauge not above the one before the trip, unless the cylinder was refilled",
        "read the label and the gauge once more; if it was refilled after the trip, add `refilled: true`",
    )


def _known_later(cylinder: Node, moment: datetime) -> bool:
    """True where the store has a reading of the cylinder from after this one."""
    known = read_moment(Fields(Faults(""), cylinder, "cylinder"), "checked", None)
    if known is None:
        return False
    if known.tzinfo is None or moment.tzinfo is None:
        return known.replace(tzinfo=None) > moment.replace(tzinfo=None)
    return known > moment


def _checked(reading: LastReading, cylinders: Mapping[str, Node], label: str) -> str:
    """The moment as the store writes such times: with the offset where it does, or where the clock is in doubt."""
    own = text_of(cylinders[label], "checked")
    known = [own] if own else [other for node in cylinders.values() if (other := text_of(node, "checked"))]
    moment = reading.moment
    text = f"{moment:%Y-%m-%d %H:%M}"
    if moment.tzinfo is None:
        return text
    offset = f"{moment:%z}"
    twice = moment.replace(fold=0).utcoffset() != moment.replace(fold=1).utcoffset()
    with_offset = _OFFSET.search(known[0]) is not None or twice if known else reading.zoned
    return f"{text}{offset[:3]}:{offset[3:5]}" if with_offset else text
