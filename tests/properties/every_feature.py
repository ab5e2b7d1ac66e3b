"""Random trips with every feature, most of which are go.

Several supplies of oxygen, portable, fixed and on the wall: cylinders one after another, a manifold, liquid. Air of its
own. Outlets that differ, magnet rooms, no-change stretches, delays, longest times, cabins, places to divert to, two
patients, flows of zero that may rise, fallbacks, temperatures, fewer regulators than cylinders.

Times are whole quarters of a minute and flows whole tenths of a litre a minute, so that a failing example can be
worked by hand.
"""

from __future__ import annotations

from hypothesis import strategies as st

from planner.model import (
    Cylinder,
    Delay,
    Device,
    Divert,
    Leg,
    Liquid,
    Outlet,
    Policy,
    Supply,
    SupplyKind,
    Trip,
    Use,
)
from planner.trade.policy_table import what_if_names
from tests.properties.strategies import gauges, minutes, tenths

HIGH, METER, SMALL = Outlet("high_pressure"), Outlet("flowmeter", 15.0), Outlet("flowmeter", 6.0)
ALL_OUTLETS = (HIGH, HIGH, HIGH, Outlet("flowmeter"), Outlet("flowmeter"), Outlet("flowmeter"))
FITTINGS = (ALL_OUTLETS, ALL_OUTLETS, (HIGH, METER), (METER,), (METER, SMALL), (HIGH,), (METER, METER, HIGH))

PLENTY = ("high_flow", "ventilator", "blend")


@st.composite
def policies(draw: st.DrawFn) -> Policy:
    """Modest reserves, and some what-ifs that must hold."""
    return Policy(
        reserve_factor=draw(st.sampled_from([1.0, 1.25, 1.5])),
        reserve_time_min=draw(minutes(0, 10)),
        spare_cylinders=draw(st.sampled_from([0, 0, 0, 1])),
        change_over_at_kpa=draw(gauges(100, 500)),
        full_at_kpa=13790.0,
        gauge_allowance_kpa=draw(st.sampled_from([0.0, 0.0, 345.0])),
        handover_time_min=draw(minutes(0, 6)),
        must_hold=tuple(draw(st.lists(st.sampled_from(what_if_names()), unique=True, max_size=4))),
        rise_for_min=draw(minutes(0, 8)),
        help_within_min=draw(st.none() | minutes(1, 6)),
        gauge_scale_kpa=draw(st.none() | gauges(3000, 4000)),
    )


@st.composite
def working(draw: st.DrawFn, name: str, patient: str | None, air: list[str]) -> Device:
    """A device of a patient. What stands in for it is called bag, what it may rise to is called more."""
    bag, more = draw(st.sampled_from([None, "bag"])), draw(st.sampled_from([None, "more"]))
    kind = draw(st.sampled_from(["cannula", "mask", "mask", "pulses", *PLENTY]))
    match kind:
        case "cannula":
            flow = draw(tenths(0, 6))
            rises = "more" if flow == 0.0 else more
            return Device(name, "nasal_cannula", flow_l_per_min=flow, may_rise_to=rises, patient=patient)
        case "mask":
            flow = draw(tenths(4, 10))
            return Device(name, "simple_mask", flow_l_per_min=flow, if_it_fails=bag, may_rise_to=more, patient=patient)
        case "pulses":
            return Device(
                name,
                "pulse_conserver",
                pulse_volume_l=0.05,
                rate_per_min=float(draw(st.integers(10, 30))),
                if_it_fails="bag",
                patient=patient,
            )
        case "high_flow":
            flow, fio2 = draw(tenths(10, 30)), draw(st.sampled_from([0.3, 0.4, 0.5]))
            return Device(name, "high_flow_nasal", flow_l_per_min=flow, fio2=fio2, may_rise_to=more, patient=patient)
        case "blend":
            return Device(
                name,
                "blended_flow",
                flow_l_per_min=draw(tenths(5, 15)),
                fio2=draw(st.sampled_from([0.3, 0.5, 1.0])),
                bleed_l_per_min=draw(tenths(0, 3)),
                air=draw(st.sampled_from(air)),
                patient=patient,
            )
        case _:
            return Device(
                name,
                "ventilator",
                minute_volume_l_per_min=draw(tenths(3, 10)),
                fio2=draw(st.sampled_from([0.4, 0.6, 1.0])),
                bias_flow_l_per_min=draw(tenths(0, 2)),
                leak_l_per_min=0.0,
                drive="electric",
                battery_min=600.0,
                if_it_fails="bag",
                patient=patient,
            )


