"""Go by decision: what a clinician may accept within a limit, what lapses, and what never can be accepted.

Hand figures. A cylinder of a stated amount leaves gas laws out: 10 L/min for 20 min is 200 L planned; by a policy of
factor 1.5 and 15 min the reserve is the greater of 100 L and 150 L, so 350 L are required. With 330 L stated, 20 L of
the reserve are missing. Other figures stand beside each test.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from planner.afterwards.rest import rests
from planner.afterwards.supply_now import State
from planner.command.cli import main
from planner.gas.atmosphere import pressure_kpa
from planner.model import Accepted, Device, Leg, Policy, Supply, Trip, Use
from planner.planning import plan
from planner.problems import Finding, ProblemsError
from planner.profile.read import parse_trip
from planner.report.card.card import card
from planner.report.json_result import result
from planner.report.summary import summary
from planner.report.words import verdict
from planner.results import Plan
from planner.shift.trip import trip_need
from planner.trade.policy_table import acceptable_names, policy_defaults
from tests.build import CANNULA, HIGH_PRESSURE, VENTILATOR, cylinder, flowmeter, leg, trip

ROLE, WHY = "attending physician", "short trip, wall at the scanner"
MASK = Device("mask", "reservoir_mask", flow_l_per_min=10.0)

POLICY = policy_defaults("in_house")._replace(
    reserve_factor=1.5, reserve_time_min=15.0, spare_cylinders=0, must_hold=(), overrides=()
)


def stated(litres: float, *accepted: Accepted, minutes: float = 20.0, policy: Policy = POLICY) -> Plan:
    """A mask at 10 L/min on a supply of a stated amount."""
    cart = Supply("cart", "litres", stated_l=litres, outlets=(flowmeter(),))
    return plan(trip([cart], leg(minutes, MASK), policy=policy)._replace(accepted=accepted))


def reserve(at_most_l: float) -> Accepted:
    """So many litres of the cart's reserve may be missing."""
    return Accepted("reserve", ROLE, WHY, "cart", at_most_l=at_most_l)


def stops(found: Plan) -> list[str]:
    """Codes of what stops a plan."""
    return [each.code for each in found.findings if each.level == "stop"]


def of(found: Plan, code: str) -> list[Finding]:
    """The findings with a code."""
    return [each for each in found.findings if each.code == code]


# The reserve


@pytest.mark.hazard(45)
def test_reserve_short_by_20_l_is_accepted_up_to_30_l_and_not_up_to_10_l() -> None:
    assert stops(stated(330.0)) == ["not_enough"]  # 350 L required, 20 L short
    assert stated(330.0, reserve(30.0)).verdict == "go-by-decision"
    assert stated(330.0, reserve(20.0)).verdict == "go-by-decision"
    beyond = stated(330.0, reserve(10.0))
    assert beyond.verdict == "no-go"
    assert stops(beyond) == ["not_enough"]
    told = of(beyond, "not_enough")[0].message
    assert told.endswith("does not reach so far: up to 10 L of the reserve missing on cart (attending physician).")
    assert of(beyond, "accepted_unneeded") == []


@pytest.mark.hazard(45)
def test_planned_litres_are_never_accepted() -> None:
    assert stated(200.0, reserve(1000.0)).verdict == "go-by-decision"  # the whole reserve missing, 200 L planned there
    short = stated(199.0, reserve(1000.0))  # 1 L of the planned litres missing
    assert short.verdict == "no-go"
    assert stops(short) == ["not_enough"]


@pytest.mark.hazard(45)
def test_never_a_plain_go_and_the_readings_are_the_gauges_to_depart_with() -> None:
    # US-E, 0.28 L/psi above 500 psi: 2 x 1500 psi give 560 L. 40 min x 10 L/min = 400 L + 200 L reserve = 600 L.
    cart = Supply("cart", "cylinders", cylinders=(cylinder("A", 1500.0), cylinder("B", 1500.0)))
    asked = trip([cart], leg(40.0, MASK), policy=POLICY._replace(gauge_allowance_kpa=0.0))
    assert stops(plan(asked)) == ["not_enough"]
    found = plan(asked._replace(accepted=(reserve(60.0),)))
    assert found.verdict == "go-by-decision"
    assert found.go
    assert found.by_decision
    kept = [one.start_at_least_kpa for one in found.supplies["cart"].cylinders]
    assert kept == [one.cylinder.gauge_kpa for one in found.supplies["cart"].cylinders]
    at_start = found.checkpoints[0]
    assert at_start.gauge_kpa is not None
    assert at_start.least_gauge_kpa is not None
    assert at_start.least_gauge_kpa <= at_start.gauge_kpa + 1e-6  # nobody is told to act on what is accepted


