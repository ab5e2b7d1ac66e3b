"""The gauge at which a cylinder is changed, and whether one comes off before that."""

from __future__ import annotations

from planner import figures
from planner.report import vessel
from planner.results import ChangeOver, Checkpoint, CylinderPlan, Plan

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
    item = _cylinder(plan, _supply_of(plan, change), change.from_cylinder)
    return change.gauge_kpa > change_gauge_kpa(plan, item) + LEFT_OVER_KPA


def off_gauge(plan: Plan, change: ChangeOver) -> str:
    """What a cylinder shows as it comes off."""
    return expected_gauge(plan, _supply_of(plan, change), change.from_cylinder, change.gauge_kpa)


def expected_gauge(plan: Plan, supply: str, cylinder: str | None, gauge_kpa: float | None) -> str:
    """What a cylinder, or the cylinders of a manifold, should show: the nearest, since it is compared and not spent.

    At its gauge to change at it is that gauge, up as it is told wherever it stands. A dash where nothing can be read.
    """
    if gauge_kpa is None:
        return figures.NONE
    used_up = abs(gauge_kpa - change_gauge_kpa(plan, _cylinder(plan, supply, cylinder))) <= LEFT_OVER_KPA
    rounded = figures.gauge_up if used_up else figures.gauge_nearest
    return rounded(gauge_kpa, plan.trip.policy.pressure_unit)


def expected_at(plan: Plan, check: Checkpoint) -> str:
    """What should be read at a checkpoint: the gauge of the cylinder in use, or the amount in a vessel of liquid."""
    liquid = plan.trip.supplies[check.supply].liquid
    if liquid is not None:
        return vessel.shows(liquid, check.amount_kg)
    return expected_gauge(plan, check.supply, check.cylinder, check.gauge_kpa)


def least_at(plan: Plan, check: Checkpoint) -> str:
    """Below which reading to act at a checkpoint, in the same way."""
    liquid = plan.trip.supplies[check.supply].liquid
    if liquid is not None:
        return vessel.at_least(liquid, check.least_amount_kg)
    return figures.gauge_up_or_none(check.least_gauge_kpa, plan.trip.policy.pressure_unit)


def _supply_of(plan: Plan, change: ChangeOver) -> str:
    return next((name for name, supply in plan.supplies.items() if change in supply.change_overs), "")


def _cylinder(plan: Plan, supply: str, label: str | None) -> CylinderPlan | None:
    """A cylinder by its label; of a manifold, whose label joins those of its cylinders, any."""
    planned, labels = plan.supplies.get(supply), (label or "").split("+")
    items = () if planned is None else planned.cylinders
    return next((item for item in items if item.cylinder.label in labels), None)
