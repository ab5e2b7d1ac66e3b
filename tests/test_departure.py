"""The gauges to depart with, safe together, by hand.

Flows and litres are chosen so that a pencil does. Down to 500 psi a US-E gives 424.94 L from 2000 psi and 281.87 L from
1500 psi, by CoolProp (616 L = 0.28 L/psi x 2200 psi at 2200 psi and 21.1 degC; formula in tests/test_stock.py). The
ventilator draws 10 x 0.39 / 0.79 + 0.5 = 5.4367 L/min.
"""

from __future__ import annotations

import pytest

from planner.constants import KPA_PER_PSI
from planner.gas.liquid import GAS_L_PER_KG
from planner.go import departure
from planner.model import Cylinder, Device, Leg, Liquid, Policy, Supply, SupplyKind, Trip
from planner.planning import plan
from planner.results import Plan
from planner.trade.policy_table import policy_defaults
from tests.build import CANNULA, HIGH_PRESSURE, VENTILATOR, cylinder, flowmeter, leg, trip

BARE = policy_defaults("in_house")._replace(
    reserve_factor=1.0, reserve_time_min=0.0, handover_time_min=0.0, must_hold=()
)
METER = flowmeter()
FULL_E_L, AT_1500_L = 424.94, 281.87
MASK_8 = CANNULA._replace(type="simple_mask", flow_l_per_min=8.0)


def cart(*cylinders: Cylinder, **changes: object) -> Supply:
    return Supply("cart", "cylinders", cylinders=cylinders)._replace(**changes)  # type: ignore[arg-type]


def planned(supply: Supply, *legs: Leg, policy: Policy = BARE) -> Plan:
    return plan(trip([supply], *legs, policy=policy))


def start_psi(found: Plan) -> list[float | None]:
    return [None if kpa is None else kpa / KPA_PER_PSI for kpa in found.start_kpa["cart"]]


def at(found: Plan, gauges_kpa: list[float]) -> Plan:
    """The same trip planned with other readings."""
    supply = found.trip.supplies["cart"]
    pairs = zip(supply.cylinders, gauges_kpa, strict=True)
    lowered = supply._replace(cylinders=tuple(one._replace(gauge_kpa=kpa) for one, kpa in pairs))
    whole: Trip = found.trip._replace(supplies={"cart": lowered})
    return plan(whole)


def test_of_one_cylinder_it_is_the_gauge_that_holds_what_is_asked() -> None:
    """281.87 L are there from 1500 psi on, and if the gauge reads 100 psi high, which 2000 psi bear, from 1600.

    What is taken for a gauge that reads high stands in place of the allowance: of 50 psi, it is 100 all the same.
    """
    asked = leg(AT_1500_L / 4.0, CANNULA)
    assert start_psi(planned(cart(cylinder("a", 2000)), asked)) == pytest.approx([1600.0], abs=1.0)
    allowing = BARE._replace(gauge_allowance_kpa=50 * KPA_PER_PSI)
    found = planned(cart(cylinder("a", 2000)), asked, policy=allowing)
    assert start_psi(found) == pytest.approx([1600.0], abs=1.0)


@pytest.mark.hazard(31)
def test_two_give_the_same_share_so_that_both_may_be_at_their_figure_at_once() -> None:
    """563.74 L of 849.88 L are asked: 281.87 L of each, 1500 psi, and 100 psi more for gauges that read high.

    One figure for one cylinder alone would have said some 1000 psi.
    """
    two = cart(cylinder("a", 2000), cylinder("b", 2000))
    found = planned(two, leg(2.0 * AT_1500_L / 4.0, CANNULA))
    assert start_psi(found) == pytest.approx([1600.0, 1600.0], abs=1.0)
    start = [kpa or 0.0 for kpa in found.start_kpa["cart"]]
    assert at(found, start).go
    assert not at(found, [kpa - 102.0 * KPA_PER_PSI for kpa in start]).go
    for index, one in enumerate(two.cylinders):
        assert at(found, [one.gauge_kpa if other == index else kpa for other, kpa in enumerate(start)]).go


