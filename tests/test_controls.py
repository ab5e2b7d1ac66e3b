"""The controls of tests/HAZARDS.md on whole plans, each with figures worked out by hand.

Each test fails when its control is taken out of the program.
"""

from __future__ import annotations

import pytest

from planner.constants import KPA_PER_MMHG, KPA_PER_PSI
from planner.gas import atmosphere
from planner.model import Delay, Device, Divert, Leg, Supply, Use
from planner.planning import plan
from planner.results import Plan, WhatIf
from planner.trade.policy_table import policy_defaults
from tests.build import BAG, CANNULA, HIGH_PRESSURE, VENTILATOR, cylinder, flowmeter, leg, trip

WARD = policy_defaults("in_house")
ROAD = policy_defaults("road")
MASK = Device("mask", "reservoir_mask", flow_l_per_min=15.0)


def cart(*cylinders: object, name: str = "cart") -> Supply:
    return Supply(name, "cylinders", cylinders=tuple(cylinders))  # type: ignore[arg-type]


def row(found: Plan, name: str, supply: str = "cart") -> WhatIf:
    (one,) = [what_if for what_if in found.whatifs if (what_if.name, what_if.supply) == (name, supply)]
    return one


def codes(found: Plan, level: str) -> list[str]:
    return [finding.code for finding in found.findings if finding.level == level]


@pytest.mark.hazard(1)
def test_minutes_to_spare_are_the_minutes_that_it_takes_to_fail() -> None:
    supply = Supply("liquid", "litres", stated_l=400.0)
    slow = leg(40.0, CANNULA, supply="liquid")._replace(delays=(Delay("lift", 10.0),), longest_min=60.0)
    found = plan(trip([supply], slow))
    # Longest: (60 + 10) x 4 = 280 L of 400, so 120 L / 4 L/min = 30 min to spare.
    longest = row(found, "longest_times", "liquid")
    assert longest.holds
    assert longest.minutes_to_spare == pytest.approx(30.0)
    for extra, holds in ((29.99, True), (30.01, False)):
        again = plan(trip([supply], slow._replace(longest_min=60.0 + extra)))
        assert row(again, "longest_times", "liquid").holds is holds
    # Planned, with its delay, 50 x 4 = 200 L.
    assert found.supplies["liquid"].need.planned_l == pytest.approx(200.0)


@pytest.mark.hazard(2)
def test_three_cylinders_at_400_psi_hold_nothing_above_500() -> None:
    found = plan(trip([cart(*(cylinder(name, 400) for name in "abc"))], leg(5.0, CANNULA)))
    assert found.supplies["cart"].usable_l == 0.0
    assert not found.go
    assert "not_enough" in codes(found, "stop")


@pytest.mark.hazard(9)
def test_resuscitator_takes_over_from_the_ventilator_and_decides_go() -> None:
    # Ventilator: 10 x 0.39/0.79 + 0.5 = 5.44 L/min; 40 min are 217 L and 163 L reserve, 381 L. By hand, failing at
    # departure: 40 x 15 = 600 L. One US-E at 2000 psi gives about 425 L.
    found = plan(trip([cart(cylinder("a", 2000))], leg(40.0, VENTILATOR), policy=WARD._replace(handover_time_min=0.0)))
    usable = found.supplies["cart"].usable_l
    assert usable == pytest.approx(425.0, abs=4.0)
    fails = row(found, "ventilator_fails")
    assert (fails.holds, fails.must_hold, fails.from_min) == (False, True, 0.0)
    assert fails.runs_out_min == pytest.approx((usable or 0.0) / 15.0)
    assert codes(found, "stop") == ["what_if_fails"]


@pytest.mark.hazard(10)
def test_spare_is_withheld_and_a_lost_cylinder_is_survived() -> None:
    two = cart(cylinder("a", 2000), cylinder("b", 2000))
    road = leg(40.0, CANNULA)
    found = plan(trip([two], road, setting="road"))
    assert found.go
    assert found.supplies["cart"].usable_without_spare_l == pytest.approx((found.supplies["cart"].usable_l or 0.0) / 2)
    assert row(found, "cylinder_lost").holds
    alone = plan(trip([cart(cylinder("a", 2000))], road, setting="road"))
    assert alone.supplies["cart"].usable_without_spare_l == 0.0
    assert row(alone, "cylinder_lost").runs_out_min == 0.0
    assert not alone.go


