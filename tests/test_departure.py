"""The least gauge of each cylinder to depart with, by hand.

Flows and litres are chosen so that a pencil does. Down to 500 psi a US-E gives 424.94 L from 2000 psi, 310.53 L from
1600 psi and 281.87 L from 1500 psi, a US-D 4/7 of that, by CoolProp (616 L = 0.28 L/psi x 2200 psi at 2200 psi and
21.1 degC; formula in tests/test_stock.py). The ventilator draws 10 x 0.39 / 0.79 + 0.5 = 5.4367 L/min.
"""

from __future__ import annotations

import pytest

from planner.constants import KPA_PER_PSI
from planner.cylinders.depletion import Tank, serving_of
from planner.cylinders.onhand import on_hand
from planner.flow.demand import flows
from planner.go.departure import _Asked, least_departure_gauges_kpa
from planner.go.judge import case
from planner.go.scenarios import Scenario, scenarios
from planner.model import Cylinder, Device, Leg, Outlet, Policy, Supply, Trip
from planner.trade.policy_table import policy_defaults
from tests.build import BAG, CANNULA, HIGH_PRESSURE, VENTILATOR, cylinder, flowmeter, leg, trip

BARE = policy_defaults("in_house")._replace(
    reserve_factor=1.0, reserve_time_min=0.0, handover_time_min=0.0, must_hold=()
)
MASK = Device("mask", "simple_mask", flow_l_per_min=8.0)
METER = flowmeter()
BOTH = (METER, HIGH_PRESSURE)
FULL_E_L, AT_1600_L, AT_1500_L = 424.94, 310.53, 281.87
AT_1500_D_L = 161.07
VENTILATOR_L_PER_MIN = 5.43671


def cart(*cylinders: Cylinder, **changes: object) -> Supply:
    return Supply("cart", "cylinders", cylinders=cylinders)._replace(**changes)  # type: ignore[arg-type]


def bare_trip(supply: Supply, *legs: Leg, policy: Policy = BARE) -> Trip:
    return trip([supply], *legs, policy=policy)


def all_psi(whole: Trip) -> list[float | None]:
    supply = whole.supplies["cart"]
    stock = on_hand(supply, whole.policy)
    assert stock is not None
    found = least_departure_gauges_kpa(case(whole, supply, flows(whole.legs), scenarios(whole)), stock)
    return [None if least is None else least / KPA_PER_PSI for least in found]


def least_psi(whole: Trip, index: int = 0) -> float | None:
    return all_psi(whole)[index]


def test_the_least_departure_gauge() -> None:
    # 281.87 L are there from 1500 psi on.
    asked = leg(AT_1500_L / 4.0, CANNULA)
    assert least_psi(bare_trip(cart(cylinder("a", 2000)), asked)) == pytest.approx(1500.0, abs=1.0)
    # It does not depend on the reading, and with an allowance it is so much higher.
    assert least_psi(bare_trip(cart(cylinder("a", 700)), asked)) == pytest.approx(1500.0, abs=1.0)
    allowing = BARE._replace(gauge_allowance_kpa=50 * KPA_PER_PSI)
    assert least_psi(bare_trip(cart(cylinder("a", 2000)), asked, policy=allowing)) == pytest.approx(1550.0, abs=1.0)


def test_the_least_departure_gauge_beside_another_cylinder() -> None:
    two = cart(cylinder("a", 2000), cylinder("b", 2000))
    together = leg((AT_1500_L + FULL_E_L) / 4.0, CANNULA)
    assert least_psi(bare_trip(two, together)) == pytest.approx(1500.0, abs=1.0)
    # Where the other does alone, nothing is asked of it: change-over, or what it reads.
    assert least_psi(bare_trip(two, leg(50.0, CANNULA))) == pytest.approx(500.0)
    low = cart(cylinder("a", 300), cylinder("b", 2000))
    assert least_psi(bare_trip(low, leg(50.0, CANNULA))) == pytest.approx(300.0)


