"""Clock times of the bedside: across midnight, and on nights when the clocks are changed.

Clocks in Oslo go from 03:00 back to 02:00 on 25 October 2026, and from 02:00 to 03:00 on 28 March 2027 (IANA list of
time zones; last Sundays of October and March).
"""

from __future__ import annotations

from datetime import UTC, datetime, time
from zoneinfo import ZoneInfo

import pytest

from planner.figures import clock_time
from planner.text.wall_clock import ClockTime, PresentMoment, elapsed_min, later, mend, moment_of, parse_clock, too_long

OSLO = ZoneInfo("Europe/Oslo")


def at(moment: str, zone: ZoneInfo = OSLO) -> PresentMoment:
    return PresentMoment(datetime.fromisoformat(moment).replace(tzinfo=zone), zone)


def clock(shown: str) -> ClockTime:
    found = parse_clock(shown)
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("shown", "expected", "to_the_second"),
    [
        ("14:20", time(14, 20), False),
        ("9:05", time(9, 5), False),
        ("00:00", time(0, 0), False),
        (" 23:59:30 ", time(23, 59, 30), True),
    ],
)
def test_clock_times_are_read(shown: str, expected: time, to_the_second: bool) -> None:
    assert parse_clock(shown) == ClockTime(expected, to_the_second)


def test_four_digits_are_a_clock_time() -> None:
    assert parse_clock("0230") == parse_clock("02:30")
    assert parse_clock("2460") is None


@pytest.mark.parametrize("shown", ["24:00", "14:60", "14.20", "2 pm", "14:2", "", "-1:00", "14:20 h", "١٤:٢٠"])
def test_other_texts_are_no_clock_times(shown: str) -> None:
    assert parse_clock(shown) is None


@pytest.mark.parametrize(
    ("shown", "mended"),
    [
        ("2 pm", "write 14:00"),
        ("2:20 PM", "write 14:20"),
        ("12:05 a.m.", "write 00:05"),
        ("12 pm", "write 12:00"),
        ("14.20", "write 14:20"),
        ("14h20", "write 14:20"),
        ("soon", "write hours and minutes with a colon, as in 14:20; midnight is 00:00"),
    ],
)
def test_how_to_mend_them(shown: str, mended: str) -> None:
    assert mend(shown) == mended


@pytest.mark.hazard(24)
@pytest.mark.parametrize(
    ("start", "end", "minutes"),
    [("14:20", "14:35", 15.0), ("23:50", "00:05", 15.0), ("23:59:30", "00:00:15", 0.75), ("00:05", "23:50", 1425.0)],
)
def test_minutes_between_clock_times(start: str, end: str, minutes: float) -> None:
    assert elapsed_min(clock(start), clock(end), at("2026-12-03 14:40")) == minutes


def test_a_clock_time_before_the_first_is_rather_a_slip_than_a_day() -> None:
    assert not too_long(12 * 60.0)
    assert too_long(12 * 60.0 + 1.0)


@pytest.mark.hazard(24)
@pytest.mark.parametrize(
    ("now", "start", "end", "minutes"),
    [
        # Back: from 01:50 to 03:10 is 80 min by the clock and 140 min that night; it depends on the date.
        ("2026-10-25 03:20", "01:50", "03:10", None),
        ("2026-10-24 23:00", "01:50", "03:10", None),
        ("2026-10-25 03:20", "02:20", "02:40", None),
        # Forward: 80 min by the clock and 20 that night. Taken as 80, a flow of 8 L/min would seem one of 2.
        ("2027-03-28 03:20", "01:50", "03:10", None),
        # The same day, away from the change; and the same times a week later.
        ("2026-10-25 14:40", "14:20", "14:35", 15.0),
        ("2026-11-01 03:20", "01:50", "03:10", 80.0),
    ],
)
def test_clock_times_about_a_change_of_the_clocks_are_not_subtracted(
    now: str, start: str, end: str, minutes: float | None
) -> None:
    assert elapsed_min(clock(start), clock(end), at(now)) == minutes


@pytest.mark.hazard(24)
@pytest.mark.parametrize(
    ("start", "minutes", "shown"),
    [
        ("2026-12-03 14:20", 99.9, "15:59"),
        ("2026-12-03 23:20", 87.0, "00:47 +1d"),
        ("2026-12-03 23:20", 1500.0, "00:20 +2d"),
        ("2026-12-31 23:30", 45.0, "00:15 +1d"),
        # Three hours on from 01:00 summer time, it is 03:00 winter time; and 05:00 summer time in spring.
        ("2026-10-25 01:00", 180.0, "03:00 CET"),
        ("2027-03-28 01:00", 180.0, "05:00 CEST"),
    ],
)
def test_the_clock_time_minutes_later(start: str, minutes: float, shown: str) -> None:
    now = at(start)
    assert clock_time(later(now.moment, minutes, now), now.moment, narrow=True) == shown


@pytest.mark.parametrize(
    ("now", "shown", "expected"),
    [
        ("2026-12-03 14:40", "14:20", "2026-12-03T14:20:00+01:00"),
        ("2026-12-04 00:10", "23:55", "2026-12-03T23:55:00+01:00"),
        ("2026-12-03 23:50", "00:15", "2026-12-04T00:15:00+01:00"),
        # Shown twice that night: the earlier one, so that oxygen ends earlier.
        ("2026-10-25 04:00", "02:30", "2026-10-25T02:30:00+02:00"),
    ],
)
def test_a_clock_time_is_that_of_the_nearest_date(now: str, shown: str, expected: str) -> None:
    moment = moment_of(clock(shown), at(now))
    assert moment is not None
    assert moment.isoformat() == expected


def test_a_clock_time_that_the_zone_skips_is_none() -> None:
    assert moment_of(clock("02:30"), at("2027-03-28 03:20")) is None


def test_without_a_zone_that_of_the_machine_is_taken() -> None:
    now = PresentMoment(datetime.now(UTC).astimezone())
    shown = f"{now.moment:%H:%M:%S}"
    moment = moment_of(clock(shown), now)
    assert moment is not None
    assert abs((moment - now.moment).total_seconds()) <= 3600.0  # the hour that clocks may show twice
