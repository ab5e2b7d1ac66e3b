"""Breaking delays and windows for turning back, by hand.

A stated supply of 400 L and a flow of 4 L/min give 100 min in all; 40 min planned leave 60 min. Turning back at minute
t needs t + 30 min of what is left, 100 - t >= t + 30: until minute 35. A diversion of 20 min needs 20 + 30:
until minute 50, so the whole 40.
"""

from __future__ import annotations

import pytest

from planner.model import Divert, Supply, Use
from planner.plan import plan
from planner.results import TurnBack
from tests.build import CANNULA, VENTILATOR, cylinder, flowmeter, leg, trip

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
    flow = found.supplies["cart"].peak_flow_l_per_min
    # The ventilator can draw on a only, and what a has left after it still serves the cannula.
    assert by_leg[0] == pytest.approx(each / flow - 20.0, abs=0.01)
    assert by_leg[1] == pytest.approx((2.0 * each - 20.0 * flow) / 4.0 - 10.0, abs=0.01)


def test_turn_back_until_reserve_time_is_left() -> None:
    found = plan(trip([LIQUID], leg(40.0, CANNULA, supply="liquid")))
    (row,) = found.turn_backs
    assert row.to is None
    assert (row.from_min, row.to_min) == pytest.approx((0.0, 35.0))


def test_turn_back_at_any_time_on_the_wall() -> None:
    found = plan(trip([WALL], leg(40.0, CANNULA, supply="wall")))
    assert found.turn_backs == (TurnBack(None, None, 0.0, 40.0),)


def test_no_turning_back_where_reserve_time_is_not_there() -> None:
    found = plan(trip([LIQUID._replace(stated_l=100.0)], leg(10.0, CANNULA, supply="liquid")))
    assert found.turn_backs == ()


def test_diversion_as_a_window() -> None:
    first = leg(15.0, CANNULA, supply="liquid", name="to the pass")
    second = leg(60.0, CANNULA, supply="liquid", name="down")._replace(divert=Divert("valley clinic", 20.0))
    found = plan(trip([LIQUID], first, second))
    # 100 - t >= 20 + 30 until minute 50; the leg begins at 15.
    row = found.turn_backs[-1]
    assert (row.to, row.leg, row.time_min) == ("valley clinic", "down", 20.0)
    assert (row.from_min, row.to_min) == pytest.approx((15.0, 50.0))


def test_windows_with_a_gap_stay_apart() -> None:
    small = Supply("small", "litres", stated_l=100.0)
    legs = (
        leg(10.0, CANNULA, supply="liquid"),
        leg(10.0, CANNULA, supply="small"),
        leg(10.0, CANNULA, supply="liquid"),
    )
    found = plan(trip([LIQUID, small], *legs))
    # On the small one 25 min are left at minute 10, fewer than the 10 + 30 that going back would take.
    assert [(row.from_min, row.to_min) for row in found.turn_backs] == [(0.0, 10.0), (20.0, 30.0)]


def test_a_leg_on_two_supplies_needs_both() -> None:
    two = leg(40.0, CANNULA, supply="liquid")._replace(
        uses=(Use(CANNULA, "liquid"), Use(CANNULA._replace(name="second"), "small", for_min=5.0)),
    )
    found = plan(trip([LIQUID, Supply("small", "litres", stated_l=140.0)], two))
    # 140/4 = 35 min on the small one: 35 - t >= t + 30 until 2.5; from minute 5 on it is not in use.
    assert [row.from_min for row in found.turn_backs] == [0.0, 5.0]
    assert [row.to_min for row in found.turn_backs] == pytest.approx([2.5, 35.0])
