"""The filled-in form of the pack (PDF) as the tree of a readings file.

Only the fields of the log count, with the ticks for shut and bled of the return list: a box of the card that asks for
the same reading is the same field. The names of the fields are in planner/pages/README.md. A gauge without a unit is
in the unit of the pages, a flow without one in L/min. Rows are put in the order of time, for a change may have come
earlier or later than planned.
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from planner import figures
from planner.problems import Problem, ProblemsError
from planner.report.log.log import LogRow, log
from planner.results import Plan
from planner.text import quantities
from planner.text.node import Node
from planner.text.text_file import UNSEEN
from planner.text.wall_clock import parse_clock

_CHECKPOINT = re.compile(r"(leave,|read in|arrive,) leg ([0-9]+)")
_AT: Final = {"leave,": "start", "arrive,": "end"}
_NUMBER = re.compile(r"[0-9]+(\.[0-9]+)?", re.ASCII)
_MOST_BYTES: Final = 20_000_000
_DAY_MIN: Final = 24 * 60.0
_SHUT, _BLED = "return.shut", "return.bleed"
_ALLOWED: Final = "the pages of this trip, made with --fillable, filled in and saved"


@dataclass(frozen=True, slots=True)
class _Row:
    """A row of the log that something was typed into, and the minute by which it is put in order."""

    minute: float
    node: Node


def form_tree(path: str | os.PathLike[str], plan: Plan) -> Node:
    """The tree of a filled-in form. Raises `ProblemsError` where the file is no form of this trip's pages."""
    file = os.fspath(path)
    typed = _fields(file)
    rows = [row for part in log(plan) for row in part.rows]
    named = {f"log.{row.key}.{box}" for row in rows for box in ("gauge", "time", "flow", "initials", "cylinder")}
    if not any(name in named for name in typed):
        raise _error(file, "not_this_form", "a PDF without the boxes of this trip's log", _ALLOWED)
    strange = [name for name, text in typed.items() if name.startswith("log.") and name not in named and text]
    if strange:
        found = f"something in {strange[0]}, which the log of this plan does not have"
        raise _error(file, "not_this_form", found, "the log of the plan as it was printed")
    entries, last = [], []
    for row in rows:
        if row.what.startswith("after return"):
            last += _last(file, plan, typed, row)
        else:
            entries += _entry(file, plan, typed, row)
    entries.sort(key=lambda each: each.minute)
    pairs = [_pair(file, "readings", "readings", "1")]
    if entries:
        pairs.append(
            (_node(file, "log", "log"), Node("list", items=tuple(each.node for each in entries), line=1, column=1))
        )
    ticked = typed.get(_SHUT) == "Yes" and typed.get(_BLED) == "Yes"
    if last or ticked:
        pairs.append((_node(file, "closed", "closed"), _closed(file, typed, rows, last, ticked=ticked)))
    return Node("map", pairs=tuple(pairs), line=1, column=1)