@pytest.mark.hazard(12)
@pytest.mark.parametrize(("limit", "go"), [(15.0, False), (25.0, True)])
def test_25_litres_need_a_flowmeter_to_25(limit: float, go: bool) -> None:
    fast = BAG._replace(flow_l_per_min=25.0)
    found = plan(trip([cart(cylinder("a", 2000, outlets=(flowmeter(limit),)))], leg(5.0, fast)))
    assert found.supplies["cart"].usable_l == pytest.approx(425.0, abs=4.0)
    assert found.supplies["cart"].order == () if not go else found.supplies["cart"].order
    assert found.supplies["cart"].need.required_l == pytest.approx(5 * 25 + 30 * 25)
    assert ("outlet_missing" in codes(found, "stop")) is not go
    carried = plan(trip([cart(*(cylinder(n, 2000, outlets=(flowmeter(limit),)) for n in "abc"))], leg(5.0, fast)))
    assert carried.go is go


@pytest.mark.hazard(12)
def test_the_resuscitator_needs_its_flowmeter_too() -> None:
    supply = cart(*(cylinder(name, 2000, outlets=(HIGH_PRESSURE,)) for name in "abcd"))
    found = plan(trip([supply], leg(20.0, VENTILATOR)))
    assert not row(found, "ventilator_fails").holds
    assert "outlet" in next(f.fix for f in found.findings if f.code == "what_if_fails")


@pytest.mark.hazard(13)
def test_the_change_is_made_before_the_lift() -> None:
    # a holds about 425 - 283 = 142 L at 1000 psi: 35 min at 4 L/min, inside the stretch from 30 to 45.
    still = leg(15.0, CANNULA, name="lift", no_change=True)
    legs = (leg(30.0, CANNULA, name="corridor"), still, leg(10.0, CANNULA, name="ward"))
    found = plan(trip([cart(cylinder("a", 1000), cylinder("b", 2000))], *legs))
    (change,) = found.supplies["cart"].change_overs
    assert (change.minute, change.early, change.inside_no_change) == (30.0, True, False)
    assert [o.cylinder for o in found.supplies["cart"].order] == ["a", "b"]
    assert codes(found, "caution") == ["what_if_fails"]  # a lost cylinder, which in-house policy does not hold
    forced = plan(trip([cart(cylinder("a", 1000), cylinder("b", 700), cylinder("c", 700))], *legs))
    assert "change_in_no_change" in codes(forced, "caution")
    assert any(change.inside_no_change for change in forced.supplies["cart"].change_overs)


@pytest.mark.hazard(14)
@pytest.mark.parametrize(("handover_min", "go"), [(10.0, True), (60.0, False)])
def test_the_wait_for_a_wall_outlet_is_on_the_portable_supply(handover_min: float, go: bool) -> None:
    # 425 L at 4 L/min are 106 min: 50 min planned and 10 of waiting, but not 60.
    policy = WARD._replace(handover_time_min=handover_min)
    found = plan(trip([cart(cylinder("a", 2000))], leg(50.0, CANNULA), policy=policy))
    waiting = row(found, "no_wall_on_arrival")
    assert waiting.holds is go is found.go
    if go:
        usable = found.supplies["cart"].usable_l or 0.0
        assert waiting.minutes_to_spare == pytest.approx(usable / 4.0 - 60.0)


@pytest.mark.hazard(14)
def test_two_patients_wait_on_their_own_supplies() -> None:
    second = CANNULA._replace(name="second", patient="second")
    both = Leg("walk", 20.0, (Use(VENTILATOR, "cart"), Use(second, "chair")), "cart")
    chair = cart(cylinder("d", 2000, outlets=(flowmeter(),)), name="chair")
    found = plan(trip([cart(cylinder("a", 2000), cylinder("b", 2000)), chair], both))
    assert row(found, "no_wall_on_arrival").holds
    assert row(found, "no_wall_on_arrival", "chair").holds


