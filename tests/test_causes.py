"""The cause stands before its consequences: one reason for one missing line, with the line to write."""

from __future__ import annotations

import pytest

from planner.planning import plan
from planner.problems import Finding
from planner.profile.read import parse_trip
from planner.report.summary import summary

VENTILATED = """\
profile: 1
trip: Ventilated by road
setting: road
supplies:
  main: {fixed: true, backup: cart, cylinders: [{label: M1, size: US-M, gauge: 2000 psi}]}
  cart: {cylinders: [{label: A, size: US-E, gauge: 2000 psi}, {label: B, size: US-E, gauge: 2000 psi}]}
devices:
  bag: {type: manual_resuscitator, flow: 15 L/min}
  vent: {type: ventilator, minute_volume: 7 L/min, fio2: 60 %, bias_flow: 0 L/min, leak: 0 L/min, drive: electric,
    if_it_fails: bag}
legs:
  - {name: Out, duration: 5 min, supply: cart, devices: [vent]}
  - {name: Road, duration: 20 min, supply: main, devices: [vent]}
"""
TWO_PATIENTS = """\
profile: 1
trip: Two on one cart
setting: in_house
supplies:
  cart: {cylinders: [{label: A, size: US-E, gauge: 2000 psi}, {label: B, size: US-E, gauge: 2000 psi}]}
devices:
  one: {type: nasal_cannula, flow: 2 L/min, patient: A}
  two: {type: nasal_cannula, flow: 3 L/min, patient: B}
legs:
  - {name: To the scan, duration: 10 min, supply: cart, devices: [one, two]}
"""


def stops(text: str) -> list[Finding]:
    """The reasons of a no-go, in their order."""
    return [finding for finding in plan(parse_trip(text)).findings if finding.level == "stop"]


@pytest.mark.hazard(12)
def test_a_missing_outlet_is_one_reason_with_the_line_to_write() -> None:
    (stop,) = stops(VENTILATED)
    assert stop.code == "outlet_missing"
    assert stop.message.startswith(
        "An outlet is missing on M1 of main; A and B of cart: vent needs 1 x 50-psi outlet and each has 0."
    )
    assert "No outlets are written for them" in stop.message
    assert "write outlets: [{flowmeter: 15 L/min}, high_pressure] under main and cart" in stop.fix


def test_the_line_it_gives_is_read_and_mends_it() -> None:
    mended = VENTILATED
    for name in ("main: {", "cart: {"):
        mended = mended.replace(name, f"{name}outlets: [{{flowmeter: 15 L/min}}, high_pressure], ")
    assert "outlet_missing" not in [stop.code for stop in stops(mended)]


def test_two_patients_on_cylinders_with_one_outlet_get_a_supply_each() -> None:
    (stop,) = stops(TWO_PATIENTS)
    assert "one, two needs 2 x flowmeter and each has 1" in stop.message
    assert stop.fix.startswith("Give each patient a supply of their own.")


def test_what_does_not_follow_from_the_outlet_is_still_told() -> None:
    """A leg on a supply with its outlets that is too short of litres: 60 min at 15 L/min are 900 L, an E holds 424."""
    text = VENTILATED.replace("legs:", "  mask: {type: reservoir_mask, flow: 15 L/min}\nlegs:")
    text = text.replace(
        "devices:\n  bag", "  spare: {cylinders: [{label: S, size: US-E, gauge: 2000 psi}]}\ndevices:\n  bag"
    )
    text += "  - {name: Last, duration: 60 min, supply: spare, devices: [mask]}\n"
    codes = [stop.code for stop in stops(text)]
    assert codes[0] == "outlet_missing"
    assert "not_enough" in codes


MAIN = """\
profile: 1
trip: Vehicle main
setting: road
supplies:
  main: {cylinders: [{label: M, size: US-M, gauge: 2000 psi}]}
devices:
  mask: {type: simple_mask, flow: 10 L/min}
legs:
  - {name: Road, duration: 20 min, supply: main, devices: [mask]}
"""


def test_a_main_that_lacks_its_spare_alone_is_asked_if_it_stays_in_the_vehicle() -> None:
    """2000 psi in an M leave 1.56 L/psi x 1500 psi, some 2340 L, of which 20 and 30 min at 10 L/min need 500."""
    (stop,) = [stop for stop in stops(MAIN) if stop.code == "not_enough"]
    assert "write fixed: true under main if it stays in the vehicle" in stop.fix
    assert "300 L of the need are the reserve of 30 min at 10 L/min" in stop.message
    carried = [stop for stop in stops(MAIN.replace("US-M", "US-E")) if stop.code == "not_enough"]
    assert "fixed" not in carried[0].fix  # an E goes with the patient


def test_one_cylinder_whose_loss_need_not_be_borne_is_a_fact_and_no_failure() -> None:
    text = TWO_PATIENTS.replace(", {label: B, size: US-E, gauge: 2000 psi}", "").replace("[one, two]", "[one]")
    said = " ".join(summary(plan(parse_trip(text))).split())
    assert said.startswith("GO - ")
    assert "ONLY ONE CYLINDER: if it fails, no oxygen at once" in said
    assert "FAILS" not in said
    assert "CAUTION" not in said


HIGH_FLOW = """\
profile: 1
trip: High flow on two small cylinders
setting: in_house
supplies:
  bed:
    outlets: [high_pressure]
    cylinders: [{label: A, size: US-E, gauge: 2000 psi}, {label: B, size: US-E, gauge: 2000 psi}]
devices:
  high: {type: high_flow_nasal, flow: 50 L/min, fio2: 80 %}
legs:
  - {name: To scan, duration: 12 min, supply: bed, devices: [high]}
"""


def test_a_no_go_of_high_flow_names_a_larger_size_and_settings_to_ask_a_clinician_about() -> None:
    """42 min x 50 x 0.59 / 0.79 = 1568.4 L are required and 848.7 L there, 0.5411 of it.

    k 0.7468 x 0.5411 = 0.4041, which is FiO2 0.21 + 0.79 x 0.4041 = 0.529; the flow 50 x 0.5411 = 27.06 L/min. Of a
    size with 1699 L at 2216 psi, from 2000 down to 500 psi some 1180 L are usable: two. One of 3398 L gives 2360 L.
    """
    (stop,) = stops(HIGH_FLOW)
    assert "a larger size with the same outlets, 2 full US-M60 of 1699 L or 1 full US-MM of 3398 L" in stop.fix
    assert "ask a clinician whether FiO2 0.52 at 50 L/min or 27 L/min at FiO2 0.80 will do" in stop.fix
    for meant, less, more in (("80 %", "52 %", "54 %"), ("50 L/min", "27 L/min", "28 L/min")):
        assert plan(parse_trip(HIGH_FLOW.replace(meant, less))).verdict == "go"
        assert plan(parse_trip(HIGH_FLOW.replace(meant, more))).verdict == "no-go"


def test_another_device_beside_high_flow_is_no_matter_of_its_settings_alone() -> None:
    both = HIGH_FLOW.replace("legs:", "  neb: {type: nebulizer, flow: 8 L/min}\nlegs:").replace("[high]", "[high, neb]")
    both = both.replace("[high_pressure]", "[high_pressure, {flowmeter: 15 L/min}]")
    assert all("FiO2" not in stop.fix for stop in stops(both))