@st.composite
def cylinders(draw: st.DrawFn, label: str, gas: str = "oxygen") -> Cylinder:
    """A cylinder of 2 to 12 L water capacity; its outlets and whether it may go near the magnet differ."""
    capacity = draw(tenths(2, 12))
    return Cylinder(
        label=label,
        water_capacity_l=capacity,
        filling_gauge_kpa=15168.0,
        factor_l_per_psi=0.0725 * capacity,
        gauge_kpa=draw(gauges(400, 2200)),
        outlets=draw(st.sampled_from(FITTINGS)),
        temperature_degc=draw(st.sampled_from([None, None, 5.0, 35.0])),
        gas=gas,
        magnet_safe=draw(st.sampled_from([True, True, False])),
    )


@st.composite
def supplies(draw: st.DrawFn, name: str, kind: SupplyKind, *, fixed: bool = False, gas: str = "oxygen") -> Supply:
    """A supply of a kind. The cylinders of a manifold share one gauge; a portable vessel may hold liquid."""
    backup = "cart" if fixed else None
    supply = Supply(name, kind, fixed=fixed, backup=backup, gas="air" if gas == "air" else "oxygen")
    supply = supply._replace(
        temperature_degc=draw(st.sampled_from([None, None, 30.0])), coldest_degc=draw(st.sampled_from([None, -10.0]))
    )
    if kind == "litres":
        litres = draw(tenths(300, 3000))
        liquid = Liquid(amount_kg=litres / 750.0, keep_kg=0.0, loss_kg_per_day=0.0)
        return supply._replace(stated_l=litres, outlets=ALL_OUTLETS, liquid=draw(st.sampled_from([None, liquid])))
    if kind == "pipeline":
        return supply
    count = draw(st.integers(1, 4))
    have = [draw(cylinders(f"{name}{number}", gas)) for number in range(count)]
    if kind == "manifold":
        have = [each._replace(gauge_kpa=have[0].gauge_kpa, temperature_degc=None) for each in have]
        supply = supply._replace(outlets=ALL_OUTLETS)
    return supply._replace(cylinders=tuple(have), regulators=draw(st.sampled_from([None, None, 1])))


@st.composite
def legs(draw: st.DrawFn, number: int, on: list[str], have: list[Device]) -> Leg:
    """A leg with one or two devices, most often all on one supply."""
    duration = draw(minutes(1, 25))
    main = draw(st.sampled_from(on))
    chosen = draw(st.lists(st.sampled_from(have), min_size=1, max_size=2, unique_by=lambda device: device.name))
    uses = tuple(
        Use(
            device,
            draw(st.sampled_from([main] * 5 + on)),
            for_min=draw(st.sampled_from([None, None, None, duration / 2.0])),
        )
        for device in chosen
    )
    return Leg(
        name=f"leg {number}",
        duration_min=duration,
        uses=uses,
        supply=main,
        delays=draw(st.sampled_from([(), (), (Delay("a wait", 2.0),)])),
        longest_min=draw(st.sampled_from([None, duration * 1.25])),
        no_change=draw(st.sampled_from([False, False, True])),
        cabin_pressure_kpa=draw(st.sampled_from([None, None, None, 90.0])),
        magnet=draw(st.sampled_from([False] * 6 + [True])),
        divert=draw(st.sampled_from([None, None, Divert("another hospital", 5.0)])),
        mains=draw(st.booleans()),
    )


@st.composite
def whole_trips(draw: st.DrawFn) -> Trip:
    """A trip with any of the features."""
    kinds: list[SupplyKind] = ["cylinders", "cylinders", "cylinders", "manifold"]
    found = [draw(supplies("cart", draw(st.sampled_from(kinds)))), Supply("wall", "pipeline")]
    if draw(st.booleans()):
        found.append(draw(supplies("bag_cylinders", draw(st.sampled_from([*kinds, "litres"])))))
    if draw(st.booleans()):
        found.append(draw(supplies("van", draw(st.sampled_from([*kinds, "litres"])), fixed=True)))
    on = [*("cart" for _ in range(3)), *(supply.name for supply in found)]
    air = ["compressor", "room"]
    if draw(st.booleans()):
        found.append(draw(supplies("airs", "cylinders", gas="air")))
        air.append("airs")
    patients: list[str | None] = ["mother", "child"] if draw(st.sampled_from([False, False, True])) else [None]
    have = [draw(working(f"device {n}", patients[n % len(patients)], air)) for n in range(draw(st.integers(1, 3)))]
    standby = [
        Device("bag", "manual_resuscitator", flow_l_per_min=draw(tenths(5, 15))),
        Device("more", "reservoir_mask", flow_l_per_min=draw(tenths(6, 15))),
    ]
    chosen = [draw(legs(number, on, have)) for number in range(draw(st.integers(1, 4)))]
    return Trip(
        name="a random trip",
        setting="road",
        policy=draw(policies()),
        supplies={supply.name: supply for supply in found},
        devices={device.name: device for device in [*have, *standby]},
        legs=tuple(chosen),
    )
