"""Plans made by hand for the tests of text and pages, which look at wording and layout and not at arithmetic.

Contents follow the hand method here (gauge x factor), so the figures are near those of the planner but are
not its own. `example()` is the trip of a ventilated adult by road, go; `no_go()` the same with one cylinder
too few; `longest()` the longest reasonable trip: 12 legs, 8 cylinders, names of 60 characters.
"""

from __future__ import annotations

from bisect import bisect_left
from datetime import datetime

from planner.constants import KPA_PER_PSI
from planner.flow.flows import flows
from planner.go.between import between
from planner.go.changes import changes as acts_of_changes
from planner.go.gauges import Gauges
from planner.go.judge import tasks_of
from planner.go.worked import worked
from planner.model import Cylinder, Delay, Device, Leg, Outlet, Policy, Supply, Trip, Use
from planner.problems import Finding, Position
from planner.results import (
    ChangeOver,
    Checkpoint,
    CylinderPlan,
    FullCount,
    Layer,
    LedgerLine,
    Need,
    Order,
    Plan,
    SupplyPlan,
    WhatIf,
)

CHANGE_OVER_KPA = 500 * KPA_PER_PSI
FLOWS = {"vent": 4.054430379746835, "neb": 8.0, "bag": 15.0, "cannula": 2.0}
FORMULAS = {
    "vent": "(7.2 + 0 + 0) x 0.4937 + 0.5 = 4.054",
    "neb": "8 = 8",
    "bag": "15 = 15",
    "cannula": "2 = 2",
}

MAIN_OUTLETS = (Outlet("flowmeter", 15.0), Outlet("flowmeter", 15.0), Outlet("high_pressure"))

POLICY = Policy(
    reserve_factor=1.5,
    reserve_time_min=30.0,
    spare_cylinders=1,
    change_over_at_kpa=CHANGE_OVER_KPA,
    full_at_kpa=2000 * KPA_PER_PSI,
    gauge_allowance_kpa=0.0,
    handover_time_min=20.0,
    must_hold=("ventilator_fails", "conserver_fails", "concentrator_fails", "no_wall_on_arrival", "cylinder_lost"),
    overrides=("pressure_unit",),
    sources={
        "reserve_factor": "common practice (1.5 to 2; the published transfer guideline doubles)",
        "reserve_time": "common practice",
        "spare_cylinders": "common practice",
        "change_over_at": "common practice (200 psi in textbooks)",
        "full_at": "common practice",
        "gauge_allowance": "common practice",
        "handover_time": "common practice: no wall outlet free on arrival",
        "must_hold": "common practice",
    },
)

VENT = Device(
    name="vent",
    type="ventilator",
    fio2=0.6,
    tidal_volume_l=0.45,
    rate_per_min=16.0,
    bias_flow_l_per_min=0.0,
    leak_l_per_min=0.0,
    drive="pneumatic",
    drive_gas_l_per_min=0.5,
    if_it_fails="bag",
    where=Position(40, 3),
)
BAG = Device(name="bag", type="manual_resuscitator", flow_l_per_min=15.0, where=Position(50, 3))
NEB = Device(name="neb", type="nebulizer", flow_l_per_min=8.0, where=Position(53, 3))


def cylinder(label: str, gauge_psi: float, factor: float = 0.28, size: str | None = "US-E") -> Cylinder:
    """A cylinder read at a gauge, with a flowmeter to 15 L/min and a 50-psi outlet."""
    return Cylinder(
        label=label,
        water_capacity_l=factor * 13.782,
        filling_gauge_kpa=2200 * KPA_PER_PSI,
        factor_l_per_psi=factor,
        gauge_kpa=gauge_psi * KPA_PER_PSI,
        size=size,
        label_contents=None if size else "680 L at 2015 psi",
        outlets=(Outlet("flowmeter", 15.0), Outlet("high_pressure")),
        mass_kg=4.5 if size == "US-E" else None,
        connection="pin-index yoke (2-5)" if size != "US-M" else "threaded valve",
        where=Position(20, 9),
    )


