"""Readings that may carry the label of another cylinder than the one that was read.

A cylinder that goes on without a word in the log was read for the first time on the way, and the one in use before it
was not. Either it was changed, or the label is a slip and the reading is that of the cylinder in use before. So may be
the last reading of a cylinder that has come off, or is by the plan to have been in use: where it is what the one in use
may have shown then. Where the rest of the trip holds by the one and not by the other, nobody here can tell: both gauges
have to be read.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from math import inf
from typing import Final, NamedTuple

from planner.afterwards.gauged import Gauged
from planner.afterwards.logbook import Entry, Logbook
from planner.results import Plan

MOST_SLIPS: Final = 10
"""With each the rest of the trip is planned anew; a log with more tells nothing of its changes (by decision)."""

_SOON_MIN: Final = 0.01
"""To either side of a reading, in which a cylinder was in use at that minute."""


class Slip(NamedTuple):
    """A reading of one cylinder that may be that of another: an entry of a log, and what stands in its place then."""

    supply: str
    read: str
    meant: str
    entry: Entry
    instead: Entry
    as_written: Logbook

    @property
    def log(self) -> Logbook:
        """The log if it was."""
        entries = (self.instead if each is self.entry else each for each in self.as_written.entries)
        return replace(self.as_written, entries=tuple(entries))


def slips(plan: Plan, log: Logbook, whole: Gauged) -> Iterator[Slip]:
    """Every reading of a supply that may be that of the cylinder in use before it, one at a time."""
    if whole.supply.kind != "cylinders":
        return
    name = whole.supply.name
    order = [turn for turn in plan.supplies[name].order if turn.to_min > turn.from_min]
    before = order[0].cylinder if order else None
    for turn in whole.in_use:
        unwritten = turn.from_low == -inf or turn.from_low < turn.from_high
        if unwritten and before is not None and before != turn.label:
            entry = _first(log, name, turn.label, turn.from_low)
            if entry is not None and _may_be(whole, before, entry):
                yield Slip(name, turn.label, before, entry, replace(entry, cylinder=before), log)
        before = turn.label
    yield from _of_the_spent(log, whole, {turn.cylinder: turn.from_min for turn in order})


def _of_the_spent(log: Logbook, whole: Gauged, planned_from: Mapping[str, float]) -> Iterator[Slip]:
    """The last reading of a cylinder that should be spent by then, where it may be that of the one in use."""
    name = whole.supply.name
    for label in whole.readings:
        read = [entry for entry in log.entries if entry.supply == name and entry.cylinder == label and entry.in_use]
        entry = next((each for each in reversed(read) if each.gauge_kpa is not None and each.minute > 0.0), None)
        if entry is None or label == whole.current or entry.refilled:
            continue
        then = whole.involved(entry.minute - _SOON_MIN, entry.minute + _SOON_MIN)
        gone = any(turn.label == label and turn.to_low < entry.minute for turn in whole.in_use)
        if label not in then and (gone or planned_from.get(label, inf) < entry.minute):
            for meant in then:
                if _may_be(whole, meant, entry):
                    without = replace(entry, cylinder=None, gauge_kpa=None, temperature_degc=None)
                    yield Slip(name, label, meant, entry, without, log)


def _first(log: Logbook, supply: str, label: str, after_min: float) -> Entry | None:
    """The first reading of a cylinder on the way, after a minute."""
    return next(
        (
            entry
            for entry in log.entries
            if entry.supply == supply
            and entry.cylinder == label
            and entry.gauge_kpa is not None
            and entry.in_use
            and entry.minute > max(0.0, after_min)
        ),
        None,
    )


def _may_be(whole: Gauged, label: str, entry: Entry) -> bool:
    """True where a cylinder may have shown that gauge then, by its readings before, at that minute and after."""
    found = whole.readings.get(label, [])
    if entry.gauge_kpa is None:
        return False
    now = [each for each in found if each.minute == entry.minute]
    if any(abs(each.gauge_kpa - entry.gauge_kpa) > each.read_to_kpa + entry.read_to_kpa for each in now):
        return False
    if now:
        return True
    before = [reading.gauge_kpa + reading.read_to_kpa for reading in found if reading.minute < entry.minute]
    after = [reading.gauge_kpa - reading.read_to_kpa for reading in found if reading.minute > entry.minute]
    least, most = entry.gauge_kpa - entry.read_to_kpa, entry.gauge_kpa + entry.read_to_kpa
    return bool(before) and least <= before[-1] and (not after or most >= after[0])
