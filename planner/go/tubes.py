"""What joins devices to supplies, and what changes its source between two legs."""

from __future__ import annotations

from typing import NamedTuple

from planner.flow.devices import air_l_per_min, demand_l_per_min, outlet_kind
from planner.flow.outlets import OutletNeed
from planner.model import Device, Leg


class Tube(NamedTuple):
    """What joins a device to a supply: its oxygen, under the name of the device, or its air, `vent air`."""

    name: str
    supply: str
    device: Device
    air: bool = False

    @property
    def of(self) -> tuple[str | None, bool]:
        """Whose it is, and of which gas."""
        return (self.device.patient, self.air)

    @property
    def need(self) -> OutletNeed:
        """The outlet that it holds."""
        flow = air_l_per_min(self.device) if self.air else demand_l_per_min(self.device)
        return OutletNeed(outlet_kind(self.device), flow, self.name)


class Move(NamedTuple):
    """Tubes that go from one supply to another between two legs; `old` is None where a supply comes in new."""

    old: str | None
    new: str
    moved: tuple[Tube, ...]


def tubes(leg: Leg) -> tuple[Tube, ...]:
    """Every tube at work in a leg."""
    found: list[Tube] = []
    for use in leg.uses:
        if use.device.measured:  # a flow above plan, no device
            continue
        found.append(Tube(use.device.name, use.supply, use.device))
        if use.device.air_supply is not None:
            found.append(Tube(f"{use.device.name} air", use.device.air_supply, use.device, air=True))
    return tuple(found)


def moves(before: Leg, after: Leg) -> tuple[Move, ...]:
    """What changes its source between two legs: devices, patients who go on by another, supplies that come in new."""
    last = {tube.name: tube.supply for tube in tubes(before)}
    goes_on = last.keys() & {tube.name for tube in tubes(after)}
    staying = {tube.of for tube in tubes(before) if tube.name in goes_on}
    ended = {tube.of: tube.supply for tube in tubes(before) if tube.of not in staying}
    groups: dict[tuple[str | None, str], list[Tube]] = {}
    for tube in tubes(after):
        old = last.get(tube.name, ended.get(tube.of))
        if old != tube.supply and (old is not None or tube.supply not in before.supplies):
            groups.setdefault((old, tube.supply), []).append(tube)
    coming = {new for old, new in groups if old is not None}
    found = [(old, new, moved) for (old, new), moved in groups.items() if old is not None or new not in coming]
    return tuple(Move(old, new, tuple(moved)) for old, new, moved in found)