def test_no_gauge_up_to_the_filling_pressure_may_be_enough() -> None:
    assert least_psi(bare_trip(cart(cylinder("a", 2000)), leg(200.0, CANNULA))) is None
    spare = BARE._replace(spare_cylinders=1)
    assert least_psi(bare_trip(cart(cylinder("a", 2000)), leg(1.0, CANNULA), policy=spare)) is None
    assert least_psi(bare_trip(cart(cylinder("a", 2000, gas="air")), leg(1.0, CANNULA))) is None
    assert least_psi(bare_trip(Supply("cart", "litres", stated_l=900.0), leg(1.0, CANNULA))) is None


def test_a_gauge_that_may_read_high_asks_for_100_psi_more() -> None:
    policy = BARE._replace(must_hold=("gauge_reads_high",))
    asked = leg(AT_1500_L / 4.0, CANNULA)
    assert least_psi(bare_trip(cart(cylinder("a", 2000)), asked, policy=policy)) == pytest.approx(1600.0, abs=1.0)
    # The what-if asks nothing of it, the reserve does: 100 psi do not count then.
    reserve = policy._replace(reserve_factor=2.0)
    two = cart(cylinder("a", 2000), cylinder("b", 2000))
    half = leg((AT_1500_L + FULL_E_L) / 8.0, CANNULA)
    assert least_psi(bare_trip(two, half, policy=reserve)) == pytest.approx(1500.0, abs=1.0)


def test_the_least_departure_gauge_where_outlets_differ() -> None:
    both, meter = cylinder("a", 2000, outlets=(METER, HIGH_PRESSURE)), cylinder("b", 2000, outlets=(METER,))
    # The ventilator draws 5.4367 L/min (10 x 0.39 / 0.79 + 0.5): 281.87 L in 51.85 min, which only the first carries.
    whole = bare_trip(cart(both, meter), leg(AT_1500_L / 5.4367, VENTILATOR), leg(20.0, MASK))
    assert least_psi(whole, 0) == pytest.approx(1500.0, abs=1.0)
    # The mask takes 160 L, of which the first has 424.94 - 281.87 = 143.07 left: 16.93 L of the second, by the hand
    # method 16.93 / 0.28 = 60 psi above change-over.
    assert least_psi(whole, 1) == pytest.approx(560.5, abs=3.0)
    assert least_psi(bare_trip(cart(both, meter), leg(10.0, VENTILATOR)), 1) == pytest.approx(500.0)
    low = cylinder("b", 200, outlets=(METER,))
    assert least_psi(bare_trip(cart(both, low), leg(10.0, VENTILATOR)), 1) == pytest.approx(200.0)
    assert least_psi(bare_trip(cart(both, meter), leg(90.0, VENTILATOR)), 0) is None


def test_the_least_departure_gauge_of_a_manifold() -> None:
    manifold = cart(cylinder("a", 2000), cylinder("b", 2000), kind="manifold")
    # 563.7 L from two at 1500 psi; with one withheld as spare, 281.87 are asked of one.
    assert least_psi(bare_trip(manifold, leg(2 * AT_1500_L / 4.0, CANNULA))) == pytest.approx(1500.0, abs=1.0)
    spare = BARE._replace(spare_cylinders=1)
    assert least_psi(bare_trip(manifold, leg(AT_1500_L / 4.0, CANNULA), policy=spare)) == pytest.approx(1500.0, abs=1.0)
    assert least_psi(bare_trip(manifold, leg(1.0, CANNULA._replace(flow_l_per_min=0.0)))) == pytest.approx(500.0)
    assert least_psi(bare_trip(manifold, leg(1.0, CANNULA), policy=BARE._replace(spare_cylinders=2))) is None
    driven = bare_trip(manifold._replace(outlets=(METER,)), leg(1.0, VENTILATOR))
    assert least_psi(driven) is None


def test_what_a_cylinder_is_asked_by_one_condition_alone() -> None:
    """281.87 L from two: nothing of the first for the need; with the largest lost it must give them all."""
    lost = BARE._replace(must_hold=("cylinder_lost",))
    two = cart(cylinder("a", 2000), cylinder("b", 2000))
    asked = leg(AT_1500_L / 4.0, CANNULA)
    assert all_psi(bare_trip(two, asked)) == pytest.approx([500.0, 500.0])
    assert all_psi(bare_trip(two, asked, policy=lost)) == pytest.approx([1500.0, 1500.0], abs=1.0)


