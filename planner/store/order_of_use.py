"""The order in which the cylinders of a chosen set are used, as the planner itself lets it pass."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import permutations
from typing import Final

from planner.cylinders.depletion import course_of
from planner.cylinders.onhand import on_hand
from planner.go.judge import Task, passes
from planner.model import Cylinder
from planner.store.shelf import Candidate, Shelf

PERMUTED_UP_TO: Final = 5
"""Of so many cylinders every order is tried."""


def order_of_use(shelf: Shelf, chosen: Sequence[Candidate]) -> list[Candidate] | None:
    """The order of use with the fewest change-overs, then the oldest readings first, that the planner lets pass.

    Of up to five cylinders every order is tried, of more some; where all carry the same legs any order passes or none.
    """
    if not shelf.needs_any:
        return []
    alike = len({one.tank.kind for one in chosen}) <= 1
    for number, order in enumerate(_orders(shelf, chosen)):
        if number and alike:
            break
        supply = shelf.task.supply._replace(cylinders=tuple(one.cylinder for one in order))
        stock = on_hand(supply, shelf.task.policy)
        if stock is not None and passes(_with(shelf.task, supply.cylinders), stock):
            return list(order)
    return None


def _with(task: Task, cylinders: tuple[Cylinder, ...]) -> Task:
    return replace(task, supply=task.supply._replace(cylinders=cylinders))


def _orders(shelf: Shelf, chosen: Sequence[Candidate]) -> Iterator[Sequence[Candidate]]:
    if len(chosen) <= PERMUTED_UP_TO:
        orders = [order for order in permutations(chosen) if _part_used_before_full(shelf, order)]
        yield from sorted(orders, key=lambda order: (_changes(shelf, order), [one.age for one in order]))
        return
    yield _oldest_first(shelf, chosen)
    asks = shelf.task.asks
    able = {one.place: sum(one.tank.serves(each) for each in asks) for one in chosen}
    by_sense = _largest_first(shelf, chosen)
    yield by_sense
    for sign in (1, -1):
        yield sorted(by_sense, key=lambda one: (shelf.part_used_first and one.full, sign * able[one.place]))


def _changes(shelf: Shelf, order: Sequence[Candidate]) -> int:
    return len(course_of([one.tank for one in order], shelf.task.flow, shelf.task.no_change).changes)


def _part_used_before_full(shelf: Shelf, order: Sequence[Candidate]) -> bool:
    return not shelf.part_used_first or list(order) == sorted(order, key=lambda one: one.full)


def _largest_first(shelf: Shelf, chosen: Sequence[Candidate]) -> list[Candidate]:
    return sorted(chosen, key=lambda one: (shelf.part_used_first and one.full, -one.usable_l, one.age))


def _oldest_first(shelf: Shelf, chosen: Sequence[Candidate]) -> list[Candidate]:
    """One after another the oldest reading that does not add a change-over."""
    order: list[Candidate] = []
    rest = sorted(chosen, key=lambda one: one.age)
    fewest = _changes(shelf, _largest_first(shelf, rest))
    while rest:
        for one in rest:
            others = [other for other in rest if other is not one]
            trial = [*order, one, *_largest_first(shelf, others)]
            if _part_used_before_full(shelf, trial) and _changes(shelf, trial) <= fewest:
                order.append(one)
                rest = others
                break
    return order
