"""Does a supply pass, and how many full cylinders make it: by hand.

Flows and litres are chosen so that a pencil does. Down to 500 psi a US-E gives 424.94 L from 2000 psi and 281.87 L from
1500 psi, by CoolProp (616 L = 0.28 L/psi x 2200 psi at 2200 psi and 21.1 degC; formula in tests/test_stock.py).
"""

from __future__ import annotations

import pytest

from planner.constants import KPA_PER_PSI
from planner.cylinders.onhand import OnHand, on_hand
from planner.flow.flows import flows
from planner.go.judge import Task, carries_duty, covers_need, full_counts, passes, serving_without_spare_l, task_of
from planner.go.whatifs.registry import scenarios
from planner.model import Cylinder, Device, Leg, Policy, SizeAsked, Supply, Trip, Use
from planner.planning import plan
from planner.problems import Position
from planner.report.card.card import card
from planner.report.checklist.changes import changes as printed_changes
from planner.report.words import change_sentence
from planner.trade.policy_table import policy_defaults
from tests.build import BAG, CANNULA, HIGH_PRESSURE, VENTILATOR, cylinder, flowmeter, leg, trip

BARE = policy_defaults("in_house")._replace(
    reserve_factor=1.0, reserve_time_min=0.0, handover_time_min=0.0, must_hold=()
)
MASK = Device("mask", "simple_mask", flow_l_per_min=8.0)
METER = flowmeter()
FULL_E_L, AT_1500_L = 424.94, 281.87

US_E = SizeAsked("US-E", cylinder("a", 0).water_capacity_l, 2200 * KPA_PER_PSI, 0.28, 2000 * KPA_PER_PSI)


def judged(whole: Trip, name: str = "cart") -> Task:
    return task_of(whole, whole.supplies[name], flows(whole.legs), scenarios(whole))


def have(whole: Trip, name: str = "cart") -> OnHand:
    found = on_hand(whole.supplies[name], whole.policy)
    assert found is not None
    return found


def cart(*cylinders: Cylinder, **changes: object) -> Supply:
    return Supply("cart", "cylinders", cylinders=cylinders)._replace(**changes)  # type: ignore[arg-type]


def passing(whole: Trip) -> bool:
    return passes(judged(whole), have(whole))


def bare_trip(supply: Supply, *legs: Leg, policy: Policy = BARE) -> Trip:
    return trip([supply], *legs, policy=policy)


def test_litres_that_cover_the_need() -> None:
    # 4 L/min x 100 min = 400 L of 424.9; 110 min are 440.
    assert passing(bare_trip(cart(cylinder("a", 2000)), leg(100.0, CANNULA)))
    assert not passing(bare_trip(cart(cylinder("a", 2000)), leg(110.0, CANNULA)))


@pytest.mark.hazard(10)
def test_the_spare_is_not_counted() -> None:
    spare = BARE._replace(spare_cylinders=1)
    one, two = cart(cylinder("a", 2000)), cart(cylinder("a", 2000), cylinder("b", 2000))
    assert not passing(bare_trip(one, leg(1.0, CANNULA), policy=spare))
    assert passing(bare_trip(two, leg(100.0, CANNULA), policy=spare))
    assert serving_without_spare_l(judged(whole := bare_trip(two, leg(1.0, CANNULA), policy=spare)), have(whole)) == (
        pytest.approx(FULL_E_L, rel=1e-3)
    )


@pytest.mark.hazard(12)
def test_litres_behind_the_wrong_outlet_do_not_count() -> None:
    meter, high = cylinder("a", 2000, outlets=(METER,)), cylinder("b", 2000, outlets=(HIGH_PRESSURE,))
    whole = bare_trip(cart(meter, high), leg(60.0, MASK))
    # 480 L for the mask, of which the first can give 424.9.
    assert not passing(whole)
    assert serving_without_spare_l(judged(whole), have(whole)) == pytest.approx(FULL_E_L, rel=1e-3)
    assert passing(bare_trip(cart(meter, high), leg(50.0, MASK)))
    unused = whole._replace(supplies={**whole.supplies, "spare": cart(meter)._replace(name="spare")})
    assert serving_without_spare_l(judged(unused, "spare"), have(unused, "spare")) == pytest.approx(FULL_E_L, rel=1e-3)