@pytest.mark.hazard(15)
def test_backup_takes_over_from_the_vehicle_at_the_worst_minute() -> None:
    # 30 min on the cart at 4 L/min, then 60 min on the vehicle: lost at once, all 90 min x 4 = 360 L fall on the cart.
    vehicle = cart(cylinder("main", 2000, "US-M"), name="vehicle")._replace(fixed=True, backup="cart")
    legs = (leg(30.0, CANNULA), leg(60.0, CANNULA, supply="vehicle"))
    found = plan(trip([cart(cylinder("a", 2000)), vehicle], *legs))
    lost = row(found, "vehicle_supply_lost")
    usable = found.supplies["cart"].usable_l or 0.0
    assert lost.holds
    assert lost.litres_left == pytest.approx(usable - 360.0)
    weak = plan(trip([cart(cylinder("a", 1000)), vehicle], *legs))
    assert not row(weak, "vehicle_supply_lost").holds
    # 30 min at the vehicle's 4 L/min are 120 L, which a cylinder at 600 psi has not.
    short = plan(trip([cart(cylinder("a", 600)), vehicle], legs[1]))
    assert "backup_short" in codes(short, "stop")
    none = plan(trip([vehicle._replace(backup=None)], legs[1]))
    assert "no_backup" in codes(none, "stop")


@pytest.mark.hazard(16)
def test_fio2_of_0_40_asks_for_0_55_at_8000_ft() -> None:
    """Standard respiratory physiology, (760 - 47) / (565 - 47) x 0.40 = 0.55; 565 mmHg: 1976 standard atmosphere."""
    cabin = atmosphere.pressure_kpa(8000 * 0.3048)
    assert cabin / KPA_PER_MMHG == pytest.approx(565.0, abs=0.6)
    blend = Device("hood", "blended_flow", flow_l_per_min=20.0, fio2=0.40, bleed_l_per_min=0.0, air="room")
    flight = leg(60.0, blend)._replace(by="air", cabin_pressure_kpa=cabin)
    found = plan(trip([cart(*(cylinder(n, 2000) for n in "abc"))], flight, setting="air"))
    note = next(f.message for f in found.findings if f.code == "inspired_oxygen")
    assert "0.40 on the ground becomes 0.56 in the cabin" in note  # 0.551, rounded up as a need
    kept = row(found, "inspired_oxygen_kept")
    assert kept.must_hold
    # 20 L/min x (0.551 - 0.21) / 0.79 x 60 min = 518 L instead of 289 L.
    assert kept.litres_left == pytest.approx((found.supplies["cart"].usable_l or 0.0) - 518.0, abs=2.0)
    assert found.supplies["cart"].need.planned_l == pytest.approx(20 * 0.19 / 0.79 * 60)


@pytest.mark.hazard(16)
def test_more_than_pure_oxygen_is_a_stop_and_flow_devices_a_caution() -> None:
    cabin = atmosphere.pressure_kpa(8000 * 0.3048)
    supply = cart(*(cylinder(n, 2000) for n in "abcdef"))
    rich = Device("hood", "blended_flow", flow_l_per_min=10.0, fio2=0.80, bleed_l_per_min=0.0, air="room")
    found = plan(trip([supply], leg(30.0, rich)._replace(cabin_pressure_kpa=cabin), setting="air"))
    assert "inspired_oxygen_not_kept" in codes(found, "stop")
    by_flow = plan(trip([supply], leg(10.0, MASK)._replace(cabin_pressure_kpa=cabin), setting="air"))
    assert "inspired_oxygen_falls" in codes(by_flow, "caution")
    # (565 - 47) / (760 - 47) = 72.6 %, told as 72.
    assert "72 % of the home inspired oxygen" in next(
        f.message for f in by_flow.findings if f.code == "inspired_oxygen_falls"
    )


@pytest.mark.hazard(17)
def test_a_warm_or_cold_cylinder_never_gives_more() -> None:
    normal = plan(trip([cart(cylinder("a", 1500))], leg(5.0, CANNULA))).supplies["cart"].usable_l or 0.0
    for read, coldest in ((40.0, None), (-20.0, None), (None, -20.0), (40.0, -20.0)):
        supply = cart(cylinder("a", 1500))._replace(temperature_degc=read, coldest_degc=coldest)
        usable = plan(trip([supply], leg(5.0, CANNULA))).supplies["cart"].usable_l or 0.0
        assert usable < normal


@pytest.mark.hazard(18)
def test_two_patients_on_one_supply_are_the_sum_of_both() -> None:
    vehicle = cart(*(cylinder(n, 2000, "US-M", outlets=(flowmeter(), flowmeter())) for n in "ab"))._replace(
        fixed=True, backup="pack"
    )
    pack = cart(*(cylinder(n, 2000, outlets=(flowmeter(), flowmeter())) for n in "cd"), name="pack")
    first = CANNULA._replace(name="first", patient="first")
    second = MASK._replace(name="second", patient="second")
    alone = [plan(trip([vehicle, pack], leg(30.0, one))).supplies["cart"] for one in (first, second)]
    both = plan(trip([vehicle, pack], leg(30.0, first, second))).supplies["cart"]
    assert both.need.planned_l == pytest.approx(sum(one.need.planned_l for one in alone))
    assert both.need.peak_flow_l_per_min == pytest.approx(19.0)
    assert [line.patient for line in both.ledger] == ["first", "second"]


