"""Last gauges written back into a store file: under a lock, whole or not at all, with the earlier file kept.

Only `gauge` and `checked` of the cylinders named change (`planner.store.store_text`). The file as it was stands beside
it as `NAME.before`. Every closing stands in the journal first (`planner.store.journal`), so that it can be undone. A
cylinder that the store knows by a later reading keeps that one, and none gets fuller unless it was refilled.
"""

from __future__ import annotations

import re
import stat
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from planner.constants import KPA_PER_PSI
from planner.files.file_lock import locked
from planner.files.output import OutputError, write_whole
from planner.problems import Problem, ProblemsError
from planner.profile.clock import read_moment
from planner.profile.faults import Faults
from planner.profile.fields import Fields
from planner.store import journal
from planner.store.journal import ByTrip
from planner.store.store_text import NewReading, with_readings
from planner.text import source
from planner.text.node import Node

KEPT: Final = ".before"
WITHIN_KPA: Final = 100.0 * KPA_PER_PSI
"""A gauge may read so much higher in another hand or a warmer room; the lower reading is then kept. By decision."""

_OFFSET: Final = re.compile(r":[0-9]{2} ?(Z|[+-][0-9]{2}:?[0-9]{2})$", re.ASCII)


@dataclass(frozen=True, slots=True)
class LastReading:
    """The last gauge of one cylinder, as typed, and when it was read.

    `zoned` False: the trip knows no zone, and the time is written without one where the store shows no other way.
    `dated` False: nobody knows when it was read, and `moment` stands in; it then only ever lowers a gauge. `refilled`:
    the log says that the cylinder was filled after the trip. `drawn` is the gauge that the trip began with, `place` the
    file, line and column of the last gauge.
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
    target = path.resolve()
    with locked(target):
        data, text = _caught_up(target, path)
        found = journal.lines(target)
        earlier = journal.of_trip(found, by)
        closing = _Closing(path, text, readings, earlier)
        if closing.after == text or closing.closed_before():
            id_ = None if earlier is None else str(earlier["id"])
            return WrittenBack(path, closing.changed, closing.newer, None, closing.lost(), id_)
        line = {
            "what": "close",
            "id": journal.new_id() if earlier is None else earlier["id"],
            "trip": by.told(),
            "cylinders": closing.entries(),
        }
        journal.append(target, line)
        mode = stat.S_IMODE(target.stat().st_mode)
        kept = target.with_name(target.name + KEPT)
        if earlier is None or not kept.exists():
            _write(kept, data, mode)
        _write(target, closing.after.encode("utf-8"), mode)
        journal.append(target, {"what": "written", "id": line["id"]})
    beside = path.with_name(path.name + KEPT) if target == path.absolute() else kept
    return WrittenBack(path, closing.changed, closing.newer, beside, closing.lost(), str(line["id"]))


def check_back(path: Path, readings: Mapping[str, LastReading], by: ByTrip) -> None:
    """Raises what `write_back` would, without writing, so that a trip with several stores is closed whole."""
    target = path.resolve()
    with locked(target):
        _, text = _caught_up(target, path)
        _Closing(path, text, readings, journal.of_trip(journal.lines(target), by))


def closing_id(path: Path, by: ByTrip) -> str | None:
    """The ID of a trip's closing that stands in the journal of a store; None where it has none."""
    closed = journal.of_trip(journal.lines(path.resolve()), by, undated=True)
    return None if closed is None else str(closed["id"])


def undo(path: Path, by: ByTrip) -> Mapping[str, tuple[str, str]] | None:
    """Take back what a trip's closing wrote into a store: gauges, old and new, by label; None where it has none.

    A cylinder that was read again since keeps that reading. Raises as `write_back`.
    """
    target = path.resolve()
    with locked(target):
        _, text = _caught_up(target, path)
        closed = journal.of_trip(journal.lines(target), by, undated=True)
        if closed is None:
            return None
        cylinders = _cylinders(source.loads(text, str(path)).root)
        back = [
            {"label": one["label"], "from": one["to"], "to": one["from"]}
            for one in closed["cylinders"]
            if one["label"] in cylinders and _state(cylinders[one["label"]]) == one["to"]
        ]
        journal.append(target, {"what": "undo", "id": closed["id"], "trip": by.told(), "cylinders": back})
        _write(target, _applied(text, back, path).encode("utf-8"), stat.S_IMODE(target.stat().st_mode))
        journal.append(target, {"what": "written", "id": closed["id"]})
    return {one["label"]: (one["from"]["gauge"], one["to"]["gauge"]) for one in back}


