"""What the card, the lists and the screen say must be true of the figures beside it, and the same on every page."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.afterwards.rest import Rest
from planner.model import Device, Leg, Supply, Trip, Use
from planner.pages.log import ACT
from planner.planning import plan
from planner.profile.read import parse_trip, read_trip
from planner.report.card.actions import actions
from planner.report.card.card import card
from planner.report.card.legs import magnet_text
from planner.report.checklist.checklist import checklists
from planner.report.compare.steps import mends
from planner.report.log.log import log
from planner.report.minutes_table import minutes_table
from planner.report.summary import summary
from planner.report.whatif_words import whatif_condition
from planner.report.words import change_sentence
from planner.results import Plan
from tests.build import BAG, CANNULA, VENTILATOR, cylinder, leg, trip

SCAN = Path(__file__).resolve().parents[1] / "profiles" / "magnet-scan.yaml"
MASK = Device("mask", "simple_mask", flow_l_per_min=6.0)


def ventilated(stand_in: Device, *, minutes: float = 30.0, gauges_psi: tuple[float, ...] = (2000.0, 2000.0)) -> Plan:
    """A ventilator, minute volume 10 L/min at FiO2 0.60, that falls back on another device."""
    supply = Supply("cart", "cylinders", cylinders=tuple(map(cylinder, "AB", gauges_psi)))
    found = trip([supply], leg(minutes, VENTILATOR._replace(if_it_fails=stand_in.name)))
    return plan(found._replace(devices={**found.devices, stand_in.name: stand_in}))


def line_of(found: Plan, what: str) -> str:
    """What to do if it fails, and what that buys."""
    return next(f"{each.do}: {each.buys}" for each in actions(found) if each.when.startswith(f"if {what} fails"))


@pytest.mark.hazard(9, 26)
def test_minutes_counted_for_a_cannula_are_not_printed_behind_a_resuscitator() -> None:
    """The cannula draws 4 L/min, a resuscitator 15: in the same time 3.75 times as much."""
    text = line_of(ventilated(CANNULA), "the ventilator")
    assert text.startswith("SWITCH from vent to cannula at 4 L/min if the ventilator fails")
    assert "by hand" not in text


@pytest.mark.hazard(9)
def test_by_hand_stands_where_the_resuscitator_is_what_was_counted() -> None:
    text = line_of(ventilated(BAG), "the ventilator")
    assert text.startswith("BAG by hand at 15 L/min if the ventilator fails")


@pytest.mark.hazard(9, 26)
def test_minutes_to_spare_on_the_card_say_at_which_flow() -> None:
    """They are of the last planned flow, 5.44 L/min, where a failure at the end is the worst: not of the 4 L/min."""
    text = line_of(ventilated(CANNULA), "the ventilator")
    assert text.endswith(" min at 5.5 L/min, cart")


@pytest.mark.hazard(9)
@pytest.mark.parametrize(("stand_in", "told"), [(CANNULA, True), (MASK, True), (BAG, False)])
def test_a_fallback_that_does_not_breathe_is_a_caution(stand_in: Device, told: bool) -> None:
    found = [each for each in ventilated(stand_in).findings if each.code == "fallback_does_not_breathe"]
    assert [each.level for each in found] == (["caution"] if told else [])


@pytest.mark.hazard(6)
@pytest.mark.parametrize(
    ("drive", "gas", "told"), [("pneumatic", 0.0, 1), ("pneumatic", 0.5, 0), ("electric", None, 0)]
)
def test_driving_gas_of_zero_is_a_caution(drive: str, gas: float | None, told: int) -> None:
    device = VENTILATOR._replace(drive=drive, drive_gas_l_per_min=gas)  # type: ignore[arg-type]
    found = plan(trip([Supply("cart", "cylinders", cylinders=(cylinder("A", 2000),))], leg(10.0, device)))
    assert len([each for each in found.findings if each.code == "no_driving_gas"]) == told


@pytest.mark.hazard(10, 26)
def test_the_cylinder_that_is_missed_most_is_told() -> None:
    """S holds more; yet without M, the only one for the magnet room, nothing is left in there at once."""
    found = to_the_magnet()
    assert line_of(found, "cylinder or regulator").endswith(": cart NOTHING LEFT THAT FITS 8 min after departure")


def to_the_magnet(*, m_safe: bool = True, s_safe: bool = False) -> Plan:
    supply = Supply(
        "cart",
        "cylinders",
        cylinders=(cylinder("S", 2000, magnet_safe=s_safe), cylinder("M", 1900, magnet_safe=m_safe)),
    )
    legs = (leg(8.0, CANNULA, name="Ward to scanner"), leg(12.0, CANNULA, name="Scan", magnet=True))
    return plan(trip([supply], *legs))


@pytest.mark.hazard(27)
def test_the_card_marks_the_magnet_room_and_what_stays_outside() -> None:
    first, second = card(to_the_magnet()).front.legs
    assert (first.warnings, second.warnings) == ((), ("MAGNET ROOM: S stays OUTSIDE",))
    assert card(to_the_magnet(s_safe=True)).front.legs[1].warnings == ("MAGNET ROOM: what is marked only",)
    assert magnet_text(to_the_magnet(m_safe=False)) == "MAGNET ROOM: S, M stay OUTSIDE"


@pytest.mark.hazard(27)
def test_cylinders_of_two_supplies_that_stay_outside_are_named_with_their_supply() -> None:
    supplies = [Supply(name, "cylinders", cylinders=(cylinder("A", 2000),)) for name in ("cart", "chair")]
    found = plan(trip(supplies, leg(8.0, CANNULA, magnet=True)))
    assert magnet_text(found) == "MAGNET ROOM: cart A, chair A stay OUTSIDE"


TWO_OF_ONE_SIZE = """
profile: 1
trip: One size, once in the cold
setting: in_house
supplies:
  cart:
    cylinders: [{label: A, size: US-E, gauge: 2100 psi}]
  sledge:
    coldest: COLDEST
    cylinders: [{label: B, size: US-E, gauge: 2100 psi}]