@pytest.mark.hazard(19)
def test_air_serves_nothing() -> None:
    found = plan(trip([cart(cylinder("a", 2000, gas="air"))], leg(5.0, CANNULA)))
    assert found.supplies["cart"].usable_l == 0.0
    assert "wrong_gas" in codes(found, "stop")


@pytest.mark.hazard(27)
def test_a_magnet_leg_needs_a_cylinder_marked_safe() -> None:
    scan = leg(10.0, CANNULA, magnet=True, name="scan")
    steel = plan(trip([cart(cylinder("a", 2000))], scan))
    assert "magnet" in codes(steel, "stop")
    assert steel.supplies["cart"].serving_without_spare_l == 0.0
    safe = plan(trip([cart(cylinder("a", 2000, magnet_safe=True))], scan))
    assert safe.go
    mixed = plan(trip([cart(cylinder("a", 2000), cylinder("b", 2000, magnet_safe=True))], leg(5.0, CANNULA), scan))
    assert mixed.go
    assert "magnet_leave_outside" in codes(mixed, "caution")
    assert [o.cylinder for o in mixed.supplies["cart"].order] == ["a", "b"]


def test_divert_is_part_of_a_leg() -> None:
    there = leg(20.0, CANNULA)._replace(divert=Divert("clinic", 5.0))
    found = plan(trip([cart(cylinder("a", 2000))], there))
    assert any(window.to == "clinic" for window in found.turn_backs)


def test_gauge_allowance_and_the_reading_that_is_too_high() -> None:
    # 100 psi of a US-E by the hand method are 28 L; by the real gas a little more near full.
    normal = plan(trip([cart(cylinder("a", 2000))], leg(5.0, CANNULA)))
    usable = normal.supplies["cart"].usable_l or 0.0
    high = row(normal, "gauge_reads_high")
    assert (high.litres_left or 0.0) + 20.0 == pytest.approx(usable - 28.0, abs=2.0)
    allowed = plan(
        trip(
            [cart(cylinder("a", 2000))], leg(5.0, CANNULA), policy=WARD._replace(gauge_allowance_kpa=100 * KPA_PER_PSI)
        )
    )
    assert allowed.supplies["cart"].usable_l == pytest.approx((high.litres_left or 0.0) + 20.0)
    # In place of the allowance, not on top of it.
    assert row(allowed, "gauge_reads_high").litres_left == pytest.approx(high.litres_left)


@pytest.mark.hazard(13)
def test_a_cylinder_put_back_before_departure_waits_behind_the_others() -> None:
    """At 700 psi a gives some 55 L and would be changed in the lift, which takes 60: b goes first, then c, then a."""
    lift = leg(15.0, CANNULA, name="lift", no_change=True)
    found = plan(trip([cart(cylinder("a", 700), cylinder("b", 1900), cylinder("c", 1900))], lift, leg(10.0, CANNULA)))
    assert [turn.cylinder for turn in found.supplies["cart"].order] == ["b"]
    assert [one.cylinder.label for one in found.supplies["cart"].unused] == ["c", "a"]


@pytest.mark.hazard(12)
def test_outlets_of_a_cylinder_that_clash_with_those_of_its_manifold_are_a_caution() -> None:
    """The manifold has a flowmeter; one of its cylinders says a 50-psi outlet, which nobody can use there."""
    both = cylinder("a", 2000, outlets=(HIGH_PRESSURE,)), cylinder("b", 2000, outlets=None)
    bank = Supply("bank", "manifold", cylinders=both, outlets=(flowmeter(),))
    assert "manifold_outlets_clash" in codes(plan(trip([bank], leg(10.0, CANNULA, supply="bank"))), "caution")
    agreed = bank._replace(cylinders=(both[0]._replace(outlets=(flowmeter(),)), both[1]))
    assert "manifold_outlets_clash" not in codes(plan(trip([agreed], leg(10.0, CANNULA, supply="bank"))), "caution")
