"""The altered trips behind the what-ifs: what changes, on which supply, from when.

A `Scenario` is a flow on one supply: `before` up to some minute and `after` from it on. Where `from_departure` is
false the minute is the worst one, which `planner.whatif` searches. A scenario is made only where it changes
something on a supply that can run out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from planner.demand import Flow, Segment, Stretch, final_uses, flows, stretches
from planner.devices import ASSUMED_RESUSCITATOR, at_fio2, is_blend
from planner.gas.mixing import fio2_at_cabin
from planner.model import Device, Leg, Supply, Trip
from planner.outlets import Asks

FAILURES = {
    "ventilator_fails": "ventilator",
    "conserver_fails": "pulse_conserver",
    "concentrator_fails": "concentrator",
}
NAMES = (
    "longest_times",
    *FAILURES,
    "settings_rise",
    "cylinder_lost",
    "vehicle_supply_lost",
    "no_wall_on_arrival",
    "gauge_reads_high",
    "inspired_oxygen_kept",
)


class Scenario(NamedTuple):
    """One what-if on one supply. `legs` are the legs of the altered trip."""

    name: str
    supply: str
    before: Flow
    after: Flow
    legs: tuple[Leg, ...]
    stretches: tuple[Stretch, ...]
    from_departure: bool = True
    lose_largest: bool = False
    lose_all: bool = False
    reads_high: bool = False
    lost_supply: str | None = None

    @property
    def leave_out(self) -> int:
        """How many of the largest cylinders the scenario takes away."""
        return 1 if self.lose_largest else 0


def scenarios(trip: Trip) -> tuple[Scenario, ...]:
    """Every what-if that changes something, in the order of `NAMES`."""
    planned = flows(trip.legs)
    return tuple(
        scenario
        for scenario in (
            *_longest_times(trip, planned),
            *_failures(trip, planned),
            *_settings_rise(trip, planned),
            *_cylinder_lost(trip, planned),
            *_vehicle_supply_lost(trip, planned),
            *_no_wall_on_arrival(trip, planned),
            *_gauge_reads_high(trip, planned),
            *_inspired_oxygen_kept(trip, planned),
        )
    )


def replaced(trip: Trip, device: Device) -> Device:
    """The device that takes over when one fails: its `if_it_fails`, else a manual resuscitator at 15 L/min."""
    return ASSUMED_RESUSCITATOR if device.if_it_fails is None else trip.devices[device.if_it_fails]


def arrival_supply(trip: Trip) -> str | None:
    """The supply that bridges a missing wall outlet: the last portable one used, or the fixed one's backup.

    Of several in one leg the leg's own comes first, then the one that the trip names first.
    """
    used = [name for leg in reversed(trip.legs) for name in _used(trip, leg)]
    for name in used:
        if trip.supplies[name].portable:
            return name
    for name in used:
        if trip.supplies[name].fixed:
            return trip.supplies[name].backup
    return None


def _used(trip: Trip, leg: Leg) -> list[str]:
    return sorted({use.supply for use in leg.uses}, key=[leg.supply, *trip.supplies].index)


def _can_run_out(supply: Supply) -> bool:
    return supply.kind != "pipeline"


def _altered(
    trip: Trip, planned: Mapping[str, Flow], name: str, legs: Sequence[Leg], *, from_departure: bool = True
) -> Iterator[Scenario]:
    """A scenario for each supply whose flow the altered legs change."""
    after = flows(legs)
    for supply, flow in after.items():
        before = planned.get(supply, ())
        if _can_run_out(trip.supplies[supply]) and _draws(flow) != _draws(before):
            yield Scenario(name, supply, before, flow, tuple(legs), stretches(legs), from_departure)


def _draws(flow: Flow) -> list[tuple[int, float, float, Asks]]:
    """What tells flows apart: litres, times, and outlets, for a stand-in may draw the same through another one."""
    return [(s.leg, s.flow_l_per_min, s.end_min - s.start_min, s.asks) for s in flow if s.flow_l_per_min > 0.0]


def _with_devices(legs: Sequence[Leg], change: Callable[[Leg, Device], Device]) -> tuple[Leg, ...]:
    return tuple(
        replace(leg, uses=tuple(replace(use, device=change(leg, use.device)) for use in leg.uses)) for leg in legs
    )


def _longest_times(trip: Trip, planned: Mapping[str, Flow]) -> Iterator[Scenario]:
    legs = [
        leg if leg.longest_min is None else replace(leg, duration_min=leg.longest_min, longest_min=None)
        for leg in trip.legs
    ]
    yield from _altered(trip, planned, "longest_times", legs)


def _failures(trip: Trip, planned: Mapping[str, Flow]) -> Iterator[Scenario]:
    for name, kind in FAILURES.items():
        if not any(use.device.type == kind for leg in trip.legs for use in leg.uses):
            continue

        def take_over(_: Leg, device: Device, kind: str = kind) -> Device:
            return replaced(trip, device) if device.type == kind else device

        yield from _altered(trip, planned, name, _with_devices(trip.legs, take_over), from_departure=False)


def _settings_rise(trip: Trip, planned: Mapping[str, Flow]) -> Iterator[Scenario]:
    def rise(_: Leg, device: Device) -> Device:
        if device.may_rise_to is not None:
            return trip.devices[device.may_rise_to]
        return at_fio2(device, 1.0) if is_blend(device) else device

    yield from _altered(trip, planned, "settings_rise", _with_devices(trip.legs, rise))


def _cylinder_lost(trip: Trip, planned: Mapping[str, Flow]) -> Iterator[Scenario]:
    for name, flow in planned.items():
        supply = trip.supplies[name]
        if supply.portable and supply.kind != "litres":
            yield _unaltered(trip, "cylinder_lost", name, flow, lose_largest=True)


def _gauge_reads_high(trip: Trip, planned: Mapping[str, Flow]) -> Iterator[Scenario]:
    for name, flow in planned.items():
        if trip.supplies[name].kind in ("cylinders", "manifold", "sizes"):
            yield _unaltered(trip, "gauge_reads_high", name, flow, reads_high=True)


def _unaltered(
    trip: Trip, name: str, supply: str, flow: Flow, *, lose_largest: bool = False, reads_high: bool = False
) -> Scenario:
    return Scenario(
        name, supply, flow, flow, trip.legs, stretches(trip.legs), lose_largest=lose_largest, reads_high=reads_high
    )


def _vehicle_supply_lost(trip: Trip, planned: Mapping[str, Flow]) -> Iterator[Scenario]:
    for name in planned:
        supply = trip.supplies[name]
        if not supply.fixed or not _can_run_out(supply):
            continue
        if supply.backup is None:
            flow = planned[name]
            yield Scenario("vehicle_supply_lost", name, flow, flow, trip.legs, (), lose_all=True, lost_supply=name)
        elif _can_run_out(trip.supplies[supply.backup]):
            legs = [_moved(leg, name, supply.backup) for leg in trip.legs]
            after = flows(legs)[supply.backup]
            before = planned.get(supply.backup, ())
            yield Scenario(
                "vehicle_supply_lost",
                supply.backup,
                before,
                after,
                tuple(legs),
                stretches(legs),
                from_departure=False,
                lost_supply=name,
            )


def _moved(leg: Leg, from_supply: str, to_supply: str) -> Leg:
    uses = tuple(replace(use, supply=to_supply) if use.supply == from_supply else use for use in leg.uses)
    return replace(leg, uses=uses)


def _no_wall_on_arrival(trip: Trip, planned: Mapping[str, Flow]) -> Iterator[Scenario]:
    """The last leg goes on for the handover time: portable supplies carry on, the others hand over to one."""
    bridge = arrival_supply(trip)
    minutes = trip.policy.handover_time_min
    last = trip.legs[-1]
    waiting = [
        replace(use, supply=use.supply if trip.supplies[use.supply].portable else bridge, for_min=None)
        for use in final_uses(last)
        if bridge is not None
    ]
    if minutes <= 0.0 or not waiting:
        return
    legs = (*trip.legs, Leg(last.name, minutes, tuple(waiting)))
    after = flows(legs)
    for supply in dict.fromkeys(use.supply for use in waiting):
        if _can_run_out(trip.supplies[supply]):
            before = planned.get(supply, ())
            yield Scenario("no_wall_on_arrival", supply, before, after[supply], legs, stretches(legs))


def _inspired_oxygen_kept(trip: Trip, planned: Mapping[str, Flow]) -> Iterator[Scenario]:
    def kept(leg: Leg, device: Device) -> Device:
        if leg.cabin_pressure_kpa is None or device.fio2 is None or not is_blend(device):
            return device
        wanted = fio2_at_cabin(device.fio2, trip.home_pressure_kpa, leg.cabin_pressure_kpa)
        return at_fio2(device, min(1.0, max(device.fio2, wanted)))

    yield from _altered(trip, planned, "inspired_oxygen_kept", _with_devices(trip.legs, kept))


def boundaries(scenario: Scenario) -> list[float]:
    """Departure and every start and end of a segment, before and after: where the flow may change."""
    edges: set[float] = {0.0}
    segment: Segment
    for segment in (*scenario.before, *scenario.after):
        edges.update((segment.start_min, segment.end_min))
    return sorted(edges)
