"""The choice from a store by trips small enough to choose by hand.

A US-E at 2000 psi gives about 425 L down to 500 psi (planner.gas against CoolProp: tests/published/test_sizes.py). A
cannula at 4 L/min for 60 min needs 240 L and 120 L reserve by the in-house policy, 360 L in all, and must bridge
10 min more on arrival, 280 L in all: one cylinder. At 90 min it is 360 + 180 = 540 L: two.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from planner.model import Cylinder, Supply
from planner.planning import plan
from planner.results import Plan
from planner.trade.policy_table import policy_defaults
from tests.build import CANNULA, VENTILATOR, cylinder, flowmeter, leg, trip

MORNING = datetime(2026, 12, 3, 6, 0, tzinfo=UTC)


def planned(
    *store: Cylinder,
    minutes: float = 60.0,
    weight_limit_kg: float | None = None,
    places: int | None = None,
    part_used: bool = False,
) -> Plan:
    supply = Supply(
        "cart",
        "cylinders",
        store=store,
        weight_limit_kg=weight_limit_kg,
        places=places,
        prefer="part_used" if part_used else None,
    )
    return plan(trip([supply], leg(minutes, CANNULA)))


def labels(found: Plan) -> list[str]:
    return [one.label for one in found.trip.supplies["cart"].cylinders]


def said(found: Plan, code: str) -> str:
    (finding,) = [finding for finding in found.findings if finding.code == code]
    return finding.message


def test_fewest_cylinders_first() -> None:
    found = planned(
        cylinder("low", 1200, mass_kg=3.0), cylinder("low too", 1200, mass_kg=3.0), cylinder("full", 2000, mass_kg=8.0)
    )
    assert labels(found) == ["full"]
    assert found.go
    assert said(found, "chosen_from_store") == "cart: chosen from the store of 3, in the order of use: full."


def test_then_least_mass() -> None:
    found = planned(cylinder("steel", 2000, mass_kg=8.0), cylinder("light", 1900, mass_kg=3.5))
    assert labels(found) == ["light"]


def test_unknown_mass_comes_last() -> None:
    found = planned(cylinder("unweighed", 2000), cylinder("heavy", 2000, mass_kg=8.0))
    assert labels(found) == ["heavy"]


def test_then_oldest_reading() -> None:
    found = planned(
        cylinder("new", 2000, mass_kg=5.0, checked=MORNING),
        cylinder("old", 2000, mass_kg=5.0, checked=MORNING - timedelta(hours=2)),
    )
    assert labels(found) == ["old"]


def test_part_used_first_where_preferred() -> None:
    store = (cylinder("full", 2000), cylinder("half", 1300), cylinder("half too", 1400))
    assert labels(planned(*store)) == ["full"]
    found = planned(*store, part_used=True)
    assert sorted(labels(found)) == ["half", "half too"]


def test_wrong_gas_and_wrong_outlets_are_not_chosen() -> None:
    found = planned(cylinder("air", 2000, gas="air"), cylinder("driven only", 2000, outlets=()), cylinder("last", 2000))
    assert labels(found) == ["last"]


@pytest.mark.hazard(30)
def test_weight_limit_binds_and_says_by_how_much() -> None:
    store = [cylinder(name, 2000, mass_kg=6.0) for name in "abc"]
    assert planned(*store, minutes=90.0, weight_limit_kg=12.0).go
    found = planned(*store, minutes=90.0, weight_limit_kg=11.5)
    assert not found.go
    assert labels(found) == []
    assert said(found, "no_choice") == (
        "cart: no choice from the store of 3 passes: the lightest set that passes weighs 12.0 kg, 0.5 kg over the "
        "limit of 11.5 kg."
    )


def test_unknown_mass_never_passes_a_weight_limit() -> None:
    found = planned(cylinder("a", 2000), weight_limit_kg=50.0)
    assert "the mass of too many cylinders is unknown" in said(found, "no_choice")


@pytest.mark.hazard(30)
def test_places_bind_and_say_by_how_much() -> None:
    store = [cylinder(name, 2000, mass_kg=6.0) for name in "abc"]
    assert planned(*store, minutes=90.0, places=2).go
    found = planned(*store, minutes=90.0, places=1)
    assert said(found, "no_choice") == (
        "cart: no choice from the store of 3 passes: it takes 2 cylinders and there are 1 places, 1 too few."
    )


def test_too_few_litres_say_how_many_are_short() -> None:
    found = planned(cylinder("a", 2000), minutes=600.0)
    message = said(found, "no_choice")
    # 2400 + 1200 L against one US-E at 2000 psi; the hand method gives 420 L for it, within 2 %.
    short = int(message.split("fit are ")[1].split(" L")[0])
    assert short == pytest.approx(3600 - 420, abs=9)


def test_a_store_without_any_that_fits() -> None:
    supply = Supply("cart", "cylinders", store=(cylinder("a", 2000, outlets=(flowmeter(),)),))
    found = plan(trip([supply], leg(20.0, VENTILATOR)))
    assert "none of the 1 cylinders in the store has usable oxygen and outlets" in said(found, "no_choice")


def test_large_sets_are_ordered_too() -> None:
    store = [
        cylinder(name, 1000, mass_kg=6.0, checked=MORNING + timedelta(hours=n)) for n, name in enumerate("abcdefgh")
    ]
    found = planned(*store, minutes=150.0)
    assert len(labels(found)) > 5
    assert labels(found) == sorted(labels(found))
    preferring = planned(*store, minutes=150.0, part_used=True)
    assert labels(preferring) == labels(found)


def test_a_supply_that_is_not_used_takes_nothing() -> None:
    supply = Supply("cart", "cylinders", store=(cylinder("a", 2000),))
    wall = Supply("wall", "pipeline")
    found = plan(
        trip(
            [supply, wall],
            leg(20.0, CANNULA, supply="wall"),
            policy=policy_defaults("in_house")._replace(handover_time_min=0.0),
        )
    )
    assert labels(found) == []
    assert "none needed" in said(found, "chosen_from_store")
