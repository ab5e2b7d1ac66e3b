"""Which cylinder goes to which supply of which trip, trips in turn, with what the trip before has left in it.

A cylinder may stand for one that a plan takes if it is of the same size, holds at least as much when the trip leaves,
and has the outlets for all that the planned one could serve; go is then kept, for more gas never turns go into no-go.
After the trip it holds at least what the plan leaves in the planned one, whatever it held before. So each cylinder
follows a chain of trips, and a chain may go on from one trip to the next where the first is back before the second
leaves and what it leaves is enough, or where the cylinder is refilled in between.

A label that a profile names and the store holds is that cylinder. Where one was chosen from a store for two trips, the
first in turn keeps it. All others are free, and are found so that as few cylinders as possible lack, then as few as
possible have to be refilled, of these as few as possible between two trips, and then as few as possible are drawn. That
is an integer program: chains of each kind of cylinder, each trip's cylinder in one chain.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final, NamedTuple

from planner.cylinders.stock import held
from planner.flow.outlets import fits
from planner.model import Cylinder, Outlet, Policy, Supply
from planner.shift.shift import Out, Shift
from planner.shift.store import COUNTED, strictest
from planner.shift.trip import SAME, Wanted, as_read_l, is_full, size_of
from planner.store.choice import full_gauge_kpa
from planner.store.program import Goal, Program

_SHELF: Final = Supply("store", "cylinders")
_SMALL: Final = 1e-6
_IN_BETWEEN: Final = 100.0
"""A refill between two trips counts as so many cylinders more to draw: on the shelf there is all the time before."""


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


@dataclass(frozen=True, slots=True)
class Given:
    """The cylinder for one that a trip takes.

    `label` None: none is there, one more of the size has to be brought. `after` is the trip that had it before, None
    where it comes from the shelf. `holds_l` is what is in it when the trip leaves. `refill`: it has to be refilled
    before. `clash`: it is out on trip `after` when this one leaves. `brought` numbers those to be brought, from 1.
    """

    trip: int
    wanted: Wanted
    label: str | None
    after: int | None
    holds_l: float
    refill: bool = False
    clash: bool = False
    brought: int = 0

    @property
    def instead(self) -> bool:
        """True where the plan names another cylinder of the store, so that it has to be planned again."""
        return self.wanted.from_store and self.label is not None and self.label != self.wanted.label


@dataclass(frozen=True, slots=True)
class Tomorrow:
    """Cylinders of one size to be filled or exchanged after the shift, by label, and how many more of them there are.

    `unnamed` are ones that have no label yet; `lacking` were lacking in the shift.
    """

    size: str
    labels: tuple[str, ...]
    unnamed: int
    lacking: int


@dataclass(frozen=True, slots=True)
class Allotment:
    """What each trip takes, in turn, and what is to be done. `proven` False: fewer might do."""

    given: tuple[Given, ...]
    tomorrow: tuple[Tomorrow, ...]
    proven: bool = True
    from_store: bool = True

    def lacks(self, size: str | None = None) -> int:
        """Cylinders of a size, or of all, that have to be brought."""
        return sum(
            each.label is None and each.after is None and size in (None, each.wanted.size) for each in self.given
        )

    @property
    def refills(self) -> tuple[Given, ...]:
        """Cylinders to be refilled before a trip, by when it leaves."""
        return tuple(each for each in self.given if each.refill)


@dataclass(slots=True)
class _Chain:
    """A cylinder with the slots that it serves one after another."""

    bottle: Bottle
    slots: list[Slot] = field(default_factory=list)


def allotment(shift: Shift, store: Sequence[Cylinder] | None, *, refilled: bool = False) -> Allotment:
    """Who takes what. Without a store only labels are known; `refilled`: what comes back is full again."""
    policy = strictest(shift)
    slots = [Slot(out, each) for out in shift.trips for each in out.need.cylinders if not each.fixed]
    if store is None:
        named = [slot for slot in slots if slot.wanted.label is not None]
        bottles = _known_by_label(named)
        chains, free, clashing = _by_label(named, bottles, keep=True)
        found = _Found(chains, True)
        unnamed = [slot for slot in slots if slot.wanted.label is None]
    else:
        bottles = {each.label: _bottle(each, policy) for each in store if each.gas in COUNTED}
        chains, free, clashing = _by_label(slots, bottles, keep=False)
        found = _free(chains, free, refilled)
        unnamed = []
    brought = 0
    given: list[Given] = []
    for chain in found.chains:
        brought += chain.bottle.label is None
        given += _given(chain, refilled, 0 if chain.bottle.label is not None else brought)
    given += [
        Given(slot.out.number, slot.wanted, slot.wanted.label, before, 0.0, clash=True) for slot, before in clashing
    ]
    place = {(slot.out.number, id(slot.wanted)): number for number, slot in enumerate(slots)}
    given.sort(key=lambda each: place[each.trip, id(each.wanted)])
    after = _tomorrow(found.chains, unnamed)
    return Allotment(tuple(given), after, found.proven, store is not None)


def _bottle(cylinder: Cylinder, policy: Policy) -> Bottle:
    usable = held(cylinder, _SHELF, policy).usable_l > 0.0
    whole = cylinder._replace(gauge_kpa=min(full_gauge_kpa(cylinder, policy), cylinder.filling_gauge_kpa))
    return Bottle(
        cylinder.label,
        size_of(cylinder),
        as_read_l(cylinder, _SHELF, policy) if usable else 0.0,
        as_read_l(whole._replace(temperature_degc=None), _SHELF, policy),
        is_full(cylinder, _SHELF, policy),
        _SHELF.outlets_of(cylinder),
        cylinder.magnet_safe,
    )


def _known_by_label(slots: Sequence[Slot]) -> dict[str, Bottle]:
    """Cylinders as the first trip that lists them takes them to be; refilled they hold what any plan counts on."""
    found: dict[str, Bottle] = {}
    for slot in slots:
        label = slot.wanted.label or ""
        known = found.get(label)
        if known is None:
            one = slot.wanted
            found[label] = Bottle(label, one.size, one.contents_l, one.contents_l, one.full)
        else:
            found[label] = replace(known, full_l=max(known.full_l, slot.wanted.contents_l))
    return found


def _by_label(
    slots: Sequence[Slot], bottles: Mapping[str, Bottle], *, keep: bool
) -> tuple[list[_Chain], list[Slot], list[tuple[Slot, int]]]:
    """Chains of the cylinders that are named, what is free, and what clashes, with the trip that it clashes with.

    `keep` False: of two trips that chose one cylinder from the store the first keeps it, and the other is free.
    """
    chains = {label: _Chain(bottle) for label, bottle in bottles.items()}
    free: list[Slot] = []
    clashing: list[tuple[Slot, int]] = []
    for slot in slots:
        chain = chains.get(slot.wanted.label or "")
        if chain is None:
            free.append(slot)
            continue
        if not chain.slots:
            chain.slots.append(slot)
            continue
        last = chain.slots[-1]
        in_turn = last.before(slot)
        enough = in_turn and last.wanted.least_left_l * SAME >= slot.wanted.contents_l
        if slot.wanted.from_store and not keep and not enough:
            free.append(slot)
        elif in_turn:
            chain.slots.append(slot)
        else:
            clashing.append((slot, last.out.number))
    return list(chains.values()), free, clashing


class _Found(NamedTuple):
    chains: list[_Chain]
    proven: bool


def _free(chains: list[_Chain], free: list[Slot], refilled: bool) -> _Found:
    """Chains with the free slots put into them, size by size."""
    done: list[_Chain] = []
    proven = True
    sizes = sorted({slot.wanted.size for slot in free})
    for size in sizes:
        mine = [chain for chain in chains if chain.bottle.size == size]
        found = _Search(mine, [slot for slot in free if slot.wanted.size == size], refilled).found()
        done += found.chains
        proven = proven and found.proven
    done += [chain for chain in chains if chain.bottle.size not in sizes]
    return _Found(done, proven)


Kind = tuple[object, ...]


class _Search:
    """The integer program of one size.

    Cylinders with the same outlets are one kind, but for one that is named on a trip, which is a kind of its own; what
    has to be brought is a kind without end. A column is one step of a chain: from a cylinder or a slot to a slot.
    """

    def __init__(self, chains: list[_Chain], free: list[Slot], refilled: bool) -> None:
        self.refilled = refilled
        self.slots = sorted(
            [*free, *(slot for chain in chains for slot in chain.slots)], key=lambda slot: slot.out.number
        )
        self.kinds: dict[Kind, list[Bottle]] = {}
        self.pinned: dict[int, Kind] = {}
        for chain in chains:
            bottle = chain.bottle
            kind: Kind = (bottle.outlets, bottle.magnet_safe)
            if chain.slots:
                kind = (bottle.label,)
            self.kinds.setdefault(kind, []).append(bottle)
            self.pinned.update({self.slots.index(slot): kind for slot in chain.slots})
        first = free[0].wanted
        most_l = max(slot.wanted.contents_l for slot in self.slots)
        self.more = Bottle(None, first.size, most_l, most_l, full=True)
        self.kinds[(None,)] = [self.more]
        self.program = Program()
        self.steps: dict[int, tuple[Bottle | int, int, Kind]] = {}
        self.costs: tuple[dict[int, float], dict[int, float], dict[int, float]] = ({}, {}, {})

    def found(self) -> _Found:
        """The chains of the best answer."""
        for kind, bottles in self.kinds.items():
            self._columns(kind, bottles)
        self._rows()
        lacking, refills, drawn = self.costs
        solution = self.program.solved([Goal(lacking, 0.5), Goal(refills, 0.5), Goal(drawn, 0.5)])
        if solution is None:
            raise ValueError("no allotment, where bringing every cylinder is one")
        taken = [self.steps[column] for column in self.steps if solution.taken(column)]
        follow = {before: slot for before, slot, _ in taken if isinstance(before, int)}
        chains = []
        for before, slot, _ in taken:
            if isinstance(before, int):
                continue
            chain = _Chain(before)
            place: int | None = slot
            while place is not None:
                chain.slots.append(self.slots[place])
                place = follow.get(place)
            chains.append(chain)
        drawn_labels = {chain.bottle.label for chain in chains}
        idle = [each for bottles in self.kinds.values() for each in bottles if each.label not in drawn_labels]
        return _Found([*chains, *(_Chain(each) for each in idle if each.label is not None)], not solution.bounds)

    def _columns(self, kind: Kind, bottles: Sequence[Bottle]) -> None:
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

    def _may(self, kind: Kind, bottle: Bottle, place: int) -> bool:
        pinned = self.pinned.get(place)
        if pinned is not None:
            return pinned == kind
        return bottle.serves(self.slots[place].wanted)

    def _rows(self) -> None:
        """Each slot is served once, each cylinder drawn once, and a chain goes on only where it came."""
        into: dict[int, list[int]] = {}
        out_of: dict[object, list[int]] = {}
        came: dict[tuple[int, Kind], list[int]] = {}
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


def _given(chain: _Chain, refilled: bool, brought: int) -> Iterator[Given]:
    """What a cylinder does, one trip after another."""
    holds_l, after = chain.bottle.holds_l, None
    for slot in chain.slots:
        if after is not None and refilled:
            holds_l = max(holds_l, chain.bottle.full_l)
        refill = holds_l * SAME < slot.wanted.contents_l
        if refill:
            holds_l = max(chain.bottle.full_l, slot.wanted.contents_l)
        yield Given(slot.out.number, slot.wanted, chain.bottle.label, after, holds_l, refill, brought=brought)
        holds_l, after = slot.wanted.least_left_l, slot.out.number


def _tomorrow(chains: Sequence[_Chain], unnamed: Sequence[Slot]) -> tuple[Tomorrow, ...]:
    """What is less than full when the shift is over, by size."""
    labels: dict[str, list[str]] = {}
    others: dict[str, int] = {}
    lacking: dict[str, int] = {}
    for chain in chains:
        size, last = chain.bottle.size, chain.slots[-1].wanted if chain.slots else None
        used = last is not None and last.least_left_l < last.contents_l
        if chain.bottle.label is None:
            lacking[size] = lacking.get(size, 0) + 1
        elif used or (last is None and not chain.bottle.full) or (last is not None and not last.full):
            labels.setdefault(size, []).append(chain.bottle.label)
    for slot in unnamed:
        if slot.wanted.least_left_l < slot.wanted.contents_l:
            others[slot.wanted.size] = others.get(slot.wanted.size, 0) + 1
    return tuple(
        Tomorrow(size, tuple(sorted(labels.get(size, ()))), others.get(size, 0), lacking.get(size, 0))
        for size in sorted({*labels, *others, *lacking})
    )
