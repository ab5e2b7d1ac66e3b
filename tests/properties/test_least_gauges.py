"""Least gauges and counts, each tried out: with it the plan passes, with a hair less it does not."""

from __future__ import annotations

import pytest
from hypothesis import assume, given

from planner.gas import contents
from planner.model import Cylinder, SizeAsked, Supply, Trip
from planner.planning import plan
from planner.results import Checkpoint, Plan
from tests.properties.simulator import bottles, pieces, quiet_times, simulate
from tests.properties.strategies import trips
from tests.properties.worse import with_supply

HAIR_KPA = 0.1
"""A hundredth of a psi and a bit: no gauge shows it."""


def with_gauge(trip: Trip, name: str, label: str, gauge_kpa: float) -> Trip:
    """The trip with one cylinder at another gauge; on a manifold, with all of them."""
    supply = trip.supplies[name]
    cylinders = tuple(
        each._replace(gauge_kpa=gauge_kpa) if supply.kind == "manifold" or each.label == label else each
        for each in supply.cylinders
    )
    return with_supply(trip, supply._replace(cylinders=cylinders))


def goes(trip: Trip, name: str, label: str, gauge_kpa: float) -> bool:
    """The verdict with one cylinder at a gauge."""
    return plan(with_gauge(trip, name, label, max(0.0, gauge_kpa))).go


def departing(trip: Trip, start_kpa: dict[str, list[float | None]], back: tuple[str, int] | None = None) -> Trip:
    """The trip with every cylinder at its gauge to depart with, and one of them back at its reading."""
    for name, gauges in start_kpa.items():
        supply = trip.supplies[name]
        cylinders = tuple(
            one if gauge is None or back == (name, index) else one._replace(gauge_kpa=gauge)
            for index, (one, gauge) in enumerate(zip(supply.cylinders, gauges, strict=True))
        )
        trip = with_supply(trip, supply._replace(cylinders=cylinders))
    return trip


@pytest.mark.hazard(31)
@given(trips())
def test_departing_with_every_cylinder_at_its_figure_is_go(trip: Trip) -> None:
    whole = plan(trip)
    assume(whole.go)
    assert plan(departing(trip, whole.start_kpa)).go
    for name, gauges in whole.start_kpa.items():
        if trip.supplies[name].kind != "manifold":
            for index in range(len(gauges)):
                assert plan(departing(trip, whole.start_kpa, back=(name, index))).go


@given(trips())
def test_a_no_go_has_no_gauge_to_depart_with_on_the_supply_that_stops_it(trip: Trip) -> None:
    whole = plan(trip)
    for name, supply in whole.supplies.items():
        for one in supply.cylinders:
            assert one.start_at_least_kpa is None or one.start_at_least_kpa <= one.cylinder.gauge_kpa
            if one.go_at_kpa is not None:
                assert goes_on(trip, name, one.cylinder.label, one.go_at_kpa)


def goes_on(trip: Trip, name: str, label: str, gauge_kpa: float) -> bool:
    """Whether one supply passes with one cylinder at a gauge: then there is nothing left to mend on it."""
    again = plan(with_gauge(trip, name, label, gauge_kpa)).supplies[name]
    return all(one.go_at_kpa is None for one in again.cylinders)


def full_ones(size: SizeAsked, count: int, supply: Supply) -> tuple[Cylinder, ...]:
    """So many full cylinders of a size, as real ones."""
    return tuple(
        Cylinder(
            label=f"full {number}",
            water_capacity_l=size.water_capacity_l,
            filling_gauge_kpa=size.filling_gauge_kpa,
            factor_l_per_psi=size.factor_l_per_psi,
            gauge_kpa=size.full_gauge_kpa,
            outlets=supply.outlets,
            magnet_safe=True,
        )
        for number in range(count)
    )


@given(trips())
def test_the_count_of_full_cylinders_is_the_smallest(trip: Trip) -> None:
    whole = plan(trip)
    for supply in whole.supplies.values():
        for size, found in zip(supply.supply.sizes, supply.full_cylinders, strict=True):

            def go(count: int, size: SizeAsked = size, old: Supply = supply.supply) -> bool:
                have = full_ones(size, count, old)
                return plan(with_supply(trip, old._replace(kind="cylinders", cylinders=have, store=None))).go

            many = 60 if found.count is None else found.count + 5
            if not go(many):
                continue  # something else stops this trip
            assert found.count is not None
            assert go(found.count)
            if found.count > 0:
                assert not go(found.count - 1)


