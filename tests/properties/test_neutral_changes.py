"""What must change nothing: a leg written as two, devices written in another order. And no litre is lost."""

from __future__ import annotations

from math import fsum

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from planner.gas import contents
from planner.model import Leg, Trip
from planner.planning import plan
from planner.results import Plan, SupplyPlan, WhatIf
from tests.build import planned_left_l
from tests.properties.simulator import pieces
from tests.properties.strategies import minutes, trips

SAME = 1e-9

SUPPLY_FIGURES = (
    "doubling_l",
    "usable_l",
    "usable_without_spare_l",
    "serving_without_spare_l",
    "lasts_min",
    "runs_out_min",
)


def figures(whole: Plan) -> dict[str, float | str | None]:
    """Every figure of a plan by a name that does not depend on where a leg or device stands."""
    found: dict[str, float | str | None] = {"verdict": whole.verdict}
    for name, supply in whole.supplies.items():
        found |= {f"{name} {key}": value for key, value in supply.need._asdict().items()}
        found |= {f"{name} {key}": getattr(supply, key) for key in SUPPLY_FIGURES}
        found |= {f"{name} count of {each.size}": each.count for each in supply.full_cylinders}
        for each in supply.cylinders:
            found[f"{name} {each.cylinder.label} usable"] = each.usable_l
            found[f"{name} {each.cylinder.label} least"] = each.start_at_least_kpa
        for number, order in enumerate(supply.order):
            found |= {f"{name} order {number} cylinder": order.cylinder, f"{name} order {number} to": order.to_min}
            found |= {f"{name} order {number} gauge": order.gauge_end_kpa}
        for number, change in enumerate(supply.change_overs):
            found |= {f"{name} change {number} at": change.minute, f"{name} change {number} to": change.to_cylinder}
            found[f"{name} change {number} inside"] = str(change.inside_no_change)
    for row in whole.whatifs:
        found |= {f"{row.name} on {row.supply} {key}": value for key, value in outcome(row).items()}
    return found


def outcome(row: WhatIf) -> dict[str, float | str | None]:
    """How a what-if ends. The minute from which it runs is left out: where two are equally bad either may stand."""
    return {
        "holds": str(row.holds),
        "runs out": row.runs_out_min,
        "spare": row.minutes_to_spare,
        "left": row.litres_left,
    }


def assert_same(one: Plan, other: Plan) -> None:
    before, after = figures(one), figures(other)
    assert before.keys() == after.keys()
    for key, value in before.items():
        if isinstance(value, float):
            assert after[key] == pytest.approx(value, rel=SAME, abs=SAME), key
        else:
            assert after[key] == value, key


def split(leg: Leg, at_min: float) -> list[Leg]:
    """A leg as two neighbours; its delays go with the second."""
    longest = None if leg.longest_min is None else leg.longest_min - at_min
    first = leg._replace(name=f"{leg.name}, first part", duration_min=at_min, longest_min=None, delays=())
    return [first, leg._replace(duration_min=leg.duration_min - at_min, longest_min=longest)]


@given(st.data(), trips(plain=True))
def test_a_leg_written_as_two_changes_nothing(data: st.DataObject, trip: Trip) -> None:
    """Without `for:`, which counts from the start of a leg. Neighbouring no-change legs are one stretch either way."""
    number = data.draw(st.integers(0, len(trip.legs) - 1))
    leg = trip.legs[number]
    assume(leg.duration_min >= 0.5)
    halves = split(leg, data.draw(minutes(0.25, leg.duration_min - 0.25)))
    assert_same(plan(trip), plan(trip._replace(legs=(*trip.legs[:number], *halves, *trip.legs[number + 1 :]))))


@given(st.data(), trips())
def test_the_order_of_devices_changes_nothing(data: st.DataObject, trip: Trip) -> None:
    legs = tuple(leg._replace(uses=tuple(data.draw(st.permutations(leg.uses)))) for leg in trip.legs)
    devices = dict(data.draw(st.permutations(list(trip.devices.items()))))
    again = trip._replace(legs=legs, devices=devices)
    assert_same(plan(trip), plan(again))


def drawn_l(trip: Trip, supply: SupplyPlan) -> float:
    """Litres that the devices draw from a supply until it runs out, by the simulator's own timeline."""
    end = trip.total_min if supply.runs_out_min is None else supply.runs_out_min
    return fsum(
        piece.flow_l_per_min * max(0.0, min(piece.end_min, end) - piece.start_min)
        for piece in pieces(trip.legs, supply.supply.name)
    )


def by_gauges_l(supply: SupplyPlan, read_degc: dict[str, float]) -> float:
    """Litres that have left the cylinders by the gauges at the start and the end of each turn."""
    capacity = {each.label: each.water_capacity_l for each in supply.supply.cylinders}

    def holds(label: str, gauge_kpa: float) -> float:
        return contents.contents_l(gauge_kpa, read_degc[label], capacity[label])

    return fsum(
        holds(turn.cylinder, turn.gauge_start_kpa) - holds(turn.cylinder, turn.gauge_end_kpa)
        for turn in supply.order
        if turn.to_min > turn.from_min
    )


@pytest.mark.parametrize("mixed", [False, True])
@given(data=st.data())
def test_litres_drawn_and_litres_left_are_the_litres_at_the_start(data: st.DataObject, mixed: bool) -> None:
    trip = data.draw(trips(mixed=mixed))
    for supply in plan(trip).supplies.values():
        left_l = planned_left_l(trip, supply.supply)
        if supply.usable_l is None or left_l is None:
            continue
        drawn = drawn_l(trip, supply)
        assert drawn + left_l == pytest.approx(supply.usable_l, rel=SAME, abs=SAME)
        if supply.supply.kind == "cylinders" and trip.policy.gauge_allowance_kpa == 0.0:
            read = {each.cylinder.label: each.read_degc for each in supply.cylinders}
            assert by_gauges_l(supply, read) == pytest.approx(drawn, rel=1e-6, abs=1e-6)
