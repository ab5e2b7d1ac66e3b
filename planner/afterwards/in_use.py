"""Which cylinder of a supply was in use when, from the log of the crew.

The cylinder that was read is taken to be in use, and a reading of another one is a change. At departure, where all are
read, it is the first in the order of the plan. Where both are read at a change, what is read next tells which was in
use from then on. Where a gauge fell although the log has another one in use, when it was in use is not known, only
between which readings.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import inf

from planner.afterwards.gauged import Gauged, InUse
from planner.afterwards.gauges_read import labels_of, readings_of
from planner.afterwards.logbook import Entry, Logbook
from planner.results import Plan


def gauged(plan: Plan, log: Logbook) -> dict[str, Gauged]:
    """Every supply of cylinders or of a manifold with what was read of it."""
    found = {}
    for name, supply in plan.trip.supplies.items():
        if supply.kind in ("cylinders", "manifold") and labels_of(supply):
            readings = readings_of(plan.trip, supply, log)
            whole = Gauged(supply, plan.trip.policy, readings)
            turns = _turns(plan, whole, [entry for entry in log.entries if entry.supply == name])
            found[name] = _with_unlogged(Gauged(supply, plan.trip.policy, readings, turns))
    return found


def _turns(plan: Plan, whole: Gauged, entries: Sequence[Entry]) -> tuple[InUse, ...]:
    """Who was in use when, by the log; by the plan where the log says nothing."""
    name = whole.supply.name
    order = [turn for turn in plan.supplies[name].order if turn.to_min > turn.from_min]
    first = "+".join(c.label for c in whole.supply.cylinders) if whole.supply.kind == "manifold" else None
    if first is None:
        first = order[0].cylinder if order else labels_of(whole.supply)[0]
    starts: list[tuple[str, float, float]] = [(first, -inf, -inf)]
    groups = _groups(entries)
    before = 0.0
    seen = False
    for place, (minute, group) in enumerate(groups):
        current = starts[-1][0]
        change = next((entry for entry in group if entry.change_to is not None), None)
        labels = list(dict.fromkeys(entry.cylinder for entry in group if entry.cylinder is not None))
        if change is not None and change.change_to is not None:
            if change.cylinder is not None and change.cylinder != current:
                starts.append((change.cylinder, before, minute))
            starts.append((change.change_to, minute, minute))
        elif current not in labels and labels:
            planned = any(turn.from_min < minute for turn in order[1:] if turn.cylinder == labels[-1])
            if not seen and (minute <= 0.0 or not planned):
                starts = [(labels[-1], -inf, -inf)]
            else:
                starts.append((labels[-1], before, minute))
        elif len(labels) > 1 and minute > 0.0:
            other = [label for label in labels if label != current][-1]
            if _took_over(whole, groups[place + 1 :], minute, current, other):
                starts.append((other, minute, minute))
        before = minute
        seen = seen or minute > 0.0
    ends = [(low, high) for _, low, high in starts[1:]] + [(inf, inf)]
    return tuple(InUse(label, low, high, *end) for (label, low, high), end in zip(starts, ends, strict=True))


def _groups(entries: Sequence[Entry]) -> list[tuple[float, list[Entry]]]:
    """Entries that tell of a cylinder in use, by minute."""
    found: dict[float, list[Entry]] = {}
    for entry in entries:
        if entry.in_use and (entry.gauge_kpa is not None or entry.change_to is not None):
            found.setdefault(max(0.0, entry.minute), []).append(entry)
    return sorted(found.items())


def _took_over(
    whole: Gauged, later: Sequence[tuple[float, list[Entry]]], minute: float, current: str, other: str
) -> bool:
    """True where the other of two cylinders that were read at one minute was in use from then on."""
    if later:
        labels = {entry.cylinder for entry in later[0][1]}
        if (current in labels) != (other in labels):
            return other in labels
    fell = {label: _fell_kpa(whole, label, minute) for label in (current, other)}
    fell_current, fell_other = fell[current], fell[other]
    if fell_current is not None and fell_other is not None:
        return fell_other > fell_current
    gauge = next(r.gauge_kpa for r in reversed(whole.readings[current]) if r.minute <= minute)
    reading = next(r.read_to_kpa for r in reversed(whole.readings[current]) if r.minute <= minute)
    return gauge <= whole.policy.change_over_at_kpa + whole.policy.gauge_allowance_kpa + reading


def _fell_kpa(whole: Gauged, label: str, minute: float) -> float | None:
    found = whole.readings.get(label, [])
    here = [reading for reading in found if reading.minute <= minute]
    after = [reading for reading in found if reading.minute > minute]
    return here[-1].gauge_kpa - after[0].gauge_kpa if here and after and not after[0].refilled else None


def _with_unlogged(whole: Gauged) -> Gauged:
    """The same, with cylinders that fell and of which the log knows no use: in use some time between two readings."""
    turns, fallen = list(whole.in_use), []
    for label, found in whole.readings.items():
        for first, second in pairwise(found):
            if (
                second.refilled
                or second.minute <= first.minute
                or any(turn.label == label and turn.may_overlap(first.minute, second.minute) for turn in whole.in_use)
            ):
                continue
            if whole.between(label, first, second, (first.minute, second.minute)).lowest_l_per_min > 0.0:
                turns.append(InUse(label, first.minute, second.minute, first.minute, second.minute))
                fallen.append(label)
    turns.sort(key=lambda turn: turn.from_low)
    return Gauged(whole.supply, whole.policy, whole.readings, tuple(turns), tuple(dict.fromkeys(fallen)))