@pytest.mark.hazard(31)
def test_the_least_gauge_on_the_way_takes_it_that_all_left_at_their_figure() -> None:
    """Two at 2000 psi, 8 L/min, twice 30 min, inside the hospital: planned 480 L, reserve 240 L, 720 L required.

    720 of 849.88 L: 360 L of each, by the hand method 500 + 360 / 0.28 = 1786 psi. After 30 min 240 L are gone from
    the first; the rest asks 240 + 240 = 480 L, of which the second has 360: 120 L in the first, 500 + 120 / 0.28 = 929
    psi
    by hand. Were the second taken as full, 480 - 425 = 55 L would do: 697 psi, and with both low there is no reserve.
    """
    policy = policy_defaults("in_house")._replace(handover_time_min=0.0)
    two = cart(cylinder("a", 2000), cylinder("b", 2000))
    found = planned(two, leg(30.0, MASK_8), leg(30.0, MASK_8), policy=policy)
    assert start_psi(found) == pytest.approx([1775.0, 1775.0], abs=15.0)
    end_of_first = next(row for row in found.checkpoints if row.at == "end")
    assert end_of_first.least_gauge_kpa is not None
    assert end_of_first.least_gauge_kpa / KPA_PER_PSI == pytest.approx(929.0, abs=10.0)
    assert found.checkpoints[0].least_gauge_kpa == found.start_kpa["cart"][0]


def test_a_no_go_has_none_and_says_what_would_mend_it() -> None:
    """800 L of one E, which gives 469 L when filled: none. 340 L of one at 1500 psi: by hand 500 + 340 / 0.28, 1714
    psi."""
    asked = planned(cart(cylinder("a", 2000)), leg(200.0, CANNULA))
    assert start_psi(asked) == [None]
    assert asked.supplies["cart"].cylinders[0].go_at_kpa is None
    low = planned(cart(cylinder("a", 1500)), leg(85.0, CANNULA))
    go_at = low.supplies["cart"].cylinders[0].go_at_kpa
    assert go_at is not None
    assert go_at / KPA_PER_PSI == pytest.approx(1705.0, abs=12.0)
    assert at(low, [go_at]).go
    assert start_psi(planned(Supply("cart", "litres", stated_l=900.0), leg(1.0, CANNULA))) == []


def test_what_has_nothing_usable_need_not_read_more() -> None:
    found = planned(cart(cylinder("a", 300), cylinder("b", 2000)), leg(AT_1500_L / 4.0, CANNULA))
    assert start_psi(found) == pytest.approx([300.0, 1600.0], abs=1.0)


def test_a_gauge_that_reads_high_is_not_asked_where_it_fails_already() -> None:
    """At 1550 psi a gauge that reads high leaves 1450: not enough, said as a what-if; the figure is then 1500 psi."""
    found = planned(cart(cylinder("a", 1550)), leg(AT_1500_L / 4.0, CANNULA))
    assert start_psi(found) == pytest.approx([1500.0], abs=1.0)


def test_on_a_manifold_one_gauge_stands_for_all() -> None:
    manifold = cart(cylinder("a", 2000), cylinder("b", 2000), kind="manifold")
    found = planned(manifold, leg(2.0 * AT_1500_L / 4.0, CANNULA))
    assert start_psi(found)[0] == start_psi(found)[1]


B_AND_C = (cylinder("b", 1250, outlets=(METER,)), cylinder("c", 1500, outlets=(METER,)))
THEN_P = (leg(48.5, MASK_8), leg(15.25, MASK_8, no_change=True), leg(18.5, VENTILATOR))


def with_p(psi: float) -> Plan:
    return planned(cart(*B_AND_C, cylinder("p", psi, outlets=(METER, HIGH_PRESSURE))), *THEN_P)


