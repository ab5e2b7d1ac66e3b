"""No printed list of changes leaves a patient without gas, on random trips: a pair of hands follows every line."""

from __future__ import annotations

import pytest
from hypothesis import event, given
from hypothesis import strategies as st

from planner.model import Trip
from planner.planning import plan
from planner.report.checklist.changes import changes
from tests.hands import Hands
from tests.properties.strategies import trips


@pytest.mark.hazard(33)
@given(trips(mixed=True), st.sampled_from([None, 1, 2]))
def test_hands_follow_every_list_and_nobody_is_without_gas(trip: Trip, regulators: int | None) -> None:
    fewer = {
        name: supply._replace(regulators=regulators) if supply.kind == "cylinders" else supply
        for name, supply in trip.supplies.items()
    }
    found = plan(trip._replace(supplies=fewer))
    if any(supply.runs_out_min is not None for supply in found.supplies.values()):
        return  # where oxygen ends, no order of hands helps
    made = changes(found)
    event(f"{min(len(made), 4)} changes or more")
    assert Hands(found).follow(made) == []
