"""Cylinders in turn, by litres and minutes worked on paper. Flows are in L/min, tanks in litres above change-over."""

from __future__ import annotations

from math import inf

import pytest

from planner.cylinders.depletion import Tank, course_of, lasting
from planner.cylinders.turns import Course, TankChange
from planner.flow.flows import Flow, NoChange, Segment
from planner.flow.outlets import Asks, OutletNeed
from planner.model import Outlet

ANY = Asks()
VENT = Asks((OutletNeed("high_pressure", 1.0, "vent"),))
TWO = Asks((OutletNeed("flowmeter", 1.0, "mask"), OutletNeed("flowmeter", 1.0, "bag")))
MASK = Asks((OutletNeed("flowmeter", 1.0, "mask"),))
METER, HIGH = Outlet("flowmeter"), Outlet("high_pressure")


def course(*legs: tuple[float, float] | tuple[float, float, Asks]) -> Flow:
    """A flow from (minutes, L/min) or (minutes, L/min, outlets) of leg after leg."""
    found, start = [], 0.0
    for number, (minutes, flow, *asks) in enumerate(legs):
        found.append(Segment(start, start + minutes, number, flow, asks[0] if asks else ANY))
        start += minutes
    return tuple(found)


def turns(found: Course) -> list[tuple[int, float, float, float, float]]:
    """Tank, minutes and litres of each turn."""
    return [(turn.tank, turn.from_min, turn.to_min, turn.start_l, turn.end_l) for turn in found.turns]


def test_one_after_another_each_to_the_end() -> None:
    # 5 L/min: 50 L last 10 min, 20 L 4 min more, and of 40 L the last 6 min take 30.
    found = course_of([Tank(50.0), Tank(20.0), Tank(40.0)], course((20.0, 5.0)))
    assert turns(found) == [(0, 0.0, 10.0, 50.0, 0.0), (1, 10.0, 14.0, 20.0, 0.0), (2, 14.0, 20.0, 40.0, 10.0)]
    assert found.changes == (TankChange(10.0, 0, 0, 1, 0.0, False, False), TankChange(14.0, 0, 1, 2, 0.0, False, False))
    assert (found.left_l, found.out_min, found.out_leg) == ((0.0, 0.0, 10.0), None, None)


def test_the_minute_and_leg_at_which_oxygen_runs_out() -> None:
    # 30 L in the first leg, and 20 L last 2.5 min of the second.
    found = course_of([Tank(50.0)], course((10.0, 3.0), (5.0, 8.0)))
    assert (found.out_min, found.out_leg) == (12.5, 1)
    assert found.left_l == (0.0,)


def test_just_enough_is_enough() -> None:
    found = course_of([Tank(30.0), Tank(40.0)], course((10.0, 3.0), (5.0, 8.0)))
    assert found.out_min is None
    assert turns(found) == [(0, 0.0, 10.0, 30.0, 0.0), (1, 10.0, 15.0, 40.0, 0.0)]


def test_rounding_noise_never_ends_oxygen() -> None:
    # Ten times 0.1 L is a little less than 1 L in binary.
    assert course_of([Tank(1.0)], course(*[(1.0, 0.1)] * 10)).out_min is None
    assert course_of([Tank(0.1 * 3)], course(*[(0.1, 1.0)] * 3)).out_min is None


def test_without_flow_nothing_is_drawn_and_nothing_runs_out() -> None:
    found = course_of([Tank(0.0)], course((10.0, 0.0)))
    assert (found.turns, found.out_min) == ((), None)
    assert course_of([Tank(5.0)], course((10.0, 0.0))).left_l == (5.0,)
    assert course_of([], course((10.0, 0.0))).out_min is None
    assert course_of([], course((10.0, 1.0))).out_min == 0.0


def test_an_empty_cylinder_is_passed_over() -> None:
    found = course_of([Tank(0.0), Tank(10.0)], course((5.0, 1.0)))
    assert turns(found) == [(1, 0.0, 5.0, 10.0, 5.0)]
    assert found.changes == ()


