"""What another minute would change, by hand. Flows are in L/min, tanks in litres above change-over.

The planned flow is 2 L/min, the altered one 5 L/min, 30 min in all. Of tanks with 50 and 200 L the first has 30 L left
at minute 10 and gives 5 L/min until minute 16; then 14 min x 5 L/min = 70 L leave 130 L in the second.
A minute later the first has 3 L more and is empty 3/5 = 0.6 min later; the second then has 3 L more at the end.
"""

from __future__ import annotations

from math import inf

import pytest

from planner.cylinders.course import Underway
from planner.cylinders.depletion import Tank, course_of, serving_of
from planner.cylinders.drift import Drift
from planner.flow.flows import Flow, Segment
from planner.flow.outlets import Asks

ANY = Asks()
AFTER: Flow = (Segment(10.0, 30.0, 0, 5.0, ANY),)


def changed_at_10(*litres: float) -> tuple[Underway, Drift]:
    """The course of a flow that changes at minute 10, watched."""
    tanks = [Tank(litre) for litre in litres]
    course = Underway(litres, serving_of(tanks))
    course.follow((Segment(0.0, 10.0, 0, 2.0, ANY),), ())
    drift = course.drift = Drift(begins=True)
    assert course.current is not None
    drift.left_off(course.current, 2.0, course.left[course.current])
    course.follow(AFTER, AFTER)
    return course, drift


def test_what_a_minute_later_changes() -> None:
    course, drift = changed_at_10(50.0, 200.0)
    assert [(tank, minute) for tank, minute, _ in course.begun] == [(0, 0.0), (1, 16.0)]
    assert course.left == [0.0, 130.0]
    assert drift.rates == pytest.approx([0.6])
    assert drift.litres == pytest.approx({1: 3.0})
    planned, altered = (Segment(0.0, 30.0, 0, 2.0, ANY),), (Segment(0.0, 30.0, 0, 5.0, ANY),)
    later = course_of([Tank(50.0), Tank(200.0)], planned, then=(11.0, altered))
    assert later.changes[0].minute == pytest.approx(16.6)
    assert later.left_l == pytest.approx((0.0, 133.0))


def test_how_far_the_way_stays_the_same() -> None:
    _, drift = changed_at_10(50.0, 200.0)
    # 30 L in the first at minute 10: at 2 L/min they last 15 min more, and then the change comes to the second.
    assert drift.high == pytest.approx(15.0)
    # Sooner, the first is empty sooner; the second has 130 L to spare, 3 L the less for each minute.
    assert drift.low == pytest.approx(-130.0 / 3.0)


def test_a_tank_that_lasts_sets_the_end() -> None:
    # 110 L: 20 by minute 10, 90 left, 20 min x 5 = 100 are wanted: empty at minute 28, 10 L short.
    course, drift = changed_at_10(110.0)
    assert course.out == (28.0, 0)
    assert drift.rate == pytest.approx(0.6)
    # 3 L more for each minute later make up the 10 L in 3.33 min.
    assert drift.high == pytest.approx(10.0 / 3.0)


def test_what_does_not_begin_at_the_change_does_not_move() -> None:
    drift = Drift(begins=False)
    assert drift.rate == 0.0
    drift.drawn(0, 5.0)
    assert drift.litres == {0: 5.0}  # a course asks `begins` first


def test_tanks_compared_for_a_stretch_stay_on_their_side() -> None:
    drift = Drift(begins=False)
    drift.left_off(0, 2.0, 30.0)
    # 30 L against 24 that a stretch draws: 3 min later there are 24; without it the tank itself would last 15 min.
    drift.compared([30.0, 99.0], 24.0, 4.0)
    assert drift.high == pytest.approx(3.0)
    assert drift.low == float("-inf")
    # Where the stretch begins with the change, a minute later draws 4 L less, and the tank has 2 L less.
    begins = Drift(begins=True)
    begins.left_off(0, 2.0, 20.0)
    begins.compared([20.0, 99.0], 24.0, 4.0)
    assert begins.high == pytest.approx(2.0)
    # The other one has 75 L more than is drawn, and 4 L less than that for each minute sooner.
    assert begins.low == pytest.approx(-75.0 / 4.0)


def test_what_begins_at_the_change_begins_a_minute_later() -> None:
    tanks = [Tank(200.0)]
    course = Underway([200.0], serving_of(tanks))
    drift = course.drift = Drift(begins=True)
    course.follow(AFTER, AFTER)
    assert (drift.rate, drift.rates) == (0.0, [1.0])
    # From minute 10 on 100 L are drawn, a minute later 5 L less: 20 min sooner nothing would be left of the 100 L.
    assert drift.litres == {0: 5.0}
    assert (drift.low, drift.high) == pytest.approx((-20.0, inf))


def test_parts_of_a_litre_set_the_ends_too() -> None:
    drift = Drift(begins=False)
    drift.left_off(0, 2.0, 0.4)
    assert drift.high == pytest.approx(0.2)
    less = Drift(begins=False)
    less.drawn(0, 0.25)
    less.lasted(0, 0.4)
    assert (less.low, less.high) == pytest.approx((-1.6, inf))
    less.lasted(1, 0.4)  # of another tank nothing is known that would change
    assert (less.low, less.high) == pytest.approx((-1.6, inf))
    # 0.3 L more than the stretch draws: later 0.25 L/min more, sooner less.
    compared = Drift(begins=False)
    compared.drawn(0, 0.25)
    compared.compared([24.3], 24.0, 4.0)
    assert (compared.low, compared.high) == pytest.approx((-1.2, inf))
    # 0.3 L less than it draws: 1.2 min later it would have enough.
    compared.compared([23.7], 24.0, 4.0)
    assert (compared.low, compared.high) == pytest.approx((-1.2, 1.2))
    # What already is on the wrong side by noise leaves no room.
    noise = Drift(begins=False)
    noise.left_off(0, 2.0, 0.0)
    assert (noise.low, noise.high) == (0.0, 0.0)
