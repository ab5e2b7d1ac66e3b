"""The altered trips behind the what-ifs: what changes, on which supply, from when and for how long.

A `Scenario` is a flow on one supply: `before` up to some minute, `after` from it on, and where it lasts a while only,
`again` when that is over. Where `from_departure` is false the minute is the worst one, which
`planner.go.worst_minute` searches. A scenario is made only where it changes something on a supply that can run out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from math import inf
from typing import NamedTuple

from planner.flow.devices import ASSUMED_RESUSCITATOR, on_oxygen_alone
from planner.flow.flows import Flow, NoChange, flows, no_change_spans
from planner.flow.outlets import Asks
from planner.model import ROOM, Device, Leg, Supply, Trip, Use

Span = tuple[float, float]


class Scenario(NamedTuple):
    """One what-if on one supply. `legs` are those of the altered trip by name and time, with the planned uses.

    `lasts_min`: how long the altered flow lasts, `inf` to the end; `again` follows it, and is empty where the case
    then ends, help being there. `begins`: the elapsed minutes in which it may begin; None for any. `device` fails,
    `patient` gets worse: what the case is about. `idle_l_per_min` is the flow that minutes are counted with where
    nothing is drawn at the end: the risen one. `loss_l_per_min` is what its last flow counts for what boils away.
    """

    name: str
    supply: str
    before: Flow
    after: Flow
    legs: tuple[Leg, ...]
    no_change: tuple[NoChange, ...]
    from_departure: bool = True
    lose_one: bool = False
    lose_all: bool = False
    reads_high: bool = False
    lost_supply: str | None = None
    lasts_min: float = inf
    again: Flow = ()
    begins: tuple[Span, ...] | None = None
    device: str | None = None
    patient: str | None = None
    idle_l_per_min: float = 0.0
    loss_l_per_min: float = 0.0


class Planned(NamedTuple):
    """A trip as planned: its flow on each supply, its no-change stretches, and the risen flow on each at its end."""

    trip: Trip
    flows: Mapping[str, Flow]
    no_change: tuple[NoChange, ...]
    idle_l_per_min: Mapping[str, float]


def as_planned(trip: Trip, planned: Mapping[str, Flow] | None = None) -> Planned:
    """What every what-if starts from. `planned`: the flows of the trip, if known."""
    planned = flows(trip.legs) if planned is None else planned
    return Planned(trip, planned, no_change_spans(trip.legs), idle_flows_l_per_min(trip, planned))


def idle_flows_l_per_min(trip: Trip, planned: Mapping[str, Flow]) -> dict[str, float]:
    """The risen flow of the last leg on each supply that draws nothing at its end; 0 where it draws, or never rises."""
    idle = [name for name, flow in planned.items() if flow and flow[-1].flow_l_per_min <= 0.0]
    if not idle:
        return dict.fromkeys(planned, 0.0)
    risen = flows(trip.legs, with_devices(trip.legs, lambda _, device: risen_device(trip, device)))
    return {name: risen[name][-1].flow_l_per_min if name in idle else 0.0 for name in planned}


def risen_device(trip: Trip, device: Device) -> Device:
    """The device that a trip says this one may rise to, else itself."""
    return device if device.may_rise_to is None else trip.devices[device.may_rise_to]


def fallback(trip: Trip, device: Device) -> Device:
    """The device that takes over when one fails: its `if_it_fails`, else a manual resuscitator at 15 L/min."""
    return ASSUMED_RESUSCITATOR if device.if_it_fails is None else trip.devices[device.if_it_fails]


def without_air(trip: Trip, device: Device) -> Device:
    """What stands in for a device whose air is gone: itself on oxygen, or its fallback. Room air is never gone."""
    if device.air is None or device.air == ROOM:
        return device
    return fallback(trip, device) if device.without_air == "fallback" else on_oxygen_alone(device)


def with_air_at_hand(trip: Trip, device: Device, done: Sequence[Leg]) -> Device:
    """The device where air of a vehicle or a wall is left behind.

    It takes the last portable air of the legs done, or the only one that the trip lists; else it goes without.
    """
    if device.air_supply is None or trip.supplies[device.air_supply].portable:
        return device
    portable = [name for name, supply in trip.supplies.items() if supply.portable and supply.gas == "air"]
    used = [name for leg in reversed(done) for name in leg.supplies if name in portable]
    at_hand = used or (portable if len(portable) == 1 else [])
    return device._replace(air=at_hand[0]) if at_hand else without_air(trip, device)


def can_lose_one(supply: Supply) -> bool:
    """True where one cylinder of a supply may be lost: of portable cylinders of oxygen; for air there is `air_lost`."""
    return supply.portable and supply.kind != "litres" and supply.gas == "oxygen"


def can_run_out(supply: Supply) -> bool:
    """True for all but a pipeline."""
    return supply.kind != "pipeline"


def altered(
    planned: Planned,
    name: str,
    uses: Sequence[tuple[Use, ...]],
    *,
    legs: tuple[Leg, ...] | None = None,
    from_departure: bool = True,
    lasts_min: float = inf,
    comes_back: bool = False,
    begins: tuple[Span, ...] | None = None,
    device: str | None = None,
    patient: str | None = None,
) -> Iterator[Scenario]:
    """A scenario for each supply whose flow the altered uses, one tuple a leg, change.

    `legs`: altered legs in place of the trip's. `comes_back`: after `lasts_min` the planned flow goes on, else the case
    is over then.
    """
    trip = planned.trip
    no_change = planned.no_change if legs is None else no_change_spans(legs)
    legs = trip.legs if legs is None else legs
    if legs == trip.legs and all(new is leg.uses for new, leg in zip(uses, legs, strict=True)):
        return
    for supply, flow in flows(legs, uses).items():
        before = planned.flows.get(supply, ())
        end_min = max((part[-1].end_min for part in (before, flow) if part), default=0.0)
        if begins is not None and all(from_min > end_min for from_min, _ in begins):
            continue  # by then the supply has given all that is asked of it
        if can_run_out(trip.supplies[supply]) and _draws(flow) != _draws(before):
            yield Scenario(
                name,
                supply,
                before,
                flow,
                legs,
                no_change,
                from_departure,
                lasts_min=lasts_min,
                again=before if comes_back else (),
                begins=begins,
                device=device,
                patient=patient,
                idle_l_per_min=planned.idle_l_per_min.get(supply, 0.0),
            )


def unchanged(
    planned: Planned,
    name: str,
    supply: str,
    *,
    lose_one: bool = False,
    lose_all: bool = False,
    reads_high: bool = False,
) -> Scenario:
    """The planned flow on a supply that is itself worse off."""
    flow = planned.flows[supply]
    idle = planned.idle_l_per_min.get(supply, 0.0)
    made = Scenario(name, supply, flow, flow, planned.trip.legs, planned.no_change, idle_l_per_min=idle)
    return made._replace(lose_one=lose_one, lose_all=lose_all, reads_high=reads_high)


def _draws(flow: Flow) -> list[tuple[int, float, float, Asks]]:
    """What tells flows apart: litres, times, and outlets, for a stand-in may draw the same through another one."""
    return [(s.leg, s.flow_l_per_min, s.end_min - s.start_min, s.asks) for s in flow if s.flow_l_per_min > 0.0]


def with_devices(legs: Sequence[Leg], change: Callable[[Leg, Device], Device]) -> list[tuple[Use, ...]]:
    """The uses of each leg with their devices changed; the leg's own where none is."""
    changed = []
    for leg in legs:
        devices = [change(leg, use.device) for use in leg.uses]
        if all(device is use.device for device, use in zip(devices, leg.uses, strict=True)):
            changed.append(leg.uses)
        else:
            pairs = zip(devices, leg.uses, strict=True)
            changed.append(tuple(Use(device, use.supply, use.for_min, use.where) for device, use in pairs))
    return changed
