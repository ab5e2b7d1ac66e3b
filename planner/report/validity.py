"""Until when a card may be used, and that a go whose readings are too old is not valid yet."""

from __future__ import annotations

from planner import figures
from planner.findings.supply import reading_age_min
from planner.go.valid_until import valid_until
from planner.naming import all_called
from planner.results import Plan


def not_valid(plan: Plan) -> str:
    """`NOT VALID UNTIL A IS READ AGAIN`, over a go whose reading is too old at departure; else empty."""
    old = [
        item.cylinder.label
        for supply in plan.supplies.values()
        for item in supply.cylinders
        if (reading_age_min(plan.trip, item.cylinder) or 0.0) > plan.trip.policy.reading_valid_for_min
    ]
    if not plan.go or not old:
        return ""
    return f"NOT VALID UNTIL {all_called(old)} {'ARE' if len(old) > 1 else 'IS'} READ AGAIN"


def valid_text(plan: Plan) -> str:
    """Until when the card may be used, and why: `until 15:05: then the reading of A is too old`."""
    found = valid_until(plan)
    hours = figures.hours_set(plan.trip.policy.reading_valid_for_min)
    if found is None:
        return f"Valid until the first reading is {hours} old."
    at = figures.date_time(found.moment)
    if found.cylinder and not_valid(plan):
        return f"NOT VALID since {at}: a reading is older than {hours}. Below START AT LEAST: plan again."
    if found.cylinder:
        return f"Valid until {at}: the reading of {found.cylinder} is then {hours} old."
    return f"Valid if left by {at}: later, the times of changes leave too much gas behind. Plan again."
