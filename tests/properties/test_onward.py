"""A trip that goes exactly as planned, planned again on its way: the same minutes are left, and never more."""

from __future__ import annotations

from math import fsum

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.afterwards.logbook import Entry, Logbook
from planner.afterwards.onward import Now, onward
from planner.constants import KPA_PER_PSI
from planner.flow.flows import flows, litres, rest, until
from planner.gas.contents import contents_l
from planner.model import Cylinder, Supply, Trip
from planner.planning import plan
from planner.results import Plan
from tests.properties.simulator import bottles, pieces, quiet_times, simulate
from tests.properties.strategies import trips
from tests.properties.test_order_of_use import gauge_after

CLOSE_MIN = 1e-3
"""What a gauge worked back from litres may be off, in minutes."""


def with_changes_anywhere(trip: Trip) -> Trip:
    """The trip without stretches that a change is prepared for before they begin: a part of one has another course."""
    return trip._replace(legs=tuple(leg._replace(no_change=False) for leg in trip.legs))


def has_no_temperature(trip: Trip) -> bool:
    """True where no supply and no cylinder gives a temperature."""
    return all(
        supply.coldest_degc is None
        and supply.temperature_degc is None
        and all(each.temperature_degc is None for each in supply.cylinders)
        for supply in trip.supplies.values()
    )


def degc_between(supply: Supply) -> tuple[float, float]:
    """The coldest and the warmest that any gas of a supply may be, by all temperatures given; 21.1 degC among them."""
    given = [supply.coldest_degc, supply.temperature_degc, *(each.temperature_degc for each in supply.cylinders)]
    known = [21.1, *(degc for degc in given if degc is not None)]
    return min(known), max(known)


def held_l(cylinders: tuple[Cylinder, ...], gauges: dict[str, float], more_kpa: float, degc: float) -> float:
    """What the cylinders hold at gauges, so much higher, at a temperature: real gas, tested in tests/published."""
    return fsum(
        contents_l(max(0.0, gauges[each.label] + more_kpa), degc, each.water_capacity_l, each.counted_as)
        for each in cylinders
    )


def bounds_l(made: Plan, name: str, log: Logbook, minute: float) -> tuple[float, float]:
    """The least that may be counted as left, and the most that may be planned beside what was, L a minute.

    All gas is taken to be as warm as any of it may be where it is left, and to have fallen from as cold as any may be
    to as warm, half a division off at departure and 10 kPa at the reading.
    """
    trip = made.trip
    supply, policy = trip.supplies[name], trip.policy
    coldest, warmest = degc_between(supply)
    now = {each.cylinder or "": each.gauge_kpa or 0.0 for each in log.entries if each.supply == name}
    floor_kpa = policy.change_over_at_kpa
    right = [each for each in supply.cylinders if each.gas == supply.gas]
    spared = {each.label: now[each.label] - policy.gauge_allowance_kpa for each in right}
    left = fsum(
        max(0.0, held_l((each,), spared, 0.0, warmest) - held_l((each,), {each.label: floor_kpa}, 0.0, coldest))
        for each in right
    )
    half_kpa = 50.0 * KPA_PER_PSI if policy.pressure_unit == "psi" else 5.0 * 100.0
    begun = {each.label: each.gauge_kpa for each in supply.cylinders}
    fell = held_l(supply.cylinders, begun, half_kpa, coldest) - held_l(supply.cylinders, now, -10.0, warmest)
    gone = litres(until(flows(trip.legs).get(name, ()), minute))
    return left, max(0.0, fell - gone) / minute


