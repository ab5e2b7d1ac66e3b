"""Moments so many minutes apart, by the absolute time scale: clocks that are changed on the way do not matter."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta


def later(moment: datetime, minutes: float) -> datetime:
    """The moment so many minutes on, in the zone of the first, with the offset that it then has."""
    if moment.tzinfo is None:
        return moment + timedelta(minutes=minutes)
    return (moment.astimezone(UTC) + timedelta(minutes=minutes)).astimezone(moment.tzinfo)


def minutes_between(first: datetime, second: datetime) -> float:
    """Minutes from one moment to another; both with a zone, or both without."""
    if first.tzinfo is not None:
        first, second = first.astimezone(UTC), second.astimezone(UTC)
    return (second - first) / timedelta(minutes=1)
