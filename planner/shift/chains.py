"""Cylinders that follow one trip after another: free places put into such chains by an integer program.

As few cylinders as possible lack, then as few as possible have to be refilled, of these as few as possible between two
trips, and then as few as possible are drawn: chains of each kind of cylinder, each trip's cylinder in one chain. Of
answers that are equal in all that, the first labels go to the first trips, whatever the order of the store's file.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final, NamedTuple

from planner.flow.outlets import fits
from planner.model import Outlet
from planner.shift.shift import Out
from planner.shift.trip import SAME, Wanted
from planner.store.program import Goal, IntegerProgram

_SMALL: Final = 1e-6
_IN_BETWEEN: Final = 100.0
"""A refill between two trips counts as so many cylinders more to draw: on the shelf there is all the time before."""

_MOST_STEPS: Final = 5000
"""With more steps to choose from, some ten trips and a hundred cylinders of one size, equal answers stay as found."""


@dataclass(frozen=True, slots=True)
class Bottle:
    """A cylinder as it stands before the shift; `full_l` is what it holds refilled. No label: one to be brought."""

    label: str | None
    size: str
    holds_l: float
    full_l: float
    full: bool
    outlets: tuple[Outlet, ...] | None = None
    magnet_safe: bool = True

    def serves(self, wanted: Wanted) -> bool:
        """True where it may stand for a planned cylinder, once it holds enough."""
        return self.size == wanted.size and all(fits(self.outlets, self.magnet_safe, asks) for asks in wanted.asks)


class Slot(NamedTuple):
    """One cylinder that a trip takes."""

    out: Out
    wanted: Wanted

    def before(self, other: Slot) -> bool:
        """True where it is back before the other leaves; at the very minute it still counts as out."""
        back, leaves = self.out.back_min, other.out.leaves_min
        return back is not None and leaves is not None and back < leaves


@dataclass(slots=True)
class Chain:
    """A cylinder with the slots that it serves one after another."""

    bottle: Bottle
    slots: list[Slot] = field(default_factory=list)


class Chains(NamedTuple):
    """What every cylinder does in a shift. `proven` False: fewer might do."""

    chains: list[Chain]
    proven: bool


def with_free(chains: list[Chain], free: list[Slot], refilled: bool) -> Chains:
    """Chains with the free slots put into them, size by size."""
    done: list[Chain] = []
    proven = True
    sizes = sorted({slot.wanted.size for slot in free})
    for size in sizes:
        mine = [chain for chain in chains if chain.bottle.size == size]
        found = _Search(mine, [slot for slot in free if slot.wanted.size == size], refilled).found()
        done += found.chains
        proven = proven and found.proven
    done += [chain for chain in chains if chain.bottle.size not in sizes]
    return Chains(done, proven)


BottleKind = tuple[object, ...]


class _Search:
    """The integer program of one size.

    Cylinders with the same outlets are one kind, but for one that is named on a trip, which is a kind of its own; what
    has to be brought is a kind without end. A column is one step of a chain: from a cylinder or a slot to a slot.
    """

    def __init__(self, chains: list[Chain], free: list[Slot], refilled: bool) -> None:
        self.refilled = refilled
        self.slots = sorted(
            [*free, *(slot for chain in chains for slot in chain.slots)], key=lambda slot: slot.out.number
        )
        self.kinds: dict[BottleKind, list[Bottle]] = {}
        self.pinned: dict[int, BottleKind] = {}
        for chain in chains:
            bottle = chain.bottle
            kind: BottleKind = (bottle.outlets, bottle.magnet_safe)
            if chain.slots:
                kind = (bottle.label,)
            self.kinds.setdefault(kind, []).append(bottle)
            self.pinned.update({self.slots.index(slot): kind for slot in chain.slots})
        first = free[0].wanted
        most_l = max(slot.wanted.contents_l for slot in self.slots)
        self.more = Bottle(None, first.size, most_l, most_l, full=True)
        self.kinds[(None,)] = [self.more]
        self.program = IntegerProgram()
        self.steps: dict[int, tuple[Bottle | int, int, BottleKind]] = {}
        self.costs: tuple[dict[int, float], dict[int, float], dict[int, float]] = ({}, {}, {})

    def found(self) -> Chains:
        """The chains of the best answer."""
        for kind, bottles in self.kinds.items():
            self._columns(kind, bottles)
        self._rows()
        lacking, refills, drawn = self.costs
        goals = [Goal(lacking, 0.5), Goal(refills, 0.5), Goal(drawn, _SMALL / 2.0)]
        if len(self.steps) <= _MOST_STEPS:
            goals.append(Goal(self._by_label(), 0.5))
        solution = self.program.solved(goals)
        if solution is None:
            raise ValueError("no allotment, where bringing every cylinder is one")
        taken = [self.steps[column] for column in self.steps if solution.taken(column)]
        follow = {before: slot for before, slot, _ in taken if isinstance(before, int)}
        chains = []
        for before, slot, _ in taken:
            if isinstance(before, int):
                continue
            chain = Chain(before)
            place: int | None = slot
            while place is not None:
                chain.slots.append(self.slots[place])
                place = follow.get(place)
            chains.append(chain)
        drawn_labels = {chain.bottle.label for chain in chains}
        idle = [each for bottles in self.kinds.values() for each in bottles if each.label not in drawn_labels]
        return Chains(
            [*chains, *(Chain(each) for each in idle if each.label is not None)], not solution.bounds.keys() & {0, 1, 2}
        )

    def _by_label(self) -> dict[int, float]:
        """Costs that are least where the first labels, and what is back first, go to the first slots."""
        count = len(self.slots)
        labels = sorted(each.label or "" for bottles in self.kinds.values() for each in bottles)
        rank = {label: place for place, label in enumerate(labels, start=count)}
        return {
            column: float((count - slot) * (before if isinstance(before, int) else rank[before.label or ""]))
            for column, (before, slot, _) in self.steps.items()
        }

    def _columns(self, kind: BottleKind, bottles: Sequence[Bottle]) -> None:
        """Every step that a kind may take: a refill costs one, so does a cylinder to be brought, or one drawn."""
        lacking, refills, drawn = self.costs
        able = [place for place in range(len(self.slots)) if self._may(kind, bottles[0], place)]
        for bottle in bottles:
            for place in able:
                enough = bottle.holds_l * SAME >= self.slots[place].wanted.contents_l
                if enough or bottle.full_l * SAME >= self.slots[place].wanted.contents_l:
                    column = self.program.choice()
                    self.steps[column] = (bottle, place, kind)
                    if bottle.label is None:
                        lacking[column] = 1.0
                    if not enough:
                        refills[column] = 1.0
                    over = bottle.holds_l - self.slots[place].wanted.contents_l
                    drawn[column] = 1.0 + _SMALL * max(0.0, over)
        full_l = max(bottle.full_l for bottle in bottles)
        for first in able:
            for second in able:
                one, other = self.slots[first], self.slots[second]
                if one.before(other):
                    enough = one.wanted.least_left_l * SAME >= other.wanted.contents_l
                    if enough or full_l * SAME >= other.wanted.contents_l:
                        column = self.program.choice()
                        self.steps[column] = (first, second, kind)
                        if not enough and not self.refilled:
                            refills[column] = 1.0
                            drawn[column] = _IN_BETWEEN

    def _may(self, kind: BottleKind, bottle: Bottle, place: int) -> bool:
        pinned = self.pinned.get(place)
        if pinned is not None:
            return pinned == kind
        return bottle.serves(self.slots[place].wanted)

    def _rows(self) -> None:
        """Each slot is served once, each cylinder drawn once, and a chain goes on only where it came."""
        into: dict[int, list[int]] = {}
        out_of: dict[object, list[int]] = {}
        came: dict[tuple[int, BottleKind], list[int]] = {}
        for column, (before, slot, kind) in self.steps.items():
            into.setdefault(slot, []).append(column)
            came.setdefault((slot, kind), []).append(column)
            if isinstance(before, int):
                out_of.setdefault((before, kind), []).append(column)
            elif before.label is not None:
                out_of.setdefault(before.label, []).append(column)
        for place in range(len(self.slots)):
            self.program.row(dict.fromkeys(into.get(place, ()), 1.0), low=1.0, high=1.0)
        for source, columns in out_of.items():
            if isinstance(source, tuple):
                terms = dict.fromkeys(columns, 1.0) | dict.fromkeys(came.get(source, ()), -1.0)
                self.program.row(terms, high=0.0)
            else:
                self.program.row(dict.fromkeys(columns, 1.0), high=1.0)