def test_change_over_with_the_allowance_is_the_least_that_is_ever_asked() -> None:
    allowing = BARE._replace(gauge_allowance_kpa=50 * KPA_PER_PSI)
    two = cart(cylinder("a", 2000), cylinder("b", 2000))
    assert all_psi(bare_trip(two, leg(50.0, CANNULA), policy=allowing)) == pytest.approx([550.0, 550.0])
    # 1 L is 0.01 psi of an H at the most: 3.14 L/psi.
    large = cart(cylinder("a", 2000, "US-H"))
    assert all_psi(bare_trip(large, leg(0.01, CANNULA), policy=allowing)) == pytest.approx([550.0], abs=0.02)
    mixed = cart(cylinder("a", 2000, outlets=BOTH), cylinder("b", 2000, outlets=(METER,)))
    ride = leg(10.0, VENTILATOR)
    assert all_psi(bare_trip(mixed, ride, policy=allowing))[1] == pytest.approx(550.0)
    manifold = cart(cylinder("a", 2000), cylinder("b", 2000), kind="manifold")
    idle = leg(1.0, CANNULA._replace(flow_l_per_min=0.0))
    assert all_psi(bare_trip(manifold, idle, policy=allowing)) == pytest.approx([550.0, 550.0])


def test_a_lost_cylinder_where_only_the_stand_in_needs_another_outlet() -> None:
    """Both carry the ventilator, the first alone the resuscitator.

    The ventilator takes 161.07 L in 29.63 min: with the larger one lost the smaller must give them, 1500 psi of a US-D.
    A resuscitator of 9.514 L/min from departure on takes 281.87 L, 1500 psi of a US-E.
    """
    policy = BARE._replace(must_hold=("cylinder_lost", "ventilator_fails"))
    minutes = AT_1500_D_L / VENTILATOR_L_PER_MIN
    bag = BAG._replace(flow_l_per_min=AT_1500_L / minutes)
    have = cart(cylinder("a", 2000, outlets=BOTH), cylinder("b", 2000, "US-D", outlets=(HIGH_PRESSURE,)))
    whole = bare_trip(have, leg(minutes, VENTILATOR), policy=policy)
    assert all_psi(whole._replace(devices={**whole.devices, "bag": bag})) == pytest.approx([1500.0, 1500.0], abs=1.0)
    # A third like the second: whichever of the three is lost, the other two carry the ventilator.
    third = cylinder("c", 2000, "US-D", outlets=(HIGH_PRESSURE,))
    more = whole._replace(supplies={"cart": have._replace(cylinders=(*have.cylinders, third))})
    assert all_psi(more._replace(devices={**whole.devices, "bag": bag})) == pytest.approx(
        [1500.0, 500.0, 500.0], abs=1.0
    )


def test_a_lost_cylinder_where_outlets_differ() -> None:
    """200 L for the ventilator, on a or c, and 506.81 L for the mask, on any: two of three must give 706.81 L.

    706.81 = 424.94 + 281.87, so that each may be as low as 1500 psi while the others stand at 2000.
    """
    policy = BARE._replace(must_hold=("cylinder_lost",))
    rides = leg(200.0 / VENTILATOR_L_PER_MIN, VENTILATOR), leg((FULL_E_L + AT_1500_L - 200.0) / 8.0, MASK)
    three = [
        cylinder("a", 2000, outlets=BOTH),
        cylinder("b", 2000, outlets=(METER,)),
        cylinder("c", 2000, outlets=BOTH),
    ]
    assert all_psi(bare_trip(cart(*three), *rides, policy=policy)) == pytest.approx([1500.0] * 3, abs=1.0)
    # A ventilator that takes 310.53 L asks 1600 psi of a, should c be lost, and of c, should a be lost; b lacks
    # 281.87 L as before.
    longer = leg(AT_1600_L / VENTILATOR_L_PER_MIN, VENTILATOR), leg((FULL_E_L + AT_1500_L - AT_1600_L) / 8.0, MASK)
    found = all_psi(bare_trip(cart(*three), *longer, policy=policy))
    assert found == pytest.approx([1600.0, 1500.0, 1600.0], abs=1.0)
    # Without the what-if b and c do alone: 849.88 L, of which c carries the ventilator. Of c nothing is asked.
    short = leg(100.0 / VENTILATOR_L_PER_MIN, VENTILATOR), leg(100.0 / 8.0, MASK)
    assert all_psi(bare_trip(cart(*three), *short)) == pytest.approx([500.0] * 3)


