"""Oxygen that is carried just in case: zero flow, and what it may rise to.

Litres by hand, K of a US-D 0.16, of a US-E 0.28 L/psi.
"""

from __future__ import annotations

import re
from typing import Any

import pytest

from planner.planning import plan
from planner.profile.read import parse_trip
from planner.report.json_result import result

TRIP = """
profile: 1
trip: Oxygen just in case
setting: {setting}
supplies:
  bag: {{cylinders: [{{label: A, size: {size}, gauge: {gauge}, outlets: [{{flowmeter: 15 L/min}}]}}]{more}}}
policy: {{spare_cylinders: 0, must_hold: [deterioration, ventilator_fails, no_wall_on_arrival]}}
devices:
  prongs: {{type: nasal_cannula, flow: {flow}{rise}}}
  mask: {{type: reservoir_mask, flow: 15 L/min}}
legs: [{{name: Way, duration: {minutes}, supply: bag, devices: [prongs]}}]
"""


def planned(
    flow: str = "0 L/min",
    *,
    gauge: str = "2000 psi",
    size: str = "US-E",
    setting: str = "road",
    minutes: str = "40 min",
    rise: str = ", may_rise_to: mask",
) -> dict[str, Any]:
    text = TRIP.format(flow=flow, gauge=gauge, size=size, setting=setting, minutes=minutes, rise=rise, more="")
    return result(plan(parse_trip(text, "trip.yaml")))


def codes(found: dict[str, Any]) -> list[str]:
    return [finding["code"] for finding in found["findings"] if finding["level"] == "stop"]


@pytest.mark.hazard(42)
def test_zero_flow_on_an_empty_cylinder_is_a_stop() -> None:
    """30 min x 15 L/min = 450 L are carried for, and 0 psi hold nothing."""
    found = planned(gauge="0 psi")
    assert found["verdict"] == "no-go"
    assert found["supplies"]["bag"]["planned_l"] == 0.0
    assert found["supplies"]["bag"]["required_l"] == 450.0
    assert codes(found)[0] == "not_enough"


@pytest.mark.hazard(42)
def test_zero_flow_asks_for_what_it_may_rise_to() -> None:
    """A US-D at 1900 psi: (1900 - 500) x 0.16 = 224 L by hand (the real gas gives some 1 % more), and 450 L are asked.

    A US-E at 2000 psi gives 1500 x 0.28 = 420 L: not enough either; at 2200 psi 1700 x 0.28 = 476 L.
    """
    found = planned(gauge="1900 psi", size="US-D")
    assert found["supplies"]["bag"]["usable_l"] == pytest.approx(224.0, rel=0.015)
    assert found["verdict"] == "no-go"
    assert planned(gauge="2000 psi")["verdict"] == "no-go"
    assert planned(gauge="2200 psi")["verdict"] == "go"


@pytest.mark.hazard(42)
def test_inside_the_hospital_one_full_e_carries_a_short_escort() -> None:
    """15 min x 15 L/min = 225 L of some 420 L, for 20 min of nothing; then 10 min at the door at no flow."""
    found = planned(setting="in_house", minutes="20 min")
    assert found["supplies"]["bag"]["required_l"] == 225.0
    assert found["verdict"] == "go"
    # Minutes are those of the flow that the oxygen is carried for: some 425 / 15 = 28 min after the 20.
    assert found["supplies"]["bag"]["lasts_min"] == pytest.approx(28.3, abs=0.3)


@pytest.mark.hazard(42)
def test_minutes_of_oxygen_just_in_case_do_not_depend_on_how_a_way_is_cut_into_legs() -> None:
    """Some 425 / 15 = 28 min from departure, since nothing is planned from then on: in one leg or in two."""
    text = TRIP.format(
        flow="0 L/min", gauge="2000 psi", size="US-E", setting="in_house", minutes="20 min", more="",
        rise=", may_rise_to: mask",
    )  # fmt: skip
    half = "{name: Way, duration: 10 min, supply: bag, devices: [prongs]}"
    (leg,) = re.findall(r"^legs: \[(.*)\]$", text, re.MULTILINE)
    whole, halves = (plan(parse_trip(each)) for each in (text, text.replace(leg, f"{half}, {half}")))
    assert halves.supplies["bag"].lasts_min == whole.supplies["bag"].lasts_min == pytest.approx(28.3, abs=0.3)


@pytest.mark.hazard(42)
def test_there_is_no_cliff_beside_zero() -> None:
    """0.1 L/min on a US-E at 700 psi: 200 x 0.28 = 56 L, which end 4 min after it rises to 15 L/min."""
    found = planned("0.1 L/min", gauge="700 psi", setting="in_house")
    (row,) = (row for row in found["whatifs"] if row["name"] == "deterioration")
    assert not row["holds"]
    assert row["runs_out_min"] - row["from_min"] == pytest.approx(56.0 / 15.0, abs=0.2)
    assert found["verdict"] == "no-go"


@pytest.mark.hazard(42)
def test_zero_flow_that_nothing_explains_is_a_stop() -> None:
    found = planned(rise="")
    assert codes(found) == ["zero_flow"]
    (said,) = (finding for finding in found["findings"] if finding["code"] == "zero_flow")
    assert said["message"] == (
        "prongs draws no oxygen as planned, and nothing says how far it may rise: no litres are counted for it."
    )
    assert "may_rise_to" in said["fix"]


@pytest.mark.hazard(42)
def test_a_fallback_behind_zero_flow_does_not_say_how_far_it_rises() -> None:
    """What takes over when a device fails is no order of what the patient may come to need."""
    assert codes(planned(rise=", if_it_fails: mask")) == ["zero_flow"]


HOME = """
profile: 1
trip: Home
setting: road
supplies: {bag: {cylinders: [{label: A, size: US-D, gauge: GAUGE}]}}
devices:
  maker: {type: concentrator, battery: 9 h, if_it_fails: prongs}
  prongs: {type: nasal_cannula, flow: 2 L/min}
policy: {spare_cylinders: 0, must_hold: []}
legs: [{name: Way, duration: 20 min, supply: bag, devices: [maker]}]
"""


@pytest.mark.hazard(42)
def test_a_supply_that_a_leg_names_is_never_empty() -> None:
    """A concentrator draws nothing by its nature, and is no zero flow; an empty cylinder beside it is a stop."""
    assert codes(result(plan(parse_trip(HOME.replace("GAUGE", "2000 psi"), "trip.yaml")))) == []
    assert codes(result(plan(parse_trip(HOME.replace("GAUGE", "400 psi"), "trip.yaml")))) == ["nothing_usable"]


@pytest.mark.hazard(42)
def test_a_blend_of_air_alone_is_carried_for_something_too() -> None:
    """At FiO2 0.21 a blender draws (0.21 - 0.21) / 0.79 = 0 of oxygen; alone on a supply it would pass with any gas."""
    blend = "{type: blended_flow, flow: 12 L/min, bleed: 0 L/min, air: room, fio2: 21 %}"
    text = HOME.replace("{type: concentrator, battery: 9 h, if_it_fails: prongs}", blend).replace(
        "GAUGE}", "600 psi, outlets: BOTH}"
    )
    text = text.replace("BOTH", "[{flowmeter: 15 L/min}, high_pressure]")
    assert codes(result(plan(parse_trip(text, "trip.yaml")))) == ["zero_flow"]
    beside = text.replace("devices: [maker]", "devices: [maker, prongs]").replace("600 psi", "2000 psi")
    assert codes(result(plan(parse_trip(beside, "trip.yaml")))) == []
