"""What hands set stands apart from what is drawn: 18.4 L/min is no setting of a device at 50 L/min and FiO2 0.50."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.planning import plan
from planner.profile.read import read_trip
from planner.report.card.card import card
from planner.report.checklist.facts import trip_facts
from planner.report.log.log import log
from planner.report.summary import summary
from planner.results import Plan

PROFILES = Path(__file__).resolve().parents[1] / "profiles"
OXYGEN = "18.4 L/min"
"""50 L/min x (0.50 - 0.21) / 0.79 = 18.354, up."""


@pytest.fixture(scope="module")
def high_flow() -> Plan:
    return plan(read_trip(PROFILES / "high-flow-by-road.yaml"))


@pytest.mark.hazard(21)
def test_the_screen_shows_what_to_set_before_what_is_drawn(high_flow: Plan) -> None:
    said = summary(high_flow)
    assert f"high_flow: SET 50 L/min, FiO2 0.50 (draws {OXYGEN} of oxygen)" in " ".join(said.split())
    assert said.index("SET 50 L/min") < said.index(OXYGEN)


@pytest.mark.hazard(40)
def test_the_screen_says_how_long_batteries_last_and_are_needed() -> None:
    """3 h; off the mains at the longest 30 + 30 + 40 min."""
    train = summary(plan(read_trip(PROFILES / "home-by-train.yaml")))
    assert "maker: batteries 180 min, 100 min off the mains at the longest" in train


@pytest.mark.hazard(21)
def test_the_card_sets_what_is_set_apart_from_what_is_drawn(high_flow: Plan) -> None:
    (one,) = (each for each in card(high_flow).settings if each.name == "high_flow")
    assert one.set == "SET 50 L/min, FiO2 0.50"
    assert one.draws == f"draws {OXYGEN} of oxygen"
    assert OXYGEN not in one.set


@pytest.mark.hazard(21)
def test_a_flow_in_the_log_is_said_to_be_drawn(high_flow: Plan) -> None:
    told = [row.what for part in log(high_flow) for row in part.rows if OXYGEN in row.what]
    assert told
    assert all(f"draws {OXYGEN}" in what for what in told)


@pytest.mark.hazard(21)
def test_what_takes_over_is_told_with_its_setting() -> None:
    """The conserver draws 30 mL x 20 /min = 0.6 L/min, and nobody can set that on it."""
    train = plan(read_trip(PROFILES / "home-by-train.yaml"))
    text = trip_facts(train).texts["standby_over"]
    assert "maker to conserver at 30 mL × 20 /min" in text
    assert "0.6 L/min" not in text


def test_a_policy_without_reserve_time_is_not_said_to_keep_0_min() -> None:
    said = " ".join(summary(plan(read_trip(PROFILES / "doubling-rule.yaml"))).split())
    assert "Can turn back at any minute: every supply then just lasts for it." in said


def test_each_go_that_is_shipped_carries_the_worst_of_its_vehicles() -> None:
    """The vessel of the long flight lost at its start: 360 min x 6 L/min = 2160 L.

    Two US-E of 1500 psi x 0.28 L/psi = 420 L and a US-M of 1500 psi x 1.56 L/psi = 2340 L carry it.
    """
    found = plan(read_trip(PROFILES / "long-flight-on-liquid.yaml"))
    assert all(row.holds for row in found.whatifs if row.name == "vehicle_supply_lost")


def test_no_air_cylinder_of_the_newborn_is_changed_while_the_incubator_is_moved() -> None:
    """10 + 5 + 50 min: the change that fell into the last leg is made in the ambulance."""
    (change,) = plan(read_trip(PROFILES / "newborn-on-a-blend.yaml")).supplies["air"].change_overs
    assert change.minute == pytest.approx(65.0)