def test_of_each_kind_of_outlets_the_largest_may_be_lost() -> None:
    """Only the small ones carry the ventilator, 281.87 L; then the mask takes 100 L.

    One small one is lost: the other must have 281.87 L, which is 1500 psi, while a large one feeds the mask. A large
    one is lost: there is another. Alone, a small one can have no gauge that is enough: without it nothing carries the
    ventilator, however large the others are.
    """
    policy = BARE._replace(must_hold=("cylinder_lost",))
    small = [cylinder(label, 2000, outlets=BOTH) for label in "ae"]
    large = [cylinder(label, 2000, "US-M", outlets=(METER,)) for label in "bcd"]
    rides = leg(AT_1500_L / VENTILATOR_L_PER_MIN, VENTILATOR), leg(12.5, MASK)
    found = all_psi(bare_trip(cart(*small, *large), *rides, policy=policy))
    assert found == pytest.approx([1500.0, 1500.0, 500.0, 500.0, 500.0], abs=1.0)
    assert all_psi(bare_trip(cart(small[0], *large), *rides, policy=policy)) == [None] * 4


def test_a_manifold_that_lacks_the_outlet_of_a_duty_of_no_litres() -> None:
    """As backup for a reserve time of 0 min it owes the van's mask nothing; the ventilator takes 2 x 281.87 L of it."""
    manifold = cart(
        cylinder("a", 2000, outlets=(HIGH_PRESSURE,)), cylinder("b", 2000, outlets=(HIGH_PRESSURE,)), kind="manifold"
    )
    van = Supply("van", "cylinders", fixed=True, backup="cart", cylinders=(cylinder("main", 2000),))
    on_van = leg(5.0, MASK, supply="van")
    ride = leg(2.0 * AT_1500_L / VENTILATOR_L_PER_MIN, VENTILATOR)
    assert all_psi(trip([manifold, van], ride, on_van, policy=BARE)) == pytest.approx([1500.0, 1500.0], abs=1.0)
    allowing = BARE._replace(gauge_allowance_kpa=50 * KPA_PER_PSI)
    assert all_psi(trip([manifold, van], ride, on_van, policy=allowing)) == pytest.approx([1550.0, 1550.0], abs=1.0)
    assert all_psi(trip([manifold, van], on_van, policy=allowing)) == pytest.approx([550.0, 550.0])
    low = manifold._replace(cylinders=tuple(one._replace(gauge_kpa=300 * KPA_PER_PSI) for one in manifold.cylinders))
    assert all_psi(trip([low, van], on_van, policy=BARE)) == pytest.approx([300.0, 300.0])
    # Two filled to 2200 psi hold 2 x 481.68 L; 1000 L are asked.
    longer = leg(1000.0 / VENTILATOR_L_PER_MIN, VENTILATOR)
    assert all_psi(trip([manifold, van], longer, on_van, policy=BARE)) == [None, None]


def small(label: str, outlets: tuple[Outlet, ...] = BOTH) -> Cylinder:
    """A two-thousandth of a US-E: 0.1409 L from 1500 psi, 0.2125 L from 2000 psi, 0.2408 L when filled."""
    whole = cylinder(label, 2000, outlets=outlets)
    return whole._replace(water_capacity_l=whole.water_capacity_l / 2000.0)