devices: {mask: {type: simple_mask, flow: 6 L/min}}
legs:
  - {name: Ward to bay, duration: 10 min, supply: cart, devices: [mask]}
  - {name: Over the snow, duration: 20 min, supply: sledge, devices: [mask]}
"""


@pytest.mark.hazard(17, 21)
def test_minutes_of_one_size_say_which_supply_where_they_differ() -> None:
    """500 psi at -20 degC hold more than at 21.1 degC, so that the cold one gives fewer minutes from the same gauge."""
    table = minutes_table(plan(parse_trip(TWO_OF_ONE_SIZE.replace("COLDEST", "-20 degC"))))
    assert table is not None
    named = [(row.size, row.flow, row.supply) for row in table.rows]
    assert named == [
        ("US-E", "6 L/min", "cart"),
        ("US-E", "15 L/min", "cart"),
        ("US-E", "6 L/min", "sledge"),
        ("US-E", "15 L/min", "sledge"),
    ]
    warm, cold = table.rows[0].minutes[0], table.rows[2].minutes[0]
    assert int(cold.removesuffix(" min")) < int(warm.removesuffix(" min"))


@pytest.mark.hazard(17, 21)
def test_minutes_of_one_size_in_one_supply_say_which_cylinder() -> None:
    """A was read at 40 degC: from the same gauge it holds less than B and C."""
    cylinders = (cylinder("A", 1900)._replace(temperature_degc=40.0), cylinder("B", 1900), cylinder("C", 2000))
    table = minutes_table(plan(trip([Supply("cart", "cylinders", cylinders=cylinders)], leg(10.0, MASK))))
    assert table is not None
    assert [row.supply for row in table.rows] == ["cart A", "cart A", "cart B, C", "cart B, C"]
    hot, cool = table.rows[0].minutes[0], table.rows[2].minutes[0]
    assert int(hot.removesuffix(" min")) < int(cool.removesuffix(" min"))


def test_minutes_alike_name_no_supply() -> None:
    table = minutes_table(plan(parse_trip(TWO_OF_ONE_SIZE.replace("COLDEST", "30 degC"))))
    assert table is not None
    assert [row.supply for row in table.rows] == ["", ""]


def rising(*devices: str) -> Plan:
    text = f"""
profile: 1
trip: Blends that may rise
setting: in_house
supplies: {{aircraft: {{fixed: true, backup: cart, litres: 9000 L}}, cart: {{litres: 9000 L}}}}
devices:
  newborn: {{type: blended_flow, flow: 8 L/min, bleed: 0 L/min, air: room, fio2: 35 %, may_rise_to: more}}
  more: {{type: blended_flow, flow: 8 L/min, bleed: 0 L/min, air: room, fio2: 70 %}}
  adult: {{type: blended_flow, flow: 30 L/min, bleed: 0 L/min, air: room, fio2: 40 %}}
