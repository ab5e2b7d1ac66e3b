"""Clock times beside elapsed minutes, short enough for a column."""

from __future__ import annotations

from planner import figures
from planner.results import Plan


def clock(plan: Plan, minute: float) -> str:
    """`14:38`, or `00:12 +1 d` on a later day; empty without a time of departure. The zone is kept."""
    departs = plan.trip.departs
    if departs is None:
        return ""
    time = figures.clock_down(departs, minute).partition(" on ")[0]
    days = figures.days_later(departs, minute)
    return f"{time} +{days} d" if days else time
