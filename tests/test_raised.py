"""A trip planned again with a measured flow: raised where it plans less, never lowered. Litres by hand."""

from __future__ import annotations

import pytest

from planner.flow.raised import planned_flows, raised, supplies_that_draw
from planner.model import Device, Supply, Use
from planner.planning import plan
from tests.build import CANNULA, VENTILATOR, cylinder, leg, trip

CART = Supply("cart", "cylinders", cylinders=(cylinder("A", 2000.0), cylinder("B", 2000.0)))
MASK = Device("mask", "reservoir_mask", flow_l_per_min=12.0)
NEB = Device("neb", "nebulizer", flow_l_per_min=8.0)
TWO_LEGS = trip([CART], leg(20.0, CANNULA, name="Ward to lift"), leg(10.0, MASK, name="Lift to theatre"))


def litres(flow_l_per_min: float, legs: set[int] | None = None) -> float:
    return plan(raised(TWO_LEGS, "cart", flow_l_per_min, legs)).supplies["cart"].need.planned_l


def test_a_leg_that_plans_less_is_raised_and_one_that_plans_more_stands() -> None:
    """As planned 20 x 4 + 10 x 12 = 200 L; at 6 L/min 20 x 6 + 10 x 12 = 240 L."""
    assert plan(TWO_LEGS).supplies["cart"].need.planned_l == pytest.approx(200.0, rel=1e-12)
    assert litres(6.0) == pytest.approx(240.0, rel=1e-12)


@pytest.mark.parametrize("flow_l_per_min", [0.0, 1.0, 4.0])
def test_a_measured_flow_never_lowers_a_planned_one(flow_l_per_min: float) -> None:
    assert raised(TWO_LEGS, "cart", flow_l_per_min) == TWO_LEGS


def test_above_all_planned_flows_every_leg_is_raised() -> None:
    """20 x 15 + 10 x 15 = 450 L."""
    assert litres(15.0) == pytest.approx(450.0, rel=1e-12)
    again = plan(raised(TWO_LEGS, "cart", 15.0)).supplies["cart"]
    assert again.need.peak_flow_l_per_min == pytest.approx(15.0, rel=1e-12)


def test_only_the_legs_that_are_named() -> None:
    """Leg 1 alone: 20 x 15 + 10 x 12 = 420 L."""
    assert litres(15.0, {0}) == pytest.approx(420.0, rel=1e-12)


def test_a_leg_of_several_flows_is_raised_from_its_lowest() -> None:
    """A cannula at 4 L/min for 30 min, with a nebulizer at 8 L/min for the first 10: 12, then 4 L/min. Measured
    5 L/min: 1 more throughout, 30 x 5 + 10 x 8 = 230 L."""
    whole = leg(30.0, CANNULA)._replace(uses=(Use(CANNULA, "cart"), Use(NEB, "cart", for_min=10.0)))
    several = trip([CART], whole)
    (planned,) = planned_flows(several, "cart")
    assert (planned.lowest_l_per_min, planned.highest_l_per_min) == (4.0, 12.0)
    assert plan(raised(several, "cart", 5.0)).supplies["cart"].need.planned_l == pytest.approx(230.0, rel=1e-12)


def test_a_pause_is_no_planned_flow() -> None:
    """A nebulizer for the first 10 of 30 min, nothing after: it is 8 L/min that is compared, not 0."""
    whole = leg(30.0)._replace(uses=(Use(NEB, "cart", for_min=10.0),))
    (planned,) = planned_flows(trip([CART], whole), "cart")
    assert planned.lowest_l_per_min == 8.0


def test_what_is_measured_above_plan_asks_for_no_outlet() -> None:
    """One flowmeter to 15 L/min, taken by the cannula: the cylinder still serves."""
    one = Supply("cart", "cylinders", cylinders=(cylinder("A", 2000.0, outlets=None),))
    again = plan(raised(trip([one], leg(20.0, CANNULA)), "cart", 6.0)).supplies["cart"]
    assert all(item.serves for item in again.cylinders)
    assert again.serving_without_spare_l == again.usable_without_spare_l


def test_what_ifs_keep_what_is_measured_above_plan() -> None:
    """A ventilator fails at its worst minute: the resuscitator's 15 L/min and the 2 L/min measured above plan go on, so
    fewer minutes are to spare: litres left / 17 in place of / 15 L/min."""
    vented = trip([CART], leg(20.0, VENTILATOR))
    flow = planned_flows(vented, "cart")[0].lowest_l_per_min
    before, after = (
        next(row for row in plan(one).whatifs if row.name == "ventilator_fails")
        for one in (vented, raised(vented, "cart", flow + 2.0))
    )
    assert before.litres_left is not None
    assert after.litres_left is not None
    assert after.minutes_to_spare == pytest.approx(after.litres_left / 17.0, rel=1e-9)
    assert after.litres_left == pytest.approx(before.litres_left - 2.0 * 20.0, rel=1e-9)


def test_supplies_that_draw() -> None:
    wall, spare = Supply("wall", "pipeline"), Supply("spare", "cylinders", cylinders=(cylinder("C", 2000.0),))
    on_wall = leg(5.0, CANNULA, supply="wall")
    assert supplies_that_draw(trip([wall, CART, spare], on_wall, leg(20.0, CANNULA))) == ("cart",)