@pytest.mark.hazard(12)
def test_a_cylinder_serves_only_what_its_outlets_carry() -> None:
    # The first has no 50-psi outlet: the second carries the ventilator, and stays in use for the mask.
    tanks = [Tank(50.0, (METER,)), Tank(30.0, (METER, HIGH))]
    found = course_of(tanks, course((10.0, 2.0, VENT), (10.0, 2.0, MASK)))
    assert turns(found) == [(1, 0.0, 15.0, 30.0, 0.0), (0, 15.0, 20.0, 50.0, 40.0)]
    # And where it is used up, the first cannot help.
    out = course_of(tanks, course((10.0, 2.0, VENT), (10.0, 2.0, VENT)))
    assert (out.out_min, out.left_l) == (15.0, (50.0, 0.0))


def test_a_change_because_the_next_leg_needs_another_outlet() -> None:
    found = course_of([Tank(50.0, (METER,)), Tank(30.0, (HIGH,))], course((10.0, 2.0, MASK), (5.0, 2.0, VENT)))
    assert found.changes == (TankChange(10.0, 1, 0, 1, 30.0, False, False),)


@pytest.mark.hazard(13)
def test_a_change_is_made_before_the_stretch_without_changes() -> None:
    # 10 min x 4 = 40 L before, 5 min x 4 = 20 L inside: of 50 L only 10 are left, so the next one with 20 L or more
    # goes first, then the others in their order, and the part-used one last.
    flow = course((10.0, 4.0), (5.0, 4.0), (10.0, 4.0))
    found = course_of([Tank(50.0), Tank(15.0), Tank(25.0), Tank(30.0)], flow, [NoChange(10.0, 15.0, 1, 1)])
    assert turns(found) == [
        (0, 0.0, 10.0, 50.0, 10.0),
        (2, 10.0, 16.25, 25.0, 0.0),
        (1, 16.25, 20.0, 15.0, 0.0),
        (3, 20.0, 25.0, 30.0, 10.0),
    ]
    assert found.changes[0] == TankChange(10.0, 1, 0, 2, 10.0, True, False)


@pytest.mark.hazard(13)
def test_a_change_that_no_cylinder_spares_stands_where_it_falls() -> None:
    flow = course((10.0, 4.0), (5.0, 4.0))
    found = course_of([Tank(50.0), Tank(19.0)], flow, [NoChange(10.0, 15.0, 1, 1)])
    # 50 L last 12.5 min.
    assert found.changes == (TankChange(12.5, 1, 0, 1, 0.0, False, True),)


@pytest.mark.hazard(13)
def test_a_cylinder_that_was_passed_over_may_carry_the_stretch() -> None:
    # The first has no 50-psi outlet; after the ventilator the second has 5 of the 10 L of the stretch.
    tanks = [Tank(50.0, (METER,)), Tank(15.0, (METER, HIGH))]
    found = course_of(tanks, course((10.0, 1.0, VENT), (10.0, 1.0, MASK)), [NoChange(10.0, 20.0, 1, 1)])
    assert found.changes == (TankChange(10.0, 1, 1, 0, 5.0, True, False),)


@pytest.mark.hazard(12)
def test_one_that_carried_a_special_leg_stays_in_hand_where_another_must_be_kept() -> None:
    """Ventilated in the second leg, 10 L; A alone has two flowmeters, for the 10 L of the last.

    With 6 L in C the ventilator goes on with B, which then has the third leg too: A, C, B, A. With 20 L in C, A is the
    first in order for the third leg, and would lack all it then gave: B takes that leg, as with less in C.
    """
    flow = course((5.0, 1.0, MASK), (5.0, 2.0, VENT), (5.0, 2.0, MASK), (5.0, 2.0, TWO))
    for in_c, c_until, c_left in ((6.0, 8.0, 0.0), (20.0, 10.0, 10.0)):
        found = course_of([Tank(15.0, (METER, METER)), Tank(in_c, (HIGH,)), Tank(14.0, (METER, HIGH))], flow)
        assert found.out_min is None
        assert [turn.tank for turn in found.turns] == [0, 1, 2, 0]
        assert (found.turns[1].to_min, found.left_l[1]) == (c_until, c_left)


