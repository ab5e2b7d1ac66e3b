"""Readings inside long legs: where they fall, what they should show, and that chart and log say the same."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.go.between import LONGEST_PART_MIN, MOST_CUTS, cuts
from planner.model import Device, Supply
from planner.planning import plan
from planner.report.chart.chart import charts
from planner.report.log.log import LogRow, log
from planner.results import Plan
from tests.build import cylinder, leg, trip
from tests.test_gauge_lines import POLICY, gauge_of, holding

PSI = 6.894757293168361


def mask(flow_l_per_min: float) -> Device:
    return Device("mask", "simple_mask", flow_l_per_min=flow_l_per_min)


def cart(*labels: str, usable_l: float = 450.0) -> Supply:
    return Supply("cart", "cylinders", cylinders=tuple(holding(label, usable_l) for label in labels))


def rows(made: Plan) -> list[LogRow]:
    return [row for part in log(made) for row in part.rows if row.key.startswith("between.")]


@pytest.mark.parametrize(
    ("start_min", "end_min", "expected"),
    [
        (0.0, 45.0, ()),
        (0.0, 46.0, (23.0,)),
        (0.0, 60.0, (30.0,)),
        (0.0, 61.0, (20.0, 40.0)),  # three parts of 20 min 20 s, cut at whole minutes
        (23.0, 78.0, (50.0,)),  # 27.5 min each
        (10.5, 70.5, (30.0, 50.0)),  # two parts of 30 min would need a cut at 40.5 min
        (20.0, 110.0, (50.0, 80.0)),
        (0.0, 390.0, tuple(30.0 * number for number in range(1, 13))),
        # 10 h: 12 cuts, 13 parts of 46 min 9 s
        (0.0, 600.0, (46.0, 92.0, 138.0, 184.0, 230.0, 276.0, 323.0, 369.0, 415.0, 461.0, 507.0, 553.0)),
    ],
)
def test_a_long_leg_is_cut_into_equal_parts_at_whole_minutes(
    start_min: float, end_min: float, expected: tuple[float, ...]
) -> None:
    assert cuts(start_min, end_min) == expected


@given(st.floats(0.0, 5000.0), st.floats(0.5, 6000.0))
def test_no_part_is_longer_than_half_an_hour_but_in_very_long_legs(start_min: float, total_min: float) -> None:
    end_min = start_min + total_min
    found = cuts(start_min, end_min)
    assert len(found) <= MOST_CUTS
    assert all(minute == int(minute) for minute in found)
    apart = [later - earlier for earlier, later in pairwise((start_min, *found, end_min))]
    assert min(apart) > 0.0
    if total_min <= 6 * 60.0:
        assert max(apart) <= max(LONGEST_PART_MIN, 45.0 if not found else 0.0) + 1e-6
    else:
        assert max(apart) <= total_min / 13 + 2.0


@pytest.mark.hazard(1, 24)
def test_a_row_has_the_planned_and_the_least_gauge_of_its_minute() -> None:
    """4 L/min for 90 min from 450 L: at 30 min 120 L are gone, and 60 min need 240 L and half as much again.

    240 + max(120, 30 x 4) = 360 L; at 60 min 210 L are left where 120 + 120 = 240 L are required.
    """
    made = plan(
        trip([Supply("cart", "cylinders", cylinders=(holding("A", 560.0),))], leg(90.0, mask(4.0)), policy=POLICY)
    )
    found = [each.check for each in made.between]
    assert [(check.minute, check.cylinder, check.flow_l_per_min) for check in found] == [
        (30.0, "A", 4.0),
        (60.0, "A", 4.0),
    ]
    assert [check.gauge_kpa for check in found] == pytest.approx([gauge_of(440.0), gauge_of(320.0)], abs=0.1)
    assert [check.least_gauge_kpa for check in found] == pytest.approx([gauge_of(360.0), gauge_of(240.0)], abs=0.1)
    # Up to the next 10 psi for the least gauge, to the nearest for the other.
    printed = [(int(row.expected.split()[0]), int(row.least.split()[0])) for row in rows(made)]
    for (expected, least), gauge_l, least_l in zip(printed, (440.0, 320.0), (360.0, 240.0), strict=True):
        assert abs(expected - gauge_of(gauge_l) / PSI) <= 5.0
        assert 0.0 <= least - gauge_of(least_l) / PSI < 10.0
    assert [row.what for row in rows(made)] == ["read in leg 1, draws 4 L/min"] * 2


def test_the_chart_shows_the_same_gauges() -> None:
    made = plan(trip([cart("A", "B", "C")], leg(20.0, mask(4.0)), leg(170.0, mask(5.0)), policy=POLICY))
    (chart,) = charts(made)
    tried = 0
    for each in made.between:
        check = each.check
        (line,) = [line for line in chart.lines if line.label == check.cylinder]
        for points, value in ((line.planned, check.gauge_kpa), (line.least[0], check.least_gauge_kpa)):
            assert value is not None
            (low, first), (high, second) = next(
                pair for pair in reversed(list(pairwise(points))) if pair[0][0] <= check.minute <= pair[1][0]
            )
            # Straight between two points of the chart, some 4 min apart: the gas bends by less than 1 psi.
            drawn = first + (second - first) * (check.minute - low) / (high - low)
            assert drawn == pytest.approx(value / PSI, abs=1.0)
            tried += 1
    assert tried >= 8


def test_a_cut_beside_a_change_is_left_out_and_the_others_keep_their_names() -> None:
    """Cylinders of 310 L at 5 L/min: the change at 62 min asks for both gauges, so that of 60 min is not asked."""
    policy = POLICY._replace(reserve_factor=1.0, reserve_time_min=0.0)
    made = plan(trip([cart("A", "B", usable_l=310.0)], leg(120.0, mask(5.0)), policy=policy))
    assert [(row.key, row.elapsed, row.cylinder) for row in rows(made)] == [
        ("between.1.1.cart", "30 min", "A"),
        ("between.1.3.cart", "90 min", "B"),
    ]


def test_other_rows_keep_their_names_and_short_legs_have_none() -> None:
    short = plan(trip([cart("A")], leg(45.0, mask(4.0)), policy=POLICY))
    long = plan(trip([cart("A")], leg(46.0, mask(4.0)), policy=POLICY))
    keys = [[row.key for part in log(made) for row in part.rows] for made in (short, long)]
    assert [key for key in keys[1] if not key.startswith("between.")] == keys[0]
    assert "between.1.1.cart" in keys[1]
    assert not rows(short)


def test_while_nothing_is_drawn_the_least_departure_gauge_stands() -> None:
    """An hour without flow, then 20 min, at the longest 100 min, at 4 L/min: 400 L, where 80 + 120 L would do later.

    A cylinder with which the trip would not have been left must not pass half-way through the hour.
    """
    last = leg(20.0, mask(4.0))._replace(longest_min=100.0)
    policy = POLICY._replace(must_hold=("longest_times",))
    made = plan(
        trip([cart("A")], leg(60.0, Device("concentrator", "concentrator", battery_min=600.0)), last, policy=policy)
    )
    (half_way,) = rows(made)
    before = next(row for part in log(made) for row in part.rows if row.what == "before departure")
    assert (half_way.elapsed, half_way.least) == ("30 min", before.least)
    assert 0.0 <= int(half_way.least.split()[0]) - gauge_of(400.0) / PSI < 10.0


def test_what_has_no_gauge_is_not_asked_for_one() -> None:
    supplies = [Supply("cart", "litres", stated_l=900.0), Supply("wall", "pipeline")]
    made = plan(trip(supplies, leg(90.0, mask(4.0)), leg(90.0, mask(4.0), supply="wall"), policy=POLICY))
    assert not rows(made)


def test_cylinders_open_together_have_one_row() -> None:
    both = (cylinder("A", 2000), cylinder("B", 2000))
    made = plan(trip([Supply("cart", "manifold", cylinders=both)], leg(60.0, mask(4.0)), policy=POLICY))
    assert [(row.key, row.cylinder) for row in rows(made)] == [("between.1.1.cart", "A+B")]
