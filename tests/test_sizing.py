"""Need with its reserve, and whether litres cover it: figures that a pencil gives."""

from __future__ import annotations

import pytest

from planner.cylinders.depletion import Tank
from planner.cylinders.halving import least_by_search
from planner.flow.flows import Flow, Segment
from planner.flow.outlets import Asks, OutletNeed
from planner.go.sizing import (
    GroupNeed,
    count_full,
    enough,
    group_needs,
    least_litres,
    meets,
    need_of,
    spares,
    without_largest,
)
from planner.model import Outlet, Supply
from planner.trade.policy_table import policy_defaults

ROAD = policy_defaults("road")
ANY = Asks()
VENT = Asks((OutletNeed("high_pressure", 1.0, "vent"),))
MASK = Asks((OutletNeed("flowmeter", 1.0, "mask"),))
METER, HIGH = Outlet("flowmeter"), Outlet("high_pressure")


def course(*legs: tuple[float, float, Asks]) -> Flow:
    """A flow from (minutes, L/min, outlets) of leg after leg."""
    found, start = [], 0.0
    for number, (minutes, flow, asks) in enumerate(legs):
        found.append(Segment(start, start + minutes, number, flow, asks))
        start += minutes
    return tuple(found)


@pytest.mark.hazard(8)
def test_the_larger_of_two_reserves_is_added_once() -> None:
    # 60 x 4 = 240 L; half of it is 120, 30 min at 4 L/min are 120 too.
    even = need_of(course((60.0, 4.0, ANY)), ROAD)
    assert (even.planned_l, even.factor_reserve_l, even.time_reserve_l) == (240.0, 120.0, 120.0)
    assert (even.reserve_l, even.required_l, even.peak_flow_l_per_min) == (120.0, 360.0, 4.0)
    # 20 x 4 + 1 x 10 = 90 L; half of it is 45, but 30 min at the peak of 10 are 300.
    short = need_of(course((20.0, 4.0, ANY), (1.0, 10.0, ANY)), ROAD)
    assert (short.factor_reserve_l, short.reserve_l, short.required_l) == (45.0, 300.0, 390.0)
    # 180 x 4 = 720 L: half of it, 360, is more than 120.
    assert need_of(course((180.0, 4.0, ANY)), ROAD).required_l == 1080.0


def test_the_published_doubling() -> None:
    """60 min at 4.1 L/min, doubled, are 492 L: worked example of the transfer guideline's formula.

    Source: emergency medicine examination notes, oxygen requirements for patient transfer.
    """
    doubling = ROAD._replace(reserve_factor=2.0, reserve_time_min=0.0)
    assert need_of(course((60.0, 4.1, ANY)), doubling).required_l == pytest.approx(492.0)


def test_a_pipeline_has_no_reserve() -> None:
    found = need_of(course((60.0, 4.0, ANY)), ROAD, pipeline=True)
    assert (found.planned_l, found.reserve_l, found.required_l) == (240.0, 0.0, 240.0)


def test_spares_are_withheld_on_portable_cylinders_only() -> None:
    assert spares(Supply("cart", "cylinders"), ROAD) == 1
    assert spares(Supply("cart", "manifold"), ROAD._replace(spare_cylinders=2)) == 2
    assert spares(Supply("van", "cylinders", fixed=True), ROAD) == 0
    assert spares(Supply("wall", "pipeline"), ROAD) == 0
    assert spares(Supply("liquid", "litres", stated_l=900.0), ROAD) == 0


@pytest.mark.hazard(10)
def test_the_largest_are_left_out() -> None:
    assert without_largest([100.0, 300.0, 200.0], 0) == 600.0
    assert without_largest([100.0, 300.0, 200.0], 1) == 300.0
    assert without_largest([100.0, 300.0, 200.0], 2) == 100.0
    assert without_largest([100.0], 1) == 0.0
    assert without_largest([], 3) == 0.0


def test_rounding_noise_decides_nothing_and_a_drop_does() -> None:
    assert enough(0.1 + 0.2, 0.3)
    assert enough(0.3, 0.1 + 0.2)
    assert not enough(299.9999, 300.0)
    assert not enough(299.99999, 300.0)


@pytest.mark.hazard(12)
def test_litres_count_where_they_serve() -> None:
    """20 min of a ventilator at 5 L/min, then 20 min of a mask at 2; no reserve.

    The first cylinder carries both, the second the mask alone: 100 L from the first, 140 L from both.
    """
    bare = ROAD._replace(reserve_factor=1.0, reserve_time_min=0.0)
    flow = course((20.0, 5.0, VENT), (20.0, 2.0, MASK))
    tanks = [Tank(110.0, (METER, HIGH)), Tank(90.0, (METER,))]
    first, both = frozenset({0}), frozenset({0, 1})
    assert group_needs(tanks, flow, bare, 0) == [
        GroupNeed(100.0, 0, first),
        GroupNeed(40.0, 0, both),
        GroupNeed(140.0, 0, both),
    ]
    # Where every cylinder carries every leg there is one demand, and without a flow none.
    assert group_needs([Tank(1.0), Tank(2.0)], flow, ROAD, 1) == [GroupNeed(290.0, 1, both)]
    assert group_needs(tanks, (), ROAD, 1) == []
    # A leg that none carries is asked of none.
    assert not all(meets(demand, [9999.0]) for demand in group_needs([Tank(9999.0, (METER,))], flow, bare, 0))


