"""What to do when something fails: three actions and those for AIR on the front, the others overleaf."""

from __future__ import annotations

from datetime import datetime

import pytest

from planner.pages.pack import pack_bytes
from planner.planning import plan
from planner.profile.read import parse_trip
from planner.report.card.actions import actions
from planner.report.card.card import card
from planner.report.minutes_table import minutes_table
from planner.report.summary import summary
from planner.results import Plan
from tests.pages.printed import ISSUED, pages

VERBS = ("BAG", "SWITCH", "SHUT", "HEAD", "MOVE", "TELL", "RAISE", "FIT")

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


def printed(found: Plan, issued: datetime = ISSUED) -> tuple[str, str]:
    """Words of the front and of its back."""
    front, back, *_ = pages(pack_bytes(found, issued=issued, pages="crew"))
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


SEVERAL = """
profile: 1
trip: Several cylinders
setting: in_house
supplies:
  cart:
    HOW
    cylinders: [{label: A, size: US-E, gauge: 2000 psi}, {label: B, size: US-E, gauge: 2000 psi}]
devices: {mask: {type: simple_mask, flow: 6 L/min}}
legs: [{name: Ward, duration: 20 min, supply: cart, devices: [mask]}]
"""


@pytest.mark.hazard(10)
@pytest.mark.parametrize(
    ("how", "said"),
    [
        ("regulators: 2", ["SHUT its valve, open the next if cylinder or regulator fails"]),
        (
            "regulators: 1",
            [
                "SHUT its valve, move its regulator to the next if the cylinder fails",
                "FIT the spare or find an outlet if the one regulator of cart fails",
            ],
        ),
        (
            "manifold: true",
            [
                "SHUT that one, the others go on if a cylinder of cart fails",
                "FIT the spare or find an outlet if the regulator of cart fails",
            ],
        ),
    ],
)
def test_a_regulator_that_serves_all_cylinders_leaves_nothing_to_open(how: str, said: list[str]) -> None:
    found = actions(plan(parse_trip(SEVERAL.replace("HOW", how))))
    assert [action.do for action in found] == said
    assert [action.buys for action in found[1:]] == ["NO OXYGEN till then"] * (len(said) - 1)
    assert found[0].buys.endswith(" min, cart")


@pytest.mark.hazard(10, 39)
@pytest.mark.parametrize("how", ["regulators: 1", "regulators: 2", "manifold: true"])
def test_no_action_for_a_cylinder_of_air_says_that_oxygen_has_stopped(how: str) -> None:
    """Oxygen of one cylinder, AIR of two: the patient then breathes oxygen alone, and nobody is bagged on room air."""
    airs = f"""  airs:
    gas: air
    {how}
    outlets: [high_pressure]
    cylinders: [{{label: L1, size: US-E, gauge: 2000 psi}}, {{label: L2, size: US-E, gauge: 2000 psi}}]
devices: {{blend: {{type: high_flow_nasal, flow: 6 L/min, fio2: 30 %, air: airs}}}}
"""
    text = SEVERAL.replace("HOW", "outlets: [high_pressure, {flowmeter: 15 L/min}]").replace(
        ", {label: B, size: US-E, gauge: 2000 psi}", ""
    )
    text = text.replace("devices: {mask: {type: simple_mask, flow: 6 L/min}}\n", airs).replace("[mask]", "[blend]")
    assert [action.do for action in actions(plan(parse_trip(text)))] == [
        "BAG on other oxygen if OXYGEN of the blend fails: AIR alone flows",
        "BAG on room air, go for the nearest outlet if cylinder or regulator fails",
        "TELL the clinician if AIR fails: oxygen alone flows",
    ]