def gauges_at(trip: Trip, supply: Supply, minute: float) -> dict[str, float]:
    """What each gauge should show at a minute of the trip, by the simulator."""
    have = bottles(supply, trip.policy)
    course = simulate(have, pieces(trip.legs, supply.name), quiet_times(trip.legs), ends_at=minute)
    found = {}
    for each, bottle in zip(supply.cylinders, have, strict=True):
        left = course.litres[each.label]
        found[each.label] = each.gauge_kpa
        if left < bottle.litres:
            known = each.temperature_degc if each.temperature_degc is not None else supply.temperature_degc
            warm = 21.1 if known is None else max(known, 21.1)
            drawn = bottle.litres - left
            reading = each.gauge_kpa - trip.policy.gauge_allowance_kpa
            held = contents.contents_l(reading, warm, each.water_capacity_l) - drawn
            found[each.label] = contents.gauge_kpa(held, warm, each.water_capacity_l) + trip.policy.gauge_allowance_kpa
    return found


def covered(rest: Trip, supply: Supply, gauges_kpa: dict[str, float]) -> bool:
    """Whether the rest of a trip is covered, reserve and spare included, with these gauges."""
    cylinders = tuple(each._replace(gauge_kpa=max(0.0, gauges_kpa[each.label])) for each in supply.cylinders)
    found = plan(with_supply(rest, supply._replace(cylinders=cylinders))).supplies[supply.name]
    assert found.usable_without_spare_l is not None
    return found.usable_without_spare_l >= found.need.required_l - 1e-6


def assert_least_at(trip: Trip, whole: Plan, row: Checkpoint) -> None:
    supply = trip.supplies[row.supply]
    legs = trip.legs[row.leg_index + (row.at == "end") :]
    out = whole.supplies[row.supply].runs_out_min
    if not supply.cylinders or not legs or (out is not None and row.minute >= out):
        return
    if row.cylinder is None:
        assert row.flow_l_per_min == 0.0  # an empty supply from which nothing is drawn
        return
    rest = trip._replace(legs=legs)
    start = {one.cylinder.label: one.start_at_least_kpa for one in whole.supplies[row.supply].cylinders}
    if supply.kind == "manifold":
        now = {each.label: 0.0 for each in supply.cylinders}
        mine = list(now)
        first = supply.cylinders[0]  # one gauge for all
        if row.gauge_kpa == first.gauge_kpa and row.least_gauge_kpa == start[first.label]:
            return  # nothing has been drawn from it yet: what departure asked for
    else:
        now = gauges_at(trip, supply, row.minute)
        mine = [row.cylinder]
        assert row.gauge_kpa == pytest.approx(now[row.cylinder], abs=HAIR_KPA)
        if all(gauge is not None for gauge in start.values()):
            low = departing(trip, {row.supply: list(start.values())}).supplies[row.supply]
            untouched = now[row.cylinder] >= next(c.gauge_kpa for c in supply.cylinders if c.label == row.cylinder)
            now = gauges_at(trip._replace(supplies={**trip.supplies, supply.name: low}), low, row.minute)
            if untouched and row.least_gauge_kpa == start[row.cylinder]:
                return  # nothing has been drawn from it yet: what departure asked for

    def with_mine(gauge_kpa: float) -> bool:
        return covered(rest, supply, {**now, **dict.fromkeys(mine, gauge_kpa)})

    if row.least_gauge_kpa is None:
        assert not with_mine(min(each.filling_gauge_kpa for each in supply.cylinders) - HAIR_KPA)
    else:
        assert with_mine(row.least_gauge_kpa + HAIR_KPA)
        if with_mine(row.least_gauge_kpa - HAIR_KPA):
            assert with_mine(0.0), "what is asked of it lies below its least gauge"


@given(trips())
def test_the_least_gauge_at_a_checkpoint_covers_the_rest_and_a_hair_less_does_not(trip: Trip) -> None:
    whole = plan(trip)
    assume(any(row.cylinder is not None for row in whole.checkpoints))
    for row in whole.checkpoints:
        assert_least_at(trip, whole, row)
