"""A no-go says what stands in the way: the order of use, the mark for the magnet room, or an outlet.

Litres by hand: K of a US-E 0.28 L/psi, so that 1500 psi above the 500 psi of change-over are 420 L, and 1000 psi 280 L.
"""

from __future__ import annotations

import re
from typing import Any

import pytest

from planner.planning import plan
from planner.profile.read import parse_trip
from planner.report.json_result import result

PLAIN = "policy: {spare_cylinders: 0, reserve_factor: 1, reserve_time: 0 min, handover_time: 0 min, must_hold: [MUST]}"
HEAD = f"""
profile: 1
trip: Told why
setting: in_house
{PLAIN}
"""

ORDER = f"""{HEAD.replace("MUST", "")}
supplies:
  cart:
    cylinders:
      - {{label: A, size: US-E, gauge: 1500 psi, outlets: [{{flowmeter: 15 L/min}}, high_pressure]}}
      - {{label: B, size: US-E, gauge: 1500 psi, outlets: [{{flowmeter: 15 L/min}}]}}
devices:
  prongs: {{type: nasal_cannula, flow: 6 L/min}}
  driven: {{type: fixed_flow, flow: 10 L/min, outlet: high_pressure}}
legs:
  - {{name: Ward, duration: 20 min, supply: cart, devices: [prongs]}}
  - {{name: Theatre, duration: 20 min, supply: cart, devices: [driven]}}
"""

MAGNET = f"""{HEAD.replace("MUST", "")}
supplies:
  cart:
    outlets: [{{flowmeter: 15 L/min}}]
    cylinders:
      - {{label: steel, size: US-E, gauge: 2000 psi}}
      - {{label: light, size: US-E, gauge: 1000 psi, magnet_safe: true}}
devices: {{mask: {{type: reservoir_mask, flow: 10 L/min}}}}
legs:
  - {{name: Hall, duration: 10 min, supply: cart, devices: [mask]}}
  - {{name: Scan, duration: 20 min, supply: cart, magnet: true, devices: [mask]}}
"""

FALLBACK = f"""{HEAD.replace("MUST", "device_fails")}
supplies:
  cart:
    outlets: [{{flowmeter: 15 L/min}}]
    cylinders: [{{label: A, size: US-E, gauge: 2200 psi}}]
devices:
  mask: {{type: simple_mask, flow: 6 L/min, if_it_fails: bag}}
  bag: {{type: manual_resuscitator, flow: 25 L/min}}
legs: [{{name: Hall, duration: 20 min, supply: cart, devices: [mask]}}]
"""


def planned(text: str) -> dict[str, Any]:
    return result(plan(parse_trip(text, "trip.yaml")))


def stops(found: dict[str, Any]) -> list[tuple[str, str, str]]:
    return [(each["code"], each["message"], each["fix"]) for each in found["findings"] if each["level"] == "stop"]


@pytest.mark.hazard(12)
def test_a_no_go_names_the_order_of_use_that_would_be_go() -> None:
    """The ward takes 20 x 6 = 120 L, the theatre 20 x 10 = 200 L, which only A carries. Each holds 280 L.

    With A first 280 - 120 = 160 L are left for the theatre, which are gone 16 min into it. With B first A keeps 280 L.
    """
    found = planned(ORDER)
    assert found["verdict"] == "no-go"
    code, message, fix = stops(found)[0]
    assert code == "order_of_use"
    assert "would with B first" in message
    assert fix == "List its cylinders in this order of use: B, A."
    lines = ORDER.splitlines()
    place = next(number for number, line in enumerate(lines) if "label: A" in line)
    lines[place : place + 2] = [lines[place + 1], lines[place]]
    assert planned("\n".join(lines))["verdict"] == "go"


@pytest.mark.hazard(12)
def test_no_order_is_named_where_none_would_do() -> None:
    """A at 1000 psi holds 140 L of the 200 L that it alone can carry."""
    found = planned(ORDER.replace("label: A, size: US-E, gauge: 1500", "label: A, size: US-E, gauge: 1000"))
    assert found["verdict"] == "no-go"
    assert "order_of_use" not in [code for code, _, _ in stops(found)]


@pytest.mark.hazard(27)
def test_too_few_litres_for_the_magnet_room_are_explained_as_that() -> None:
    """The scan takes 200 L and the cylinder that may go in holds 500 psi x 0.28 = 140 L; the steel one has 420 L."""
    code, message, fix = stops(planned(MAGNET))[0]
    assert code == "not_enough"
    assert message.startswith("cart has enough litres, but too few in cylinders that are marked safe for the magnet")
    assert fix == "Draw more cylinders that are marked safe for the magnet, or fuller ones."
    assert "outlet" not in message + fix
    assert planned(MAGNET.replace("gauge: 1000", "gauge: 1500"))["verdict"] == "go"  # 280 L


