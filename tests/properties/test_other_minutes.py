"""A course that stands for another minute is the course from that minute; what is known of a gauge is what passes."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.cylinders.depletion import run
from planner.cylinders.onhand import on_hand
from planner.flow.demand import flows
from planner.go.departure import _Search
from planner.go.judge import case, passes
from planner.go.scenarios import scenarios
from planner.go.worst_minute import Trial
from planner.model import Trip
from tests.properties.strategies import short_trips, trips

NOISE_MIN = 1e-8
"""So near to a change of cylinder, what flows in between is lost in rounding."""


@given(short_trips(mixed=True), st.floats(0.0, 1.0))
def test_a_try_stands_for_other_minutes(trip: Trip, share: float) -> None:
    stock = on_hand(trip.supplies["cart"], trip.policy)
    assert stock is not None
    for scenario in scenarios(trip):
        if scenario.supply != "cart" or scenario.from_departure:
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
            there = run(stock.tanks, scenario.before, scenario.stretches, then=(minute, scenario.after))
            assert [turn.tank for turn in there.turns] == [tank for tank, _, _ in one.course.begun]
            later = minute - one.minute
            assert (there.out_min is None) == (one.course.out is None)
            if one.course.out is not None:
                assert there.out_min == pytest.approx(one.course.out[0] + later * one.drift.rate, abs=1e-6)
            left = [litre + later * one.drift.litres.get(tank, 0.0) for tank, litre in enumerate(one.course.left)]
            if one.course.out is None:
                assert there.left_l == pytest.approx(left, abs=1e-6)


@given(trips(mixed=True), st.data())
def test_a_gauge_goes_by_what_is_known_as_by_all(trip: Trip, data: st.DataObject) -> None:
    planned = flows(trip.legs)
    altered = scenarios(trip, planned)
    for supply in trip.supplies.values():
        stock = on_hand(supply, trip.policy)
        if stock is None or supply.kind != "cylinders":
            continue
        this = case(trip, supply, planned, altered)
        search = _Search(this, stock)
        for index, cylinder in enumerate(supply.cylinders):
            if cylinder.gas != "oxygen":
                continue
            gauge = data.draw(st.floats(0.0, cylinder.filling_gauge_kpa))
            changed = cylinder._replace(gauge_kpa=gauge)
            have = (*supply.cylinders[:index], changed, *supply.cylinders[index + 1 :])
            again = on_hand(supply._replace(cylinders=have), trip.policy)
            assert again is not None
            assert search._go(index, gauge) == passes(this, again)
