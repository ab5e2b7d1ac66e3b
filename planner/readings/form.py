"""The filled-in form of the pack (PDF) as the tree of a readings file.

Only the fields of the log count, with the time of leaving and the ticks for shut and bled of the return list: a box of
the card that asks for the same reading is the same field. The names of the fields are in planner/pages/README.md. A
gauge without a unit is in the unit of the pages, a flow without one in L/min. A form of another trip is refused, and
one of an older print is read as that of the plan that it was printed from. Rows are put in the order of time, for a
change may have come earlier or later than planned.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from math import inf
from pathlib import Path
from typing import Final, NamedTuple

from planner import figures
from planner.afterwards.unit_slip import UNIT_IN_DOUBT, Foreseen, foreseen
from planner.files.apart import TooMuchError, apart
from planner.go.vessel import unit_of
from planner.model import Trip
from planner.planning import plan as made
from planner.problems import Problem, ProblemsError
from planner.profile.faults import listed_names
from planner.profile.read import read_printed
from planner.readings import pdf_fields
from planner.readings.onward import planned_again
from planner.report.gases import as_written, for_paper
from planner.report.identity import ATTACHMENT, Identity, identity, identity_of, planned_from
from planner.report.log.log import COMES_OFF, LogRow, log
from planner.results import Plan
from planner.text import quantities
from planner.text.node import Node
from planner.text.text_file import UNSEEN, show
from planner.text.wall_clock import parse_clock

_CHECKPOINT = re.compile(r"(leave,|read in|arrive,) leg ([0-9]+)")
_BATTERY = re.compile(r"battery\.(.+)\.[0-9]+", re.DOTALL)
_AT: Final = {"leave,": "start", "arrive,": "end"}
_NUMBER = re.compile(r"[0-9]+(\.[0-9]+)?", re.ASCII)
_DAY_MIN: Final = 24 * 60.0
_SHUT, _BLED = "return.shut", "return.bleed"
_LEFT_AT: Final = "card.left_at"
_BOXES: Final = ("gauge", "time", "flow", "initials", "cylinder", "refilled", "refilled_to")
_ALLOWED: Final = "the pages of this trip, made with --fillable, filled in and saved"
_FIX: Final = "give the filled-in pages of this trip, or write the readings in a YAML file"
_MOST_BYTES: Final = 20_000_000
"""A form of all pages with 60 cylinders takes about one megabyte."""
_SAME_TRIP_WITHIN: Final = timedelta(hours=12)
"""A trip without a reference that departs more than so much earlier or later is another one (by decision)."""


@dataclass(frozen=True, slots=True)
class _LogRow:
    """A row of the log that something was typed into, and the minute by which it is put in order."""

    minute: float
    node: Node


class _PdfFields(NamedTuple):
    """What `pdf_fields.answer` gives."""

    values: dict[str, str]
    pages: list[dict[str, str]]
    twice: list[str]
    attached: str | None


class Filled(NamedTuple):
    """A filled-in form: what was typed, and the plan that it was printed from."""

    file: str
    typed: dict[str, str]
    plan: Plan


def read_form(path: str | os.PathLike[str], plan: Plan) -> Filled:
    """A filled-in form of a trip, with its own plan where it is an older print than `plan`.

    Raises `ProblemsError` where the file is no form of this trip.
    """
    file = os.fspath(path)
    found = _fields(file)
    held = _identity(file, found)
    names = [name for name in (plan.trip.reference, plan.trip.name) if name is not None]
    if held.trip not in names:
        other = f"a form of {show(held.trip)} (card {held.number}), held against {show(names[0])}"
        fix = "give the profile of that trip, or the form of this one"
        raise _error(file, "other_trip", other, listed_names(show(name) for name in names), fix)
    if found.twice:
        raise _error(file, "two_values", f"two values in the boxes of {found.twice[0]}", "one reading in all of them")
    mine = identity(plan.trip)
    return Filled(file, found.values, plan if held == mine else _older(file, held, found.attached, plan))


def form_tree(filled: Filled) -> Node:
    """The tree of a filled-in form. Raises `ProblemsError` where it holds nothing, or what its plan does not have."""
    file, typed, plan = filled
    rows = [_of_profile(row, as_written(plan)) for part in log(for_paper(plan)) for row in part.rows]
    named = {f"log.{row.key}.{box}" for row in rows for box in _BOXES}
    strange = [name for name in typed if name.startswith("log.") and name not in named]
    if strange:
        found = f"something in {strange[0]}, which the log of this plan does not have"
        raise _error(file, "not_this_form", found, "the log of the plan as it was printed")
    if not any(name in named for name in typed):
        raise _error(file, "nothing_filled_in", "a form with nothing in the boxes of its log", _ALLOWED)
    of_plan = foreseen(plan)
    slips = [problem for row in rows for problem in _unit_slips(file, plan, typed, row, of_plan)]
    if slips:
        raise ProblemsError(slips)
    entries, last, box = [], [], _time_boxes(rows, typed)
    for row in rows:
        if row.last:
            last += _last(file, plan, typed, row)
        else:
            entries += _entry(file, plan, typed, row, box.get(row.key, f"log.{row.key}.time"))
    entries.sort(key=lambda each: each.minute)
    pairs = [_pair(file, "readings", "readings", "1")]
    if _LEFT_AT in typed:
        pairs.append(_pair(file, _LEFT_AT, "left_at", typed[_LEFT_AT]))
    if entries:
        pairs.append(
            (_node(file, "log", "log"), Node("list", items=tuple(each.node for each in entries), line=1, column=1))
        )
    ticked = typed.get(_SHUT) == "Yes" and typed.get(_BLED) == "Yes"
    if last or ticked:
        pairs.append((_node(file, "closed", "closed"), _closed(file, typed, rows, last, ticked=ticked)))
    return Node("map", pairs=tuple(pairs), line=1, column=1)


_REFUSED: Final = {
    "too_much": ("more in it than a form holds, or more than reading it may take of memory and time", _ALLOWED, _FIX),
    "locked": ("a PDF that is locked", _ALLOWED, "save a copy that asks for no password and is not encrypted"),
    "not_a_pdf": ("no PDF that can be read", _ALLOWED, _FIX),
}
"""What each answer of the process that reads the file means."""


def _of_profile(row: LogRow, written: Mapping[tuple[str, str], str]) -> LogRow:
    """A row with the label of the profile in place of that which is printed."""
    label = written.get((row.supply, row.cylinder))
    return row if label is None else row._replace(cylinder=label)


def _fields(file: str) -> _PdfFields:
    try:
        if Path(file).stat().st_size > _MOST_BYTES:
            raise _error(file, "too_large", "more than 20 MB", _ALLOWED)
        with Path(file).open("rb") as stream:
            stream.read(1)
        answer = apart(pdf_fields, file, ATTACHMENT)
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or "no file can have this name").lower()
        fix = "check the name and the folder"
        raise _error(file, "not_readable", f"a file that cannot be read ({reason})", _ALLOWED, fix) from None
    except TooMuchError:
        answer = "too_much"
    if isinstance(answer, str):
        raise _error(file, answer, *_REFUSED[answer])
    return _PdfFields(**answer)


def _identity(file: str, found: _PdfFields) -> Identity:
    """Which print the pages are of: one and the same on every page with boxes."""
    if not found.pages:
        raise _error(file, "not_this_form", "a PDF without boxes to fill in", _ALLOWED)
    prints = dict.fromkeys(identity_of(page) for page in found.pages)
    known = [each for each in prints if each is not None]
    if not known:
        fix = "print its pages again with this version, or write the readings in a YAML file"
        raise _error(file, "not_this_form", "a form that does not say of which trip it is", _ALLOWED, fix)
    if len(prints) > 1:
        told = [f"card {each.number} of {show(each.trip)}, revision {each.revision}" for each in known]
        told += ["a page that does not say of which"] * (None in prints)
        raise _error(file, "two_prints", f"pages of more than one print: {' and '.join(told[:3])}", "the pages of one")
    return known[0]


def _older(file: str, held: Identity, attached: str | None, plan: Plan) -> Plan:
    """The plan that an older print was made from, as it holds it."""
    what = f"card {held.number}, revision {held.revision}, where the plan is now card {identity(plan.trip).number}"
    fix = "give the profile as it was when the form was printed, or write the readings in a YAML file"
    texts = None if attached is None else planned_from(attached)
    if texts is None:
        raise _error(file, "older_print", f"{what}, and the form does not hold what it was planned from", _ALLOWED, fix)
    try:
        trip = planned_again(read_printed(texts.texts, plan.trip.file, texts.changes), texts.steps)
    except ProblemsError as error:
        told = f"{what}, and what it was planned from can no longer be read ({error.problems[0].found})"
        raise _error(file, "older_print", told, _ALLOWED, fix) from None
    if identity(trip) != held:
        raise _error(file, "older_print", f"{what}, and what it holds is not what it was planned from", _ALLOWED, fix)
    if _other_day(trip, plan.trip):
        found = f"a form of the trip that departed {trip.departs:%Y-%m-%d %H:%M}"
        raise _error(file, "other_trip", found, f"the one that departs {plan.trip.departs:%Y-%m-%d %H:%M}", fix)
    return made(trip)


def _other_day(older: Trip, trip: Trip) -> bool:
    """True where two trips without a reference share a name, and depart on different days."""
    if trip.reference is not None or older.departs is None or trip.departs is None:
        return False
    apart = older.departs.replace(tzinfo=None) - trip.departs.replace(tzinfo=None)
    return abs(apart) > _SAME_TRIP_WITHIN


def _time_boxes(rows: Sequence[LogRow], typed: Mapping[str, str]) -> dict[str, str]:
    """The box with the time of a change, by both its rows: the card has one for both gauges, that of what goes on."""
    found: dict[str, str] = {}
    for off, on in pairwise(rows):
        if off.what == COMES_OFF:
            own = f"log.{off.key}.time"
            box = own if own in typed and f"log.{on.key}.time" not in typed else f"log.{on.key}.time"
            found |= {off.key: own if own in typed else box, on.key: box}
    return found


def _unit_slips(
    file: str, plan: Plan, typed: Mapping[str, str], row: LogRow, of_plan: Mapping[tuple[str, str], Foreseen]
) -> Iterator[Problem]:
    """Gauges without a unit that fit the plan in another one than that of the pages."""
    unit = plan.trip.policy.pressure_unit
    label = typed.get(f"log.{row.key}.cylinder", "") if row.free else row.cylinder
    known = [of_plan[name, label] for name in plan.supplies if row.supply in ("", name) and (name, label) in of_plan]
    for name in (f"log.{row.key}.gauge", f"log.{row.key}.refilled_to"):
        text = typed.get(name, "")
        gauge_kpa = float(text) * figures.KPA_PER_UNIT[unit] if _NUMBER.fullmatch(text) else inf
        other = next(filter(None, (each.other_unit(gauge_kpa, unit) for each in known)), None)
        if other is not None:
            as_other = figures.gauge_nearest(float(text) * figures.KPA_PER_UNIT[other], unit)
            found = f"gauge {show(text)} without a unit on cylinder {show(label)}, and {text} {other} is {as_other}"
            allowed, fix = f"a gauge in {unit}, or in the unit beside it", f"write {text} {other} or {text} {unit}"
            yield Problem(_name(file, name), 1, 1, UNIT_IN_DOUBT, found, allowed, f"{fix}, as the gauge says")


def _entry(file: str, plan: Plan, typed: Mapping[str, str], row: LogRow, time_box: str) -> list[_LogRow]:
    """The entry of a row of the log, none where nothing was typed."""
    base = f"log.{row.key}"
    place = _CHECKPOINT.match(row.what)
    at = None if place is None else _AT.get(place[1])
    time = typed.get(time_box)
    read = _read_of(file, plan, typed, row)
    if not read:
        return []
    if time is None and row.what == "before departure":
        time = "0 min"
    pairs = [_pair(file, time_box, "time", time or "")]
    pairs += read
    if place is not None:
        pairs.append(_pair(file, base, "leg", place[2]))
    if at is not None:
        pairs.append(_pair(file, base, "at", at))
    node = Node("map", pairs=tuple(pairs), line=1, column=1, file=_name(file, base))
    return [_LogRow(_order(plan, row, time), node)]


def _read_of(file: str, plan: Plan, typed: Mapping[str, str], row: LogRow) -> list[tuple[Node, Node]]:
    """What was read and of what, none where nothing was typed."""
    base = f"log.{row.key}"
    gauge_name = f"{base}.gauge"
    gauge, flow = typed.get(gauge_name) if row.gauge else None, typed.get(f"{base}.flow")
    if of_battery := _BATTERY.fullmatch(row.key):
        if gauge is None:
            return []
        return [_pair(file, base, "device", of_battery[1]), _pair(file, gauge_name, "battery", gauge)]
    filled = row.free and typed.get(f"{base}.refilled") == "Yes"
    liquid = plan.supplies[row.supply].supply.liquid if row.supply in plan.supplies else None
    known = row.supply in plan.supplies and plan.supplies[row.supply].supply.kind in ("cylinders", "manifold")
    known = known or (liquid is not None and gauge is not None)
    if not (typed.get(f"{base}.time") or gauge or flow or filled) or (not row.free and not known):
        return []
    pairs = []
    if row.free:
        cylinder = typed.get(f"{base}.cylinder")
        pairs += [_pair(file, f"{base}.cylinder", "cylinder", cylinder)] if cylinder is not None else []
    else:
        pairs.append(_pair(file, base, "supply", row.supply))
        pairs += [_pair(file, base, "cylinder", row.cylinder)] if liquid is None else []
    if gauge is not None and liquid is not None:
        pairs.append(_pair(file, gauge_name, "amount", _with_unit(gauge, unit_of(liquid))))
    elif gauge is not None:
        pairs.append(_pair(file, gauge_name, "gauge", _with_unit(gauge, plan.trip.policy.pressure_unit)))
    if flow is not None:
        pairs.append(_pair(file, f"{base}.flow", "flow", _with_unit(flow, "L/min")))
    if filled:
        pairs.append(_pair(file, f"{base}.refilled", "refilled", "true"))
    return pairs


def _last(file: str, plan: Plan, typed: Mapping[str, str], row: LogRow) -> list[Node]:
    """The last gauge of a row, none where none was typed; one that was filled may have that gauge alone."""
    unit = plan.trip.policy.pressure_unit
    name, since = f"log.{row.key}.gauge", f"log.{row.key}.refilled_to"
    gauge, filled_to = typed.get(name), typed.get(since)
    if gauge is None and filled_to is None:
        return []
    pairs = [_pair(file, name, "supply", row.supply), _pair(file, name, "cylinder", row.cylinder)]
    if gauge is None and filled_to is not None:
        pairs.append(_pair(file, since, "gauge", _with_unit(filled_to, unit)))
        pairs.append(_pair(file, since, "refilled", "true"))
    elif gauge is not None:
        pairs.append(_pair(file, name, "gauge", _with_unit(gauge, unit)))
        if filled_to is not None:
            pairs.append(_pair(file, since, "refilled_to", _with_unit(filled_to, unit)))
    return [Node("map", pairs=tuple(pairs), line=1, column=1, file=_name(file, name))]


def _closed(file: str, typed: Mapping[str, str], rows: list[LogRow], last: list[Node], *, ticked: bool) -> Node:
    pairs = []
    for row in rows:
        name = f"log.{row.key}.time"
        if row.last and name in typed:
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


def _error(file: str, code: str, found: str, allowed: str, fix: str = _FIX) -> ProblemsError:
    return ProblemsError([Problem(file, 1, 1, code, found, allowed, fix)])
