"""What the crew should see: order of use, change-overs and checkpoints, by litres chosen so that a pencil does.

The cylinders hold 1 L of water. Their gauges are given by the litres above change-over that they are to have.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum

import pytest

from planner.constants import KPA_PER_PSI
from planner.cylinders.onhand import OnHand, on_hand
from planner.cylinders.turns import Moment
from planner.flow.flows import Flow, flows
from planner.gas import contents
from planner.go.gauges import Gauges, Shown
from planner.model import Cylinder, Device, Leg, Outlet, Policy, Supply, Use
from planner.planning import plan
from planner.results import Checkpoint, Plan
from planner.trade.policy_table import policy_defaults
from tests.build import HIGH_PRESSURE, VENTILATOR, leg, trip

BARE = policy_defaults("in_house")._replace(
    reserve_factor=1.0, reserve_time_min=0.0, handover_time_min=0.0, must_hold=()
)
CHANGE_OVER = BARE.change_over_at_kpa
EVERY = (*(Outlet("flowmeter"),) * 3, HIGH_PRESSURE)
MASK = Device("mask", "simple_mask", flow_l_per_min=5.0)
SLOW = Device("slow", "nasal_cannula", flow_l_per_min=2.0)
HIGH_KPA = 100.0 * KPA_PER_PSI
"""By how much every gauge is taken to read too high in the what-if that asks for it; departure leaves room for it."""
FINE = 1e-4
"""The share of its usable litres with which each cylinder may leave is searched as closely as this."""
IDLE = Device("idle", "fixed_flow", flow_l_per_min=0.0)


def gauge(usable_l: float) -> float:
    """The gauge in kPa of a cylinder of 1 L that has so many litres above change-over."""
    return contents.gauge_kpa(contents.contents_l(CHANGE_OVER, 21.1, 1.0) + usable_l, 21.1, 1.0)


def litres(gauge_kpa: float) -> float:
    """The litres above change-over of a cylinder of 1 L."""
    return contents.contents_l(gauge_kpa, 21.1, 1.0) - contents.contents_l(CHANGE_OVER, 21.1, 1.0)


def with_litres(label: str, usable_l: float, outlets: tuple[Outlet, ...] = EVERY) -> Cylinder:
    return Cylinder(label, 1.0, 15168.0, 0.0725, gauge(usable_l), outlets=outlets)


def cart(*cylinders: Cylinder) -> Supply:
    return Supply("cart", "cylinders", cylinders=cylinders)


def planned(supply: Supply, *legs: Leg, policy: Policy = BARE) -> Plan:
    return plan(trip([supply, Supply("wall", "pipeline")], *legs, policy=policy))


def order(found: Plan) -> list[tuple[str, float, float]]:
    return [(row.cylinder, row.from_min, row.to_min) for row in found.supplies["cart"].order]


def shown(row: Checkpoint) -> tuple[str, float, str | None]:
    return row.at, row.minute, row.cylinder


def test_order_and_gauges() -> None:
    # 5 L/min: 50 L for 10 min, then 10 of 40 L.
    found = planned(cart(with_litres("A", 50.0), with_litres("B", 40.0)), leg(12.0, MASK))
    assert order(found) == [("A", 0.0, pytest.approx(10.0)), ("B", pytest.approx(10.0), 12.0)]
    first, second = found.supplies["cart"].order
    assert (first.gauge_start_kpa, first.gauge_end_kpa) == pytest.approx((gauge(50.0), CHANGE_OVER))
    assert (second.gauge_start_kpa, second.gauge_end_kpa) == pytest.approx((gauge(40.0), gauge(30.0)))
    (change,) = found.supplies["cart"].change_overs
    assert (change.from_cylinder, change.to_cylinder, change.leg) == ("A", "B", "leg")
    assert (change.minute, change.gauge_kpa) == pytest.approx((10.0, CHANGE_OVER))
    assert (change.early, change.inside_no_change) == (False, False)


def test_cylinders_with_nothing_usable_are_listed_where_their_turn_would_be() -> None:
    empty = with_litres("low", 0.0)._replace(gauge_kpa=CHANGE_OVER / 2.0)
    rows = cart(
        empty._replace(label="x"),
        with_litres("A", 50.0),
        empty._replace(label="y"),
        with_litres("B", 40.0),
        empty._replace(label="z"),
    )
    found = planned(rows, leg(12.0, MASK))
    assert order(found) == [
        ("x", 0.0, 0.0),
        ("A", 0.0, pytest.approx(10.0)),
        ("y", pytest.approx(10.0), pytest.approx(10.0)),
        ("B", pytest.approx(10.0), 12.0),
        ("z", 12.0, 12.0),
    ]
    assert found.supplies["cart"].order[0].gauge_start_kpa == CHANGE_OVER / 2.0
    assert order(planned(cart(empty), leg(5.0, MASK))) == [("low", 0.0, 0.0)]
    assert order(planned(cart(empty), leg(5.0, IDLE))) == []


def test_supplies_without_cylinders_have_no_order() -> None:
    found = planned(Supply("cart", "litres", stated_l=100.0), leg(5.0, MASK))
    assert order(found) == []
    start, end = found.checkpoints
    assert (start.cylinder, start.gauge_kpa, start.least_gauge_kpa, start.cylinder_minutes_left) == (None,) * 4
    # 100 L at 5 L/min, and 75 L.
    assert (start.minutes_left, end.minutes_left) == pytest.approx((20.0, 15.0))


def at_departure(stock: OnHand, flow: Flow, left_l: Sequence[float]) -> Shown | None:
    """What the first cylinder shows as the flow begins, all of them holding so many litres."""
    gauges = Gauges(stock, BARE)
    moment = Moment(0.0, 0, at_start=True, flow_l_per_min=flow[0].flow_l_per_min, tank=0, left_l=tuple(left_l))
    return gauges.shown(moment, gauges.needs(flow), left_l)


def test_no_gauge_is_asked_of_a_stated_amount() -> None:
    stated = on_hand(Supply("cart", "litres", stated_l=100.0), BARE)
    assert stated is not None
    assert at_departure(stated, flows([leg(5.0, MASK)])["cart"], [100.0]) is None


def test_a_manifold_shows_one_gauge_for_all() -> None:
    pair = cart(with_litres("A", 50.0), with_litres("B", 50.0))._replace(kind="manifold")
    found = planned(pair, leg(10.0, MASK))
    rows = found.supplies["cart"].order
    assert [(row.cylinder, row.from_min, row.to_min) for row in rows] == [("A", 0.0, 10.0), ("B", 0.0, 10.0)]
    assert [row.gauge_end_kpa for row in rows] == pytest.approx([gauge(25.0), gauge(25.0)])
    end = found.checkpoints[-1]
    assert end.cylinder == "A+B"
    assert end.gauge_kpa == pytest.approx(gauge(25.0))
    assert (end.minutes_left, end.cylinder_minutes_left) == pytest.approx((10.0, 10.0))
    # At departure 50 L are needed of both, 25 of each, should both gauges read high; with one withheld, 50 of each.
    assert found.checkpoints[0].least_gauge_kpa == pytest.approx(gauge(25.0) + HIGH_KPA, rel=FINE)
    spare = planned(pair, leg(10.0, MASK), policy=BARE._replace(spare_cylinders=1))
    assert spare.checkpoints[0].least_gauge_kpa == pytest.approx(gauge(50.0))
    none = planned(pair, leg(10.0, MASK), policy=BARE._replace(spare_cylinders=2))
    assert none.checkpoints[0].least_gauge_kpa is None
    assert none.checkpoints[-1].least_gauge_kpa == pytest.approx(CHANGE_OVER)


def test_checkpoints_at_the_start_and_the_end_of_each_leg() -> None:
    # 5 x 6 = 30 L, then 2 x 10 = 20 L: A ends just with the first leg.
    found = planned(cart(with_litres("A", 30.0), with_litres("B", 40.0)), leg(6.0, MASK), leg(10.0, SLOW, name="on"))
    rows = found.checkpoints
    assert [shown(row) for row in rows] == [
        ("start", 0.0, "A"),
        ("end", 6.0, "A"),
        ("start", 6.0, "B"),
        ("end", 16.0, "B"),
    ]
    assert [row.flow_l_per_min for row in rows] == [5.0, 5.0, 2.0, 2.0]
    assert [row.leg for row in rows] == ["leg", "leg", "on", "on"]
    assert [row.gauge_kpa for row in rows] == pytest.approx([gauge(30.0), CHANGE_OVER, gauge(40.0), gauge(20.0)])
    # 70 / 5, 40 / 5, 40 / 2, 20 / 2; and of the cylinder in use 30 / 5, nothing, 40 / 2, 20 / 2.
    assert [row.minutes_left for row in rows] == pytest.approx([14.0, 8.0, 20.0, 10.0])
    assert [row.cylinder_minutes_left for row in rows] == pytest.approx([6.0, 0.0, 20.0, 10.0])
    # 50 L are needed in all, and both leave with the same share of their 30 and 40 L, though both gauges read high.
    departing = [row.least_gauge_kpa or 0.0 for row in (rows[0], rows[2])]
    assert fsum(litres(kpa - HIGH_KPA) for kpa in departing) == pytest.approx(50.0, rel=FINE)
    assert litres(departing[0]) / 30.0 == pytest.approx(litres(departing[1]) / 40.0, rel=FINE)
    # At the end of the first leg 20 L are needed, which B has: nothing of A. At the end nothing is.
    assert [row.least_gauge_kpa for row in (rows[1], rows[3])] == pytest.approx([CHANGE_OVER, CHANGE_OVER])


def test_the_least_gauge_holds_reserve_and_spare() -> None:
    policy = BARE._replace(reserve_factor=1.5, spare_cylinders=1)
    three = cart(with_litres("A", 60.0), with_litres("B", 60.0), with_litres("C", 30.0))
    rows = planned(three, leg(8.0, MASK), leg(2.0, MASK), policy=policy).checkpoints
    # 50 L and 25 L are 75 of the 90 that are left when one of 60 is withheld. All leave with five sixths of theirs: A
    # with 50. Then 10 L and 5 L are needed, which C has in its 25.
    assert rows[0].least_gauge_kpa == pytest.approx(gauge(50.0), rel=FINE)
    assert rows[2].least_gauge_kpa == pytest.approx(CHANGE_OVER)
    # 120 x 1.5 = 180 L cannot be had of A, B and C with one withheld.
    assert planned(three, leg(24.0, MASK), policy=policy).checkpoints[0].least_gauge_kpa is None


def test_what_is_left_counts_where_it_serves_the_leg() -> None:
    meter, both = with_litres("A", 50.0, EVERY[:1]), with_litres("B", 40.0)
    rows = planned(cart(meter, both), leg(5.0, VENTILATOR), leg(5.0, MASK)).checkpoints
    flow = 5.4367  # 10 x 0.39 / 0.79 + 0.5
    # B has 40 - 27.2 = 12.8 L left for the mask, 2.6 min of it; A takes over.
    assert [row.cylinder for row in rows] == ["B", "B", "B", "A"]
    assert rows[0].minutes_left == pytest.approx(40.0 / flow, rel=1e-4)
    assert rows[2].minutes_left == pytest.approx((90.0 - 5.0 * flow) / 5.0, rel=1e-4)


def test_after_oxygen_has_run_out() -> None:
    # 20 L last 4 min.
    rows = planned(cart(with_litres("A", 20.0)), leg(2.0, MASK), leg(4.0, MASK), leg(1.0, MASK)).checkpoints
    assert [shown(row) for row in rows[2:]] == [
        ("start", 2.0, "A"),
        ("end", 6.0, None),
        ("start", 6.0, None),
        ("end", 7.0, None),
    ]
    assert [row.minutes_left for row in rows] == pytest.approx([4.0, 2.0, 2.0, 0.0, 0.0, 0.0])
    assert [row.cylinder_minutes_left for row in rows[3:]] == [0.0, 0.0, 0.0]
    assert [row.gauge_kpa for row in rows[3:]] == [None, None, None]


def test_without_flow_no_minutes_are_told() -> None:
    start, _ = planned(cart(with_litres("A", 20.0)), leg(2.0, IDLE)).checkpoints
    assert (start.cylinder, start.minutes_left, start.cylinder_minutes_left) == ("A", None, None)


def test_a_leg_on_two_supplies_has_a_row_for_each_its_own_first() -> None:
    two = Leg("two", 4.0, (Use(MASK, "wall"), Use(SLOW, "cart", for_min=1.0)), "cart")
    rows = planned(cart(with_litres("A", 20.0)), two).checkpoints
    assert [(row.at, row.supply) for row in rows] == [
        ("start", "cart"),
        ("start", "wall"),
        ("end", "cart"),
        ("end", "wall"),
    ]
    # The cannula has ended by then.
    assert [row.flow_l_per_min for row in rows] == [2.0, 5.0, 0.0, 5.0]
    assert rows[1].minutes_left is None
    # A leg may name no supply of its own.
    unnamed = planned(cart(with_litres("A", 20.0)), two._replace(supply=None)).checkpoints
    assert [row.supply for row in unnamed] == ["wall", "cart", "wall", "cart"]


@pytest.mark.hazard(13)
def test_a_change_brought_forward_shows_the_gauge_at_which_it_is_made() -> None:
    # 5 x 4 = 20 L of A's 30, then 5 x 4 = 20 inside; B has 25 and takes over.
    found = planned(
        cart(with_litres("A", 30.0), with_litres("B", 25.0)),
        leg(4.0, MASK),
        leg(4.0, MASK, name="lift", no_change=True),
    )
    (change,) = found.supplies["cart"].change_overs
    assert (change.minute, change.leg, change.early, change.inside_no_change) == (4.0, "lift", True, False)
    assert change.gauge_kpa == pytest.approx(gauge(10.0))
    codes = {row.code for row in found.findings}
    assert "early_change" in codes
    assert "change_in_no_change" not in codes


@pytest.mark.hazard(13)
def test_a_crossing_that_is_forced_inside_gets_a_caution() -> None:
    found = planned(
        cart(with_litres("A", 30.0), with_litres("B", 15.0)),
        leg(4.0, MASK),
        leg(4.0, MASK, name="lift", no_change=True),
    )
    (change,) = found.supplies["cart"].change_overs
    assert (change.early, change.inside_no_change) == (False, True)
    assert change.minute == pytest.approx(6.0)
    (caution,) = [row for row in found.findings if row.code == "change_in_no_change"]
    assert caution.level == "caution"


def test_gauges_with_an_allowance_are_as_indicated() -> None:
    extra = 100 * KPA_PER_PSI
    shifted = with_litres("A", 20.0)._replace(gauge_kpa=gauge(20.0) + extra)
    start, end = planned(cart(shifted), leg(2.0, MASK), policy=BARE._replace(gauge_allowance_kpa=extra)).checkpoints
    assert start.gauge_kpa == gauge(20.0) + extra
    assert end.gauge_kpa == pytest.approx(gauge(10.0) + extra)
    assert start.least_gauge_kpa == pytest.approx(gauge(10.0) + extra)
    assert end.least_gauge_kpa == pytest.approx(CHANGE_OVER + extra)


def test_parts_of_a_litre_show() -> None:
    slow = SLOW._replace(flow_l_per_min=0.4)
    found = planned(cart(with_litres("A", 0.3), with_litres("B", 40.0)), leg(10.0, slow))
    # 0.3 L at 0.4 L/min are 0.75 min; 40.3 L are 100.75 min.
    assert order(found) == [("A", 0.0, pytest.approx(0.75)), ("B", pytest.approx(0.75), 10.0)]
    start = found.checkpoints[0]
    assert (start.minutes_left, start.cylinder_minutes_left) == pytest.approx((100.75, 0.75), rel=1e-4)
    # One that has something usable and does not serve is not listed with the empty ones.
    driven = with_litres("A", 0.3, (HIGH_PRESSURE,))
    assert order(planned(cart(driven, with_litres("B", 40.0)), leg(10.0, slow))) == [("B", 0.0, 10.0)]


def test_the_least_gauge_at_any_minute_where_outlets_differ() -> None:
    """30 L for the ventilator, which A alone carries, and 24 L for the mask, for which B has 20 L: 34 L of A.

    With 25 L in B the ventilator's 30 L are more than 54 - 25 = 29 L.
    """
    vent = VENTILATOR._replace(fio2=1.0, minute_volume_l_per_min=3.0, drive="electric", drive_gas_l_per_min=None)
    flow = flows([leg(10.0, vent), leg(6.0, MASK._replace(flow_l_per_min=4.0))])["cart"]
    for of_b, of_a in ((20.0, 34.0), (25.0, 30.0)):
        stock = on_hand(cart(with_litres("A", 60.0), with_litres("B", of_b, EVERY[:1])), BARE)
        assert stock is not None
        shown = at_departure(stock, flow, [60.0, of_b])
        assert shown is not None
        assert shown.least_kpa == pytest.approx(gauge(of_a))


@pytest.mark.parametrize("capacities_l", [(1.0, 3.0), (3.0, 1.0)])
def test_the_largest_of_a_manifold_is_withheld(capacities_l: tuple[float, float]) -> None:
    """10 L must be in the one of 1 L alone: 10 L for each litre of water."""
    have = [with_litres("A", 50.0)._replace(label=f"{size}", water_capacity_l=size) for size in capacities_l]
    pair = cart(*have)._replace(kind="manifold")
    start = planned(pair, leg(2.0, MASK), policy=BARE._replace(spare_cylinders=1)).checkpoints[0]
    assert start.least_gauge_kpa == pytest.approx(gauge(10.0), rel=FINE)


def test_a_manifold_of_very_small_cylinders() -> None:
    """A quarter of a litre of water each, for 0.4 L: 0.8 L a litre of water should the gauge read high.

    With one withheld the other must hold 0.4 L, 1.6 L a litre of water: less than that the gauge reads high.
    """
    have = [with_litres(label, 50.0)._replace(water_capacity_l=0.25) for label in "AB"]
    pair = cart(*have)._replace(kind="manifold")
    ride = leg(1.0, SLOW._replace(flow_l_per_min=0.4))
    start = planned(pair, ride, policy=BARE._replace(spare_cylinders=1)).checkpoints[0]
    assert start.least_gauge_kpa == pytest.approx(gauge(0.8) + HIGH_KPA, rel=FINE)
    assert gauge(1.6) < gauge(0.8) + HIGH_KPA
    none = planned(pair, ride, policy=BARE._replace(spare_cylinders=2)).checkpoints[0]
    assert none.least_gauge_kpa is None
