"""The gauge below which the crew must act at a checkpoint.

On the way it is the least gauge with which the rest of the trip is covered. Where a cylinder is first connected
nothing has happened yet, and its least departure gauge, which counts the what-ifs that must hold too, stands for it
where it is higher: a reading that would have been no-go at departure must not pass when the supply is taken up, nor
later while nothing has been drawn.
"""

from __future__ import annotations

from planner.results import Plan


def least_at_first_use_kpa(plan: Plan, supply: str, label: str | None) -> float | None:
    """Least departure gauge of a cylinder, on a manifold the common one; None where there is none."""
    cylinders = plan.supplies[supply].cylinders
    if plan.supplies[supply].supply.kind == "manifold":
        return cylinders[0].start_at_least_kpa
    return next((one.start_at_least_kpa for one in cylinders if one.cylinder.label == label), None)
