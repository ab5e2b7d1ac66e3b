"""The choice from a store as an integer program: what can be added up of the sets that are wanted.

Litres with the largest withheld, outlets leg by leg, places, weight, and that a cylinder serves once. Its conditions
are necessary ones: what the planner itself refuses is cut off (`planner.store.choice_search`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from math import inf
from typing import Final, NamedTuple

from planner.constants import NOISE
from planner.store.program import Goal, IntegerProgram, Solution
from planner.store.shelf import Age, Candidate, Litres, Shelf, litres_wanted
from planner.store.unbeaten import SLACK_KG, unbeaten

_SLACK: Final = 1e-6
_NUMBER: Final = 2
"""The place of the number of cylinders among what is counted."""


class More(NamedTuple):
    """A cut: of one kind at least, a shelf must give more than so many."""

    shelf: int
    counts: Counter[object]


class Other(NamedTuple):
    """A cut: a shelf must not give exactly these."""

    shelf: int
    chosen: frozenset[int]


Cut = More | Other


class ChoiceProgram:
    """The integer program of some shelves. A column a candidate, 1 where it is taken.

    `by_age` holds the ages of all cylinders of the stores, the oldest first.
    """

    def __init__(
        self, shelves: Sequence[Shelf], cuts: Sequence[Cut], by_age: Sequence[Age], *, lightest_first: bool
    ) -> None:
        self.shelves = shelves
        self.age_rank = {age: float(number) for number, age in enumerate(by_age)}
        self.lightest_first = lightest_first
        self.every_set = not any(isinstance(cut, Other) for cut in cuts)
        self.program = IntegerProgram()
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

    def _cut(self, cut: Cut) -> None:
        shelf, columns = self.shelves[cut.shelf], self.columns[cut.shelf]
        if isinstance(cut, Other):
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
            yield Goal(masses, SLACK_KG)
            return
        for place, costs in enumerate(counted):
            if costs:
                yield Goal(costs, _SLACK)
            if costs and place == _NUMBER and self.every_set:
                self._leave_out_the_beaten(self.program.reached[-1])
        if len(set(masses.values())) > 1:
            yield Goal(masses, SLACK_KG)
        yield Goal(self._drawn(), _SLACK)
        yield Goal({column: self.age_rank[one.age] for _, one, column in every}, 0.0)

    def _leave_out_the_beaten(self, number: float) -> None:
        """Leaves out what no best set of so many needs to hold."""
        for shelf, columns in zip(self.shelves, self.columns, strict=True):
            kept = {one.place for one in unbeaten(shelf.candidates, number - 0.5)}
            for one, column in zip(shelf.candidates, columns, strict=True):
                if one.place not in kept:
                    self.program.leave_out(column)

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