@pytest.mark.hazard(13)
def test_where_no_way_carries_every_leg_the_rule_stands() -> None:
    """The second alone carries the last leg, 10 L, of which the first two asked 10 of 19: short, whoever goes first."""
    flow = course((10.0, 1.0, MASK), (10.0, 2.0, VENT))
    found = course_of([Tank(5.0, (METER,)), Tank(19.0, (METER, HIGH))], flow, [NoChange(0.0, 10.0, 0, 0)])
    assert turns(found)[0] == (1, 0.0, 14.5, 19.0, 0.0)
    assert (found.out_min, found.out_leg) == (14.5, 1)


@pytest.mark.hazard(13)
def test_a_change_between_two_legs_of_a_stretch_is_inside_it() -> None:
    # Neither carries both legs, for want of outlets.
    flow = course((5.0, 1.0, MASK), (5.0, 1.0, VENT))
    found = course_of([Tank(50.0, (METER,)), Tank(50.0, (HIGH,))], flow, [NoChange(0.0, 10.0, 0, 1)])
    assert found.changes == (TankChange(5.0, 1, 0, 1, 45.0, False, True),)


def test_a_supply_that_was_idle_until_inside_a_stretch_changes_before_it() -> None:
    # 12 - 10 = 2 L are left for the 5 L that it gives in the stretch from 12 to 20, from minute 15 on.
    flow = (Segment(0.0, 10.0, 0, 1.0, ANY), Segment(15.0, 20.0, 2, 1.0, ANY))
    found = course_of([Tank(12.0), Tank(20.0)], flow, [NoChange(12.0, 20.0, 1, 2)])
    assert found.changes == (TankChange(15.0, 2, 0, 1, 2.0, True, False),)


def test_a_cylinder_that_lasts_just_to_the_end_of_a_stretch_stays() -> None:
    found = course_of([Tank(20.0), Tank(90.0)], course((5.0, 4.0), (5.0, 4.0)), [NoChange(0.0, 5.0, 0, 0)])
    assert found.changes == (TankChange(5.0, 1, 0, 1, 0.0, False, False),)


def test_a_stretch_at_departure_and_the_part_used_one_twice() -> None:
    # First stretch: 3 x 5 = 15 L, the first has 10. Second stretch: 15 L, the second has 20 - 15 - 2 = 3 left.
    flow = course((3.0, 5.0), (2.0, 1.0), (3.0, 5.0), (5.0, 1.0))
    no_change = [NoChange(0.0, 3.0, 0, 0), NoChange(5.0, 8.0, 2, 2)]
    found = course_of([Tank(10.0), Tank(20.0), Tank(16.0)], flow, no_change)
    assert turns(found) == [
        (1, 0.0, 5.0, 20.0, 3.0),
        (2, 5.0, 9.0, 16.0, 0.0),
        (0, 9.0, 13.0, 10.0, 6.0),
    ]
    assert [change.early for change in found.changes] == [True, False]
    # Had the last leg been longer, the second would have come back last.
    longer = course_of([Tank(10.0), Tank(20.0), Tank(16.0)], (*flow[:-1], Segment(8.0, 21.0, 3, 1.0, ANY)), no_change)
    assert turns(longer)[-1] == (1, 19.0, 21.0, 3.0, 1.0)


def test_a_change_that_is_due_anyway_is_not_early() -> None:
    # The first ends just where the stretch begins; the second would not last through it, the third does.
    found = course_of(
        [Tank(10.0), Tank(5.0), Tank(20.0)], course((5.0, 2.0), (5.0, 2.0), (2.0, 2.0)), [NoChange(5.0, 10.0, 1, 1)]
    )
    assert found.changes[0] == TankChange(5.0, 1, 0, 2, 0.0, False, False)
    assert [turn.tank for turn in found.turns] == [0, 2]


def test_only_a_cylinder_that_carries_the_whole_stretch_is_brought_forward() -> None:
    # The stretch asks for a flowmeter, then for a 50-psi outlet; the second has litres enough but no 50-psi outlet.
    tanks = [Tank(10.0, (METER,)), Tank(99.0, (METER,)), Tank(99.0, (METER, HIGH))]
    found = course_of(tanks, course((5.0, 1.0, MASK), (5.0, 1.0, VENT)), [NoChange(0.0, 10.0, 0, 1)])
    assert turns(found) == [(2, 0.0, 10.0, 99.0, 89.0)]


