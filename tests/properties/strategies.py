"""Whole random trips, built from the planner's own classes.

Times are whole quarters of a minute, flows whole tenths of a litre a minute, so that a failing example can be
read and worked by hand. `trips()` gives trips in which every cylinder carries every device; with `mixed=True` the
outlets differ from cylinder to cylinder.
"""

from __future__ import annotations

from hypothesis import strategies as st

from planner.constants import KPA_PER_PSI
from planner.gas import contents
from planner.model import Cylinder, Delay, Device, Leg, Outlet, Policy, SizeAsked, Supply, SupplyKind, Trip, Use
from planner.trade.policy_table import what_if_names

EVERY_OUTLET = (*(Outlet("flowmeter"),) * 5, *(Outlet("high_pressure"),) * 5)

SIZES = (
    SizeAsked("US-E", 3.86, 15168.0, 0.28, 2000 * KPA_PER_PSI),
    SizeAsked("ISO-5", 5.0, 20000.0, 0.36, 18000.0),
    SizeAsked("US-M", 21.5, 15168.0, 1.56, 2000 * KPA_PER_PSI, full_mass_kg=35.0),
)

WORKING = (
    "nasal_cannula",
    "reservoir_mask",
    "oxygen_powered_suction",
    "air_entrainment_mask",
    "high_flow_nasal",
    "cpap",
    "cpap_blend",
    "ventilator",
    "ventilator_by_rule",
    "pulse_conserver",
    "concentrator",
)


def minutes(low: float, high: float) -> st.SearchStrategy[float]:
    """Minutes in quarters."""
    return st.integers(round(low * 4), round(high * 4)).map(lambda quarters: quarters / 4.0)


def tenths(low: float, high: float) -> st.SearchStrategy[float]:
    """Litres, or litres a minute, in tenths."""
    return st.integers(round(low * 10), round(high * 10)).map(lambda number: number / 10.0)


def gauges(low_psi: int, high_psi: int) -> st.SearchStrategy[float]:
    """Gauge pressures in kPa, in whole psi."""
    return st.integers(low_psi, high_psi).map(lambda number: number * KPA_PER_PSI)


fractions = st.integers(21, 100).map(lambda percent: percent / 100.0)
temperatures = st.none() | st.integers(-30, 50).map(float)


@st.composite
def policies(draw: st.DrawFn) -> Policy:
    """Any policy."""
    return Policy(
        reserve_factor=draw(st.integers(10, 20)) / 10.0,
        reserve_time_min=draw(minutes(0, 30)),
        spare_cylinders=draw(st.integers(0, 2)),
        change_over_at_kpa=draw(gauges(0, 500)),
        full_at_kpa=2000 * KPA_PER_PSI,
        gauge_allowance_kpa=draw(st.just(0.0) | gauges(1, 150)),
        handover_time_min=draw(minutes(0, 20)),
        must_hold=tuple(draw(st.lists(st.sampled_from(what_if_names()), unique=True))),
        gauge_scale_kpa=draw(st.none() | gauges(3000, 5000)),
    )


@st.composite
def devices(draw: st.DrawFn, name: str) -> Device:
    """A working device. What stands in for it is called bag or prongs, what it may rise to is called more."""
    kind = draw(st.sampled_from(WORKING))
    rises = draw(st.sampled_from([None, None, "more"]))
    bag = draw(st.sampled_from([None, "bag"]))
    flow = tenths(0, 15)
    match kind:
        case "high_flow_nasal":
            return Device(name, kind, flow_l_per_min=draw(tenths(5, 60)), fio2=draw(fractions), may_rise_to=rises)
        case "air_entrainment_mask":
            return Device(name, kind, flow_l_per_min=draw(flow), fio2=draw(st.none() | st.just(0.4)))
        case "cpap":
            return Device(name, kind, oxygen_flow_l_per_min=draw(flow), may_rise_to=rises)
        case "cpap_blend":
            return Device(name, "cpap", total_flow_l_per_min=draw(tenths(10, 60)), fio2=draw(fractions))
        case "ventilator":
            driven = draw(st.booleans())
            return Device(
                name,
                kind,
                fio2=draw(fractions),
                tidal_volume_l=draw(tenths(0.1, 0.8)),
                rate_per_min=float(draw(st.integers(8, 30))),
                bias_flow_l_per_min=draw(tenths(0, 6)),
                leak_l_per_min=draw(tenths(0, 10)),
                drive="pneumatic" if driven else "electric",
                drive_gas_l_per_min=draw(tenths(0, 5)) if driven else None,
                if_it_fails=bag,
            )
        case "ventilator_by_rule":
            return Device(
                name,
                "ventilator",
                fio2=draw(fractions),
                minute_volume_l_per_min=draw(tenths(2, 15)),
                drive="electric",
                rule="minute_volume_times_fio2",
                if_it_fails=bag,
            )
        case "pulse_conserver":
            pulse = draw(st.integers(1, 8)) / 100.0
            rate = float(draw(st.integers(8, 40)))
            return Device(name, kind, pulse_volume_l=pulse, rate_per_min=rate, if_it_fails="prongs")
        case "concentrator":
            return Device(name, kind, if_it_fails="prongs")
        case _:
            return Device(name, kind, flow_l_per_min=draw(flow), may_rise_to=rises)


