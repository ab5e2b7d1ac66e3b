"""Every change on the way as acts on a state, in an order that hands can do.

The state is which regulator sits on which valve, which valve is open, and what each device breathes from. No act asks
for what an earlier one has not made ready, and none leaves a patient without gas for longer than itself: with a
regulator on the next cylinder that one is opened first and the old one shut last; with one regulator for all, taking
it off one and opening the next is one act, before which the patients are given another source where there is one.
Devices move only to an outlet that is free: what holds it moves away first, and where two wait for each other's outlet,
one is taken off for as long as the other takes to move.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TypeAlias

from planner.constants import RESUSCITATOR_L_PER_MIN, SAME_MIN
from planner.flow.devices import demand_l_per_min, outlet_kind
from planner.flow.outlets import Asks, OutletNeed, fits
from planner.go.regulators import Rack
from planner.go.tubes import Move, Tube, moves, tubes
from planner.model import Leg, Trip, timed
from planner.results import Act, ChangeOver, HandsOn, Source, SupplyPlan

BRIDGE_L = 30.0
"""Litres that a source must have to spare to stand in while a regulator changes over: two minutes of a resuscitator
(by decision)."""

_Step: TypeAlias = tuple[str, ChangeOver] | Move
"""A change of cylinder on a supply, or of source."""


def changes(trip: Trip, supplies: Mapping[str, SupplyPlan]) -> tuple[HandsOn, ...]:
    """Every change of a plan, in the order in which hands do them."""
    hands = _Hands(trip, supplies)
    due = [(name, change) for name, supply in supplies.items() for change in supply.change_overs]
    found: list[HandsOn] = []
    for index, _, start, _ in timed(trip.legs):
        here = [step for step in due if step[1].leg_index == index]
        first = [step for step in here if abs(step[1].minute - start) < SAME_MIN]
        found += hands.between_legs(index, start, first)
        inside = [step for step in here if step not in first]
        found += [hands.cylinder(*step, at_start=False) for step in sorted(inside, key=lambda step: step[1].minute)]
    return tuple(found)


class _Hands:
    """The state between two acts."""

    def __init__(self, trip: Trip, supplies: Mapping[str, SupplyPlan]) -> None:
        self.trip = trip
        self.racks = {name: Rack(planned) for name, planned in supplies.items()}
        self.tubes = {tube.name: tube for leg in trip.legs for tube in tubes(leg)}
        self.feeds: dict[str, Source] = {}
        self.open: set[Source] = set()
        self.off: set[tuple[str | None, bool]] = set()
        self._settle(trip.legs[0])

    def _settle(self, leg: Leg) -> None:
        """A leg has begun: its devices are at work, and no other."""
        self.feeds = {tube.name: self.racks[tube.supply].source for tube in tubes(leg)}
        self.open |= set(self.feeds.values())

    def between_legs(self, index: int, minute: float, due: Sequence[tuple[str, ChangeOver]]) -> Iterator[HandsOn]:
        """What is done before a leg begins."""
        leg = self.trip.legs[index]
        moved = () if index == 0 else moves(self.trip.legs[index - 1], leg)
        coming = {move.new for move in moved} - self._feeding()
        waiting: list[_Step] = [*moved, *due]
        while waiting:
            step = self._next(waiting, leg)
            waiting.remove(step)
            if isinstance(step, Move):
                yield self._source(step, index, minute, waiting)
            else:
                yield self.cylinder(*step, at_start=True, stays_open=step[0] in coming)
        for source in sorted(self.open - {self.racks[name].source for name in leg.supplies}, key=str):
            yield HandsOn(minute, index, True, source, None, (self._shut(source),))
        self._settle(leg)

    def _next(self, waiting: Sequence[_Step], leg: Leg) -> _Step:
        """Of the steps of one moment that wait for no other, the first with free outlets; who is off comes before."""
        free = [step for step in waiting if not any(_before(other, step) for other in waiting)] or list(waiting)
        free.sort(key=lambda step: not (isinstance(step, Move) and any(tube.of in self.off for tube in step.moved)))
        return next(
            (step for step in free if not isinstance(step, Move) or self._has_room(step, waiting, leg)), free[0]
        )

    def _has_room(self, move: Move, waiting: Sequence[_Step], leg: Leg) -> bool:
        """True where the source that devices move to has an outlet for each, beside those that are held there."""
        stay = (tube for tube in tubes(leg) if tube.supply == move.new and tube not in _moving(waiting))
        needs = [tube.need for tube in (*move.moved, *stay, *self._yet_to_leave(move, waiting, leg))]
        outlets, magnet_safe = self.racks[move.new].outlets()
        return fits(outlets, magnet_safe, Asks(tuple(sorted(need for need in needs if need.flow_l_per_min > 0.0))))

    def _yet_to_leave(self, move: Move, waiting: Sequence[_Step], leg: Leg) -> Iterator[Tube]:
        """What holds an outlet of the source that devices move to until it moves away, or what takes its place does."""
        coming = {tube.name for tube in tubes(leg)}
        moving = _moving([step for step in waiting if step != move])
        names, whose = {tube.name for tube in moving}, {tube.of for tube in moving}
        for name, source in self.feeds.items():
            if source.supply == move.new and (name in names or (name not in coming and self.tubes[name].of in whose)):
                yield self.tubes[name]

    def _released(self, move: Move, to_come: Sequence[_Step], leg: Leg) -> tuple[str, ...]:
        """Takes off what holds an outlet that devices move to and cannot move away itself; returns its names."""
        waiting = (move, *to_come)
        if self._has_room(move, waiting, leg):
            return ()
        off = tuple(self._yet_to_leave(move, waiting, leg))
        self.off |= {tube.of for tube in off}
        for tube in off:
            del self.feeds[tube.name]
        return tuple(tube.name for tube in off)

    def _feeding(self) -> set[str]:
        return {source.supply for source in self.feeds.values()}

    def _feeding_oxygen(self) -> set[str]:
        return {source.supply for name, source in self.feeds.items() if not self.tubes[name].air}

    def _source(self, move: Move, index: int, minute: float, to_come: Sequence[_Step]) -> HandsOn:
        new = self.racks[move.new].source
        bare = self._released(move, to_come, self.trip.legs[index])
        acts = self._opened(new)
        acts += [Act("release", new, bare)] if bare else []
        acts.append(self._move(new, [tube.name for tube in move.moved]))
        old = None if move.old is None else self.racks[move.old].source
        self.off -= {tube.of for tube in move.moved}
        self._drop_ended(move.moved, index)
        stays = {*self.trip.legs[index].supplies, *self._feeding()}
        stays |= {step.old for step in to_come if isinstance(step, Move) and step.old is not None}
        if old is not None and old in self.open and old.supply not in stays:
            acts.append(self._shut(old))
        return HandsOn(minute, index, True, old, new, tuple(acts), bare=bare)

    def _drop_ended(self, moved: Sequence[Tube], index: int) -> None:
        """Tubes that end are no longer needed once their patient has been moved."""
        whose = {tube.of for tube in moved}
        goes_on = {tube.name for tube in tubes(self.trip.legs[index])}
        for name in [name for name in self.feeds if name not in goes_on and self.tubes[name].of in whose]:
            del self.feeds[name]

    def cylinder(self, name: str, change: ChangeOver, *, at_start: bool, stays_open: bool = True) -> HandsOn:
        """One change of cylinder."""
        rack = self.racks[name]
        old = rack.source
        on = [device for device, source in self.feeds.items() if source.supply == name]
        rack.next()
        new = rack.source
        bare: tuple[str, ...] = ()
        if new.cylinder in rack.fitted:
            acts = [*self._opened(new), *([self._move(new, on)] if on else [])]
            acts += [self._shut(old)] if old in self.open else []
        else:
            breathing = [] if rack.supply.gas == "air" else on
            other = self._other(name, change.leg_index, breathing, at_start=at_start) if breathing else None
            bare = tuple(breathing) if other is None else ()
            acts = [*self._bridged(other, on), *self._swap(rack, old, new, on)]
            acts += [self._shut(other)] if other is not None and other.supply not in self._feeding() else []
        acts += rack.ready()
        if not on and not stays_open:
            acts.append(self._shut(new))
        fed_by = () if on or rack.supply.gas == "air" else tuple(sorted(self._feeding_oxygen()))
        return HandsOn(change.minute, change.leg_index, at_start, old, new, tuple(acts), change, fed_by, bare)

    def _opened(self, source: Source) -> list[Act]:
        if source in self.open:
            return []
        self.open.add(source)
        return [Act("open", source)]

    def _shut(self, source: Source) -> Act:
        self.open.discard(source)
        return Act("shut", source)

    def _move(self, source: Source, names: Iterable[str]) -> Act:
        names = tuple(names)
        self.feeds |= dict.fromkeys(names, source)
        return Act("move", source, names)

    def _bridged(self, other: Source | None, on: Sequence[str]) -> list[Act]:
        return [] if other is None else [*self._opened(other), Act("bridge", other, tuple(on))]

    def _swap(self, rack: Rack, old: Source, new: Source, on: Sequence[str]) -> list[Act]:
        rack.fitted = {*rack.fitted, new.cylinder or ""} - {old.cylinder or ""}
        self.open = {*self.open, new} - {old}
        return [Act("swap", new, off=old.cylinder), *([self._move(new, on)] if on else [])]

    def _other(self, name: str, index: int, on: Sequence[str], *, at_start: bool) -> Source | None:
        """What else the patients can be given oxygen from: at hand, with gas, and with a flowmeter free for each."""
        legs = self.trip.legs[max(0, index - 1) if at_start else index : index + 1]
        near = {supply for leg in legs for supply in leg.supplies}
        patients = {self.tubes[name].device.patient for name in on}
        bags = [OutletNeed("flowmeter", RESUSCITATOR_L_PER_MIN, "resuscitator") for _ in patients]
        for other, rack in sorted(self.racks.items(), key=lambda item: item[0] not in near):
            if (
                other == name
                or rack.supply.gas == "air"
                or not (other in near or rack.supply.portable)
                or not _has_gas(rack.planned)
            ):
                continue
            at_work = [self.tubes[name].device for name, source in self.feeds.items() if source.supply == other]
            needs = [OutletNeed(outlet_kind(device), demand_l_per_min(device), device.name) for device in at_work]
            outlets, magnet_safe = rack.outlets()
            if fits(outlets, magnet_safe, Asks(tuple(sorted([*needs, *bags])), any(leg.magnet for leg in legs))):
                return rack.source
        return None


def _has_gas(planned: SupplyPlan) -> bool:
    left_l = (planned.usable_l or 0.0) - planned.need.planned_l
    return planned.supply.kind == "pipeline" or left_l >= BRIDGE_L


def _moving(steps: Iterable[_Step]) -> list[Tube]:
    """The tubes that some steps move."""
    return [tube for step in steps if isinstance(step, Move) for tube in step.moved]


def _before(first: _Step, then: _Step) -> bool:
    """True where a step has to wait: a cylinder is changed after devices have left its supply, before others come."""
    if isinstance(first, Move) and not isinstance(then, Move):
        return first.old == then[0]
    if isinstance(then, Move) and not isinstance(first, Move):
        return then.new == first[0]
    return False