# The spare


@pytest.mark.hazard(45)
def test_spare_is_accepted_for_its_own_supply_alone() -> None:
    # One US-E at 2000 psi: 420 L. 20 min x 4 L/min = 80 L, reserve 15 min x 4 = 60 L: 140 L, and one cylinder withheld.
    cart = Supply("cart", "cylinders", cylinders=(cylinder("A", 2000.0),))
    asked = trip([cart], leg(20.0, CANNULA), policy=POLICY._replace(spare_cylinders=1))
    assert stops(plan(asked)) == ["not_enough"]
    spare = Accepted("spare", ROLE, WHY, "cart")
    assert plan(asked._replace(accepted=(spare,))).verdict == "go-by-decision"
    other = Supply("other", "cylinders", cylinders=(cylinder("Z", 2000.0),))
    elsewhere = asked._replace(supplies={**asked.supplies, "other": other})
    assert plan(elsewhere._replace(accepted=(spare._replace(supply="other"),))).verdict == "no-go"


def test_of_spare_and_reserve_no_more_is_in_force_than_is_needed() -> None:
    cart = Supply("cart", "cylinders", cylinders=(cylinder("A", 2000.0),))
    asked = trip([cart], leg(20.0, CANNULA), policy=POLICY._replace(spare_cylinders=1))
    spare = Accepted("spare", ROLE, WHY, "cart")
    found = plan(asked._replace(accepted=(reserve(30.0), spare)))
    assert [each["what"] for each in result(found)["accepted"]] == ["spare"]
    assert len(of(found, "accepted_unneeded")) == 1
    # 80 min x 4 = 320 L + 160 L = 480 L against 420 L: without the spare 60 L of the reserve are missing as well.
    longer = asked._replace(legs=(leg(80.0, CANNULA),))
    assert plan(longer._replace(accepted=(spare,))).verdict == "no-go"
    both = plan(longer._replace(accepted=(reserve(80.0), spare)))
    assert both.verdict == "go-by-decision"
    assert [each["what"] for each in result(both)["accepted"]] == ["reserve", "spare"]


# What-ifs


def failing() -> Trip:
    """A ventilator on 300 L: 4 L/min x 0.4937 as planned, and for 30 min its bag at 15 L/min if it fails."""
    cart = Supply("cart", "litres", stated_l=300.0, outlets=(flowmeter(), flowmeter()))
    vent = VENTILATOR._replace(
        drive="electric", drive_gas_l_per_min=None, minute_volume_l_per_min=4.0, outlet="flowmeter"
    )
    policy = POLICY._replace(reserve_factor=1.0, reserve_time_min=0.0, must_hold=("ventilator_fails",))
    return trip([cart], leg(30.0, vent), policy=policy)


@pytest.mark.parametrize(("minute", "expected"), [(20.0, "go-by-decision"), (12.0, "go-by-decision"), (21.0, "no-go")])
def test_a_what_if_is_accepted_where_oxygen_lasts_to_the_minute_named(minute: float, expected: str) -> None:
    # From departure the bag takes 15 L/min: 300 L are gone at minute 20 exactly.
    assert stops(plan(failing())) == ["what_if_fails"]
    one = Accepted("ventilator_fails", ROLE, WHY, "cart", not_before_min=minute)
    found = plan(failing()._replace(accepted=(one,)))
    assert found.verdict == expected


@pytest.mark.hazard(45)
def test_one_what_if_accepted_is_no_word_on_another() -> None:
    one = Accepted("cylinder_lost", ROLE, WHY, "cart", not_before_min=1.0)
    found = plan(failing()._replace(accepted=(one,)))
    assert found.verdict == "no-go"
    assert len(of(found, "accepted_unneeded")) == 1


@pytest.mark.hazard(45)
def test_what_the_oxygen_is_carried_for_is_never_accepted() -> None:
    # Room air now, 10 L/min if the patient gets worse, for 30 min: 300 L, and 250 L are there. Gone at minute 25.
    quiet = Device("cannula", "nasal_cannula", flow_l_per_min=0.0, may_rise_to="mask")
    cart = Supply("cart", "litres", stated_l=250.0, outlets=(flowmeter(),))
    asked = trip([cart], leg(60.0, quiet), policy=POLICY._replace(rise_for_min=30.0, must_hold=("deterioration",)))
    asked = asked._replace(devices={**asked.devices, "mask": MASK})
    everything = (
        Accepted("deterioration", ROLE, WHY, "cart", not_before_min=1.0),
        reserve(1000.0),
        Accepted("spare", ROLE, WHY, "cart"),
    )
    found = plan(asked._replace(accepted=everything))
    assert found.verdict == "no-go"
    assert set(stops(found)) == set(stops(plan(asked)))
    assert found.accepted == ()


