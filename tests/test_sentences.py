"""Sentences that a crew must not misread: labels that are numbers, magnet rooms, thin air, windows for turning back."""

from __future__ import annotations

import pytest

from planner.gas import atmosphere
from planner.model import Device, Supply
from planner.naming import all_called, called
from planner.planning import plan
from planner.profile.read import parse_trip
from planner.report.card.card import card
from planner.report.card.second import turn_back
from planner.report.checklist.checklist import checklists
from planner.report.sheet.needs import counts_section
from planner.report.summary import summary
from planner.results import Plan, TurnBack
from tests.build import CANNULA, cylinder, leg, trip
from tests.make_plan import example

MASK = Device("mask", "simple_mask", flow_l_per_min=6.0)
MAGNET = """\
profile: 1
trip: Ward to scanner
setting: in_house
supplies:
  cart:
    cylinders:
      - {label: "1", size: US-E, gauge: 1200 psi}
      - {label: "2", size: US-E, gauge: 2000 psi, magnet_safe: true}
      - {label: "3", size: US-E, gauge: 2000 psi}
devices:
  mask: {type: simple_mask, flow: 6 L/min}
legs:
  - {name: Ward to scanner, duration: 50 min, supply: cart, devices: [mask]}
  - {name: Into the magnet room, duration: 5 min, supply: cart, devices: [mask], magnet: true}
  - {name: Back, duration: 5 min, supply: cart, devices: [mask]}
  - {name: Second scan, duration: 5 min, supply: cart, devices: [mask], magnet: true}
"""


def numbered(first_psi: float = 1000.0) -> Plan:
    """Cylinders 1 and 2, changed on the way."""
    supply = Supply("cart", "cylinders", cylinders=(cylinder("1", first_psi), cylinder("2", 2000)))
    return plan(trip([supply], leg(40.0, MASK, name="Road")))


def one_line(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize(
    ("label", "text"), [("A", "A"), ("E-06", "E-06"), ("1", "cylinder 1"), ("12/3", "cylinder 12/3"), ("β", "β")]
)
def test_a_label_without_a_letter_is_called_a_cylinder(label: str, text: str) -> None:
    assert called(label) == text


def test_several_cylinders_are_called_so_once() -> None:
    assert all_called(["A", "B"]) == "A, B"
    assert all_called(["1"]) == "cylinder 1"
    assert all_called(["1", "3"]) == "cylinders 1, 3"


@pytest.mark.hazard(21)
def test_a_change_between_numbers_reads_as_one_of_cylinders() -> None:
    found = numbered()
    assert "Change cylinder 1 to cylinder 2 when cylinder 1 shows 500 psi or " in one_line(summary(found))
    (change,) = checklists(found).changes
    texts = [f"{item.ask} {item.answer}" for item in change.items]
    assert "cylinder 2: valve opened SLOWLY, no hiss" in texts
    assert "cylinder 1 shut, pressure bled off" in texts


def test_a_change_between_letters_stays_short() -> None:
    supply = Supply("cart", "cylinders", cylinders=(cylinder("A", 1000), cylinder("B", 2000)))
    assert "Change A to B when A shows 500 psi" in one_line(summary(plan(trip([supply], leg(40.0, MASK, name="Road")))))


@pytest.mark.hazard(27)
def test_a_cylinder_left_out_of_magnet_rooms_is_told_in_one_sentence_with_all_of_them() -> None:
    found = plan(parse_trip(MAGNET))
    told = [finding.message for finding in found.findings if finding.code == "outlets"]
    assert told == [
        f"cart cylinder {label} is left out of leg 2 (Into the magnet room) and leg 4 (Second scan), as it is not "
        "marked magnet_safe."
        for label in "13"
    ]
    stay = "MAGNET ROOM: cylinders 1, 3 stay OUTSIDE"
    assert [row.warnings for row in card(found).front.legs] == [(), (stay,), (), (stay,)]


@pytest.mark.hazard(27)
def test_counts_of_full_cylinders_for_a_magnet_room_say_how_they_are_marked() -> None:
    mark = "marked safe for the magnet"
    found = plan(parse_trip(MAGNET))
    assert f"kg, {mark})" in one_line(summary(found))
    assert f"Each one for cart must be {mark}." in str(counts_section(found))
    short = plan(parse_trip(MAGNET.replace("2000 psi", "700 psi")))
    (stop,) = [finding for finding in short.findings if finding.code == "not_enough"]
    assert f" in all, {mark}; or " in stop.fix
    assert {row.full.endswith(f", {mark}") for row in card(short).balance} == {True}


@pytest.mark.hazard(27)
def test_cylinders_to_be_drawn_for_a_magnet_room_are_to_be_marked() -> None:
    a, rest = MAGNET.split("    cylinders:\n")
    text = f"{a}    sizes: [US-E]\n{rest[rest.index('devices:') :]}"
    assert "× US-E, marked safe for the magnet" in str(checklists(plan(parse_trip(text))))
    outside = text.replace(", magnet: true", "")
    assert "marked safe" not in str(checklists(plan(parse_trip(outside))))
    assert "marked safe" not in summary(plan(parse_trip(outside)))


@pytest.mark.hazard(16)
def test_a_concentrator_gives_less_in_thin_air_too() -> None:
    """At 8000 ft 565 of 760 mmHg: (565 - 47) / (760 - 47) = 72.6 %, as for every device that no FiO2 is set on."""
    concentrator = Device("unit", "concentrator", if_it_fails="cannula")
    supply = Supply("cart", "cylinders", cylinders=tuple(cylinder(label, 2000) for label in "AB"))
    flight = leg(30.0, concentrator, name="Flight")._replace(cabin_pressure_kpa=atmosphere.pressure_kpa(8000 * 0.3048))
    made = trip([supply], flight, setting="air")
    found = plan(made._replace(devices={**made.devices, "cannula": CANNULA}))
    (told,) = [finding for finding in found.findings if finding.code == "inspired_oxygen_falls"]
    assert told.level == "caution"
    assert "unit is set by flow alone; in the cabin 72 % of the home inspired oxygen is left" in told.message
    (limit,) = [finding for finding in found.findings if finding.code == "altitude_limit_not_said"]
    assert limit.fix == "Write altitude_limit: from the device's manual."


def test_a_window_begins_late_and_ends_early() -> None:
    """From 58.2 min on the first whole minute inside is 59; 71.9 ends at 71."""
    made = example()
    windows = (TurnBack(None, None, 0.0, 54.9, None, "cart"), TurnBack("clinic", "Road", 58.2, 71.9, 10.0, "van"))
    made = made._replace(turn_backs=windows)
    assert turn_back(made) == (
        "Can turn back until minute 54 (15:14), cart decides; can divert to clinic from minute 59 until minute "
        "71 (15:31), van decides"
    )
