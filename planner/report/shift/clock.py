"""Clock times of a shift, as seen from its first departure, and the curve over them.

Departures go down to the minute, returns up.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from planner import figures
from planner.naming import of_gas
from planner.shift.shift import Out, Shift, over_the_clock
from planner.shift.store import COUNTED


@dataclass(frozen=True, slots=True)
class Curve:
    """Portable cylinders of a gas out over the clock: steps of (minute, count), and hours as (minute, clock time)."""

    title: str
    steps: tuple[tuple[float, int], ...]
    end_min: float
    most: int
    hours: tuple[tuple[float, str], ...]


def span(shift: Shift) -> str:
    """From the first departure to the last return."""
    if shift.first is None:
        return "no departure times"
    backs = [_back(out) for out in shift.trips]
    last = max((back for back in backs if back is not None), key=_instant)
    same_day = (last.date(), last.utcoffset()) == (shift.first.date(), shift.first.utcoffset())
    until = figures.clock_time(last, shift.first) if same_day else figures.date_time(last)
    return f"{figures.date_time(shift.first)} to {until}"


def _instant(moment: datetime) -> datetime:
    return moment if moment.tzinfo is None else moment.astimezone(UTC)


def _back(out: Out) -> datetime | None:
    """When the cylinders of a trip are back, up to the minute, on the clock of its departure."""
    departs = out.need.departs
    if departs is None or out.leaves_min is None or out.back_min is None:
        return None
    minute = departs.replace(second=0, microsecond=0)
    elapsed = (departs - minute).total_seconds() / 60.0 + out.back_min - out.leaves_min
    step = timedelta(minutes=figures.steps_up(elapsed, 1.0))
    return minute + step if minute.tzinfo is None else (minute.astimezone(UTC) + step).astimezone(minute.tzinfo)


def leaves_text(shift: Shift, number: int | None) -> str:
    """When a trip leaves, as seen from the first departure: `14:20`, `02:40 +1d`; a dash where no clock is known."""
    out = None if number is None else shift.trip(number)
    if out is None or out.need.departs is None:
        return figures.NONE
    if shift.first is None or out.placed != "clock":
        return figures.date_time(out.need.departs)
    return figures.clock_time(out.need.departs, shift.first, narrow=True)


def back_text(shift: Shift, number: int | None) -> str:
    """When the cylinders of a trip are back, as `leaves_text`."""
    back = None if number is None else _back(shift.trip(number))
    return figures.NONE if back is None or shift.first is None else figures.clock_time(back, shift.first, narrow=True)


def curves(shift: Shift) -> Iterator[Curve]:
    """The curve of each gas, where at least two trips have a place on the clock and take portable cylinders of any."""
    for gas in COUNTED:
        steps = over_the_clock(shift.trips, gas=gas)
        end_min, most = steps[-1][0], max(count for _, count in steps)
        if shift.first is not None and len(steps) >= 5 and most:
            title = f"Portable {of_gas('cylinders', gas)} out, over the clock"
            yield Curve(title, steps, end_min, most, tuple(_hours(shift.first, end_min)))


def _hours(first: datetime, end_min: float) -> Iterator[tuple[float, str]]:
    """Clock times under the curve: at most nine, each on a whole hour or a whole number of hours apart."""
    step_h = next((hours for hours in (1, 2, 3, 4, 6, 12) if end_min / 60.0 / hours <= 8.0), 24)
    start = first.replace(minute=0, second=0, microsecond=0)
    for count in range(int(end_min // 60) + 2):
        moment = start + timedelta(hours=count)
        if start.tzinfo is not None:
            moment = (start.astimezone(UTC) + timedelta(hours=count)).astimezone(start.tzinfo)
        minute = (_instant(moment) - _instant(first)).total_seconds() / 60.0
        if 0.0 <= minute <= end_min and moment.hour % step_h == 0:
            yield minute, figures.clock_time(moment, first, narrow=True)
