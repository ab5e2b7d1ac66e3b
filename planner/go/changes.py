"""Every change on the way as acts on a state, in an order that hands can do.

The state is which regulator sits on which valve, which valve is open, and what each device breathes from. No act asks
for what an earlier one has not made ready, and none leaves a patient without gas for longer than itself: with a
regulator on the next cylinder that one is opened first and the old one shut last; with one regulator for all, taking
it off one and opening the next is one act, before which the patients are given another source where there is one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple, TypeAlias

from planner.constants import RESUSCITATOR_L_PER_MIN, SAME_MIN
from planner.flow.devices import demand_l_per_min, outlet_kind
from planner.flow.outlets import Asks, OutletNeed, fits
from planner.model import Device, Leg, Supply, Trip
from planner.results import Act, ChangeOver, HandsOn, Source, SupplyPlan
from planner.trade.valves import valve_of

BRIDGE_L = 30.0
"""Litres that a source must have to spare to stand in while a regulator changes over: two minutes of a resuscitator
(by decision)."""


class Tube(NamedTuple):
    """What joins a device to a supply: its oxygen, under the name of the device, or its air, `vent air`."""

    name: str
    supply: str
    device: Device
    air: bool = False

    @property
    def of(self) -> tuple[str | None, bool]:
        """Whose it is, and of which gas."""
        return (self.device.patient, self.air)


class Move(NamedTuple):
    """Tubes that go from one supply to another between two legs; `old` is None where a supply comes in new."""

    old: str | None
    new: str
    moved: tuple[Tube, ...]


_Step: TypeAlias = tuple[str, ChangeOver] | Move
"""A change of cylinder on a supply, or of source."""


def changes(trip: Trip, supplies: Mapping[str, SupplyPlan]) -> tuple[HandsOn, ...]:
    """Every change of a plan, in the order in which hands do them."""
    hands = _Hands(trip, supplies)
    due = [(name, change) for name, supply in supplies.items() for change in supply.change_overs]
    found: list[HandsOn] = []
    start = 0.0
    for index, leg in enumerate(trip.legs):
        here = [step for step in due if step[1].leg_index == index]
        first = [step for step in here if abs(step[1].minute - start) < SAME_MIN]
        found += hands.between_legs(index, start, first)
        inside = [step for step in here if step not in first]
        found += [hands.cylinder(*step, at_start=False) for step in sorted(inside, key=lambda step: step[1].minute)]
        start += leg.total_min
    return tuple(found)


def tubes(leg: Leg) -> tuple[Tube, ...]:
    """Every tube at work in a leg."""
    found: list[Tube] = []
    for use in leg.uses:
        if use.device.measured:  # a flow above plan, no device
            continue
        found.append(Tube(use.device.name, use.supply, use.device))
        if use.device.air_supply is not None:
            found.append(Tube(f"{use.device.name} air", use.device.air_supply, use.device, air=True))
    return tuple(found)


def moves(before: Leg, after: Leg) -> tuple[Move, ...]:
    """What changes its source between two legs: devices, patients who go on by another, supplies that come in new."""
    last = {tube.name: tube.supply for tube in tubes(before)}
    goes_on = last.keys() & {tube.name for tube in tubes(after)}
    staying = {tube.of for tube in tubes(before) if tube.name in goes_on}
    ended = {tube.of: tube.supply for tube in tubes(before) if tube.of not in staying}
    groups: dict[tuple[str | None, str], list[Tube]] = {}
    for tube in tubes(after):
        old = last.get(tube.name, ended.get(tube.of))
        if old != tube.supply and (old is not None or tube.supply not in before.supplies):
            groups.setdefault((old, tube.supply), []).append(tube)
    coming = {new for old, new in groups if old is not None}
    found = [(old, new, moved) for (old, new), moved in groups.items() if old is not None or new not in coming]
    return tuple(Move(old, new, tuple(moved)) for old, new, moved in found)


def shares_regulators(supply: Supply) -> bool:
    """True where a supply has fewer regulators than cylinders that need one."""
    return supply.regulators is not None and supply.regulators < len(needing_regulators(supply))


def needing_regulators(supply: Supply) -> tuple[str, ...]:
    """Labels of the cylinders used one after another whose valves have no regulator built in."""
    if supply.kind != "cylinders":
        return ()
    return tuple(one.label for one in supply.cylinders if valve_of(one) != "integral")


def regulators_on(planned: SupplyPlan) -> tuple[str, ...]:
    """Labels of the cylinders on which a regulator sits at departure, in the order of the supply."""
    fitted = _Rack(planned).fitted
    return tuple(label for label in needing_regulators(planned.supply) if label in fitted)


class _Rack:
    """The cylinders of one supply: which is in use, which have a regulator on."""

    def __init__(self, planned: SupplyPlan) -> None:
        self.supply = planned.supply
        self.planned = planned
        changed = planned.change_overs
        turns = [turn.cylinder for turn in planned.order if turn.to_min > turn.from_min]
        used = [changed[0].from_cylinder, *(change.to_cylinder for change in changed)] if changed else turns
        waiting = [one.cylinder.label for one in planned.unused if one.usable_l > 0.0]
        self._to_come = [*used, *waiting] if planned.supply.kind == "cylinders" else []
        self._need = needing_regulators(self.supply)
        self.current: str | None = self._to_come[0] if self._to_come else None
        self.fitted = {one.label for one in self.supply.cylinders} - set(self._need)
        self.fitted |= set(self._wanted() if shares_regulators(self.supply) else self._need)

    @property
    def source(self) -> Source:
        """What is drawn on, or would be."""
        return Source(self.supply.name, self.current)

    def _wanted(self) -> list[str]:
        """The cylinders that a regulator should sit on: the one in use and the next to come."""
        coming = [label for label in dict.fromkeys(self._to_come) if label in self._need]
        return coming[: self.supply.regulators]

    def next(self) -> None:
        """The next cylinder is the one in use."""
        self._to_come.pop(0)
        self.current = self._to_come[0]

    def ready(self) -> Iterator[Act]:
        """A regulator that is free goes on the next cylinder that has none."""
        if not shares_regulators(self.supply):
            return
        wanted = self._wanted()
        free = [label for label in self._need if label in self.fitted and label not in wanted]
        for label in wanted:
            if label not in self.fitted and free:
                off = free.pop(0)
                self.fitted = {*self.fitted, label} - {off}
                yield Act("ready", Source(self.supply.name, label), off=off)

    def outlets(self) -> tuple[tuple[object, ...] | None, bool]:
        """Outlets of what is in use, None where nothing limits them, and whether it may go into a magnet room."""
        item = next((one for one in self.supply.cylinders if one.label == self.current), None)
        if item is None and self.supply.kind == "manifold":
            item = self.supply.cylinders[0]
            return self.supply.outlets or self.supply.outlets_of(item), all(
                one.magnet_safe for one in self.supply.cylinders
            )
        if item is None:
            return self.supply.outlets, self.supply.kind == "pipeline"
        return self.supply.outlets_of(item), item.magnet_safe


class _Hands:
    """The state between two acts."""

    def __init__(self, trip: Trip, supplies: Mapping[str, SupplyPlan]) -> None:
        self.trip = trip
        self.racks = {name: _Rack(planned) for name, planned in supplies.items()}
        self.tubes = {tube.name: tube for leg in trip.legs for tube in tubes(leg)}
        self.feeds: dict[str, Source] = {}
        self.open: set[Source] = set()
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
        steps = _in_order([*moved, *due])
        for place, step in enumerate(steps):
            if isinstance(step, Move):
                yield self._source(step, index, minute, steps[place + 1 :])
            else:
                yield self.cylinder(*step, at_start=True, stays_open=step[0] in coming)
        for source in sorted(self.open - {self.racks[name].source for name in leg.supplies}, key=str):
            yield HandsOn(minute, index, True, source, None, (self._shut(source),))
        self._settle(leg)

    def _feeding(self) -> set[str]:
        return {source.supply for source in self.feeds.values()}

    def _feeding_oxygen(self) -> set[str]:
        return {source.supply for name, source in self.feeds.items() if not self.tubes[name].air}

    def _source(self, move: Move, index: int, minute: float, to_come: Sequence[_Step]) -> HandsOn:
        new = self.racks[move.new].source
        acts = [*self._opened(new), self._move(new, [tube.name for tube in move.moved])]
        old = None if move.old is None else self.racks[move.old].source
        self._drop_ended(move.moved, index)
        stays = {*self.trip.legs[index].supplies, *self._feeding()}
        stays |= {step.old for step in to_come if isinstance(step, Move) and step.old is not None}
        if old is not None and old in self.open and old.supply not in stays:
            acts.append(self._shut(old))
        return HandsOn(minute, index, True, old, new, tuple(acts))

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

    def _swap(self, rack: _Rack, old: Source, new: Source, on: Sequence[str]) -> list[Act]:
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


def _in_order(steps: Sequence[_Step]) -> list[_Step]:
    """Steps of one moment so that hands can do them.

    A cylinder is changed after devices that leave its supply have left, and before those that come to it come.
    """
    waiting = list(steps)
    done: list[_Step] = []
    while waiting:
        free = next((step for step in waiting if not any(_before(other, step) for other in waiting)), waiting[0])
        waiting.remove(free)
        done.append(free)
    return done


def _before(first: _Step, then: _Step) -> bool:
    if isinstance(first, Move) and not isinstance(then, Move):
        return first.old == then[0]
    if isinstance(then, Move) and not isinstance(first, Move):
        return then.new == first[0]
    return False
