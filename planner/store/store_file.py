"""Last gauges written back into a store file: under a lock, whole or not at all, with the earlier file kept.

Only `gauge` and `checked` of the cylinders named change (`planner.store.store_text`). The file as it was stands beside
it as `NAME.before`. A cylinder that the store knows by a later reading keeps that one.
"""

from __future__ import annotations

import re
import stat
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

from planner.files.file_lock import locked
from planner.files.output import OutputError, write_whole
from planner.problems import Problem, ProblemsError
from planner.profile.clock import read_moment
from planner.profile.faults import Faults
from planner.profile.fields import Fields
from planner.store.store_text import NewReading, with_readings
from planner.text import source
from planner.text.node import Node

KEPT: Final = ".before"
_OFFSET: Final = re.compile(r":[0-9]{2} ?(Z|[+-][0-9]{2}:?[0-9]{2})$", re.ASCII)


@dataclass(frozen=True, slots=True)
class LastReading:
    """The last gauge of one cylinder, as typed, and when it was read.

    `zoned` False: the trip knows no zone, and the time is written without one where the store shows no other way.
    """

    gauge_text: str
    moment: datetime
    zoned: bool = True


@dataclass(frozen=True, slots=True)
class Written:
    """What was written: the file, the old gauge and the new one by label, and where the earlier file is kept.

    `newer` names cylinders of which the store has a later reading, which was left. `kept` is None where nothing
    had to change.
    """

    file: Path
    gauges: Mapping[str, tuple[str, str]]
    newer: tuple[str, ...]
    kept: Path | None


def write_back(path: Path, readings: Mapping[str, LastReading]) -> Written:
    """Write last gauges, by label, into a store file.

    Raises `ProblemsError` where the file cannot be read or lacks a cylinder, and `OutputError` where it cannot be
    written; then nothing has changed.
    """
    target = path.resolve()
    with locked(target):
        data, text = _read(target, path)
        cylinders = _cylinders(source.loads(text, str(path)).root)
        missing = [label for label in readings if label not in cylinders]
        if missing:
            raise ProblemsError(_missing(path, label) for label in missing)
        newer = tuple(label for label, each in readings.items() if _known_later(cylinders[label], each.moment))
        new = {
            label: NewReading(each.gauge_text, _checked(each, cylinders, label))
            for label, each in readings.items()
            if label not in newer
        }
        after = with_readings(text, new, str(path))
        changed = {label: (_text(cylinders[label], "gauge"), reading.gauge) for label, reading in new.items()}
        if after == text:
            return Written(path, changed, newer, None)
        mode = stat.S_IMODE(target.stat().st_mode)
        kept = target.with_name(target.name + KEPT)
        _write(kept, data, mode)
        _write(target, after.encode("utf-8"), mode)
    return Written(path, changed, newer, path.with_name(path.name + KEPT) if target == path.absolute() else kept)


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