def test_where_outlets_differ_each_group_of_legs_has_the_reserve_of_its_own_peak() -> None:
    """As above with a mask that is at 6 L/min for a minute, before or after; 30 min of the peak as reserve.

    The ventilator: 100 + 30 x 5 = 250 L. The mask: 40 + 6 + 30 x 6 = 226 L. Both: 146 + 30 x 6 = 326 L.
    """
    policy = ROAD._replace(reserve_factor=1.0, reserve_time_min=30.0)
    tanks = [Tank(110.0, (METER, HIGH)), Tank(90.0, (METER,))]
    vent, slow, fast = (20.0, 5.0, VENT), (20.0, 2.0, MASK), (1.0, 6.0, MASK)
    for legs in ((vent, slow, fast), (vent, fast, slow), (slow, vent, fast), (fast, vent, slow)):
        found = group_needs(tanks, course(*legs), policy, 0)
        assert sorted((demand.need_l, len(demand.tanks)) for demand in found) == [(226.0, 2), (250.0, 1), (326.0, 2)]
    # A newborn at 0.1 and 0.2 L/min, 10 min each: 1 + 30 x 0.1 = 4 L and 2 + 30 x 0.2 = 8 L; both 3 + 6 = 9 L.
    drops = group_needs(tanks, course((10.0, 0.2, VENT), (10.0, 0.1, MASK)), policy, 0)
    assert [demand.need_l for demand in drops] == pytest.approx([8.0, 4.0, 9.0])


def test_of_very_many_groups_each_and_all_are_asked() -> None:
    """Seven masks of 1 to 7 L/min for a minute each, and seven cylinders with flowmeters to 1, 2, ... 7 L/min."""
    bare = ROAD._replace(reserve_factor=1.0, reserve_time_min=0.0)
    flows = [float(number) for number in range(1, 8)]
    flow = course(*((1.0, each, Asks((OutletNeed("flowmeter", each, "mask"),))) for each in flows))
    tanks = [Tank(9.0, (Outlet("flowmeter", each),)) for each in flows]
    found = group_needs(tanks, flow, bare, 0)
    assert [demand.need_l for demand in found] == [*flows, 28.0]
    assert [len(demand.tanks) for demand in found] == [7, 6, 5, 4, 3, 2, 1, 7]


@pytest.mark.parametrize(
    ("need_l", "leave_out", "others", "least"),
    [
        (300.0, 0, [100.0, 50.0], 150.0),
        (150.0, 0, [100.0, 50.0], 0.0),
        (300.0, 1, [400.0, 250.0], 50.0),
        (300.0, 1, [400.0, 300.0], 0.0),
        # Withheld is the largest: above 100 L it would be this one, and the others have 50.
        (300.0, 1, [100.0, 50.0], None),
        (150.0, 1, [100.0, 50.0], 100.0),
        (151.0, 1, [100.0, 50.0], None),
        (10.0, 1, [], None),
        (0.0, 1, [], 0.0),
        (60.0, 2, [90.0, 80.0, 20.0], 40.0),
        # The same in any order; and beside one other, which is the larger one up to its own litres.
        (300.0, 1, [250.0, 400.0], 50.0),
        (60.0, 2, [20.0, 80.0, 90.0], 40.0),
        (60.0, 1, [100.0], 60.0),
    ],
)
def test_the_least_litres_of_one_cylinder(
    need_l: float, leave_out: int, others: list[float], least: float | None
) -> None:
    demand = GroupNeed(need_l, leave_out, frozenset(range(len(others) + 1)))
    assert least_litres(demand, [0.0, *others], 0) == least
    if least is not None:
        assert meets(demand, [least, *others])
        assert least == 0.0 or not meets(demand, [least - 0.001, *others])
    else:
        assert not any(meets(demand, [float(litres), *others]) for litres in range(1000))


def test_a_cylinder_that_is_not_asked_may_be_empty_where_the_others_do() -> None:
    demand = GroupNeed(100.0, 0, frozenset({1}))
    assert least_litres(demand, [0.0, 100.0], 0) == 0.0
    assert least_litres(demand, [500.0, 99.0], 0) is None


@pytest.mark.hazard(23)
@pytest.mark.parametrize(
    ("asked", "each_l", "count"),
    [
        ([(500.0, 0)], 425.0, 2),
        ([(425.0, 0)], 425.0, 1),
        ([(425.1, 0)], 425.0, 2),
        ([(0.3, 0)], 0.1, 3),  # in binary 0.3 / 0.1 is a little less than 3, and 3 x 0.1 a little more than 0.3
        ([(0.1 * 3, 0)], 0.1, 3),
        ([(500.0, 1)], 425.0, 3),
        ([(500.0, 1), (900.0, 0)], 425.0, 3),
        ([(500.0, 1), (1400.0, 0)], 425.0, 4),
        ([(0.0, 1)], 425.0, 0),
        ([(0.0, 1), (500.0, 0)], 425.0, 2),
        ([(0.0, 1)], 0.0, 0),
        ([(1.0, 0)], 0.0, None),
        ([], 425.0, 0),
    ],
)
def test_how_many_full_ones(asked: list[tuple[float, int]], each_l: float, count: int | None) -> None:
    assert count_full(asked, each_l) == count


def test_the_least_value_is_found_from_above() -> None:
    found = least_by_search(lambda value: value >= 7.3, 0.0, 100.0, fine=0.01)
    assert found is not None
    assert 7.3 <= found <= 7.31
    assert least_by_search(lambda value: value > 200.0, 0.0, 100.0, fine=0.01) is None
    assert least_by_search(lambda value: True, 5.0, 100.0, fine=0.01) == 5.0


def test_what_is_lacking_by_noise_is_not_asked_of_a_cylinder() -> None:
    # One part in a thousand million of 1 000 000 L is 0.001 L.
    demand = GroupNeed(1e6, 0, frozenset({0, 1}))
    assert least_litres(demand, [0.0, 1e6 - 0.0009], 0) == 0.0
    assert least_litres(demand, [0.0, 1e6 - 0.0011], 0) == pytest.approx(0.0011, rel=1e-3)
