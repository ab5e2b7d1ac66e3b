"""A log of a trip on two gases held against its plan: which gas is short, and what its air means for its oxygen.

Litres by hand: an E cylinder holds 0.28 L/psi of oxygen (respiratory care textbooks) and 0.944 of that of air
(CoolProp's Air at 1900 psi), 0.264 L/psi.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner
from CoolProp.CoolProp import PropsSI

from planner.afterwards.compare import Comparison, compare
from planner.afterwards.logbook import Entry, Logbook, SettingsChange
from planner.command.cli import main
from planner.constants import KPA_PER_PSI
from planner.model import Cylinder, Device, Leg, Supply, Use
from planner.planning import plan
from planner.report.compare.compare import compare_text
from planner.report.compare.headline import headline
from planner.report.compare.json import compare_result
from planner.report.compare.steps import steps
from tests import build

BLEND = Device("blend", "blended_flow", flow_l_per_min=6.0, bleed_l_per_min=0.0, fio2=0.30, air="airs")
HALF_KPA = 20.0 * KPA_PER_PSI


def cylinder(label: str, psi: float, gas: str = "oxygen", size: str = "US-E") -> Cylinder:
    """A cylinder whose own label is known, so that its water capacity is not in doubt."""
    return build.cylinder(label, psi, size, gas=gas)._replace(label_contents="as labelled")


def held(*entries: Entry, minutes: float = 80.0, air_psi: tuple[float, ...] = (2000.0, 2000.0)) -> Comparison:
    """FiO2 0.30 at 6 L/min: 0.684 L/min of oxygen and 5.316 of air; two E of oxygen, and the E of air given."""
    cart = Supply("cart", "cylinders", cylinders=(cylinder("O1", 2000.0), cylinder("O2", 2000.0)))
    airs = tuple(cylinder(f"L{n}", psi, "air") for n, psi in enumerate(air_psi, start=1))
    trip = build.trip(
        [cart, Supply("airs", "cylinders", cylinders=airs, gas="air")],
        Leg("road", minutes, (Use(BLEND, "cart"),), "cart"),
        setting="in_house",
    )
    return compare(plan(trip), Logbook(entries))


def read(minute: float, label: str, psi: float, **more: object) -> Entry:
    """A reading to within 20 psi."""
    supply = "cart" if label.startswith("O") else "airs"
    return Entry(minute, supply, label, psi * KPA_PER_PSI, "", HALF_KPA, **more)  # type: ignore[arg-type]


@pytest.mark.hazard(39)
def test_air_that_leaks_is_counted_to_its_end() -> None:
    """40 min: 1400 psi x 0.264 = 370 L of air gone, 9.2 L/min where 5.3 were planned; 100 psi and an E at 2000 left.

    (100 + 1500) x 0.264 = 422 L at 9.2 L/min last 46 min, to minute 86 of 120.
    """
    found = held(read(0, "L1", 2000), read(40, "L1", 600), minutes=120.0)
    (measured,) = [rest for rest in found.rests if rest.basis == "measured"]
    assert measured.out["airs"][0] == pytest.approx(86.0, abs=5.0)
    (answer,) = [one for one in found.answers if one.supply == "airs"]
    assert answer.verdict == "act"
    assert headline(found) == (
        "ACT - more AIR is used than planned, and the rest of the trip does not hold: AIR RUNS OUT."
    )
    act = next(text for text in steps(found) if text.startswith("The rest, as measured, does not hold"))
    assert "airs (AIR) RUNS OUT at" in act
    assert "blend draws 6 L/min of oxygen where it drew 0.7, and gives oxygen alone" in act


@pytest.mark.hazard(39)
def test_less_air_and_more_oxygen_is_a_blend_that_is_short_of_air() -> None:
    """The air stands at 1500 psi from minute 20 to 50; oxygen falls by 6 L/min x 30 / 0.28 = 640 psi."""
    found = held(
        read(0, "O1", 2000),
        read(0, "L1", 2000),
        read(20, "O1", 1950),
        read(20, "L1", 1600),
        read(50, "O1", 1310),
        read(50, "L1", 1600),
    )
    assert headline(found).startswith("LOOK AT THE PATIENT FIRST - less AIR is used than planned, and more oxygen.")
    slower = next(text for text in steps(found) if text.startswith("SLOWER: airs AIR L1"))
    assert "read the FiO2" in slower
    assert "takes oxygen in its place" in slower
    assert "AIR L1" in compare_text(found)


def test_oxygen_alone_is_still_called_oxygen() -> None:
    found = held(read(0, "O1", 2000), read(40, "O1", 1300))
    assert headline(found).startswith("LOOK FOR A LEAK OR A RAISED SETTING - more oxygen is used than planned")


@pytest.mark.hazard(39)
@pytest.mark.parametrize(("fio2", "air", "oxygen"), [(0.21, 6.0, 0.684), (0.50, 5.316, 2.203)])
def test_a_setting_in_the_log_never_takes_a_gas_for_less(fio2: float, air: float, oxygen: float) -> None:
    """6 L/min at 0.21 is air alone; at 0.50 it is 6 x 0.29 / 0.79 = 2.203 L/min of oxygen. The other gas stays."""
    changed = SettingsChange("blend", (("fio2", fio2),))
    found = held(read(0, "L1", 2000), read(20, "L1", 1600, settings=(changed,)))
    (written,) = [rest for rest in found.rests if rest.basis == "written"]
    assert written.plan.supplies["airs"].need.planned_l == pytest.approx(60.0 * air, abs=0.1)
    assert written.plan.supplies["cart"].need.planned_l == pytest.approx(60.0 * oxygen, abs=0.1)
    assert "wrong_gas" not in [finding.code for finding in written.plan.findings]


def test_a_supply_of_air_that_nobody_read_is_named_and_a_long_leg_asks_for_its_gauge() -> None:
    found = held(read(0, "O1", 2000), read(40, "O1", 1950))
    assert [each.message for each in found.findings if each.code == "not_read"] == [
        "airs: no reading; it is taken as the plan has it."
    ]
    supplies = {each.check.supply for each in found.plan.between}
    assert supplies == {"cart", "airs"}
    assert {each["gas"] for each in compare_result(found)["rest"]} == {"oxygen", "air"}


AIR_TRIP = """\
profile: 1
trip: Newborn
setting: in_house
supplies:
  cart: {outlets: [high_pressure], cylinders: [{label: O1, size: US-E, gauge: 2000 psi}]}
  airs:
    gas: air
    outlets: [high_pressure]
    cylinders: [{label: L1, size: US-E, gauge: 2000 psi}, {label: L2, size: US-E, gauge: 2000 psi}]
