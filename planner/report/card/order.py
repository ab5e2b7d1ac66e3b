"""Cylinders in their order of use, as card, log and chart number them, and how each is told of."""

from __future__ import annotations

from typing import NamedTuple

from planner import figures
from planner.naming import of_gas
from planner.results import CylinderPlan, Order, Plan, SupplyPlan


class OrderPlace(NamedTuple):
    """One row of the order: its number within the supply, the turn (None in reserve), and the cylinder if it is one."""

    number: int
    supply: SupplyPlan
    turn: Order | None
    item: CylinderPlan | None


def order_places(plan: Plan) -> list[OrderPlace]:
    """The rows of the order: each supply's turns, then its cylinders that no turn needs, numbered from 1."""
    rows: list[OrderPlace] = []
    for supply in plan.supplies.values():
        known = {item.cylinder.label: item for item in supply.cylinders}
        turns = (
            *((turn, known.get(turn.cylinder)) for turn in supply.order),
            *((None, item) for item in supply.unused),
        )
        rows += [OrderPlace(number, supply, turn, item) for number, (turn, item) in enumerate(turns, start=1)]
    return rows


def least_departure(plan: Plan, item: CylinderPlan | None) -> str:
    """The least gauge to leave with, as `figures.gauge_to_start`."""
    return figures.gauge_to_start(None if item is None else item.start_at_least_kpa, plan.trip.policy.pressure_unit)


def size_words(item: CylinderPlan) -> str:
    """The size of a cylinder as it is known: its code, else what its label says."""
    return of_gas(item.cylinder.size or item.cylinder.label_contents or "own label", item.cylinder.gas)