@st.composite
def standbys(draw: st.DrawFn) -> list[Device]:
    """The devices that stand in or take over."""
    return [
        Device("bag", "manual_resuscitator", flow_l_per_min=draw(tenths(5, 25))),
        Device("prongs", "nasal_cannula", flow_l_per_min=draw(tenths(0.5, 6))),
        Device("more", "fixed_flow", flow_l_per_min=draw(tenths(5, 25))),
    ]


SOME = (Outlet("high_pressure"), Outlet("flowmeter", 15.0), Outlet("flowmeter", 6.0), Outlet("flowmeter"))
some_outlets = st.lists(st.sampled_from(SOME), min_size=1, max_size=4).map(tuple)


@st.composite
def cylinders(draw: st.DrawFn, label: str, *, mixed: bool, most_l: float = 25.0) -> Cylinder:
    """A cylinder on hand, from empty to full."""
    capacity = draw(tenths(0.5, most_l))
    return Cylinder(
        label=label,
        water_capacity_l=capacity,
        filling_gauge_kpa=15168.0,
        factor_l_per_psi=0.0725 * capacity,
        gauge_kpa=draw(gauges(300, 2200)),
        outlets=draw(some_outlets) if mixed else EVERY_OUTLET,
        temperature_degc=draw(st.just(None) | temperatures),
        gas=draw(st.sampled_from(["oxygen"] * 15 + ["air"])),
        magnet_safe=draw(st.booleans()) if mixed else True,
    )


@st.composite
def supplies(
    draw: st.DrawFn,
    name: str,
    kind: SupplyKind,
    *,
    fixed: bool = False,
    backup: str | None = None,
    mixed: bool = False,
    most_l: float = 25.0,
) -> Supply:
    """A supply of a kind. The cylinders of a manifold share one gauge, one temperature and one gas."""
    supply = Supply(
        name,
        kind,
        fixed=fixed,
        backup=backup,
        sizes=tuple(draw(st.lists(st.sampled_from(SIZES), max_size=2, unique=True))),
        outlets=EVERY_OUTLET if not mixed else None,
        temperature_degc=draw(temperatures),
        coldest_degc=draw(st.none() | st.integers(-30, 30).map(float)),
    )
    if kind == "litres":
        return supply._replace(stated_l=draw(tenths(0, 3000)), sizes=(), outlets=EVERY_OUTLET)
    if kind == "pipeline":
        return supply._replace(sizes=())
    if kind == "sizes":
        return supply._replace(sizes=supply.sizes or SIZES[:1])
    count = draw(st.integers(1, 4))
    have = [draw(cylinders("ABCD"[index], mixed=mixed, most_l=most_l)) for index in range(count)]
    if kind == "manifold":
        have = [each._replace(gauge_kpa=have[0].gauge_kpa, temperature_degc=None, gas="oxygen") for each in have]
    return supply._replace(cylinders=tuple(have))


@st.composite
def legs(
    draw: st.DrawFn,
    number: int,
    on: list[str],
    have: list[Device],
    *,
    most_min: float,
    plain: bool = False,
    mixed: bool = False,
) -> Leg:
    """A leg with one to three devices. A plain one has no device that ends before it does."""
    chosen = draw(st.lists(st.sampled_from(have), min_size=1, max_size=3, unique_by=lambda device: device.name))
    supply = draw(st.sampled_from(on))
    duration = draw(minutes(1, most_min))
    delays = draw(st.just(()) | minutes(0.25, 3).map(lambda time: (Delay("a wait", time),)))
    uses = tuple(
        Use(
            device,
            draw(st.sampled_from([supply] * 4 + on)),
            for_min=None if plain else draw(st.none() | st.none() | minutes(0.25, duration - 0.25)),
        )
        for device in chosen
    )
    return Leg(
        name=f"leg {number}",
        duration_min=duration,
        uses=uses,
        supply=supply,
        delays=delays,
        longest_min=draw(st.none() | minutes(duration, 2 * most_min)),
        no_change=draw(st.sampled_from([False, False, True])),
        cabin_pressure_kpa=draw(st.sampled_from([None, None, 75.26, 90.0])),
        magnet=mixed and draw(st.sampled_from([False, False, False, True])),
    )