devices:
  blend: {type: blended_flow, flow: 6 L/min, bleed: 0 L/min, fio2: 30 %, air: airs}
legs:
  - {name: Ward to scan, duration: 60 min, supply: cart, devices: [blend]}
"""


def density_kg_per_m3(gas: str, gauge_psi: float) -> float:
    """By CoolProp at 21.1 degC, gauge over one atmosphere."""
    return float(PropsSI("D", "P", gauge_psi * 6894.757 + 101325.0, "T", 294.25, gas))


@pytest.mark.parametrize("gas", ["air", "oxygen"])
def test_a_flow_is_measured_by_the_density_of_its_gas(gas: str) -> None:
    """CoolProp's Air and Oxygen: water capacity x fall of density / density at the reference / minutes."""
    asked = ["measured-flow", "--size", "US-E", "--from-gauge", "1900 psi", "--to-gauge", "1300 psi"]
    found = json.loads(
        CliRunner().invoke(main, [*asked, "--minutes", "20 min", "--gas", gas, "--format", "json"]).stdout
    )
    fall = density_kg_per_m3(gas, 1900.0) - density_kg_per_m3(gas, 1300.0)
    flow = found["water_capacity_l"] * fall / density_kg_per_m3(gas, 0.0) / 20.0
    assert found["flow_l_per_min"] == pytest.approx(flow, rel=2e-3)
    assert found["gas"] == gas


def test_the_gas_that_is_measured_is_that_of_the_supply(tmp_path: Path) -> None:
    asked = ["measured-flow", "--size", "US-E", "--from-gauge", "1900 psi", "--to-gauge", "1600 psi"]
    asked += ["--minutes", "20 min", "--trip", str(tmp_path / "trip.yaml"), "--supply", "airs"]
    runner = CliRunner()
    (tmp_path / "trip.yaml").write_text(AIR_TRIP, encoding="utf-8")
    refused = runner.invoke(main, asked)
    assert refused.exit_code == 2
    assert "wrong_gas" in refused.output
    assert "--gas air" in refused.output
    found = runner.invoke(main, [*asked, "--gas", "air"])
    assert "takes its oxygen from" not in found.output
    assert "oxygen" not in found.output.split("Trip:")[0].replace("takes oxygen", "")
