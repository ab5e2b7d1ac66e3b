"""Minutes of a comparison as they are read: since departure, with the clock time where it is known."""

from __future__ import annotations

from planner import figures
from planner.afterwards.compare import Comparison
from planner.constants import MINUTE_NOISE

SOON_MIN = 0.5


def minute_text(found: Comparison, minute: float) -> str:
    """`61 min (15:21)`."""
    text = figures.minutes_down(minute)
    time = figures.clock_down(found.plan.trip.departs, minute)
    return f"{text} ({time})" if time else text


def by_text(found: Comparison, minute: float | None) -> str:
    """`by 61 min (15:21)`, or `NOW` where that is no later than the last reading, or not known."""
    return "NOW" if minute is None or minute <= found.now_min + SOON_MIN else f"by {minute_text(found, minute)}"


def clocks(found: Comparison, start_min: float, end_min: float) -> str:
    """`23:55-00:15 +1d`, short enough for a column."""
    departs = found.plan.trip.departs
    times = (figures.clock_down(departs, minute, narrow=True) for minute in (start_min, end_min))
    return "-".join(filter(None, times)) or figures.NONE


def leg_named(found: Comparison) -> bool:
    """True where the last reading says in which leg it was taken."""
    return any(entry.leg is not None and entry.minute >= found.now_min - MINUTE_NOISE for entry in found.log.entries)
