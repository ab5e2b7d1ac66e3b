"""The altered trips behind the what-ifs: what changes, on which supply, from when.

A `Scenario` is a flow on one supply: `before` up to some minute and `after` from it on. Where `from_departure` is
false the minute is the worst one, which `planner.go.whatif` searches. A scenario is made only where it changes
something on a supply that can run out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import NamedTuple

from planner.flow.demand import Flow, Stretch, final_uses, flows, stretches
from planner.flow.devices import ASSUMED_RESUSCITATOR, at_fio2, is_blend
from planner.flow.outlets import Asks
from planner.gas.mixing import fio2_at_cabin
from planner.model import Device, Leg, Supply, Trip, Use

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

Stretches = tuple[Stretch, ...]


class Scenario(NamedTuple):
    """One what-if on one supply. `legs` are those of the altered trip by name and time, with the planned uses."""

    name: str
    supply: str
    before: Flow
    after: Flow
    legs: tuple[Leg, ...]
    stretches: Stretches
    from_departure: bool = True
    lose_largest: bool = False
    lose_all: bool = False
    reads_high: bool = False
    lost_supply: str | None = None

    @property
    def leave_out(self) -> int:
        """How many of the largest cylinders the scenario takes away."""
        return 1 if self.lose_largest else 0


def scenarios(trip: Trip, planned: Mapping[str, Flow] | None = None) -> tuple[Scenario, ...]:
    """Every what-if that changes something, in the order of `NAMES`. `planned`: the flows of the trip, if known."""
    planned = flows(trip.legs) if planned is None else planned
    still = stretches(trip.legs)
    return tuple(
        scenario
        for scenario in (
            *_longest_times(trip, planned),
            *_failures(trip, planned, still),
            *_settings_rise(trip, planned, still),
            *_cylinder_lost(trip, planned, still),
            *_vehicle_supply_lost(trip, planned, still),
            *_no_wall_on_arrival(trip, planned),
            *_gauge_reads_high(trip, planned, still),
            *_inspired_oxygen_kept(trip, planned, still),
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
    trip: Trip,
    planned: Mapping[str, Flow],
    name: str,
    legs: tuple[Leg, ...],
    still: Stretches,
    uses: Sequence[tuple[Use, ...]],
    *,
    from_departure: bool = True,
) -> Iterator[Scenario]:
    """A scenario for each supply whose flow the altered legs, or the altered uses in them, change."""
    if legs == trip.legs and all(new is leg.uses for new, leg in zip(uses, legs, strict=True)):
        return
    for supply, flow in flows(legs, uses).items():
        before = planned.get(supply, ())
        if _can_run_out(trip.supplies[supply]) and _draws(flow) != _draws(before):
            yield Scenario(name, supply, before, flow, legs, still, from_departure)


def _draws(flow: Flow) -> list[tuple[int, float, float, Asks]]:
    """What tells flows apart: litres, times, and outlets, for a stand-in may draw the same through another one."""
    return [(s.leg, s.flow_l_per_min, s.end_min - s.start_min, s.asks) for s in flow if s.flow_l_per_min > 0.0]


def _with_devices(legs: Sequence[Leg], change: Callable[[Leg, Device], Device]) -> list[tuple[Use, ...]]:
    """The uses of each leg with their devices changed; the leg's own where none is."""
    altered = []
    for leg in legs:
        devices = [change(leg, use.device) for use in leg.uses]
        if all(device is use.device for device, use in zip(devices, leg.uses, strict=True)):
            altered.append(leg.uses)
        else:
            pairs = zip(devices, leg.uses, strict=True)
            altered.append(tuple(Use(device, use.supply, use.for_min, use.where) for device, use in pairs))
    return altered


def _longest_times(trip: Trip, planned: Mapping[str, Flow]) -> Iterator[Scenario]:
    legs = tuple(
        leg if leg.longest_min is None else leg._replace(duration_min=leg.longest_min, longest_min=None)
        for leg in trip.legs
    )
    yield from _altered(trip, planned, "longest_times", legs, stretches(legs), [leg.uses for leg in legs])


