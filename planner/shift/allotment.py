"""Which cylinder goes to which supply of which trip, trips in turn, with what the trip before has left in it.

A cylinder may stand for one that a plan takes if it is of the same size, holds at least as much when the trip leaves,
and has the outlets for all that the planned one could serve; go is then kept, for more gas never turns go into no-go.
After the trip it holds at least what the plan leaves in the planned one, whatever it held before. So each cylinder
follows a chain of trips, and a chain may go on from one trip to the next where the first is back before the second
leaves and what it leaves is enough, or where the cylinder is refilled in between.

A label that a profile names and the store holds is that cylinder. Where one was chosen from a store for two trips, the
first in turn keeps it. All others are free, and are found by `planner.shift.chains`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from planner.cylinders.stock import held
from planner.model import Cylinder, Policy, Supply
from planner.shift.chains import Bottle, Chain, Chains, Slot, with_free
from planner.shift.shift import Shift
from planner.shift.store import COUNTED, strictest
from planner.shift.trip import SAME, Wanted, as_read_l, is_full, size_of
from planner.store.choice import full_gauge_kpa

_SHELF: Final = Supply("store", "cylinders")


@dataclass(frozen=True, slots=True)
class CylinderGiven:
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

    given: tuple[CylinderGiven, ...]
    tomorrow: tuple[Tomorrow, ...]
    proven: bool = True
    from_store: bool = True

    def lacks(self, size: str | None = None) -> int:
        """Cylinders of a size, or of all, that have to be brought."""
        return sum(
            each.label is None and each.after is None and size in (None, each.wanted.size) for each in self.given
        )

    @property
    def refills(self) -> tuple[CylinderGiven, ...]:
        """Cylinders to be refilled before a trip, by when it leaves."""
        return tuple(each for each in self.given if each.refill)


def allotment(shift: Shift, store: Sequence[Cylinder] | None, *, refilled: bool = False) -> Allotment:
    """Who takes what. Without a store only labels are known; `refilled`: what comes back is full again."""
    policy = strictest(shift)
    slots = [Slot(out, each) for out in shift.trips for each in out.need.cylinders if not each.fixed]
    if store is None:
        named = [slot for slot in slots if slot.wanted.label is not None]
        bottles = _known_by_label(named)
        chains, free, clashing = _by_label(named, bottles, keep=True)
        found = Chains(chains, True)
        unnamed = [slot for slot in slots if slot.wanted.label is None]
    else:
        in_order = sorted(store, key=lambda each: each.label)
        bottles = {each.label: _bottle(each, policy) for each in in_order if each.gas in COUNTED}
        chains, free, clashing = _by_label(slots, bottles, keep=False)
        found = with_free(chains, free, refilled)
        unnamed = []
    brought = 0
    given: list[CylinderGiven] = []
    for chain in found.chains:
        brought += chain.bottle.label is None
        given += _given(chain, refilled, 0 if chain.bottle.label is not None else brought)
    given += [
        CylinderGiven(slot.out.number, slot.wanted, slot.wanted.label, before, 0.0, clash=True)
        for slot, before in clashing
    ]
    place = {(slot.out.number, slot.wanted): number for number, slot in enumerate(slots)}
    given.sort(key=lambda each: (place[each.trip, each.wanted], each.label or "", each.brought))
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
) -> tuple[list[Chain], list[Slot], list[tuple[Slot, int]]]:
    """Chains of the cylinders that are named, what is free, and what clashes, with the trip that it clashes with.

    `keep` False: of two trips that chose one cylinder from the store the first keeps it, and the other is free.
    """
    chains = {label: Chain(bottle) for label, bottle in bottles.items()}
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


def _given(chain: Chain, refilled: bool, brought: int) -> Iterator[CylinderGiven]:
    """What a cylinder does, one trip after another."""
    holds_l, after = chain.bottle.holds_l, None
    for slot in chain.slots:
        if after is not None and refilled:
            holds_l = max(holds_l, chain.bottle.full_l)
        refill = holds_l * SAME < slot.wanted.contents_l
        if refill:
            holds_l = max(chain.bottle.full_l, slot.wanted.contents_l)
        yield CylinderGiven(slot.out.number, slot.wanted, chain.bottle.label, after, holds_l, refill, brought=brought)
        holds_l, after = slot.wanted.least_left_l, slot.out.number


def _tomorrow(chains: Sequence[Chain], unnamed: Sequence[Slot]) -> tuple[Tomorrow, ...]:
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
