"""Devices that live on a battery, by hand."""

from __future__ import annotations

from datetime import datetime
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from planner.go.batteries import batteries, ends_at_min
from planner.model import Device, Leg, Supply, Use
from planner.pages.pack import pack_bytes
from planner.planning import plan
from planner.profile.read import read_trip
from planner.report.card.card import card
from planner.report.checklist.facts import trip_facts
from planner.report.checklist.items import items
from planner.report.log.log import log
from planner.results import Battery, Plan
from tests.build import BAG, CANNULA, VENTILATOR, cylinder, leg, trip

ROOT = Path(__file__).resolve().parent.parent
MAKER = Device("maker", "concentrator", if_it_fails="cannula")
CART = Supply("cart", "cylinders", cylinders=(cylinder("a", 2000),))


def with_battery(battery_min: float | None, *legs: Leg, longest_min: float | None = None) -> Plan:
    maker = MAKER._replace(battery_min=battery_min)
    changed = [one._replace(uses=(Use(maker, "cart"),), longest_min=longest_min) for one in legs]
    found = trip([CART], *changed, setting="in_house")
    return plan(found._replace(devices={"maker": maker, "cannula": CANNULA, "bag": BAG}))


def codes(found: Plan, level: str = "stop") -> list[str]:
    return [finding.code for finding in found.findings if finding.level == level]


@pytest.mark.hazard(40)
@pytest.mark.parametrize(("battery_min", "stops"), [(None, ["no_battery"]), (89.0, ["battery_short"]), (90.0, [])])
def test_a_concentrator_asks_for_half_as_much_again_as_its_time(battery_min: float | None, stops: list[str]) -> None:
    """60 min off the mains ask for 90 min of battery."""
    assert codes(with_battery(battery_min, leg(60.0, MAKER))) == stops


@pytest.mark.hazard(40)
def test_the_longest_time_of_a_leg_counts_and_mains_does_not() -> None:
    """Two legs of 20 min, the longest 40 min each: 80 min on battery; with mains on one, 40."""
    first, second = leg(20.0, MAKER), leg(20.0, MAKER)
    assert with_battery(200.0, first, second, longest_min=40.0).batteries == {"maker": Battery(200.0, 80.0)}
    plugged = with_battery(200.0, first, second._replace(mains=True), longest_min=40.0)
    assert plugged.batteries == {"maker": Battery(200.0, 40.0)}
    assert codes(with_battery(None, first._replace(mains=True))) == []


@pytest.mark.hazard(40)
def test_nobody_bags_because_the_battery_of_a_ventilator_is_short() -> None:
    """90 min ventilated on a battery of 60: a stop, however much oxygen is carried for the bag."""
    electric = VENTILATOR._replace(drive="electric", drive_gas_l_per_min=None, battery_min=60.0)
    many = CART._replace(cylinders=tuple(cylinder(name, 2000, "US-M") for name in "abc"))
    found = plan(trip([many], leg(90.0, electric), setting="in_house"))
    assert "battery_short" in codes(found)
    enough = plan(trip([many], leg(90.0, electric._replace(battery_min=91.0)), setting="in_house"))
    assert "battery_short" not in codes(enough)
    silent = plan(trip([many], leg(90.0, electric._replace(battery_min=None)), setting="in_house"))
    assert "battery_not_said" in codes(silent, "caution")


@pytest.mark.hazard(40)
def test_when_a_battery_ends_its_fallback_takes_over() -> None:
    """90 min of battery are taken to end after 60: of 70 min the last 10 draw 4 L/min, 40 L."""
    found = with_battery(105.0, leg(70.0, MAKER))
    assert ends_at_min(found.trip, "maker") is None  # 105 / 1.5 = 70
    short = with_battery(90.0, leg(70.0, MAKER))
    assert ends_at_min(short.trip, "maker") == 60.0
    (row,) = [one for one in short.whatifs if one.name == "battery_ends"]
    usable = short.supplies["cart"].usable_l or 0.0
    assert row.minutes_to_spare == pytest.approx((usable - 40.0) / 4.0)
    assert row.device == "maker"


@pytest.mark.hazard(40)
def test_what_a_battery_should_show_and_the_least_that_goes_on() -> None:
    """200 min: 80 at the longest, 120 asked at departure. After 20 min 180 are left, and 40 x 1.5 = 60 are asked.

    Mains in the second leg feed it and take nothing off; the third is 20 min as planned and 40 at the longest.
    """
    first, second, third = leg(20.0, MAKER), leg(30.0, MAKER)._replace(mains=True), leg(20.0, MAKER)
    found = with_battery(200.0, first, second, third, longest_min=40.0)
    checks = [(one.minute, one.left_min, one.least_min) for one in found.battery_checks]
    assert checks == [(0.0, 200.0, 120.0), (20.0, 180.0, 60.0), (50.0, 180.0, 60.0), (70.0, 160.0, 0.0)]


@pytest.mark.hazard(40)
def test_leaving_with_the_least_that_the_card_allows_is_go() -> None:
    for battery_min, stops in ((120.0, []), (119.0, ["battery_short"])):
        assert codes(with_battery(battery_min, leg(20.0, MAKER), leg(20.0, MAKER), longest_min=40.0)) == stops
    found = with_battery(200.0, leg(20.0, MAKER), leg(20.0, MAKER), longest_min=40.0)
    assert found.battery_checks[0].least_min == 120.0


