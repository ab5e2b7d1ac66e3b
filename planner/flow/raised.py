"""A trip planned again with a flow that was measured on one of its supplies.

A leg that plans less than the measured flow is raised to it: the difference runs through the whole leg beside its
devices, as a leak would, and needs no outlet of its own. What-ifs keep it. A leg that plans more stays as it is: a
measured flow never lowers a planned one by itself.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from planner.flow.flows import flows
from planner.model import Device, Trip, Use

EXTRA = "measured above plan"


@dataclass(frozen=True, slots=True)
class PlannedFlow:
    """The lowest and the highest flow that a leg (by its number from 0) plans on a supply, pauses left out, L/min."""

    leg: int
    name: str
    lowest_l_per_min: float
    highest_l_per_min: float


def planned_flows(trip: Trip, supply: str, legs: Collection[int] | None = None) -> tuple[PlannedFlow, ...]:
    """What each leg plans on a supply; legs that draw nothing from it are left out. `legs` None means all."""
    by_leg: dict[int, list[float]] = {}
    for segment in flows(trip.legs).get(supply, ()):
        if segment.flow_l_per_min > 0.0 and (legs is None or segment.leg in legs):
            by_leg.setdefault(segment.leg, []).append(segment.flow_l_per_min)
    return tuple(PlannedFlow(leg, trip.legs[leg].name, min(found), max(found)) for leg, found in by_leg.items())


def supplies_that_draw(trip: Trip) -> tuple[str, ...]:
    """The supplies with cylinders from which a leg draws, in the order of the trip."""
    return tuple(
        name
        for name, supply in trip.supplies.items()
        if supply.kind in ("cylinders", "manifold", "sizes") and planned_flows(trip, name)
    )


def raised(trip: Trip, supply: str, flow_l_per_min: float, legs: Collection[int] | None = None) -> Trip:
    """The trip with every leg that plans less than a measured flow on a supply raised to it.

    `flow_l_per_min`: the measured flow, L/min. `legs`: numbers from 0 of the legs that it holds for, None for all.
    Where a leg plans several flows, the lowest is the one raised, and the others rise with it.
    """
    changed = list(trip.legs)
    devices = dict(trip.devices)
    for planned in planned_flows(trip, supply, legs):
        more = flow_l_per_min - planned.lowest_l_per_min
        if more > 0.0:
            use = drawn_beside(f"{EXTRA}, leg {planned.leg + 1}", supply, more)
            devices[use.device.name] = use.device
            leg = changed[planned.leg]
            changed[planned.leg] = leg._replace(uses=(*leg.uses, use))
    return trip._replace(legs=tuple(changed), devices=devices)


def drawn_beside(name: str, supply: str, flow_l_per_min: float) -> Use:
    """A flow on a supply beside its devices, as of a leak: it needs no outlet of its own."""
    return Use(Device(name, "fixed_flow", flow_l_per_min=flow_l_per_min, outlet="none", measured=True), supply)
