"""What the sheet of a shift says under its figures: how they were counted, and what to settle."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from planner import figures
from planner.report import words
from planner.report.shift.result import ShiftResult, many, trips_text
from planner.shift.shift import HAND_BACK_MIN, Shift


def alarms(result: ShiftResult) -> Iterator[str]:
    """What must be settled beside the trips that are no-go."""
    for twice in result.twice:
        if twice.at_once:
            yield (
                f"Cylinder {twice.label} ({twice.size}) is on {trips_text(twice.trips)}, which are out at the same "
                "time: choose another one, and plan again."
            )
        elif twice.counted_on and not result.refilled and result.allotment is None:
            yield (
                f"Cylinder {twice.label} ({twice.size}): {trips_text(twice.counted_on)} count on more in it than the "
                "trip before leaves. Refill it before it goes out again and say --refilled, or choose another one."
            )
    for out in result.shift.trips:
        if out.need.uncounted:
            names = ", ".join(out.need.uncounted)
            yield f"Trip {out.number}: the cylinders of {names} cannot be counted, since none will do; more are needed."


def notes(result: ShiftResult) -> Iterator[str]:
    """How the figures were counted, and what to know of them."""
    shift = result.shift
    yield f"Out: from departure to the end at its longest times, delays included, and for {_turnaround(shift)}."
    yield from _placing_notes(shift)
    no_go = [out.number for out in shift.trips if not out.need.go and not out.need.waits]
    if no_go:
        yield f"Counted as they stand, though mending them may take more cylinders: no-go {trips_text(no_go)}."
    decided = [out.number for out in shift.trips if out.need.by_decision]
    if decided:
        yield (
            f"DECIDED: go by decision, a stop that a clinician accepts within a limit ({trips_text(decided)}). The "
            "trip's own card says what and why."
        )
    if any(need.part_used for need in shift.sizes):
        yield "Part-used: cylinders that a plan lists with less than a full gauge."
    yield from _store_notes(result)
    same = Counter(out.need.fingerprint for out in shift.trips)
    for fingerprint, count in same.items():
        if count > 1 and fingerprint:
            found = trips_text(out.number for out in shift.trips if out.need.fingerprint == fingerprint)
            yield f"One and the same profile, given more than once, each time counted: {found}."
    yield words.PLANNING_AID[0]


def _turnaround(shift: Shift) -> str:
    if shift.turnaround_min is not None:
        return f"a turnaround of {figures.minutes_set(shift.turnaround_min)}"
    inside = figures.minutes_set(HAND_BACK_MIN)
    return (
        f"the default turnaround: {inside} inside the hospital; by road and air {inside} and the trip's longest time "
        "once more, for the way back"
    )


def _placing_notes(shift: Shift) -> Iterator[str]:
    untimed = [out.number for out in shift.trips if out.placed == "no_departure"]
    unzoned = [out.number for out in shift.trips if out.placed == "no_zone"]
    if untimed:
        yield f"No departs in the profile, counted as out all the time: {trips_text(untimed)}."
    if unzoned:
        yield (
            f"A departs without its time zone while other trips have one, counted as out all the time: "
            f"{trips_text(unzoned)}. Give the profile a timezone."
        )


def _store_notes(result: ShiftResult) -> Iterator[str]:
    for twice in result.twice:
        if not twice.at_once:
            yield (
                f"Cylinder {twice.label} ({twice.size}) is on {trips_text(twice.trips)}, one after "
                "another: read it again in between, and plan again."
            )
    store = result.store
    if store is None:
        return
    if result.allotment is not None:
        yield (
            "Who takes what: trips in turn, each cylinder with what the trip before leaves in it. One stands for "
            "another of its size that holds no more and has no more outlets. Short: what then has to be brought."
        )
    else:
        way = (
            "counting that every cylinder which comes back is full again when it goes out next"
            if result.refilled
            else "counting that no cylinder is drawn twice"
        )
        yield (
            f"Short: cylinders for which the store has none of that size with at least as much in it, {way}. "
            f"Counted the other way: {store.short if result.refilled else store.short_at_once} short."
        )
    empty = sum(row.empty for row in store.rows)
    if empty:
        yield f"In the store, {many(empty, 'cylinder')} at or below change-over: not counted."
    if store.other_gas:
        yield f"In the store, neither oxygen nor AIR and not counted: {', '.join(store.other_gas)}."
    if store.readings_old:
        yield (
            f"{store.readings_old} of {store.cylinders} readings of the store are too old at the first departure, or "
            "nobody can tell: read each gauge again before it is drawn."
        )
