"""The same cylinders in another order of use, where that would pass."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import permutations

from planner.cylinders.onhand import on_hand
from planner.go.judge import Task, passes
from planner.model import Cylinder

_ALL_ORDERS_TO = 5
"""Up to so many cylinders every order is tried, 120 at most; of more, each is tried in every other place."""


def passing_order(task: Task) -> tuple[str, ...] | None:
    """Labels in an order of use in which a supply that does not pass would; None where there is none, or none matters.

    Order matters only where not every cylinder carries every leg, by its outlets or for the magnet room.
    """
    cylinders = task.supply.cylinders
    kinds = {(task.supply.outlets_of(cylinder), cylinder.magnet_safe) for cylinder in cylinders}
    if task.supply.kind != "cylinders" or len(kinds) < 2:
        return None
    for order in _orders(cylinders):
        supply = task.supply._replace(cylinders=order)
        stock = on_hand(supply, task.policy)
        if stock is not None and passes(task, stock):
            return tuple(cylinder.label for cylinder in order)
    return None


def _orders(cylinders: tuple[Cylinder, ...]) -> Iterator[tuple[Cylinder, ...]]:
    if len(cylinders) <= _ALL_ORDERS_TO:
        yield from permutations(cylinders)
        return
    for index, moved in enumerate(cylinders):
        others = (*cylinders[:index], *cylinders[index + 1 :])
        for place in range(len(cylinders)):
            if place != index:
                yield (*others[:place], moved, *others[place:])
