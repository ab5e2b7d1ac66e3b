"""Planned and least gauge at every minute, against sums by hand and against the checkpoints of the plan."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import pytest

from planner.constants import KPA_PER_PSI
from planner.gas import contents
from planner.go.gauge_lines import GaugePoint, Tooth, gauge_lines
from planner.model import Cylinder, Device, Supply, Trip
from planner.planning import plan
from planner.trade.catalog import find_size
from planner.trade.policy_table import policy_defaults
from tests.build import cylinder, leg, trip
from tests.make_plan import example_trip, longest

POLICY = policy_defaults("in_house")._replace(
    reserve_factor=1.5, reserve_time_min=30.0, spare_cylinders=0, gauge_allowance_kpa=0.0
)


def mask(flow_l_per_min: float) -> Device:
    return Device("mask", "simple_mask", flow_l_per_min=flow_l_per_min)


def cart(*cylinders: Cylinder, name: str = "cart", fixed: bool = False) -> Supply:
    return Supply(name, "cylinders", fixed=fixed, cylinders=cylinders)


def gauge_of(usable_l: float, size: str = "US-E") -> float:
    """The gauge in kPa at which a cylinder at 21.1 degC has so many litres above change-over."""
    row = find_size(size)
    assert row is not None
    residual = contents.contents_l(POLICY.change_over_at_kpa, 21.1, row.water_capacity_l)
    return contents.gauge_kpa(residual + usable_l, 21.1, row.water_capacity_l)


def holding(label: str, usable_l: float) -> Cylinder:
    """An E cylinder with so many litres above change-over."""
    return cylinder(label, gauge_of(usable_l) / KPA_PER_PSI)


def at(teeth: tuple[Tooth, ...], minute: float, value: Callable[[GaugePoint], float | None]) -> float:
    """A line at a minute, straight between its points; at a step, what follows it."""
    for tooth in reversed(teeth):
        for before, after in reversed(list(pairwise(tooth.points))):
            if before.minute <= minute <= after.minute and before.minute < after.minute:
                low, high = value(before), value(after)
                assert low is not None
                assert high is not None
                return low + (high - low) * (minute - before.minute) / (after.minute - before.minute)
    raise AssertionError(f"no line at minute {minute}")


def planned(point: GaugePoint) -> float:
    return point.gauge_kpa


def least(point: GaugePoint) -> float | None:
    return point.least_gauge_kpa


@pytest.mark.parametrize(
    ("minute", "required_l"),
    # 4 L/min for 90 min, factor 1.5, floor 30 min: required = 4 x rest + max(2 x rest, 120), by hand.
    [(0.0, 540.0), (15.0, 450.0), (30.0, 360.0), (45.0, 300.0), (60.0, 240.0), (75.0, 180.0), (89.9, 120.4)],
)
def test_the_least_gauge_is_what_the_rest_of_the_trip_requires(minute: float, required_l: float) -> None:
    made = trip([cart(cylinder("A", 2000, "US-M"))], leg(90.0, mask(4.0)), policy=POLICY)
    teeth = gauge_lines(made)["cart"]
    # Between two points the line is straight: off by what the required litres bend, or the gas, less than 3 kPa.
    assert at(teeth, minute, least) == pytest.approx(gauge_of(required_l, "US-M"), abs=3.0)


@pytest.mark.parametrize("minute", [0.0, 10.0, 47.0, 90.0])
def test_the_planned_gauge_falls_with_the_litres_drawn(minute: float) -> None:
    made = trip([cart(holding("A", 450.0))], leg(90.0, mask(4.0)), policy=POLICY)
    teeth = gauge_lines(made)["cart"]
    assert at(teeth, minute, planned) == pytest.approx(gauge_of(450.0 - 4.0 * minute), abs=3.0)


def test_the_spare_raises_the_least_line() -> None:
    """Two cylinders of 400 L: the last 20 min need 80 + max(40, 120) = 200 L, which B has; not so if B is the spare."""
    both = cart(holding("A", 400.0), holding("B", 400.0))
    without, spared = POLICY, POLICY._replace(spare_cylinders=1)
    lines = [gauge_lines(trip([both], leg(40.0, mask(4.0)), policy=policy))["cart"] for policy in (without, spared)]
    assert at(lines[0], 20.0, least) == pytest.approx(POLICY.change_over_at_kpa, abs=0.1)
    assert at(lines[1], 20.0, least) == pytest.approx(gauge_of(200.0), abs=3.0)


def test_each_cylinder_has_a_tooth_that_ends_at_change_over() -> None:
    """250 L at 5 L/min from cylinders of 100 L: changes after 20 and 40 min."""
    made = trip([cart(*(holding(label, 100.0) for label in "ABC"))], leg(50.0, mask(5.0)), policy=POLICY)
    teeth = gauge_lines(made)["cart"]
    assert [tooth.cylinder for tooth in teeth] == ["A", "B", "C"]
    assert [tooth.points[0].minute for tooth in teeth] == pytest.approx([0.0, 20.0, 40.0])
    assert [tooth.points[-1].minute for tooth in teeth] == pytest.approx([20.0, 40.0, 50.0])
    ends = [tooth.points[-1].gauge_kpa for tooth in teeth]
    assert ends == pytest.approx([POLICY.change_over_at_kpa, POLICY.change_over_at_kpa, gauge_of(50.0)], abs=0.1)


def test_a_supply_that_waits_is_level_until_its_leg() -> None:
    van = cart(cylinder("B", 2000), name="van", fixed=True)
    legs = leg(30.0, mask(4.0)), leg(30.0, mask(4.0), supply="van")
    made = trip([cart(cylinder("A", 2000)), van], *legs, policy=POLICY)
    (tooth,) = gauge_lines(made)["van"]
    assert tooth.points[0].minute == 0.0
    assert at((tooth,), 29.0, planned) == at((tooth,), 0.0, planned)
    assert at((tooth,), 29.0, least) == at((tooth,), 0.0, least)


def test_where_no_gauge_would_do_there_is_no_least_line() -> None:
    """5 L/min for 3 h need 900 L and as much again by half; a full E cylinder holds 616 L (0.28 x 2200)."""
    made = trip([cart(cylinder("A", 2000))], leg(180.0, mask(5.0)), policy=POLICY)
    (tooth,) = gauge_lines(made)["cart"]
    assert tooth.points[0].least_gauge_kpa is None


def test_a_stated_amount_and_a_wall_outlet_have_no_gauge() -> None:
    supplies = [Supply("cart", "litres", stated_l=900.0), Supply("wall", "pipeline")]
    made = trip(supplies, leg(30.0, mask(4.0)), leg(30.0, mask(4.0), supply="wall"), policy=POLICY)
    assert gauge_lines(made) == {}


@pytest.mark.parametrize("made", [example_trip(), longest().trip], ids=["example", "longest"])
def test_the_lines_pass_through_the_checkpoints(made: Trip) -> None:
    found = plan(made)
    lines = gauge_lines(made, found.start_kpa)
    tried = 0
    for check in found.checkpoints:
        if check.gauge_kpa is None or check.least_gauge_kpa is None:
            continue
        teeth = [tooth for tooth in lines[check.supply] if tooth.cylinder == check.cylinder]
        points = [point for tooth in teeth for point in tooth.points if point.minute == check.minute]
        assert any(point.gauge_kpa == pytest.approx(check.gauge_kpa, abs=0.01) for point in points)
        assert any(point.least_gauge_kpa == pytest.approx(check.least_gauge_kpa, abs=0.01) for point in points)
        tried += 1
    assert tried >= 8