def test_a_stretch_without_oxygen_or_already_gone_by() -> None:
    assert course_of([Tank(0.0)], course((5.0, 1.0)), [NoChange(0.0, 5.0, 0, 0)]).out_min == 0.0
    # The supply is in use from minute 10 on; the stretch before it is no concern of it, the one after it not yet.
    late = (Segment(10.0, 20.0, 2, 1.0, ANY), Segment(20.0, 25.0, 3, 1.0, ANY))
    found = course_of([Tank(12.0), Tank(20.0)], late, [NoChange(0.0, 5.0, 0, 0), NoChange(20.0, 25.0, 3, 3)])
    assert found.changes == (TankChange(20.0, 3, 0, 1, 2.0, True, False),)


def test_a_supply_that_joins_inside_a_stretch_prepares_for_what_is_left_of_it() -> None:
    found = course_of([Tank(2.0), Tank(9.0)], (Segment(4.0, 9.0, 1, 1.0, ANY),), [NoChange(0.0, 9.0, 0, 1)])
    assert turns(found) == [(1, 4.0, 9.0, 9.0, 4.0)]


def test_nobody_foresees_what_goes_wrong() -> None:
    """At minute 10 a stretch of 5 min begins, at 1 L/min; at minute 12 the flow becomes 10 L/min.

    The first tank has 20 - 10 = 10 L left, enough for the 5 L planned, so it stays: 2 L more, then 8 L last 0.8 min.
    """
    planned, altered = course((10.0, 1.0), (5.0, 1.0)), course((10.0, 10.0), (5.0, 10.0))
    stretch = [NoChange(10.0, 15.0, 1, 1)]
    found = course_of([Tank(20.0), Tank(90.0)], planned, stretch, then=(12.0, altered))
    (change,) = found.changes
    assert change.minute == pytest.approx(12.8)
    assert (change.to_tank, change.early, change.inside_stretch) == (1, False, True)
    # Where it goes wrong at the start of the stretch everybody knows: 50 L are ahead.
    found = course_of([Tank(20.0), Tank(90.0)], planned, stretch, then=(10.0, altered))
    assert found.changes == (TankChange(10.0, 1, 0, 1, 10.0, True, False),)


def test_moments_are_kept_at_each_start_and_end() -> None:
    found = course_of([Tank(10.0), Tank(10.0)], course((5.0, 3.0), (5.0, 2.0)), moments=True)
    seen = [(m.minute, m.leg, m.at_start, m.flow_l_per_min, m.tank, m.left_l) for m in found.moments]
    assert seen == [
        (0.0, 0, True, 3.0, 0, (10.0, 10.0)),
        (5.0, 0, False, 3.0, 1, (0.0, 5.0)),
        (5.0, 1, True, 2.0, 1, (0.0, 5.0)),
    ]
    assert (found.out_min, found.out_leg) == (7.5, 1)


def test_a_moment_where_oxygen_has_run_out() -> None:
    found = course_of([Tank(15.0)], course((5.0, 3.0), (5.0, 2.0)), moments=True)
    assert (found.moments[-1].minute, found.moments[-1].at_start, found.moments[-1].tank) == (5.0, True, None)
    assert course_of([Tank(15.0)], course((5.0, 3.0))).moments == ()


def test_how_long_oxygen_lasts_if_the_last_leg_goes_on() -> None:
    # 10 min x 3 L/min, then 70 L at 7 L/min: 10 min more.
    assert lasting([Tank(60.0), Tank(40.0)], course((10.0, 3.0), (2.0, 7.0))) == pytest.approx(20.0)
    assert lasting([Tank(60.0)], course((10.0, 3.0), (2.0, 0.0))) is None
    assert lasting([Tank(60.0)], ()) is None
    assert lasting([Tank(20.0)], course((10.0, 3.0), (2.0, 0.0))) == pytest.approx(20.0 / 3.0)


def test_how_long_oxygen_lasts_in_a_stretch_that_goes_on() -> None:
    # 2 + 3 min: the stretch itself is known to its planned end, and what comes after is drawn from both.
    assert lasting([Tank(4.0), Tank(9.0)], course((2.0, 1.0), (3.0, 1.0)), [NoChange(2.0, 5.0, 1, 1)]) == 13.0
    assert course_of([Tank(inf)], (Segment(0.0, inf, 0, 1.0, ANY),)).out_min is None
