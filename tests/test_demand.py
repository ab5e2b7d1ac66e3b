"""Legs to flow on each supply, by trips of a few minutes that can be drawn on paper."""

from __future__ import annotations

import pytest

from planner.flow.flows import (
    NoChange,
    Segment,
    doubling_l,
    final_uses,
    flows,
    ledger,
    litres,
    no_change_spans,
    peak_l_per_min,
    rest,
    splice,
    until,
)
from planner.flow.outlets import Asks, OutletNeed
from planner.model import Delay, Device, Leg, Use
from tests.build import VENTILATOR, leg

MASK = Device("mask", "simple_mask", flow_l_per_min=6.0)
NEB = Device("neb", "nebulizer", flow_l_per_min=8.0)
MAKER = Device("maker", "concentrator")
MASK_NEED = OutletNeed("flowmeter", 6.0, "mask")
NEB_NEED = OutletNeed("flowmeter", 8.0, "neb")


def steps(segments: tuple[Segment, ...]) -> list[tuple[float, float, float]]:
    """Start, end and flow of each segment."""
    return [(each.start_min, each.end_min, each.flow_l_per_min) for each in segments]


def test_a_leg_takes_its_duration_and_its_delays() -> None:
    waiting = leg(10.0, MASK)._replace(delays=(Delay("the lift", 4.0), Delay("a door", 1.0)))
    found = flows([waiting, leg(5.0, NEB)])["cart"]
    assert steps(found) == [(0.0, 15.0, 6.0), (15.0, 20.0, 8.0)]
    # 6 x 15 + 8 x 5
    assert litres(found) == pytest.approx(130.0)
    assert [each.litres for each in found] == pytest.approx([90.0, 40.0])


def test_a_device_that_runs_for_the_first_minutes() -> None:
    both = Leg("both", 10.0, (Use(MASK, "cart"), Use(NEB, "cart", for_min=4.0)), "cart")
    found = flows([both])["cart"]
    assert steps(found) == [(0.0, 4.0, 14.0), (4.0, 10.0, 6.0)]
    assert peak_l_per_min(found) == 14.0
    # The outlets are asked for during the whole leg, in an order that does not depend on that of the devices.
    assert {each.asks for each in found} == {Asks((MASK_NEED, NEB_NEED))}


def test_a_device_that_ends_early_leaves_a_time_without_flow() -> None:
    short = Leg("short", 10.0, (Use(NEB, "cart", for_min=4.0),), "cart")
    assert steps(flows([short])["cart"]) == [(0.0, 4.0, 8.0), (4.0, 10.0, 0.0)]


def test_a_device_that_runs_for_no_time_draws_nothing() -> None:
    none = Leg("none", 10.0, (Use(MASK, "cart"), Use(NEB, "cart", for_min=0.0)), "cart")
    assert steps(flows([none])["cart"]) == [(0.0, 10.0, 6.0)]


def test_supplies_have_flows_of_their_own() -> None:
    two = Leg("two", 10.0, (Use(MASK, "cart"), Use(NEB, "van")), "cart")
    found = flows([leg(5.0, MASK), two])
    assert steps(found["cart"]) == [(0.0, 5.0, 6.0), (5.0, 15.0, 6.0)]
    assert steps(found["van"]) == [(5.0, 15.0, 8.0)]


def test_what_draws_nothing_asks_for_no_outlet() -> None:
    found = flows([leg(5.0, MAKER)._replace(magnet=True)])["cart"]
    assert steps(found) == [(0.0, 5.0, 0.0)]
    assert found[0].asks == Asks((), magnet=True)


def test_nothing_flows_without_legs() -> None:
    assert flows([]) == {}
    assert litres(()) == 0.0
    assert peak_l_per_min(()) == 0.0


def test_a_flow_is_cut_at_a_minute() -> None:
    found = flows([leg(10.0, MASK), leg(10.0, NEB)])["cart"]
    assert steps(until(found, 4.0)) == [(0.0, 4.0, 6.0)]
    assert steps(rest(found, 4.0)) == [(4.0, 10.0, 6.0), (10.0, 20.0, 8.0)]
    assert steps(until(found, 10.0)) == [(0.0, 10.0, 6.0)]
    assert steps(rest(found, 10.0)) == [(10.0, 20.0, 8.0)]
    assert until(found, 0.0) == ()
    assert rest(found, 20.0) == ()


def test_one_flow_up_to_a_minute_and_another_from_it_on() -> None:
    before, after = flows([leg(10.0, MASK)])["cart"], flows([leg(10.0, NEB)])["cart"]
    assert steps(splice(before, after, 3.0)) == [(0.0, 3.0, 6.0), (3.0, 10.0, 8.0)]
    assert splice(before, after, 0.0) == after
    assert splice(before, after, 10.0) == before


def test_neighbouring_legs_without_changes_are_one_stretch() -> None:
    legs = [
        leg(10.0, MASK),
        leg(5.0, MASK, no_change=True),
        leg(2.0, MASK, no_change=True),
        leg(4.0, MASK),
        leg(1.0, MASK, no_change=True),
    ]
    assert no_change_spans(legs) == (NoChange(10.0, 17.0, 1, 2), NoChange(21.0, 22.0, 4, 4))


def test_what_still_runs_at_the_end_of_a_leg() -> None:
    whole, partly, just = Use(MASK, "cart"), Use(NEB, "cart", for_min=4.0), Use(NEB, "cart", for_min=12.0)
    last = Leg("last", 10.0, (whole, partly, just), "cart", delays=(Delay("a wait", 2.0),))
    assert final_uses(last) == (whole, just)


def test_the_ledger_has_one_line_for_each_device_and_leg() -> None:
    both = Leg("both", 10.0, (Use(MASK, "cart"), Use(NEB, "cart", for_min=4.0), Use(NEB, "van")), "cart")
    rows = [(row.leg, row.device, row.flow_l_per_min, row.minutes, row.litres) for row in ledger([both], "cart")]
    assert rows == [("both", "mask", 6.0, 10.0, 60.0), ("both", "neb", 8.0, 4.0, 32.0)]
    assert ledger([both], "cart")[0].formula == "set flow = 6 L/min"
    slow = leg(10.0, MASK)._replace(delays=(Delay("the lift", 4.0),))
    assert [(row.minutes, row.litres) for row in ledger([slow], "cart")] == [(14.0, 84.0)]


def test_the_doubling_formula() -> None:
    # 2 x (20 min x (10 x 0.6 + 0.5) + 4 min x 8) = 2 x (130 + 32)
    legs = [
        leg(20.0, VENTILATOR),
        Leg("neb", 10.0, (Use(NEB, "cart", for_min=4.0),), "cart"),
        leg(5.0, NEB, supply="van"),
    ]
    assert doubling_l(legs, "cart") == pytest.approx(324.0)
