"""The search for the best sets of cylinders, for all supplies that choose from one store together.

An integer program (`planner.store.choice_program`) finds the sets by what can be added up. The order of use and the
assignment of outlets are then put to the planner itself; a set that fails there is cut off, with every set that holds
no more of any kind where that can be said, and the search goes on, `MOST_CUTS` times at most.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from math import inf
from typing import Final, NamedTuple

from planner.store.choice_program import ChoiceProgram, Cut, More, Other
from planner.store.order_of_use import PERMUTED_UP_TO, order_of_use
from planner.store.shelf import Candidate, Shelf
from planner.store.unbeaten import most_in_a_set, put_off, unbeaten

MOST_CUTS: Final = 20


FEW: Final = 8
"""Most cylinders of a set that is looked for among few of each kind first."""


class Found(NamedTuple):
    """Cylinders of each shelf in the order of use, None where none were found.

    `proven` False: better sets, or for None any at all, could not be ruled out.
    """

    orders: tuple[list[Candidate], ...] | None
    proven: bool = True


def search(shelves: Sequence[Shelf], *, lightest_first: bool = False) -> Found:
    """The best sets for all shelves together: fewest old readings, fewest cylinders, then least mass.

    `lightest_first` asks for the least mass of any number. What cannot be in a best set is left out before; what can
    be depends on how many the sets are, so it is supposed at first that they are few.
    """
    most = sum(map(most_in_a_set, shelves))
    if most > FEW and not lightest_first:
        found = _search(shelves, FEW, lightest_first=False)
        if found.orders is not None and found.proven and _best_of_all(shelves, found.orders):
            return found
    return _search(shelves, most, lightest_first=lightest_first)


def _best_of_all(shelves: Sequence[Shelf], orders: Sequence[Sequence[Candidate]]) -> bool:
    """True where the best sets among few of each kind are the best of all.

    They are where they are few themselves, unless leaving out others had them hold what is otherwise put off.
    """
    taken = [put_off(shelf, one) for shelf, order in zip(shelves, orders, strict=True) for one in order]
    kept = [{one.place for one in unbeaten(shelf.candidates, FEW)} for shelf in shelves]
    left_out = (
        put_off(shelf, one)
        for shelf, places in zip(shelves, kept, strict=True)
        for one in shelf.candidates
        if one.place not in places
    )
    return len(taken) <= FEW and (max(taken, default=0) == 0 or min(left_out, default=inf) >= max(taken))


def _search(whole: Sequence[Shelf], most: int, *, lightest_first: bool) -> Found:
    """The best sets of at most so many cylinders."""
    shelves = [shelf._replace(candidates=unbeaten(shelf.candidates, most)) for shelf in whole]
    by_age = sorted({one.age for shelf in whole for one in shelf.candidates})
    cuts: list[Cut] = []
    proven = True
    for _ in range(MOST_CUTS):
        model = ChoiceProgram(shelves, cuts, by_age, lightest_first=lightest_first)
        solution = model.solved()
        if solution is None:
            if model.impossible:
                return Found(None, proven)
            break
        sets = model.sets(solution)
        orders = [order_of_use(shelf, chosen) for shelf, chosen in zip(shelves, sets, strict=True)]
        if all(order is not None for order in orders):
            found = tuple(order for order in orders if order is not None)
            return Found(found, proven and not solution.bounds)
        for number, order in enumerate(orders):
            if order is None:
                cut, sure = _cut(number, shelves[number], sets[number])
                cuts.append(cut)
                proven = proven and sure
    return Found(_by_hand(shelves), proven=False)


def _cut(number: int, shelf: Shelf, chosen: Sequence[Candidate]) -> tuple[Cut, bool]:
    """What to cut off after a set that failed, and whether that is sure to lose nothing.

    Where even the fullest of the same kinds fail, so does every set that has no more of any kind.
    """
    counts = Counter(one.tank.kind for one in chosen)
    fullest, fullest_high = [
        [
            one.place
            for kind, count in counts.items()
            for one in sorted((c for c in shelf.candidates if c.tank.kind == kind), key=key)[:count]
        ]
        for key in (lambda c: (-c.usable_l, c.place), lambda c: (-c.usable_high_l, c.place))
    ]
    sure = len(chosen) <= PERMUTED_UP_TO
    if set(fullest) == set(fullest_high):
        best = [one for one in shelf.candidates if one.place in set(fullest)]
        if order_of_use(shelf, best) is None:
            return More(number, counts), sure
    return Other(number, frozenset(one.place for one in chosen)), sure


def _by_hand(shelves: Sequence[Shelf]) -> tuple[list[Candidate], ...] | None:
    """Sets that pass, found the plain way: the fullest first, or those that carry most, until the planner agrees."""
    taken: set[object] = set()
    orders = []
    for shelf in shelves:
        order = _plainly(shelf, taken)
        if order is None:
            return None
        taken |= {one.physical for one in order}
        orders.append(order)
    return tuple(orders)


def _plainly(shelf: Shelf, taken: set[object]) -> list[Candidate] | None:
    free = [one for one in shelf.candidates if one.physical not in taken]
    able = {one.place: sum(one.tank.serves(each) for each in shelf.task.asks) for one in free}
    for key in (
        lambda one: (-one.usable_l, one.mass_kg),
        lambda one: (-able[one.place], -one.usable_l),
        lambda one: (one.mass_kg / one.usable_l, one.mass_kg),
    ):
        chosen: list[Candidate] = []
        mass = 0.0
        for one in sorted(free, key=key):
            if len(chosen) < shelf.places and mass + one.mass_kg <= shelf.limit_kg:
                chosen.append(one)
                mass += one.mass_kg
                order = order_of_use(shelf, chosen)
                if order is not None:
                    return order
    return None