@pytest.mark.hazard(10)
@pytest.mark.parametrize("how", ["regulators: 1", "manifold: true"])
def test_one_main_in_a_vehicle_does_not_send_a_crew_with_cylinders_to_an_outlet(how: str) -> None:
    """The main has a backup to move to; a pack of one cylinder has nothing, and is named beside the cart of two."""
    main = "  ambulance: {fixed: true, backup: cart, cylinders: [{label: M, size: US-M, gauge: 2000 psi}]}\n"
    road = "  - {name: Road, duration: 5 min, supply: ambulance, devices: [mask]}\n"
    text = SEVERAL.replace("HOW", how).replace("devices:", f"{main}devices:", 1)
    text = text.replace("legs: [", "legs:\n  - ").replace("[mask]}]", f"[mask]}}\n{road}")
    done = [action.do for action in actions(plan(parse_trip(text)))]
    assert not any(each.startswith("HEAD") for each in done)
    assert done[-1] == "MOVE to cart if ambulance fails"
    alone = text.replace("backup: cart, ", "").replace("supply: cart", "supply: ambulance")
    alone = alone.replace(text[text.index("  cart:") : text.index("  ambulance:")], "")
    (last,) = (action.do for action in actions(plan(parse_trip(alone))))
    assert last == "HEAD for the nearest outlet if cylinder or regulator fails", "there is nothing to move to"
    pack = [action.do for action in actions(plan(parse_trip(text.replace("fixed: true, backup: cart, ", ""))))]
    assert pack[0] == "HEAD for the nearest outlet if cylinder or regulator of ambulance fails"
    assert pack[1].startswith("SHUT ")


RISING = SEVERAL.replace("HOW", "regulators: 2").replace(
    "{mask: {type: simple_mask, flow: 6 L/min}}",
    "{mask: {type: simple_mask, flow: FLOW, may_rise_to: more}, more: {type: reservoir_mask, flow: 12 L/min}}",
)


@pytest.mark.hazard(42)
@pytest.mark.parametrize(("flow", "columns"), [("6", ["planned", "raised"]), ("0", ["raised"])])
def test_settings_that_may_rise_stand_on_the_front_with_what_they_leave(flow: str, columns: list[str]) -> None:
    """Raised from departure: 2 x 424 L by the tables of the planner, less 20 min x 12 L/min, are 608 L: 50 min at 12.

    By hand 2 x 420 L, less 240, are 600 L, 50 min too. No device names a bag: no column stands for one.
    """
    found = plan(parse_trip(RISING.replace("FLOW", f"{flow} L/min")))
    first, *_ = card(found).front.actions
    assert first == ("RAISE mask to more at 12 L/min if the patient gets worse", "50 min, cart", True)
    back = card(found).back
    assert back is not None
    assert back.settings[0].draws.endswith("; may be RAISED to more, 12 L/min, which draws 12 L/min")
    table = minutes_table(found)
    assert table is not None
    assert [row.what for row in table.rows] == columns
    assert table.rows[-1].flow == "12 L/min"
    assert table.rows[-1].minutes[table.gauges.index("2000 psi")] == "35 min"  # 420 L / 12 L/min by hand


@pytest.mark.hazard(42)
def test_settings_that_cannot_stay_raised_to_the_end_say_for_how_long_they_may() -> None:
    """2 x 424 L at 60 L/min, beyond what a flowmeter gives, are gone in 14 min: the 10 min planned for are 600 L."""
    text = RISING.replace("FLOW", "1 L/min").replace("12 L/min", "60 L/min")
    text = text.replace("2000 psi}", "2000 psi, outlets: [{flowmeter: 70 L/min}]}")
    text = text.replace("setting: in_house", "setting: in_house\npolicy: {rise_for: 10 min}")
    found = plan(parse_trip(text))
    first = actions(found)[0]
    assert first.buys == "lasts for 10 min of it; from departure to the end cart RUNS OUT 14 min after departure"


