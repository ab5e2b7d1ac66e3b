"""Who draws nothing as planned is still carried for, on every minute of the way: least gauges and amounts by hand."""

from __future__ import annotations

import pytest
from CoolProp.CoolProp import PropsSI

from planner.constants import KG_PER_LB
from planner.planning import plan
from planner.profile.read import parse_trip
from planner.results import Checkpoint, Plan

PSI_PA = 6894.757
ATM_PA = 101325.0
HEAD = """\
profile: 1
trip: Two patients
setting: road
supplies:
  rack:
    manifold: true
    gauge: {gauge} psi
    outlets: [{flowmeter: 15 L/min}, {flowmeter: 15 L/min}]
    cylinders: [{label: L, size: US-E}, {label: R, size: US-E}, {label: S, size: US-E}]
devices:
  mask: {type: reservoir_mask, patient: first, flow: 0 L/min, may_rise_to: mask_up}
  mask_up: {type: reservoir_mask, patient: first, flow: 12 L/min}
  cannula: {type: nasal_cannula, patient: second, flow: 2 L/min}
"""
WARD = "  - {name: Ward, duration: 15 min, supply: rack, devices: [mask, cannula]}\n"
ROAD = "  - {name: Road, duration: 40 min, supply: rack, devices: [mask, cannula]}\n"


def made(legs: str, gauge: str = "1800", head: str = HEAD) -> Plan:
    return plan(parse_trip(head.replace("{gauge}", gauge) + "legs:\n" + legs))


def least(found: Plan, leg: int, at: str) -> Checkpoint:
    return next(check for check in found.checkpoints if (check.leg_index, check.at) == (leg, at))


def psi(kpa: float | None) -> float:
    assert kpa is not None
    return kpa * 1000.0 / PSI_PA


def contents_l(gauge_psi: float) -> float:
    """Of an E cylinder, by CoolProp (Schmidt and Wagner 1985): K 0.28 L/psi full at 2200 psi and 21.1 degC."""

    def density(gauge: float) -> float:
        return float(PropsSI("D", "P", gauge * PSI_PA + ATM_PA, "T", 294.25, "Oxygen"))

    return 0.28 * 2200.0 * (density(gauge_psi) - density(0.0)) / (density(2200.0) - density(0.0))


@pytest.mark.hazard(42)
def test_the_least_gauge_on_the_way_carries_a_patient_at_zero_flow_beside_another() -> None:
    """Before the road 40 min x 2 + 30 min x 12 = 440 L are asked of three cylinders above 500 psi, 146.7 of each."""
    shown = psi(least(made(WARD + ROAD), 1, "start").least_gauge_kpa)
    assert 3 * (contents_l(shown) - contents_l(500.0)) == pytest.approx(440.0, rel=2e-3)
    # 80 + 60 L of the cannula with its reserve, a third of that, would be 760 psi: no card for the other patient.
    assert made(ROAD, f"{shown + 1.0:.0f}").go
    assert not made(ROAD, f"{shown - 1.0:.0f}").go


def test_another_patient_never_lowers_what_the_gauge_must_show() -> None:
    """Without a spare, which the reserve of a supply withholds and a what-if does not."""
    head = HEAD.replace("setting: road\n", "setting: road\npolicy: {spare_cylinders: 0}\n")
    both = made(WARD + ROAD, head=head)
    alone = made((WARD + ROAD).replace("[mask, cannula]", "[mask]"), head=head)
    for leg in (0, 1):
        assert psi(least(both, leg, "start").least_gauge_kpa) >= psi(least(alone, leg, "start").least_gauge_kpa)


def test_at_the_end_nobody_is_carried_for_any_more() -> None:
    """The rise counts for what is left of the trip only: change-over, 500 psi, as the trip ends."""
    assert psi(least(made(WARD + ROAD), 1, "end").least_gauge_kpa) == pytest.approx(500.0, abs=0.1)


def test_zero_flow_for_just_in_case_is_not_called_unusual() -> None:
    """A caution that stands on every such card is not read; 5 L/min on a reservoir mask still is."""

    def unusual(old: str, new: str) -> list[str]:
        found = made(ROAD, head=HEAD.replace(old, new)).findings
        return [each.message for each in found if each.code == "unusual_setting"]

    assert unusual("", "") == []
    assert len(unusual("flow: 0 L/min", "flow: 5 L/min")) == 1


