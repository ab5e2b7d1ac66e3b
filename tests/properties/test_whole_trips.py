"""What a GO promises, on random trips with every feature (tests/properties/every_feature.py).

Each promise is tried out as somebody would who does not believe the card: the trip is planned again with other gauges,
or gone through by the simulator, which shares no rule with the planner.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations
from math import floor, inf

import pytest
from hypothesis import assume, event, given
from hypothesis import strategies as st

from planner.constants import KPA_PER_PSI
from planner.model import Device, Leg, Supply, Trip
from planner.planning import plan
from tests.properties.every_feature import whole_trips
from tests.properties.simulator import (
    Bottle,
    Piece,
    Walk,
    best,
    bottles,
    draws,
    pieces,
    quiet_times,
    run,
    way_through,
)
from tests.properties.test_least_gauges import departing
from tests.properties.worse import with_cylinder, with_supply

CLOSE_MIN = 1e-4


@pytest.mark.hazard(31)
@given(whole_trips())
def test_departing_with_every_cylinder_at_its_figure_is_go_and_with_each_back_at_its_reading(trip: Trip) -> None:
    whole = plan(trip)
    assume(whole.go)
    start = whole.start_kpa
    event(f"lowered: {any(plan_kpa < reading for plan_kpa, reading in both(trip, start))}")
    assert plan(departing(trip, start)).go
    for name, gauges in start.items():
        if trip.supplies[name].kind != "manifold":
            for index in range(len(gauges)):
                assert plan(departing(trip, start, back=(name, index))).go


def both(trip: Trip, start: dict[str, list[float | None]]) -> Iterator[tuple[float, float]]:
    """Each gauge to depart with, and the reading."""
    for name, gauges in start.items():
        for gauge, cylinder in zip(gauges, trip.supplies[name].cylinders, strict=True):
            if gauge is not None:
                yield gauge, cylinder.gauge_kpa


@pytest.mark.hazard(12, 13)
@given(whole_trips(), st.integers(0, 20), st.integers(1, 1500))
def test_more_gas_in_any_cylinder_never_makes_it_a_no_go(trip: Trip, number: int, more_psi: int) -> None:
    assume(plan(trip).go)
    have = [(name, place) for name, supply in trip.supplies.items() for place in range(len(supply.cylinders))]
    name, place = have[number % len(have)]
    supply = trip.supplies[name]
    fuller = supply.cylinders[place]
    fuller = fuller._replace(gauge_kpa=fuller.gauge_kpa + more_psi * KPA_PER_PSI)
    more = with_supply(trip, with_cylinder(supply, place, fuller))
    if supply.kind == "manifold":  # one gauge for all
        more = with_supply(
            trip, supply._replace(cylinders=tuple(c._replace(gauge_kpa=fuller.gauge_kpa) for c in supply.cylinders))
        )
    assert plan(more).go


@pytest.mark.hazard(10)
@given(whole_trips())
def test_any_one_cylinder_removed_is_what_cylinder_lost_tells(trip: Trip) -> None:
    """Planned again without each: whether it holds, when oxygen ends, and which is the worst to lose."""
    bare = trip._replace(policy=trip.policy._replace(must_hold=()))
    for row in plan(bare).whatifs:
        supply = trip.supplies[row.supply]
        if row.name != "cylinder_lost" or supply.kind != "cylinders":
            continue
        flow = pieces(trip.legs, row.supply)
        ends = {}
        for place, lost in enumerate(supply.cylinders):
            less = with_supply(bare, with_cylinder(supply, place, lost._replace(gauge_kpa=0.0)))
            found = plan(less).supplies[row.supply]
            ends[lost.label] = found.runs_out_min, found.lasts_min
        event(f"worst of {len(set(ends.values()))} ends")
        assert row.holds == all(out is None for out, _ in ends.values())
        if flow[-1].flow_l_per_min > 0.0:
            lasts = {label: inf if last is None else last for label, (_, last) in ends.items()}
            assert row.ends_min == pytest.approx(min(lasts.values()), abs=CLOSE_MIN)
            assert lasts[str(row.cylinder)] == pytest.approx(min(lasts.values()), abs=CLOSE_MIN)


def one_bottle(supply: Supply, have: Sequence[Bottle], leave_out: int) -> list[Bottle]:
    """The cylinders of a manifold as one, the largest left out."""
    kept = sorted((bottle.litres for bottle in have), reverse=True)[leave_out:]
    return [Bottle("together", sum(kept), supply.outlets, have[0].magnet_safe)]


def stocks(trip: Trip, supply: Supply) -> Iterator[list[Bottle]]:
    """What there is, and what there is with any spare set aside."""
    spares = trip.policy.spare_cylinders if supply.portable and supply.kind != "litres" else 0
    if supply.kind == "litres":
        yield [Bottle("vessel", supply.stated_l or 0.0, supply.outlets, supply.fixed)]
        return
    have = bottles(supply, trip.policy)
    if supply.kind == "manifold":
        have = [replace(bottle, magnet_safe=all(each.magnet_safe for each in have)) for bottle in have]
        yield one_bottle(supply, have, spares)
        return
    yield have
    for aside in combinations([bottle.label for bottle in have], min(spares, len(have))):
        yield [replace(bottle, litres=0.0) if bottle.label in aside else bottle for bottle in have]


def risen(trip: Trip, legs: Sequence[Leg]) -> list[Leg]:
    def more(device: Device) -> Device:
        return device if device.may_rise_to is None else trip.devices[device.may_rise_to]

    return [leg._replace(uses=tuple(use._replace(device=more(use.device)) for use in leg.uses)) for leg in legs]


def keeps_its_reserve(trip: Trip, name: str, minute: float) -> bool:
    """Whether a supply bears it that the trip goes back at a minute, and then still holds its reserve.

    Out as planned; back piece by piece, in reverse; then the reserve time at the last flow of the way back, which is
    the highest of the first leg on it, planned or risen.
    """
    supply = trip.supplies[name]
    out = pieces(trip.legs, name)
    done = [replace(piece, end_min=min(piece.end_min, minute)) for piece in out if piece.start_min < minute]
    if not done or supply.kind == "pipeline":
        return True
    peak = max(p.flow_l_per_min for p in [*out, *pieces(risen(trip, trip.legs), name)] if p.leg == done[0].leg)
    back: list[Piece] = []
    at = minute
    for piece in (*reversed(done), replace(done[0], start_min=0.0, end_min=trip.policy.reserve_time_min)):
        long = piece.end_min - piece.start_min
        flow = peak if len(back) == len(done) else piece.flow_l_per_min
        back.append(replace(piece, start_min=at, end_min=at + long, flow_l_per_min=flow))
        at += long
    return all(bears(trip, have, out, done, back) for have in stocks(trip, supply))


def bears(trip: Trip, have: list[Bottle], out: list[Piece], done: list[Piece], back: list[Piece]) -> bool:
    # Where every cylinder carries everything, only the sum of litres counts, and the rules of use do not.
    walk = Walk([replace(bottle) for bottle in have], quiet_times(trip.legs))
    path = way_through(walk, [(piece, out) for piece in out]) or ()
    walk = run(walk, [(piece, out) for piece in done], path)
    walk.quiet = []
    return best(walk, [(piece, back) for piece in back if piece.start_min < piece.end_min]).out is None


@pytest.mark.hazard(36)
@given(whole_trips(), st.floats(0.0, 1.0))
def test_turned_back_within_the_window_every_supply_keeps_its_reserve_and_a_minute_later_one_does_not(
    trip: Trip, share: float
) -> None:
    whole = plan(trip)
    window = next((row for row in whole.turn_backs if row.to is None), None)
    assume(window is not None and whole.go)
    assert window is not None
    last = floor(window.to_min + 1e-9)
    names = [name for name, supply in trip.supplies.items() if supply.gas == "oxygen"]
    for minute in {floor(share * last), last}:
        for name in names:
            assert keeps_its_reserve(trip, name, float(minute)), (name, minute)
    event(f"decided: {window.decided_by is not None}")
    if window.decided_by in names and window.to_min + 1.0 < trip.total_min:
        assert not keeps_its_reserve(trip, str(window.decided_by), window.to_min + 1.0)


def test_the_simulator_draws_what_a_blender_lets_go() -> None:
    """(8 + 2) L/min at FiO2 0.605: k = 0.395 / 0.79 = 0.5, 5 L/min."""
    blend = Device("blend", "blended_flow", flow_l_per_min=8.0, bleed_l_per_min=2.0, fio2=0.605, air="room")
    assert draws(blend) == pytest.approx(5.0)