@pytest.mark.hazard(45)
def test_an_outlet_that_is_missing_is_never_accepted() -> None:
    cart = Supply("cart", "cylinders", cylinders=(cylinder("A", 2000.0, outlets=(flowmeter(),)),))
    policy = policy_defaults("in_house")._replace(spare_cylinders=0)
    asked = trip([cart], leg(10.0, VENTILATOR), policy=policy)
    accepted = (
        *(Accepted(name, ROLE, WHY, "cart", not_before_min=1.0) for name in policy.must_hold),
        reserve(1000.0),
        Accepted("spare", ROLE, WHY, "cart"),
    )
    found = plan(asked._replace(accepted=accepted))
    assert "outlet_missing" in stops(found)
    assert found.accepted == ()


@pytest.mark.hazard(45)
def test_gas_and_magnet_and_readings_have_no_name_to_be_accepted_by() -> None:
    assert set(acceptable_names()) & {"reserve", "spare", "fio2_above_1"} == {"reserve", "spare", "fio2_above_1"}
    assert "battery_ends" not in acceptable_names()
    for never in ("planned", "outlets", "readings", "gas", "magnet", "battery_ends"):
        assert "never accepted" in problems(f"{{what: {never}, supply: cart, by: {ROLE}, why: x}}")


# Inspired oxygen


def flight(*accepted: Accepted) -> Plan:
    """FiO2 1.00 at a cabin of 500 ft: more than 1.00 would be asked for, however low the flight."""
    blend = Device("blend", "blended_flow", flow_l_per_min=10.0, fio2=1.0, bleed_l_per_min=0.0, air="room")
    cart = Supply("cart", "litres", stated_l=2000.0, outlets=(HIGH_PRESSURE,))
    low = Leg("Flight", 20.0, (Use(blend, "cart"),), "cart", by="air", cabin_pressure_kpa=pressure_kpa(152.4))
    return plan(trip([cart], low, policy=POLICY)._replace(accepted=accepted))


@pytest.mark.hazard(45)
def test_fio2_1_at_500_ft_is_a_stop_that_a_clinician_may_accept() -> None:
    # Standard atmosphere: 500 ft is 99.5 kPa. (101.3 - 6.3) / (99.5 - 6.3) = 1.02: no blender gives that.
    assert stops(flight()) == ["inspired_oxygen_not_kept"]
    found = flight(Accepted("fio2_above_1", ROLE, "short flight, saturation watched"))
    assert found.verdict == "go-by-decision"
    assert [each.level for each in of(found, "accepted")] == ["caution"]


# An acceptance that nothing needs


def test_an_acceptance_that_nothing_needs_is_a_caution_and_the_go_a_plain_one() -> None:
    found = stated(350.0, reserve(30.0), Accepted("fio2_above_1", ROLE, WHY))
    assert found.verdict == "go"
    assert len(of(found, "accepted_unneeded")) == 2
    assert result(found)["accepted"] == []
    assert card(found).front.decision == ()


# What is said


@pytest.mark.hazard(45)
def test_it_is_said_in_words_on_screen_and_over_the_card() -> None:
    found = stated(330.0, reserve(30.0))
    assert verdict(found) == "GO BY DECISION"
    said = " ".join(summary(found).split())
    assert said.startswith("GO BY DECISION - 1 stop accepted by a clinician")
    wanted = "Accepted by attending physician: up to 30 L of the reserve missing on cart. Reason given: " + WHY
    assert wanted in said
    assert said.count("needs 350 L, COUNTED 330 L") == 1
    assert "every supply carries its required litres" not in said
    page = card(found)
    assert page.verdict == page.front.verdict == "GO BY DECISION"
    assert [wanted in line for line in page.front.decision] == [True]
    assert page.back is not None
    assert page.second is not None


def test_json_has_who_what_why_supply_and_limit() -> None:
    found = result(stated(330.0, reserve(30.0)))
    assert found["verdict"] == "go-by-decision"
    assert found["accepted"] == [
        {"what": "reserve", "by": ROLE, "why": WHY, "supply": "cart", "at_most_l": 30.0, "not_before_min": None}
    ]


def test_a_shift_does_not_count_it_as_a_plain_go() -> None:
    need = trip_need(stated(330.0, reserve(30.0)))
    assert (need.go, need.by_decision, need.verdict) == (True, True, "go-by-decision")
    assert trip_need(stated(350.0)).verdict == "go"


# The profile

