"""A shift for other programs: one JSON document (format 1), and tables as CSV.

Figures are unrounded, times are minutes after the first departure of the shift; what does not apply is null, or an
empty cell.
"""

from __future__ import annotations

import json
from collections import Counter
from typing import Any

from planner.naming import of_gas
from planner.report.shift.allotted import allotted_result
from planner.report.shift.result import ShiftResult, Unread
from planner.report.shift.shift import shift_sheet
from planner.report.table_csv import csv_text
from planner.shift.shift import Out, SizeNeed
from planner.shift.store import Against, StoreRow

FORMAT = 1


def json_line(found: ShiftResult) -> str:
    """The shift as one line of JSON in ASCII. Raises ValueError where a figure is not finite."""
    return json.dumps(result(found), allow_nan=False)


def result(found: ShiftResult) -> dict[str, Any]:
    """The shift as plain dictionaries and lists, in the order of the format."""
    shift, text = found.shift, shift_sheet(found)
    return {
        "format": FORMAT,
        "verdict": "go" if found.go else "no-go",
        "why": text.why,
        "first_departure": None if shift.first is None else shift.first.isoformat(),
        "turnaround_min": shift.turnaround_min,
        "not_read": [_unread(unread) for unread in found.unread],
        "trips": [_trip(out) for out in shift.trips],
        "cylinders": [_size(found, need) for need in shift.sizes],
        "store": None if found.store is None else _store(found, found.store),
        "taken_twice": [
            {
                "label": twice.label,
                "size": twice.size,
                "trips": list(twice.trips),
                "at_once": twice.at_once,
                "counted_on_as_unused": list(twice.counted_on),
            }
            for twice in found.twice
        ],
        "allotment": None if found.allotment is None else allotted_result(found.allotment),
        "notes": [*text.alarms, *text.to_do, *text.notes],
    }


def tables(found: ShiftResult) -> dict[str, str]:
    """The text of each table by its name: `trips`, `cylinders`, and `store` where there is one."""
    made = {"trips": _trips_csv(found), "cylinders": _cylinders_csv(found)}
    if found.store is not None:
        made["store"] = _store_csv(found.store.rows)
    return made


def _unread(unread: Unread) -> dict[str, Any]:
    problems = [{key: text for key, text in each._asdict().items() if key != "mends"} for each in unread.problems]
    return {"file": unread.file, "error": unread.error, "problems": problems}


def _trip(out: Out) -> dict[str, Any]:
    need = out.need
    return {
        "number": out.number,
        "trip": need.name,
        "reference": need.reference,
        "file": need.file,
        "setting": need.setting,
        "verdict": need.verdict,
        "waits_for_readings": need.waits,
        "departs": None if need.departs is None else need.departs.isoformat(),
        "counted": "all_the_time" if out.leaves_min is None else "by_the_clock",
        "leaves_min": out.leaves_min,
        "back_min": out.back_min,
        "planned_min": need.total_min,
        "longest_min": need.longest_min,
        "turnaround_min": out.turnaround_min,
        "cylinders": [
            {"size": size, "fixed": fixed, "supply": supply, "count": count, "full": full}
            for (supply, fixed, size, full), count in Counter(
                (cylinder.supply, cylinder.fixed, cylinder.size, cylinder.full) for cylinder in need.cylinders
            ).items()
        ],
        "not_counted": list(need.uncounted),
        "stated_amounts": list(need.stated),
        "stops": [
            {"code": stop.code, "message": stop.message, "fix": stop.fix, "line": stop.line, "column": stop.column}
            for stop in need.stops
        ],
        "cautions": need.cautions,
    }


def _size(found: ShiftResult, need: SizeNeed) -> dict[str, Any]:
    begins, ends = need.peak.begins, need.peak.ends
    return {
        "fixed": need.fixed,
        "size": need.size,
        "gas": need.gas,
        "to_draw": need.to_draw,
        "part_used": need.part_used,
        "most_out_at_once": need.peak.count,
        "from_min": None if begins is None else found.shift.trip(begins).leaves_min,
        "until_min": None if ends is None else found.shift.trip(ends).back_min,
        "trips": list(need.peak.trips),
    }


def _store(found: ShiftResult, store: Against) -> dict[str, Any]:
    return {
        "name": found.store_name,
        "cylinders_come_back_full": found.refilled,
        "short": found.short,
        "sizes": [_store_row(row) for row in store.rows],
        "not_oxygen": list(store.other_gas),
        "readings_too_old": store.readings_old,
    }


def _store_row(row: StoreRow) -> dict[str, Any]:
    return {
        "size": row.size,
        "full": row.full,
        "part_used": row.part_used,
        "empty": row.empty,
        "to_draw": row.to_draw,
        "short": row.short,
        "most_out_at_once": row.at_once,
        "short_at_once": row.short_at_once,
    }


def _trips_csv(found: ShiftResult) -> str:
    """The trips as in the document, with `cylinders` in words and `reasons` in place of the stops."""
    same = (
        *("number", "trip", "reference", "file", "setting", "verdict", "departs", "counted", "leaves_min", "back_min"),
        *("planned_min", "longest_min", "turnaround_min"),
    )
    lines = {line.number: line for line in shift_sheet(found).trips}
    rows: list[tuple[Any, ...]] = []
    for out in found.shift.trips:
        reasons = " ".join(stop.message for stop in out.need.stops)
        made = _trip(out) | {"departs": out.need.departs and out.need.departs.isoformat(sep=" ")}
        rows.append((*(made[key] for key in same), lines[out.number].cylinders, reasons))
    for item in found.unread:
        told = {"file": item.file, "verdict": "not read"}
        rows.append((*map(told.get, same), None, item.error or str(min(item.problems))))
    return csv_text((*same, "cylinders", "reasons"), rows)


def _cylinders_csv(found: ShiftResult) -> str:
    same = ("to_draw", "part_used", "most_out_at_once", "from_min", "until_min")
    rows = []
    for need in found.shift.sizes:
        made = _size(found, need)
        kept, size = "fixed" if need.fixed else "portable", need.size or of_gas("all", need.gas)
        rows.append((kept, size, *(made[key] for key in same), " ".join(map(str, need.peak.trips))))
    return csv_text(("kept", "size", *same, "trips"), rows)


def _store_csv(rows: tuple[StoreRow, ...]) -> str:
    head = ("size", "full", "part_used", "empty", "to_draw", "short", "most_out_at_once", "short_at_once")
    return csv_text(head, [tuple(_store_row(row).values()) for row in rows])