@pytest.mark.hazard(12)
def test_enough_litres_in_an_order_that_wastes_them_are_not_enough() -> None:
    """The first carries both legs, the second the mask alone. The mask comes first, and it takes the first cylinder."""
    both, meter = cylinder("a", 2000, outlets=(METER, HIGH_PRESSURE)), cylinder("b", 2000, outlets=(METER,))
    legs = leg(40.0, MASK), leg(40.0, VENTILATOR)
    whole = bare_trip(cart(both, meter), *legs)
    # 40 x 8 = 320 L of the 424.9, then 5.44 x 40 = 217 L are asked of the 105 that are left.
    assert not covers_need(judged(whole), have(whole))
    assert covers_need(judged(turned := bare_trip(cart(meter, both), *legs)), have(turned))


@pytest.mark.hazard(12, 13)
def test_a_fuller_cylinder_does_not_spoil_the_order_of_use() -> None:
    """Loading takes 100 L of the mask, without a change; then the ventilator takes 54 L, which only the first carries.

    With less than 100 L the first does not last through loading: the other one goes first, and it is spared for the
    end. From 100 to 154 L it would last, and leave too little: it is kept for the end all the same. With more, or
    where nothing has to be kept, it goes first.
    """
    both, meter = cylinder("a", 800, outlets=(METER, HIGH_PRESSURE)), cylinder("b", 2000, outlets=(METER,))
    legs = leg(12.5, MASK, no_change=True), leg(10.0, VENTILATOR)
    usable = have(bare_trip(cart(both, meter), *legs)).usable_l[0]
    assert 54.4 < usable < 100.0
    assert passing(bare_trip(cart(both, meter), *legs))
    fuller = both._replace(gauge_kpa=900 * KPA_PER_PSI)
    assert 100.0 < have(bare_trip(cart(fuller, meter), *legs)).usable_l[0] < 154.4
    for psi in range(800, 2001, 50):
        whole = bare_trip(cart(both._replace(gauge_kpa=psi * KPA_PER_PSI), meter), *legs)
        assert passing(whole)
        first = have(whole).usable_l[0]
        turns = plan(whole).supplies["cart"].order
        assert [turn.cylinder for turn in turns] == (["b", "a"] if first < 154.4 else ["a"])
    found = plan(bare_trip(cart(fuller, meter), *legs))
    (note,) = [each for each in found.findings if each.code == "other_first"]
    assert note.message == "cart: b goes first in place of a: a is kept for a later leg that others do not carry."


@pytest.mark.hazard(13)
def test_a_cylinder_kept_for_later_is_said_wherever_the_change_is() -> None:
    """Of 168 L by hand in A the hall takes 40 L; it would last through loading, 100 L, and then lack 26 of 54 L."""
    both, meter = cylinder("a", 1100, outlets=(METER, HIGH_PRESSURE)), cylinder("b", 2000, outlets=(METER,))
    legs = leg(5.0, MASK, name="Hall"), leg(12.5, MASK, name="Loading", no_change=True), leg(10.0, VENTILATOR)
    found = plan(bare_trip(cart(both, meter), *legs))
    assert found.go
    change = found.supplies["cart"].change_overs[0]
    assert (change.from_cylinder, change.to_cylinder, change.minute, change.early, change.kept) == (
        ("a", "b", 5.0, True, True)
    )
    (note,) = [each for each in found.findings if each.code == "early_change"]
    assert note.message == "cart: change from a to b before Loading, 5 min after departure: a is kept for a later leg."
    assert note.fix == "Keep a for later."
    assert change_sentence(found, change).endswith(": a is kept for a later leg.")
    # A may give 168 - 40 - 54.4 = 73.6 L more in the hall and still be kept, 9 min, in loading after the 324.9 L that
    # are left in B, and in the theatre at 5.4367 L/min.
    delays = {row.leg: row.minutes for row in found.breaking_delays}
    assert delays == pytest.approx({"Hall": 73.6 / 8.0, "Loading": (324.9 + 73.6) / 8.0, "leg": 73.6 / 5.4367}, abs=0.3)
    assert "Early: a is kept for a later leg." in repr(printed_changes(found))
    assert "a to b is early: a is kept for a later leg." in repr(card(found))


@pytest.mark.hazard(13, 14)
def test_nobody_prepares_for_what_nobody_knows_but_the_plan_does() -> None:
    """Loading takes 100 L, the ventilator 54 L and, with no wall outlet free for 10 min, 54 L more. A holds 182 L by
    hand: enough for the plan, 28 L too little for the wait.

    Where that what-if need not hold A goes first, and it fails, since nobody knows of it at loading. Where it must
    hold, B takes the loading.
    """
    both, meter = cylinder("a", 1150, outlets=(METER, HIGH_PRESSURE)), cylinder("b", 2000, outlets=(METER,))
    legs = leg(12.5, MASK, no_change=True), leg(10.0, VENTILATOR)
    for must_hold, order in (((), ["a"]), (("no_wall_on_arrival",), ["b", "a"])):
        policy = BARE._replace(handover_time_min=10.0, must_hold=must_hold)
        found = plan(bare_trip(cart(both, meter), *legs, policy=policy))
        assert found.go
        assert [turn.cylinder for turn in found.supplies["cart"].order] == order
        (row,) = [row for row in found.whatifs if row.name == "no_wall_on_arrival"]
        assert row.holds == bool(must_hold)


