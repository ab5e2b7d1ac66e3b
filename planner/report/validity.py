"""Until when a card may be used, and that a go whose readings are too old is not valid yet."""

from __future__ import annotations

from datetime import datetime, timedelta

from planner import figures
from planner.findings.supply import reading_age_min
from planner.go.valid_until import valid_until
from planner.model import Cylinder, Trip
from planner.naming import all_called
from planner.results import Plan


def not_valid(plan: Plan, issued: datetime | None = None) -> str:
    """`NOT VALID UNTIL A IS READ AGAIN`, over a go whose reading is too old to leave by; else empty.

    Nobody leaves before the card is printed: what counts is the departure or the time of issue, whichever is later.
    """
    old = [one.label for one in _too_old(plan, issued)]
    return f"NOT VALID UNTIL {all_called(old)} {'ARE' if len(old) > 1 else 'IS'} READ AGAIN" if old else ""


def _too_old(plan: Plan, issued: datetime | None) -> list[Cylinder]:
    """The cylinders of a go whose readings are too old; none of a no-go."""
    trip, valid_min = plan.trip, plan.trip.policy.reading_valid_for_min
    cylinders = [item.cylinder for supply in plan.supplies.values() if plan.go for item in supply.cylinders]
    return [one for one in cylinders if _age_min(trip, one, issued) > valid_min]


def _age_min(trip: Trip, cylinder: Cylinder, issued: datetime | None) -> float:
    """How old a reading is when the trip leaves, minutes; 0 where it has no time, or none to compare it with."""
    moments = (trip.departs, issued and cylinder.checked and _on_clock_of(cylinder.checked, issued))
    return max(reading_age_min(trip._replace(departs=moment), cylinder) or 0.0 for moment in moments)


def _on_clock_of(moment: datetime, issued: datetime) -> datetime:
    """The time of issue beside a moment: one without a zone is that of the place where it is printed."""
    return issued.astimezone() if moment.tzinfo else issued.replace(tzinfo=None)


def valid_text(plan: Plan, issued: datetime | None = None) -> str:
    """Until when the card may be used, and why: `until 15:05: then the reading of A is too old`."""
    found, old = valid_until(plan), _too_old(plan, issued)
    valid_min = plan.trip.policy.reading_valid_for_min
    hours = figures.hours_set(valid_min)
    oldest = max(old, key=lambda one: _age_min(plan.trip, one, issued)).checked if old else None
    if oldest is not None:
        ended = oldest + timedelta(minutes=valid_min)
        to_come = issued is not None and ended > _on_clock_of(ended, issued)
        when, then = ("from", "then ") if to_come else ("since", "")
        return (
            f"NOT VALID {when} {figures.date_time(ended)}: a reading is {then}older than {hours}. "
            "Below START AT LEAST: plan again."
        )
    if found is None:
        return f"Valid until the first reading is {hours} old."
    at = figures.date_time(found.moment)
    if found.cylinder:
        return f"Valid until {at}: the reading of {found.cylinder} is then {hours} old."
    return f"Valid if left by {at}: later, the times of changes leave too much gas behind. Plan again."
