"""Dates, clock times and time zones of a profile.

A clock time that its zone never shows, or shows twice, is refused: on paper it would be an hour wrong.
"""

from __future__ import annotations

import re
from calendar import monthrange
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from typing import TYPE_CHECKING, Final, NamedTuple

from planner.profile.faults import near
from planner.profile.fields import Fields
from planner.text.text_file import show

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

ALLOWED: Final = "a date and a clock time such as 2026-12-03 14:20, with or without an offset such as +01:00"
_MOMENT = re.compile(
    r"([0-9]{4})-([0-9]{2})-([0-9]{2})[T ]([0-9]{2}):([0-9]{2})(?::([0-9]{2}))?"
    r" ?(?:(Z)|([+-])([0-9]{2}):?([0-9]{2}))?",
    re.ASCII,
)
_FIRST_YEAR, _LAST_YEAR = 2000, 2199
_MOST_OFFSET: Final = timedelta(hours=14)


class TripClock(NamedTuple):
    """When the trip departs, None where nobody said, and the zone of its clock times."""

    departs: datetime | None
    zone: tzinfo | None


def read_clock(fields: Fields) -> TripClock:
    """Departure and zone of a trip. Without `timezone`, an offset in `departs` holds for all its clock times."""
    zone = _zone(fields) if fields.given("timezone") else None
    departs = read_moment(fields, "departs", zone)
    return TripClock(departs, zone if zone is not None or departs is None else departs.tzinfo)


def read_moment(fields: Fields, key: str, zone: tzinfo | None) -> datetime | None:
    """A date and clock time, aware of its zone where one is known."""
    text = fields.text(key)
    if text is None:
        return None
    match = _MOMENT.fullmatch(text)
    if match is None:
        fix = "write year, month and day with dashes, a space, and hours and minutes of the 24-hour clock"
        fields.add(key, "not_a_time", f"{key} {show(text)}", ALLOWED, fix)
        return None
    try:
        year, month, day, hour, minute, second = (int(part or 0) for part in match.groups()[:6])
        moment = datetime(year, month, day, hour, minute, second)  # noqa: DTZ001 - its zone is added below
    except ValueError:
        found = f"{key} {show(text)}, {_impossible(year, month, day)}"
        fields.add(key, "not_a_time", found, ALLOWED, "check the date and the time")
        return None
    if not _FIRST_YEAR <= moment.year <= _LAST_YEAR:
        fix = f"write a year from {_FIRST_YEAR} to {_LAST_YEAR}"
        fields.add(key, "out_of_range", f"{key} {show(text)}, in the year {moment.year}", ALLOWED, fix)
        return None
    offset = _offset(match)
    if offset is not None and abs(offset) > _MOST_OFFSET:
        fields.add(key, "out_of_range", f"{key} {show(text)}", "an offset from -14:00 to +14:00", "check the offset")
        return None
    if zone is not None and not isinstance(zone, timezone):
        return _in_zone(fields, key, text, moment, zone, offset)
    return moment.replace(tzinfo=zone if offset is None else timezone(offset))


def _impossible(year: int, month: int, day: int) -> str:
    """Why no calendar or clock shows it, in words that are the same under every version of the interpreter."""
    if year < 1 or not 1 <= month <= 12:
        return "but there is no such month"
    if not 1 <= day <= monthrange(year, month)[1]:
        return f"but that month has {monthrange(year, month)[1]} days"
    return "but a clock shows 00:00 to 23:59"


def _offset(match: re.Match[str]) -> timedelta | None:
    utc, sign, hours, minutes = match.groups()[6:]
    if utc is not None:
        return timedelta(0)
    if sign is None:
        return None
    size = timedelta(hours=int(hours), minutes=int(minutes))
    return -size if sign == "-" else size


def _in_zone(
    fields: Fields, key: str, text: str, moment: datetime, zone: tzinfo, offset: timedelta | None
) -> datetime | None:
    """The moment in its zone, refused where the zone has no such clock time, or has it twice."""
    both = [moment.replace(tzinfo=zone, fold=fold) for fold in (0, 1)]
    real = [one for one in both if one.astimezone(UTC).astimezone(zone).replace(tzinfo=None) == moment]
    offsets = list(dict.fromkeys(f"{one:%z}"[:3] + ":" + f"{one:%z}"[3:5] for one in real))
    if not real:
        fields.add(
            key,
            "no_such_time",
            f"{key} {show(text)}, which clocks in {zone} skip when they go forward",
            "a clock time that the zone has",
            "write a time before or after the change of the clocks",
        )
        return None
    if offset is not None:
        fitting = [one for one in real if one.utcoffset() == offset]
        if fitting:
            return fitting[0]
        fields.add(
            key,
            "offset_and_zone",
            f"{key} {show(text)}, where {zone} has the offset {offsets[0]}",
            "an offset that fits the time zone, or one of the two alone",
            "leave out the offset, or the `timezone`",
        )
        return None
    if len(offsets) > 1:
        ways = " or ".join(f"{moment:%Y-%m-%d %H:%M}{way}" for way in offsets)
        fields.add(
            key,
            "time_comes_twice",
            f"{key} {show(text)}, which clocks in {zone} show twice that day",
            "a clock time with its offset",
            f"write {ways}",
        )
        return None
    return real[0]


def _zone(fields: Fields) -> ZoneInfo | None:
    from zoneinfo import ZoneInfo, available_timezones

    name = fields.text("timezone")
    if name is None:
        return None
    try:
        return ZoneInfo(name)
    except (OSError, ValueError, KeyError):
        known = available_timezones()
    meant = near(name, sorted(known), len(known))
    fix = "write Area/City, as in Europe/Oslo, or leave it out and give `departs` an offset such as +01:00"
    if not known:
        fix = "this computer has no list of time zones: install the package tzdata, or give `departs` an offset"
    elif meant is not None:
        fix = f"write the name of yours in that list; `{meant}` is spelt alike"
    fields.add("timezone", "timezone_unknown", f"timezone {show(name)}", "a name of the IANA list of time zones", fix)
    return None
