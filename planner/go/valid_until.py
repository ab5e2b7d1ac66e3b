"""Until when a printed plan may be used: readings grow old, and clock times bear a late departure only so long.

A crew that leaves late and changes cylinders by the clock takes each one off that many minutes early. What is then left
in it counts as lost here, so the latest departure is the one at which, for every supply,

    minutes late x sum of the flows at its changes = usable litres without spare - required litres

that is, the gas left behind does not reach into what is required (by decision). Minutes since departure, which the
crew reads off its own watch, are not touched by this.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from math import fsum
from typing import NamedTuple

from planner.model import Trip
from planner.results import Plan, SupplyPlan


class ValidUntil(NamedTuple):
    """The moment, and what ends it: the supply and label of the oldest reading, or a late departure (both empty)."""

    moment: datetime
    supply: str = ""
    cylinder: str = ""


def valid_until(plan: Plan) -> ValidUntil | None:
    """The first of: a reading too old, a departure too late for the clock times; None where no time is known."""
    found = [*_readings(plan), *_departure(plan)]
    zoned = any(each.moment.tzinfo for each in found)  # one without a zone is then that of this place
    return min(found, key=lambda each: each.moment.astimezone() if zoned else each.moment, default=None)


def _readings(plan: Plan) -> list[ValidUntil]:
    valid = timedelta(minutes=plan.trip.policy.reading_valid_for_min)
    return [
        ValidUntil(item.cylinder.checked + valid, name, item.cylinder.label)
        for name, supply in plan.supplies.items()
        for item in supply.cylinders
        if item.cylinder.checked is not None and _comparable(plan.trip, item.cylinder.checked)
    ]


def _comparable(trip: Trip, checked: datetime) -> bool:
    return trip.departs is None or (checked.tzinfo is None) == (trip.departs.tzinfo is None)


def _departure(plan: Plan) -> list[ValidUntil]:
    departs = plan.trip.departs
    late = [_late_min(plan, supply) for supply in plan.supplies.values() if supply.change_overs]
    if departs is None or not late:
        return []
    return [ValidUntil(departs + timedelta(minutes=int(min(late))))]


def _late_min(plan: Plan, supply: SupplyPlan) -> float:
    """Minutes late at which the gas left in the cylinders that come off is all that is to spare, never negative."""
    flows = fsum(_flow_at_l_per_min(plan, supply, change.minute) for change in supply.change_overs)
    have = supply.serving_without_spare_l
    if have is None or flows <= 0.0:
        return 0.0
    return max(0.0, (have - supply.need.required_l) / flows)


def _flow_at_l_per_min(plan: Plan, supply: SupplyPlan, minute: float) -> float:
    """The planned flow as a change is made: that of the first reading on this supply from the change on."""
    checks = [check for check in plan.checkpoints if check.supply == supply.supply.name]
    return next((check.flow_l_per_min for check in checks if check.minute >= minute), supply.need.peak_flow_l_per_min)
