"""Edges that a small slip in the arithmetic would move: each was once moved on purpose without a test noticing."""

from __future__ import annotations

import pytest

from planner.cylinders.depletion import Tank, course_of
from planner.cylinders.onhand import on_hand
from planner.cylinders.turns import Course
from planner.flow.devices import ASSUMED_RESUSCITATOR
from planner.flow.flows import Flow, NoChange, Segment, flows, no_change_spans
from planner.flow.outlets import Asks, OutletNeed
from planner.gas import contents
from planner.gas.mixing import HIGHEST_PRESSURE_KPA, LOWEST_PRESSURE_KPA, fio2_at_cabin
from planner.go.sizing import count_full, enough, group_needs
from planner.go.totals import Sum, most_drawn_l
from planner.go.whatif import Remaining, report
from planner.go.whatifs.scenario import Scenario
from planner.go.worst_minute import outcome
from planner.model import Device, Leg, Supply
from planner.trade.policy_table import policy_defaults
from tests.build import CANNULA, HIGH_PRESSURE, flowmeter, leg


def test_the_smallest_flow_of_a_newborn_needs_its_flowmeter() -> None:
    drop = Device("newborn", "nasal_cannula", flow_l_per_min=0.1)
    (segment,) = flows([leg(10.0, drop)])["cart"]
    assert segment.asks.needs == (OutletNeed("flowmeter", 0.1, "newborn"),)


def test_legs_that_name_the_same_devices_in_another_order_ask_for_the_same() -> None:
    mask, cannula = (Device(name, "simple_mask", flow_l_per_min=6.0) for name in ("mask", "cannula"))
    one, other = flows([leg(10.0, mask, cannula), leg(10.0, cannula, mask)])["cart"]
    assert one.asks == other.asks


def test_a_cylinder_is_not_taken_as_safe_in_a_magnet_room_unless_it_is_said_to_be() -> None:
    assert not Tank(100.0).serves(Asks(magnet=True))
    assert Tank(100.0, magnet_safe=True).serves(Asks(magnet=True))


def test_the_resuscitator_that_nobody_named_says_that_it_is_assumed() -> None:
    assert ASSUMED_RESUSCITATOR.name == "manual resuscitator (assumed)"


def course(legs: list[Leg], *litres: float) -> Course:
    return course_of([Tank(each) for each in litres], flows(legs)["cart"], no_change_spans(legs))


def test_a_change_brought_forward_is_made_at_the_start_of_a_stretch_of_several_legs() -> None:
    """At 4 L/min: 40 L by minute 10, and 80 L in the stretch, for which A has 10 L left and B has 100 L."""
    legs = [leg(10.0, CANNULA), leg(10.0, CANNULA, no_change=True), leg(10.0, CANNULA, no_change=True)]
    (change,) = course(legs, 50.0, 100.0).changes
    assert (change.minute, change.leg, change.left_l) == (10.0, 1, 10.0)
    assert (change.early, change.inside_stretch) == (True, False)


def test_a_change_inside_a_later_stretch_is_told_after_one_that_was_brought_forward() -> None:
    """As above, then 40 L at will, which leaves 20 L in B and 10 L in A; the next stretch draws 40 L.

    B ends 5 min into it, at minute 45, and A takes over; nothing else could carry it.
    """
    still, at_will = leg(10.0, CANNULA, no_change=True), leg(10.0, CANNULA)
    first, second = course([at_will, still, still, at_will, still], 50.0, 140.0).changes
    assert (first.minute, first.early, first.inside_stretch) == (10.0, True, False)
    assert (second.minute, second.early, second.inside_stretch) == (45.0, False, True)


def test_a_change_just_where_a_stretch_begins_or_ends_is_not_inside_it() -> None:
    still, at_will = leg(10.0, CANNULA, no_change=True), leg(10.0, CANNULA)
    (begins,) = course([at_will, still], 40.0, 100.0).changes
    assert (begins.minute, begins.inside_stretch) == (10.0, False)
    (ends,) = course([still, at_will], 40.0, 100.0).changes
    assert (ends.minute, ends.inside_stretch) == (10.0, False)


