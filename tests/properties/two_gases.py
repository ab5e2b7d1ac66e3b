"""A planner of trips on two gases, written apart from the first: sums and steps of a quarter of a minute.

It shares nothing with the planner but the data that describe a trip. Litres in a cylinder come from CoolProp (oxygen:
Schmidt and Wagner 1985; air: Lemmon and others 2000). Trips have one portable supply of oxygen, one of air, and both on
the wall; every time is a whole number of quarters, so that flows change at steps alone. The rules, in words:

- A blend draws (flow + bleed) x k of oxygen and the rest of air, k = (FiO2 - 0.21) / 0.79; a ventilator the same of
  minute volume, bias flow and leak, and its driving gas of the gas that drives it.
- Oxygen must be there with the spare set aside: what is planned, and the greater of factor and time on top. Air: what
  is planned times the factor.
- Without air every blend takes all that it lets flow as oxygen, from some moment to the end.
- Where cylinders differ in their outlets, a leg is carried by those alone that have one for each device in it. Two
  bounds are told then: what no order of use could mend (litres by what serves), and what one order of use carries,
  gone through by `simulator`. Between them the planner may say either.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, pairwise

import CoolProp
from CoolProp import AbstractState

from planner.model import Cylinder, Device, Leg, Policy, Supply, Trip, Use
from tests.properties.simulator import Bottle, Piece, Walk, best, between, quiet_times, run, serves, way_through

STEP_MIN = 0.25
_STATES = {"oxygen": AbstractState("HEOS", "Oxygen"), "air": AbstractState("HEOS", "Air")}

Pair = tuple[float, float]
"""Litres, or litres a minute, of oxygen and of air."""


@lru_cache(maxsize=100_000)
def _density(gas: str, kpa: float, degc: float) -> float:
    state = _STATES[gas]
    state.update(CoolProp.PT_INPUTS, kpa * 1000.0, degc + 273.15)
    return float(state.rhomass())


def usable_l(cylinder: Cylinder, policy: Policy) -> float:
    """Litres above change-over at 21.1 degC."""

    def held(gauge_kpa: float) -> float:
        full, left = (_density(cylinder.gas, kpa, 21.1) for kpa in (gauge_kpa + 101.325, 101.325))
        return cylinder.water_capacity_l * (full - left) / left

    return max(0.0, held(cylinder.gauge_kpa) - held(policy.change_over_at_kpa))


def drawn(device: Device) -> Pair:
    """What a device draws of each gas."""
    if device.type == "manual_resuscitator":
        return device.flow_l_per_min or 0.0, 0.0
    k = ((device.fio2 or 0.0) - 0.21) / 0.79
    if device.type == "ventilator":
        mixed = sum(
            part or 0.0 for part in (device.minute_volume_l_per_min, device.bias_flow_l_per_min, device.leak_l_per_min)
        )
        of_oxygen, of_air = mixed * k, mixed * (1.0 - k)
        if device.driven_by == "air":
            of_air += device.drive_gas_l_per_min or 0.0
        else:
            of_oxygen += device.drive_gas_l_per_min or 0.0
    else:
        mixed = (device.flow_l_per_min or 0.0) + (device.bleed_l_per_min or 0.0)
        of_oxygen, of_air = mixed * k, mixed * (1.0 - k)
    return of_oxygen, of_air if device.air in ("airs", "wall_air") else 0.0


def airless(trip: Trip, device: Device) -> Device:
    """What stands in for a device when no air comes any more."""
    if device.air in (None, "room"):
        return device
    if device.without_air == "fallback":
        return trip.devices["bag"]
    return device._replace(driven_by="oxygen", fio2=1.0, air=None)


def as_set(device: Device) -> Device:
    """A device as it is."""
    return device


def on_air(device: Device) -> Device:
    """A blend that is turned down to air."""
    return device if device.fio2 is None else device._replace(fio2=0.21)


@dataclass(frozen=True)
class Step:
    """A quarter of a minute: what each supply gives in it, litres a minute."""

    flow: dict[str, float]


def steps(trip: Trip, how: Callable[[Device], Device] = as_set) -> list[Step]:
    """The whole trip in steps, what `how` says in place of each device."""
    found = []
    for leg in trip.legs:
        length = leg.duration_min + sum(delay.time_min for delay in leg.delays)
        for number in range(round(length / STEP_MIN)):
            flow: dict[str, float] = {}
            for use in leg.uses:
                if use.for_min is None or number * STEP_MIN < use.for_min - 1e-9:
                    _add(flow, use, how(use.device))
            found.append(Step(flow))
    return found


def _add(flow: dict[str, float], use: Use, device: Device) -> None:
    pair = drawn(device)
    flow[use.supply] = flow.get(use.supply, 0.0) + pair[0]
    if device.air is not None:
        flow[device.air] = flow.get(device.air, 0.0) + pair[1]


def litres(found: list[Step], supply: str) -> float:
    """What a supply gives in all."""
    return sum(step.flow.get(supply, 0.0) for step in found) * STEP_MIN


def required(trip: Trip, supply: str) -> float:
    """What must be usable, the spare set aside."""
    found = steps(trip)
    planned = litres(found, supply)
    by_factor = (trip.policy.reserve_factor - 1.0) * planned
    if supply == "airs":
        return planned + by_factor
    peak = max(step.flow.get(supply, 0.0) for step in found)
    return planned + max(by_factor, trip.policy.reserve_time_min * peak)


def worst_l(trip: Trip, supply: str, how: Callable[[Device], Device]) -> float:
    """The most that a supply gives with what `how` says from some step to the end; every step is tried."""
    before, after = steps(trip), steps(trip, how)
    whole = [0.0]
    for step in reversed(after):
        whole.append(whole[-1] + step.flow.get(supply, 0.0) * STEP_MIN)
    whole.reverse()
    gone, most = 0.0, whole[0]
    for number, step in enumerate(before, 1):
        gone += step.flow.get(supply, 0.0) * STEP_MIN
        most = max(most, gone + whole[number])
    return most


def waiting(trip: Trip) -> Leg:
    """The wait on arrival on what is carried: air of the wall stays behind, and is carried or not."""
    last, moved = trip.legs[-1], []
    length = minutes(last)
    for use in last.uses:
        if use.for_min is None or use.for_min >= length:
            air = "airs" if use.device.air == "wall_air" else use.device.air
            moved.append(Use(use.device._replace(air=air), "cart"))
    return Leg("waiting", trip.policy.handover_time_min, tuple(moved), "cart")


def minutes(leg: Leg) -> float:
    """A leg with its waits."""
    return leg.duration_min + sum(delay.time_min for delay in leg.delays)


def margins(trip: Trip) -> Iterator[tuple[str, float]]:
    """By how many litres each thing that decides go holds; negative where it does not."""
    arrived = trip._replace(legs=(*trip.legs, waiting(trip)))
    for supply in (trip.supplies["cart"], trip.supplies["airs"]):
        have = sorted((usable_l(one, trip.policy) for one in supply.cylinders), reverse=True)
        planned = litres(steps(trip), supply.name)
        yield f"arrival on {supply.name}", sum(have) - litres(steps(arrived), supply.name)
        if not named(trip, supply):
            continue
        whole = sum(have)
        yield f"something on {supply.name}", whole if whole <= 0.0 else 1e6
        yield f"need of {supply.name}", sum(have[spares(trip, supply) :]) - required(trip, supply.name)
        if supply.name == "cart":
            yield "air lost", whole - worst_l(trip, "cart", lambda device: airless(trip, device))
            yield "cylinder lost", sum(have[1:]) - planned


def spares(trip: Trip, supply: Supply) -> int:
    """Cylinders that are set aside: of oxygen alone."""
    return trip.policy.spare_cylinders if supply.name == "cart" else 0


def named(trip: Trip, supply: Supply) -> bool:
    """True where a leg draws on a supply, be it nothing."""
    return any(supply.name in (use.supply, use.device.air) for leg in trip.legs for use in leg.uses)


# Cylinders whose outlets differ


def pieces(trip: Trip, supply: str, how: Callable[[Device], Device] = as_set) -> list[Piece]:
    """The flow on a supply, cut wherever a leg or a device begins or ends, with the outlets that each leg wants."""
    found, start = [], 0.0
    for number, leg in enumerate(trip.legs):
        length = minutes(leg)
        parts = [
            (part, length if use.for_min is None else use.for_min) for use in leg.uses for part in _parts(use, how)
        ]
        mine = [(kind, flow, lasts) for (name, kind, flow), lasts in parts if name == supply]
        wanted = tuple((kind, flow) for kind, flow, _ in mine if flow > 0.0)
        cuts = sorted({0.0, length, *(lasts for *_, lasts in mine)}) if mine else []
        for low, high in pairwise(cuts):
            flow = sum(flow for _, flow, lasts in mine if lasts >= high)
            found.append(Piece(start + low, start + high, number, flow, wanted, leg.magnet))
        start += length
    return found


def _parts(use: Use, how: Callable[[Device], Device]) -> Iterator[tuple[str, str, float]]:
    """Supply, kind of outlet and flow of each gas that a device draws."""
    device = how(use.device)
    kind = "flowmeter" if device.type == "manual_resuscitator" else "high_pressure"
    of_oxygen, of_air = drawn(device)
    yield use.supply, kind, of_oxygen
    if device.air is not None:
        yield device.air, kind, of_air


def held(trip: Trip, supply: Supply, doubt: float) -> list[Bottle]:
    """The bottles of a supply, each with its litres so much (a share) more or less than reckoned."""
    return [
        Bottle(one.label, max(0.0, usable_l(one, trip.policy) * (1.0 + doubt)), one.outlets) for one in supply.cylinders
    ]


def _sum_l(flow: Sequence[Piece]) -> float:
    return sum(piece.flow_l_per_min * (piece.end_min - piece.start_min) for piece in flow)


def served(have: Sequence[Bottle], flow: Sequence[Piece]) -> bool:
    """Whether some share-out of litres carries a flow: no group of pieces wants more than what serves any of it."""
    groups: dict[frozenset[str], float] = {}
    for piece in flow:
        by = frozenset(bottle.label for bottle in have if serves(bottle, piece))
        groups[by] = groups.get(by, 0.0) + _sum_l([piece])
    for count in range(1, len(groups) + 1):
        for chosen in combinations(groups, count):
            labels = frozenset[str]().union(*chosen)
            there = sum(bottle.litres for bottle in have if bottle.label in labels)
            if sum(groups[group] for group in chosen) > there + 1e-6:
                return False
    return True


def covered(trip: Trip, supply: Supply, have: Sequence[Bottle]) -> bool:
    """Need with its reserve, of every group of legs, by what serves any of them with the spare of it set aside."""
    flow = [piece for piece in pieces(trip, supply.name) if piece.flow_l_per_min > 0.0]
    legs = sorted({piece.leg for piece in flow})
    for count in range(1, len(legs) + 1):
        for chosen in combinations(legs, count):
            part = [piece for piece in flow if piece.leg in chosen]
            able = sorted((b.litres for b in have if any(serves(b, piece) for piece in part)), reverse=True)
            reserve = (trip.policy.reserve_factor - 1.0) * _sum_l(part)
            if supply.name == "cart":
                peak = max(piece.flow_l_per_min for piece in part)
                reserve = max(reserve, trip.policy.reserve_time_min * peak)
            if sum(able[spares(trip, supply) :]) < _sum_l(part) + reserve - 1e-6:
                return False
    return True


def moments(trip: Trip, every: int) -> list[float]:
    """The moments at which air may be lost: where a flow changes, and every so many steps between."""
    bounds = [piece.start_min for how in (as_set, on_air) for piece in pieces(trip, "cart", how)]
    length = sum(minutes(leg) for leg in trip.legs)
    return sorted({*bounds, *(number * STEP_MIN for number in range(0, round(length / STEP_MIN), every))})


def cannot_go(trip: Trip, doubt: float, every: int) -> list[str]:
    """What no order of use could mend, by name; `doubt`: the share by which litres may be more than reckoned."""
    found = []
    arrived = trip._replace(legs=(*trip.legs, waiting(trip)))
    for supply in (trip.supplies["cart"], trip.supplies["airs"]):
        have, name = held(trip, supply, doubt), supply.name
        if not served(have, pieces(arrived, name)):
            found.append(f"arrival on {name}")
        if not named(trip, supply):
            continue
        if not covered(trip, supply, have):
            found.append(f"need of {name}")
        if name == "cart":
            before, after = pieces(trip, name), pieces(trip, name, lambda device: airless(trip, device))
            whole = [[*between(before, 0.0, t), *between(after, t, 1e9)] for t in moments(trip, every)]
            found += ["air lost"] if not all(served(have, flow) for flow in whole) else []
            others = [[bottle for bottle in have if bottle is not lost] for lost in have]
            found += ["cylinder lost"] if not all(served(left, before) for left in others) else []
    return found


def carries_all(trip: Trip, doubt: float, every: int) -> bool:
    """True where one order of use carries all that decides go; `doubt`: the share by which litres may be less."""
    quiet, total = quiet_times(trip.legs), sum(minutes(leg) for leg in trip.legs)
    arrived = trip._replace(legs=(*trip.legs, waiting(trip)))
    for supply in (trip.supplies["cart"], trip.supplies["airs"]):
        have, planned = held(trip, supply, -doubt), pieces(trip, supply.name)
        after = between(pieces(arrived, supply.name), total, 1e9)
        if not sum(bottle.litres for bottle in have) and (named(trip, supply) or _sum_l(after)):
            return False
        path = way_through(Walk([*map(_copy, have)], quiet), [(piece, planned) for piece in planned])
        if path is None or not covered(trip, supply, have):
            return False
        ways = [(total, after)]
        if supply.name == "cart":
            airless_flow = pieces(trip, "cart", lambda device: airless(trip, device))
            ways += [(t, between(airless_flow, t, 1e9)) for t in moments(trip, every)]
            for lost in have if named(trip, supply) else ():
                left = [_copy(bottle) for bottle in have if bottle is not lost]
                if best(Walk(left, quiet), [(piece, planned) for piece in planned]).out is not None:
                    return False
        for minute, then in ways:
            walk = Walk([*map(_copy, have)], quiet)
            walk = run(walk, [(piece, planned) for piece in between(planned, 0.0, minute)], path)
            if best(walk, [(piece, then) for piece in then]).out is not None:
                return False
    return True


def _copy(bottle: Bottle) -> Bottle:
    return Bottle(bottle.label, bottle.litres, bottle.outlets, bottle.magnet_safe)