def read_at(made: Plan, minute: float, leg: int) -> Logbook | None:
    """What the crew reads at the end of a leg where all goes as planned, by the simulator; None where oxygen is out."""
    trip = made.trip
    entries = []
    for name, supply in trip.supplies.items():
        flow = pieces(trip.legs, name)
        if supply.kind != "cylinders" or not flow:
            continue
        course = simulate(bottles(supply, trip.policy), flow, quiet_times(trip.legs), ends_at=minute)
        if course.out_min is not None and course.out_min <= minute:
            return None
        start = {bottle.label: bottle.litres for bottle in bottles(supply, trip.policy)}
        used = [spell.label for spell in course.spells]
        for label, left_l in course.litres.items():
            drawn_l = start[label] - left_l
            gauge = gauge_after(made.supplies[name], label, drawn_l, trip.policy.gauge_allowance_kpa)
            entries.append(
                Entry(
                    minute,
                    name,
                    label,
                    gauge,
                    read_to_kpa=10.0,
                    in_use=label == (used or [label])[-1],
                    to_the_minute=False,
                )
            )
    entries.append(Entry(minute, leg=leg, at="end", to_the_minute=False))
    return Logbook(tuple(entries))


@given(trips(), st.integers(0, 2))
def test_what_goes_as_planned_leaves_what_was_planned(trip: Trip, leg: int) -> None:
    """Never more. Not less either, where no temperature is given: with one, no less than the range of it allows."""
    trip = with_changes_anywhere(trip)
    made = plan(trip)
    leg = min(leg, len(trip.legs) - 2)
    if leg < 0 or any(supply.kind == "manifold" for supply in trip.supplies.values()):
        return
    minute = sum(each.total_min for each in trip.legs[: leg + 1])
    log = read_at(made, minute, leg)
    if log is None:
        return
    again = plan(onward(made, log, Now(), 2, "first"))
    assert again.trip.total_min == pytest.approx(trip.total_min - minute)
    assert [each.name for each in again.trip.legs] == [each.name for each in trip.legs[leg + 1 :]]
    for name, supply in again.supplies.items():
        planned = rest(flows(trip.legs).get(name, ()), minute)
        warm = has_no_temperature(trip)
        assert supply.need.planned_l >= litres(planned) - 1e-6, name
        if warm:
            assert supply.need.planned_l == pytest.approx(litres(planned), abs=1e-6), name
        elif trip.supplies[name].kind == "cylinders" and any(each.supply == name for each in log.entries):
            least_l, most_more = bounds_l(made, name, log, minute)
            assert supply.usable_l is not None
            assert supply.usable_l >= least_l - 1e-6, name
            assert supply.need.planned_l <= litres(planned) + most_more * again.trip.total_min + 1e-6, name
        before = made.supplies[name].lasts_min
        if supply.lasts_min is None or before is None or not any(piece.flow_l_per_min > 0.0 for piece in planned):
            continue
        flow = planned[-1].flow_l_per_min
        if flow > 0.0 and before > minute:
            assert supply.lasts_min + minute <= before + CLOSE_MIN, name
            if warm:
                assert supply.lasts_min + minute == pytest.approx(before, abs=CLOSE_MIN), name


@given(trips(), st.integers(0, 2))
def test_a_window_to_turn_back_is_the_same_window(trip: Trip, leg: int) -> None:
    """Until when one can turn back does not depend on when that was asked, where all goes as planned.

    Never later. Earlier only where a temperature is given: gas that was read without one may be as cold as any is, or
    as warm, and counts at its least.
    """
    trip = with_changes_anywhere(trip)
    made = plan(trip)
    leg = min(leg, len(trip.legs) - 2)
    every_outlet = all(supply.kind in ("litres", "pipeline", "cylinders") for supply in trip.supplies.values())
    if leg < 0 or not every_outlet or any(use.for_min is not None for each in trip.legs for use in each.uses):
        return
    minute = sum(each.total_min for each in trip.legs[: leg + 1])
    log = read_at(made, minute, leg)
    if log is None or trip.policy.spare_cylinders:
        return
    again = plan(onward(made, log, Now(), 2, "first"))
    before = next((window for window in made.turn_backs if window.to is None), None)
    after = next((window for window in again.turn_backs if window.to is None), None)
    if after is not None:
        assert before is not None
        assert after.to_min + minute <= before.to_min + CLOSE_MIN
    if has_no_temperature(trip) and before is not None and before.to_min > minute + CLOSE_MIN:
        assert after is not None
        assert after.to_min + minute == pytest.approx(before.to_min, abs=0.01)
