"""Every flow on the crew's pages that stands beside minutes gives the minutes that `lasts` gives for it."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest
from click.testing import CliRunner

from planner.command.cli import main
from planner.constants import KPA_PER_PSI
from planner.model import Supply
from planner.planning import plan
from planner.profile.read import read_trip
from planner.report.card.actions import actions
from planner.report.minutes_table import minutes_table
from planner.results import CylinderPlan, Plan
from tests.build import BAG, VENTILATOR, cylinder, leg, trip

ROOT = Path(__file__).resolve().parents[1]
TRIPS = (
    "profiles/ventilated-by-road", "profiles/high-flow-by-road", "profiles/helicopter", "profiles/emergency-to-theatre",
    "profiles/ward-to-scan", "profiles/magnet-scan", "profiles/two-patients", "demo/valley-to-coast",
)  # fmt: skip


def lasts(item: CylinderPlan, gauges: tuple[str, ...], flow: str, made: Plan) -> list[float]:
    """The minutes, unrounded, that the command gives for a cylinder at each gauge and one flow."""
    given = (
        ["--contents", item.cylinder.label_contents] if item.cylinder.label_contents else ["--size", item.cylinder.size]
    )
    words = ["lasts", *map(str, given), *(word for gauge in gauges for word in ("--gauge", gauge)), "--flow", flow]
    words += [
        "--change-over-at",
        f"{made.trip.policy.change_over_at_kpa / KPA_PER_PSI:g} psi",
        "--at",
        "12:00",
        "--format",
        "json",
    ]
    words += ["--coldest", f"{item.cold_degc:g} degC", "--temperature", f"{item.read_degc:g} degC"]
    ran = CliRunner().invoke(main, words)
    assert ran.exit_code == 0, ran.output
    return [answer["minutes"] for answer in json.loads(ran.stdout)["answers"]]


@pytest.mark.hazard(8, 26)
@pytest.mark.parametrize("name", TRIPS)
def test_the_table_of_minutes_says_what_lasts_says(name: str) -> None:
    made = plan(read_trip(ROOT / f"{name}.yaml"))
    table = minutes_table(made)
    assert table is not None
    compared = 0
    for row in table.rows:
        held = {
            item.cylinder.label_contents or item.cylinder.size: item
            for supply in made.supplies.values()
            for item in supply.cylinders
            if row.supply in ("", supply.supply.name)
        }
        found = lasts(held[row.size], table.gauges, row.flow, made)
        for printed, minutes in zip(row.minutes, found, strict=True):
            if printed[0].isdigit():
                assert printed == f"{math.floor(minutes + 1e-9)} min", (row, minutes)
                compared += 1
    assert compared >= 6


@pytest.mark.hazard(9, 26)
def test_the_minutes_of_an_action_are_those_that_lasts_gives_for_its_flow() -> None:
    """A ventilator that fails at departure: 30 min at 15 L/min = 450 L are gone at the end, of two cylinders.

    What is left lasts at 15 L/min as long as `lasts` says of each at 2000 psi, together, less the 30 min.
    """
    supply = Supply("cart", "cylinders", cylinders=(cylinder("A", 2000), cylinder("B", 2000)))
    made = trip([supply], leg(30.0, VENTILATOR._replace(if_it_fails="bag")))
    found = plan(made._replace(devices={**made.devices, "bag": BAG}))
    (action,) = (each for each in actions(found) if each.do.startswith("BAG"))
    assert "15 L/min" in action.do
    items = found.supplies["cart"].cylinders
    minutes = sum(lasts(item, ("2000 psi",), "15 L/min", found)[0] for item in items) - 30.0
    assert action.buys == f"{math.floor(minutes + 1e-9)} min, cart"
