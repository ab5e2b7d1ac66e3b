"""A planner of trips on two gases, written apart from the first: sums and steps of a quarter of a minute.

It shares nothing with the planner but the data that describe a trip. Litres in a cylinder come from CoolProp (oxygen:
Schmidt and Wagner 1985; air: Lemmon and others 2000). Trips have one portable supply of oxygen, one of air, and both on
the wall; every time is a whole number of quarters, so that flows change at steps alone. The rules, in words:

- A blend draws (flow + bleed) x k of oxygen and the rest of air, k = (FiO2 - 0.21) / 0.79; a ventilator the same of
  minute volume, bias flow and leak, and its driving gas of the gas that drives it.
- Oxygen must be there with the spare set aside: what is planned, and the greater of factor and time on top. Air: what
  is planned times the factor.
- Without air every blend takes all that it lets flow as oxygen, from some moment to the end.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache

import CoolProp
from CoolProp import AbstractState

from planner.model import Cylinder, Device, Policy, Supply, Trip, Use

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


def drawn(device: Device, *, fio2: float | None = None) -> Pair:
    """What a device draws of each gas, with its own FiO2 or another."""
    if device.type == "manual_resuscitator":
        return device.flow_l_per_min or 0.0, 0.0
    k = ((device.fio2 if fio2 is None else fio2) or 0.0) - 0.21
    k /= 0.79
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


def airless(trip: Trip, device: Device) -> Pair:
    """What a device draws when no air comes any more."""
    if device.air in (None, "room"):
        return drawn(device)
    if device.without_air == "fallback":
        return drawn(trip.devices["bag"])
    moved = device._replace(driven_by="oxygen")
    return drawn(moved, fio2=1.0)[0], 0.0


@dataclass(frozen=True)
class Step:
    """A quarter of a minute: what each supply gives in it, litres a minute."""

    flow: dict[str, float]


def steps(trip: Trip, how: Callable[[Device], Pair]) -> list[Step]:
    """The whole trip in steps, each device drawing as `how` says."""
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


def _add(flow: dict[str, float], use: Use, pair: Pair) -> None:
    flow[use.supply] = flow.get(use.supply, 0.0) + pair[0]
    if use.device.air is not None:
        flow[use.device.air] = flow.get(use.device.air, 0.0) + pair[1]


def litres(found: list[Step], supply: str) -> float:
    """What a supply gives in all."""
    return sum(step.flow.get(supply, 0.0) for step in found) * STEP_MIN


def required(trip: Trip, supply: str) -> float:
    """What must be usable, the spare set aside."""
    found = steps(trip, drawn)
    planned = litres(found, supply)
    by_factor = (trip.policy.reserve_factor - 1.0) * planned
    if supply == "airs":
        return planned + by_factor
    peak = max(step.flow.get(supply, 0.0) for step in found)
    return planned + max(by_factor, trip.policy.reserve_time_min * peak)


def worst_l(trip: Trip, supply: str, how: Callable[[Device], Pair]) -> float:
    """The most that a supply gives where devices draw as `how` says from some step to the end; every step is tried."""
    before, after = steps(trip, drawn), steps(trip, how)
    whole = [0.0]
    for step in reversed(after):
        whole.append(whole[-1] + step.flow.get(supply, 0.0) * STEP_MIN)
    whole.reverse()
    gone, most = 0.0, whole[0]
    for number, step in enumerate(before, 1):
        gone += step.flow.get(supply, 0.0) * STEP_MIN
        most = max(most, gone + whole[number])
    return most


def arrival_l(trip: Trip, supply: str) -> float:
    """Planned litres, and the handover time on what is carried: air of the wall stays behind, and is carried or not."""
    last, more = trip.legs[-1], 0.0
    length = last.duration_min + sum(delay.time_min for delay in last.delays)
    for use in last.uses:
        if use.for_min is None or use.for_min >= length:
            device = use.device
            if device.air == "wall_air":
                device = device._replace(air="airs")
            of_oxygen, of_air = drawn(device)
            more += of_oxygen if supply == "cart" else of_air
    return litres(steps(trip, drawn), supply) + more * trip.policy.handover_time_min


def margins(trip: Trip) -> Iterator[tuple[str, float]]:
    """By how many litres each thing that decides go holds; negative where it does not."""
    for supply in (trip.supplies["cart"], trip.supplies["airs"]):
        have = sorted((usable_l(one, trip.policy) for one in supply.cylinders), reverse=True)
        planned = litres(steps(trip, drawn), supply.name)
        yield f"arrival on {supply.name}", sum(have) - arrival_l(trip, supply.name)
        if not named(trip, supply):
            continue
        whole = sum(have)
        yield f"something on {supply.name}", whole if whole <= 0.0 else 1e6
        spare = trip.policy.spare_cylinders if supply.name == "cart" else 0
        yield f"need of {supply.name}", sum(have[spare:]) - required(trip, supply.name)
        if supply.name == "cart":
            yield "air lost", whole - worst_l(trip, "cart", lambda device: airless(trip, device))
            yield "cylinder lost", sum(have[1:]) - planned


def named(trip: Trip, supply: Supply) -> bool:
    """True where a leg draws on a supply, be it nothing."""
    return any(supply.name in (use.supply, use.device.air) for leg in trip.legs for use in leg.uses)
