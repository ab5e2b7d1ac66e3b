"""What a closed trip adds to the history of a service: a line of the trip, and of its stretches, legs and waits.

Format 1, one mapping a line (`planner.afterwards.review.history` reads them). No name of a person, no reference: text
that somebody typed stands only where the policy lists it, else `other`. A stretch on which one device alone drew, with
the settings of the plan, carries its type; any other is `mixed`. A leg carries its time where the log says when it
began and ended, a wait where the log says how long it took.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from itertools import pairwise
from math import fsum
from typing import Any, Final

from planner import figures
from planner.afterwards.compare import Comparison
from planner.afterwards.review.history import MIXED, OTHER
from planner.afterwards.schedule import real_legs
from planner.afterwards.stretches import SET_FLOW_WITHIN, Stretch, drawn_l, stretch_between
from planner.constants import SAME_MIN
from planner.flow.flows import flows
from planner.model import Device

Line = dict[str, Any]

_SETTINGS: Final = {
    "flow_l_per_min": ("flow", "L/min"),
    "total_flow_l_per_min": ("total flow", "L/min"),
    "oxygen_flow_l_per_min": ("oxygen flow", "L/min"),
    "minute_volume_l_per_min": ("minute volume", "L/min"),
    "fio2": ("FiO2", ""),
}
"""Settings that the text of a line names, in this order."""


def history_lines(found: Comparison, closed: date) -> list[Line]:
    """The lines of a closed trip, without its ID. `closed`: the day on which it was closed."""
    return [_trip(found, closed), *_flows(found), *_times(found)]


def _trip(found: Comparison, closed: date) -> Line:
    plan = found.plan
    supplies = {}
    for name in found.gauged:
        need = plan.supplies[name].need
        used_l, doubt_l = _used(found, name)
        supplies[name] = {
            "planned_l": need.planned_l,
            "required_l": need.required_l,
            "used_l": used_l,
            "doubt_l": doubt_l,
        }
    return {
        "kind": "trip",
        "closed": closed.isoformat(),
        "setting": plan.trip.setting,
        "ran_out": ran_out(found),
        "supplies": supplies,
    }


def _used(found: Comparison, supply: str) -> tuple[float, float]:
    """Litres used of a supply over the whole trip, and how far off they may be.

    What was planned for a time without readings counts as used, and as doubt besides.
    """
    whole = [one for one in found.overall if one.supply == supply]
    known = whole or [one for one in found.stretches if one.supply == supply]
    used = fsum(one.used_l for one in known)
    off = fsum(max(one.highest_l - one.used_l, one.used_l - one.lowest_l) for one in known)
    planned = flows(real_legs(found.plan.trip.legs, found.bounds_min)).get(supply, ())
    end = found.bounds_min[-1]
    unread = drawn_l(planned, 0.0, end) - fsum(drawn_l(planned, one.from_min, min(end, one.to_min)) for one in known)
    unread = max(0.0, unread)
    return used + unread, off + unread


def ran_out(found: Comparison) -> bool:
    """True where the crew say so, or every cylinder of a supply that was drawn on was empty at the end."""
    closing = found.log.closing
    if closing is None:
        return False
    if closing.ran_out:
        return True
    empty = {
        (last.supply, last.cylinder)
        for last in closing.last
        if not last.refilled and last.gauge_kpa <= last.read_to_kpa
    }
    carried = {
        name: {(name, label) for label, read in found.gauged[name].readings.items() if read}
        for name, used in found.used.items()
        if used
    }
    return any(labels and labels <= empty for labels in carried.values())


def _flows(found: Comparison) -> Iterator[Line]:
    """One line for each run of stretches on which the same device drew alone: measured from end to end it is surer."""
    planned = flows(real_legs(found.plan.trip.legs, found.bounds_min))
    for name, whole in found.gauged.items():
        runs: list[tuple[Device | None, list[Stretch]]] = []
        for stretch in (one for one in found.stretches if one.supply == name):
            alone = _alone(found, stretch)
            if runs and alone is not None and runs[-1][0] == alone and runs[-1][1][-1].to_min == stretch.from_min:
                runs[-1][1].append(stretch)
            else:
                runs.append((alone, [stretch]))
        for alone, run in runs:
            joined = stretch_between(whole, run[0].from_min, run[-1].to_min, planned.get(name, ()), None)
            for stretch in run if joined is None else (joined,):
                yield _flow(found, stretch, alone)


def _flow(found: Comparison, stretch: Stretch, alone: Device | None) -> Line:
    listed = found.plan.trip.policy.history
    line: Line = {"kind": "flow", "type": MIXED if alone is None else alone.type}
    if alone is not None and alone.drive is not None:  # two kinds of one type that use oxygen in their own ways
        line |= {"drive": alone.drive, "rule": alone.rule}
    off = max(stretch.highest_l - stretch.used_l, stretch.used_l - stretch.lowest_l)
    return line | {
        "settings": OTHER if alone is None else _if_listed(settings_text(alone), listed.settings),
        "device": OTHER if alone is None else _if_listed(alone.name, listed.devices),
        "label": "+".join(part.label for part in stretch.parts),
        "planned_l": stretch.planned_l,
        "used_l": stretch.used_l,
        "doubt_l": off,
        "min": stretch.minutes,
    }


def _alone(found: Comparison, stretch: Stretch) -> Device | None:
    """The device that alone drew on the supply in a stretch, with the settings of the plan; None for a mixed one."""
    devices: list[Device] = []
    start = 0.0
    for leg in real_legs(found.plan.trip.legs, found.bounds_min):
        end = start + leg.total_min
        for use in leg.uses:
            until = end if use.for_min is None else min(end, start + use.for_min)
            draws = stretch.supply in use.supplies
            if draws and start < stretch.to_min - SAME_MIN and until > stretch.from_min + SAME_MIN:
                devices.append(use.device)
        start = end
    if not devices or any(device != devices[0] for device in devices):
        return None
    if any(change.device == devices[0].name for entry in found.log.entries for change in entry.settings):
        return None
    written = stretch.written_l
    if written is not None and abs(written - stretch.planned_l) > SET_FLOW_WITHIN * stretch.planned_l:
        return None
    return devices[0]


def settings_text(device: Device) -> str:
    """The settings of a device in one text, as a policy may list it: `minute volume 10 L/min, FiO2 0.6`."""
    parts = []
    for name, (word, unit) in _SETTINGS.items():
        value = getattr(device, name, None)
        if value is not None:
            parts.append(f"{word} {figures.plain(value)} {unit}".rstrip())
    return ", ".join(parts) or OTHER


def _if_listed(text: str, listed: Sequence[str]) -> str:
    return text if text in listed else OTHER


def _times(found: Comparison) -> Iterator[Line]:
    """Legs of which the log says when they began and ended, and waits of which it says how long they took."""
    legs, listed = found.plan.trip.legs, found.plan.trip.policy.history
    waits = [entry for entry in found.log.entries if entry.wait is not None]
    known = _known_bounds(found)
    for number, (leg, (start, end)) in enumerate(zip(legs, pairwise(found.bounds_min), strict=True)):
        if not {number, number + 1} <= known:
            continue
        mine = [entry for entry in waits if start - SAME_MIN <= entry.minute <= end + SAME_MIN]
        apart = all(any(_same(delay.reason, entry.wait or "") for entry in mine) for delay in leg.delays)
        yield {
            "kind": "time",
            "leg": _if_listed(leg.name, listed.legs),
            "by": leg.by,
            "planned_min": leg.duration_min if apart else leg.total_min,
            "min": max(0.0, end - start - (fsum(entry.waited_min for entry in mine) if apart else 0.0)),
        }
    for entry in waits:
        planned = [delay for leg in legs for delay in leg.delays if _same(delay.reason, entry.wait or "")]
        yield {
            "kind": "time",
            "wait": _if_listed(entry.wait or "", listed.waits),
            "planned_min": planned[0].time_min if planned else 0.0,
            "min": entry.waited_min,
        }


def _same(one: str, other: str) -> bool:
    return one.strip().casefold() == other.strip().casefold()


def _known_bounds(found: Comparison) -> set[int]:
    """Numbers of the bounds between legs that the log tells: 0 is departure."""
    known = {0}
    for entry in found.log.entries:
        if entry.leg is not None and entry.at is not None:
            known.add(entry.leg + (entry.at == "end"))
    if found.log.closing is not None and found.log.closing.ended_min is not None:
        known.add(len(found.plan.trip.legs))
    return known