@st.composite
def trips(draw: st.DrawFn, *, mixed: bool = False, plain: bool = False, most_min: float = 40.0) -> Trip:
    """A whole trip on a cart, perhaps a second one, a vehicle's supply and a wall."""
    cart_kind: SupplyKind = draw(st.sampled_from(["cylinders", "cylinders", "cylinders", "manifold", "litres"]))
    kinds: SupplyKind = draw(st.sampled_from(["cylinders", "manifold", "litres"]))
    found = [
        draw(supplies("cart", cart_kind, mixed=mixed)),
        draw(supplies("van", kinds, fixed=True, backup=draw(st.sampled_from(["cart", "cart", None])), mixed=mixed)),
        draw(supplies("wall", "pipeline")),
    ]
    extra: SupplyKind | None = draw(st.sampled_from([None, None, "cylinders", "sizes"]))
    if extra is not None:
        found.append(draw(supplies("second", extra, mixed=mixed)))
    names = [supply.name for supply in found]
    have = [draw(devices(f"device {number}")) for number in range(draw(st.integers(1, 3)))]
    count = draw(st.integers(1, 4))
    chosen = [draw(legs(number, names, have, most_min=most_min, plain=plain, mixed=mixed)) for number in range(count)]
    return Trip(
        name="a random trip",
        setting="road",
        policy=draw(policies()),
        supplies={supply.name: supply for supply in found},
        devices={device.name: device for device in [*have, *draw(standbys())]},
        legs=tuple(chosen),
        home_pressure_kpa=draw(st.sampled_from([101.325, 101.325, 82.0])),
    )


@st.composite
def short_trips(draw: st.DrawFn, *, mixed: bool = False, quiet: bool = True) -> Trip:
    """A few minutes on a cart and perhaps a vehicle's supply, with cylinders so small that oxygen is short.

    The litres above change-over of each cylinder are whole, at 21.1 degC.
    """
    ventilated = draw(st.booleans())
    working = [
        Device(
            "vent",
            "ventilator",
            fio2=1.0,
            minute_volume_l_per_min=float(draw(st.integers(1, 15))),
            bias_flow_l_per_min=0.0,
            leak_l_per_min=0.0,
            drive="electric",
            if_it_fails="bag",
            outlet=draw(st.sampled_from([None, "flowmeter"])) if mixed else None,
        )
        if ventilated
        else Device(
            "pulses", "pulse_conserver", pulse_volume_l=0.05, rate_per_min=draw(st.integers(8, 40)), if_it_fails="bag"
        ),
        Device("maker", "concentrator", if_it_fails="prongs"),
        Device("mask", "simple_mask", flow_l_per_min=float(draw(st.integers(1, 12)))),
    ]
    standby = [
        Device("bag", "manual_resuscitator", flow_l_per_min=float(draw(st.integers(1, 15)))),
        Device("prongs", "nasal_cannula", flow_l_per_min=float(draw(st.integers(1, 15)))),
    ]
    policy = Policy(
        reserve_factor=1.0,
        reserve_time_min=0.0,
        spare_cylinders=0,
        change_over_at_kpa=200 * KPA_PER_PSI,
        full_at_kpa=2000 * KPA_PER_PSI,
        gauge_allowance_kpa=0.0,
        handover_time_min=0.0,
        must_hold=("ventilator_fails", "conserver_fails", "concentrator_fails", "vehicle_supply_lost"),
    )
    sampled = st.sampled_from(working)
    chosen = []
    for number in range(draw(st.integers(1, 4))):
        on = draw(st.sampled_from(["cart", "cart", "van"]))
        duration = draw(minutes(0.5, 3))
        uses = tuple(
            Use(device, on, draw(st.none() | st.none() | minutes(0.25, duration - 0.25)))
            for device in draw(st.lists(sampled, min_size=1, max_size=2, unique_by=lambda device: device.name))
        )
        still = draw(st.booleans()) if quiet else False
        chosen.append(Leg(f"leg {number}", duration, uses, on, no_change=still))
    have = tuple(
        small_cylinder("ABCD"[index], draw(st.integers(0, 40)), policy, draw(some_outlets) if mixed else EVERY_OUTLET)
        for index in range(draw(st.integers(1, 4)))
    )
    van = small_cylinder("main", 200, policy, EVERY_OUTLET)
    return Trip(
        name="a short random trip",
        setting="road",
        policy=policy,
        supplies={
            "cart": Supply("cart", "cylinders", cylinders=have),
            "van": Supply("van", "cylinders", fixed=True, backup="cart", cylinders=(van,)),
        },
        devices={device.name: device for device in [*working, *standby]},
        legs=tuple(chosen),
    )


def small_cylinder(label: str, usable_l: int, policy: Policy, outlets: tuple[Outlet, ...]) -> Cylinder:
    """A cylinder of 1 L water capacity with so many litres above change-over."""
    residual = contents.contents_l(policy.change_over_at_kpa, 21.1, 1.0)
    return Cylinder(
        label=label,
        water_capacity_l=1.0,
        filling_gauge_kpa=15168.0,
        factor_l_per_psi=0.0725,
        gauge_kpa=contents.gauge_kpa(residual + usable_l, 21.1, 1.0),
        outlets=outlets,
    )
