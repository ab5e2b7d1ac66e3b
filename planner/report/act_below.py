"""The gauge below which the crew must act at a checkpoint.

On the way it is the least gauge with which the rest of the trip is covered. Where a cylinder is first connected
nothing has happened yet, and its least departure gauge, which counts the what-ifs that must hold too, stands for it
where it is higher: a reading that would have been no-go at departure must not pass when the supply is taken up, nor
later while nothing has been drawn.
"""

from __future__ import annotations

from planner.results import Checkpoint, Plan


def act_below_kpa(plan: Plan, check: Checkpoint) -> float | None:
    """Gauge in kPa as indicated; None where none is to be had."""
    departure = least_at_first_use_kpa(plan, check.supply, check.cylinder)
    if check.least_gauge_kpa is None or departure is None or not _first_use(plan, check):
        return check.least_gauge_kpa
    return max(check.least_gauge_kpa, departure)


def least_at_first_use_kpa(plan: Plan, supply: str, label: str | None) -> float | None:
    """Least departure gauge of a cylinder, on a manifold the common one; None where there is none."""
    cylinders = plan.supplies[supply].cylinders
    if plan.supplies[supply].supply.kind == "manifold":
        return cylinders[0].least_departure_gauge_kpa
    return next((one.least_departure_gauge_kpa for one in cylinders if one.cylinder.label == label), None)


def _first_use(plan: Plan, check: Checkpoint) -> bool:
    first = next(one for one in plan.checkpoints if one.supply == check.supply)
    if check.at == "between":
        return (first.cylinder, first.gauge_kpa) == (check.cylinder, check.gauge_kpa)
    return check.at == "start" and (first.minute, first.at) == (check.minute, check.at)