def _fields(file: str) -> dict[str, str]:
    """What stands in each field, ticks as `Yes`; empty ones are left out."""
    from pypdf import PdfReader
    from pypdf.errors import PyPdfError

    try:
        if Path(file).stat().st_size > _MOST_BYTES:
            raise _error(file, "too_large", "more than 20 MB", _ALLOWED)
        reader = PdfReader(file)
        found: Mapping[str, Any] = reader.get_fields() or {}
    except OSError as error:
        reason = (error.strerror or type(error).__name__).lower()
        raise _error(file, "not_readable", f"a file that cannot be read ({reason})", _ALLOWED) from None
    except (PyPdfError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise _error(file, "not_a_pdf", "no PDF that can be read", _ALLOWED) from None
    texts = {name: str(field.get("/V") or "").strip() for name, field in found.items()}
    return {name: text.removeprefix("/") for name, text in texts.items() if text and text not in ("/Off", "/")}


def _entry(file: str, plan: Plan, typed: Mapping[str, str], row: LogRow) -> list[_Row]:
    """The entry of a row of the log, none where nothing was typed."""
    base = f"log.{row.key}"
    place = _CHECKPOINT.match(row.what)
    gauge_name = f"{base}.gauge"
    at = None if place is None else _AT.get(place[1])
    time, flow = typed.get(f"{base}.time"), typed.get(f"{base}.flow")
    gauge = typed.get(gauge_name) if row.gauge else None
    known = row.supply in plan.supplies and plan.supplies[row.supply].supply.kind in ("cylinders", "manifold")
    if not (time or gauge or flow) or (not row.free and not known):
        return []
    pairs = []
    if time is None and row.what == "before departure":
        time = "0 min"
    if time is not None:
        pairs.append(_pair(file, f"{base}.time", "time", time))
    if row.free:
        cylinder = typed.get(f"{base}.cylinder")
        pairs += [_pair(file, f"{base}.cylinder", "cylinder", cylinder)] if cylinder is not None else []
    else:
        pairs += [_pair(file, base, "supply", row.supply), _pair(file, base, "cylinder", row.cylinder)]
    if gauge is not None:
        pairs.append(_pair(file, gauge_name, "gauge", _with_unit(gauge, plan.trip.policy.pressure_unit)))
    if flow is not None:
        pairs.append(_pair(file, f"{base}.flow", "flow", _with_unit(flow, "L/min")))
    if place is not None:
        pairs.append(_pair(file, base, "leg", place[2]))
    if at is not None:
        pairs.append(_pair(file, base, "at", at))
    node = Node("map", pairs=tuple(pairs), line=1, column=1, file=_name(file, base))
    return [_Row(_order(plan, row, time), node)]


def _last(file: str, plan: Plan, typed: Mapping[str, str], row: LogRow) -> list[Node]:
    """The last gauge of a row, none where none was typed."""
    name = f"log.{row.key}.gauge"
    gauge = typed.get(name)
    if gauge is None:
        return []
    pairs = (
        _pair(file, name, "supply", row.supply),
        _pair(file, name, "cylinder", row.cylinder),
        _pair(file, name, "gauge", _with_unit(gauge, plan.trip.policy.pressure_unit)),
    )
    return [Node("map", pairs=pairs, line=1, column=1, file=_name(file, name))]


def _closed(file: str, typed: Mapping[str, str], rows: list[LogRow], last: list[Node], *, ticked: bool) -> Node:
    pairs = []
    for row in rows:
        name = f"log.{row.key}.time"
        if row.what.startswith("after return") and name in typed:
            pairs = [_pair(file, name, "time", typed[name])]
    if ticked:
        pairs.append(_pair(file, _SHUT, "shut_and_bled", "true"))
    if last:
        pairs.append((_node(file, "last", "last"), Node("list", items=tuple(last), line=1, column=1)))
    return Node("map", pairs=tuple(pairs), line=1, column=1, file=_name(file, "return"))


def _order(plan: Plan, row: LogRow, time: str | None) -> float:
    """The minute by which a row is put in order: as typed; a clock time on the day nearest to what is planned."""
    planned = plan.trip.total_min / 2.0 if row.free else _duration(row.elapsed) or 0.0
    clock = None if time is None else parse_clock(time)
    departs = plan.trip.departs
    if clock is None or departs is None:
        typed = None if time is None else _duration(time)
        return planned if typed is None else typed
    at = datetime.combine(departs.date(), clock.time)
    minute = (at - departs.replace(tzinfo=None)).total_seconds() / 60.0
    return minute + _DAY_MIN * figures.steps_nearest(planned - minute, _DAY_MIN)


def _duration(text: str) -> float | None:
    try:
        return quantities.parse(text, "duration")
    except quantities.QuantityError:
        return None


def _with_unit(text: str, unit: str) -> str:
    return f"{text} {unit}" if _NUMBER.fullmatch(text) else text


def _pair(file: str, field: str, key: str, text: str) -> tuple[Node, Node]:
    clean = UNSEEN.sub("?", text)
    return _node(file, field, key), Node("scalar", clean, line=1, column=1, file=_name(file, field))


def _node(file: str, field: str, text: str) -> Node:
    return Node("scalar", text, line=1, column=1, file=_name(file, field))


def _name(file: str, field: str) -> str:
    return f"{file} ({field})"


def _error(file: str, code: str, found: str, allowed: str) -> ProblemsError:
    fix = "give the filled-in pages of this trip, or write the readings in a YAML file"
    return ProblemsError([Problem(file, 1, 1, code, found, allowed, fix)])
