"""The verb `compare`: reads a trip and its readings, prints the comparison, and closes the trip with its store."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from pathlib import Path

from planner.afterwards.compare import Comparison, compare
from planner.afterwards.history_file import Added, add, void
from planner.afterwards.history_lines import history_lines
from planner.afterwards.logbook import Closing, LastGauge
from planner.command.telling import GO, NO_GO, PROBLEMS, say, tell_problems, time_of_issue
from planner.model import Trip
from planner.moments import later
from planner.planning import plan
from planner.problems import Problem, ProblemsError
from planner.profile.read import read_trip
from planner.readings.read import read_readings
from planner.report.compare.closing import missing_texts
from planner.report.compare.compare import compare_text
from planner.report.compare.json import compare_result
from planner.report.screen import printable, wrap
from planner.store.closing import LastReading, WrittenBack, as_it_was, check_back, closing_id, undo, write_back
from planner.store.journal import ByTrip


def compare_trip(
    trip: str,
    readings: str,
    *,
    formats: Sequence[str],
    close: bool,
    changes: Sequence[str],
    history: Path | None = None,
) -> int:
    """Compares one trip with its readings; the exit code. Every problem is told on standard error.

    `history`: with `close`, the file of the service's history to which the trip's lines are added.
    """
    try:
        asked = read_trip(trip, changes)
        made = plan(as_it_was(asked, trip_of(asked)))
        found = compare(made, read_readings(readings, made))
        apart = "json" in formats  # standard output then holds one document and nothing else
        if "text" in formats:
            say(compare_text(found), nl=False, err=apart)
        if apart:
            say(json.dumps(compare_result(found, close=close), allow_nan=False))
        # The comparison is told by now, whatever becomes of the store.
        if close:
            return _close(found, history, err=apart)
        if "text" in formats:
            _say_all(_how_to_close(found), err=apart)
    except ProblemsError as error:
        return _told(error, trip, "nothing compared or closed")
    return _code(found)


def _code(found: Comparison) -> int:
    return GO if found.as_planned else NO_GO


def _told(error: ProblemsError, file: str, what: str) -> int:
    tell_problems(error.problems, ", ".join(dict.fromkeys(problem.file or file for problem in error.problems)), what)
    return PROBLEMS


def _close(found: Comparison, history: Path | None, *, err: bool) -> int:
    """Closes a trip in its stores and in the history; tells each as soon as it is written. The exit code."""
    refusal = closing_problems(found)
    if refusal:
        return _told(ProblemsError(refusal), found.log.file, "nothing closed")
    written: list[WrittenBack] = []
    try:
        for each in close_trip(found):
            written.append(each)
            _say_all(_closed_texts(each), err=err)
        if not written:
            _say_all(["CLOSED. No supply used comes from a store file: nothing to write."], err=err)
        if history is not None:
            _say_all(_added_texts(_added(found, history, written)), err=err)
    except ProblemsError as error:
        return _told(error, found.log.file, "not closed" if written else "nothing closed")
    return _code(found)


def _say_all(texts: Sequence[str], *, err: bool) -> None:
    lines = [line for each in texts for line in wrap(each)]
    if lines:
        say("\n" + "\n".join(printable(line) for line in lines), err=err)


def closing_problems(found: Comparison) -> list[Problem]:
    """Why a trip cannot be closed: what is missing of each cylinder used, with its place; empty where it can."""
    log = found.log
    line, column = (0, 0) if log.closing is None else (log.closing.where.line, log.closing.where.column)
    allowed = "a last gauge for every cylinder used, read before bleeding, and `shut_and_bled: true`"
    fix = "read the gauge, shut the valve, bleed the regulator, and write both under `closed`"
    if log.closing is None and not found.missing:
        return [Problem(log.file, line, column, "not_closed", "readings without `closed`", allowed, fix)]
    return [Problem(log.file, line, column, "not_closed", text, allowed, fix) for text in missing_texts(found)]


def close_trip(found: Comparison) -> Iterator[WrittenBack]:
    """Write the last gauges of the cylinders used into the store files that their supplies name, one after another.

    All are checked before the first is written.
    """
    closing = found.log.closing
    if closing is None:
        raise ValueError("a trip without a closing cannot be closed")
    moment = read_at(found, closing)
    zoned = found.plan.trip.departs is not None
    by_file: dict[str, tuple[Path, dict[str, LastReading]]] = {}
    for last in closing.last:
        supply = found.plan.trip.supplies[last.supply]
        if supply.store_file is not None and last.cylinder in found.used[last.supply]:
            path = Path(supply.store_file)
            _, readings = by_file.setdefault(str(path.resolve()), (path, {}))
            readings[last.cylinder] = LastReading(
                last.stands_text,
                moment,
                zoned,
                dated=closing.moment is not None or zoned,
                refilled=last.was_filled or _filled_on_the_way(found, last),
                drawn=_drawn(found, last),
                place=(found.log.file, last.where.line, last.where.column),
            )
    by = _planned(found)
    for path, readings in by_file.values():
        check_back(path, readings, by)
    for path, readings in by_file.values():
        yield write_back(path, readings, by)


def _added(found: Comparison, history: Path, written: Sequence[WrittenBack]) -> Added:
    closing = found.log.closing
    if closing is None:
        raise ValueError("a trip without a closing cannot be closed")
    lines = history_lines(found, read_at(found, closing).date())
    store_id = next((each.id for each in written if each.id is not None), None)
    return add(history, lines, _planned(found), store_id)


def _added_texts(added: Added) -> list[str]:
    if not added.lines:
        return [f"{added.file} had the lines of this trip already ({added.trip})."]
    return [f"HISTORY. {added.lines} lines of trip {added.trip} added to {added.file}. No names, no references."]


def undo_closing(trip: str, changes: Sequence[str], history: Path | None = None) -> int:
    """Takes back what closing a trip wrote into the stores of its supplies, and into the history; the exit code."""
    made = read_trip(trip, changes)
    files = dict.fromkeys(s.store_file for s in made.supplies.values() if s.store_file is not None)
    store_id = next(filter(None, (closing_id(Path(file), trip_of(made)) for file in files)), None)
    if history is not None:
        out = void(history, trip_of(made), store_id)
        told = "no closing of this trip stands in it" if out is None else f"trip {out.trip} counts no more"
        say(printable(f"{history}: {told}."))
    for file in files:
        back = undo(Path(file), trip_of(made))
        told = "no closing of this trip stands in its journal" if back is None else _undone_text(back)
        say(printable(f"{file}: {told}."))
    if not files and history is None:
        say("No supply of this trip comes from a store file: nothing to undo.")
    return GO


def _undone_text(back: Mapping[str, tuple[str, str]]) -> str:
    changed = ", ".join(f"{label} {old} back to {new}" for label, (old, new) in back.items())
    return f"UNDONE. {changed or 'every cylinder was read again since: left'}. Read each gauge again before it is used"


def trip_of(trip: Trip) -> ByTrip:
    """Which trip it is, as the journal of a store knows it."""
    return ByTrip(trip.name, trip.reference, trip.departs)


def _planned(found: Comparison) -> ByTrip:
    """Which trip a comparison is of, by when it was to leave, whenever it left."""
    trip, departs = found.plan.trip, found.log.planned_departs
    return trip_of(trip if departs is None else trip._replace(departs=departs))


def _filled_on_the_way(found: Comparison, last: LastGauge) -> bool:
    read = (each for each in found.log.entries if each.supply == last.supply and each.cylinder == last.cylinder)
    return any(entry.refilled for entry in read)


def _drawn(found: Comparison, last: LastGauge) -> str | None:
    """The gauge that a cylinder was taken along with: read before the trip drew on it; None where nobody did."""
    read = (each for each in found.log.entries if each.supply == last.supply and each.cylinder == last.cylinder)
    first = next((each for each in read if each.gauge_text), None)
    if first is None or first.refilled:
        return None
    logged = (turn for turn in found.gauged[last.supply].in_use if turn.to_low > turn.from_low)
    turns = [turn for turn in logged if turn.label == last.cylinder]
    drawn_on = first.minute > 0.0 and any(turn.may_overlap(0.0, first.minute) for turn in turns)
    return None if drawn_on else first.gauge_text


def read_at(found: Comparison, closing: Closing) -> datetime:
    """When the last gauges were read: by the readings, else by the time since departure, else now."""
    if closing.moment is not None:
        return closing.moment
    departs = found.plan.trip.departs
    return time_of_issue() if departs is None else later(departs, closing.minute)


def _how_to_close(found: Comparison) -> list[str]:
    ready = found.log.closing is not None and not found.missing
    stores = {supply.store_file for supply in found.plan.trip.supplies.values() if supply.store_file is not None}
    return ["To write the last gauges into the store: compare again with --close."] if ready and stores else []


def _closed_texts(each: WrittenBack) -> list[str]:
    told = [f"{label} {old} to {new}" for label, (old, new) in each.gauges.items() if old != new]
    had = f" had the reading{'s' * (len(each.gauges) > 1)} of {', '.join(each.gauges)} already" if each.gauges else ""
    later = f" has a later reading of {', '.join(each.newer)}: left" if each.newer else ""
    if each.kept is None:
        texts = [f"CLOSED. {each.file}{', and'.join(filter(None, (had, later)))}."]
    else:
        texts = [f"CLOSED. Written to {each.file}: {', '.join(told) or 'times only'}. The file as it was: {each.kept}."]
        texts += [f"CAUTION: {each.file}{later}."] if later else []
    if each.newer:
        texts.append("If its time in the store is wrong, correct `checked` there, and close again.")
    texts += [
        f"CAUTION: {label} read {now} when it was taken along, and {before} in {each.file}: it "
        "may leak, or was used without being closed. Look at its valve and seal."
        for label, (before, now) in each.lost.items()
    ]
    return texts