@pytest.mark.hazard(20)
def test_no_go_word_stands_alone_over_a_reading_that_is_too_old() -> None:
    old = SEVERAL.replace("HOW", "regulators: 2").replace(
        "psi}, {label: B", "psi, checked: 2026-11-20 07:00}, {label: B"
    )
    departs = "setting: in_house\ndeparts: 2026-11-27 15:00"
    found = plan(parse_trip(old.replace("setting: in_house", departs)))
    front, back = printed(found)
    assert front.startswith("GO - NOT VALID UNTIL A IS READ AGAIN ")
    assert "NOT VALID since 20 Nov 2026 19:00: a reading is older than 12 h." in front
    assert "GO: NOT VALID YET" in back
    assert summary(found).startswith("GO - NOT VALID UNTIL A IS READ AGAIN.")
    unknown = plan(parse_trip(old))  # no departure is known: the time of issue, 3 Dec, tells
    assert printed(unknown)[0].startswith("GO - NOT VALID UNTIL A IS READ AGAIN ")
    assert summary(unknown, ISSUED).startswith("GO - NOT VALID UNTIL A IS READ AGAIN.")
    fresh = plan(parse_trip(old.replace("setting: in_house", departs).replace("11-20", "11-27")))
    assert "NOT VALID" not in " ".join((*printed(fresh, datetime(2026, 11, 27, 14)), summary(fresh)))


LEAVES = SEVERAL.replace("HOW", "regulators: 2").replace("in_house", "in_house\ndeparts: 2026-11-27 20:00")


@pytest.mark.hazard(20)
@pytest.mark.parametrize(
    ("issued", "read", "said"),
    [
        # readings are valid for 12 h: read at 18:00, by 06:00 of the next day none may leave by them
        ("2026-11-28 06:00", "2026-11-27 18:00", ""),
        ("2026-11-28 06:01", "2026-11-27 18:00", "NOT VALID since 28 Nov 2026 06:00: a reading is older than 12 h."),
        ("2026-11-28T06:01+00:00", "2026-11-27 18:00", "NOT VALID since 28 Nov 2026 06:00: a reading is older"),
        # read at 05:00, too old at 17:00, three hours before leaving: printed before and after that
        ("2026-11-27 16:00", "2026-11-27 05:00", "NOT VALID from 27 Nov 2026 17:00: a reading is then older than 12 h"),
        ("2026-11-27 17:00", "2026-11-27 05:00", "NOT VALID since 27 Nov 2026 17:00: a reading is older than 12 h."),
    ],
)
def test_a_card_is_as_old_as_the_later_of_leaving_and_printing(issued: str, read: str, said: str) -> None:
    found = plan(parse_trip(LEAVES.replace("psi}, {label: B", f"psi, checked: {read}}}, {{label: B")))
    every = [
        " ".join(" ".join(ink.text for ink in page).split())
        for page in pages(pack_bytes(found, issued=datetime.fromisoformat(issued)))
    ]
    assert len(every) > 4, "card, checklists, log, nomogram and sheet"
    assert said in every[0]
    assert ["NOT VALID" in page for page in every] == [bool(said)] * len(every)


@pytest.mark.hazard(20)
def test_a_zone_beside_the_reading_holds_the_time_of_issue_to_the_same_moment() -> None:
    """Read at 18:00 at UTC+1, too old at 05:00 UTC."""
    text = LEAVES.replace("20:00", "20:00+01:00").replace("psi}, {", "psi, checked: 2026-11-27 18:00+01:00}, {")
    found = plan(parse_trip(text))
    late, early = (datetime.fromisoformat(f"2026-11-28T{at}+00:00") for at in ("05:01", "05:00"))
    assert card(found, late).front.not_valid == "NOT VALID UNTIL A IS READ AGAIN"
    assert card(found, early).front.not_valid == ""


@pytest.mark.hazard(20)
def test_readings_with_and_without_a_zone_are_compared_where_no_departure_is_known() -> None:
    """A at 18:00 at UTC+14 is the older one wherever the place is: B at 18:00 of its clock, ten days later."""
    text = SEVERAL.replace("HOW", "regulators: 2").replace("psi}, {", "psi, checked: 2026-11-17 18:00+14:00}, {")
    found = plan(parse_trip(text.replace("psi}]", "psi, checked: 2026-11-27 18:00}]")))
    assert card(found).front.valid.startswith("Valid until 18 Nov 2026 06:00 UTC+14:00: the reading of A")


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
