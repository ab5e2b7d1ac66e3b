"""The wait for a wall outlet on arrival: on which supply, and how long it lasts.

A full US-E: 1500 psi x 0.28 = 420 L by hand.
"""

from __future__ import annotations

from typing import Any

import pytest

from planner.planning import plan
from planner.profile.read import parse_trip
from planner.report.json_result import result

HEAD = """
profile: 1
trip: Arrival
setting: in_house
devices: {mask: {type: simple_mask, flow: 6 L/min}}
"""

WALL = f"""{HEAD}
supplies:
  wall: {{pipeline: true}}
  cart: {{cylinders: [{{label: A, size: US-E, gauge: 2000 psi}}]}}
legs: [{{name: Bay, duration: 20 min, supply: wall, devices: [mask]}}]
"""

BACKED = f"""{HEAD}
supplies:
  van: {{fixed: true, backup: spare, cylinders: [{{label: M, size: US-M, gauge: 2000 psi}}]}}
  cart: {{cylinders: [{{label: A, size: US-E, gauge: 2000 psi}}]}}
  spare: {{cylinders: [{{label: S, size: US-E, gauge: 2000 psi}}]}}
legs:
  - {{name: Walk, duration: 5 min, supply: cart, devices: [mask]}}
  - {{name: Road, duration: 20 min, supply: van, devices: [mask]}}
"""


def waits(text: str) -> tuple[str, list[dict[str, Any]]]:
    found = result(plan(parse_trip(text, "trip.yaml")))
    return found["verdict"], [row for row in found["whatifs"] if row["name"] == "no_wall_on_arrival"]


@pytest.mark.hazard(14)
def test_a_trip_on_the_wall_hands_over_on_the_cart_that_nobody_used() -> None:
    """10 min x 6 L/min = 60 L of 420 L; 360 L last another 60 min."""
    verdict, (row,) = waits(WALL)
    assert (verdict, row["supply"], row["holds"]) == ("go", "cart", True)
    assert row["minutes_to_spare"] == pytest.approx(60.0, rel=0.02)
    # At 600 psi 100 x 0.28 = 28 L: gone 4.7 min after arrival.
    verdict, (row,) = waits(WALL.replace("2000 psi", "600 psi"))
    assert (verdict, row["holds"]) == ("no-go", False)
    assert row["runs_out_min"] == pytest.approx(20 + 28 / 6, abs=0.2)


@pytest.mark.hazard(14)
def test_a_declared_backup_carries_the_wait_and_not_the_cart_used_before() -> None:
    """The spare has all of its 420 L: 60 L for the wait, then 60 min. The cart gave 30 L on the walk and waits."""
    verdict, (row,) = waits(BACKED)
    assert (verdict, row["supply"]) == ("go", "spare")
    assert row["minutes_to_spare"] == pytest.approx(60.0, rel=0.02)
    # With the cart named: 420 - 30 - 60 = 330 L, 55 min.
    verdict, (row,) = waits(BACKED.replace("fixed: true, backup: spare", "fixed: true, backup: cart"))
    assert row["supply"] == "cart"
    assert row["minutes_to_spare"] == pytest.approx(55.0, rel=0.02)
