"""Times of a log: since departure, `18 min`, or by the clock, `14:38`, over midnight and over a change of the clocks.

A clock time without a date is taken on the day that brings it nearest to the entry before. One that its zone skips is
refused, and one that it shows twice wherever both could be meant.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final

from planner.constants import MINUTE_NOISE
from planner.moments import later, minutes_between
from planner.profile.clock import read_moment
from planner.profile.faults import Faults, told
from planner.profile.fields import Fields
from planner.profile.limits import LONGEST_MIN
from planner.text import quantities
from planner.text.node import Node
from planner.text.text_file import show
from planner.text.wall_clock import mend, parse_clock

ALLOWED: Final = "a time since departure, as in 18 min, or a clock time, as in 14:38"
_DATED = re.compile(r"[0-9]{4}-[0-9]", re.ASCII)


@dataclass(frozen=True, slots=True)
class When:
    """A time of the log: minutes since departure, below 0 before it, and the clock time where one is known."""

    minute: float
    moment: datetime | None
    to_the_minute: bool


def read_time(fields: Fields, key: str, departs: datetime | None, after_min: float) -> When | None:
    """The time of a key, `after_min` that of the entry before; None where it is absent, or wrong and told."""
    text = fields.text(key)
    if text is None:
        return None
    if _DATED.match(text) is not None:
        return _dated(fields, key, departs)
    if ":" in text:
        return _by_clock(fields, key, departs, after_min)
    try:
        minute = quantities.parse(text, "duration", high=LONGEST_MIN)
    except quantities.QuantityError as error:
        clock = mend(text)
        meant = parse_clock(clock.removeprefix("write ")) is not None
        fix = f"{clock} if a clock time is meant; else {error.fix}" if meant else error.fix
        fields.add(key, error.code, f"{key} {error.found}", ALLOWED, fix)
        return None
    moment = None if departs is None else later(departs, minute)
    return When(minute, moment, minute > 0.0 and minute.is_integer())


def minute_of(text: str, file: str, departs: datetime | None) -> float:
    """The minute since departure of a time given alone; `file` is what its problems carry. Raises `ProblemsError`."""
    faults = Faults(file)
    key, value = (Node("scalar", word, line=1, column=1) for word in ("time", text))
    found = read_time(
        Fields(faults, Node("map", pairs=((key, value),), line=1, column=1), "time"), "time", departs, 0.0
    )
    if found is None:
        raise told(faults.problems)
    return found.minute


def _dated(fields: Fields, key: str, departs: datetime | None) -> When | None:
    text = fields.text(key) or ""
    moment = read_moment(fields, key, None if departs is None else departs.tzinfo)
    if moment is None:
        return None
    if departs is None:
        _no_departure(fields, key, text)
        return None
    if (moment.tzinfo is None) != (departs.tzinfo is None):
        fix = "leave the offset out here, or give the trip a `timezone`"
        fields.add(key, "offset_missing", f"{key} {show(text)} with an offset, and `departs` without", ALLOWED, fix)
        return None
    return When(minutes_between(departs, moment), moment, moment.second == 0)


def _by_clock(fields: Fields, key: str, departs: datetime | None, after_min: float) -> When | None:
    text = fields.text(key) or ""
    clock = parse_clock(text)
    if clock is None:
        fix = "write hours and minutes of the 24-hour clock with a colon, as in 14:38"
        fields.add(key, "not_a_time", f"{key} {show(text)}", ALLOWED, fix)
        return None
    if departs is None:
        _no_departure(fields, key, text)
        return None
    near = later(departs, after_min)
    days = [datetime.combine(near.date() + timedelta(days=day), clock.time) for day in (-1, 0, 1)]
    day = min(days, key=lambda naive: abs(naive - near.replace(tzinfo=None)))
    both = {naive.fold: naive for naive in (day, day.replace(fold=1))}
    real = []
    for naive in both.values():
        moment = naive.replace(tzinfo=departs.tzinfo)
        back = moment if departs.tzinfo is None else moment.astimezone(UTC).astimezone(departs.tzinfo)
        if back.replace(tzinfo=None, fold=0) == day:
            real.append(moment)
    minutes = sorted({minutes_between(departs, moment): moment for moment in real}.items())
    after = [pair for pair in minutes if pair[0] >= after_min - MINUTE_NOISE]
    if not minutes:
        fix = "write a time before or after the change of the clocks"
        fields.add(key, "no_such_time", f"{key} {show(text)}, which clocks skip that night", ALLOWED, fix)
        return None
    if len(after) > 1:
        ways = " or ".join(f"{moment:%Y-%m-%d %H:%M}{_offset(moment)}" for _, moment in after)
        fields.add(key, "time_comes_twice", f"{key} {show(text)}, which clocks show twice", ALLOWED, f"write {ways}")
        return None
    minute, moment = (after or minutes)[0]
    return When(minute, moment, not clock.to_the_second)


def _no_departure(fields: Fields, key: str, text: str) -> None:
    fields.add(
        key,
        "no_departure",
        f"{key} {show(text)}, and the trip does not say when it departs",
        ALLOWED,
        'write the time since departure, as in 18 min, or give the departure: --set departs="2026-12-03 14:20"',
    )


def _offset(moment: datetime) -> str:
    text = f"{moment:%z}"
    return f"{text[:3]}:{text[3:5]}" if text else ""
