"""What would mend a no-go of high-flow oxygen: a larger size, or an FiO2 or flow that a clinician may agree to.

High flow takes more than any other device, so that small cylinders rarely do. Nothing here decides for a clinician:
settings are asked about, and the trip is planned again with what they say.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from planner import figures
from planner.constants import AIR_OXYGEN_FRACTION
from planner.go.judge import Task, full_counts
from planner.model import Cylinder, Device, Outlet, Trip
from planner.profile.cylinders import size_asked
from planner.results import FullCount, SupplyPlan
from planner.text.node import Node
from planner.trade.catalog import device_types, find_size, of_system

_NAMED: Final = 2
"""Larger sizes that a sentence names."""
_LEAST_FIO2: Final = 0.22
_LEAST_FLOW_L_PER_MIN: Final = 2.0


def high_flow_ways(trip: Trip, task: Task, planned: SupplyPlan, share: float) -> list[str]:
    """Ways to mend a supply that feeds high flow alone and can give so great a share of what is required."""
    device = _alone(trip, task.supply.name)
    return [] if device is None else [*_larger(task, planned), *_settings(device, share)]


def _alone(trip: Trip, supply: str) -> Device | None:
    """The one device on a supply, the same in every leg, where it gives high flow; else None."""
    there = list(dict.fromkeys(use.device for leg in trip.legs for use in leg.uses if use.supply == supply))
    return there[0] if len(there) == 1 and "high_flow" in device_types()[there[0].type].traits else None


def _larger(task: Task, planned: SupplyPlan) -> Iterator[str]:
    """The next larger sizes of the same system, with how many full ones would do."""
    cylinders = task.supply.cylinders
    largest = max(cylinders, key=lambda one: one.water_capacity_l, default=None)
    if largest is None or largest.size is None:
        return
    told = {full.size for full in planned.full_cylinders}
    larger = [
        size
        for size in sorted(of_system(largest.size), key=lambda size: size.water_capacity_l)
        if size.water_capacity_l > largest.water_capacity_l and size.code not in told
    ]
    asked = [size_asked(size, task.policy, _outlets(cylinders), Node("scalar")) for size in larger]
    counts = [full for full in full_counts(task, asked) if full.count and full.count < len(cylinders) + 1]
    if counts:
        yield f"draw a larger size with the same outlets, {_in_words(counts[:_NAMED])}"


def _outlets(cylinders: Sequence[Cylinder]) -> tuple[Outlet, ...] | None:
    """The outlets of the best fitted cylinder; None where none are written."""
    return max((one.outlets for one in cylinders if one.outlets is not None), key=len, default=None)


def _in_words(counts: Sequence[FullCount]) -> str:
    parts = []
    for full in counts:
        size = find_size(full.size)
        filled = "" if size is None else f" of {figures.supply_l(size.contents_l)}"
        parts.append(f"{full.count} full {full.size}{filled}")
    return " or ".join(parts)


def _settings(device: Device, share: float) -> Iterator[str]:
    """Settings that fit the litres that are there: k and flow each go down by that share, printed down."""
    flow, fio2 = device.flow_l_per_min, device.fio2
    if flow is None or fio2 is None or not 0.0 < share < 1.0:
        return
    less_fio2 = AIR_OXYGEN_FRACTION + share * (fio2 - AIR_OXYGEN_FRACTION)
    less_flow = share * flow
    told = []
    if less_fio2 >= _LEAST_FIO2:
        told.append(f"FiO2 {figures.fio2_down(less_fio2)} at {figures.flow_set(flow)}")
    if less_flow >= _LEAST_FLOW_L_PER_MIN:
        told.append(f"{figures.steps_down(less_flow, 1.0)} L/min at FiO2 {figures.fio2_set(fio2)}")
    if told:
        yield f"ask a clinician whether {' or '.join(told)} will do, which these litres cover, and plan again with it"
