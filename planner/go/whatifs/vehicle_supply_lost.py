"""A vehicle's supply of oxygen is lost at the worst minute, and all its later use draws on its backup."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.flow.flows import flows
from planner.go.whatifs.kind import Kind
from planner.go.whatifs.scenario import Planned, Scenario, can_run_out, unchanged
from planner.model import Use


def _scenarios(planned: Planned) -> Iterator[Scenario]:
    trip = planned.trip
    for name in planned.flows:
        supply = trip.supplies[name]
        if not supply.fixed or not can_run_out(supply) or supply.gas != "oxygen":
            continue
        if supply.backup is None:
            nothing_left = unchanged(planned, "vehicle_supply_lost", name, lose_all=True)
            yield nothing_left._replace(no_change=(), lost_supply=name)
        elif can_run_out(trip.supplies[supply.backup]):
            moved = [_moved(leg.uses, name, supply.backup) for leg in trip.legs]
            yield Scenario(
                "vehicle_supply_lost",
                supply.backup,
                planned.flows.get(supply.backup, ()),
                flows(trip.legs, moved)[supply.backup],
                trip.legs,
                planned.no_change,
                from_departure=False,
                lost_supply=name,
                idle_l_per_min=max(planned.idle_l_per_min.get(each, 0.0) for each in (name, supply.backup)),
            )


def _moved(uses: Sequence[Use], from_supply: str, to_supply: str) -> tuple[Use, ...]:
    return tuple(
        Use(use.device, to_supply, use.for_min, use.where) if use.supply == from_supply else use for use in uses
    )


WHAT_IF = Kind(
    title="Vehicle supply lost",
    condition="If the vehicle supply is lost",
    scenarios=_scenarios,
    short_title=lambda _, row: f"{row.lost_supply} lost",
    at_the_worst=True,
)
