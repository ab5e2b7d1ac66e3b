"""A course that stands for another minute is the course from that minute."""

from __future__ import annotations

from itertools import pairwise
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.cylinders.depletion import course_of
from planner.cylinders.onhand import on_hand
from planner.go.whatifs.registry import scenarios
from planner.go.worst_minute import Trial
from planner.model import Trip
from tests.properties.strategies import short_trips

NOISE_MIN = 1e-8
"""So near to a change of cylinder, what flows in between is lost in rounding."""


@given(short_trips(mixed=True), st.floats(0.0, 1.0))
def test_a_try_stands_for_other_minutes(trip: Trip, share: float) -> None:
    stock = on_hand(trip.supplies["cart"], trip.policy)
    assert stock is not None
    for scenario in scenarios(trip):
        if scenario.supply != "cart" or scenario.from_departure or scenario.again or scenario.lasts_min < inf:
            continue
        trial = Trial(scenario, stock.serving)
        planned = trial._planned(stock.usable_l)
        minutes = trial._minutes(planned)
        for low, high in pairwise(minutes):
            one = trial._try(planned, low + 0.37 * (high - low))
            first, last = max(low, one.minute + one.drift.low), min(high, one.minute + one.drift.high)
            minute = first + share * (last - first)
            if not one.stands_for(minute) or not low + NOISE_MIN < minute < high - NOISE_MIN:
                continue
            there = course_of(stock.tanks, scenario.before, scenario.no_change, then=(minute, scenario.after))
            assert [turn.tank for turn in there.turns] == [tank for tank, _, _ in one.course.begun]
            later = minute - one.minute
            assert (there.out_min is None) == (one.course.out is None)
            if one.course.out is not None:
                assert there.out_min == pytest.approx(one.course.out[0] + later * one.drift.rate, abs=1e-6)
            left = [litre + later * one.drift.litres.get(tank, 0.0) for tank, litre in enumerate(one.course.left)]
            if one.course.out is None:
                assert there.left_l == pytest.approx(left, abs=1e-6)
