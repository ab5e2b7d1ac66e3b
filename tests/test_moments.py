"""Moments so many minutes apart, over the night when the clocks go back; worked by hand.

On 25 October 2026 the clocks of central Europe go back from 03:00 to 02:00 (IANA time zone database, Europe/Berlin), so
that from 01:00 to 04:00 on the clock four hours pass.
"""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest

from planner.findings.trip import of_trip
from planner.model import Supply
from planner.moments import later, minutes_between
from tests.build import CANNULA, cylinder, leg, trip

BERLIN = ZoneInfo("Europe/Berlin")
BEFORE, AFTER = (datetime(2026, 10, 25, hour, tzinfo=BERLIN) for hour in (1, 4))


def test_minutes_are_those_that_pass_and_not_those_of_the_clock() -> None:
    assert minutes_between(BEFORE, AFTER) == 240.0
    assert minutes_between(AFTER, BEFORE) == -240.0
    assert later(BEFORE, 240.0) == AFTER
    assert later(BEFORE, 240.0).hour == 4
    naive = BEFORE.replace(tzinfo=None)
    assert minutes_between(naive, later(naive, 90.0)) == 90.0


@pytest.mark.parametrize(("valid_min", "old"), [(239.0, True), (240.0, False)])
def test_a_reading_is_as_old_as_the_time_that_passed(valid_min: float, old: bool) -> None:
    """Three hours by the clock, four in truth: a reading that counts for less than four is old."""
    cart = Supply("cart", "cylinders", cylinders=(cylinder("A", 2000, checked=BEFORE),))
    whole = trip([cart], leg(10.0, CANNULA))._replace(departs=AFTER)
    whole = whole._replace(policy=whole.policy._replace(reading_valid_for_min=valid_min))
    assert ("reading_old" in [each.code for each in of_trip(whole)]) == old