def example_trip() -> Trip:
    """The trip of the example profile."""
    supplies = {
        "wall": Supply("wall", "pipeline", where=Position(18, 3)),
        "cart": Supply(
            "cart",
            "cylinders",
            cylinders=(cylinder("A", 2100), cylinder("B", 2050), cylinder("C", 1950, 0.337, None)),
            where=Position(20, 3),
        ),
        "ambulance": Supply(
            "ambulance",
            "cylinders",
            fixed=True,
            backup="cart",
            cylinders=(cylinder("main", 1700, 1.56, "US-M")._replace(outlets=MAIN_OUTLETS),),
            coldest_degc=-5.0,
            where=Position(26, 3),
        ),
    }
    legs = (
        Leg(
            "Bedside to ambulance bay",
            12.0,
            (Use(VENT, "cart"),),
            "cart",
            delays=(Delay("waiting for the lift", 6.0),),
            where=Position(57, 5),
        ),
        Leg("Loading", 5.0, (Use(VENT, "cart"),), "cart", no_change=True, where=Position(63, 5)),
        Leg(
            "Road to coast hospital",
            55.0,
            (Use(VENT, "ambulance"), Use(NEB, "ambulance", for_min=10.0)),
            "ambulance",
            longest_min=80.0,
            where=Position(68, 5),
        ),
        Leg(
            "Unloading and walk to intensive care",
            15.0,
            (Use(VENT, "cart"),),
            "cart",
            delays=(Delay("bed not ready", 10.0),),
            where=Position(75, 5),
        ),
    )
    return Trip(
        name="Ventilated adult, valley hospital to coast hospital",
        setting="road",
        policy=POLICY,
        supplies=supplies,
        devices={"vent": VENT, "bag": BAG, "neb": NEB},
        legs=legs,
        reference="T-0417",
        departs=datetime(2026, 12, 3, 14, 20),
        file="profile-example.yaml",
        fingerprint="3f" * 32,
    )


def example() -> Plan:
    """A go: three cylinders on the cart, one main cylinder in the ambulance."""
    trip = example_trip()
    findings = (
        Finding(
            "caution",
            "longest_times_fails",
            "If every leg takes its longest time, the ambulance still carries the trip with little to spare.",
            "Fill the main cylinder before leaving.",
            26,
            3,
        ),
        Finding("note", "default_setting", "Outlets as given in the profile.", "", None, None),
    )
    whatifs = (
        WhatIf("longest_times", "ambulance", False, True, 0.0, None, None, 325.0, 1318.0),
        WhatIf("ventilator_fails", "cart", True, True, 23.0, None, None, 57.9, 868.5),
        WhatIf("ventilator_fails", "ambulance", True, True, 23.0, None, None, 60.1, 901.5),
        WhatIf("settings_rise", "cart", False, True, 0.0, None, None, 120.0, 924.0),
        WhatIf("cylinder_lost", "cart", True, True, 0.0, None, None, 165.3, 670.2),
        WhatIf("vehicle_supply_lost", "cart", False, True, 23.0, None, None, 210.0, 851.0, "ambulance"),
        WhatIf("no_wall_on_arrival", "cart", True, True, 103.0, None, None, 274.0, 1111.0),
        WhatIf("gauge_reads_high", "cart", False, True, 0.0, None, None, 270.0, 1094.0),
    )
    return _plan(trip, "go", findings, whatifs, {"cart": 2, "ambulance": 1})


def no_go() -> Plan:
    """The same trip with one part-used cylinder on the cart: a no-go with its ways to mend."""
    trip = example_trip()
    cart = trip.supplies["cart"]._replace(cylinders=(cylinder("A", 1400),))
    trip = trip._replace(supplies={**trip.supplies, "cart": cart}, changes=('cart.A.gauge="1400 psi"',))
    findings = (
        Finding(
            "stop",
            "not_enough",
            "Supply cart has 0 L usable with the spare left out, and 317 L are required.",
            "Add 2 full US-E cylinders to cart.",
            20,
            3,
        ),
        Finding(
            "stop",
            "ventilator_fails",
            "If the ventilator fails at minute 23, oxygen on cart runs out at minute 61.",
            "Add 2 full US-E cylinders to cart.",
            20,
            3,
        ),
        Finding("caution", "setting_default", "No setting is given; road is assumed.", "Write setting: road.", 1, 1),
    )
    whatifs = (
        WhatIf("ventilator_fails", "cart", True, False, 0.0, 16.8, "Bedside to ambulance bay", None, None),
        WhatIf("cylinder_lost", "cart", True, False, 0.0, 0.0, "Bedside to ambulance bay", None, None),
        WhatIf("no_wall_on_arrival", "cart", True, True, 103.0, None, None, 9.2, 37.3),
        WhatIf(
            "vehicle_supply_lost",
            "cart",
            False,
            False,
            23.0,
            85.1,
            "Unloading and walk to intensive care",
            None,
            lost_supply="ambulance",
        ),
    )
    return _plan(trip, "no-go", findings, whatifs, {"cart": 2, "ambulance": 1})


