"""What to do when something fails: three actions and those for AIR on the front, the others overleaf."""

from __future__ import annotations

import pytest

from planner.pages.pack import pack_bytes
from planner.planning import plan
from planner.profile.read import parse_trip
from planner.report.card.actions import actions
from planner.report.card.card import card
from planner.report.minutes_table import minutes_table
from planner.results import Plan
from tests.pages.printed import ISSUED, pages

VERBS = ("BAG", "SWITCH", "SHUT", "HEAD", "MOVE", "TELL")

TRIP = """
profile: 1
trip: Two of everything
setting: in_house
supplies:
  ambulance:
    fixed: true
    backup: cart
    cylinders: [{label: main, size: US-M, gauge: 2000 psi, outlets: [high_pressure, {flowmeter: 15 L/min}]}]
  aircraft: {fixed: true, backup: pack, litres: 3000 L}
  cart:
    cylinders:
      - {label: A, size: US-E, gauge: 2000 psi, outlets: OUTLETS}
      - {label: B, size: US-E, gauge: 2000 psi, outlets: OUTLETS}
      - {label: C, size: US-E, gauge: 2000 psi, outlets: OUTLETS}
  pack:
    cylinders: [{label: D, size: US-E, gauge: 2000 psi, outlets: [high_pressure, {flowmeter: 15 L/min}]}]
DEVICES
legs:
  - {name: Ward to bay, duration: 5 min, supply: cart, devices: [USED]}
  - {name: Road, duration: 5 min, supply: ambulance, devices: [FLOWN]}
  - {name: Flight, duration: 5 min, supply: aircraft, devices: [FLOWN]}
  - {name: To the ward, duration: 5 min, supply: cart, devices: [USED]}
""".replace("OUTLETS", "[high_pressure, high_pressure, {flowmeter: 15 L/min}, {flowmeter: 15 L/min}]")
VENT = "{type: ventilator, drive: electric, minute_volume: 6 L/min, bias_flow: 0 L/min, leak: 0 L/min, fio2: 0.4, MORE}"
DEVICES = f"""
devices:
  vent: {VENT.replace("MORE", "battery: 5 h, if_it_fails: bag")}
  second: {VENT.replace("MORE", "battery: 5 h, if_it_fails: mask")}
  conserver: {{type: pulse_conserver, pulse_volume: 16 mL, rate: 20/min, if_it_fails: mask}}
  cannula: {{type: nasal_cannula, flow: 2 L/min, if_it_fails: mask}}
  bag: {{type: manual_resuscitator, flow: 15 L/min}}
  mask: {{type: simple_mask, flow: 6 L/min}}
"""


def made(used: str, flown: str = "") -> Plan:
    found = plan(parse_trip(TRIP.replace("DEVICES", DEVICES).replace("USED", used).replace("FLOWN", flown or used)))
    assert found.go, [finding.message for finding in found.findings if finding.level == "stop"]
    return found


def printed(found: Plan) -> tuple[str, str]:
    """Words of the front and of its back."""
    front, back, *_ = pages(pack_bytes(found, issued=ISSUED, pages="crew"))
    return tuple(" ".join(" ".join(ink.text for ink in page).split()) for page in (front, back))  # type: ignore[return-value]


@pytest.mark.hazard(9, 10, 15)
def test_every_failure_has_its_action_and_those_beyond_three_stand_overleaf() -> None:
    """By hand: ventilator, conserver, cylinder, and two vehicles with a backup each: five."""
    found = made("vent, conserver", "vent")
    assert [action.do.split(" if ")[-1] for action in actions(found)] == [
        "the ventilator fails or its battery is flat",
        "it fails",
        "cylinder or regulator fails",
        "ambulance fails",
        "aircraft fails",
    ]
    front, back = printed(found)
    for text in ("BAG by hand at 15 L/min", "SWITCH from conserver to mask at 6 L/min", "SHUT its valve"):
        assert text in front
    assert "OVERLEAF, what to do if ambulance fails and if aircraft fails." in front
    assert "MOVE to" not in front
    told = back.partition("One reads, the other looks")[0]
    assert "If it fails, more oxygen lasts beyond the end" in told, "the first thing on the page"
    for text in ("MOVE to cart if ambulance fails", "MOVE to pack if aircraft fails"):
        assert text in told


@pytest.mark.hazard(9)
def test_a_second_ventilator_that_falls_back_on_something_else_hides_neither() -> None:
    found = [action.do for action in actions(made("vent", "vent"))]
    assert found[0] == "BAG by hand at 15 L/min if the ventilator fails or its battery is flat"
    both = [action.do for action in actions(made("vent, second", "vent"))]
    assert both[:2] == [
        "BAG by hand at 15 L/min if the ventilator fails or its battery is flat",
        "SWITCH from second to mask at 6 L/min if the ventilator fails or its battery is flat",
    ]


