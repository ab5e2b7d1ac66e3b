"""What a concentrator can do by its manual: beyond it a stop with its mend, unsaid a caution."""

from __future__ import annotations

import pytest

from planner.planning import plan
from planner.problems import Finding, ProblemsError
from planner.profile.read import parse_trip
from planner.report.card.settings import settings

TRIP = """\
profile: 1
trip: Flight on a concentrator
setting: air
supplies:
  bag: {cylinders: [{label: A, size: US-E, gauge: 2000 psi}, {label: B, size: US-E, gauge: 2000 psi}]}
devices:
  maker: {type: concentrator, battery: 6 h, if_it_fails: prongs}
  prongs: {type: nasal_cannula, flow: 2 L/min}
legs:
  - {name: Flight, duration: 120 min, by: air, cabin_altitude: 8000 ft, supply: bag, devices: [maker]}
"""


def found(settings_: str) -> dict[str, Finding]:
    made = plan(parse_trip(TRIP.replace("battery: 6 h", f"battery: 6 h{settings_}")))
    return {each.code: each for each in made.findings}


def test_what_nobody_says_of_a_concentrator_is_a_caution_that_names_the_key() -> None:
    told = found("")
    assert told["concentrator_flow_not_said"].level == told["altitude_limit_not_said"].level == "caution"
    assert "greatest_flow: from the device's manual" in told["concentrator_flow_not_said"].fix
    assert "altitude_limit: from the device's manual" in told["altitude_limit_not_said"].fix
    assert "greatest_flow_not_said" in found(", flow: 2 L/min")


@pytest.mark.parametrize(
    ("flow", "limit", "stops"),
    [
        ("3 L/min", "10000 ft", []),
        ("3.5 L/min", "10000 ft", ["beyond_greatest_flow"]),
        ("3 L/min", "8000 ft", []),
        ("3 L/min", "7500 ft", ["beyond_altitude_limit"]),
        ("4 L/min", "2000 m", ["beyond_altitude_limit", "beyond_greatest_flow"]),  # 8000 ft are 2438 m
    ],
)
def test_beyond_its_manual_a_concentrator_is_a_stop_with_its_mend(flow: str, limit: str, stops: list[str]) -> None:
    told = found(f", flow: {flow}, greatest_flow: 3 L/min, altitude_limit: {limit}")
    assert sorted(code for code, each in told.items() if each.level == "stop") == stops
    assert not [code for code in told if code.endswith("_not_said")]
    for code in stops:
        assert "Take " in told[code].fix


def test_the_card_says_what_is_set_and_the_cylinders_give_none_of_it() -> None:
    made = plan(parse_trip(TRIP.replace("battery: 6 h", "battery: 6 h, flow: 2 L/min, greatest_flow: 3 L/min")))
    (one,) = settings(made)
    assert one.set == "SET 2 L/min"
    assert made.supplies["bag"].need.planned_l == 0.0


def test_only_a_concentrator_has_a_manual_of_this_kind() -> None:
    with pytest.raises(ProblemsError, match="greatest_flow"):
        parse_trip(TRIP.replace("flow: 2 L/min}", "flow: 2 L/min, greatest_flow: 3 L/min}"))
