"""A second planner of the course of a trip, simple and slow, to hold against the first.

It steps from event to event with the rules written out as a person would say them, and shares nothing with the planner
but the data that describe a trip and the contents of a cylinder at a gauge (which are held to published densities
elsewhere). The rules:

- A leg takes its duration and its delays. A device draws during the whole leg, or during the first minutes of it.
- A cylinder gives what it holds at its reading, less the gauge allowance, above what it holds at change-over in the
  cold. Warmth above 21.1 degC lowers the first, cold below 21.1 degC raises the second.
- A cylinder serves a leg only if each device that draws in it has an outlet to itself.
- Cylinders are used in the order given, each until nothing usable is left or it does not serve.
- Whoever comes to a stretch of legs without changes with a cylinder that would not last to its end takes the first
  of the others that does, and puts that one last.
- Where cylinders differ in what they serve, and a later leg would then go short, another of them is taken before the
  stretch, or none; or one that has served a leg which others do not serve stays in hand. The first way that carries
  every leg is the one to go, the last choice changed first. If none does, the rules stand.
- When something fails, nobody has known it before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from math import inf

from planner.gas import contents
from planner.model import Device, Leg, Outlet, Policy, Supply, Trip, Use

DUST_L = 1e-7
"""Litres that are nothing: rounding noise of sums."""

ASSUMED_BAG = Device("bag that is assumed", "manual_resuscitator", flow_l_per_min=15.0)

Wanted = tuple[tuple[str, float], ...]
"""What the devices of a leg want of one cylinder: kind of outlet and flow, one pair a device."""


@dataclass(frozen=True)
class Piece:
    """A time of constant flow on one supply, within one leg."""

    start_min: float
    end_min: float
    leg: int
    flow_l_per_min: float
    wanted: Wanted
    magnet: bool


@dataclass
class Bottle:
    """A cylinder as the simulator sees it."""

    label: str
    litres: float
    outlets: tuple[Outlet, ...] | None
    magnet_safe: bool = False


@dataclass(frozen=True)
class Spell:
    """One bottle in use for a while, with its usable litres at both ends."""

    label: str
    from_min: float
    to_min: float
    start_l: float
    end_l: float


@dataclass(frozen=True)
class Course:
    """How a trip went on one supply."""

    spells: tuple[Spell, ...]
    out_min: float | None
    out_leg: int | None
    left_l: float
    last_flow_l_per_min: float
    litres: dict[str, float]


def share(fio2: float) -> float:
    """Oxygen that a litre of blend takes beside air of 21 %."""
    return (fio2 - 0.21) / 0.79


def draws(device: Device) -> float:
    """Litres a minute of pure oxygen."""
    d = device
    match d.type:
        case "high_flow_nasal" | "blended_flow":
            assert d.flow_l_per_min is not None
            assert d.fio2 is not None
            return (d.flow_l_per_min + (d.bleed_l_per_min or 0.0)) * share(d.fio2)
        case "cpap":
            if d.oxygen_flow_l_per_min is not None:
                return d.oxygen_flow_l_per_min
            assert d.total_flow_l_per_min is not None
            assert d.fio2 is not None
            return d.total_flow_l_per_min * share(d.fio2)
        case "ventilator":
            volume = d.minute_volume_l_per_min
            if volume is None:
                assert d.tidal_volume_l is not None
                assert d.rate_per_min is not None
                volume = d.tidal_volume_l * d.rate_per_min
            assert d.fio2 is not None
            drive = d.drive_gas_l_per_min or 0.0
            if d.rule == "minute_volume_times_fio2":
                return volume * d.fio2 + drive
            assert d.bias_flow_l_per_min is not None
            assert d.leak_l_per_min is not None
            return (volume + d.bias_flow_l_per_min + d.leak_l_per_min) * share(d.fio2) + drive
        case "pulse_conserver":
            assert d.pulse_volume_l is not None
            assert d.rate_per_min is not None
            return d.pulse_volume_l * d.rate_per_min
        case "concentrator":
            return 0.0
        case _:
            assert d.flow_l_per_min is not None
            return d.flow_l_per_min


def outlet_of(device: Device) -> str:
    """The kind of outlet that a device wants."""
    if device.outlet is not None:
        return device.outlet
    if device.type == "cpap":
        return "flowmeter" if device.oxygen_flow_l_per_min is not None else "high_pressure"
    if device.type in ("oxygen_powered_suction", "high_flow_nasal", "blended_flow", "ventilator"):
        return "high_pressure"
    return "none" if device.type == "concentrator" else "flowmeter"


@lru_cache(maxsize=10_000)
def carries(outlets: tuple[Outlet, ...], wanted: Wanted) -> bool:
    """Tries every way to give each device an outlet of its own."""
    if not wanted:
        return True
    (kind, flow), others = wanted[0], wanted[1:]
    for index, outlet in enumerate(outlets):
        enough = outlet.kind != "flowmeter" or outlet.limit_l_per_min is None or outlet.limit_l_per_min >= flow - 1e-9
        if outlet.kind == kind and enough and carries((*outlets[:index], *outlets[index + 1 :]), others):
            return True
    return False


def serves(bottle: Bottle, piece: Piece) -> bool:
    """True where a bottle can stand in for a whole leg."""
    if piece.magnet and not bottle.magnet_safe:
        return False
    return bottle.outlets is None or carries(bottle.outlets, piece.wanted)


def pieces(legs: Sequence[Leg], supply: str) -> list[Piece]:
    """The flow on a supply, cut wherever a leg or a device begins or ends."""
    found = []
    start = 0.0
    for number, leg in enumerate(legs):
        length = leg.duration_min + sum(delay.time_min for delay in leg.delays)
        mine = [use for use in leg.uses if use.supply == supply]
        lasts = [length if use.for_min is None else use.for_min for use in mine]
        wanted = tuple((outlet_of(use.device), draws(use.device)) for use in mine if draws(use.device) > 0.0)
        cuts = sorted({0.0, length, *lasts}) if mine else []
        for low, high in pairwise(cuts):
            flow = sum(draws(use.device) for use, last in zip(mine, lasts, strict=True) if last >= high)
            found.append(Piece(start + low, start + high, number, flow, wanted, leg.magnet))
        start += length
    return found


def quiet_times(legs: Sequence[Leg]) -> list[tuple[float, float]]:
    """Start and end of each stretch of neighbouring legs without changes."""
    found: list[tuple[float, float]] = []
    start = 0.0
    for leg in legs:
        end = start + leg.duration_min + sum(delay.time_min for delay in leg.delays)
        if leg.no_change:
            if found and found[-1][1] == start:
                found[-1] = (found[-1][0], end)
            else:
                found.append((start, end))
        start = end
    return found


def usable(gauge_kpa: float, capacity_l: float, warm: float, cold: float, policy: Policy) -> float:
    """Litres above change-over."""
    holds = contents.contents_l(max(0.0, gauge_kpa - policy.gauge_allowance_kpa), max(warm, 21.1), capacity_l)
    return max(0.0, holds - contents.contents_l(policy.change_over_at_kpa, min(cold, 21.1), capacity_l))


def bottles(supply: Supply, policy: Policy) -> list[Bottle]:
    """The bottles of a supply of cylinders, one after another."""
    found = []
    for each in supply.cylinders:
        known = [each.temperature_degc if each.temperature_degc is not None else supply.temperature_degc]
        temperatures = [t for t in (*known, supply.coldest_degc) if t is not None]
        warm = known[0] if known[0] is not None else 21.1
        litres = usable(each.gauge_kpa, each.water_capacity_l, warm, min(temperatures, default=21.1), policy)
        outlets = each.outlets if each.outlets is not None else supply.outlets
        found.append(
            Bottle(
                each.label,
                litres if each.gas == "oxygen" else 0.0,
                outlets if outlets is not None else (Outlet("flowmeter", 15.0),),
                each.magnet_safe,
            )
        )
    return found


Step = tuple[Piece, Sequence[Piece]]
"""A piece to draw, and all that is known ahead when it is come to."""


def simulate(
    start: Sequence[Bottle],
    planned: Sequence[Piece],
    quiet: Sequence[tuple[float, float]] = (),
    *,
    altered: Sequence[Piece] = (),
    fails_at: float = inf,
    again: Sequence[Piece] = (),
    back_at: float = inf,
    ends_at: float = inf,
    path: Sequence[int] | None = None,
) -> Course:
    """Go through a trip as planned, or as planned until something fails and as altered from then on.

    At `back_at` what was altered is over, and the trip goes on as `again`, or not at all.
    `ends_at` looks at the trip at a minute: what comes after is foreseen, but not drawn. `path` is that of the
    planned way, where it is known.
    """
    walk = Walk([replace(bottle) for bottle in start], quiet)
    whole: list[Step] = [(piece, planned) for piece in planned]
    as_planned: list[Step] = [(piece, planned) for piece in between(planned, 0.0, fails_at)]
    afterwards: list[Step] = [(piece, altered) for piece in between(altered, fails_at, back_at)]
    afterwards += [(piece, again) for piece in between(again, back_at, inf)]
    if afterwards or fails_at < inf:
        walk = run(walk, as_planned, path if path is not None else way_through(walk, whole) or ())
        walk = best(walk, afterwards)
    else:
        walk = best(walk, whole)
    return walk.course([*planned, *altered][-1], ends_at)


def between(flow: Sequence[Piece], low: float, high: float) -> list[Piece]:
    """The part of a flow between two minutes."""
    cut = [replace(piece, start_min=max(piece.start_min, low), end_min=min(piece.end_min, high)) for piece in flow]
    return [piece for piece in cut if piece.start_min < piece.end_min]


class Walk:
    """Somebody on the way: the bottles in their present order, the one in hand, and what has been drawn so far.

    `path` holds which of several things was done wherever there was a choice.
    """

    def __init__(self, have: list[Bottle], quiet: Sequence[tuple[float, float]]) -> None:
        self.have = have
        self.quiet = list(quiet)
        self.in_hand: Bottle | None = None
        self.spells: list[Spell] = []
        self.drawn: list[tuple[str, float, float, float]] = []  # from whom, from when, until when, and how fast
        self.gone: list[Piece] = []
        self.path: list[int] = []
        self.out: tuple[float, Piece] | None = None
        self.differ = len({(bottle.outlets, bottle.magnet_safe) for bottle in have}) > 1
        self.start_l = {bottle.label: bottle.litres for bottle in have}

    def copy(self) -> Walk:
        """The same, to go on apart."""
        other = Walk([replace(bottle) for bottle in self.have], self.quiet)
        mine = {bottle.label: bottle for bottle in other.have}
        other.in_hand = None if self.in_hand is None else mine[self.in_hand.label]
        other.spells, other.drawn, other.gone = self.spells.copy(), self.drawn.copy(), self.gone.copy()
        other.path, other.out, other.start_l = self.path.copy(), self.out, self.start_l
        return other

    def course(self, piece: Piece, ends_at: float) -> Course:
        """How it went; `piece` is the last one. What is left counts for the last one in which something is drawn."""
        if ends_at < inf:
            left = dict(self.start_l)
            for label, start, end, flow in self.drawn:
                left[label] -= flow * max(0.0, min(end, ends_at) - start)
            spells = [spell for spell in self.spells if spell.from_min < ends_at]
            return Course(tuple(spells), None, None, sum(left.values()), piece.flow_l_per_min, left)
        litres = {bottle.label: bottle.litres for bottle in self.have}
        piece = next((each for each in reversed(self.gone) if each.flow_l_per_min > 0.0), piece)
        if self.out is not None:
            minute, short = self.out
            return Course(tuple(self.spells), minute, short.leg, 0.0, short.flow_l_per_min, litres)
        left_l = sum(bottle.litres for bottle in self.have if serves(bottle, piece))
        return Course(tuple(self.spells), None, None, left_l, piece.flow_l_per_min, litres)

    def next_one(self, piece: Piece) -> Bottle | None:
        """The bottle in hand while it can, else the first that can."""
        if self.in_hand is not None and self.in_hand.litres > DUST_L and serves(self.in_hand, piece):
            return self.in_hand
        return next((bottle for bottle in self.have if bottle.litres > DUST_L and serves(bottle, piece)), None)

    def may_take(self, piece: Piece) -> list[Bottle]:
        """Whom to draw from now: the one of the rule, then those that may still be in hand from a special leg."""
        rule = self.next_one(piece)
        if rule is None or rule is self.in_hand or self.in_hand is None:
            return [] if rule is None else [rule]
        special = [each for each in self.gone if each.leg != piece.leg and not all(serves(b, each) for b in self.have)]
        others = [
            bottle
            for bottle in self.have
            if bottle is not rule and bottle.litres > DUST_L and serves(bottle, piece)
            if any(serves(bottle, each) for each in special)
        ]
        return [rule, *others]

    def take(self, bottle: Bottle, minute: float) -> None:
        """Take a bottle in hand."""
        if bottle is not self.in_hand:
            self.in_hand = bottle
            self.spells.append(Spell(bottle.label, minute, minute, bottle.litres, bottle.litres))

    def may_prepare(self, piece: Piece, known: Sequence[Piece]) -> list[tuple[Bottle, Bottle] | None]:
        """What may be done where a stretch begins, or the supply comes into use in one: who goes first and who last."""
        found: list[tuple[Bottle, Bottle] | None] = [None]
        for stretch in [each for each in self.quiet if each[0] <= piece.start_min < each[1]]:
            self.quiet.remove(stretch)
            found = self.exchanges(piece, between(known, piece.start_min, stretch[1]))
        return found

    def exchanges(self, piece: Piece, ahead: list[Piece]) -> list[tuple[Bottle, Bottle] | None]:
        """By the rule first, where the present one does not last: the first other one that does, and this one last."""
        whole = sum(each.flow_l_per_min * (each.end_min - each.start_min) for each in ahead)

        def lasts(bottle: Bottle) -> bool:
            enough = bottle.litres > DUST_L and bottle.litres >= whole - DUST_L
            return enough and all(serves(bottle, each) for each in ahead)

        mine = self.next_one(piece)
        if mine is None:
            return [None]
        better = [bottle for bottle in self.have if bottle is not mine and lasts(bottle)]
        if not self.differ:
            return [None] if lasts(mine) or not better else [(better[0], mine)]
        rest = [b for b in self.have if b is not mine and b.litres > DUST_L and serves(b, piece)]
        by_rule: list[tuple[Bottle, Bottle] | None] = [(bottle, mine) for bottle in better]
        others = [(bottle, last) for bottle in better for last in rest if last is not bottle]
        return [None, *by_rule, *others] if lasts(mine) else [*by_rule, *others, None]

    def exchange(self, one: tuple[Bottle, Bottle] | None, minute: float) -> None:
        """Bring one bottle forward and put another last."""
        if one is not None:
            others = [bottle for bottle in self.have if bottle not in one]
            self.have = [one[0], *others, one[1]]
            self.take(one[0], minute)

    def draw(self, bottle: Bottle, piece: Piece, now: float) -> float:
        """Draw what is left of a piece from a bottle until one of both ends; the minute at which that is."""
        self.take(bottle, now)
        needed = piece.flow_l_per_min * (piece.end_min - now)
        drawn = min(needed, bottle.litres)
        end = piece.end_min if needed <= bottle.litres + DUST_L else now + drawn / piece.flow_l_per_min
        bottle.litres = 0.0 if drawn == bottle.litres else bottle.litres - drawn
        self.drawn.append((bottle.label, now, end, piece.flow_l_per_min))
        self.spells[-1] = replace(self.spells[-1], to_min=end, end_l=bottle.litres)
        return end


def best(walk: Walk, steps: Sequence[Step]) -> Walk:
    """The first way on which every leg is carried, else the rules."""
    return run(walk, steps, way_through(walk, steps) or ())


def run(walk: Walk, steps: Sequence[Step], path: Sequence[int]) -> Walk:
    """Go on, doing what `path` says wherever there is a choice, and what the rules say where it has ended."""
    walk = walk.copy()

    def number(count: int) -> int:
        taken = 0 if count == 1 else path[len(walk.path)] if len(walk.path) < len(path) else 0
        walk.path += [taken] if count > 1 else []
        return taken

    for piece, known in steps:
        if walk.out is not None:
            break
        may = walk.may_prepare(piece, known)
        walk.exchange(may[number(len(may))], piece.start_min)
        now = piece.start_min
        while now < piece.end_min:
            bottles = walk.may_take(piece)
            if not bottles:
                walk.out = (now, piece) if piece.flow_l_per_min > 0.0 else None
                break
            now = walk.draw(bottles[number(len(bottles))], piece, now)
        walk.gone.append(piece)
    return walk


def way_through(walk: Walk, steps: Sequence[Step]) -> list[int] | None:
    """The path of the first way on which every leg is carried, by going back to the last choice; None without one."""
    if walk.out is not None:
        return None
    if not steps:
        return walk.path
    wanted = sum(piece.flow_l_per_min * (piece.end_min - piece.start_min) for piece, _ in steps)
    if wanted > sum(bottle.litres for bottle in walk.have) + 1e-4:
        return None
    piece, known = steps[0]
    may = walk.copy().may_prepare(piece, known)
    for number in range(len(may)):
        ready = walk.copy()
        ready.exchange(ready.may_prepare(piece, known)[number], piece.start_min)
        ready.path += [number] if len(may) > 1 else []
        found = _drawn(ready, piece.start_min, steps)
        if found is not None:
            return found
    return None


def _drawn(walk: Walk, now: float, steps: Sequence[Step]) -> list[int] | None:
    piece = steps[0][0]
    if now >= piece.end_min:
        walk.gone.append(piece)
        return way_through(walk, steps[1:])
    count = len(walk.may_take(piece))
    if not count and piece.flow_l_per_min <= 0.0:
        return _drawn(walk, piece.end_min, steps)
    for number in range(count):
        one = walk.copy()
        one.path += [number] if count > 1 else []
        found = _drawn(one, one.draw(one.may_take(piece)[number], piece, now), steps)
        if found is not None:
            return found
    return None


def with_failure(trip: Trip, kind: str) -> list[Leg]:
    """The legs as they are when every device of a type has failed from the start."""

    def stand_in(device: Device) -> Device:
        if device.type != kind:
            return device
        return ASSUMED_BAG if device.if_it_fails is None else trip.devices[device.if_it_fails]

    return [
        leg._replace(uses=tuple(use._replace(device=stand_in(use.device)) for use in leg.uses)) for leg in trip.legs
    ]


def with_devices_changed(trip: Trip, names: Sequence[str], relation: str) -> list[Leg]:
    """The legs with some devices replaced by what they name under `if_it_fails` or `may_rise_to`."""

    def other(device: Device) -> Device:
        named = getattr(device, relation)
        return trip.devices[named] if device.name in names and named is not None else device

    return [leg._replace(uses=tuple(use._replace(device=other(use.device)) for use in leg.uses)) for leg in trip.legs]


def with_supply_moved(trip: Trip, lost: str, to: str) -> list[Leg]:
    """The legs as they are when a supply has been lost from the start."""

    def moved(use: Use) -> Use:
        return use._replace(supply=to) if use.supply == lost else use

    return [leg._replace(uses=tuple(moved(use) for use in leg.uses)) for leg in trip.legs]
