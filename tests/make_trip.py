"""Small trips made by hand, for the tests of the planner's own arithmetic.

Every builder takes psi for gauges, minutes for times and litres for contents, and fills in a plain value for what a test
does not care about. Cylinders carry every device unless a test says otherwise.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from planner.constants import KPA_PER_PSI
from planner.gas import contents
from planner.model import Cylinder, Delay, Device, Leg, Outlet, OutletKind, Policy, Supply, SupplyKind, Trip, Use

EVERY_OUTLET = (*(Outlet("flowmeter"),) * 5, *(Outlet("high_pressure"),) * 5)
"""Five flowmeters without a limit and five 50-psi outlets."""

POLICY = Policy(
    reserve_factor=1.5,
    reserve_time_min=30.0,
    spare_cylinders=0,
    change_over_at_kpa=500.0 * KPA_PER_PSI,
    full_at_kpa=2000.0 * KPA_PER_PSI,
    gauge_allowance_kpa=0.0,
    handover_time_min=0.0,
    must_hold=(),
)


def psi(gauge_psi: float) -> float:
    """A gauge pressure in kPa."""
    return gauge_psi * KPA_PER_PSI


def gauge_of(usable_l: float, capacity_l: float = 3.86, policy: Policy = POLICY) -> float:
    """The gauge in kPa at which a cylinder at 21.1 degC has so many litres above change-over."""
    residual = contents.contents_l(policy.change_over_at_kpa, 21.1, capacity_l)
    return contents.gauge_kpa(residual + usable_l, 21.1, capacity_l) + policy.gauge_allowance_kpa


def cylinder(
    label: str,
    gauge_psi: float = 2000.0,
    *,
    usable_l: float | None = None,
    capacity_l: float = 3.86,
    outlets: tuple[Outlet, ...] | None = EVERY_OUTLET,
    policy: Policy = POLICY,
) -> Cylinder:
    """A cylinder of the E kind, by its gauge or by the litres above change-over that it is to have."""
    gauge = psi(gauge_psi) if usable_l is None else gauge_of(usable_l, capacity_l, policy)
    return Cylinder(
        label=label,
        water_capacity_l=capacity_l,
        filling_gauge_kpa=psi(2200.0),
        factor_l_per_psi=0.28 / 3.86 * capacity_l,
        gauge_kpa=gauge,
        outlets=outlets,
    )


def supply(
    name: str, cylinders: Sequence[Cylinder] = (), *, kind: SupplyKind = "cylinders", fixed: bool = False
) -> Supply:
    """A supply of cylinders; `dataclasses.replace` gives it the rest."""
    return Supply(name, kind, fixed=fixed, cylinders=tuple(cylinders))


def flow(name: str, flow_l_per_min: float, outlet: OutletKind | None = None) -> Device:
    """A device of a fixed flow."""
    return Device(name, "fixed_flow", flow_l_per_min=flow_l_per_min, outlet=outlet)


def ventilator(name: str, flow_l_per_min: float, if_it_fails: str | None = None) -> Device:
    """A ventilator on pure oxygen: it draws its minute volume, FiO2 1 making the share of oxygen 1."""
    return Device(
        name,
        "ventilator",
        fio2=1.0,
        minute_volume_l_per_min=flow_l_per_min,
        bias_flow_l_per_min=0.0,
        leak_l_per_min=0.0,
        drive="electric",
        if_it_fails=if_it_fails,
    )


def leg(
    name: str,
    duration_min: float,
    devices: Iterable[Device | Use],
    on: str = "cart",
    *,
    no_change: bool = False,
    delay_min: float = 0.0,
    longest_min: float | None = None,
) -> Leg:
    """A leg whose devices draw on one supply, unless a use names another."""
    uses = tuple(each if isinstance(each, Use) else Use(each, on) for each in devices)
    delays = (Delay("a wait", delay_min),) if delay_min else ()
    return Leg(name, duration_min, uses, on, delays, longest_min, no_change)


def trip(
    legs: Sequence[Leg], supplies: Sequence[Supply], policy: Policy = POLICY, devices: Iterable[Device] = ()
) -> Trip:
    """A trip of legs on supplies. `devices` are those on standby."""
    working = [use.device for each in legs for use in each.uses]
    return Trip(
        name="a trip made by hand",
        setting="road",
        policy=policy,
        supplies={each.name: each for each in supplies},
        devices={each.name: each for each in (*devices, *working)},
        legs=tuple(legs),
    )


def with_readings(whole: Trip, supply_name: str, gauges_kpa: Sequence[float]) -> Trip:
    """The same trip with other gauges on one supply, in the order of its cylinders."""
    old = whole.supplies[supply_name]
    cylinders = tuple(
        replace(each, gauge_kpa=gauge) for each, gauge in zip(old.cylinders, gauges_kpa, strict=True)
    )
    return replace(whole, supplies={**whole.supplies, supply_name: replace(old, cylinders=cylinders)})