def _failures(trip: Trip, planned: Mapping[str, Flow], still: Stretches) -> Iterator[Scenario]:
    for name, kind in FAILURES.items():
        if not any(use.device.type == kind for leg in trip.legs for use in leg.uses):
            continue

        def take_over(_: Leg, device: Device, kind: str = kind) -> Device:
            return replaced(trip, device) if device.type == kind else device

        uses = _with_devices(trip.legs, take_over)
        yield from _altered(trip, planned, name, trip.legs, still, uses, from_departure=False)


def _settings_rise(trip: Trip, planned: Mapping[str, Flow], still: Stretches) -> Iterator[Scenario]:
    def rise(_: Leg, device: Device) -> Device:
        if device.may_rise_to is not None:
            return trip.devices[device.may_rise_to]
        return at_fio2(device, 1.0) if is_blend(device) else device

    yield from _altered(trip, planned, "settings_rise", trip.legs, still, _with_devices(trip.legs, rise))


def _cylinder_lost(trip: Trip, planned: Mapping[str, Flow], still: Stretches) -> Iterator[Scenario]:
    for name, flow in planned.items():
        supply = trip.supplies[name]
        if supply.portable and supply.kind != "litres":
            yield Scenario("cylinder_lost", name, flow, flow, trip.legs, still, lose_largest=True)


def _gauge_reads_high(trip: Trip, planned: Mapping[str, Flow], still: Stretches) -> Iterator[Scenario]:
    for name, flow in planned.items():
        if trip.supplies[name].kind in ("cylinders", "manifold", "sizes"):
            yield Scenario("gauge_reads_high", name, flow, flow, trip.legs, still, reads_high=True)


def _vehicle_supply_lost(trip: Trip, planned: Mapping[str, Flow], still: Stretches) -> Iterator[Scenario]:
    for name in planned:
        supply = trip.supplies[name]
        if not supply.fixed or not _can_run_out(supply):
            continue
        if supply.backup is None:
            flow = planned[name]
            yield Scenario("vehicle_supply_lost", name, flow, flow, trip.legs, (), lose_all=True, lost_supply=name)
        elif _can_run_out(trip.supplies[supply.backup]):
            moved = [_moved(leg.uses, name, supply.backup) for leg in trip.legs]
            after = flows(trip.legs, moved)[supply.backup]
            before = planned.get(supply.backup, ())
            yield Scenario(
                "vehicle_supply_lost",
                supply.backup,
                before,
                after,
                trip.legs,
                still,
                from_departure=False,
                lost_supply=name,
            )


def _moved(uses: Sequence[Use], from_supply: str, to_supply: str) -> tuple[Use, ...]:
    return tuple(
        Use(use.device, to_supply, use.for_min, use.where) if use.supply == from_supply else use for use in uses
    )


def _no_wall_on_arrival(trip: Trip, planned: Mapping[str, Flow]) -> Iterator[Scenario]:
    """The last leg goes on for the handover time: portable supplies carry on, the others hand over to one."""
    bridge = arrival_supply(trip)
    minutes = trip.policy.handover_time_min
    last = trip.legs[-1]
    waiting = [
        use._replace(supply=use.supply if trip.supplies[use.supply].portable else bridge, for_min=None)
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


def _inspired_oxygen_kept(trip: Trip, planned: Mapping[str, Flow], still: Stretches) -> Iterator[Scenario]:
    def kept(leg: Leg, device: Device) -> Device:
        if leg.cabin_pressure_kpa is None or device.fio2 is None or not is_blend(device):
            return device
        wanted = fio2_at_cabin(device.fio2, trip.home_pressure_kpa, leg.cabin_pressure_kpa)
        return at_fio2(device, min(1.0, max(device.fio2, wanted)))

    yield from _altered(trip, planned, "inspired_oxygen_kept", trip.legs, still, _with_devices(trip.legs, kept))


def boundaries(before: Flow, after: Flow) -> list[float]:
    """Departure and every start and end of a segment, before and after: where the flow may change."""
    edges = {0.0}
    for segment in before + after:
        edges.update((segment.start_min, segment.end_min))
    return sorted(edges)
