"""Until when a card may be used, and that a go whose readings are too old is not valid yet."""

from __future__ import annotations

from datetime import datetime

from planner import figures
from planner.findings.supply import reading_age_min
from planner.go.valid_until import valid_until
from planner.model import Cylinder, Trip
from planner.naming import all_called
from planner.results import Plan


def not_valid(plan: Plan, issued: datetime | None = None) -> str:
    """`NOT VALID UNTIL A IS READ AGAIN`, over a go whose reading is too old at departure; else empty.

    Where no departure is known, by the time of issue if that is told.
    """
    trip, valid_min = plan.trip, plan.trip.policy.reading_valid_for_min
    cylinders = [item.cylinder for supply in plan.supplies.values() for item in supply.cylinders]
    old = [one.label for one in cylinders if (_age_min(trip, one, issued) or 0.0) > valid_min]
    if not plan.go or not old:
        return ""
    return f"NOT VALID UNTIL {all_called(old)} {'ARE' if len(old) > 1 else 'IS'} READ AGAIN"


def _age_min(trip: Trip, cylinder: Cylinder, issued: datetime | None) -> float | None:
    """How old a reading is when the trip leaves; a time without a zone is that of the place where it is printed."""
    if trip.departs is None and issued is not None and cylinder.checked is not None:
        trip = trip._replace(departs=issued if cylinder.checked.tzinfo else issued.replace(tzinfo=None))
    return reading_age_min(trip, cylinder)


def valid_text(plan: Plan, issued: datetime | None = None) -> str:
    """Until when the card may be used, and why: `until 15:05: then the reading of A is too old`."""
    found = valid_until(plan)
    hours = figures.hours_set(plan.trip.policy.reading_valid_for_min)
    if found is None:
        return f"Valid until the first reading is {hours} old."
    at = figures.date_time(found.moment)
    if found.cylinder and not_valid(plan, issued):
        return f"NOT VALID since {at}: a reading is older than {hours}. Below START AT LEAST: plan again."
    if found.cylinder:
        return f"Valid until {at}: the reading of {found.cylinder} is then {hours} old."
    return f"Valid if left by {at}: later, the times of changes leave too much gas behind. Plan again."