def longest() -> Plan:
    """Twelve legs, eight cylinders, names of sixty characters."""

    def name(stem: str) -> str:
        return (stem + " of the northern regional long distance transfer service")[:60].ljust(60, "x")

    cart = Supply(
        name("Cart"),
        "cylinders",
        cylinders=tuple(cylinder(name(f"Cylinder {letter}"), 2000 - 10 * i) for i, letter in enumerate("ABCDEFGH")),
        where=Position(9, 3),
    )
    vent = VENT._replace(name=name("Ventilator"))
    legs = tuple(
        Leg(
            name(f"Leg {number}"),
            25.0,
            (Use(vent, cart.name),),
            cart.name,
            delays=(Delay("waiting for the lift", 5.0),) if number % 3 == 0 else (),
            longest_min=40.0,
            no_change=number in (4, 5),
            where=Position(40 + number, 5),
        )
        for number in range(1, 13)
    )
    trip = Trip(
        name=name("Trip"),
        setting="road",
        policy=POLICY,
        supplies={cart.name: cart},
        devices={vent.name: vent, "bag": BAG},
        legs=legs,
        reference="T-0999",
        departs=datetime(2026, 12, 3, 20, 30),
        file="longest.yaml",
        fingerprint="a5" * 32,
    )
    whatifs = tuple(
        WhatIf(kind, cart.name, kind in POLICY.must_hold, True, minute, None, None, 88.8, 360.0)
        for kind, minute in (("longest_times", 0.0), ("ventilator_fails", 120.0), ("cylinder_lost", 0.0))
    )
    return _plan(trip, "go", (), whatifs, {cart.name: 7})


def _plan(
    trip: Trip, verdict: str, findings: tuple[Finding, ...], whatifs: tuple[WhatIf, ...], counts: dict[str, int]
) -> Plan:
    supplies = {name: _supply_plan(trip, supply, counts.get(name)) for name, supply in trip.supplies.items()}
    checkpoints: list[Checkpoint] = []
    minute = 0.0
    for index, leg in enumerate(trip.legs):
        for at in ("start", "end"):
            minute += leg.total_min if at == "end" else 0.0
            checkpoints.append(_checkpoint(trip, supplies[leg.supply or ""], leg, index, at, minute))
    rows = tuple(map(_with_last_flow, whatifs))
    on_the_way = acts_of_changes(trip, supplies)
    made = Plan(trip, verdict, supplies, tuple(checkpoints), rows, findings, changes=on_the_way)
    every = worked(tasks_of(trip, flows(trip.legs), ()), {})
    change_overs = {name: supply.change_overs for name, supply in supplies.items()}
    start_kpa = made.start_kpa
    gauges = {
        name: Gauges(one.stock, trip.policy, one.task.no_change, start_kpa[name])
        for name, one in every.items()
        if one.stock
    }
    return made._replace(between=between(trip, every, gauges, change_overs))


def _with_last_flow(row: WhatIf) -> WhatIf:
    """Minutes to spare are litres left / last flow."""
    if row.litres_left is None or not row.minutes_to_spare:
        return row
    return row._replace(last_flow_l_per_min=row.litres_left / row.minutes_to_spare)


def _flow(device: Device) -> float:
    return {"ventilator": FLOWS["vent"], "nebulizer": 8.0}.get(device.type, device.flow_l_per_min or 2.0)


def _drawn_l(trip: Trip, supply: str, until_min: float) -> float:
    """Litres drawn from a supply up to a minute."""
    start, litres = 0.0, 0.0
    for leg in trip.legs:
        for use in leg.uses:
            end = start + (leg.total_min if use.for_min is None else use.for_min)
            litres += _flow(use.device) * max(0.0, min(end, until_min) - start) * (use.supply == supply)
        start += leg.total_min
    return litres


def _minute_at(trip: Trip, supply: str, litres: float) -> float:
    """The first minute, in steps of a tenth, at which so many litres are drawn, or the end of the trip."""
    tenths = range(int(trip.total_min * 10) + 1)
    place = bisect_left(tenths, litres, key=lambda tenth: _drawn_l(trip, supply, tenth / 10))
    return tenths[place] / 10 if place < len(tenths) else trip.total_min


