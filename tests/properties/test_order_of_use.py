"""Who is in use when, what the gauges show, and when oxygen ends: against the simulator."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.gas import contents
from planner.model import Delay, Trip
from planner.planning import plan
from planner.results import SupplyPlan
from tests.build import planned_left_l
from tests.properties.simulator import Bottle, Course, Piece, Spell, bottles, pieces, quiet_times, serves, simulate
from tests.properties.strategies import short_trips, trips

CLOSE_MIN = 1e-6
CLOSE_KPA = 0.01


def course_of(trip: Trip, name: str) -> tuple[list[Bottle], Course] | None:
    """The simulator's course on a supply of cylinders that the trip uses."""
    supply = trip.supplies[name]
    flow = pieces(trip.legs, name)
    if supply.kind != "cylinders" or not flow:
        return None
    have = bottles(supply, trip.policy)
    return have, simulate(have, flow, quiet_times(trip.legs))


def gauge_after(planned: SupplyPlan, label: str, drawn_l: float, allowance_kpa: float) -> float:
    """The gauge of a cylinder after litres are drawn, from its contents."""
    each = next(row for row in planned.cylinders if row.cylinder.label == label)
    if drawn_l <= 0.0:
        return each.cylinder.gauge_kpa
    held = contents.contents_l(each.cylinder.gauge_kpa - allowance_kpa, each.read_degc, each.cylinder.water_capacity_l)
    return contents.gauge_kpa(max(0.0, held - drawn_l), each.read_degc, each.cylinder.water_capacity_l) + allowance_kpa


def assert_order(trip: Trip, planned: SupplyPlan, have: list[Bottle], spells: list[Spell]) -> None:
    start_l = {bottle.label: bottle.litres for bottle in have}
    rows = [row for row in planned.order if row.to_min > row.from_min]
    assert [row.cylinder for row in rows] == [spell.label for spell in spells]
    for row, spell in zip(rows, spells, strict=True):
        assert row.from_min == pytest.approx(spell.from_min, abs=CLOSE_MIN)
        assert row.to_min == pytest.approx(spell.to_min, abs=CLOSE_MIN)
        for gauge, litres in ((row.gauge_start_kpa, spell.start_l), (row.gauge_end_kpa, spell.end_l)):
            drawn = start_l[spell.label] - litres
            expected = gauge_after(planned, spell.label, drawn, trip.policy.gauge_allowance_kpa)
            assert gauge == pytest.approx(expected, abs=CLOSE_KPA)


def assert_changes(
    planned: SupplyPlan, spells: list[Spell], flow: list[Piece], quiet: list[tuple[float, float]]
) -> None:
    changes = list(pairwise(spells))
    starts = [piece.start_min for piece in flow]
    assert len(planned.change_overs) == len(changes)
    for row, (old, new) in zip(planned.change_overs, changes, strict=True):
        assert (row.from_cylinder, row.to_cylinder) == (old.label, new.label)
        assert row.minute == pytest.approx(new.from_min, abs=CLOSE_MIN)
        edges = [edge for stretch in quiet for edge in stretch] + starts
        if all(abs(new.from_min - edge) > CLOSE_MIN for edge in edges):  # at an edge, rounding decides
            assert row.inside_no_change == any(low < new.from_min < high for low, high in quiet)
            assert not row.early


def assert_course(trip: Trip) -> None:
    """Hold each supply of cylinders of a plan to the simulator."""
    whole = plan(trip)
    for name, planned in whole.supplies.items():
        found = course_of(trip, name)
        if found is None:
            continue
        have, course = found
        spells = [spell for spell in course.spells if spell.to_min > spell.from_min]
        assert planned.runs_out_min == (
            None if course.out_min is None else pytest.approx(course.out_min, abs=CLOSE_MIN)
        )
        assert planned.runs_out_leg == (None if course.out_leg is None else trip.legs[course.out_leg].name)
        assert planned_left_l(trip, planned.supply) == pytest.approx(sum(course.litres.values()), abs=1e-6)
        assert_order(trip, planned, have, spells)
        assert_changes(planned, spells, pieces(trip.legs, name), quiet_times(trip.legs))


@pytest.mark.parametrize("mixed", [False, True])
@given(data=st.data())
def test_order_changes_and_gauges_are_those_of_the_simulator(data: st.DataObject, mixed: bool) -> None:
    assert_course(data.draw(trips(mixed=mixed)))


@pytest.mark.parametrize("mixed", [False, True])
@given(data=st.data())
def test_order_changes_and_gauges_where_oxygen_is_short(data: st.DataObject, mixed: bool) -> None:
    assert_course(data.draw(short_trips(mixed=mixed)))