def test_parts_of_a_litre_count() -> None:
    tenths = leg(1.0, CANNULA._replace(flow_l_per_min=2.0 * AT_1500_L / 2000.0))
    manifold = cart(small("a"), small("b"), kind="manifold")
    assert all_psi(bare_trip(manifold, tenths)) == pytest.approx([1500.0, 1500.0], abs=1.0)
    # Nothing is asked of it, and so it does not matter that both count as spare.
    idle = leg(1.0, CANNULA._replace(flow_l_per_min=0.0))
    spare = BARE._replace(spare_cylinders=2)
    assert all_psi(bare_trip(manifold, idle, policy=spare)) == pytest.approx([500.0, 500.0])


def test_no_gauge_is_enough_where_all_is_lost() -> None:
    """The cart is backup of the van for a reserve time of 0 min, and lacks the outlet for it: outlets differ."""
    driven = small("a", outlets=(HIGH_PRESSURE,))
    van = Supply("van", "cylinders", fixed=True, backup="cart", cylinders=(cylinder("main", 2000),))
    rides = leg(0.01, VENTILATOR), leg(1.0, MASK, supply="van")
    # 0.0544 L; 891.4 psi by CoolProp, by the hand method 500 + 0.0544 / 0.00014 = 888.
    assert all_psi(trip([cart(driven), van], *rides, policy=BARE))[0] == pytest.approx(891.4, abs=1.0)
    lost = BARE._replace(must_hold=("cylinder_lost",))
    assert all_psi(trip([cart(driven), van], *rides, policy=lost)) == [None]
    # The cart as a vehicle's own supply, without a backup: 0.05 L are asked, and none are left.
    fixed = cart(driven, fixed=True)
    lost = BARE._replace(must_hold=("vehicle_supply_lost",))
    assert all_psi(trip([fixed, van], *rides, policy=lost)) == [None]


def test_an_empty_cylinder_may_be_asked_for_something() -> None:
    """As where outlets differ: the ventilator takes 281.87 L of the first, the mask 16.93 L of the second."""
    both, low = cylinder("a", 2000, outlets=BOTH), cylinder("b", 200, outlets=(METER,))
    whole = bare_trip(cart(both, low), leg(AT_1500_L / VENTILATOR_L_PER_MIN, VENTILATOR), leg(20.0, MASK))
    assert least_psi(whole, 1) == pytest.approx(560.5, abs=3.0)


def test_of_two_that_may_be_equally_full_either_may_be_lost() -> None:
    """Only the first carries the ventilator. Filled, each is as full as the other, and either may be lost.

    A search from the filling pressure down finds no gauge, though with less in the first the second would be lost.
    """
    policy = BARE._replace(must_hold=("cylinder_lost",))
    both, meter = cylinder("a", 2200, outlets=BOTH), cylinder("b", 2200, outlets=(METER,))
    rides = leg(10.0, VENTILATOR), leg(10.0, MASK)
    assert all_psi(bare_trip(cart(both, meter), *rides, policy=policy)) == [None, None]
    # With a third like the first, each of the two carries the ventilator when the other is lost: 54.37 L, from
    # 696.9 psi on by CoolProp. The second has enough for the mask.
    third = both._replace(label="c")
    found = all_psi(bare_trip(cart(both, meter, third), *rides, policy=policy))
    assert found == pytest.approx([696.9, 500.0, 696.9], abs=0.5)


def test_a_lost_cylinder_of_less_than_half_a_litre() -> None:
    """A two-thousandth of the litres and of the flows above: 1500 psi each."""
    policy = BARE._replace(must_hold=("cylinder_lost",))
    three = [small("a", outlets=BOTH), small("b", outlets=(METER,)), small("c", outlets=BOTH)]
    rides = (
        leg(0.1 / VENTILATOR_L_PER_MIN, VENTILATOR),
        leg(1.0, MASK._replace(flow_l_per_min=(FULL_E_L + AT_1500_L - 200.0) / 2000.0)),
    )
    assert all_psi(bare_trip(cart(*three), *rides, policy=policy)) == pytest.approx([1500.0] * 3, abs=1.0)