legs: [{{name: Flight, duration: 20 min, supply: aircraft, devices: [{", ".join(devices)}]}}]
"""
    return plan(parse_trip(text))


@pytest.mark.parametrize(
    ("devices", "said"),
    [
        (("newborn",), "from departure, as far as the trip names"),
        (("newborn", "adult"), "from departure, as far as the trip names, other blends at 100 % oxygen"),
        (("adult",), "from departure, blends at 100 % oxygen"),
    ],
)
def test_a_rise_to_seventy_percent_is_not_called_a_hundred(devices: tuple[str, ...], said: str) -> None:
    found = rising(*devices)
    rise = next(whatif for whatif in found.whatifs if whatif.name == "settings_rise")
    assert whatif_condition(found, rise) == f"Settings rise ({said})"


@pytest.mark.hazard(5)
def test_a_low_gauge_passes_no_page() -> None:
    """The gauges to start at are one set, safe together: the lists and the log ask for each of them alike."""
    assert "Below ACT BELOW before departure: do not leave" in ACT
    before = checklists(ventilated(BAG)).before
    line = next(item for each in before for item in each.items if item.key == "gauge")
    assert line.answer == "START AT LEAST or above, every one"
    assert "Start at least: all may read so low at once; below one of them, plan again." in " ".join(
        summary(ventilated(BAG)).split()
    )


@pytest.mark.parametrize(
    ("minutes", "gauge_psi", "said"),
    # (10 x 0.39 / 0.79 + 0.5) L/min = 5.44 L/min. From 900 psi about 400 x 0.28 = 112 L: too few for the 54 + 163 L
    # required and for 10 x 15 L by hand, enough for 20 x 5.44 = 109 L without a wall outlet. 700 psi: 56 L for none.
    [(10.0, 900.0, " There is 1 more reason."), (60.0, 700.0, " There are 2 more reasons.")],
)
def test_reasons_that_are_not_told_are_counted(minutes: float, gauge_psi: float, said: str) -> None:
    found = ventilated(BAG, minutes=minutes, gauges_psi=(gauge_psi,))
    rest = Rest("planned", 0.0, found, holds=False, lasts_min={}, out={}, act_by_min=0.0, extra_l_per_min={})
    assert mends(rest).endswith(said)


def moved(device: Device) -> Trip:
    supplies = [
        Supply("cart", "cylinders", cylinders=(cylinder("A", 2000), cylinder("B", 2000))),
        Supply("vehicle", "cylinders", fixed=True, backup="cart", cylinders=(cylinder("main", 1700, "US-M"),)),
    ]
    return trip(supplies, leg(5.0, device), Leg("road", 20.0, (Use(device, "vehicle"),), "vehicle"))


@pytest.mark.hazard(9)
@pytest.mark.parametrize(("device", "asked"), [(VENTILATOR, True), (CANNULA, False)])
def test_a_resuscitator_is_in_hand_when_a_ventilator_changes_its_source(device: Device, asked: bool) -> None:
    """Its hose comes off one supply before it goes on the other: until gas flows it stands still."""
    (change,) = (each for each in checklists(plan(moved(device))).changes if each.kind == "source")
    keys = [item.key for item in change.items]
    assert ("resuscitator" in keys) is asked
    if asked:
        assert keys.index("resuscitator") < keys.index("move")


def test_log_and_checklist_ask_for_the_same_gauge_of_what_comes_off_by_the_clock() -> None:
    """Not by its gauge but at a door: 45 L of 1500 psi gone, at 0.28 L/psi 161 psi: 1340 to the nearest 10."""
    made = plan(read_trip(SCAN))
    (off,) = (row.expected for part in log(made) for row in part.rows if row.what == "change: comes off")
    (change,) = made.supplies["trolley"].change_overs
    assert off == "1340 psi"
    assert f"should still show {off}" in change_sentence(made, change)


def test_in_a_magnet_room_the_mend_asks_for_the_mark() -> None:
    made = plan(read_trip(SCAN))
    (lost,) = (found for found in made.findings if found.code == "what_if_fails" and "is lost" in found.message)
    assert lost.fix == "Draw more cylinders that are marked safe for the magnet, or fuller ones."
