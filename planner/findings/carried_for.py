"""Zero flow and empty supplies: nothing may pass because nothing was asked of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from planner.findings.common import remark
from planner.flow.devices import demand_l_per_min, is_blend
from planner.go.judge import nothing_usable
from planner.go.whatifs.scenario import risen_device
from planner.go.worked import Worked
from planner.model import Device, Trip
from planner.problems import Finding
from planner.trade.catalog import device_types


def of_zero_flow(trip: Trip, every: Mapping[str, Worked]) -> Iterator[Finding]:
    """A stop for each device at work that draws nothing, if nothing says what its oxygen is carried for.

    A blend of air alone has a flow, and gets one only where nothing else is planned on its supply.
    """
    uses = [use for leg in trip.legs for use in leg.uses]
    counted = {use.device for use in uses if is_blend(use.device) and every[use.supply].task.need.planned_l > 0.0}
    for device in dict.fromkeys(use.device for use in uses):
        why = _nothing_carried_for(trip, device)
        if why is not None and device not in counted:
            yield remark("zero_flow", device, why=why)


def _nothing_carried_for(trip: Trip, device: Device) -> str | None:
    if "makes_oxygen" in device_types()[device.type].traits or demand_l_per_min(device) > 0.0:
        return None
    if device.may_rise_to is None:
        return "nothing says how far it may rise"
    if demand_l_per_min(risen_device(trip, device)) <= 0.0:
        return f"{device.may_rise_to}, to which it may rise, draws none either"
    return "the policy's rise_for is 0" if trip.policy.rise_for_min <= 0.0 else None


def of_empty(trip: Trip, every: Mapping[str, Worked]) -> Iterator[Finding]:
    """A stop for each supply that a leg names and that has nothing usable, whatever is drawn from it.

    Where litres are asked of it their shortage is told instead.
    """
    for name, supply in trip.supplies.items():
        stock = every[name].stock
        if stock is None or (supply.store is not None and not supply.cylinders):
            continue
        if nothing_usable(every[name].task, stock):
            yield remark("nothing_usable", supply)
