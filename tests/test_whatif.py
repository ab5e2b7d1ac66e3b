"""What-ifs at their worst minute, by litres and minutes worked on paper.

A flow before (F) and one after (G) are given leg by leg. If things go wrong at minute s, F is drawn up to s, then G.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from planner.constants import KPA_PER_PSI
from planner.cylinders.depletion import Tank
from planner.cylinders.onhand import OnHand, on_hand
from planner.flow.flows import Flow, NoChange, Segment, flows
from planner.flow.outlets import Asks, OutletNeed
from planner.go.outcome import Outcome
from planner.go.totals import edges, most_drawn_l
from planner.go.whatif import Remaining, oxygen_for, reads_high_kpa, report, what_ifs
from planner.go.whatifs.no_wall_on_arrival import arrival_supply
from planner.go.whatifs.registry import scenarios
from planner.go.whatifs.scenario import Scenario, fallback
from planner.go.worst_minute import holds, outcome
from planner.model import Delay, Device, Divert, Leg, Outlet, Supply, Trip, Use
from planner.planning import plan
from planner.trade.policy_table import policy_defaults
from tests.build import BAG, CANNULA, HIGH_PRESSURE, VENTILATOR, cylinder, flowmeter, leg, trip

ROAD = policy_defaults("road")
ANY = Asks()
VENT = Asks((OutletNeed("high_pressure", 1.0, "vent"),))
METER = Asks((OutletNeed("flowmeter", 1.0, "bag"),))
TWO_METERS = Asks((OutletNeed("flowmeter", 1.0, "bag"), OutletNeed("flowmeter", 1.0, "mask")))
ONE, TWO = (Outlet("flowmeter"),), (Outlet("flowmeter"), Outlet("flowmeter"))


def course(ends: list[float], flows_l_per_min: list[float], asks: list[Asks] | None = None) -> Flow:
    """A flow by the minutes at which its legs end."""
    edges = pairwise([0.0, *ends])
    return tuple(
        Segment(low, high, number, flow, asks[number] if asks else ANY)
        for number, ((low, high), flow) in enumerate(zip(edges, flows_l_per_min, strict=True))
    )


def failing(before: Flow, after: Flow, no_change: tuple[NoChange, ...] = ()) -> Scenario:
    return Scenario("ventilator_fails", "cart", before, after, (), no_change, from_departure=False)


def ends(found: Outcome) -> tuple[float, float | None, float]:
    return found.from_min, found.out_min, found.left_l


@pytest.mark.hazard(9)
def test_the_stand_in_draws_more_so_departure_is_worst() -> None:
    # 30 min x 15 = 450 L of 500.
    scenario = failing(course([30.0], [5.0]), course([30.0], [15.0]))
    assert ends(outcome(scenario, [Tank(500.0)])) == (0.0, None, 50.0)
    # Of 300 L it takes 20 min.
    assert ends(outcome(scenario, [Tank(300.0)])) == (0.0, 20.0, 0.0)
    assert most_drawn_l(scenario) == 450.0


@pytest.mark.hazard(9)
def test_the_stand_in_draws_less_so_never_failing_is_worst() -> None:
    scenario = failing(course([30.0], [20.0]), course([30.0], [15.0]))
    assert ends(outcome(scenario, [Tank(700.0)])) == (30.0, None, 100.0)
    # 400 L are planned to be gone after 20 min; any earlier failure only stretches them.
    assert ends(outcome(scenario, [Tank(400.0)])) == (30.0, 20.0, 0.0)
    assert most_drawn_l(scenario) == 600.0


@pytest.mark.hazard(9)
def test_the_worst_minute_lies_between_two_legs() -> None:
    # The ventilator draws 20 then 5, the bag 15: it is worst to lose it at minute 10. 200 + 10 x 15 = 350 L.
    scenario = failing(course([10.0, 20.0], [20.0, 5.0]), course([10.0, 20.0], [15.0, 15.0]))
    assert ends(outcome(scenario, [Tank(400.0)])) == (10.0, None, 50.0)
    # Of 320 L, 120 are left at minute 10: 8 min more.
    assert ends(outcome(scenario, [Tank(100.0), Tank(220.0)])) == (10.0, 18.0, 0.0)
    assert most_drawn_l(scenario) == 350.0


def test_planned_oxygen_that_ends_is_the_worst_that_can_happen() -> None:
    # As planned 50 L last 5 min at 10 L/min, then none of the 8 min that follow are covered.
    scenario = failing(course([10.0, 12.0], [10.0, 1.0]), course([10.0, 12.0], [4.0, 4.0]))
    assert ends(outcome(scenario, [Tank(50.0)])) == (10.0, 5.0, 0.0)


def test_the_first_of_equally_bad_minutes() -> None:
    flat = course([10.0, 20.0], [3.0, 3.0])
    assert ends(outcome(failing(flat, flat), [Tank(70.0)])) == (0.0, None, 10.0)
    assert ends(outcome(failing(flat, flat), [Tank(45.0)])) == (0.0, 15.0, 0.0)


def test_oxygen_that_ends_in_a_time_without_flow_ends_when_it_flows_again() -> None:
    # 10 min x 5 = 50 L, then 10 min on another supply: the run-out is at minute 20.
    after = (Segment(0.0, 10.0, 0, 5.0, ANY), Segment(20.0, 30.0, 2, 5.0, ANY))
    before = tuple(segment._replace(flow_l_per_min=1.0) for segment in after)
    assert ends(outcome(failing(before, after), [Tank(50.0)])) == (0.0, 20.0, 0.0)


@pytest.mark.hazard(15)
def test_a_backup_that_is_not_in_use_before() -> None:
    # The vehicle's supply is lost at minute s: 4 x (30 - s) are drawn on the backup, most from departure on.
    scenario = failing((), course([30.0], [4.0]))
    assert ends(outcome(scenario, [Tank(150.0)])) == (0.0, None, 30.0)
    assert ends(outcome(scenario, [Tank(100.0)])) == (0.0, 25.0, 0.0)
    # The same where a cylinder does not fit.
    other = failing((), course([30.0], [4.0], [METER]))
    assert ends(outcome(other, [Tank(150.0, ONE), Tank(99.0, (HIGH_PRESSURE,))])) == (0.0, None, 30.0)


def test_from_departure_on_there_is_one_minute() -> None:
    scenario = failing(course([10.0], [5.0]), course([10.0], [6.0]))._replace(from_departure=True)
    assert ends(outcome(scenario, [Tank(100.0)])) == (0.0, None, 40.0)
    assert most_drawn_l(scenario) == 60.0
    assert holds(scenario, [Tank(60.0)])
    assert not holds(scenario, [Tank(59.0)])


def test_a_second_after_departure_can_be_worse_than_departure() -> None:
    """The ventilator (1 L/min) and bag with mask (3 L/min) fit the second cylinder only, the bag (2 L/min) both.

    Lost at departure, the bag begins on the first, 10 of its 10 L, and the second keeps 12 L for the 6 L of the last 2
    min. Lost a second later, the second is in use and gives 10 L to the bag: of 12 L two are left, and they last
    two thirds of a minute.
    """
    before = course([5.0, 7.0], [1.0, 3.0], [VENT, TWO_METERS])
    after = course([5.0, 7.0], [2.0, 3.0], [METER, TWO_METERS])
    tanks = [Tank(10.0, ONE), Tank(12.0, (HIGH_PRESSURE, *TWO))]
    found = outcome(failing(before, after), tanks)
    assert found.from_min == pytest.approx(0.0, abs=1e-4)
    assert found.from_min > 0.0
    assert found.out_min == pytest.approx(5.0 + 2.0 / 3.0, abs=1e-4)
    assert not holds(failing(before, after), tanks)


def test_the_minute_that_spoils_a_stretch_without_changes() -> None:
    """A pulse conserver of 0.4 L/min or, when it fails, 2 L/min, with a mask of 1 L/min in the last leg.

    Legs of 0.75, 0.5 (no change) and 0.5 min. A holds 2 L and has two flowmeters, C 1 L and one. Whoever comes to the
    stretch with 1 L or more in A stays on A and has none left for the last leg, which only A serves: worst is
    to have just 1 L. Lost at minute s before it: 0.4 s + 2 (0.75 - s) = 1, so s = 0.3125. It runs out at 1.25.
    """
    before = course([0.75, 1.25, 1.75], [0.4, 0.4, 1.4], [METER, METER, TWO_METERS])
    after = course([0.75, 1.25, 1.75], [2.0, 2.0, 3.0], [METER, METER, TWO_METERS])
    scenario = failing(before, after, (NoChange(0.75, 1.25, 1, 1),))
    found = outcome(scenario, [Tank(2.0, TWO), Tank(1.0, ONE)])
    assert found.from_min == pytest.approx(0.3125, abs=1e-4)
    assert found.out_min == pytest.approx(1.25, abs=1e-4)


def test_what_is_left_counts_where_it_serves_the_last_leg() -> None:
    scenario = failing(course([10.0], [1.0], [VENT]), course([10.0], [2.0], [METER]))
    tanks = [Tank(50.0, ONE), Tank(30.0, (HIGH_PRESSURE, *ONE))]
    # Lost at departure: 20 of the first, and both serve the bag. Never lost: 10 of the second, and the first is no use.
    assert ends(outcome(scenario, tanks)) == (10.0, None, 20.0)
    assert holds(scenario, tanks)


def test_worse_is_what_ends_earlier_after_its_case() -> None:
    late, early = Outcome(0.0, 12.0, 0, 0.0, 1.0, 20.0), Outcome(5.0, 11.0, 0, 0.0, 1.0, 20.0)
    much, little = Outcome(0.0, None, None, 30.0, 1.0, 20.0), Outcome(5.0, None, None, 20.0, 1.0, 20.0)
    assert early.worse_than(late)
    assert not late.worse_than(early)
    assert little.worse_than(much)
    assert not much.worse_than(little)
    assert late.worse_than(little)
    assert not little.worse_than(late)
    # Helped at minute 10 with half a minute left, and helped at minute 30 with two: the first is the closer call.
    closer, longer = Outcome(0.0, None, None, 0.5, 1.0, 10.0), Outcome(20.0, None, None, 2.0, 1.0, 30.0)
    assert closer.worse_than(longer)
    assert not little.worse_than(little._replace(left_l=20.0 + 1e-10))


def left(*litres: float) -> Remaining:
    """So many litres, each in a tank that fits everything, and no cylinder lost."""
    stated = stock(Supply("cart", "litres", stated_l=1.0))
    return Remaining(stated._replace(tanks=tuple(Tank(litre) for litre in litres)))


def test_a_row_of_the_plan() -> None:
    scenario = failing(course([10.0], [1.0]), course([10.0], [6.0]))._replace(
        legs=(leg(10.0, CANNULA, name="the walk"),)
    )
    good = report(scenario, outcome(scenario, [Tank(90.0)]), left(90.0), ROAD)
    # 90 - 60 = 30 L at 6 L/min.
    assert (good.holds, good.minutes_to_spare, good.runs_out_leg, good.short_l) == (True, 5.0, None, None)
    assert good.must_hold
    bad = report(scenario, outcome(scenario, [Tank(45.0)]), left(45.0), ROAD._replace(must_hold=()))
    assert (bad.holds, bad.minutes_to_spare, bad.runs_out_min) == (False, None, 7.5)
    assert (bad.runs_out_leg, bad.short_l, bad.must_hold) == ("the walk", 15.0, False)
    at_departure = scenario._replace(from_departure=True)
    assert report(at_departure, outcome(at_departure, [Tank(45.0)]), left(45.0), ROAD).short_l == 15.0
    still = failing(course([10.0], [1.0]), course([10.0], [0.0]))
    assert report(still, Outcome(0.0, None, None, 5.0, 0.0, 10.0), left(), ROAD).minutes_to_spare is None


def test_how_much_a_gauge_may_read_high() -> None:
    # 100 psi, or 2.5 % of a scale: 4000 psi give just that, 6000 psi 150, and the cylinder's own scale wins.
    assert reads_high_kpa(ROAD) == pytest.approx(100.0 * KPA_PER_PSI)
    wide = ROAD._replace(gauge_scale_kpa=6000.0 * KPA_PER_PSI)
    assert reads_high_kpa(wide) == pytest.approx(150.0 * KPA_PER_PSI)
    own = cylinder("a", 2000)._replace(gauge_scale_kpa=3000.0 * KPA_PER_PSI)
    assert reads_high_kpa(wide, own) == pytest.approx(100.0 * KPA_PER_PSI)


def stock(supply: Supply) -> OnHand:
    found = on_hand(supply, ROAD)
    assert found is not None
    return found


def unchanged(*, lose_one: bool = False, lose_all: bool = False, reads_high: bool = False) -> Scenario:
    flow = course([10.0], [4.0], [METER])
    return Scenario(
        "as planned", "cart", flow, flow, (), (), lose_one=lose_one, lose_all=lose_all, reads_high=reads_high
    )


def usable(have: OnHand) -> list[float]:
    return [tank.usable_l for tank in have.tanks]


@pytest.mark.hazard(10)
def test_the_largest_cylinder_is_lost() -> None:
    have = stock(Supply("cart", "cylinders", cylinders=(cylinder("a", 1500), cylinder("b", 2000), cylinder("c", 900))))
    lost = oxygen_for(unchanged(lose_one=True), ROAD, have).stock
    assert usable(lost) == [have.usable_l[0], 0.0, have.usable_l[2]]
    assert usable(oxygen_for(unchanged(lose_all=True), ROAD, have).stock) == [0.0, 0.0, 0.0]
    assert oxygen_for(unchanged(), ROAD, have).stock is have
    nothing = stock(Supply("cart", "cylinders"))
    assert oxygen_for(unchanged(lose_one=True), ROAD, nothing).stock is nothing


@pytest.mark.hazard(10)
def test_of_two_equally_large_ones_the_useful_one_is_lost() -> None:
    meter, high = cylinder("a", 2000, outlets=(flowmeter(),)), cylinder("b", 2000, outlets=(HIGH_PRESSURE,))
    for order in ((meter, high), (high, meter)):
        have = stock(Supply("cart", "cylinders", cylinders=order))
        lost = oxygen_for(unchanged(lose_one=True), ROAD, have).stock
        assert [tank.usable_l for tank in lost.tanks if Outlet("flowmeter", 15.0) in (tank.outlets or ())] == [0.0]


@pytest.mark.hazard(10)
def test_of_each_kind_of_outlets_the_largest_is_tried_and_the_worst_is_lost() -> None:
    """B holds most, but only A carries the ventilator: without A nothing does, at departure. C is never the worst."""
    a = cylinder("a", 2000, outlets=(flowmeter(), HIGH_PRESSURE))
    b, c = (cylinder(name, psi, outlets=(flowmeter(),)) for name, psi in (("b", 2100), ("c", 2000)))
    flow = course([30.0], [10.0], [VENT])
    lost = Scenario("cylinder_lost", "cart", flow, flow, (), (), lose_one=True)
    for order in ((a, b, c), (c, b, a)):
        have = stock(Supply("cart", "cylinders", cylinders=order))
        left = oxygen_for(lost, ROAD, have).stock
        assert left.each[order.index(a)].usable_l == 0.0
        assert outcome(lost, left.tanks, left.serving).out_min == 0.0


@pytest.mark.hazard(10)
def test_a_manifold_loses_the_litres_of_its_largest() -> None:
    have = stock(Supply("cart", "manifold", cylinders=(cylinder("a", 2000), cylinder("b", 2000, "US-M"))))
    lost = oxygen_for(unchanged(lose_one=True), ROAD, have).stock
    assert usable(lost) == pytest.approx([have.usable_l[0]])


def test_a_gauge_that_reads_high_takes_100_psi_away() -> None:
    high = stock(Supply("cart", "cylinders", cylinders=(cylinder("a", 1500),)))
    low = stock(Supply("cart", "cylinders", cylinders=(cylinder("a", 1400),)))
    assert usable(oxygen_for(unchanged(reads_high=True), ROAD, high).stock) == pytest.approx(low.usable_l)
    stated = stock(Supply("cart", "litres", stated_l=90.0))
    assert usable(oxygen_for(unchanged(reads_high=True), ROAD, stated).stock) == [90.0]


def test_where_every_kind_carries_every_leg_the_largest_of_all_is_lost() -> None:
    small = cylinder("a", 1000, outlets=(flowmeter(), HIGH_PRESSURE))
    large = cylinder("b", 2000, outlets=(flowmeter(),))
    flow = course([10.0], [4.0], [METER])
    lost = Scenario("cylinder_lost", "cart", flow, flow, (), (), lose_one=True)
    left = oxygen_for(lost, ROAD, stock(Supply("cart", "cylinders", cylinders=(small, large)))).stock
    assert left.usable_l[1] == 0.0
    assert left.usable_l[0] > 0.0


def test_of_the_largest_in_use_the_one_is_lost_that_is_missed_most() -> None:
    """Both give something to the masks of the first and the last leg; A alone carries the ventilator between them."""
    a = cylinder("a", 1900, outlets=(flowmeter(), HIGH_PRESSURE))
    b = cylinder("b", 2000, outlets=(flowmeter(),))
    flow = course([10.0, 20.0, 30.0], [4.0, 5.0, 4.0], [METER, VENT, METER])
    lost = Scenario("cylinder_lost", "cart", flow, flow, (), (), lose_one=True)
    left = oxygen_for(lost, ROAD, stock(Supply("cart", "cylinders", cylinders=(b, a)))).stock
    assert left.usable_l[1] == 0.0


def test_minutes_to_spare_at_a_very_small_flow() -> None:
    flow = course([10.0], [0.4])
    row = report(
        Scenario("cylinder_lost", "cart", flow, flow, (), ()),
        outcome(Scenario("cylinder_lost", "cart", flow, flow, (), ()), [Tank(8.0)]),
        left(8.0),
        ROAD,
    )
    # 8 - 4 = 4 L at 0.4 L/min.
    assert row.minutes_to_spare == pytest.approx(10.0)


def test_supplies_still_to_be_drawn_have_no_row() -> None:
    flow = course([10.0], [4.0])
    scenario = Scenario("cylinder_lost", "cart", flow, flow, (), ())
    assert what_ifs([scenario], {}, ROAD) == ()
    assert len(what_ifs([scenario], {"cart": (stock(Supply("cart", "litres", stated_l=90.0)), None)}, ROAD)) == 1


# The altered trips.

CART = Supply("cart", "cylinders", cylinders=(cylinder("a", 2000),))
VAN = Supply("van", "cylinders", fixed=True, backup="cart", cylinders=(cylinder("main", 2000, "US-M"),))
WALL = Supply("wall", "pipeline")
FAST = Device("fast", "simple_mask", flow_l_per_min=9.0)


def rows(found: Trip, name: str) -> dict[str, Scenario]:
    """The scenarios of a name by supply."""
    return {scenario.supply: scenario for scenario in scenarios(found) if scenario.name == name}


def steps(flow: Flow) -> list[tuple[float, float, float]]:
    return [(segment.start_min, segment.end_min, segment.flow_l_per_min) for segment in flow]


def test_longest_times_replace_durations_and_keep_delays_and_parts() -> None:
    slow = Leg(
        "slow", 10.0, (Use(CANNULA, "cart"), Use(FAST, "cart", for_min=4.0)), "cart", (Delay("a wait", 2.0),), 30.0
    )
    (scenario,) = rows(trip([CART], slow, leg(5.0, CANNULA)), "longest_times").values()
    assert steps(scenario.after) == [(0.0, 4.0, 13.0), (4.0, 32.0, 4.0), (32.0, 37.0, 4.0)]
    assert scenario.from_departure
    assert rows(trip([CART], leg(5.0, CANNULA)), "longest_times") == {}
    # A longer leg on the wall puts off what comes after it and changes nothing of it.
    waiting = leg(5.0, CANNULA, supply="wall")._replace(longest_min=15.0)
    assert rows(trip([CART, WALL], waiting, leg(5.0, CANNULA)), "longest_times") == {}


@pytest.mark.hazard(9)
def test_what_stands_in_for_a_ventilator() -> None:
    found = trip([CART], leg(10.0, VENTILATOR, CANNULA))
    (scenario,) = rows(found, "ventilator_fails").values()
    assert steps(scenario.after) == [(0.0, 10.0, 19.0)]
    assert not scenario.from_departure
    assert fallback(found, VENTILATOR) == BAG
    unnamed = trip([CART], leg(10.0, VENTILATOR._replace(if_it_fails=None)))
    (assumed,) = rows(unnamed, "ventilator_fails").values()
    assert steps(assumed.after) == [(0.0, 10.0, 15.0)]


@pytest.mark.hazard(9, 12)
def test_a_stand_in_of_the_same_flow_needs_its_own_outlet() -> None:
    """10 L/min at FiO2 1.0 become 10 L/min of a bag, through a flowmeter instead of the 50-psi outlet."""
    pure = VENTILATOR._replace(fio2=1.0, drive="electric", drive_gas_l_per_min=None)
    found = trip([CART], leg(10.0, pure))
    found = found._replace(devices={**found.devices, "bag": BAG._replace(flow_l_per_min=10.0)})
    (scenario,) = rows(found, "ventilator_fails").values()
    assert not holds(scenario, [Tank(999.0, (HIGH_PRESSURE,))])


def test_conservers_and_concentrators_fail_too() -> None:
    pulses = Device("pulses", "pulse_conserver", pulse_volume_l=0.02, rate_per_min=20.0, if_it_fails="cannula")
    maker = Device("maker", "concentrator", if_it_fails="cannula")
    found = trip([CART], leg(10.0, pulses), leg(10.0, maker), leg(1.0, CANNULA))
    (conserver,) = rows(found, "conserver_fails").values()
    assert steps(conserver.after) == [(0.0, 10.0, 4.0), (10.0, 20.0, 0.0), (20.0, 21.0, 4.0)]
    (concentrator,) = rows(found, "concentrator_fails").values()
    assert steps(concentrator.after) == [(0.0, 10.0, pytest.approx(0.4)), (10.0, 20.0, 4.0), (20.0, 21.0, 4.0)]
    assert rows(found, "ventilator_fails") == {}


def test_a_change_between_very_small_flows_is_a_change() -> None:
    # 0.02 L x 20 = 0.4 L/min become 0.45 L/min.
    pulses = Device("pulses", "pulse_conserver", pulse_volume_l=0.02, rate_per_min=20.0, if_it_fails="cannula")
    found = trip([CART], leg(10.0, pulses))
    found = found._replace(devices={**found.devices, "cannula": CANNULA._replace(flow_l_per_min=0.45)})
    assert steps(rows(found, "conserver_fails")["cart"].after) == [(0.0, 10.0, 0.45)]


def test_settings_rise_to_what_is_named_or_to_pure_oxygen() -> None:
    rising = CANNULA._replace(may_rise_to="fast")
    found = trip([CART], leg(10.0, rising, VENTILATOR), leg(5.0, FAST))
    (scenario,) = rows(found, "settings_rise").values()
    # 9, and 10 + 0.5 at FiO2 1.0.
    assert steps(scenario.after) == [(0.0, 10.0, pytest.approx(19.5)), (10.0, 15.0, 9.0)]
    assert rows(trip([CART], leg(5.0, CANNULA)), "settings_rise") == {}


def test_which_supplies_can_lose_a_cylinder_or_have_a_gauge_that_reads_high() -> None:
    liquid = Supply("liquid", "litres", stated_l=900.0)
    drawn = Supply("drawn", "sizes")
    joined = CART._replace(name="joined", kind="manifold")
    legs = [leg(5.0, CANNULA, supply=name) for name in ("cart", "van", "wall", "liquid", "drawn", "joined")]
    found = trip([CART, VAN, WALL, liquid, drawn, joined], *legs)
    assert set(rows(found, "cylinder_lost")) == {"cart", "drawn", "joined"}
    assert set(rows(found, "gauge_reads_high")) == {"cart", "van", "drawn", "joined"}
    assert rows(found, "cylinder_lost")["cart"].lose_one
    assert not rows(found, "gauge_reads_high")["cart"].lose_one


@pytest.mark.hazard(15)
def test_all_later_use_of_a_lost_vehicle_supply_moves_to_its_backup() -> None:
    both = leg(10.0, CANNULA, supply="van")._replace(uses=(Use(CANNULA, "van"), Use(FAST, "cart")))
    (scenario,) = rows(trip([CART, VAN], leg(5.0, CANNULA), both), "vehicle_supply_lost").values()
    assert scenario.supply == "cart"
    assert steps(scenario.before) == [(0.0, 5.0, 4.0), (5.0, 15.0, 9.0)]
    assert steps(scenario.after) == [(0.0, 5.0, 4.0), (5.0, 15.0, 13.0)]
    assert not scenario.from_departure


@pytest.mark.hazard(15)
def test_what_a_lost_vehicle_supply_is_carried_for_is_counted_on_its_backup() -> None:
    """Nothing is planned on the van, oxygen is there just in case: the cart then lasts at 4 L/min, not for ever."""
    in_case = CANNULA._replace(name="in case", flow_l_per_min=0.0, may_rise_to="cannula")
    found = trip([CART, VAN], leg(5.0, CANNULA), leg(10.0, in_case, supply="van"))
    assert rows(found, "vehicle_supply_lost")["cart"].idle_l_per_min == 4.0


@pytest.mark.hazard(15)
def test_air_of_a_vehicle_that_is_lost_is_no_loss_of_oxygen() -> None:
    """`air_lost` stands for it: no backup is asked of it, and none loses litres to it."""
    air = VAN._replace(name="air", gas="air", cylinders=tuple(one._replace(gas="air") for one in VAN.cylinders))
    assert rows(trip([CART, air], leg(5.0, CANNULA, supply="air")), "vehicle_supply_lost") == {}


@pytest.mark.hazard(15)
def test_a_vehicle_supply_without_backup_leaves_nothing() -> None:
    alone = VAN._replace(backup=None)
    (scenario,) = rows(trip([alone], leg(5.0, CANNULA, supply="van")), "vehicle_supply_lost").values()
    assert (scenario.supply, scenario.lose_all) == ("van", True)
    on_the_wall = VAN._replace(backup="wall")
    assert rows(trip([on_the_wall, WALL], leg(5.0, CANNULA, supply="van")), "vehicle_supply_lost") == {}


@pytest.mark.hazard(14)
def test_the_wait_on_arrival_is_on_a_portable_supply() -> None:
    found = trip([CART, VAN, WALL], leg(5.0, CANNULA), leg(5.0, FAST, supply="van"))
    (scenario,) = rows(found, "no_wall_on_arrival").values()
    # 10 min more by the policy of the ward, at the flow of the last leg.
    assert steps(scenario.after) == [(0.0, 5.0, 4.0), (10.0, 20.0, 9.0)]
    assert arrival_supply(found, "van") == "cart"
    short = found._replace(policy=found.policy._replace(handover_time_min=0.25))
    assert steps(rows(short, "no_wall_on_arrival")["cart"].after)[-1] == (10.0, 10.25, 9.0)
    none = found._replace(policy=found.policy._replace(handover_time_min=0.0))
    assert rows(none, "no_wall_on_arrival") == {}


@pytest.mark.hazard(14)
def test_the_wait_on_arrival_is_for_devices_that_still_run() -> None:
    ended = Leg("last", 10.0, (Use(FAST, "cart", for_min=5.0),), "cart")
    assert rows(trip([CART], ended), "no_wall_on_arrival") == {}
    by_van = trip([VAN, CART], leg(5.0, FAST, supply="van"))
    assert arrival_supply(by_van, "van") == "cart"
    assert set(rows(by_van, "no_wall_on_arrival")) == {"cart"}
    by_wall = trip([WALL], leg(5.0, FAST, supply="wall"))
    assert arrival_supply(by_wall, "wall") is None
    assert rows(by_wall, "no_wall_on_arrival") == {}
    backed_by_wall = trip([VAN._replace(backup="wall"), WALL], leg(5.0, FAST, supply="van"))
    assert rows(backed_by_wall, "no_wall_on_arrival") == {}


@pytest.mark.hazard(14)
def test_who_bridges_the_wait_does_not_depend_on_the_order_of_devices() -> None:
    second = CART._replace(name="second")
    last = Leg("last", 5.0, (Use(FAST, "wall"), Use(CANNULA, "cart"), Use(BAG, "second")), "wall")
    for uses in (last.uses, tuple(reversed(last.uses))):
        found = rows(trip([CART, second, WALL], last._replace(uses=uses)), "no_wall_on_arrival")
        assert steps(found["cart"].after)[-1] == (5.0, 15.0, 13.0)
        assert steps(found["second"].after)[-1] == (5.0, 15.0, 15.0)


@pytest.mark.hazard(16)
def test_inspired_oxygen_kept_in_the_cabin_and_never_less_than_set() -> None:
    # FiO2 0.40 becomes 0.40 x (760 - 47) / (564.5 - 47) = 0.5511 at 8000 ft (75.26 kPa): k = 0.3411 / 0.79 = 0.4318.
    blend = Device("blend", "blended_flow", flow_l_per_min=10.0, fio2=0.4, bleed_l_per_min=0.0, air="room")
    flight = leg(10.0, blend, CANNULA)._replace(cabin_pressure_kpa=75.26)
    (scenario,) = rows(trip([CART], flight, leg(5.0, blend)), "inspired_oxygen_kept").values()
    assert scenario.after[0].flow_l_per_min == pytest.approx(4.318 + 4.0, abs=0.002)
    assert scenario.after[1].flow_l_per_min == pytest.approx(1.9 / 0.79)
    # Above 1.00 no blend can keep it: pure oxygen is taken.
    rich = flight._replace(uses=(Use(blend._replace(fio2=0.9), "cart"),))
    (most,) = rows(trip([CART], rich), "inspired_oxygen_kept").values()
    assert most.after[0].flow_l_per_min == pytest.approx(10.0)
    # From a home high up into a cabin at sea level nothing is taken away, not even from air.
    high_home = trip([CART], flight._replace(cabin_pressure_kpa=101.325))._replace(home_pressure_kpa=80.0)
    assert rows(high_home, "inspired_oxygen_kept") == {}
    air = flight._replace(cabin_pressure_kpa=101.325, uses=(Use(blend._replace(fio2=0.21), "cart"),))
    assert rows(trip([CART], air)._replace(home_pressure_kpa=80.0), "inspired_oxygen_kept") == {}


def test_flows_may_change_at_the_edges_of_both() -> None:
    scenario = failing(course([10.0, 20.0], [1.0, 2.0]), course([5.0, 20.0], [1.0, 2.0]))
    assert edges(scenario.before, scenario.after) == [0.0, 5.0, 10.0, 20.0]
    assert flows([]) == {}


def test_a_device_that_fails_when_a_supply_is_long_done_with_asks_nothing_of_it() -> None:
    """A mask on the van for 10 min, then on the cart; only the third leg can be broken off, after the van is left."""
    mask = Device("mask", "simple_mask", flow_l_per_min=6.0, if_it_fails="bag")
    van = Supply("van", "litres", fixed=True, backup="cart", stated_l=3000.0)
    cart = Supply("cart", "cylinders", cylinders=(cylinder("a", 2000), cylinder("b", 2000)))
    by_van, by_cart = leg(10.0, mask, supply="van"), leg(5.0, mask)
    whole = trip([cart, van], by_van, by_cart, by_cart._replace(divert=Divert("clinic", 5.0)), policy=ROAD)
    found = [row for row in plan(whole).whatifs if row.name == "device_fails" and row.supply == "van"]
    # The bag takes 15 L/min from departure on: 150 L of the 3000 L, and 2850 / 15 = 190 min are left.
    assert [row.from_min for row in found] == [0.0]
    assert [row.minutes_to_spare for row in found] == pytest.approx([190.0])


def test_a_case_may_begin_where_its_time_begins_though_no_flow_changes_there() -> None:
    """100 L at 1 L/min for 60 min; from minute 20 to 30 alone it may become 2 L/min, for 40 min, and then ends."""
    before, after = course([60.0], [1.0]), course([60.0], [2.0])
    scenario = Scenario("device_fails", "cart", before, after, (), (), from_departure=False)
    scenario = scenario._replace(lasts_min=40.0, begins=((20.0, 30.0),))
    found = outcome(scenario, [Tank(100.0)])
    # From minute 20: 20 + 2 x 40 = 100 L by minute 60, when the case ends: nothing is left.
    assert (found.from_min, found.left_l) == pytest.approx((20.0, 0.0))
