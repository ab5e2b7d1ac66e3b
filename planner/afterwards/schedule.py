"""The legs of a trip as they really went, as far as the log tells.

A log may say that a leg began or ended at a minute, or that it was still under way. Between two such marks the
planned times are stretched or shortened in proportion; after the last one they follow as planned.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from operator import attrgetter

from planner.afterwards.logbook import Entry, Logbook, SettingsChange
from planner.constants import MINUTE_NOISE
from planner.flow.flows import Flow, Segment, flows
from planner.model import Device, Leg, Use


def real_bounds(legs: Sequence[Leg], log: Logbook) -> list[float]:
    """Elapsed minutes at which the legs begin, and last the end of the trip."""
    planned = [0.0]
    for leg in legs:
        planned.append(planned[-1] + leg.total_min)
    marks = {0: 0.0}
    for entry in log.entries:
        if entry.leg is not None and entry.at is not None:
            marks[entry.leg + (entry.at == "end")] = max(0.0, entry.minute)
    if log.closing is not None and log.closing.ended_min is not None:
        marks[len(legs)] = log.closing.ended_min
    bounds = _between(planned, marks)
    for entry in log.entries:
        if entry.leg is None or entry.at is not None or bounds[entry.leg] <= entry.minute <= bounds[entry.leg + 1]:
            continue
        marks[entry.leg + (entry.minute > bounds[entry.leg])] = max(0.0, entry.minute)
        bounds = _between(planned, marks)
    return bounds


def latest_bounds(legs: Sequence[Leg], log: Logbook, bounds: Sequence[float]) -> list[float]:
    """The same as late as the log allows.

    The last leg that it names, or the first, may only now be at its end. Where the last entry names its leg, that leg
    may have begun as late as the first entry in it.
    """
    now, known, said, since = log.last_min, 0, False, 0.0
    for entry in log.entries:
        if entry.leg is not None:
            number = min(len(legs) - 1, entry.leg + (entry.at == "end"))
            since = entry.minute if number != known else since
            known, said = number, entry.minute >= now - MINUTE_NOISE
    found = list(bounds[: known + 1])
    if said:
        found[known] = max(found[known], since)
    elif now <= bounds[known + 1] + MINUTE_NOISE:
        return list(bounds)
    else:
        found.append(now)
    for leg in legs[len(found) - 1 :]:
        found.append(found[-1] + leg.total_min)
    return found


def _between(planned: Sequence[float], marks: Mapping[int, float]) -> list[float]:
    """The planned minutes, drawn through the marks."""
    known = sorted(marks.items())
    found = list(planned)
    for (low, at), (high, until) in pairwise(known):
        whole = planned[high] - planned[low]
        for number in range(low, high + 1):
            share = (planned[number] - planned[low]) / whole if whole > 0.0 else 1.0
            found[number] = at + (until - at) * share
    last, at = known[-1]
    for number in range(last, len(planned)):
        found[number] = at + planned[number] - planned[last]
    return found


def real_legs(legs: Sequence[Leg], bounds: Sequence[float]) -> tuple[Leg, ...]:
    """The legs with the times they really took; one that took as long as planned stays as it is."""
    return tuple(
        leg if abs(end - start - leg.total_min) < MINUTE_NOISE else part_of(leg, 0.0, end - start)
        for leg, (start, end) in zip(legs, pairwise(bounds), strict=True)
    )


def part_of(leg: Leg, gone_min: float, minutes: float) -> Leg:
    """A leg of which some minutes are gone and others still to come; its longest time is what is left of the whole."""
    longest = None
    if leg.longest_min is not None:
        longest = max(minutes, leg.longest_min - leg.duration_min + leg.total_min - gone_min)
    uses = []
    for use in leg.uses:
        left = None if use.for_min is None else min(use.for_min - gone_min, minutes)
        if left is None or left > 0.0:
            uses.append(use._replace(for_min=left))
    return leg._replace(duration_min=minutes, delays=(), longest_min=longest, uses=tuple(uses))


def legs_from(legs: Sequence[Leg], minute: float) -> tuple[Leg, ...]:
    """What is still to come of the legs at an elapsed minute."""
    start = 0.0
    for number, leg in enumerate(legs):
        end = start + leg.total_min
        if end > minute + MINUTE_NOISE:
            first = leg if minute <= start else part_of(leg, minute - start, end - minute)
            return (first, *legs[number + 1 :])
        start = end
    return ()


def changed_device(device: Device, changes: Sequence[SettingsChange]) -> Device:
    """A device with every change of its settings, in order."""
    for change in changes:
        if change.device == device.name:
            values: dict[str, object] = dict(change.values)
            device = device._replace(**values)  # type: ignore[arg-type]
    return device


def written_flows(legs: Sequence[Leg], entries: Sequence[Entry]) -> dict[str, Flow]:
    """The flow on each supply as the log has it: settings from when they were changed, flows from when they were read.

    A flow that was read holds until the next one on the same supply, at most to the end of its leg.
    """
    pieces: list[Leg] = []
    owner: list[int] = []
    changed: dict[str, dict[str, object]] = {}
    settings = [entry for entry in entries if entry.settings]
    start, told = 0.0, 0
    for number, leg in enumerate(legs):
        end = start + leg.total_min
        inside = [entry.minute for entry in settings if start < entry.minute < end]
        for low, high in pairwise(sorted({start, end, *inside})):
            while told < len(settings) and settings[told].minute <= low:
                for change in settings[told].settings:
                    changed.setdefault(change.device, {}).update(change.values)
                told += 1
            piece = part_of(leg, low - start, high - low)
            pieces.append(piece._replace(uses=tuple(_changed(use, changed) for use in piece.uses)))
            owner.append(number)
        start = end
    found = {name: _owned(flow, owner) for name, flow in flows(pieces).items()}
    return {name: _as_read(flow, name, entries) for name, flow in found.items()}


def read_onwards(planned: Flow, supply: str, entries: Sequence[Entry], sooner: Sequence[Entry]) -> Flow:
    """The planned flow with what each flow that was read had above it, over later legs too.

    `sooner`: the same entries as early as each may have begun (`written_earlier`): from then on.
    """
    read, begun = (
        [entry for entry in each if entry.supply == supply and entry.flow_l_per_min is not None]
        for each in (entries, sooner)
    )
    found: list[Segment] = []
    minutes = [entry.minute for entry in begun]
    for segment in planned:
        inside = minutes[bisect_right(minutes, segment.start_min) : bisect_left(minutes, segment.end_min)]
        for low, high in pairwise(sorted({segment.start_min, segment.end_min, *inside})):
            place = bisect_right(minutes, low + MINUTE_NOISE) - 1
            above = 0.0 if place < 0 else _above(planned, read[place])
            found.append(segment._replace(start_min=low, end_min=high, flow_l_per_min=segment.flow_l_per_min + above))
    return tuple(found)


def _above(planned: Flow, entry: Entry) -> float:
    then = [segment for segment in planned if segment.start_min <= entry.minute <= segment.end_min]
    then = then[-1:] if entry.at == "start" else then[:1] if entry.at == "end" else then
    least = min((segment.flow_l_per_min for segment in then), default=0.0)
    return max(0.0, (entry.flow_l_per_min or 0.0) - least)


def written_earlier(entries: Sequence[Entry]) -> list[Entry]:
    """The same with each flow and setting as early as it may have begun: at the entry before the one that tells it."""
    found, before, now = [], 0.0, 0.0
    for entry in entries:
        before, now = (now, entry.minute) if entry.minute > now else (before, now)
        tells = entry.flow_l_per_min is not None or entry.settings
        found.append(replace(entry, minute=max(0.0, before)) if tells else entry)
    return sorted(found, key=attrgetter("minute"))


def _changed(use: Use, changed: Mapping[str, dict[str, object]]) -> Use:
    values = changed.get(use.device.name)
    return use if values is None else use._replace(device=use.device._replace(**values))  # type: ignore[arg-type]


def _owned(flow: Flow, owner: Sequence[int]) -> Flow:
    return tuple(segment._replace(leg=owner[segment.leg]) for segment in flow)


def _as_read(flow: Flow, supply: str, entries: Sequence[Entry]) -> Flow:
    """The same with every flow that was read in the place of the one reckoned."""
    read = [entry for entry in entries if entry.supply == supply and entry.flow_l_per_min is not None]
    minutes = [max(0.0, entry.minute) for entry in read]
    begins: dict[int, float] = {}
    for segment in flow:
        begins[segment.leg] = min(segment.start_min, begins.get(segment.leg, segment.start_min))
    found: list[Segment] = []
    for segment in flow:
        inside = minutes[bisect_right(minutes, segment.start_min) : bisect_left(minutes, segment.end_min)]
        for low, high in pairwise(sorted({segment.start_min, segment.end_min, *inside})):
            value = None
            for place in range(bisect_right(minutes, low + MINUTE_NOISE) - 1, -1, -1):
                if minutes[place] < begins[segment.leg] - MINUTE_NOISE:
                    break
                if read[place].at != "end" or read[place].leg == segment.leg:
                    value = read[place].flow_l_per_min
                    break
            drawn = segment.flow_l_per_min if value is None else value
            found.append(Segment(low, high, segment.leg, drawn, segment.asks))
    return tuple(found)
