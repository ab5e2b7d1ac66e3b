"""What the sheet of a shift says, as plain data: texts in their final rounding.

The screen (`planner.report.shift.text`) and the page (`planner.pages.shift.shift`) show the same texts. Departures go
down to the minute, returns up; counts are whole anyway.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from planner import figures
from planner.naming import listed, of_gas
from planner.report import words
from planner.report.shift.allotted import GivenLine, given_lines, to_settle, tomorrow_lines
from planner.report.shift.clock import Curve, back_text, curves, leaves_text, span
from planner.report.shift.notes import alarms, notes
from planner.report.shift.result import ShiftResult, Unread, many, trips_text, why
from planner.shift.shift import Out, Shift, SizeNeed
from planner.shift.store import StoreRow
from planner.shift.trip import Wanted

GROUPS = {False: "Portable", True: "Fixed to vehicles"}
ALL_SIZES = "all sizes"
ALWAYS = "all the time"


@dataclass(frozen=True, slots=True)
class NoGo:
    """A trip that is no-go, with its reasons and what would mend each; `leaves` is empty where nobody says."""

    number: int
    trip: str
    leaves: str
    reasons: tuple[words.Reason, ...]


@dataclass(frozen=True, slots=True)
class SizeLine:
    """Cylinders of one size, or of all.

    The last six are empty without a store, and on fixed ones. `lacking` is how many are short, trips in turn, and
    `refill` how many are to be refilled on the way; empty where nobody worked out who takes which.
    """

    group: str
    size: str
    draw: str
    part_used: str
    at_once: str
    begins: str
    ends: str
    trips: str
    store_full: str
    store_part_used: str
    short: str
    short_at_once: str
    lacking: str
    refill: str


@dataclass(frozen=True, slots=True)
class TripLine:
    """One trip in the list. `reference` is empty where it has none."""

    number: int
    leaves: str
    back: str
    trip: str
    reference: str
    cylinders: str
    verdict: str


@dataclass(frozen=True, slots=True)
class ShiftSheet:
    """The whole sheet. `unread` holds one line for each profile that could not be planned.

    `cylinders`: of which gases it counts them, `oxygen and AIR cylinders`.
    `to_do`: what to refill and to bring, by when. It stands with `given`, the list of who takes which cylinder.
    """

    go: bool
    verdict: str
    why: str
    span: str
    cylinders: str
    facts: tuple[str, ...]
    no_go: tuple[NoGo, ...]
    waiting: str
    unread: tuple[str, ...]
    alarms: tuple[str, ...]
    sizes: tuple[SizeLine, ...]
    store: str
    to_do: tuple[str, ...]
    given: tuple[GivenLine, ...]
    tomorrow: tuple[str, ...]
    curves: tuple[Curve, ...]
    trips: tuple[TripLine, ...]
    notes: tuple[str, ...]
    fingerprint: str


def shift_sheet(result: ShiftResult) -> ShiftSheet:
    """Puts a shift into words and rounded figures."""
    shift = result.shift
    outs = shift.trips
    reasons = why(result)
    waits = [out.number for out in outs if out.need.waits]
    return ShiftSheet(
        go=not reasons,
        verdict="NOT ALL GO" if reasons else "ALL GO",
        why="; ".join(reasons) if reasons else f"{many(len(outs), 'trip')}, {_all_go(outs)}",
        span=span(shift),
        cylinders=_cylinders(shift),
        facts=tuple(_facts(result)),
        no_go=tuple(_no_go(shift, out) for out in outs if not out.need.go and not out.need.waits),
        waiting=trips_text(waits) if waits else "",
        unread=tuple(map(_unread, result.unread)),
        alarms=tuple(alarms(result)),
        sizes=tuple(_size_line(result, need) for need in shift.sizes),
        store=result.store_name if result.store is not None else "",
        to_do=() if result.allotment is None else tuple(to_settle(shift, result.allotment)),
        given=() if result.allotment is None else tuple(given_lines(shift, result.allotment)),
        tomorrow=() if result.allotment is None else tuple(tomorrow_lines(result.allotment)),
        curves=tuple(curves(shift)),
        trips=tuple(_trip_line(shift, out) for out in outs),
        notes=tuple(notes(result)),
        fingerprint=_fingerprint(result),
    )


def _all_go(outs: Sequence[Out]) -> str:
    """That all are go; with some by decision never as if they were plain goes."""
    decided = [out.number for out in outs if out.need.by_decision]
    return f"each of them a go, by decision {trips_text(decided)}" if decided else "each of them a go"


def _fingerprint(result: ShiftResult) -> str:
    """What tells one state of the profiles and of the store from another."""
    store = f" · store {result.store_fingerprint[:12]}" if result.store_fingerprint else ""
    return f"profiles {result.shift.fingerprint[:12]}{store}"


def _facts(result: ShiftResult) -> Iterator[str]:
    needs = [out.need for out in result.shift.trips]
    yield f"{many(len(needs), 'trip')}, {sum(need.go for need in needs)} go"
    if result.shift.turnaround_min is not None:
        yield f"turnaround {figures.minutes_set(result.shift.turnaround_min)}"
    else:
        yield "turnaround by default"
    if result.store is not None:
        yield f"store: {result.store_name}"


def _cylinders(shift: Shift) -> str:
    held = dict.fromkeys("oxygen" if need.gas == "oxygen" else "AIR" for need in shift.sizes)
    return f"{listed(sorted(held, reverse=True) or ['oxygen'])} cylinders"


def _no_go(shift: Shift, out: Out) -> NoGo:
    reasons = tuple(words.Reason(words.sentence(stop.message), words.sentence(stop.fix)) for stop in out.need.stops)
    leaves = "" if out.need.departs is None else leaves_text(shift, out.number)
    return NoGo(out.number, _name(out), leaves, reasons)


def _name(out: Out) -> str:
    return f"{out.need.name} ({out.need.reference})" if out.need.reference else out.need.name


def _unread(unread: Unread) -> str:
    if unread.error is not None:
        return f"{unread.file}: {unread.error}"
    first = min(unread.problems)
    place = f"{first.line}:{first.column}: " if first.line else ""
    return f"{unread.file}: {many(len(unread.problems), 'problem')}, the first at {place}{first.found}."


def _size_line(result: ShiftResult, need: SizeNeed) -> SizeLine:
    shift, peak = result.shift, need.peak
    rows = _store_rows(result, need)
    return SizeLine(
        group=GROUPS[need.fixed],
        size=need.size or of_gas(ALL_SIZES, need.gas),
        draw=str(need.to_draw),
        part_used=str(need.part_used) if need.part_used else figures.NONE,
        at_once=str(peak.count),
        begins=ALWAYS if peak.begins is None else leaves_text(shift, peak.begins),
        ends="" if peak.begins is None else back_text(shift, peak.ends),
        trips=trips_text(peak.trips) if peak.trips else "",
        store_full=_sum(row.full for row in rows),
        store_part_used=_sum(row.part_used for row in rows),
        short=_sum(row.short for row in rows),
        short_at_once=_sum(row.short_at_once for row in rows),
        lacking=_lacking(result, rows),
        refill=_refill(result, need) if rows else "",
    )


def _lacking(result: ShiftResult, rows: Sequence[StoreRow]) -> str:
    if result.allotment is not None and rows:
        return _sum(result.allotment.lacks(row.size) for row in rows)
    return _sum(row.short_at_once if result.refilled else row.short for row in rows)


def _refill(result: ShiftResult, need: SizeNeed) -> str:
    if result.allotment is None:
        return ""
    return str(sum(need.covers(each.wanted.size) for each in result.allotment.refills))


def _store_rows(result: ShiftResult, need: SizeNeed) -> tuple[StoreRow, ...]:
    """The rows of the store for a size, or of all sizes of a gas that are wanted."""
    if result.store is None or need.fixed:
        return ()
    return tuple(row for row in result.store.rows if row.to_draw and need.covers(row.size))


def _sum(found: Iterable[int]) -> str:
    counts = tuple(found)
    return str(sum(counts)) if counts else ""


def cylinders_text(cylinders: Sequence[Wanted]) -> str:
    """`2 × US-E, 1 × US-D`, sizes in the order of their names."""
    counts = sorted(Counter(cylinder.size for cylinder in cylinders).items())
    return ", ".join(f"{count} × {size}" for size, count in counts)


def _trip_line(shift: Shift, out: Out) -> TripLine:
    need = out.need
    parts = [cylinders_text([cylinder for cylinder in need.cylinders if not cylinder.fixed])]
    fixed = cylinders_text([cylinder for cylinder in need.cylinders if cylinder.fixed])
    parts.append(f"fixed {fixed}" if fixed else "")
    parts += [f"{name}: stated amount" for name in need.stated]
    parts += [f"{name}: NOT COUNTED" for name in need.uncounted]
    verdict = "DECIDED" if need.by_decision else "GO" if need.go else "NOT READ YET" if need.waits else "NO-GO"
    return TripLine(
        number=out.number,
        leaves=leaves_text(shift, out.number),
        back=back_text(shift, out.number),
        trip=need.name,
        reference=need.reference or "",
        cylinders="; ".join(filter(None, parts)) or "no cylinders",
        verdict=verdict,
    )
