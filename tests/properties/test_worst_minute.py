"""The worst minute of a what-if against every second of a trip, gone through by the simulator one by one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import pytest
from hypothesis import given

from planner.model import Leg, Trip
from planner.planning import plan
from planner.results import WhatIf
from tests.properties.simulator import (
    Course,
    Walk,
    bottles,
    pieces,
    quiet_times,
    simulate,
    way_through,
    with_failure,
    with_supply_moved,
)
from tests.properties.strategies import short_trips

CLOSE_MIN = 1e-6
CLOSE_L = 1e-6

KINDS = {
    "ventilator_fails": "ventilator",
    "conserver_fails": "pulse_conserver",
    "concentrator_fails": "concentrator",
}


class Failing:
    """A what-if on a supply, to be begun at any minute."""

    def __init__(self, trip: Trip, supply: str, legs: Sequence[Leg]) -> None:
        self.have = bottles(trip.supplies[supply], trip.policy)
        self.planned = pieces(trip.legs, supply)
        self.altered = pieces(legs, supply)
        self.quiet = quiet_times(trip.legs)
        whole = [(piece, self.planned) for piece in self.planned]
        self.path = way_through(Walk(bottles(trip.supplies[supply], trip.policy), self.quiet), whole) or ()
        self.length_min = sum(leg.duration_min for leg in trip.legs)

    def at(self, minute: float) -> Course:
        """How it goes when things go wrong at a minute."""
        return simulate(self.have, self.planned, self.quiet, altered=self.altered, fails_at=minute, path=self.path)

    def seconds(self) -> Iterator[float]:
        """Every second of the trip, in minutes."""
        for second in range(int(self.length_min * 60.0) + 1):
            yield second / 60.0


def failing(trip: Trip, row: WhatIf) -> Failing:
    if row.name == "vehicle_supply_lost":
        return Failing(trip, row.supply, with_supply_moved(trip, "van", row.supply))
    return Failing(trip, row.supply, with_failure(trip, KINDS[row.name]))


def assert_worst(trip: Trip) -> None:
    """Hold each what-if of a plan that begins at its worst minute to the simulator."""
    for row in plan(trip).whatifs:
        if row.name not in KINDS and row.name != "vehicle_supply_lost":
            continue
        case = failing(trip, row)
        there = case.at(row.from_min)
        assert (there.out_min is None) == row.holds
        if row.runs_out_min is None:
            assert there.left_l == pytest.approx(row.litres_left, abs=CLOSE_L)
        else:
            assert there.out_min == pytest.approx(row.runs_out_min, abs=CLOSE_MIN)
        for minute in case.seconds():
            course = case.at(minute)
            if row.runs_out_min is not None:
                assert course.out_min is None or course.out_min >= row.runs_out_min - CLOSE_MIN, minute
            else:
                assert course.out_min is None, minute
                if course.last_flow_l_per_min > 0.0 and row.minutes_to_spare is not None:
                    spare_min = course.left_l / course.last_flow_l_per_min
                    assert spare_min >= row.minutes_to_spare - CLOSE_MIN, minute


@given(short_trips())
@pytest.mark.hazard(9, 15)
def test_the_worst_minute_is_the_worst_of_every_second(trip: Trip) -> None:
    assert_worst(trip)


@given(short_trips(mixed=True, quiet=False))
def test_the_worst_minute_with_outlets_that_differ(trip: Trip) -> None:
    assert_worst(trip)


@given(short_trips(mixed=True))
def test_the_worst_minute_with_outlets_that_differ_and_no_change(trip: Trip) -> None:
    assert_worst(trip)