def test_gauges_that_read_high_where_outlets_differ() -> None:
    """100 psi less of every reading: 424.94 L of the first at 2100 psi and 281.87 L of the second at 1600 psi.

    The ventilator takes 200 L of the first, the mask the other 224.94 L of it and 281.87 L of the second.
    """
    policy = BARE._replace(must_hold=("gauge_reads_high",))
    both, meter = cylinder("a", 2100, outlets=BOTH), cylinder("b", 2100, outlets=(METER,))
    idle = cylinder("c", 2200, "US-H", outlets=(HIGH_PRESSURE,))
    rides = leg(200.0 / VENTILATOR_L_PER_MIN, VENTILATOR), leg((FULL_E_L + AT_1500_L - 200.0) / 8.0, MASK)
    found = all_psi(bare_trip(cart(both, meter, idle), *rides, policy=policy))
    assert found[:2] == pytest.approx([1600.0, 1600.0], abs=1.0)
    assert all_psi(bare_trip(cart(both, meter), *rides, policy=policy)) == pytest.approx([1600.0, 1600.0], abs=1.0)
    # A what-if that asks less, a resuscitator of 1 L/min in place of the ventilator, does not change that.
    whole = bare_trip(
        cart(both, meter), *rides, policy=BARE._replace(must_hold=("ventilator_fails", "gauge_reads_high"))
    )
    found = all_psi(whole._replace(devices={**whole.devices, "bag": BAG._replace(flow_l_per_min=1.0)}))
    assert found == pytest.approx([1600.0, 1600.0], abs=1.0)


def test_a_backup_duty_where_outlets_differ() -> None:
    """30 min of 8 L/min are 240 L, which the first two carry.

    At 700 and 1000 psi they hold 55.23 and 139.36 L. The first lacks 240 - 139.36 = 100.64 L, 862.6 psi; the second
    240 - 55.23 = 184.77 L, 1160.2 psi, by CoolProp. While the two are as they are, no gauge of the third is enough.
    """
    policy = BARE._replace(reserve_time_min=30.0)
    van = Supply("van", "cylinders", fixed=True, backup="cart", cylinders=(cylinder("main", 2000, "US-M"),))
    have = cart(
        cylinder("a", 700, outlets=(METER,)),
        cylinder("b", 1000, outlets=BOTH),
        cylinder("c", 2000, outlets=(HIGH_PRESSURE,)),
    )
    found = all_psi(trip([have, van], leg(5.0, MASK, supply="van"), policy=policy))
    assert found[:2] == pytest.approx([862.6, 1160.2], abs=0.5)
    assert found[2] is None


def test_an_order_of_use_that_wastes_litres_asks_more_than_there_can_be() -> None:
    """The mask comes first and takes 320 L of the first; the ventilator asks for 217 L of it: more than it can hold."""
    both, meter = cylinder("a", 2000, outlets=BOTH), cylinder("b", 2000, outlets=(METER,))
    rides = leg(40.0, MASK), leg(40.0, VENTILATOR)
    assert all_psi(bare_trip(cart(both, meter), *rides)) == [None, None]
    # In the other order the ventilator's 217.47 L are there from 1274.9 psi on, by CoolProp. They leave 207.47 L for
    # the mask, and 112.53 L of the 320 to the other one: 904.8 psi.
    assert all_psi(bare_trip(cart(meter, both), *rides)) == pytest.approx([904.8, 1274.9], abs=0.5)


def test_a_cylinder_that_a_stretch_passed_over_might_have_carried_it() -> None:
    """100 L without a change, for which a (83.11 L) and c (55.23 L) are too short: b goes first, and gives them.

    Then the ventilator takes 54.37 L of a, and two masks at once take 400 L, which only b carries, and it has 324.94.
    With 100 L in c, from 860.3 psi on by CoolProp, b is spared. More in a does it too, if it is enough for both its
    legs: 154.37 L, 1053.0 psi. With 100 to 154 L a takes the first leg and lacks some for the ventilator.
    """
    have = cart(
        cylinder("a", 800, outlets=BOTH),
        cylinder("c", 700, outlets=(METER,)),
        cylinder("b", 2000, outlets=(METER,) * 2),
    )
    other = MASK._replace(name="other")
    rides = leg(12.5, MASK, no_change=True), leg(10.0, VENTILATOR), leg(25.0, MASK, other)
    found = all_psi(bare_trip(have, *rides))
    assert found[:2] == pytest.approx([1053.0, 860.3], abs=0.5)
    # Filled to 2200 psi b has 481.68 - 100 = 381.68 L for the two masks.
    assert found[2] is None


