"""The assignment of devices to outlets against trying every one."""

from __future__ import annotations

from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.flow.outlets import OutletNeed, refusal
from planner.model import Outlet, OutletKind
from tests.properties.strategies import tenths

outlets = st.lists(
    st.just(Outlet("high_pressure"))
    | tenths(0, 30).map(lambda limit: Outlet("flowmeter", limit))
    | st.just(Outlet("flowmeter")),
    max_size=5,
)
kinds: st.SearchStrategy[OutletKind] = st.sampled_from(["flowmeter", "flowmeter", "high_pressure"])
needs = st.lists(st.tuples(kinds, tenths(0.1, 30)), max_size=5).map(
    lambda pairs: [OutletNeed(kind, flow, f"device {number}") for number, (kind, flow) in enumerate(pairs)]
)


def suits(outlet: Outlet, need: OutletNeed) -> bool:
    """A 50-psi outlet carries what is driven by 50 psi, a flowmeter a flow up to its limit."""
    if outlet.kind != need.kind:
        return False
    limit = outlet.limit_l_per_min
    return outlet.kind == "high_pressure" or limit is None or need.flow_l_per_min <= limit


@given(outlets, needs)
@pytest.mark.hazard(12)
def test_devices_fit_where_some_way_to_connect_them_fits(have: list[Outlet], wanted: list[OutletNeed]) -> None:
    possible = any(
        all(suits(outlet, need) for outlet, need in zip(order, wanted, strict=True))
        for order in permutations(have, len(wanted))
    )
    assert (refusal(have, wanted) is None) == possible