def test_rounding_noise_decides_no_go_and_more_than_noise_does() -> None:
    """One part in a thousand million: of 1 000 000 L that is 0.001 L; of less than a litre, of one litre."""
    assert enough(1e6 - 0.0009, 1e6)
    assert not enough(1e6 - 0.0011, 1e6)
    assert enough(0.0, 0.9e-9)
    assert not enough(0.0, 1.1e-9)


def test_a_whole_count_is_not_rounded_up_for_noise() -> None:
    """Of 1000 cylinders of 1 L one part in a thousand million is 0.000001 L."""
    assert count_full([(1000.0 + 0.5e-6, 0)], 1.0) == 1000
    assert count_full([(1000.0 + 2.0e-6, 0)], 1.0) == 1001


@pytest.mark.parametrize(("groups", "conditions"), [(2, 3), (6, 63), (7, 8)])
def test_every_union_of_up_to_six_groups_of_legs_is_asked_and_of_more_each_alone_and_all(
    groups: int, conditions: int
) -> None:
    """2 to the power of the groups, less the empty one; beyond six groups their number and the whole.

    A flowmeter of n L/min carries the legs of up to n L/min, so that each leg has a set of cylinders of its own.
    """
    limits = range(1, groups + 1)
    tanks = [Tank(100.0, (flowmeter(limit),)) for limit in limits]
    masks = [Device(f"mask {limit}", "simple_mask", flow_l_per_min=limit) for limit in limits]
    flow = flows([leg(10.0, mask) for mask in masks])["cart"]
    assert len(group_needs(tanks, flow, policy_defaults("in_house"), 0)) == conditions


def two_legs(first_l_per_min: float, then_l_per_min: float) -> Flow:
    """Two legs of 10 min on one supply."""
    pairs = enumerate((first_l_per_min, then_l_per_min))
    return tuple(Segment(10.0 * at, 10.0 * at + 10.0, at, flow, Asks()) for at, flow in pairs)


WORST_LATER = Scenario(
    "ventilator_fails",
    "cart",
    two_legs(10.0, 4.0),
    two_legs(4.0, 10.0),
    (leg(10.0), leg(10.0)),
    (),
    from_departure=False,
)
# From departure on the failure draws 4 x 10 + 10 x 10 = 140 L, from minute 10 on 10 x 10 + 10 x 10 = 200 L, the most.
# Without it 10 x 10 + 4 x 10 = 140 L are drawn.


def left(tanks: list[Tank]) -> Remaining:
    stated = on_hand(Supply("cart", "litres", stated_l=1.0), policy_defaults("in_house"))
    assert stated is not None
    return Remaining(stated._replace(tanks=tuple(tanks)))


def test_what_is_short_is_reckoned_from_the_worst_minute() -> None:
    """150 L are 50 L short, and run out when 50 L of the second leg are drawn at 10 L/min: at minute 15."""
    tanks = [Tank(150.0)]
    row = report(WORST_LATER, outcome(WORST_LATER, tanks), left(tanks), policy_defaults("in_house"))
    assert (row.from_min, row.runs_out_min, row.short_l) == (10.0, 15.0, 50.0)
    two = [Tank(100.0), Tank(50.0)]
    assert report(WORST_LATER, outcome(WORST_LATER, two), left(two), policy_defaults("in_house")).short_l == 50.0


def test_just_enough_for_the_worst_minute_holds_with_nothing_to_spare() -> None:
    found = outcome(WORST_LATER, [Tank(200.0)])
    assert (found.holds, found.from_min, found.left_l) == (True, 10.0, 0.0)


@pytest.mark.parametrize(
    ("on_hand_l", "from_min", "out_min"),
    [
        (150.0, 10.0, 15.0),  # from departure on 140 L suffice; from minute 10 on 100 L, then 50 L at 10 L/min
        (130.0, 10.0, 13.0),  # from departure on 40 L, then 90 L at 10 L/min: only at minute 19
        (100.0, 10.0, 10.0),  # from departure on 40 L, then 60 L at 10 L/min: only at minute 16
    ],
)
def test_the_worst_minute_is_the_one_with_the_earliest_run_out(
    on_hand_l: float, from_min: float, out_min: float
) -> None:
    found = outcome(WORST_LATER, [Tank(on_hand_l)])
    assert (found.from_min, found.out_min) == (from_min, out_min)


