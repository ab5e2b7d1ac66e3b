"""Breaking delays by hand.

A stated supply of 400 L and a flow of 4 L/min give 100 min in all; 40 min planned leave 60 min.
"""

from __future__ import annotations

from random import Random

import pytest

from planner.cylinders.course import Underway, on_the_way
from planner.cylinders.depletion import course_of, serving_of
from planner.go.margins import _last_of_legs, _searched
from planner.model import Cylinder, Leg, Supply, SupplyKind, Use
from planner.planning import plan
from tests.build import CANNULA, VENTILATOR, cylinder, flowmeter, leg, trip
from tests.test_worst_minute import random_case

LIQUID = Supply("liquid", "litres", stated_l=400.0)
WALL = Supply("wall", "pipeline")


def test_delay_that_breaks_the_plan() -> None:
    found = plan(trip([LIQUID], leg(40.0, CANNULA, supply="liquid")))
    (row,) = found.breaking_delays
    assert (row.leg_index, row.supply) == (0, "liquid")
    assert row.minutes == pytest.approx(60.0)


@pytest.mark.hazard(1)
def test_the_smallest_breaking_delay_leads_and_is_exact() -> None:
    fast = CANNULA._replace(flow_l_per_min=6.0)
    legs = (leg(20.0, CANNULA, supply="liquid", name="slow"), leg(20.0, fast, supply="liquid", name="fast"))
    found = plan(trip([LIQUID], *legs))
    # 400 - 80 - 120 = 200 L left: 200/6 = 33.3 min in the fast leg, 50 in the slow one.
    assert [row.leg for row in found.breaking_delays] == ["fast", "slow"]
    assert [row.minutes for row in found.breaking_delays] == pytest.approx([100.0 / 3.0, 50.0])
    smallest = found.breaking_delays[0].minutes
    for extra, runs_out in ((smallest - 0.01, False), (smallest + 0.01, True)):
        longer = plan(trip([LIQUID], legs[0], legs[1]._replace(duration_min=20.0 + extra)))
        assert (longer.supplies["liquid"].runs_out_min is not None) == runs_out


def test_breaking_delay_where_outlets_differ() -> None:
    driven = cylinder("a", 2000)
    metered = cylinder("b", 2000, outlets=(flowmeter(),))
    supply = Supply("cart", "cylinders", cylinders=(driven, metered))
    found = plan(trip([supply], leg(20.0, VENTILATOR), leg(10.0, CANNULA)))
    by_leg = {row.leg_index: row.minutes for row in found.breaking_delays}
    each = found.supplies["cart"].cylinders[0].usable_l
    flow = found.supplies["cart"].need.peak_flow_l_per_min
    # The ventilator can draw on a only, and what a has left after it still serves the cannula.
    assert by_leg[0] == pytest.approx(each / flow - 20.0, abs=0.01)
    assert by_leg[1] == pytest.approx((2.0 * each - 20.0 * flow) / 4.0 - 10.0, abs=0.01)


def delays(*legs: Leg, cylinders: tuple[Cylinder, ...] = (), stated_l: float | None = None) -> dict[int, float]:
    """Breaking delays by leg, on cylinders or a stated amount."""
    kind: SupplyKind = "litres" if stated_l is not None else "cylinders"
    supply = Supply("cart", kind, cylinders=cylinders, stated_l=stated_l)
    found = plan(trip([WALL, supply], *legs)).breaking_delays
    assert [row.minutes for row in found] == sorted(row.minutes for row in found)
    return {row.leg_index: row.minutes for row in found}


def test_all_cylinders_count_for_a_delay() -> None:
    # 2 x 424.94 L (tests/test_judge.py) less 4 x 100 = 449.88 L.
    found = delays(leg(100.0, CANNULA), cylinders=(cylinder("a", 2000), cylinder("b", 2000)))
    assert found[0] == pytest.approx(449.88 / 4.0, rel=1e-3)


def test_which_legs_can_be_delayed() -> None:
    """The wall never breaks, and a leg without flow bears any delay; what has already run out bears none."""
    idle, slow = CANNULA._replace(flow_l_per_min=0.0), CANNULA._replace(flow_l_per_min=0.4)
    rides = leg(5.0, CANNULA, supply="wall"), leg(5.0, idle), leg(5.0, slow), leg(5.0, CANNULA)
    # 100 - 2 - 20 = 78 L.
    assert delays(*rides, stated_l=100.0) == pytest.approx({2: 195.0, 3: 19.5})
    assert delays(*rides, stated_l=10.0) == {2: 0.0, 3: 0.0}


def test_a_delay_is_at_the_last_flow_of_its_leg() -> None:
    more = CANNULA._replace(name="more")
    two = leg(20.0, CANNULA)._replace(uses=(Use(more, "cart", for_min=5.0), Use(CANNULA, "cart")))
    # 4 x 20 + 4 x 5 + 4 x 10 = 140 L of 400: 260 L at 4 L/min.
    assert delays(two, leg(10.0, CANNULA), stated_l=400.0) == pytest.approx({0: 65.0, 1: 65.0})


def test_short_delays_where_outlets_differ() -> None:
    """The ventilator draws 5.4367 L/min from the first alone: 424.94 L last 78.16 min (tests/test_judge.py)."""
    have = (cylinder("a", 2000), cylinder("b", 2000, outlets=(flowmeter(),)))
    found = delays(leg(78.0, VENTILATOR), leg(1.0, CANNULA), cylinders=have)
    assert found[0] == pytest.approx(0.162, abs=0.002)
    assert delays(leg(79.0, VENTILATOR), leg(1.0, CANNULA), cylinders=have) == {0: 0.0, 1: 0.0}


@pytest.mark.longer("seed", range(25), range(2_000))
def test_a_delay_goes_by_what_is_known_as_by_a_course_for_each(seed: int) -> None:
    scenario, have = random_case(Random(seed))  # noqa: S311 - no secret
    flow, serving = scenario.before, serving_of(have)
    states = on_the_way(Underway([tank.usable_l for tank in have], serving), flow)
    for place, segment in _last_of_legs(flow):
        if segment.flow_l_per_min == 0.0:
            continue

        def breaks(minutes: float, place: int = place) -> bool:
            longer = flow[place]._replace(end_min=flow[place].end_min + minutes)
            later = [
                s._replace(start_min=s.start_min + minutes, end_min=s.end_min + minutes) for s in flow[place + 1 :]
            ]
            return course_of(have, (*flow[:place], longer, *later)).out_min is not None

        minutes = _searched(states, flow, place)
        assert minutes == 0.0 or not breaks(minutes)
        assert breaks(minutes + 0.003)
