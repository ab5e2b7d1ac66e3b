"""Short ways to build trips in tests. Invented scenario; psi and minutes as on paper."""

from __future__ import annotations

from datetime import datetime
from math import fsum

from planner.constants import KPA_PER_PSI
from planner.cylinders.depletion import course_of
from planner.cylinders.onhand import on_hand
from planner.flow.flows import flows, no_change_spans
from planner.model import Cylinder, Device, Leg, Outlet, Policy, Setting, Supply, Trip, Use
from planner.trade.catalog import find_size
from planner.trade.policy_table import policy_defaults

HIGH_PRESSURE = Outlet("high_pressure")
CANNULA = Device("cannula", "nasal_cannula", flow_l_per_min=4.0)
BAG = Device("bag", "manual_resuscitator", flow_l_per_min=15.0)
VENTILATOR = Device(
    "vent",
    "ventilator",
    minute_volume_l_per_min=10.0,
    fio2=0.6,
    drive="pneumatic",
    drive_gas_l_per_min=0.5,
    bias_flow_l_per_min=0.0,
    leak_l_per_min=0.0,
    if_it_fails="bag",
)


def flowmeter(limit_l_per_min: float = 15.0) -> Outlet:
    """A flowmeter up to a limit."""
    return Outlet("flowmeter", limit_l_per_min)


def cylinder(
    label: str,
    gauge_psi: float,
    size: str = "US-E",
    *,
    outlets: tuple[Outlet, ...] | None = (flowmeter(), HIGH_PRESSURE),
    mass_kg: float | None = None,
    checked: datetime | None = None,
    gas: str = "oxygen",
    magnet_safe: bool = False,
) -> Cylinder:
    """A cylinder of a catalogue size at a gauge reading."""
    row = find_size(size)
    assert row is not None
    return Cylinder(
        label,
        row.water_capacity_l,
        row.filling_gauge_kpa,
        row.factor_l_per_psi,
        gauge_psi * KPA_PER_PSI,
        size=size,
        outlets=outlets,
        mass_kg=mass_kg,
        checked=checked,
        gas=gas,
        magnet_safe=magnet_safe,
    )


def leg(
    minutes: float,
    *devices: Device,
    supply: str = "cart",
    name: str = "leg",
    no_change: bool = False,
    magnet: bool = False,
) -> Leg:
    """A leg in which all devices draw on one supply."""
    uses = tuple(Use(device, supply) for device in devices)
    return Leg(name, minutes, uses, supply, no_change=no_change, magnet=magnet)


def trip(supplies: list[Supply], *legs: Leg, setting: Setting = "in_house", policy: Policy | None = None) -> Trip:
    """A trip by the policy of its setting; every device used is known, and a bag for ventilators."""
    devices = {"bag": BAG} | {use.device.name: use.device for one in legs for use in one.uses}
    return Trip(
        "invented",
        setting,
        policy or policy_defaults(setting),
        {supply.name: supply for supply in supplies},
        devices,
        legs,
    )


def planned_left_l(trip: Trip, supply: Supply) -> float | None:
    """Usable litres of a supply at the end of the planned trip; None where nobody knows what it holds."""
    stock = on_hand(supply, trip.policy)
    flow = flows(trip.legs).get(supply.name, ())
    return None if stock is None else fsum(course_of(stock.tanks, flow, no_change_spans(trip.legs)).left_l)
