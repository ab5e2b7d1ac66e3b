"""The sheet of a shift for the screen: plain text as wide as the screen, what is not go first."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from planner.report.screen import printable, table, wrap
from planner.report.shift.shift import ShiftSheet

HELD = "\u00a0"
"""A space at which no line is broken."""

CYLINDERS = 30
"""Letters on a line for the cylinders of a trip."""


def shift_summary(sheet: ShiftSheet) -> str:
    """The sheet as text with a line break at its end."""
    parts = (
        _head(sheet),
        _no_go(sheet),
        _sizes(sheet),
        _store(sheet),
        _given(sheet),
        _tomorrow(sheet),
        _trips(sheet),
        _notes(sheet),
    )
    lines = [line for part in map(list, parts) if part for line in ("", *part)][1:]
    return "\n".join(printable(line.rstrip()) for line in lines) + "\n"


def _head(sheet: ShiftSheet) -> Iterator[str]:
    yield from wrap(f"{sheet.verdict} - {sheet.why}.", "", "    ")
    yield from wrap(f"{sheet.span}, {', '.join(sheet.facts)}", "Shift: ")


def _no_go(sheet: ShiftSheet) -> Iterator[str]:
    for trip in sheet.no_go:
        leaves = f", leaves {trip.leaves}" if trip.leaves else ""
        yield from wrap(f"{trip.trip}{leaves}", f"NO-GO {trip.number}: ", "    ")
        for number, reason in enumerate(trip.reasons, start=1):
            yield from wrap(reason.text, f"{number:>3}. ", "     ")
            if number == len(trip.reasons) or trip.reasons[number].fix != reason.fix:
                yield from wrap(reason.fix, "     Fix: ", "          ")
    for line in sheet.unread:
        yield from wrap(line, "NOT READ, NOT COUNTED: ", "    ")
    for line in (*sheet.alarms, *sheet.to_do):
        yield from wrap(line, "SETTLE: ", "    ")
    if sheet.waiting:
        yield from wrap(f"{sheet.waiting}: draw the cylinders, read each gauge, plan again.", "NO-GO until read: ")


def _sizes(sheet: ShiftSheet) -> list[str]:
    rows = [
        (f"{line.group}: {line.size}", line.draw, line.part_used, line.at_once, line.begins, line.ends, line.trips)
        for line in sheet.sizes
    ]
    head = ("Cylinders", "DRAW", "Part-used", "OUT AT ONCE", "From", "Until", "By")
    return table(head, rows, frozenset({1, 2, 3}), shrink=(6, 0)) if rows else ["  No cylinders are drawn."]


def _store(sheet: ShiftSheet) -> list[str]:
    if not sheet.store:
        return []
    in_turn = any(line.refill for line in sheet.sizes)
    rows = []
    for line in sheet.sizes:
        if line.store_full:
            last = (
                (line.at_once, line.refill, line.lacking) if in_turn else (line.short, line.at_once, line.short_at_once)
            )
            rows.append((line.size, line.store_full, line.store_part_used, line.draw, *last))
    counts = ("At once", "REFILL", "SHORT") if in_turn else ("Short", "At once", "Short at once")
    head = ("In the store", "Full", "Part-used", "To draw", *counts)
    return table(head, rows, frozenset(range(1, 7)), shrink=(0,)) if rows else []


def _given(sheet: ShiftSheet) -> list[str]:
    rows = [
        (str(line.number), line.leaves, line.supply, line.size, line.cylinder, line.holds, line.comes)
        for line in sheet.given
    ]
    head = ("Trip", "Leaves", "Supply", "Size", "TAKES", "At least", "From")
    return table(head, rows, frozenset({0, 5}), shrink=(2, 6)) if rows else []


def _tomorrow(sheet: ShiftSheet) -> Iterator[str]:
    for line in sheet.tomorrow:
        yield from wrap(f"{line}.", "For tomorrow: ", "  ")


def _trips(sheet: ShiftSheet) -> list[str]:
    """One line a trip. A long name is cut, cylinders are not: they go on below."""
    rows: list[tuple[str, ...]] = []
    for line in sheet.trips:
        name = f"{line.trip} ({line.reference})" if line.reference else line.trip
        whole = line.cylinders.replace(" × ", f"{HELD}x{HELD}").replace("fixed ", f"fixed{HELD}")
        first, *more = (part.replace(HELD, " ") for part in textwrap.wrap(whole, CYLINDERS))
        rows.append((str(line.number), line.leaves, line.back, name, first, line.verdict))
        rows += [("", "", "", "", part, "") for part in more]
    return table(("Trip", "Leaves", "Back", "Name", "Cylinders", "Verdict"), rows, frozenset({0}), shrink=(3,))


def _notes(sheet: ShiftSheet) -> Iterator[str]:
    for note in sheet.notes:
        yield from wrap(note, "Note: ", "  ")