@pytest.mark.hazard(15)
def test_a_backup_holds_the_reserve_time_at_the_highest_flow() -> None:
    # 30 min x (8 + 4) = 360 L; the busiest leg asks for two flowmeters.
    policy = BARE._replace(reserve_time_min=30.0)
    van = Supply("van", "cylinders", fixed=True, backup="cart", cylinders=(cylinder("main", 2000, "US-M"),))
    rides = leg(5.0, CANNULA, supply="van"), leg(5.0, CANNULA, MASK, supply="van")

    def carried(*cylinders: Cylinder) -> bool:
        whole = trip([cart(*cylinders), van], *rides, policy=policy)
        (duty,) = judged(whole).duties
        assert (duty.fixed, duty.need_l) == ("van", 360.0)
        assert passing(whole) == carries_duty(duty, have(whole))
        return carries_duty(duty, have(whole))

    assert carried(cylinder("a", 2000, outlets=(METER, METER)))
    assert not carried(cylinder("a", 1500, outlets=(METER, METER)))
    assert not carried(cylinder("a", 2000, outlets=(METER,)))
    whole = trip([cart(), van._replace(backup=None)], *rides, policy=policy)
    assert judged(whole).duties == ()
    idle = trip([cart(cylinder("a", 2000)), van], leg(5.0, CANNULA), policy=policy)
    assert judged(idle).duties == ()


@pytest.mark.hazard(9)
def test_a_must_hold_what_if_decides() -> None:
    # 25 min of the bag are 375 L, 30 min 450.
    policy = BARE._replace(must_hold=("ventilator_fails",))
    assert passing(bare_trip(cart(cylinder("a", 2000)), leg(25.0, VENTILATOR), policy=policy))
    assert not passing(bare_trip(cart(cylinder("a", 2000)), leg(30.0, VENTILATOR), policy=policy))
    assert passing(bare_trip(cart(cylinder("a", 2000)), leg(30.0, VENTILATOR)))


def counted(supply: Supply, *legs: Leg, policy: Policy = BARE, size: SizeAsked = US_E) -> int | None:
    (found,) = full_counts(judged(bare_trip(supply, *legs, policy=policy)), [size])
    assert found.usable_each_l == pytest.approx(FULL_E_L, rel=1e-3)
    return found.count


@pytest.mark.hazard(23)
def test_how_many_full_cylinders_make_it() -> None:
    drawn = Supply("cart", "sizes")
    assert counted(drawn, leg(100.0, CANNULA)) == 1
    assert counted(drawn, leg(110.0, CANNULA)) == 2
    assert counted(drawn, leg(110.0, CANNULA), policy=BARE._replace(spare_cylinders=1)) == 3
    assert counted(drawn, leg(110.0, CANNULA), policy=BARE._replace(must_hold=("cylinder_lost",))) == 3
    # 40 min of the bag are 600 L.
    fails = BARE._replace(must_hold=("ventilator_fails",))
    assert counted(drawn, leg(40.0, VENTILATOR), policy=fails) == 2
    # 104 min x 4 = 416 L; at 1900 psi a full one would give 397.
    high = BARE._replace(must_hold=("gauge_reads_high",))
    assert counted(drawn, leg(104.0, CANNULA)) == 1
    assert counted(drawn, leg(104.0, CANNULA), policy=high) == 2


def test_no_number_of_cylinders_with_the_wrong_outlets_makes_it() -> None:
    assert counted(Supply("cart", "sizes", outlets=(METER,)), leg(10.0, VENTILATOR)) is None
    driven = US_E._replace(outlets=(HIGH_PRESSURE,))
    fails = BARE._replace(must_hold=("ventilator_fails",))
    assert counted(Supply("cart", "sizes"), leg(10.0, VENTILATOR), size=driven) == 1
    assert counted(Supply("cart", "sizes"), leg(10.0, VENTILATOR), size=driven, policy=fails) is None


