"""The legs of the cart card: source and outlets, and what each gauge should show at each checkpoint."""

from __future__ import annotations

from planner import figures
from planner.flow import devices
from planner.model import Leg
from planner.naming import all_called
from planner.report.card.data import LegBlock, Point
from planner.report.card.order import number_in_order, short_name
from planner.results import Checkpoint, Plan

MARKED_ONLY = "what is marked only"
OUTLETS = {"flowmeter": "flowmeter", "high_pressure": "50-psi outlet", "none": "no outlet"}


def leg_blocks(plan: Plan) -> tuple[LegBlock, ...]:
    """Each leg with its checkpoints; a reading that the end of the last leg already asks for is not asked again."""
    asked = readings(plan)
    return tuple(
        LegBlock(
            index + 1,
            leg.name,
            _source(leg),
            leg.no_change,
            tuple(_point(plan, check) for check in asked if check.leg_index == index),
            magnet_text(plan) if leg.magnet else "",
        )
        for index, leg in enumerate(plan.trip.legs)
    )


def readings(plan: Plan) -> tuple[Checkpoint, ...]:
    """The checkpoints, without starts of legs at which the end of the last leg already asks for the same reading."""
    last: dict[str, Checkpoint] = {}
    asked = []
    for check in plan.checkpoints:
        before = last.get(check.supply)
        same = before is not None and (before.cylinder, before.minute, before.flow_l_per_min) == (
            check.cylinder,
            check.minute,
            check.flow_l_per_min,
        )
        if check.at == "end" or not same:
            asked.append(check)
        last[check.supply] = check
    return tuple(asked)


def _point(plan: Plan, check: Checkpoint) -> Point:
    unit = plan.trip.policy.pressure_unit
    several = sum(bool(supply.cylinders) for supply in plan.supplies.values()) > 1
    return Point(
        key=f"leg{check.leg_index + 1}.{check.at}.{check.supply}",
        at="leave" if check.at == "start" else "arrive",
        elapsed=figures.minutes_down(check.minute),
        clock=figures.clock_down(plan.trip.departs, check.minute, narrow=True),
        cylinder=check.cylinder or check.supply,
        short=short_name(plan, check.supply, number_in_order(plan, check)),
        gauge=figures.gauge_nearest_or_none(check.gauge_kpa, unit),
        least=figures.gauge_up_or_none(check.least_gauge_kpa, unit),
        supply=check.supply if several else "",
    )


def magnet_text(plan: Plan) -> str:
    """What stays outside a magnet room: every cylinder carried with the patient that is not marked safe for it."""
    carried = [supply for supply in plan.supplies.values() if supply.cylinders and supply.supply.portable]
    outside = [
        f"{supply.supply.name} {item.cylinder.label}" if len(carried) > 1 else item.cylinder.label
        for supply in carried
        for item in supply.cylinders
        if not item.cylinder.magnet_safe
    ]
    stay = f"{all_called(outside)} {'stay' if len(outside) > 1 else 'stays'} OUTSIDE" if outside else MARKED_ONLY
    return f"MAGNET ROOM: {stay}"


def _source(leg: Leg) -> str:
    """`cart 12.1 L/min: vent on 50-psi outlet, neb on flowmeter (first 10 min)`; the highest flow of the leg."""
    parts: dict[str, list[str]] = {}
    flows: dict[str, float] = {}
    for use in leg.uses:
        text = f"{use.device.name} on {OUTLETS[devices.outlet_kind(use.device)]}"
        if use.for_min is not None:
            text += f" (first {figures.minutes_set(use.for_min)})"
        parts.setdefault(use.supply, []).append(text)
        flows[use.supply] = flows.get(use.supply, 0.0) + devices.demand_l_per_min(use.device)
    return "; ".join(
        f"{supply} {figures.flow_up(flows[supply])}: {', '.join(texts)}" for supply, texts in parts.items()
    )