LIQUID = """\
profile: 1
trip: Home with liquid
setting: road
departs: 2026-11-28 03:10
supplies:
  flask: {outlets: [{flowmeter: 15 L/min}, {flowmeter: 15 L/min}], liquid: {amount: 5 lb, keep: 0.5 lb, loss: 0 lb/day}}
devices:
  conc: {type: concentrator, flow: 2 L/min, greatest_flow: 5 L/min, battery: 600 min, if_it_fails: prongs, patient: one}
  prongs: {type: nasal_cannula, flow: 2 L/min, patient: one}
  cannula: {type: nasal_cannula, flow: 1 L/min, patient: two}
"""
FIRST = "  - {name: To the station, duration: 40 min, supply: flask, devices: [conc]}\n"
SECOND = "  - {name: Train, duration: 230 min, supply: flask, devices: [conc]}\n"


@pytest.mark.hazard(42)
def test_a_vessel_carries_for_a_concentrator_at_every_minute() -> None:
    """230 min x 2 L/min = 460 L at 342.0 L to a lb, and 0.5 lb that is kept. Untouched, it is what one departs with."""
    alone, departs = (least(made(FIRST + SECOND, head=LIQUID), leg, "start") for leg in (1, 0))
    assert alone.least_amount_kg is not None
    assert alone.least_amount_kg == departs.least_amount_kg
    assert alone.least_amount_kg / KG_PER_LB == pytest.approx(0.5 + 270 * 2.0 / 342.0, rel=2e-3)
    both = (FIRST + SECOND).replace("[conc]", "[conc, cannula]")
    beside = least(made(both, head=LIQUID), 1, "start")
    assert beside.least_amount_kg is not None
    assert beside.least_amount_kg / KG_PER_LB == pytest.approx(0.5 + 230 * (2.0 + 1.0) / 342.0, rel=2e-3)


BESIDE = """\
profile: 1
trip: Beside one who draws
setting: in_house
policy: {spare_cylinders: 0, must_hold: [ventilator_fails, device_fails, air_lost, concentrator_fails]}
supplies:
  cart:
    cylinders:
      - {label: A, size: US-E, gauge: 2000 psi, outlets: [{flowmeter: 15 L/min}, {flowmeter: 15 L/min}, high_pressure]}
  blue: {gas: air, cylinders: [{label: B, size: US-E, gauge: 2000 psi, outlets: [high_pressure]}]}
devices:
  vent: {type: ventilator, drive: electric, minute_volume: 8 L/min, bias_flow: 0 L/min, leak: 0 L/min, fio2: 21 %,
         battery: 4 h, if_it_fails: bag}
  blend: {type: blended_flow, flow: 7 L/min, bleed: 1 L/min, fio2: 0.21, air: blue}
  can: {type: nasal_cannula, flow: 0 L/min, may_rise_to: more, if_it_fails: bag}
  conc: {type: concentrator, flow: 2 L/min, greatest_flow: 5 L/min, battery: 4 h, if_it_fails: more}
  more: {type: nasal_cannula, flow: 2 L/min}
  bag: {type: manual_resuscitator, flow: 10 L/min}
  prongs: {type: nasal_cannula, flow: 1 L/min, patient: two}
legs:
  - {name: Road, duration: 20 min, supply: cart, devices: [IDLE, prongs]}
  - {name: Second road, duration: 20 min, supply: cart, devices: [IDLE, prongs]}
"""


@pytest.mark.hazard(42)
@pytest.mark.parametrize(
    ("device", "litres"),
    [
        ("vent", 20 * (10.0 + 1.0)),  # bagged at 10 L/min to the end
        ("blend", 20 * (8.0 + 1.0)),  # all that it lets flow as oxygen, bleed included
        ("can", 15 * 10.0 + 20 * 1.0),  # bagged until help is there, within 15 min inside the hospital
        ("conc", 20 * (2.0 + 1.0)),  # 60 L, where the cannula with its reserve asks for 20 + 30
    ],
)
def test_whatever_draws_nothing_as_planned_is_carried_for(device: str, litres: float) -> None:
    found = plan(parse_trip(BESIDE.replace("IDLE", device)))
    shown = psi(least(found, 1, "start").least_gauge_kpa)
    assert contents_l(shown) - contents_l(500.0) == pytest.approx(litres, rel=3e-3)


def test_what_a_clinician_accepts_leaves_the_limit_for_what_is_planned() -> None:
    """Accepted that the fallback of 15 L/min does not last: 20 L of the cannula and 30 of its reserve still do."""
    text = BESIDE.replace("IDLE", "vent").replace("flow: 10 L/min}", "flow: 15 L/min}").replace("2000 psi", "1150 psi")
    accepted = "{what: ventilator_fails, supply: cart, not_before: 5 min, by: attending physician, why: short}"
    found = plan(parse_trip(text + f"accepted: [{accepted}]\n"))
    assert found.verdict == "go-by-decision"
    shown = psi(least(found, 1, "start").least_gauge_kpa)
    assert contents_l(shown) - contents_l(500.0) == pytest.approx(50.0, rel=3e-3)