@pytest.mark.hazard(40)
def test_card_log_and_list_have_a_box_for_each_battery() -> None:
    """160 min of a trip with mains on the train: 100 min on battery at the longest, 150 asked, 110 left at home."""
    made = plan(read_trip(ROOT / "profiles" / "home-by-train.yaml"))
    rows = [row for part in log(made) for row in part.rows if row.cylinder == "battery of maker"]
    assert [(row.expected, row.least) for row in rows] == [
        ("180 min", "150 min"),
        ("150 min", "105 min"),
        ("135 min", "60 min"),
        ("135 min", "60 min"),
        ("110 min", ""),
    ]
    assert all(row.gauge for row in rows)
    front = card(made).front
    (start,) = [row for row in front.cylinders if row.name == "battery of maker"]
    assert (start.least, start.field) == ("150 min", "log.battery.maker.0.gauge")
    ends = [row for row in front.legs if row.cylinder == "battery of maker"]
    assert [row.field for row in ends] == [f"log.battery.maker.{number}.gauge" for number in (1, 2, 3, 4)]
    told = [item.answer for item in items(made, "pause", trip_facts(made)) if item.ask == "Batteries"]
    assert told == ["maker 150 min or more; spares charged"]


def test_a_device_without_a_battery_has_none() -> None:
    assert batteries(trip([CART], leg(10.0, CANNULA), leg(10.0, VENTILATOR))) == {}


@pytest.mark.hazard(40)
def test_the_pages_say_when_a_battery_may_end_what_it_must_have_and_what_then_takes_over() -> None:
    """100 min ventilated on a battery of 120: it may end after 120 / 1.5 = 80 min, and 20 min of 15 L/min follow.

    Planned are 80 min at 10 x 0.39 / 0.79 = 4.94 L/min. 100 min must be there before leaving, 20 are left on arrival.
    """
    electric = VENTILATOR._replace(drive="electric", drive_gas_l_per_min=None, battery_min=120.0)
    cart = CART._replace(cylinders=tuple(cylinder(name, 2000, "US-M") for name in "abc"))
    made = plan(trip([cart], leg(100.0, electric), setting="in_house"))
    (row,) = [one for one in made.whatifs if one.name == "battery_ends"]
    drawn_l = 80.0 * 10.0 * 0.39 / 0.79 + 20.0 * 15.0
    assert row.minutes_to_spare == pytest.approx(((made.supplies["cart"].usable_l or 0.0) - drawn_l) / 15.0)
    text = " ".join(
        "".join(
            page.extract_text() for page in PdfReader(BytesIO(pack_bytes(made, issued=datetime(2026, 12, 3, 8)))).pages
        ).split()
    )
    for said in (
        "A battery ends (vent, 80 min after departure)",  # the sheet
        "Batteries charged for vent 100 min or more",  # the list before departure
        "Batteries: vent 100 min or more; spares charged",  # the pause before wheels move
        "ventilator, batteries 120 min",  # overleaf: settings, before departure and on arrival
        "battery of vent, 0 min, before departure 120 min 100 min",
        "battery of vent, 100 min, arrive, leg 1 20 min",
        "before departure percent or lamps as read battery of vent 120 min 100 min",  # the log
        "arrive, leg 1 leg battery of vent 20 min",
        "Can turn back until minute 40, battery of vent decides",  # there and back 80 min
    ):
        assert said in text, said


@pytest.mark.hazard(40)
def test_a_leg_on_mains_says_what_is_plugged_in() -> None:
    """The time on mains is not counted on the battery, so that somebody must plug the device in."""
    made = plan(read_trip(ROOT / "profiles" / "home-by-train.yaml"))
    told = [(row.name, row.warnings) for row in card(made).front.legs if row.warnings]
    assert told == [("Train with a socket", ("PLUG IN maker: mains lamp seen",))]


@pytest.mark.hazard(40)
def test_a_battery_below_its_least_is_plugged_in_or_given_up_before_it_is_flat() -> None:
    """No oxygen is to be made for: the front names what takes over when the battery is flat, the log says it too."""
    found = with_battery(105.0, leg(70.0, MAKER))
    pages = [text.extract_text() for text in PdfReader(BytesIO(pack_bytes(found, issued=datetime(2026, 8, 1)))).pages]
    front = " ".join(pages[0].split())
    assert "BATTERY below ACT: plug in; no mains: do as if its device failed, before it is flat." in front
    assert "SWITCH from maker to cannula at 4 L/min if it fails or its battery is flat" in front
    rest = " ".join(" ".join(pages[1:]).split())
    assert "Below ACT BELOW on the way: plug in; no mains: do as if its device failed, before the battery is" in rest
    mains = with_battery(None, leg(70.0, MAKER)._replace(mains=True))
    assert not card(mains).front.battery_act


@pytest.mark.hazard(40)
def test_the_battery_of_a_ventilator_is_flat_where_nobody_reads_it_on_the_front() -> None:
    electric = VENTILATOR._replace(drive="electric", drive_gas_l_per_min=None, battery_min=91.0)
    front = card(plan(trip([CART], leg(20.0, electric), setting="in_house"))).front
    assert front.battery_act
    assert front.actions[0].do == "BAG by hand at 15 L/min if the ventilator fails or its battery is flat"
