"""The gauge at which a cylinder is changed, and whether one comes off before that."""

from __future__ import annotations

from planner import figures
from planner.results import ChangeOver, CylinderPlan, Plan

LEFT_OVER_KPA = 7.0
"""A cylinder that comes off with more than this (1 psi) above its gauge to change at still has gas to give."""


def change_gauge_kpa(plan: Plan, item: CylinderPlan | None) -> float:
    """The gauge to change a cylinder at, kPa as indicated; by the policy alone where no cylinder is known.

    A cylinder that comes off earlier, by the clock, is changed at this gauge too if that is reached first.
    """
    if item is not None and item.change_at_kpa is not None:
        return item.change_at_kpa
    return plan.trip.policy.change_over_at_kpa + plan.trip.policy.gauge_allowance_kpa


def comes_off_with_gas_left(plan: Plan, change: ChangeOver) -> bool:
    """True where a change is made while the old cylinder could still give: by the clock, not by its gauge."""
    items = (
        item
        for supply in plan.supplies.values()
        if change in supply.change_overs
        for item in supply.cylinders
        if item.cylinder.label == change.from_cylinder
    )
    return change.gauge_kpa > change_gauge_kpa(plan, next(items, None)) + LEFT_OVER_KPA


def off_gauge(plan: Plan, change: ChangeOver) -> str:
    """What a cylinder shows as it comes off: up where it is changed by its gauge, the nearest where by the clock."""
    rounded = figures.gauge_nearest if comes_off_with_gas_left(plan, change) else figures.gauge_up
    return rounded(change.gauge_kpa, plan.trip.policy.pressure_unit)
