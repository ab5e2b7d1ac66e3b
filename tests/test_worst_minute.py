"""The worst minute where outlets differ, by hand. Flows are in L/min, tanks in litres above change-over.

A (100 L and less) has a flowmeter and a 50-psi outlet, B (100 L) a flowmeter alone. The first leg takes 1 L/min for
10 min, 5 L/min from the minute at which things go wrong; the second, without a change, 4 L/min, 40 L; the third
1 L/min from a 50-psi outlet, 10 L. With 70 L at departure A has 20 + 4 x s L at minute 10 if things go wrong at minute
s. Below 40 L B is brought forward for the second leg, and A is spared for the third; with 40 to 50 L A would take the
second leg and leave too little for the third: it is kept for that, and B is brought forward all the same. With 50 L and
more A carries both, from s = 7.5 on.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate, pairwise
from math import inf
from random import Random

import pytest

from planner.cylinders.depletion import Tank, course_of
from planner.flow.flows import Flow, NoChange, Segment
from planner.flow.outlets import Asks, OutletNeed
from planner.go.whatifs.scenario import Scenario
from planner.go.worst_minute import holds, outcome
from tests.build import HIGH_PRESSURE, flowmeter, leg

METER, DRIVEN = Asks((OutletNeed("flowmeter", 5.0),)), Asks((OutletNeed("high_pressure", 1.0),))
REST: Flow = (Segment(10.0, 20.0, 1, 4.0, METER), Segment(20.0, 30.0, 2, 1.0, DRIVEN))
SCENARIO = Scenario(
    "ventilator_fails",
    "cart",
    (Segment(0.0, 10.0, 0, 1.0, METER), *REST),
    (Segment(0.0, 10.0, 0, 5.0, METER), *REST),
    (leg(10.0), leg(10.0), leg(10.0)),
    (NoChange(10.0, 20.0, 1, 1),),
    from_departure=False,
)


def tanks(a: float, b: float = 100.0) -> list[Tank]:
    return [Tank(a, (flowmeter(), HIGH_PRESSURE)), Tank(b, (flowmeter(),))]


def test_a_worst_minute_inside_a_leg_with_every_edge_better() -> None:
    """At s = 7.5 A has 50 L for the 50 L of both legs, and nothing is left. At s = 0 it is spared, and 20 - 10 L are.

    At s = 10 it has 60 L and 10 are left; a moment before 7.5 it is kept, and 40 are.
    """
    found = outcome(SCENARIO, tanks(70.0))
    assert (found.from_min, found.left_l) == pytest.approx((7.5, 0.0), abs=1e-4)
    assert found.ends_min == pytest.approx(30.0, abs=1e-4)
    assert found.holds
    assert holds(SCENARIO, tanks(70.0))
    left = {
        at: course_of(tanks(70.0), SCENARIO.before, SCENARIO.no_change, then=(at, SCENARIO.after)).left_l[0]
        for at in (0.0, 7.4999, 7.5, 10.0)
    }
    assert left == pytest.approx({0.0: 10.0, 7.4999: 40.0, 7.5: 0.0, 10.0: 10.0}, abs=1e-3)


def test_where_outlets_differ_more_litres_are_never_worse() -> None:
    # If things go wrong at once, A has 50 L less at minute 10: 10 L for the third leg from 60 L on.
    assert [litres for litres in range(131) if not holds(SCENARIO, tanks(float(litres)))] == list(range(60))
    assert not holds(SCENARIO, tanks(59.9))
    # A is empty at minute 6 and B goes on: nothing is left for the third leg.
    found = outcome(SCENARIO, tanks(30.0))
    assert (found.from_min, found.out_min, found.out_leg) == (0.0, 20.0, 2)


def test_a_plan_that_runs_out_half_way_through_a_leg() -> None:
    """5 L last 5 of the 10 min at 1 L/min. Gone wrong sooner, at 0.1 L/min, they last to the second leg, at minute 10.

    At minute 5 itself the tank is empty just when the flow changes: a moment sooner it is not.
    """
    second = Segment(10.0, 20.0, 1, 0.5, DRIVEN)
    before, after = (Segment(0.0, 10.0, 0, flow, METER) for flow in (1.0, 0.1))
    scenario = SCENARIO._replace(before=(before, second), after=(after, second), no_change=())
    found = outcome(scenario, [Tank(5.0, (flowmeter(),))])
    assert (found.out_min, found.out_leg) == (5.0, 0)
    assert found.from_min >= 5.0


@pytest.mark.hazard(9)
def test_a_tank_that_is_just_emptied_at_one_minute_has_something_left_at_another() -> None:
    """A: 50 L, 4.5 L/min as planned and 5 L/min altered for 10 min, so that s / 2 L are left at minute 10.

    The second leg is to have no change and takes 4 L through a flowmeter, the third 2 L from two 50-psi outlets, the
    fourth 2 L from one of each. B (3 L) carries the last three, C (4.5 L) the second and the fourth, D the third.
    At s = 0 A is empty and B too short: C goes first and B last. D takes the third leg; C and B have
    3.5 L for the last, of which 1.5 are left.
    For 0 < s < 8 A is too short and goes last: B would take the third leg, and B and C have 1 + 0.5 L for the last, too
    little. So B goes last instead, and all is as before.
    For s >= 8 A takes the second leg, B the third; B and C have 1 + 4.5 L for the last, and 3.5 are left.
    """
    high = OutletNeed("high_pressure", 1.0)
    two, each = Asks((high, high._replace(device="other"))), Asks((OutletNeed("flowmeter", 1.0), high))
    tail = (
        Segment(10.0, 20.0, 1, 0.4, METER),
        Segment(20.0, 30.0, 2, 0.2, two),
        Segment(30.0, 40.0, 3, 0.2, each),
    )
    before, after = ((Segment(0.0, 10.0, 0, flow, METER), *tail) for flow in (4.5, 5.0))
    scenario = SCENARIO._replace(before=before, after=after)
    have = [
        Tank(50.0, (flowmeter(),)),
        Tank(3.0, (flowmeter(), HIGH_PRESSURE, HIGH_PRESSURE)),
        Tank(4.5, (flowmeter(), HIGH_PRESSURE)),
        Tank(3.0, (HIGH_PRESSURE, HIGH_PRESSURE)),
    ]
    for minute, left_l in ((0.0, 1.5), (4.0, 1.5), (8.0, 3.5), (10.0, 3.5)):
        there = course_of(have, before, scenario.no_change, then=(minute, after))
        assert there.out_min is None
        assert there.left_l[1] + there.left_l[2] == pytest.approx(left_l)
    assert holds(scenario, have)
    found = outcome(scenario, have)
    assert (found.from_min, found.left_l) == pytest.approx((0.0, 1.5))


def test_litres_left_are_not_reckoned_past_a_minute_at_which_a_tank_is_just_emptied() -> None:
    """A (8 L) has a 50-psi outlet, B (13 L) a flowmeter, C (16 L) both. The first leg takes 4 L/min from any, altered
    5 L/min from B or C.

    Altered at departure, B gives 10 L of the first leg and A 4 and 2 L of the next two; for the last, 4 L without a
    change, B is too short and C goes first: 3 + 12 L are left for it. Later B has more, and more is left.
    """
    before = (
        Segment(0.0, 2.0, 0, 4.0, Asks()),
        Segment(2.0, 4.0, 1, 2.0, DRIVEN),
        Segment(4.0, 6.0, 2, 1.0, DRIVEN),
        Segment(6.0, 7.0, 3, 4.0, METER),
    )
    after = (Segment(0.0, 2.0, 0, 5.0, METER), *before[1:])
    scenario = SCENARIO._replace(before=before, after=after, no_change=(NoChange(6.0, 7.0, 3, 3),))
    have = [Tank(8.0, (HIGH_PRESSURE,)), Tank(13.0, (flowmeter(),)), Tank(16.0, (flowmeter(), HIGH_PRESSURE))]
    found = outcome(scenario, have)
    assert (found.from_min, found.left_l) == (0.0, 15.0)


def test_a_tank_is_kept_at_some_minutes_for_the_last_leg_that_it_alone_carries() -> None:
    """A (8 L, 50 psi), B (13 L, two flowmeters), C (16 L, both). The first 2 min take 4 L/min, altered 5 from B or C.

    Then 4 and 2 L from a 50-psi outlet, 4 L without a change, and at last 2.5 L from two flowmeters, which B alone has.
    B has 3 + 5 x s L when the stretch begins, A 2 - 4 x s L. For s < 0.2 B is too short and C takes the stretch; for
    s > 0.5 A is empty before, so that C is in use and takes it: A, B, A, C, B in turn both times, and B has enough for
    the last leg. In between B would take the stretch, and of B 5 x s - 1 L be left, which is less than 2.5: it is kept.
    """
    two = Asks((OutletNeed("flowmeter", 1.0), OutletNeed("flowmeter", 1.0, "other")))
    tail = (
        Segment(2.0, 4.0, 1, 2.0, DRIVEN),
        Segment(4.0, 6.0, 2, 1.0, DRIVEN),
        Segment(6.0, 7.0, 3, 4.0, METER),
        Segment(7.0, 8.0, 4, 2.5, two),
    )
    before, after = (Segment(0.0, 2.0, 0, 4.0, Asks()), *tail), (Segment(0.0, 2.0, 0, 5.0, METER), *tail)
    scenario = SCENARIO._replace(before=before, after=after, no_change=(NoChange(6.0, 7.0, 3, 3),))
    have = [Tank(8.0, (HIGH_PRESSURE,)), Tank(13.0, (flowmeter(),) * 2), Tank(16.0, (flowmeter(), HIGH_PRESSURE))]
    ways = {minute: course_of(have, before, scenario.no_change, then=(minute, after)) for minute in (0.1, 0.3, 0.9)}
    assert [[turn.tank for turn in way.turns] for way in ways.values()] == [[0, 1, 0, 2, 1]] * 3
    assert [way.out_min for way in ways.values()] == [None, None, None]
    assert holds(scenario, have)
    # B has 3 L at s = 0, and gives 2.5 of it for the last leg, 1 min long.
    found = outcome(scenario, have)
    assert (found.from_min, found.left_l) == pytest.approx((0.0, 0.5), abs=1e-4)


def test_the_worst_minute_is_where_a_tank_just_carries_both_legs() -> None:
    """The third leg takes 0.4 L: with 40 to 40.4 L of A at minute 10, for 4.75 <= s < 4.85, A is kept for it.

    From then on A carries both, and at s = 4.85 nothing is left.
    """
    tail: Flow = (REST[0], REST[1]._replace(flow_l_per_min=0.04))
    scenario = SCENARIO._replace(before=(SCENARIO.before[0], *tail), after=(SCENARIO.after[0], *tail))
    for at_departure, worst_min in ((71.0, 4.85), (89.8, 0.15)):
        assert holds(scenario, tanks(at_departure))
        found = outcome(scenario, tanks(at_departure))
        # 0.00001 min later there are 0.00004 L more, at 0.04 L/min 0.001 min.
        assert (found.from_min, found.ends_min) == pytest.approx((worst_min, 30.0), abs=2e-3)


def test_flows_of_less_than_half_a_litre_a_minute_count() -> None:
    """Planned 0.4 L/min, altered 0.1: with 42.5 L A has 41.5 - 0.3 x s L at minute 10, and the third leg takes 0.5 L.

    With 40.5 L, at s = 3.33, A carries both legs and nothing is left; with less it is kept for the third.
    """
    tail: Flow = (REST[0], REST[1]._replace(flow_l_per_min=0.05))
    before, after = ((SCENARIO.before[0]._replace(flow_l_per_min=flow), *tail) for flow in (0.4, 0.1))
    scenario = SCENARIO._replace(before=before, after=after)
    assert holds(scenario, tanks(42.5))
    found = outcome(scenario, tanks(42.5))
    assert (found.from_min, found.ends_min) == pytest.approx((10.0 / 3.0, 30.0), abs=1e-3)


def test_a_failure_at_departure_alone_is_found() -> None:
    """Two flowmeters are planned in the first leg, which B alone has; one is asked for if things go wrong.

    Things gone wrong at departure, A is the first in order: its 10 L are spent on the first leg, and the second, 5 L
    from a 50-psi outlet, finds none. A moment later B is in use and goes on, and A is there for the second leg.
    """
    two = Asks((OutletNeed("flowmeter", 4.0), OutletNeed("flowmeter", 4.0, "other")))
    second = Segment(10.0, 20.0, 1, 0.5, DRIVEN)
    scenario = SCENARIO._replace(
        before=(Segment(0.0, 10.0, 0, 4.0, two), second),
        after=(Segment(0.0, 10.0, 0, 4.0, METER), second),
        no_change=(),
    )
    have = [Tank(10.0, (flowmeter(), HIGH_PRESSURE)), Tank(100.0, (flowmeter(), flowmeter()))]
    found = outcome(scenario, have)
    assert (found.from_min, found.out_min, found.out_leg) == (0.0, 10.0, 1)
    assert not holds(scenario, have)
    assert course_of(have, scenario.before, then=(0.001, scenario.after)).out_min is None


def test_where_outlets_do_not_differ_the_sum_of_litres_decides() -> None:
    """Planned 4 and 8 L/min, 10 min each: 120 L. Altered 5 and 2 L/min: 70 L from departure on, 60 L from minute 10 on.

    100 L in three tanks are short only if nothing goes wrong: 60 L after minute 10 last 7.5 min at 8 L/min.
    """
    before = (Segment(0.0, 10.0, 0, 4.0, METER), Segment(10.0, 20.0, 1, 8.0, METER))
    after = (Segment(0.0, 10.0, 0, 5.0, METER), Segment(10.0, 20.0, 1, 2.0, METER))
    scenario = SCENARIO._replace(before=before, after=after, no_change=())
    have = [Tank(45.0), Tank(45.0), Tank(10.0)]
    found = outcome(scenario, have)
    assert (found.from_min, found.out_min) == (20.0, 17.5)
    assert not holds(scenario, have)
    assert holds(scenario._replace(from_departure=True), have)
    # Of 70 L at departure nothing is left; of 69 L the last runs out half a minute before the end.
    assert holds(scenario._replace(from_departure=True), [Tank(40.0), Tank(30.0)])
    short = outcome(scenario._replace(from_departure=True), [Tank(40.0), Tank(29.0)])
    assert (short.from_min, short.out_min, short.out_leg) == (0.0, 19.5, 1)
    assert not holds(scenario._replace(from_departure=True), [Tank(40.0), Tank(29.0)])


ANY = Asks()
EITHER = (METER, DRIVEN, ANY)
FITTINGS = ((flowmeter(),), (HIGH_PRESSURE,), (flowmeter(), HIGH_PRESSURE))


def random_case(draw: Random) -> tuple[Scenario, list[Tank]]:
    """Three or four short legs, each perhaps altered in flow, outlet or both, and up to four small tanks."""
    ends = list(accumulate(draw.randint(1, 3) for _ in range(draw.randint(3, 4))))
    before, after, still = [], [], []
    for number, (start, end) in enumerate(pairwise([0, *ends])):
        planned = Segment(float(start), float(end), number, float(draw.randint(0, 4)), draw.choice(EITHER))
        altered = planned._replace(flow_l_per_min=float(draw.randint(0, 6)), asks=draw.choice(EITHER))
        before.append(planned)
        after.append(draw.choice([planned, altered, altered]))
        if draw.random() < 0.3:
            still.append(NoChange(planned.start_min, planned.end_min, number, number))
    scenario = SCENARIO._replace(before=tuple(before), after=tuple(after), no_change=tuple(still))
    have = [Tank(float(draw.randint(0, 16)), draw.choice(FITTINGS)) for _ in range(draw.randint(1, 4))]
    return scenario, have


def ends_at(scenario: Scenario, have: list[Tank], at: float, left_l: Sequence[float]) -> float:
    """When oxygen would end if the last leg that draws never ended, things going wrong at a minute; `inf` for never."""
    drawn = [
        segment
        for part, low, high in ((scenario.before, -inf, at), (scenario.after, at, inf))
        for segment in part
        if segment.flow_l_per_min > 0.0 and segment.end_min > low and segment.start_min < high
    ]
    if not drawn:
        return inf
    last = drawn[-1]
    left = sum(litres for litres, tank in zip(left_l, have, strict=True) if tank.serves(last.asks))
    return scenario.after[-1].end_min + left / last.flow_l_per_min


@pytest.mark.longer("seed", [*range(30), 10_000, 10_105, 10_699, 10_898], range(11_000))
def test_no_minute_of_a_scan_is_worse_than_the_worst(seed: int) -> None:
    scenario, have = random_case(Random(seed))  # noqa: S311 - no secret
    minutes = [eighth / 8.0 for eighth in range(round(scenario.after[-1].end_min * 8.0) + 1)]
    courses = [course_of(have, scenario.before, scenario.no_change, then=(at, scenario.after)) for at in minutes]
    found = outcome(scenario, have)
    there = course_of(have, scenario.before, scenario.no_change, then=(found.from_min, scenario.after))
    earliest = min(inf if one.out_min is None else one.out_min for one in courses)
    if found.out_min is None:
        assert there.out_min is None
        assert earliest == inf
        assert holds(scenario, have)
        assert (
            found.ends_min
            <= min(ends_at(scenario, have, at, one.left_l) for at, one in zip(minutes, courses, strict=True)) + 1e-4
        )
        assert found.ends_min == pytest.approx(ends_at(scenario, have, found.from_min, there.left_l), abs=1e-4)
    else:
        assert there.out_min == pytest.approx(found.out_min, abs=1e-4)
        assert there.out_leg == found.out_leg
        assert found.out_min <= earliest + 1e-4
        assert not holds(scenario, have)