TRIP = """\
profile: 1
trip: Ward to scanner
setting: in_house
policy: {must_hold: [], reserve_factor: 1.5, reserve_time: 15 min}
supplies:
  cart: {litres: LITRES L, outlets: [{flowmeter: 15 L/min}]}
devices:
  mask: {type: reservoir_mask, flow: 10 L/min}
legs:
  - {name: Ward to scanner, duration: 20 min, supply: cart, devices: [mask]}
accepted:
  - ACCEPTED
"""


def written(accepted: str, litres: int = 330) -> str:
    """The profile with one acceptance, and these litres."""
    return TRIP.replace("LITRES", str(litres)).replace("ACCEPTED", accepted)


def problems(accepted: str) -> str:
    """The problems of a profile with an acceptance as they are printed."""
    with pytest.raises(ProblemsError) as caught:
        parse_trip(written(accepted), "trip.yaml")
    return str(caught.value)


def test_profile_is_read_as_written() -> None:
    text = f"{{what: reserve, supply: cart, at_most: 30 L, by: {ROLE}, why: wall at the scanner}}"
    one = parse_trip(written(text)).accepted[0]
    assert one._replace(where=one.where) == Accepted(
        "reserve", ROLE, "wall at the scanner", "cart", at_most_l=30.0, where=one.where
    )
    assert (one.where.line, one.where.column) == (12, 5)


@pytest.mark.parametrize(
    ("accepted", "told"),
    [
        ("{what: reserve, supply: cart, by: x, why: y}", "12:5  key_missing  accepted `reserve` without `at_most`"),
        ("{what: reserve, at_most: 3 L, by: x, why: y}", "accepted `reserve` without `supply`"),
        ("{what: reserve, supply: cart, at_most: 0 L, by: x, why: y}", "out_of_range  at_most `0 L`"),
        ("{what: reserve, supply: cart, at_most: 30 min, by: x, why: y}", "at_most `30 min`"),
        (
            "{what: reserve, supply: cart, at_most: 3 L, not_before: 3 min, by: x, why: y}",
            "`reserve` with `not_before`",
        ),
        ("{what: ventilator_fails, supply: cart, by: x, why: y}", "`ventilator_fails` without `not_before`"),
        ("{what: ventilator_fails, supply: cart, at_most: 3 L, not_before: 9 min, by: x, why: y}", "with `at_most`"),
        ("{what: spare, supply: card, by: x, why: y}", "supply_unknown  supply `card`"),
        ("{what: spare, supply: cart, at_most: 3 L, by: x, why: y}", "accepted `spare` with `at_most`"),
        ("{what: fio2_above_1, supply: cart, by: x, why: y}", "accepted `fio2_above_1` with `supply`"),
        ("{what: spare, supply: cart, why: y}", "accepted without `by`; allowed: `by`, the role of who accepts it"),
        ("{what: spare, supply: cart, by: x}", "accepted without `why`"),
        (
            "{what: spare, supply: cart, by: x, why: y}\n  - {what: spare, supply: cart, by: z, why: y}",
            "13:5  named_twice  `spare` accepted twice for `cart`",
        ),
    ],
)
def test_every_fault_is_told_at_its_place(accepted: str, told: str) -> None:
    assert told in problems(accepted)


@pytest.mark.parametrize(("at_most", "code", "said"), [(30, 0, "go-by-decision"), (10, 3, "no-go")])
def test_exit_code_is_that_of_a_go_within_the_limit(tmp_path: Path, at_most: int, code: int, said: str) -> None:
    file = tmp_path / "trip.yaml"
    file.write_text(written(f"{{what: reserve, supply: cart, at_most: {at_most} L, by: {ROLE}, why: y}}"), "utf-8")
    ran = CliRunner().invoke(main, ["plan", str(file), "--format", "json"])
    assert ran.exit_code == code
    assert json.loads(ran.stdout)["verdict"] == said


@pytest.mark.hazard(45)
def test_it_lapses_when_the_trip_is_planned_again_on_the_way() -> None:
    # At minute 5: 15 min x 10 L/min and the reserve of 150 L are still to come, 300 L against 290 L.
    cart = Supply("cart", "litres", stated_l=290.0, outlets=(flowmeter(),))
    asked = trip([cart], leg(20.0, MASK), policy=POLICY)._replace(accepted=(reserve(100.0),))
    assert plan(asked).verdict == "go-by-decision"  # 350 L required, 60 L short
    rest = rests(State(asked, (0.0, 20.0), (0.0, 20.0), {}, (), 5.0), {}, {})[0]
    assert rest.plan.verdict == "no-go"
    assert not rest.holds
