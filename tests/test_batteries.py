"""Devices that live on a battery, by hand."""

from __future__ import annotations

import pytest

from planner.go.batteries import batteries, ends_at_min
from planner.model import Device, Leg, Supply, Use
from planner.planning import plan
from planner.results import Battery, Plan
from tests.build import BAG, CANNULA, VENTILATOR, cylinder, leg, trip

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


def test_a_device_without_a_battery_has_none() -> None:
    assert batteries(trip([CART], leg(10.0, CANNULA), leg(10.0, VENTILATOR))) == {}
