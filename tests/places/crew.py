"""The figures of log, card, second sheet and checklists, found by the boxes that they share."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise

from planner import figures
from tests.places.printed import Box, Said, Sheet, lines, page_table
from tests.places.sentences import turning_back
from tests.places.truth import ACTIONS, Trip, checkpoint_keys


def log_rows(trip: Trip) -> dict[str, tuple[tuple[object, ...], str]]:
    """What each box of the log for a gauge is of, and what its row says."""
    found: dict[str, tuple[tuple[object, ...], str]] = {}
    for sheet in trip.printed.titled("Readings log"):
        for box in sheet.boxes:
            if box.name.endswith(".gauge") and not box.name.startswith("log.free"):
                row = sheet.left_of(box.left, box)
                if box.name.startswith("log.battery."):
                    device, number = box.name.removeprefix("log.battery.").removesuffix(".gauge").rsplit(".", 1)
                    found[box.name] = ((int(number), "battery", device), row)
                    continue
                parts = box.name.split(".")
                supply = parts[4] if parts[1] == "between" else parts[1]
                label = "" if parts[1] == "between" else parts[2]
                leg = re.search(r"(arrive|leave|read in),? leg (\d+),", row)
                at = {"arrive": "end", "leave": "start", "read in": "between"}[leg[1]] if leg else ""
                found[box.name] = ((int(leg[2]), at, supply) if leg else (supply, label), row)
    return found


def log_pages(trip: Trip) -> Iterator[Said]:
    known, place = log_rows(trip), "log"
    for sheet in trip.printed.titled("Readings log"):
        for box in sheet.boxes:
            if box.name not in known:
                continue
            of, row = known[box.name]
            expected, least = sheet.column("SHOULD READ", box), sheet.column("ACT BELOW", box)
            if len(of) == 3:
                yield from _at_a_checkpoint(of, box.name, row, expected, least, place)
                yield from _leak(of, box.name, sheet.column("LEAK BELOW", box), place)
                if of[1] != "battery":
                    yield Said("flow", of if of[1] != "between" else (box.name,), place, _flow_in(row))
            else:
                yield from (Said(figure, key, place, expected) for figure, key in _read_off(trip, of, row))
                if "before departure" in row:
                    yield from (Said("start at least", (of[0], one), place, least) for one in str(of[1]).split("+"))


def _read_off(trip: Trip, of: tuple[object, ...], row: str) -> Iterator[tuple[str, tuple[object, ...]]]:
    """Which figures a row of the log asks for that is no checkpoint."""
    if len(of) == 3:
        yield "expected gauge", of
        return
    supply, labels = str(of[0]), str(of[1]).split("+")
    for label in labels:
        if "before departure" in row:
            yield "gauge before departure", (supply, label)
        elif "after return" in row:
            yield "gauge after return", (supply, label)
        else:
            off = "comes off" in row
            turns = trip.printed.document["supplies"][supply]["order"]
            for number, turn in enumerate(turns, start=1):
                minute = turn["to_min" if off else "from_min"]
                used = turn["from_min"] < turn["to_min"] and turn["cylinder"] == label
                if used and figures.minutes_down(minute) == _minutes_in(row):
                    yield f"gauge at the {'end' if off else 'start'} of a turn", (supply, number)


def _at_a_checkpoint(
    of: tuple[object, ...], box: str, row: str, expected: str, least: str, place: str
) -> Iterator[Said]:
    key = of if of[1] != "between" else (box,)
    yield Said("expected gauge", key, place, expected or figures.NONE)
    yield Said("least gauge", key, place, least or figures.NONE)
    yield Said("elapsed", key, place, _minutes_in(row))
    if clock := re.search(r"\b\d\d:\d\d(?: [A-Z]{3,4})?(?: \+\d+d)?", row):
        yield Said("clock", key, place, clock[0])


def _leak(of: tuple[object, ...], box: str, text: str, place: str) -> Iterator[Said]:
    """The limit for too fast, and what each minute later takes off it."""
    if leak := re.fullmatch(r"(\S+ \S+) −(\S+) a min", text):
        key = of if of[1] != "between" else (box,)
        yield Said("leak gauge", key, place, leak[1])
        yield Said("leak fall", key, place, leak[2])


def _minutes_in(row: str) -> str:
    found = re.search(r"\b\d+ min\b", row)
    return found[0] if found else ""


def _flow_in(row: str) -> str:
    found = re.search(r"[\d.]+ L/min", row)
    return found[0] if found else ""


def card(trip: Trip) -> Iterator[Said]:
    known = log_rows(trip)
    for sheet in trip.printed.titled("Card"):
        for box in sheet.boxes:
            if box.name in known:
                yield from _card_row(trip, sheet, box, known[box.name][0])
    yield from turning_back(" ".join(sheet.text for sheet in trip.printed.titled("Changes, arrival")), "second sheet")
    text = " ".join(sheet.text for sheet in trip.printed.titled("Card"))
    yield from turning_back(text, "card")
    yield from _actions(text)
    yield from _balance(trip)


def _actions(text: str) -> Iterator[Said]:
    """What is left beyond the end if something fails, and of which supply: of all supplies the least."""
    for verb, minutes, flow, supply in re.findall(r"\b(BAG|SHUT|MOVE) [^.]*? (\d+ min)( at \S+ L/min)?, (\S+)", text):
        yield Said("least to spare", (ACTIONS[verb],), "card", f"{minutes}{flow and ''}, {supply}")


def _balance(trip: Trip) -> Iterator[Said]:
    """Need and means of a no-go."""
    heads = ("supply", "required", "counted *", "short or to spare")
    for row in page_table(trip.printed.titled("Card"), heads, "counted *"):
        yield Said("required", (row["supply"],), "card", row["required"])
        yield Said("have", (row["supply"],), "card", row["counted *"])
        yield Said("margin", (row["supply"],), "card", row["short or to spare"])


def _card_row(trip: Trip, sheet: Sheet, box: Box, of: tuple[object, ...]) -> Iterator[Said]:
    place = "card"
    if of[1] == "battery" and not of[0]:
        yield Said("least gauge", of, place, sheet.column("START AT LEAST", box))
        return
    if len(of) == 3:
        yield Said("expected gauge", of, place, sheet.column("should read", box) or figures.NONE)
        yield Said("least gauge", of, place, sheet.column("act below", box) or figures.NONE)
        yield from _leak(of, box.name, sheet.column("leak below", box), place)
        return
    supply = str(of[0])
    turns = trip.printed.document["supplies"][supply]["order"]
    if of[1] == "supply":
        yield Said("start at least", of, place, sheet.column("START AT LEAST", box))
        return
    for label in str(of[1]).split("+"):
        yield Said("start at least", (supply, label), place, sheet.column("START AT LEAST", box))
        yield Said("change at", (supply, label), place, sheet.column("change at", box))
        number = next((n for n, turn in enumerate(turns, start=1) if turn["cylinder"] == label), None)
        head = next((piece for piece in sheet.pieces if piece.text.startswith("or after")), None)
        when = " ".join(
            piece.text
            for piece in sheet.pieces
            if head and piece.left > head.left - 1 and box.bottom <= piece.y <= box.top
        )
        if number and (ends := re.fullmatch(r"ends at (.+)", when)):
            yield Said("gauge at the end of a turn", (supply, number), place, ends[1])
        if number and (change := re.fullmatch(r"(\d+ min)(?: (\d\d:\d\d(?: \+\d+d)?))? leg \d+", when)):
            yield Said("turn ends", (supply, number), place, change[1])
            yield Said("turn ends, clock", (supply, number), place, change[2] or "")


def card_legs(trip: Trip) -> Iterator[Said]:
    """Minutes and clock time of each row of a leg, in their order."""
    text = " ".join(
        piece.text
        for sheet in trip.printed.titled("Card")
        for piece in sheet.pieces
        if (head := sheet.head("should read")) and piece.y < head.y and piece.left < head.left - 60
    )
    ends = [key for key in checkpoint_keys(trip.printed.document) if key[1] == "end"]
    rows = re.findall(r"(\d+ min)(?: (\d\d:\d\d(?: [A-Z]{3,4})?(?: \+\d+d)?))? · (?!battery of )", text)
    if trip.printed.document["verdict"] == "no-go":
        return
    for key, (elapsed, clock) in zip(ends, rows, strict=True):
        yield Said("elapsed", key, "card", elapsed)
        yield Said("clock", key, "card", clock)


def second(trip: Trip) -> Iterator[Said]:
    """Readings of the second sheet, and gauges of its changes by the boxes beside them."""
    known = log_rows(trip)
    for sheet in trip.printed.titled("Changes, arrival"):
        changes: dict[float, list[Box]] = {}
        for box in sheet.boxes:
            if box.name not in known:
                continue
            of, row = known[box.name]
            if sheet.head("should read") is None or box.top > sheet.head("should read").y:  # type: ignore[union-attr]
                changes.setdefault(box.top, []).append(box)
                continue
            expected, place = sheet.column("should read", box), "second sheet"
            if len(of) == 3:
                here = sheet.left_of(box.left, box)
                if of[1] == "battery":  # what it should show are minutes too
                    here = here.replace(expected, "", 1).replace(sheet.column("act below", box), "", 1)
                yield from _at_a_checkpoint(of, box.name, here, expected, sheet.column("act below", box), place)
                yield from _leak(of, box.name, sheet.column("leak below", box), place)
            else:
                yield from (Said(figure, key, place, expected) for figure, key in _read_off(trip, of, row))
        yield from _changes(trip, sheet, changes)


def _changes(trip: Trip, sheet: Sheet, changes: dict[float, list[Box]]) -> Iterator[Said]:
    """The gauges of what goes off and on at each change, whose boxes are those of the log."""
    known, tops = log_rows(trip), sorted(changes, reverse=True)
    for top, below in pairwise([*tops, 0.0]):
        boxes = sorted(changes[top], key=lambda box: box.left)
        pieces = [piece.text for piece in sheet.pieces if below + 8 < piece.y < top + 14 and piece.left < boxes[0].left]
        told = re.findall(r"(OFF|ON) .*?\(.*?\) at (\S+ (?:psi|bar|kPa|MPa))", " ".join(pieces))
        for (_, gauge), box in zip(told, boxes, strict=True):
            yield from (Said(figure, key, "changes", gauge) for figure, key in _read_off(trip, *known[box.name]))


def lists(trip: Trip) -> Iterator[Said]:
    """The gauges of what goes off and on at each change of the checklists."""
    known = log_rows(trip)
    for sheet in trip.printed.titled("Checklists"):
        rows = [line for line in lines(sheet) if line[0] in ("off", "on")]
        boxes = [box for box in sheet.boxes if box.name in known]
        boxes.sort(key=lambda box: (-box.top, box.left))
        gauges = [found[0] for line in rows if (found := re.findall(r"\S+ (?:psi|bar|kPa|MPa)", " ".join(line)))]
        for gauge, box in zip(gauges, boxes, strict=True):
            yield from (Said(figure, key, "checklists", gauge) for figure, key in _read_off(trip, *known[box.name]))