@pytest.mark.hazard(27)
def test_a_handover_after_the_magnet_room_counts_only_what_may_be_in_it() -> None:
    """200 L for the scan and 10 x 10 = 100 L for the wait, of 280 L: after 8 min of it nothing is left to use there.

    The hall is done on the steel one, 100 L of its 420 L, so that 320 L stand outside and help nobody.
    """
    text = MAGNET.replace("gauge: 1000", "gauge: 1500").replace("handover_time: 0 min, must_hold: []", "MORE")
    found = planned(text.replace("MORE", "handover_time: 10 min, must_hold: [no_wall_on_arrival]"))
    (row,) = (row for row in found["whatifs"] if row["name"] == "no_wall_on_arrival")
    assert not row["holds"]
    assert row["runs_out_min"] == pytest.approx(10 + 28, abs=0.5)
    assert found["verdict"] == "no-go"
    (said,) = (each for each in stops(found) if each[0] == "what_if_fails")
    assert "nothing left on cart fits: steel is not marked magnet_safe" in said[1]
    assert "marked safe for the magnet" in said[2]


@pytest.mark.hazard(12)
def test_a_fallback_without_an_outlet_is_told_as_that() -> None:
    """25 L/min are asked of a flowmeter to 15 L/min, with 476 L in the cylinder."""
    found = planned(FALLBACK)
    assert found["verdict"] == "no-go"
    (said,) = stops(found)
    assert "bag needs a flowmeter to 25 L/min and it has one to 15 L/min" in said[1]
    # With an outlet for it 15 min x 25 L/min = 375 L are there, help being that near.
    assert planned(FALLBACK.replace("flowmeter: 15", "flowmeter: 25"))["verdict"] == "go"


MANIFOLD = """\
profile: 1
trip: Two patients on one manifold
setting: road
supplies:
  cart:
    manifold: true
    outlets: [{flowmeter: 15 L/min}, {flowmeter: 15 L/min}]
    cylinders:
      - {label: L, size: US-E, gauge: 770 psi}
      - {label: R, size: US-E, gauge: 770 psi}
      - {label: S, size: US-E, gauge: 770 psi}
devices:
  mask: {type: simple_mask, flow: 0 L/min, may_rise_to: worse, patient: A}
  worse: {type: reservoir_mask, flow: 12 L/min, patient: A}
  cannula: {type: nasal_cannula, flow: 2 L/min, patient: B}
legs:
  - {name: Road, duration: 40 min, devices: [mask, cannula], supply: cart}
"""


def test_a_manifold_is_mended_at_its_one_gauge_and_go_when_all_read_it() -> None:
    """216 L are missing, three times what 260 psi more in one cylinder of 0.28 L/psi give: all of them must read it."""
    ((_, _, fix),) = stops(planned(MANIFOLD))
    (psi,) = re.findall(r"have the one gauge of L\+R\+S read (\d+) psi or more", fix)
    assert "have L read" not in fix
    assert planned(MANIFOLD.replace("770 psi", f"{psi} psi"))["verdict"] == "go"
    assert planned(MANIFOLD.replace("770 psi", f"{int(psi) - 20} psi"))["verdict"] == "no-go"


LITTLE = """\
profile: 1
trip: A mask on what is left
setting: in_house
supplies:
  cart:
    cylinders:
      - {label: A, size: US-E, gauge: GAUGE psi, outlets: [{flowmeter: 15 L/min}]}
devices:
  mask: {type: TYPE, flow: 12 L/min}
legs:
  - {name: Corridor, duration: 20 min, devices: [mask], supply: cart}
"""


@pytest.mark.parametrize(
    ("gauge_psi", "device", "offered"),
    # 20 min x 12 = 240 L, and 30 min x 12 = 360 L more: 600 L. 0.28 L/psi above 500 psi, real gas a little more.
    [
        (520, "tracheostomy_mask", False),  # 6 L, 1 %: nobody is treated with that
        (1500, "tracheostomy_mask", False),  # some 290 L, less than half
        (2000, "tracheostomy_mask", True),  # some 430 L, 7 in 10: 8 L/min, and 4 to 15 are usual
        (2000, "reservoir_mask", False),  # 8 L/min, and 10 to 15 are usual: the bag would collapse
    ],
)
def test_a_flow_is_offered_only_where_it_may_be_of_use(gauge_psi: int, device: str, offered: bool) -> None:
    found = stops(planned(LITTLE.replace("GAUGE", str(gauge_psi)).replace("TYPE", device)))
    (fix,) = [fix for code, _, fix in found if code == "not_enough"]
    assert ("of the planned flow" in fix) == offered