@given(trips(mixed=True))
def test_checkpoints_are_those_of_the_simulator(trip: Trip) -> None:
    """The cylinder in use is that of the leg that ends or starts; what is left counts where it serves that leg."""
    whole = plan(trip)
    for row in whole.checkpoints:
        found = course_of(trip, row.supply)
        if found is None or row.flow_l_per_min == 0.0:
            continue
        have, course = found
        mine = [piece for piece in pieces(trip.legs, row.supply) if piece.leg == row.leg_index]
        at = row.minute + CLOSE_MIN if row.at == "start" else row.minute - CLOSE_MIN
        if course.out_min is not None and course.out_min < at:
            assert row.minutes_left == pytest.approx(0.0, abs=CLOSE_MIN)
            continue
        spell = next(spell for spell in course.spells if spell.from_min <= at < spell.to_min)
        assert row.cylinder == spell.label
        now = simulate(have, pieces(trip.legs, row.supply), quiet_times(trip.legs), ends_at=row.minute).litres
        serving = sum(now[bottle.label] for bottle in have if serves(bottle, mine[0]))
        assert row.minutes_left == pytest.approx(serving / row.flow_l_per_min, abs=1e-6)
        assert row.cylinder_minutes_left == pytest.approx(now[spell.label] / row.flow_l_per_min, abs=1e-6)


@given(trips())
def test_oxygen_lasts_as_long_as_the_last_leg_can_go_on(trip: Trip) -> None:
    """`lasts_min` against the last leg on the supply with a very long delay; devices that have ended stay so."""
    long = 60.0 * 24.0 * 365.0
    for name, planned in plan(trip).supplies.items():
        flow = pieces(trip.legs, name)
        if planned.supply.kind != "cylinders" or not flow:
            continue
        have = bottles(planned.supply, trip.policy)
        endless = simulate(have, [*flow[:-1], replace(flow[-1], end_min=long)], quiet_times(trip.legs))
        assert planned.lasts_min == (None if endless.out_min is None else pytest.approx(endless.out_min, rel=1e-9))


def longer_at_the_end(trip: Trip, name: str, minutes: float) -> Trip:
    """The trip with so many minutes more of what a supply gives last.

    Where nothing flows at its end, that is what a patient who gets worse would then draw, or else the last that flows.
    """
    flow = pieces(trip.legs, name)
    rising = {leg: device for leg in (flow[-1].leg,) for device in trip.legs[leg].uses if device.device.may_rise_to}
    if flow[-1].flow_l_per_min <= 0.0 and rising:
        risen = tuple(
            use if use.device.may_rise_to is None else use._replace(device=trip.devices[use.device.may_rise_to])
            for use in trip.legs[flow[-1].leg].uses
            if use.for_min is None
        )
        if any(use.supply == name for use in risen):
            wait = trip.legs[-1]._replace(name="worse", duration_min=minutes, uses=risen, delays=(), longest_min=None)
            return trip._replace(legs=(*trip.legs, wait))
    last = next((piece for piece in reversed(flow) if piece.flow_l_per_min > 0.0), flow[-1])
    start = sum(leg.total_min for leg in trip.legs[: last.leg])
    leg = trip.legs[last.leg]
    uses = tuple(
        use._replace(for_min=use.for_min + minutes)
        if use.for_min is not None and use.for_min >= last.end_min - start - 1e-9
        else use
        for use in leg.uses
    )
    longer = leg._replace(delays=(*leg.delays, Delay("more and more", minutes)), uses=uses)
    return trip._replace(legs=(*trip.legs[: last.leg], longer, *trip.legs[last.leg + 1 :]))


@given(trips())
@pytest.mark.hazard(1)
def test_so_many_more_minutes_and_no_more(trip: Trip) -> None:
    """Minutes are added to the last leg on a supply until a what-if fails: just as many as its minutes to spare."""
    once = {"longest_times", "settings_rise", "cylinder_lost", "gauge_reads_high", "inspired_oxygen_kept"}
    whole = plan(trip)
    for row in whole.whatifs:
        if row.name not in once or row.minutes_to_spare is None or row.minutes_to_spare > 1e6:
            continue

        def holds(minutes: float, name: str = row.name, supply: str = row.supply) -> bool:
            again = plan(longer_at_the_end(trip, supply, minutes))
            return next(each.holds for each in again.whatifs if (each.name, each.supply) == (name, supply))

        assert holds(row.minutes_to_spare * (1.0 - 1e-6))
        assert not holds(row.minutes_to_spare * (1.0 + 1e-6) + 1e-6)
