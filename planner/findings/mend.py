"""What would mend a no-go: cylinders, gauge, litres, minutes or flow."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import fsum

from planner import figures
from planner.cylinders.onhand import OnHand
from planner.findings.common import MAGNET_MARK
from planner.findings.high_flow import high_flow_ways
from planner.go.judge import Task, serving_without_spare_l
from planner.go.sizing import minutes_less
from planner.go.whatif import MARKED
from planner.go.whatifs.registry import base, kind
from planner.model import Policy, Trip
from planner.naming import all_called, called, labelled, of_gas
from planner.results import SupplyPlan, WhatIf
from planner.trade.catalog import device_types, settings

_NOT_CARRIED_L = 10.0
"""Water capacity from which a cylinder is moved on wheels or stays where it is. By decision."""

_LEAST_SHARE = 0.5
"""Of what was ordered no less is offered: what is not even half of it is another treatment. By decision."""

DRAW_MARKED = f"Draw more cylinders that are {MAGNET_MARK}, or fuller ones."
"""Where too little is in cylinders for the magnet room."""

_OUTLETS = "Fit the outlets that the devices need, or take cylinders that have them."


def mend_need(trip: Trip, task: Task, stock: OnHand, planned: SupplyPlan) -> str:
    """What would mend a shortage of the required litres."""
    have = serving_without_spare_l(task, stock)
    short = task.need.required_l - have
    if short <= 0.0:
        return _OUTLETS
    idle = [
        labelled(one.cylinder.label, one.cylinder.gas)
        for one in planned.cylinders
        if not one.serves and one.usable_l > 0.0
    ]
    ways = [f"mend what keeps {all_called(idle)} from serving, as its finding says"] if idle else []
    magnet = any(segment.asks.magnet for segment in task.flow)
    ways += [*_ways(planned, task.policy, magnet=magnet), f"find {figures.need_l(short)} more"]
    last = task.flow[-1].flow_l_per_min or task.need.peak_flow_l_per_min
    less_min = minutes_less(short, last, task.need, task.policy)
    if less_min is not None:
        minutes = figures.steps_up(less_min, 1.0)
        if minutes < fsum(segment.end_min - segment.start_min for segment in task.flow):
            ways.append(f"shorten its use by {minutes} min at {figures.flow_up(last)}")
    if _stays_perhaps(task, stock):
        ways.append(f"write fixed: true under {task.supply.name} if it stays in the vehicle, with its backup")
    share = have / task.need.required_l
    asked = high_flow_ways(trip, task, planned, share) if share >= _LEAST_SHARE else []
    ways += asked
    if not asked and _may_run_at(trip, task, share):
        ways.append(f"run at {figures.percent_down(share)} of the planned flow, if a clinician agrees")
    return _sentence(ways)


def _may_run_at(trip: Trip, task: Task, share: float) -> bool:
    """True where a share of every planned flow on a supply may be of use to somebody.

    None of a trip that draws nothing as planned, none so small that it is no such treatment any more, and no flow below
    what is usual for its device: a reservoir mask at 4 L/min does harm.
    """
    if task.need.planned_l <= 0.0 or share < _LEAST_SHARE:
        return False
    used = {use.device for leg in trip.legs for use in leg.uses if task.supply.name in use.supplies}
    for device in used:
        for key, usual in device_types()[device.type].usual.items():
            value = getattr(device, settings()[key].field)
            if usual.unit == "L/min" and value is not None and share * value < usual.low <= value:
                return False
    return True


def _stays_perhaps(task: Task, stock: OnHand) -> bool:
    """True where only the spare is short, and every cylinder is of a size that nobody carries: it may be a main."""
    supply = task.supply
    large = bool(supply.cylinders) and all(one.water_capacity_l >= _NOT_CARRIED_L for one in supply.cylinders)
    return supply.portable and large and fsum(tank.usable_l for tank in stock.each) >= task.need.required_l


def mend_what_if(row: WhatIf, planned: SupplyPlan, policy: Policy, *, magnet: bool = False) -> str:
    """What would mend a what-if that fails; counts and gauges count only where it decides go."""
    if row.short_l is None or row.short_l <= 0.0:
        if row.misfit is not None and row.misfit.endswith(MARKED):
            return DRAW_MARKED
        return f"{_OUTLETS.removesuffix('.')} and are {MAGNET_MARK}." if magnet else _OUTLETS
    ways = _ways(planned, policy, magnet=magnet) if row.must_hold else []
    ways.append(f"find {figures.need_l(row.short_l)} more for it")
    ways.append("shorten the trip")
    ways += kind(base(row.name)).mends(row)
    return _sentence(ways)


def _ways(planned: SupplyPlan, policy: Policy, *, magnet: bool) -> list[str]:
    """Full cylinders, or a higher gauge on one of those on hand."""
    full = {size.size: figures.gauge_up(size.full_gauge_kpa, policy.pressure_unit) for size in planned.supply.sizes}
    counts = [
        f"{count.count} full {of_gas(count.size, planned.supply.gas)}"
        + (f" ({full[count.size]} or more)" if count.size in full else "")
        for count in planned.full_cylinders
        if count.count
    ]
    mark = f", {MAGNET_MARK}" if magnet else ""
    ways = [f"draw {' or '.join(counts)} in all{mark}"] if counts else []
    return [*ways, *_gauges(planned, policy)]


def _gauges(planned: SupplyPlan, policy: Policy) -> Iterator[str]:
    """A higher gauge on one of the cylinders; on a manifold on its one gauge, which stands for all of them."""
    cylinders, gas = planned.cylinders, planned.supply.gas
    if planned.supply.kind == "manifold":
        known = [one.go_at_kpa for one in cylinders if one.go_at_kpa is not None]
        if known and min(known) > min(one.cylinder.gauge_kpa for one in cylinders):
            labels = labelled("+".join(one.cylinder.label for one in cylinders), gas)
            yield f"have the one gauge of {labels} read {figures.gauge_up(min(known), policy.pressure_unit)} or more"
        return
    for one in cylinders:
        if one.go_at_kpa is not None and one.go_at_kpa > one.cylinder.gauge_kpa:
            gauge = figures.gauge_up(one.go_at_kpa, policy.pressure_unit)
            yield f"have {called(one.cylinder.label, one.cylinder.gas)} read {gauge} or more"


def _sentence(ways: Sequence[str]) -> str:
    text = "; or ".join(ways)
    return f"{text[0].upper()}{text[1:]}."