def test_a_size_in_use_is_counted_with_the_outlets_of_any_cylinder_of_it() -> None:
    place = Position(20, 9)
    first = cylinder("a", 2000, outlets=(METER,))._replace(where=place)
    supply = cart(first, cylinder("b", 2000, outlets=(HIGH_PRESSURE,)))
    in_use = US_E._replace(outlets=(METER,), where=place)
    assert counted(supply, leg(10.0, VENTILATOR), size=in_use) == 1
    # Where it is asked for, its own outlets count.
    assert counted(supply, leg(10.0, VENTILATOR), size=in_use._replace(where=Position(30, 9))) is None


def test_no_number_of_cylinders_makes_it_where_none_is_usable() -> None:
    low = US_E._replace(full_gauge_kpa=500 * KPA_PER_PSI)
    whole = bare_trip(Supply("cart", "sizes"), leg(10.0, CANNULA))
    (found,) = full_counts(judged(whole), [low._replace(full_mass_kg=8.0)])
    assert (found.count, found.mass_kg, found.usable_each_l) == (None, None, 0.0)
    (heavy,) = full_counts(
        judged(bare_trip(Supply("cart", "sizes"), leg(110.0, CANNULA))), [US_E._replace(full_mass_kg=8.0)]
    )
    assert (heavy.count, heavy.mass_kg) == (2, 16.0)


def test_flows_that_a_cylinder_may_have_to_carry() -> None:
    policy = BARE._replace(must_hold=("ventilator_fails",), reserve_time_min=1.0)
    van = Supply("van", "cylinders", fixed=True, backup="cart", cylinders=(cylinder("main", 2000),))
    two = leg(5.0, VENTILATOR)._replace(uses=(Use(VENTILATOR, "cart"), Use(BAG, "van")))
    found = judged(trip([cart(cylinder("a", 2000)), van], two, policy=policy)).flows
    peaks = [max((segment.flow_l_per_min for segment in flow), default=0.0) for flow in found]
    assert peaks == pytest.approx([5.4367, 5.4367, 15.0, 15.0], abs=1e-4)


def test_a_cylinder_that_serves_one_of_two_legs_counts() -> None:
    driven, meter = cylinder("a", 2000, outlets=(HIGH_PRESSURE,)), cylinder("b", 2000, outlets=(METER,))
    whole = bare_trip(cart(driven, meter), leg(5.0, VENTILATOR), leg(5.0, MASK))
    assert serving_without_spare_l(judged(whole), have(whole)) == pytest.approx(2.0 * FULL_E_L, rel=1e-3)


@pytest.mark.hazard(12)
def test_the_order_of_use_counts_where_no_cylinder_carries_all_legs_either() -> None:
    """As where the order wastes litres, with an empty third one for the ventilator: no leg is carried by all three."""
    both, meter = cylinder("a", 2000, outlets=(METER, HIGH_PRESSURE)), cylinder("b", 2000, outlets=(METER,))
    driven = cylinder("c", 300, outlets=(HIGH_PRESSURE,))
    whole = bare_trip(cart(both, meter, driven), leg(40.0, MASK), leg(40.0, VENTILATOR))
    assert not covers_need(judged(whole), have(whole))


def test_a_pipeline_has_no_reserve_and_no_backup_to_ask() -> None:
    policy = BARE._replace(reserve_time_min=30.0, reserve_factor=2.0)
    wall = Supply("wall", "pipeline", fixed=True, backup="cart")
    whole = trip([cart(cylinder("a", 2000)), wall], leg(5.0, MASK, supply="wall"), policy=policy)
    assert judged(whole, "wall").need.required_l == 40.0
    assert judged(whole).duties == ()


def test_how_many_full_cylinders_a_backup_needs() -> None:
    """30 min of 8 L/min are 240 L, of 13.7 L/min 411 L: one of 424.94 L, which a gauge that reads high does not change.

    Of a supply that is not in use and backs up none nothing is asked.
    """
    policy = BARE._replace(reserve_time_min=30.0, must_hold=("gauge_reads_high",))
    van = Supply("van", "cylinders", fixed=True, backup="drawn", cylinders=(cylinder("main", 2000, "US-M"),))
    drawn = Supply("drawn", "sizes")
    for flow_l_per_min in (8.0, 13.7):
        mask = MASK._replace(flow_l_per_min=flow_l_per_min)
        whole = trip([drawn, van], leg(5.0, mask, supply="van"), policy=policy)
        assert [row.count for row in full_counts(judged(whole, "drawn"), [US_E])] == [1]
    alone = trip([drawn, van._replace(backup=None)], leg(5.0, MASK, supply="van"), policy=policy)
    assert [row.count for row in full_counts(judged(alone, "drawn"), [US_E])] == [0]
