"""Legs in words: which checkpoints ask for a reading, what stays outside a magnet room, what an outlet is called."""

from __future__ import annotations

from collections import Counter

from planner.model import Leg
from planner.naming import all_called, listed
from planner.results import Checkpoint, Plan

MARKED_ONLY = "what is marked only"
OUTLETS = {"flowmeter": "flowmeter", "high_pressure": "50-psi outlet", "none": "no outlet"}


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


def sole_labels(plan: Plan) -> frozenset[str]:
    """Labels of one cylinder alone: they need no supply behind them."""
    counts = Counter(item.cylinder.label for supply in plan.supplies.values() for item in supply.cylinders)
    return frozenset(label for label, count in counts.items() if count == 1)


def read_where(plan: Plan, sole: frozenset[str], supply: str, label: str) -> str:
    """What is read: a cylinder, or all of a manifold, with its supply where the label does not say which."""
    alone = not supply or label in sole or plan.supplies[supply].supply.kind == "manifold"
    return label if alone else f"{label} ({supply})"


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


def leg_warnings(plan: Plan, leg: Leg) -> tuple[str, ...]:
    """What is done as a leg begins: what stays outside a magnet room; what is plugged in, since mains is counted on."""
    plugged = [use.device.name for use in leg.uses if use.device.name in plan.batteries] if leg.mains else []
    magnet = (magnet_text(plan),) if leg.magnet else ()
    return (*magnet, f"PLUG IN {listed(plugged)}: mains lamp seen") if plugged else magnet