def _supply_plan(trip: Trip, supply: Supply, count: int | None) -> SupplyPlan:
    ledger = tuple(
        LedgerLine(
            leg.name,
            use.device.name,
            use.device.type,
            _flow(use.device),
            leg.total_min if use.for_min is None else use.for_min,
            _flow(use.device) * (leg.total_min if use.for_min is None else use.for_min),
            FORMULAS["vent" if use.device.type == "ventilator" else "neb"],
        )
        for leg in trip.legs
        for use in leg.uses
        if use.supply == supply.name
    )
    planned = sum(line.litres for line in ledger)
    peak = max((sum(x.flow_l_per_min for x in ledger if x.leg == leg.name) for leg in trip.legs), default=0.0)
    if supply.kind == "pipeline":
        return SupplyPlan(supply, Need(planned, (), 0.0, peak), 0.0, ledger)
    reserve = max(0.5 * planned, 30 * peak)
    cylinders = tuple(_cylinder_plan(item) for item in supply.cylinders)
    usable = sum(item.usable_l for item in cylinders)
    spared = usable - (0 if supply.fixed else max(item.usable_l for item in cylinders))
    order, changes = _order(trip, supply, cylinders)
    return SupplyPlan(
        supply=supply,
        need=Need(
            planned,
            (
                Layer("factor", "Reserve by factor", 0.5 * planned, "(reserve_factor - 1) x planned", "reserve_factor"),
                Layer("time", "Reserve by time", 30 * peak, "reserve_time x peak flow", "reserve_time"),
            ),
            reserve,
            peak,
        ),
        doubling_l=2 * planned,
        usable_l=usable,
        usable_without_spare_l=spared,
        serving_without_spare_l=spared,
        ledger=ledger,
        cylinders=cylinders,
        full_cylinders=(FullCount(supply.cylinders[0].size or "US-E", 420.0, count, 4.5 * (count or 0)),),
        order=order,
        change_overs=changes,
        lasts_min=trip.total_min + (usable - planned) / FLOWS["vent"],
    )


def _cylinder_plan(item: Cylinder) -> CylinderPlan:
    gauge_psi = item.gauge_kpa / KPA_PER_PSI
    contents, residual = gauge_psi * item.factor_l_per_psi, 500 * item.factor_l_per_psi
    return CylinderPlan(
        cylinder=item,
        contents_l=contents,
        residual_l=residual,
        usable_l=max(0.0, contents - residual),
        hand_usable_l=max(0.0, contents - residual) * 0.99,
        read_degc=21.1,
        cold_degc=21.1,
        serves=True,
        unfit=None,
        start_at_least_kpa=min(item.gauge_kpa, 777 * KPA_PER_PSI),
    )


def _order(
    trip: Trip, supply: Supply, cylinders: tuple[CylinderPlan, ...]
) -> tuple[tuple[Order, ...], tuple[ChangeOver, ...]]:
    total, drawn, start = _drawn_l(trip, supply.name, trip.total_min), 0.0, 0.0
    order: list[Order] = []
    changes: list[ChangeOver] = []
    for item in cylinders:
        give = min(item.usable_l, total - drawn)
        drawn += give
        end = _minute_at(trip, supply.name, drawn) if give else start
        fall = give / item.cylinder.factor_l_per_psi * KPA_PER_PSI
        if order and give:
            changes.append(
                ChangeOver(
                    start,
                    trip.legs[_leg_at(trip, start)].name,
                    order[-1].cylinder,
                    item.cylinder.label,
                    order[-1].gauge_end_kpa,
                    leg_index=_leg_at(trip, start),
                )
            )
        order.append(Order(item.cylinder.label, start, end, item.cylinder.gauge_kpa, item.cylinder.gauge_kpa - fall))
        start = end
    return tuple(order), tuple(changes)


def _leg_at(trip: Trip, minute: float) -> int:
    end = 0.0
    for number, leg in enumerate(trip.legs):
        end += leg.total_min
        if minute < end:
            return number
    return len(trip.legs) - 1


def _checkpoint(trip: Trip, plan: SupplyPlan, leg: Leg, index: int, at: str, minute: float) -> Checkpoint:
    supply, flow = plan.supply, sum(_flow(use.device) for use in leg.uses if use.for_min is None or at == "start")
    left = (plan.usable_l or 0.0) - _drawn_l(trip, supply.name, minute)
    taken = _drawn_l(trip, supply.name, minute)
    label, gauge, own = None, None, None
    for item in plan.cylinders:
        label, own = item.cylinder.label, item.usable_l - taken
        gauge = item.cylinder.gauge_kpa - max(0.0, taken) / item.cylinder.factor_l_per_psi * KPA_PER_PSI
        if own > 0:
            break
        taken -= item.usable_l
    return Checkpoint(
        minute=minute,
        leg=leg.name,
        leg_index=index,
        at=at,
        supply=supply.name,
        flow_l_per_min=flow,
        cylinder=label,
        gauge_kpa=gauge,
        minutes_left=left / flow,
        cylinder_minutes_left=None if own is None else own / flow,
        least_gauge_kpa=None if gauge is None else max(CHANGE_OVER_KPA, gauge - 900 * KPA_PER_PSI),
    )