def test_a_sum_passes_so_many_litres_between_two_steps() -> None:
    """40 L by minute 10 and 140 L by minute 20: 90 L are passed at minute 15, 10 L at minute 2.5."""
    total = Sum(two_legs(4.0, 10.0))
    assert (total.passes(90.0), total.passes(10.0)) == (15.0, 2.5)
    assert [total.at(minute) for minute in (0.0, 5.0, 10.0, 15.0, 20.0, 99.0)] == [0.0, 20.0, 40.0, 90.0, 140.0, 140.0]
    # Where nothing flows from minute 10 to 20, the first litre beyond 40 is drawn after minute 20.
    pause = Sum((Segment(0.0, 10.0, 0, 4.0, Asks()), Segment(20.0, 30.0, 2, 10.0, Asks())))
    assert pause.at(15.0) == 40.0
    assert pause.passes(40.0) == 20.0


def test_from_departure_on_the_most_drawn_is_all_that_is_drawn() -> None:
    assert most_drawn_l(WORST_LATER._replace(from_departure=True)) == 140.0
    assert most_drawn_l(WORST_LATER) == 200.0


def through_a_stretch(first_l_per_min: float) -> Flow:
    """Four legs: a flowmeter, the same through a stretch, 5 min on a 50-psi outlet, the flowmeter again."""
    meter, driven = Asks((OutletNeed("flowmeter", 4.0),)), Asks((OutletNeed("high_pressure", 1.0),))
    return (
        Segment(0.0, 10.0, 0, first_l_per_min, meter),
        Segment(10.0, 20.0, 1, 4.0, meter),
        Segment(20.0, 25.0, 2, 1.0, driven),
        Segment(25.0, 35.0, 3, 4.0, meter),
    )


def test_the_cylinder_brought_forward_stays_the_first_in_order() -> None:
    """At 4 L/min. Leg 1 takes 40 of A's 50 L; the stretch needs 40 L, for which B has 30 L and C 100 L: C, B, A.

    Leg 3 needs a 50-psi outlet, which A alone has: 5 of its 10 L. In leg 4 A gives the other 5 L, in 1.25 min, and
    then C, the first in order, goes on with its 60 L.
    """
    a, b, c = Tank(50.0, (flowmeter(), HIGH_PRESSURE)), Tank(30.0, (flowmeter(),)), Tank(100.0, (flowmeter(),))
    found = course_of([a, b, c], through_a_stretch(4.0), [NoChange(10.0, 20.0, 1, 1)])
    assert [(change.minute, change.from_tank, change.to_tank) for change in found.changes] == [
        (10.0, 0, 2),
        (20.0, 2, 0),
        (26.25, 0, 2),
    ]


def test_the_cylinder_brought_forward_is_first_after_others_were_emptied() -> None:
    """As above, with Z (4 L) before A: leg 1 takes 44 L, and Z is empty when C goes first."""
    tanks = [
        Tank(4.0, (flowmeter(),)),
        Tank(50.0, (flowmeter(), HIGH_PRESSURE)),
        Tank(30.0, (flowmeter(),)),
        Tank(100.0, (flowmeter(),)),
    ]
    found = course_of(tanks, through_a_stretch(4.4), [NoChange(10.0, 20.0, 1, 1)])
    assert [(change.from_tank, change.to_tank) for change in found.changes] == [(0, 1), (1, 3), (3, 1), (1, 3)]
    assert found.left_l == pytest.approx((0.0, 0.0, 30.0, 25.0))


@pytest.mark.parametrize("limit_kpa", [LOWEST_PRESSURE_KPA, HIGHEST_PRESSURE_KPA])
def test_the_limits_of_pressure_themselves_are_allowed(limit_kpa: float) -> None:
    """In a cabin at the pressure of home nothing changes."""
    assert fio2_at_cabin(0.5, limit_kpa, limit_kpa) == pytest.approx(0.5)


def test_a_thousandth_more_than_a_cylinder_can_hold_is_refused() -> None:
    """At 40 000 kPa (400 bar) a cylinder is as full as it may be."""
    most = contents.contents_l(contents.HIGHEST_GAUGE_KPA, 21.1, 1.0)
    assert contents.gauge_kpa(most, 21.1, 1.0) == pytest.approx(40_000.0)
    with pytest.raises(ValueError, match=r"^contents of .* L are outside 0 to .* L, what a cylinder of 1 L"):
        contents.gauge_kpa(most * 1.001, 21.1, 1.0)
