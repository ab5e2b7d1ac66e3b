"""Clock times of the bedside: `14:20` read and written, today, and across midnight.

A clock time alone has no date and no zone. It is taken in the zone of this machine, on the date that brings it nearest
to now. Times are added on the absolute time scale, so that a change to or from summer time comes out right.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from itertools import product
from typing import Final

from planner import figures

ALLOWED: Final = "a time of the 24-hour clock, as in 14:20"

_CLOCK = re.compile(r"([01]?[0-9]|2[0-3]):([0-5][0-9])(?::([0-5][0-9]))?", re.ASCII)
_HALF_DAY = re.compile(r"(1[0-2]|0?[1-9])(?:[:.]([0-5][0-9]))? ?([ap])\.?m\.?", re.ASCII | re.IGNORECASE)
_FOUR_DIGITS = re.compile(r"[0-9]{4}", re.ASCII)
_NO_COLON = re.compile(r"([01]?[0-9]|2[0-3])[.h ]?([0-5][0-9])h?", re.ASCII)
_HALF_DAY_MIN: Final = 12 * 60.0


@dataclass(frozen=True, slots=True)
class ClockTime:
    """A clock time as read; `to_the_second` where seconds were given."""

    time: time
    to_the_second: bool


@dataclass(frozen=True, slots=True)
class PresentMoment:
    """The present moment, aware of its zone, and that zone; None means the zone of this machine, with its changes."""

    moment: datetime
    zone: tzinfo | None = None


def parse_clock(text: str) -> ClockTime | None:
    """The clock time `14:20`, `14:20:30` or, in four digits, `1420`; None for any other text.

    >>> [str(parse_clock(text).time) for text in ("9:05", "0230")]
    ['09:05:00', '02:30:00']
    """
    plain = text.strip(" ")
    if _FOUR_DIGITS.fullmatch(plain):
        plain = f"{plain[:2]}:{plain[2:]}"
    match = _CLOCK.fullmatch(plain)
    if match is None:
        return None
    hour, minute, second = match.groups()
    return ClockTime(time(int(hour), int(minute), int(second or 0)), second is not None)


def mend(text: str) -> str:
    """How to mend a text that is no clock time.

    >>> mend("2:20 pm")
    'write 14:20'
    """
    plain = text.strip(" ")
    half = _HALF_DAY.fullmatch(plain)
    if half is not None:
        hour = int(half.group(1)) % 12 + (12 if half.group(3) in "pP" else 0)
        return f"write {figures.two_digits(hour)}:{half.group(2) or '00'}"
    bare = _NO_COLON.fullmatch(plain)
    if bare is not None:
        return f"write {figures.two_digits(int(bare.group(1)))}:{bare.group(2)}"
    return "write hours and minutes with a colon, as in 14:20; midnight is 00:00"


def moment_of(clock: ClockTime, now: PresentMoment) -> datetime | None:
    """The moment nearest to now at which the clock shows a time; None where the zone skips it that day.

    Where the zone shows it twice, the earlier one is taken: oxygen then ends earlier.
    """
    days = [_day(now, day) for day in (-1, 0, 1)]
    instants = [_instant(datetime.combine(day, clock.time), now) for day in days]
    nearest = min(instants, key=lambda instant: abs(instant - now.moment.astimezone(UTC)))
    moment = nearest.astimezone(now.zone)
    return moment if moment.time() == clock.time else None


def later(moment: datetime, minutes: float, now: PresentMoment) -> datetime:
    """The moment so many minutes later, in the zone of `now`, with the offset that the zone then has."""
    return (moment.astimezone(UTC) + timedelta(minutes=minutes)).astimezone(now.zone)


def elapsed_min(start: ClockTime, end: ClockTime, now: PresentMoment) -> float | None:
    """Minutes from one clock time to the next time that the clock shows the other, over midnight if need be.

    None where it depends on the date, because the clocks are changed about now.

    >>> from datetime import datetime, UTC
    >>> now = PresentMoment(datetime(2026, 12, 3, 0, 10, tzinfo=UTC), UTC)
    >>> elapsed_min(ClockTime(time(23, 50), False), ClockTime(time(0, 5), False), now)
    15.0
    """
    found = set()
    for day, first, second in product((-1, 0, 1), (0, 1), (0, 1)):
        ends = datetime.combine(_day(now, day), end.time)
        starts = datetime.combine(ends.date(), start.time)
        if starts >= ends:
            starts -= timedelta(days=1)
        found.add(_instant(ends.replace(fold=second), now) - _instant(starts.replace(fold=first), now))
    return found.pop().total_seconds() / 60.0 if len(found) == 1 else None


def too_long(minutes: float) -> bool:
    """True for more than half a day: the second clock time was then rather before the first than a day after."""
    return minutes > _HALF_DAY_MIN


def _day(now: PresentMoment, days: int) -> date:
    return now.moment.date() + timedelta(days=days)


def _instant(naive: datetime, now: PresentMoment) -> datetime:
    """A clock time in the zone of `now`, as UTC, in which times can be subtracted."""
    aware = naive.astimezone() if now.zone is None else naive.replace(tzinfo=now.zone)
    return aware.astimezone(UTC)
