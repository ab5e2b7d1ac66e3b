"""The search for the best sets of cylinders, for all supplies that choose from one store together.

An integer program (`planner.store.program`) finds the sets by what can be added up: litres with the largest withheld,
outlets leg by leg, places, weight, and that a cylinder serves once. Its conditions are necessary ones. The order of use
and the assignment of outlets are then put to the planner itself; a set that fails there is cut off, with every set that
holds no more of any kind where that can be said, and the search goes on, `MOST_CUTS` times at most.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from itertools import permutations
from math import inf
from typing import Final, NamedTuple

from planner.constants import NOISE
from planner.cylinders.depletion import Tank, course_of
from planner.cylinders.onhand import on_hand
from planner.flow.flows import litres
from planner.go.judge import Task, passes
from planner.go.sizing import carriers, enough, group_needs, spares, without_largest
from planner.model import Cylinder
from planner.store.program import Goal, Program, Solution

MOST_CUTS: Final = 20
_PERMUTED_UP_TO: Final = 5
_SLACK_KG: Final = 1e-6
_SLACK: Final = 1e-6
_MOST_SETS: Final = 6


class Candidate(NamedTuple):
    """A cylinder of the store that may be chosen.

    `usable_high_l` counts where its gauge is taken to read high; `stale` where its reading counts no longer; `physical`
    is the same for one cylinder on the shelves of two supplies.
    """

    place: int
    physical: object
    cylinder: Cylinder
    tank: Tank
    usable_l: float
    usable_high_l: float
    mass_kg: float
    full: bool
    stale: bool = False

    @property
    def age(self) -> tuple[bool, float, int]:
        """Sorts the oldest reading first, readings without a time last, equal ones by their place in the store."""
        checked = self.cylinder.checked
        return (checked is None, 0.0 if checked is None else _seconds(checked), self.place)


def _seconds(moment: datetime) -> float:
    return (moment if moment.tzinfo is not None else moment.replace(tzinfo=UTC)).timestamp()


class Litres(NamedTuple):
    """Litres wanted of the candidates numbered `of`, the `leave_out` largest of them withheld."""

    need_l: float
    leave_out: int
    reads_high: bool
    of: frozenset[int]


class Shelf(NamedTuple):
    """One supply and the cylinders that it may choose from, within places and weight."""

    task: Task
    candidates: Sequence[Candidate]
    places: int
    limit_kg: float

    @property
    def part_used_first(self) -> bool:
        """True where part-used cylinders are to be used up first."""
        return self.task.supply.prefer == "part_used"

    @property
    def needs_any(self) -> bool:
        """True where anything at all is asked of the supply."""
        return any(wanted.need_l > 0.0 for wanted in self.task.litre_needs)


class Found(NamedTuple):
    """Cylinders of each shelf in the order of use, None where none were found.

    `proven` False: better sets, or for None any at all, could not be ruled out. `fewest` is then what was proven of
    their number.
    """

    orders: tuple[list[Candidate], ...] | None
    proven: bool = True
    fewest: int | None = None


class _More(NamedTuple):
    """A cut: of one kind at least, a shelf must give more than so many."""

    shelf: int
    counts: Counter[object]


class _Other(NamedTuple):
    """A cut: a shelf must not give exactly these."""

    shelf: int
    chosen: frozenset[int]


_Cut = _More | _Other


def search(shelves: Sequence[Shelf], *, lightest_first: bool = False) -> Found:
    """The best sets for all shelves together: fewest old readings, fewest cylinders, then least mass.

    `lightest_first` asks for the least mass of any number.
    """
    cuts: list[_Cut] = []
    proven, fewest = True, None
    for _ in range(MOST_CUTS):
        model = _Model(shelves, cuts, lightest_first=lightest_first)
        solution = model.solved()
        if solution is None:
            if model.impossible:
                return Found(None, proven)
            break
        sets = model.sets(solution)
        fewest = fewest if fewest is not None else sum(map(len, sets))
        orders = [order_of_use(shelf, chosen) for shelf, chosen in zip(shelves, sets, strict=True)]
        if all(order is not None for order in orders):
            found = tuple(order for order in orders if order is not None)
            return Found(found, proven and not solution.bounds, fewest)
        for number, order in enumerate(orders):
            if order is None:
                cut, sure = _cut(number, shelves[number], sets[number])
                cuts.append(cut)
                proven = proven and sure
    return Found(_by_hand(shelves), proven=False, fewest=fewest)


def litres_wanted(shelf: Shelf) -> list[Litres]:
    """Every sum of litres that any set from a shelf must give: all together, and leg by leg where outlets differ."""
    task, tanks = shelf.task, [candidate.tank for candidate in shelf.candidates]
    everything = frozenset(range(len(tanks)))
    most: dict[tuple[int, bool, frozenset[int]], float] = {}

    def want(need_l: float, leave_out: int, reads_high: bool, of: frozenset[int]) -> None:
        key = (leave_out, reads_high, of)
        most[key] = max(most.get(key, 0.0), need_l)

    for each in task.litre_needs:
        want(each.need_l, each.leave_out, each.reads_high, everything)
    if tanks and task.flow:
        for need in group_needs(tanks, task.flow, task.policy, spares(task.supply, task.policy)):
            want(need.need_l, need.leave_out, False, need.tanks)
    for duty in task.duties:
        able = frozenset(i for i, tank in enumerate(tanks) if tank.serves(duty.busiest.asks))
        want(duty.need_l, 0, False, able)
    for scenario in task.must_hold if tanks else ():
        # It may begin at once: then all that follows is drawn.
        if scenario.lasts_min == inf and (scenario.begins is None or any(since <= 0.0 for since, _ in scenario.begins)):
            carried_by = carriers(tanks, scenario.after)
            for able in dict.fromkeys(carried_by):
                part = tuple(one for one, by in zip(scenario.after, carried_by, strict=True) if by == able)
                want(litres(part), int(scenario.lose_one), scenario.reads_high, able)
    return [Litres(need_l, *key) for key, need_l in most.items() if need_l > 0.0]


def lacking_l(shelf: Shelf, wanted: Litres) -> float:
    """Litres that even the whole shelf lacks of what is wanted; at most 0 where it has them."""
    held = [
        each.usable_high_l if wanted.reads_high else each.usable_l
        for number, each in enumerate(shelf.candidates)
        if number in wanted.of
    ]
    have_l = without_largest(held, wanted.leave_out)
    return 0.0 if enough(have_l, wanted.need_l) else wanted.need_l - have_l


class _Model:
    """The integer program of some shelves. A column a candidate, 1 where it is taken."""

    def __init__(self, shelves: Sequence[Shelf], cuts: Sequence[_Cut], *, lightest_first: bool) -> None:
        self.shelves = shelves
        self.lightest_first = lightest_first
        self.program = Program()
        self.columns = [[self.program.choice() for _ in shelf.candidates] for shelf in shelves]
        self.impossible = False
        for shelf, columns in zip(shelves, self.columns, strict=True):
            self._limits(shelf, columns)
            for wanted in litres_wanted(shelf):
                self._litres(shelf, columns, wanted)
        self._once()
        for cut in cuts:
            self._cut(cut)

    def solved(self) -> Solution | None:
        """The sets that are best by every goal in turn."""
        solution = self.program.solved(self._goals())
        self.impossible = solution is None and self.program.impossible
        return solution

    def sets(self, solution: Solution) -> list[list[Candidate]]:
        """What each shelf gives, in the order of the store."""
        return [
            [one for one, column in zip(shelf.candidates, columns, strict=True) if solution.taken(column)]
            for shelf, columns in zip(self.shelves, self.columns, strict=True)
        ]

    def _all(self) -> Iterator[tuple[Shelf, Candidate, int]]:
        for shelf, columns in zip(self.shelves, self.columns, strict=True):
            for one, column in zip(shelf.candidates, columns, strict=True):
                yield shelf, one, column

    def _limits(self, shelf: Shelf, columns: Sequence[int]) -> None:
        self.program.row(dict.fromkeys(columns, 1.0), high=float(shelf.places) if shelf.needs_any else 0.0)
        if shelf.limit_kg < inf:
            masses = {column: one.mass_kg for one, column in zip(shelf.candidates, columns, strict=True)}
            self.program.row(masses, high=shelf.limit_kg + NOISE)

    def _litres(self, shelf: Shelf, columns: Sequence[int], wanted: Litres) -> None:
        """The litres without the largest, which are picked by columns of their own.

        With the candidates from the largest down, w the ones withheld and x the ones taken: sum w = k, w <= x, and
        one that is taken and not withheld has all k withheld before it: k (x_j - w_j) <= w_1 + ... + w_(j-1).
        """
        held = [each.usable_high_l if wanted.reads_high else each.usable_l for each in shelf.candidates]
        order = sorted(wanted.of, key=lambda number: -held[number])
        terms = {columns[number]: held[number] for number in order}
        low = wanted.need_l - NOISE * max(1.0, wanted.need_l)
        k = wanted.leave_out
        if k:
            before: int | None = None
            withheld = []
            for number in order:
                x, so_far = columns[number], self.program.share(float(k))
                w = self.program.share(1.0) if k == 1 else self.program.choice()
                self.program.row({w: 1.0, x: -1.0}, high=0.0)
                self.program.row({so_far: -1.0, w: 1.0, **({} if before is None else {before: 1.0})}, low=0.0, high=0.0)
                self.program.row({x: float(k), w: -float(k), **({} if before is None else {before: -1.0})}, high=0.0)
                terms[w] = -held[number]
                withheld.append(w)
                before = so_far
            self.program.row(dict.fromkeys(withheld, 1.0), low=float(k), high=float(k))
        self.program.row(terms, low=low)

    def _once(self) -> None:
        """A cylinder serves one supply."""
        columns: dict[object, list[int]] = {}
        for _, one, column in self._all():
            columns.setdefault(one.physical, []).append(column)
        for same in columns.values():
            if len(same) > 1:
                self.program.row(dict.fromkeys(same, 1.0), high=1.0)

    def _cut(self, cut: _Cut) -> None:
        shelf, columns = self.shelves[cut.shelf], self.columns[cut.shelf]
        if isinstance(cut, _Other):
            factors = [-1.0 if one.place in cut.chosen else 1.0 for one in shelf.candidates]
            self.program.row(dict(zip(columns, factors, strict=True)), low=1.0 - len(cut.chosen))
            return
        more = []
        for kind in {one.tank.kind for one in shelf.candidates}:
            flag = self.program.choice()
            more.append(flag)
            of_kind = [c for one, c in zip(shelf.candidates, columns, strict=True) if one.tank.kind == kind]
            self.program.row({**dict.fromkeys(of_kind, 1.0), flag: -float(cut.counts[kind] + 1)}, low=0.0)
        self.program.row(dict.fromkeys(more, 1.0), low=1.0)

    def _goals(self) -> Iterator[Goal]:
        """Old readings, full ones where part-used are preferred, number, unknown masses, mass, changes, age."""
        every = list(self._all())
        counted: list[dict[int, float]] = [
            {column: 1.0 for _, one, column in every if one.stale},
            {column: 1.0 for shelf, one, column in every if one.full and shelf.part_used_first},
            {column: 1.0 for _, _, column in every},
            {column: 1.0 for _, one, column in every if one.mass_kg == inf},
        ]
        masses = {column: one.mass_kg for _, one, column in every if one.mass_kg < inf}
        if self.lightest_first:
            yield Goal(masses, _SLACK_KG)
            return
        yield from (Goal(costs, _SLACK) for costs in counted if costs)
        if len(set(masses.values())) > 1:
            yield Goal(masses, _SLACK_KG)
        yield Goal(self._drawn(), _SLACK)
        by_age = sorted({one.age for _, one, _ in every})
        rank = {age: float(number) for number, age in enumerate(by_age)}
        yield Goal({column: rank[one.age] for _, one, column in every}, 0.0)

    def _drawn(self) -> dict[int, float]:
        """Columns of cylinders that planned litres would be drawn from: the fewer, the fewer changes."""
        drawn: dict[int, float] = {}
        for shelf, columns in zip(self.shelves, self.columns, strict=True):
            planned_l = shelf.task.need.planned_l
            terms: dict[int, float] = {}
            for one, column in zip(shelf.candidates, columns, strict=True):
                used = self.program.choice()
                self.program.row({used: 1.0, column: -1.0}, high=0.0)
                terms[used] = one.usable_l
            drawn |= dict.fromkeys(terms, 1.0)
            self.program.row(terms, low=planned_l - NOISE * max(1.0, planned_l))
            if shelf.part_used_first:
                self._part_used_drawn_first(shelf, columns, list(terms))
        return drawn

    def _part_used_drawn_first(self, shelf: Shelf, columns: Sequence[int], drawn: Sequence[int]) -> None:
        """A full one is drawn from only where every part-used one that is taken is."""
        begun = self.program.choice()
        waiting: dict[int, float] = {begun: float(len(columns))}
        for one, column, used in zip(shelf.candidates, columns, drawn, strict=True):
            if one.full:
                self.program.row({used: 1.0, begun: -1.0}, high=0.0)
            else:
                waiting |= {column: 1.0, used: -1.0}
        self.program.row(waiting, high=float(len(columns)))


def _cut(number: int, shelf: Shelf, chosen: Sequence[Candidate]) -> tuple[_Cut, bool]:
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
    sure = len(chosen) <= _PERMUTED_UP_TO
    if set(fullest) == set(fullest_high):
        best = [one for one in shelf.candidates if one.place in set(fullest)]
        if order_of_use(shelf, best) is None:
            return _More(number, counts), sure
    return _Other(number, frozenset(one.place for one in chosen)), sure


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
    if len(chosen) <= _PERMUTED_UP_TO:
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
