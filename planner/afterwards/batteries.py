"""Whether a battery lasts for the rest of a trip, by the time on it and by what it shows.

    by the plan    = what is said of it - time on it so far
    by its reading = share read x what is said of it - time on it since the reading; minutes that it shows count as such
    by its fall    = time on it between two readings x share left / share fallen - time on it since, where the fall is
                     surely a tenth (by decision: a smaller one tells nothing)

A share is no time: a battery may fall faster at its end, and where several are carried the share is of one. So the
least of these counts, and none of them ever adds to another; an earlier reading counts too where the device was on
battery ever since, so that nothing can have charged it. Lamps that are lit stand for anything down to the lamp
below, `3 of 5` for 40 to 60 %. Asked is the longest time off the mains that is to come, times `battery_factor` for
what makes its own oxygen.

- act: at the upper end of what it shows it does not last for what is asked;
- holds: it does at the lower end, with as much left of the way as the log allows;
- cannot-tell: neither, or it was on battery since departure and nobody read it, or nobody knows how long it lasts.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

from planner import figures
from planner.afterwards.answers import RestVerdict
from planner.afterwards.logbook import BatteryRead, Entry, Logbook
from planner.afterwards.schedule import latest_bounds, legs_from, real_bounds, real_legs
from planner.constants import MINUTE_NOISE, NOISE
from planner.go.batteries import asked_min, batteries, minute_spent, planned_min
from planner.model import Leg, Trip

_TELLING_FALL: Final = 0.1


class BatteryAnswer(NamedTuple):
    """The battery of a device for the rest of the trip; minutes, None where nobody can tell.

    `so_far_min`: on it since departure, and before where it was planned again. `left_min` is the least of
    `by_plan_min` and `by_reading_min`. `ahead_min` is the longest time off the mains to come, `asked_min` what is asked
    for it: to act, as far as the trip is thought to be; else with as much left of the way as the log allows.
    `lasts_min`: the elapsed minute at which what is left ends. `read` is the reading that leaves the least, as it was
    written, `read_at_min` when. `unread`: on battery since departure, and not read since.
    """

    device: str
    verdict: RestVerdict
    so_far_min: float
    by_plan_min: float | None
    by_reading_min: float | None
    left_min: float | None
    ahead_min: float
    asked_min: float
    lasts_min: float | None
    read: str = ""
    read_at_min: float | None = None
    unread: bool = False


def battery_answers(trip: Trip, log: Logbook, bounds_min: Sequence[float] | None = None) -> tuple[BatteryAnswer, ...]:
    """The answer for each device that lives on a battery and is at work in what is left; none where nothing is.

    `bounds_min`: when the legs really began, and the end; None where the log alone is to tell.
    """
    bounds = real_bounds(trip.legs, log) if bounds_min is None else bounds_min
    went, late = real_legs(trip.legs, bounds), real_legs(trip.legs, latest_bounds(trip.legs, log, bounds))
    now = log.last_min
    rest, late_rest = legs_from(went, now), legs_from(late, now)
    working = batteries(trip._replace(legs=rest)) if rest else {}
    return tuple(_answer(trip, log, name, went, (rest, late_rest or rest)) for name in working)


def read_on_the_way(trip: Trip, log: Logbook, bounds_min: Sequence[float]) -> dict[str, tuple[float, float]]:
    """Of each battery that was read: what is left at the last entry, and the time on it by then.

    Minutes; what is left goes down to a whole one. From there on it is asked as one that begins the rest by itself.
    """
    return {
        each.device: (float(figures.steps_down(each.left_min, 1.0)), each.so_far_min)
        for each in battery_answers(trip, log, bounds_min)
        if each.left_min is not None and each.by_reading_min is not None
    }


def _answer(
    trip: Trip, log: Logbook, name: str, went: Sequence[Leg], rests: tuple[Sequence[Leg], Sequence[Leg]]
) -> BatteryAnswer:
    now = log.last_min
    device = next(use.device for leg in trip.legs for use in leg.uses if use.device.name == name)
    so_far = device.battery_used_min + _on_battery_min(went, name, 0.0, now)
    have = device.battery_min
    by_plan = None if have is None else max(0.0, have - so_far)
    entries = [entry for entry in log.entries if entry.device == name and entry.battery is not None]
    high = _by_reading(entries, name, have, went, now, upper=True)
    low, last = _least_by_readings(entries, name, have, went, now)
    lows, highs = ([each for each in (by_plan, read) if each is not None] for read in (low, high))
    (ahead, asked), latest = (asked_min(trip, device, legs) for legs in rests)
    unread = so_far > device.battery_used_min and not any(entry.minute > 0.0 for entry in entries)
    verdict: RestVerdict = "holds"
    if highs and min(highs) < asked:
        verdict = "act"
    else:
        ahead, asked = max((ahead, asked), latest, key=lambda each: each[1])
        if asked > 0.0 and (unread or not lows or min(lows) < asked):
            verdict = "cannot-tell"
    left = min(lows, default=None)
    endless = (*rests[0][:-1], rests[0][-1]._replace(duration_min=1e9, delays=(), uses=rests[0][-1].uses))
    ends = None if left is None else minute_spent(endless, name, left)
    return BatteryAnswer(
        device=name,
        verdict=verdict,
        so_far_min=so_far,
        by_plan_min=by_plan,
        by_reading_min=low,
        left_min=left,
        ahead_min=ahead,
        asked_min=asked,
        lasts_min=None if ends is None else now + ends,
        read="" if last is None or last.battery is None else last.battery.text,
        read_at_min=None if last is None else max(0.0, last.minute),
        unread=unread,
    )


def _least_by_readings(
    entries: Sequence[Entry], name: str, have: float | None, went: Sequence[Leg], now: float
) -> tuple[float | None, Entry | None]:
    """The least that is left by any reading that still counts, and that reading; the last one where nothing is told."""
    least, told_by = None, entries[-1] if entries else None
    for count in range(len(entries), 0, -1):
        at, last = (max(0.0, entries[index].minute) for index in (count - 1, -1))
        if _on_battery_min(went, name, at, last) < last - at - MINUTE_NOISE:
            break  # it may have been charged in between
        left = _by_reading(entries[:count], name, have, went, now, upper=False)
        if left is not None and (least is None or left < least - MINUTE_NOISE):
            least, told_by = left, entries[count - 1]
    return least, told_by


def _by_reading(
    entries: Sequence[Entry], name: str, have: float | None, went: Sequence[Leg], now: float, *, upper: bool
) -> float | None:
    """What is left by the last reading, at the upper or the lower end of what it may stand for; None where untold."""
    reads = [(max(0.0, entry.minute), entry.battery) for entry in entries if entry.battery is not None]
    if not reads:
        return None
    at, last = reads[-1]
    since = _on_battery_min(went, name, at, now)
    if last.minutes is not None:
        return max(0.0, last.minutes - since)
    share = last.highest_share if upper else last.lowest_share
    found = [] if have is None else [share * have]
    if have is not None and reads[0][0] > 0.0:
        reads.insert(0, (0.0, BatteryRead("", 1.0, 1.0)))  # what is said of it is said of a full one
    for then, earlier in reads[:-1]:
        between, least = _on_battery_min(went, name, then, at), earlier.lowest_share - last.highest_share
        if earlier.minutes is None and least >= _TELLING_FALL - NOISE and between > 0.0:
            found.append(between * share / (least if upper else earlier.highest_share - last.lowest_share))
    return max(0.0, min(found) - since) if found else None


def _on_battery_min(legs: Sequence[Leg], device: str, from_min: float, to_min: float) -> float:
    """How long a device was on its battery between two elapsed minutes."""
    start = found = 0.0
    for leg in legs:
        end = start + planned_min(leg, device)
        found += max(0.0, min(end, to_min) - max(start, from_min))
        start += leg.total_min
    return found
