"""Any one cylinder lost, and more gas, on random trips: against the simulator, which takes each away in turn."""

from __future__ import annotations

from dataclasses import replace
from math import inf

import pytest
from hypothesis import event, given
from hypothesis import strategies as st

from planner.constants import KPA_PER_PSI
from planner.cylinders.onhand import on_hand
from planner.flow.flows import flows
from planner.go.judge import passes, task_of
from planner.go.whatifs.registry import scenarios
from planner.model import Trip
from planner.planning import plan
from tests.properties.simulator import Bottle, Course, bottles, pieces, quiet_times, simulate
from tests.properties.strategies import short_trips, trips

CLOSE_MIN = 1e-6


def ends_min(course: Course, end_min: float) -> float:
    """When oxygen ends if the last flow goes on and on."""
    if course.out_min is not None:
        return course.out_min
    return end_min + course.left_l / course.last_flow_l_per_min if course.last_flow_l_per_min > 0.0 else inf


def without(have: list[Bottle], label: str) -> list[Bottle]:
    return [replace(bottle, litres=0.0) if bottle.label == label else bottle for bottle in have]


def assert_worst_of_all(trip: Trip) -> None:
    for row in plan(trip).whatifs:
        supply = trip.supplies[row.supply]
        if row.name != "cylinder_lost" or supply.kind != "cylinders":
            continue
        flow, quiet, have = pieces(trip.legs, row.supply), quiet_times(trip.legs), bottles(supply, trip.policy)
        courses = {bottle.label: simulate(without(have, bottle.label), flow, quiet) for bottle in have}
        found = {label: ends_min(course, flow[-1].end_min) for label, course in courses.items()}
        event(f"worst of {len(set(found.values()))} ends")
        assert row.holds == all(course.out_min is None for course in courses.values())
        if flow[-1].flow_l_per_min > 0.0:  # else minutes are those of a risen flow
            assert row.ends_min == pytest.approx(min(found.values()), abs=CLOSE_MIN)
            assert found[str(row.cylinder)] == pytest.approx(min(found.values()), abs=CLOSE_MIN)


@pytest.mark.hazard(10)
@given(trips(mixed=True))
def test_the_cylinder_told_is_the_worst_of_all_to_lose(trip: Trip) -> None:
    assert_worst_of_all(trip)


@pytest.mark.hazard(10)
@given(short_trips(mixed=True, quiet=True))
def test_the_cylinder_told_is_the_worst_of_all_where_oxygen_is_short(trip: Trip) -> None:
    assert_worst_of_all(trip)


def cart_passes(trip: Trip) -> bool:
    """True where nothing that is asked of the cart stands in the way of a go."""
    stock = on_hand(trip.supplies["cart"], trip.policy)
    assert stock is not None
    return passes(task_of(trip, trip.supplies["cart"], flows(trip.legs), scenarios(trip)), stock)


@pytest.mark.hazard(12, 13)
@pytest.mark.parametrize("mixed", [False, True])
@given(data=st.data(), number=st.integers(0, 3), more_psi=st.integers(1, 800))
def test_more_gas_never_turns_go_into_no_go(data: st.DataObject, mixed: bool, number: int, more_psi: int) -> None:
    trip = data.draw(st.one_of(trips(mixed=mixed), short_trips(mixed=mixed)))
    supply = trip.supplies["cart"]
    if supply.kind != "cylinders":
        return
    number %= len(supply.cylinders)
    fuller = supply.cylinders[number]
    fuller = fuller._replace(gauge_kpa=fuller.gauge_kpa + more_psi * KPA_PER_PSI)
    cylinders = (*supply.cylinders[:number], fuller, *supply.cylinders[number + 1 :])
    more = trip._replace(supplies={**trip.supplies, "cart": supply._replace(cylinders=cylinders)})
    if cart_passes(trip):
        event("go")
        assert cart_passes(more)
