"""Cylinders in their order for the cart card: least gauge to leave with, and when to change."""

from __future__ import annotations

from typing import NamedTuple

from planner import figures
from planner.naming import of_gas
from planner.report.card.data import OrderRow
from planner.report.change_gauge import change_gauge_kpa, expected_gauge
from planner.results import CylinderPlan, Order, Plan, SupplyPlan


def order_rows(plan: Plan) -> tuple[OrderRow, ...]:
    """The rows of the order, supply by supply."""
    rows = []
    for _, supply, turn, item in order_places(plan):
        if turn is not None:
            rows.append(_order_row(plan, supply, turn, item))
        elif item is not None:
            rows.append(_reserve_row(plan, supply, item))
    return tuple(rows)


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
        found: list[tuple[Order | None, CylinderPlan | None]] = [
            (turn, known.get(turn.cylinder)) for turn in supply.order
        ]
        found += [(None, item) for item in supply.unused]
        rows += [OrderPlace(number, supply, turn, item) for number, (turn, item) in enumerate(found, start=1)]
    return rows


def _reserve_row(plan: Plan, supply: SupplyPlan, item: CylinderPlan) -> OrderRow:
    unit = plan.trip.policy.pressure_unit
    return OrderRow(
        label=item.cylinder.label,
        supply=supply.supply.name,
        size=size_words(item),
        least=least_departure(plan, item),
        change_gauge=figures.gauge_up(change_gauge_kpa(plan, item), unit),
        elapsed="",
        clock="",
        then=_waits(item),
    )


def _order_row(plan: Plan, supply: SupplyPlan, turn: Order, item: CylinderPlan | None) -> OrderRow:
    unit = plan.trip.policy.pressure_unit
    change = supply.change_that_ends(turn)
    again = any(other.cylinder == turn.cylinder for other in supply.order[: supply.order.index(turn)])
    return OrderRow(
        label=turn.cylinder,
        supply=supply.supply.name,
        size=size_words(item) if item else figures.NONE,
        least="" if again else least_departure(plan, item),
        change_gauge=figures.gauge_up(change_gauge_kpa(plan, item), unit),
        elapsed="" if change is None else figures.minutes_down(change.minute),
        clock="" if change is None else figures.clock_down(plan.trip.departs, change.minute, narrow=True),
        then="" if change is not None else _then(plan, supply, turn, item),
    )


def _then(plan: Plan, supply: SupplyPlan, turn: Order, item: CylinderPlan | None) -> str:
    if turn.to_min <= turn.from_min:
        return figures.NONE if item is None else _waits(item)
    return f"ends at {expected_gauge(plan, supply.supply.name, turn.cylinder, turn.gauge_end_kpa)}"


def _waits(item: CylinderPlan) -> str:
    """What a cylinder that is not in use is there for."""
    if item.usable_l <= 0.0:
        return "NOTHING USABLE"
    return "in reserve" if item.serves else "NOT FIT: see cautions"


def least_departure(plan: Plan, item: CylinderPlan | None) -> str:
    """The least gauge to leave with, as `figures.gauge_to_start`."""
    return figures.gauge_to_start(None if item is None else item.start_at_least_kpa, plan.trip.policy.pressure_unit)


def size_words(item: CylinderPlan) -> str:
    """The size of a cylinder as it is known: its code, else what its label says."""
    return of_gas(item.cylinder.size or item.cylinder.label_contents or "own label", item.cylinder.gas)
