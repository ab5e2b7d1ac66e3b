"""Which gas a sentence of the comparison speaks of, and what the air of a blend means for its oxygen.

Where the air of a blend ends, the blend takes oxygen alone and gives all of it to the patient: less air than planned is
more oxygen than planned, and an air supply that runs out takes the oxygen with it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

from planner import figures
from planner.afterwards.compare import Comparison
from planner.afterwards.stretches import Stretch
from planner.afterwards.vessels import Weighed
from planner.flow.devices import demand_l_per_min
from planner.go.whatifs.scenario import fallback, without_air
from planner.model import Device, Trip
from planner.naming import labelled, listed
from planner.results import Plan

LOOK_AIR: Final = (
    "Look at the patient and read the FiO2: a blend short of AIR takes oxygen in its place, and gives all of it. Then "
    "follow the AIR back to the cylinder: supply shut, hose off or kinked, another cylinder in use? FiO2 raised: plan "
    "again."
)
LOOK_AIR_BACK: Final = "Was the AIR shut, a hose off or kinked, the FiO2 raised, or another cylinder in use?"
LEAK_AIR: Final = (
    "Look and listen for a leak, and read the FiO2: more AIR may be less oxygen for the patient. FiO2 or flow changed: "
    "plan again."
)
LEAK_AIR_BACK: Final = "Was there a leak, or was the FiO2 lowered? Check cylinder and regulator before the next trip."


def is_air(plan: Plan, supply: str) -> bool:
    """True for a supply of air."""
    return plan.trip.supplies[supply].gas == "air"


def gases(plan: Plan, supplies: Iterable[str]) -> str:
    """What supplies hold, in words: `oxygen`, `AIR`, `oxygen and AIR`."""
    held = {plan.trip.supplies[supply].gas for supply in supplies}
    return listed([word for gas, word in (("oxygen", "oxygen"), ("air", "AIR")) if gas in held] or ["oxygen"])


def named(plan: Plan, supply: str) -> str:
    """A supply in a sentence; one of air says so: `airs (AIR)`, `AIR`."""
    return f"{supply} (AIR)" if is_air(plan, supply) and "AIR" not in supply.split() else supply


def labels(found: Comparison, stretch: Stretch | Weighed, between: str = ", then ") -> str:
    """The cylinders of a stretch: `A`, or `AIR L1, then AIR L2`."""
    if isinstance(stretch, Weighed):
        return "by weight"
    gas = found.plan.trip.supplies[stretch.supply].gas
    return between.join(labelled(part.label, gas) for part in stretch.parts)


def less(found: Comparison) -> str:
    """Of what less was used, and of what more besides: `less AIR is used than planned, and more oxygen`."""
    told = found.told
    slower = {each.supply for each in told if each.verdict == "slower"}
    faster = {each.supply for each in told if each.verdict == "faster"}
    text = gases(found.plan, slower)
    same = {name for name in faster if is_air(found.plan, name) in {is_air(found.plan, other) for other in slower}}
    also = ", at other times more" if same else ""
    other = f", and more {gases(found.plan, faster - same)}" if faster - same else ""
    return f"less {text} is used than planned{also}{other}"


def more(found: Comparison) -> str:
    """Of what more was used: `more oxygen is used than planned`."""
    told = found.told
    return f"more {gases(found.plan, {each.supply for each in told if each.verdict == 'faster'})} is used than planned"


def without_it(plan: Plan, supply: str) -> str:
    """What becomes of the oxygen when a supply of air ends: ` Then the blend draws 6 L/min of oxygen ...`."""
    told = list(dict.fromkeys(_without(plan, supply))) if is_air(plan, supply) else []
    return f" When it ends {listed(told)}." if told else ""


def _without(plan: Plan, supply: str) -> Iterator[str]:
    for leg in plan.trip.legs:
        for use in leg.uses:
            if use.device.air == supply:
                yield _device_without(plan.trip, use.device)


def _device_without(trip: Trip, device: Device) -> str:
    now = figures.flow_up(demand_l_per_min(device)).removesuffix(" L/min")
    then = figures.flow_up(demand_l_per_min(without_air(trip, device)))
    if device.without_air == "fallback":
        return f"{device.name} goes over to {fallback(trip, device).name}, at {then} of oxygen where it drew {now}"
    return f"{device.name} draws {then} of oxygen where it drew {now}, and gives oxygen alone"