def test_of_a_kind_the_largest_is_lost_and_not_a_smaller_one() -> None:
    """139.36, 281.87 and 424.94 L carry the ventilator, which takes 400 L; the fourth gives the mask its 80 L.

    The largest lost, the first lacks 400 - 281.87 = 118.13 L, the second 400 - 139.36 = 260.64 L. The third with less
    than the second has: then the second is lost, and the third lacks 260.64 L too. 924.8 and 1425.9 psi by CoolProp.
    """
    policy = BARE._replace(must_hold=("cylinder_lost",))
    three = [cylinder(label, psi, outlets=BOTH) for label, psi in (("a", 1000), ("b", 1500), ("c", 2000))]
    rides = leg(400.0 / VENTILATOR_L_PER_MIN, VENTILATOR), leg(10.0, MASK)
    for order in ((0, 1, 2), (2, 0, 1), (1, 2, 0)):
        have = cart(*(three[place] for place in order), cylinder("d", 2000, outlets=(METER,)))
        found = all_psi(bare_trip(have, *rides, policy=policy))
        assert [found[order.index(place)] for place in range(3)] == pytest.approx([924.8, 1425.9, 1425.9], abs=0.5)


def test_of_many_of_a_kind_only_the_largest_is_lost() -> None:
    """At 700, 800, 1000, 1500 and 2000 psi; the ventilator takes 540 L, the last cylinder gives the mask its 80 L.

    Without the fifth there are 55.23 + 83.11 + 139.36 + 281.87 = 559.57 L. Each of the four lacks 540 L less the three
    others: 35.66, 63.55, 119.79 and 262.30 L, at 629.5, 729.9, 930.7 and 1431.7 psi by CoolProp.
    """
    policy = BARE._replace(must_hold=("cylinder_lost",))
    have = [
        cylinder(label, psi, outlets=BOTH) for label, psi in zip("abcde", (700, 800, 1000, 1500, 2000), strict=True)
    ]
    rides = leg(540.0 / VENTILATOR_L_PER_MIN, VENTILATOR), leg(10.0, MASK)
    found = all_psi(bare_trip(cart(*have, cylinder("f", 2000, outlets=(METER,))), *rides, policy=policy))
    assert found[:4] == pytest.approx([629.5, 729.9, 930.7, 1431.7], abs=0.5)


def test_the_two_largest_of_a_kind_are_known() -> None:
    lost = Scenario("cylinder_lost", "cart", (), (), (), (), lose_largest=True)
    asked = _Asked(lost, [1.0, 2.0, 7.0, 3.0], serving_of([Tank(0.0)] * 4), ["one", "one", "one", "other"])
    assert asked._largest == {"one": [(7.0, [2]), (2.0, [1])], "other": [(3.0, [3])]}


def test_the_only_one_of_its_kind_may_be_lost_however_little_it_holds() -> None:
    """Of three tiny ones the first alone carries the ventilator: lost, it is missed, at any gauge."""
    policy = BARE._replace(must_hold=("cylinder_lost",))
    have = cart(small("a", outlets=(HIGH_PRESSURE,)), small("b", outlets=(METER,)), small("c", outlets=(METER,)))
    rides = leg(0.01, VENTILATOR), leg(0.01, MASK)
    assert all_psi(bare_trip(have, *rides, policy=policy)) == [None, None, None]
    # All of a vehicle's own supply lost, none is left, and 0.05 and 0.08 L are asked.
    lost = BARE._replace(must_hold=("vehicle_supply_lost",))
    assert all_psi(bare_trip(have._replace(fixed=True), *rides, policy=lost)) == [None, None, None]
    found = all_psi(bare_trip(have, *rides))
    assert None not in found
    both = cart(small("a", outlets=BOTH), small("b", outlets=(METER,)), fixed=True)
    assert all_psi(bare_trip(both, *rides, policy=lost)) == [None, None]
