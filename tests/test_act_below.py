"""Where a supply is first taken up, the card must not pass a reading that was a no-go at departure."""

from __future__ import annotations

import pytest

from planner.model import Supply
from planner.planning import plan
from planner.report.chart.chart import charts
from planner.results import Plan
from tests.build import VENTILATOR, cylinder, leg, trip


def vehicle_after_cart() -> Plan:
    """Ten minutes on the cart, then 60 on the vehicle: if the ventilator fails, 60 x 15 = 900 L by hand."""
    vehicle = Supply("vehicle", "cylinders", fixed=True, backup="cart", cylinders=(cylinder("main", 1700, "US-M"),))
    cart = Supply("cart", "cylinders", cylinders=tuple(cylinder(name, 2000) for name in "abcd"))
    return plan(trip([cart, vehicle], leg(10.0, VENTILATOR), leg(60.0, VENTILATOR, supply="vehicle"), setting="road"))


@pytest.mark.hazard(9, 26)
def test_first_use_asks_for_what_departure_asked_for() -> None:
    found = vehicle_after_cart()
    start = next(check for check in found.checkpoints if check.supply == "vehicle")
    end = found.checkpoints[-1]
    departure = found.supplies["vehicle"].cylinders[0].start_at_least_kpa
    # Required on the vehicle: 326 L planned and 163 L reserve, 489 L, fewer than the 900 L of the what-if.
    assert departure is not None
    assert start.least_gauge_kpa == departure
    assert end.least_gauge_kpa is not None
    assert end.least_gauge_kpa < departure
    below = trip(
        [
            found.trip.supplies["cart"],
            found.trip.supplies["vehicle"]._replace(
                cylinders=(found.trip.supplies["vehicle"].cylinders[0]._replace(gauge_kpa=departure - 70.0),),
            ),
        ],
        *found.trip.legs,
        setting="road",
    )
    assert not plan(below).go


def test_the_chart_begins_with_the_same_gauge() -> None:
    found = vehicle_after_cart()
    (chart,) = [chart for chart in charts(found) if chart.supply == "vehicle"]
    departure = found.supplies["vehicle"].cylinders[0].start_at_least_kpa
    assert departure is not None
    minute, gauge = chart.lines[0].least[0][0]
    assert minute == pytest.approx(0.0)
    assert gauge * 6.894757293168361 == pytest.approx(departure)
