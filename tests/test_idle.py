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
