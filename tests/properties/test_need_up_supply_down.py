"""Need never falls and supply never grows: what makes a trip worse never makes its plan better.

Held for trips in which every cylinder carries every device. Where outlets differ, the order of use decides which
cylinder is left for which leg, and a fuller cylinder can then spoil a plan: tests/test_judge.py has one.
"""

from __future__ import annotations

from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.planning import plan
from planner.results import Plan, SupplyPlan, WhatIf
from tests.properties.strategies import trips
from tests.properties.worse import CHANGES, pairs

ROUNDING = 1e-9
GAUGE_ROUNDING_KPA = 1e-5


def not_lower(what: str, before: float | None, after: float | None, slack: float = ROUNDING) -> None:
    """None stands for what no number can reach."""
    low = inf if before is None else before
    high = inf if after is None else after
    assert high >= low - slack * max(1.0, abs(low) if low < inf else 1.0), f"{what} fell from {before} to {after}"


def not_higher(what: str, before: float | None, after: float | None) -> None:
    assert (before is None) == (after is None), what
    if before is not None and after is not None:
        assert after <= before + ROUNDING * max(1.0, before), f"{what} rose from {before} to {after}"


def assert_supply_not_better(before: SupplyPlan, after: SupplyPlan) -> None:
    for need in ("planned_l", "factor_reserve_l", "time_reserve_l", "reserve_l", "required_l", "peak_flow_l_per_min"):
        not_lower(need, getattr(before.need, need), getattr(after.need, need))
    for means in ("usable_l", "usable_without_spare_l", "serving_without_spare_l"):
        not_higher(means, getattr(before, means), getattr(after, means))
    for old, new in zip(before.full_cylinders, after.full_cylinders, strict=True):
        not_lower(f"count of {old.size}", old.count, new.count)


def spare_of(row: WhatIf) -> float:
    """Minutes to spare; endless where the last flow is zero, none where oxygen runs out."""
    if not row.holds:
        return -1.0
    return inf if row.minutes_to_spare is None else row.minutes_to_spare


def assert_not_better(before: Plan, after: Plan) -> None:
    assert before.go or not after.go, "no-go became go"
    for name, supply in before.supplies.items():
        assert_supply_not_better(supply, after.supplies[name])
    rows = {(row.name, row.supply): row for row in after.whatifs}
    for row in before.whatifs:
        other = rows.get((row.name, row.supply))
        if other is not None:
            assert row.holds or not other.holds, f"{row.name} on {row.supply} came to hold"
            assert spare_of(other) <= spare_of(row) * (1.0 + 1e-9) + 1e-6, f"more to spare: {row}, {other}"


@pytest.mark.parametrize("change", sorted(CHANGES))
@given(data=st.data())
def test_what_makes_a_trip_worse_makes_no_plan_better(data: st.DataObject, change: str) -> None:
    before, after = data.draw(pairs(trips(), change))
    assert_not_better(plan(before), plan(after))


@pytest.mark.parametrize("mixed", [False, True])
@given(data=st.data())
def test_go_means_that_all_of_it_holds_and_no_go_says_why(data: st.DataObject, mixed: bool) -> None:
    found = plan(data.draw(trips(mixed=mixed)))
    stops = [finding for finding in found.findings if finding.level == "stop"]
    assert found.go == (not stops)
    assert all(finding.message and finding.fix for finding in stops)
    if found.go:
        for supply in found.supplies.values():
            assert supply.runs_out_min is None
            if supply.serving_without_spare_l is not None:
                assert supply.serving_without_spare_l >= supply.need.required_l * (1.0 - ROUNDING)
        assert all(row.holds for row in found.whatifs if row.must_hold)