class _Closing:
    """What a closing makes of the text of a store. Raises `ProblemsError` for one that cannot be."""

    def __init__(
        self, path: Path, text: str, readings: Mapping[str, LastReading], earlier: journal.JournalLine | None
    ) -> None:
        self.readings, self.earlier = readings, earlier
        self.cylinders = _cylinders(source.loads(text, str(path)).root)
        missing = [label for label in readings if label not in self.cylinders]
        if missing:
            raise ProblemsError(_missing(path, label) for label in missing)
        self.before = {one["label"]: one["from"] for one in (earlier or {}).get("cylinders", ())}
        self.newer = tuple(label for label, each in readings.items() if self._known_later(label, each))
        rising = [label for label in readings if label not in self.newer and self._rise_kpa(label) > WITHIN_KPA]
        if rising:
            raise ProblemsError(_fuller(path, label, readings[label], self._prior(label)["gauge"]) for label in rising)
        self.new = {label: self._reading(label) for label in readings if label not in self.newer}
        self.after = with_readings(text, self.new, str(path))
        self.changed = {label: (_text(self.cylinders[label], "gauge"), one.gauge) for label, one in self.new.items()}

    def entries(self) -> list[dict[str, Any]]:
        """The cylinders as a line of the journal holds them, those of the earlier closing that stay among them."""
        kept = [one for one in (self.earlier or {}).get("cylinders", ()) if one["label"] not in self.new]
        return kept + [
            {
                "label": label,
                "from": self._prior(label),
                "to": {"gauge": one.gauge, "checked": one.checked},
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
            if typed_gauge_kpa(before) - typed_gauge_kpa(each.drawn) > WITHIN_KPA:
                found[label] = (before, each.drawn)
        return found

    def closed_before(self) -> bool:
        """True where the trip has closed with these very gauges."""
        closed = {one["label"]: one["to"]["gauge"] for one in (self.earlier or {}).get("cylinders", ())}
        return bool(closed) and all(closed.get(label) == one.gauge for label, one in self.new.items())

    def _prior(self, label: str) -> dict[str, str | None]:
        """Gauge and time of a cylinder before this trip closed."""
        return self.before.get(label) or _state(self.cylinders[label])

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
        if own is not None and own == _state(self.cylinders[label]):
            return False  # what stands there is this trip's own closing, which it now corrects
        if not each.dated:
            return typed_gauge_kpa(each.gauge_text) >= typed_gauge_kpa(_text(self.cylinders[label], "gauge"))
        return _known_later(self.cylinders[label], each.moment)

    def _reading(self, label: str) -> NewReading:
        """What is to stand in the store: where the new gauge is a little higher, the lower one."""
        each = self.readings[label]
        gauge = each.gauge_text if self._rise_kpa(label) <= 0.0 else self._prior(label)["gauge"] or each.gauge_text
        return NewReading(gauge, _checked(each, self.cylinders, label))


def _caught_up(target: Path, path: Path) -> tuple[bytes, str]:
    """The store, with what its journal says and a killed program did not write put in first."""
    data, text = _read(target, path)
    last = journal.unwritten(journal.lines(target))
    if last is None:
        return data, text
    after = _applied(text, last["cylinders"], path)
    if after != text:
        _write(target, after.encode("utf-8"), stat.S_IMODE(target.stat().st_mode))
    journal.append(target, {"what": "written", "id": last["id"]})
    return _read(target, path)


def _applied(text: str, changes: Sequence[journal.JournalLine], path: Path) -> str:
    """The text of a store with changes of its journal, each where the store stands as it did before it."""
    cylinders = _cylinders(source.loads(text, str(path)).root)
    due = [one for one in changes if one["label"] in cylinders and _state(cylinders[one["label"]]) == one["from"]]
    # A time that was not there before cannot be taken out again without touching the layout: it stays.
    new = {
        one["label"]: NewReading(one["to"]["gauge"], one["to"]["checked"] or one["from"]["checked"] or "")
        for one in due
    }
    return with_readings(text, new, str(path)) if new else text


def _state(cylinder: Node) -> dict[str, str | None]:
    """Gauge and time of a cylinder as they stand in a store."""
    return {"gauge": _text(cylinder, "gauge"), "checked": _text(cylinder, "checked") or None}


def typed_gauge_kpa(gauge: str) -> float:
    """A gauge as it stands in a store, kPa; 0 for none that can be read."""
    pairs = ((Node("scalar", "gauge"), Node("scalar", gauge)),)
    found = Fields(Faults(""), Node("map", pairs=pairs), "cylinder").quantity("gauge")
    return 0.0 if found is None else found


def _fuller(path: Path, label: str, reading: LastReading, before: str | None) -> Problem:
    return Problem(
        *(reading.place if reading.place[0] else (str(path), 0, 0)),
        "gauge_rises",
        f"cylinder `{label}` with {reading.gauge_text} after the trip, where the store has {before} before it",
        "a last gauge not above the one before the trip, unless the cylinder was refilled",
        "read the label and the gauge once more; if it was refilled after the trip, add `refilled: true`",
    )


def _write(path: Path, data: bytes, mode: int) -> None:
    try:
        write_whole(path, lambda temporary: _put(temporary, data), mode=mode)
    except OutputError as error:
        what = str(error).partition(" Fix: ")[0]
        fix = "get leave to write in its folder, or free the disk, and close the trip again; the store is as it was"
        raise OutputError(f"{what} Fix: {fix}.") from None


def _put(path: Path, data: bytes) -> None:
    path.write_bytes(data)


def _read(target: Path, path: Path) -> tuple[bytes, str]:
    try:
        data = target.read_bytes()
        return data, data.decode("utf-8")
    except (OSError, UnicodeDecodeError):
        source.load(path)  # tells what is wrong with the file
        raise


def _cylinders(root: Node) -> dict[str, Node]:
    listed = root.get("cylinders")
    return {_text(node, "label"): node for node in (listed.items if listed is not None else ())}


def _text(node: Node, key: str) -> str:
    value = node.get(key)
    return "" if value is None else value.text.strip()


def _missing(path: Path, label: str) -> Problem:
    return Problem(
        str(path),
        0,
        0,
        "cylinder_unknown",
        f"no cylinder `{label}`, whose last gauge is to be written",
        "the cylinders of the trip",
        "put its entry back, or write its gauge by hand",
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
    own = _text(cylinders[label], "checked")
    known = [own] if own else [other for node in cylinders.values() if (other := _text(node, "checked"))]
    moment = reading.moment
    text = f"{moment:%Y-%m-%d %H:%M}"
    if moment.tzinfo is None:
        return text
    offset = f"{moment:%z}"
    twice = moment.replace(fold=0).utcoffset() != moment.replace(fold=1).utcoffset()
    with_offset = _OFFSET.search(known[0]) is not None or twice if known else reading.zoned
    return f"{text}{offset[:3]}:{offset[3:5]}" if with_offset else text