@pytest.mark.hazard(9)
def test_three_actions_need_no_page_more() -> None:
    """Conserver, cylinder and one vehicle: nothing stands overleaf and nothing points there."""
    text = TRIP.replace("  - {name: Flight, duration: 5 min, supply: aircraft, devices: [FLOWN]}\n", "")
    text = text.replace("  aircraft: {fixed: true, backup: pack, litres: 3000 L}\n", "")
    found = plan(
        parse_trip(text.replace("DEVICES", DEVICES).replace("USED", "conserver").replace("FLOWN", "conserver"))
    )
    front, back = printed(found)
    assert len(actions(found)) == 3
    assert "OVERLEAF" not in front
    assert "If it fails" not in back


@pytest.mark.parametrize("used", ["vent", "second", "vent, second", "conserver", "cannula", "vent, conserver"])
def test_an_action_begins_with_its_verb_and_says_when(used: str) -> None:
    found = made(used, "vent")
    for action in actions(found):
        assert action.do.split()[0] in VERBS
        assert action.when.startswith("if ")
        assert action.when.endswith(("fails", "fails or its battery is flat"))
        assert action.buys
    content = card(found)
    assert content.back is not None
    assert len(content.front.actions) <= 3
    assert (*content.front.actions, *content.back.actions) == actions(found)
    assert content.front.overleaf == tuple(action.when for action in content.back.actions)


@pytest.mark.hazard(9, 40)
@pytest.mark.parametrize(
    ("vent", "said"),
    [
        ("electric", "BAG by hand at 15 L/min if the ventilator fails or its battery is flat"),
        ("pneumatic, drive_gas: 2 L/min", "BAG by hand at 15 L/min if the ventilator fails"),
    ],
)
def test_only_a_ventilator_that_has_a_battery_can_have_a_flat_one(vent: str, said: str) -> None:
    """Beside it the conserver's patient breathes from a high-flow device, which lives on a battery in either case."""
    high_flow = "conserver: {type: high_flow_nasal, flow: 8 L/min, fio2: 0.4, if_it_fails: mask}"
    devices = DEVICES.replace("electric", vent, 1).replace("battery: 5 h, if_it_fails: bag", "if_it_fails: bag")
    devices = "\n".join(high_flow.join(("  ", "")) if "conserver:" in row else row for row in devices.split("\n"))
    found = plan(
        parse_trip(TRIP.replace("DEVICES", devices).replace("USED", "vent, conserver").replace("FLOWN", "vent"))
    )
    assert actions(found)[0].do == said


@pytest.mark.hazard(9, 23)
def test_the_flow_of_the_bag_is_one_wherever_it_stands() -> None:
    """12.25 L/min: hands set what was put in, and the minutes beside it are counted with it.

    US-E at 2000 psi, by hand 0.28 L/psi x (2000 - 500) psi = 420 L, by the real gas some more: 34 min at 12.25 L/min.
    """
    devices = DEVICES.replace("flow: 15 L/min", "flow: 12.25 L/min")
    found = plan(parse_trip(TRIP.replace("DEVICES", devices).replace("USED", "vent").replace("FLOWN", "vent")))
    assert actions(found)[0].do.startswith("BAG by hand at 12.25 L/min if")
    table = minutes_table(found)
    assert table is not None
    (row,) = [row for row in table.rows if row.what == "by bag" and row.size == "US-E"]
    assert row.flow == "12.25 L/min"
    assert row.minutes[table.gauges.index("2000 psi")] == "34 min"


AIRS = """  airs:
    gas: air
    cylinders: [{label: L, size: US-E, gauge: 2000 psi, outlets: [high_pressure]}]
"""
AIR = TRIP.replace("  pack:\n", f"{AIRS}  pack:\n")


@pytest.mark.hazard(39)
@pytest.mark.parametrize(
    ("without_air", "said"),
    [
        ("oxygen", "TELL the clinician if AIR fails: oxygen alone flows"),
        ("fallback", "SWITCH from vent to bag at 15 L/min if AIR fails"),
    ],
)
def test_the_action_for_lost_air_is_what_the_ventilator_does(without_air: str, said: str) -> None:
    """A ventilator that stops without air does not go on with oxygen alone."""
    devices = DEVICES.replace("if_it_fails: bag}", f"if_it_fails: bag, air: airs, without_air: {without_air}}}")
    found = plan(parse_trip(AIR.replace("DEVICES", devices).replace("USED", "vent").replace("FLOWN", "vent")))
    told = [action.do for action in actions(found)]
    assert said in told
    assert sum("AIR fails" in each for each in told) == 1
    front = card(found).front
    assert said in [action.do for action in front.actions], "its gauges are read there"
    assert front.overleaf == ("if ambulance fails", "if aircraft fails")