@pytest.mark.hazard(13, 31)
@pytest.mark.parametrize("psi", [930, *range(940, 1281, 20), 1310, 1500, 2000])
def test_a_full_one_does_not_rob_a_later_leg(psi: int) -> None:
    """B holds 210 L, C 282 L by the hand method; the mask takes 8 x 48.5 = 388 L, so that some 104 L are left in C.

    The stretch takes 8 x 15.25 = 122 L: C is some 18 L short of it. P alone carries the ventilator, 5.4367 x 18.5 =
    100.6 L: P needs 119 L in all, 500 + 119 / 0.28 = 925 psi. Brought forward, which P bears from 122 L on, 936 psi,
    it would need 122 + 100.6 = 222.6 L, 1295 psi: between the two the change stands where it falls, in the stretch.
    """
    found = with_p(psi)
    assert found.go
    brought = [change for change in found.supplies["cart"].change_overs if change.early]
    inside = [change for change in found.supplies["cart"].change_overs if change.inside_no_change]
    assert (bool(brought), bool(inside)) == ((True, False) if psi >= 1310 else (False, True))
    assert any(each.code == "change_in_no_change" for each in found.findings) == bool(inside)
    assert at(found, [kpa or 0.0 for kpa in found.start_kpa["cart"]]).go


def test_below_what_it_needs_it_is_a_no_go() -> None:
    """At 900 psi P holds 112 L of the 119 L."""
    assert not with_p(900).go


@pytest.mark.hazard(31)
def test_where_the_order_of_use_matters_the_proof_decides() -> None:
    """The only 50-psi outlet is on P, and a stretch without changes may have it robbed: whatever is found is go."""
    b, c = (cylinder(name, psi, outlets=(METER,)) for name, psi in (("b", 1250), ("c", 1500)))
    for psi in (930, 1000, 1200, 1500, 1800):
        p = cylinder("p", psi, outlets=(METER, HIGH_PRESSURE))
        legs = leg(15.0, MASK_8, no_change=True), leg(25.0, MASK_8), leg(30.0, VENTILATOR)
        found = planned(cart(b, c, p), *legs)
        if found.go:
            assert at(found, [kpa or 0.0 for kpa in found.start_kpa["cart"]]).go


@pytest.mark.hazard(31)
@pytest.mark.parametrize("kind", ["manifold", "cylinders"])
def test_a_supply_emptied_to_nothing_departs_with_what_is_needed(kind: SupplyKind) -> None:
    """0.1 L from 0.5 L of water capacity: 0.1 / 0.5 x 101.3 kPa = 20.3 kPa, and 100 psi that a gauge may read high."""
    policy = policy_defaults("road")._replace(
        reserve_factor=1.0, reserve_time_min=0.0, spare_cylinders=0, change_over_at_kpa=0.0, must_hold=()
    )
    one = cylinder("A", 1500)._replace(water_capacity_l=0.5)
    drop = Device("prongs", "nasal_cannula", flow_l_per_min=0.1)
    made = plan(trip([Supply("cart", kind, cylinders=(one,))], leg(1.0, drop), policy=policy))
    (found,) = made.supplies["cart"].cylinders
    assert found.start_at_least_kpa == pytest.approx(100 * KPA_PER_PSI + 0.1 / 0.5 * 101.325, abs=0.2)


@pytest.mark.hazard(31)
def test_where_the_proof_fails_the_readings_are_the_figures(monkeypatch: pytest.MonkeyPatch) -> None:
    outlets = ((METER,), (METER, HIGH_PRESSURE))
    two = cart(*(cylinder(name, 2000, outlets=have) for name, have in zip("ab", outlets, strict=True)))
    legs = leg(10.0, MASK_8), leg(10.0, VENTILATOR)
    proven = start_psi(planned(two, *legs))
    assert all(psi is not None and psi < 1990.0 for psi in proven)
    monkeypatch.setattr(departure, "_proven", lambda *_: False)
    assert start_psi(planned(two, *legs)) == pytest.approx([2000.0, 2000.0])


@pytest.mark.hazard(31, 41)
def test_a_vessel_of_liquid_departs_with_what_is_needed_and_what_is_kept() -> None:
    """40 min x 4 L/min = 160 L of gas above the 1 kg that stays; found from above."""
    liquid = Liquid(10.0, 1.0, 0.0, lost_to_min=40.0)
    vessel = Supply("cart", "litres", stated_l=9.0 * GAS_L_PER_KG, liquid=liquid)
    found = planned(vessel, leg(40.0, CANNULA)).supplies["cart"].start_at_least_kg
    assert found is not None
    assert 0.0 <= found - (1.0 + 160.0 / GAS_L_PER_KG) <= 1e-4 * 9.0
