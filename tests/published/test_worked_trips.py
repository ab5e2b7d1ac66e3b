"""Published cases, from the text of a profile to the result of the plan.

The other tests in this folder hold one formula at a time. Here the figure has to come out at the end of the whole way:
text, units, demand, need, cylinders, what-ifs. Each id names its source; the tolerance is half the last printed digit,
or the test says why it is another.
"""

from __future__ import annotations

from typing import Any

import pytest

from planner.planning import plan
from planner.profile.read import parse_trip
from planner.report.json_result import result
from planner.results import Plan

TRANSFER = "frcemexam.com, oxygen requirements for patient transfer"
FACTORS = "respiratory care textbooks, table of factors"
LUTMAN = "Lutman and Petros, Emerg Med J 2006;23:703"

VENTILATOR = """
      type: ventilator
      drive: pneumatic
      minute_volume: 6 L/min
      fio2: 0.6
      drive_gas: 0.5 L/min
"""


def trip(
    supply: str, device: str, leg: str, *, setting: str = "in_house", policy: str = "{handover_time: 0 min}"
) -> Plan:
    """One leg with one device on one supply."""
    return plan(
        parse_trip(
            f"profile: 1\ntrip: published case\nsetting: {setting}\npolicy: {policy}\n"
            f"supplies:\n  given: {supply}\ndevices:\n  used:\n      {device.strip()}\n"
            f"legs:\n  - {{name: Way, supply: given, devices: [used], {leg}}}\n"
        )
    )


def given(found: Plan) -> dict[str, Any]:
    supply: dict[str, Any] = result(found)["supplies"]["given"]
    return supply


def whatif(found: Plan, name: str) -> dict[str, Any]:
    row: dict[str, Any] = next(row for row in result(found)["whatifs"] if row["name"] == name)
    return row


def cautions(found: Plan, code: str) -> list[str]:
    return [finding.message for finding in found.findings if (finding.level, finding.code) == ("caution", code)]


@pytest.mark.parametrize(
    ("minutes", "required_l"), [pytest.param(60, 492.0, id=f"{TRANSFER}: 60 min, 6 L/min, FiO2 0.6, driving gas 0.5")]
)
def test_transfer_formula_as_the_rule_of_a_trip(minutes: int, required_l: float) -> None:
    """2 x 60 x (6 x 0.6 + 0.5) = 492: the guideline's rule, with a reserve that doubles and no other."""
    found = trip(
        "{sizes: [US-E]}",
        f"{VENTILATOR}      rule: minute_volume_times_fio2",
        f"duration: {minutes} min",
        policy="{reserve_factor: 2, reserve_time: 0 min}",
    )
    assert given(found)["required_l"] == pytest.approx(required_l, abs=0.5)
    assert given(found)["planned_l"] == pytest.approx(required_l / 2, abs=0.25)


def test_transfer_formula_stands_beside_the_figure_of_the_planner() -> None:
    """The doubling figure is there for a second look whatever the trip's own rule is (source: as above, 492 L).

    By the balance of oxygen the ventilator draws 6 x 0.39 / 0.79 + 0.5 = 3.462 L/min, 207.7 L in 60 min.
    """
    found = trip("{sizes: [US-E]}", f"{VENTILATOR}      bias_flow: 0 L/min\n      leak: 0 L/min", "duration: 60 min")
    assert found.supplies["given"].doubling_l == pytest.approx(492.0, abs=0.5)
    assert given(found)["planned_l"] == pytest.approx(207.7, abs=0.05)


def test_e_cylinder_at_2200_psi_and_2_l_per_min_lasts_308_min() -> None:
    """Published worked example, to empty: 2200 x 0.28 / 2 = 308 min.

    Source: ehow.co.uk, how to calculate oxygen cylinder duration.
    """
    found = trip(
        "{cylinders: [{label: E, size: US-E, gauge: 2200 psi}]}",
        "type: nasal_cannula\n      flow: 2 L/min",
        "duration: 308 min",
        policy="{change_over_at: 0 psi, reserve_factor: 1, reserve_time: 0 min, handover_time: 0 min}",
    )
    assert given(found)["lasts_min"] == pytest.approx(308.0, abs=0.5)
    assert given(found)["order"][0]["gauge_end_psi"] == pytest.approx(0.0, abs=1.0)
    assert found.go
    assert found.checkpoints[0].minutes_left == pytest.approx(308.0, abs=0.5)


@pytest.mark.parametrize(
    ("size", "factor"),
    [
        pytest.param(size, factor, id=f"{FACTORS}: {size}")
        for size, factor in {"D": 0.16, "E": 0.28, "M": 1.56, "G": 2.41, "H": 3.14, "K": 3.14}.items()
    ],
)
def test_hand_method_beside_the_planner(size: str, factor: float) -> None:
    """(gauge - residual) x K, with the textbooks' residual of 200 psi (from memory); 2 L/min.

    The hand figure is exact. The planner's own minutes are those of the real gas, a little more: the hand method takes
    the last 200 psi, which stay behind, for 6 % more than they are: 0.06 x 200 / 2000 is 0.6 %.
    """
    found = trip(
        f"{{cylinders: [{{label: A, size: US-{size}, gauge: 2200 psi}}]}}",
        "type: nasal_cannula\n      flow: 2 L/min",
        "duration: 30 min",
        policy="{change_over_at: 200 psi, handover_time: 0 min}",
    )
    hand_l = (2200 - 200) * factor
    assert found.supplies["given"].cylinders[0].hand_usable_l == pytest.approx(hand_l, rel=1e-9)
    assert given(found)["lasts_min"] == pytest.approx(hand_l / 2.0, rel=0.007)
    assert given(found)["lasts_min"] > hand_l / 2.0


def test_e_cylinder_by_its_label_of_660_l_at_1900_psi() -> None:
    """ASTM F1161-88 and NFPA 99 (1990), table quoted in Nagelhout and Zaglaniczny, Nurse Anesthesia, 2001; to empty."""
    found = trip(
        "{cylinders: [{label: E, size: US-E, contents: 660 L at 1900 psi, gauge: 1900 psi}]}",
        "type: nasal_cannula\n      flow: 2 L/min",
        "duration: 30 min",
        policy="{change_over_at: 0 psi, handover_time: 0 min}",
    )
    assert given(found)["usable_l"] == pytest.approx(660.0, abs=0.5)


@pytest.mark.parametrize(
    ("size", "gauge", "contents_l"),
    [
        pytest.param("UK-D", "13700 kPa", 340.0, id=f"{LUTMAN}: D"),
        pytest.param("UK-F", "13.7 MPa", 1360.0, id=f"{LUTMAN}: F"),
        pytest.param("UK-CD", "230 bar", 460.0, id=f"{LUTMAN}: CD"),
    ],
)
def test_uk_cylinders_never_hold_more_than_published(size: str, gauge: str, contents_l: float) -> None:
    """The published contents hold at 15 degC, and a reading counts at 21.1 degC at least: 3 % less.

    By the ideal gas law the ratio is 288.15 / 294.25 = 0.979; real oxygen at these pressures loses half as much again,
    so that 0.97 of the contents are left (Schmidt and Wagner's equation of state, 1985), here to half a per cent.
    """
    found = trip(
        f"{{temperature: 15 degC, cylinders: [{{label: A, size: {size}, gauge: {gauge}}}]}}",
        "type: nasal_cannula\n      flow: 2 L/min",
        "duration: 30 min",
        policy="{change_over_at: 0 psi, handover_time: 0 min}",
    )
    assert given(found)["usable_l"] == pytest.approx(0.97 * contents_l, rel=0.005)


@pytest.mark.parametrize(
    "cabin",
    [
        pytest.param("cabin_altitude: 8000 ft", id="standard respiratory physiology: 8000 ft"),
        pytest.param("cabin_pressure: 565 mmHg", id="Arch Dis Child and the 1976 atmosphere: 565 mmHg"),
    ],
)
def test_fio2_of_0_40_becomes_0_55_at_8000_ft_in_the_what_if(cabin: str) -> None:
    """0.40 x (760 - 47) / (565 - 47) = 0.55, got back from the minutes that 1000 L of a stated supply leave.

    With f litres a minute for 60 min, minutes to spare = (1000 - 60 f) / f, so that f = 1000 / (60 + minutes); the
    blend of 10 L/min then held FiO2 = 0.21 + 0.79 x f / 10. Tolerance half a digit.
    """
    found = trip(
        "{litres: 1000 L, outlets: [high_pressure]}",
        "type: blended_flow\n      flow: 10 L/min\n      bleed: 0 L/min\n      air: room\n      fio2: 40 %",
        f"duration: 60 min, by: air, {cabin}",
    )
    flow = 1000.0 / (60.0 + whatif(found, "inspired_oxygen_kept")["minutes_to_spare"])
    assert 0.21 + 0.79 * flow / 10.0 == pytest.approx(0.55, abs=0.005)


@pytest.mark.parametrize(
    ("cabin", "percent"),
    [
        pytest.param("cabin_altitude: 1000 m", 87, id="Arch Dis Child: 1000 m is 674 mmHg, 627 / 713"),
        pytest.param("cabin_altitude: 3000 m", 67, id="Arch Dis Child: 3000 m is 526 mmHg, 479 / 713"),
        pytest.param("cabin_altitude: 8000 ft", 72, id="Arch Dis Child: 8000 ft is about 565 mmHg, 518 / 713"),
    ],
)
def test_inspired_oxygen_left_at_altitude(cabin: str, percent: int) -> None:
    """(P - 47) / (760 - 47) from the published pressures, rounded down to a whole per cent."""
    found = trip("{sizes: [US-E]}", "type: nasal_cannula\n      flow: 2 L/min", f"duration: 60 min, by: air, {cabin}")
    assert cautions(found, "inspired_oxygen_falls") == [
        f"Way: used is set by flow alone; in the cabin {percent} % of the home inspired oxygen is left."
    ]


@pytest.mark.parametrize(
    ("flow", "fio2", "oxygen_l_per_min"),
    [
        # By hand: flow x (FiO2 - 0.21) / 0.79.
        pytest.param(50, "0.5", 18.354, id="Reimer and others, Air Med J 2022;41:42: adults, FiO2 0.5"),
        pytest.param(50, "0.8", 37.342, id="Reimer and others, Air Med J 2022;41:42: adults, FiO2 0.8"),
        pytest.param(10, "0.3", 1.139, id="Reimer and others, Air Med J 2022;41:42: children, FiO2 0.3"),
    ],
)
def test_most_frequent_high_flow_settings_are_usual_ones(flow: int, fio2: str, oxygen_l_per_min: float) -> None:
    found = trip(
        "{sizes: [US-H]}", f"type: high_flow_nasal\n      flow: {flow} L/min\n      fio2: {fio2}", "duration: 60 min"
    )
    assert cautions(found, "unusual_setting") == []
    assert given(found)["peak_flow_l_per_min"] == pytest.approx(oxygen_l_per_min, abs=0.0005)


@pytest.mark.parametrize(
    ("device", "usual", "unusual"),
    [
        # Common practice; therapeutic guidelines tables agree on the masks and the cannula.
        pytest.param("nasal_cannula", (1, 6), (7,), id="common practice: cannula to 6 L/min"),
        pytest.param("simple_mask", (5, 10), (4, 11), id="common practice: simple mask 5 to 10 L/min"),
        pytest.param("reservoir_mask", (10, 15), (9, 16), id="common practice: reservoir mask 10 to 15 L/min"),
        pytest.param("manual_resuscitator", (10, 25), (9, 26), id="common practice: resuscitator 10 to 25 L/min"),
    ],
)
def test_usual_flows_draw_no_caution_and_others_do(
    device: str, usual: tuple[int, ...], unusual: tuple[int, ...]
) -> None:
    for flow in (*usual, *unusual):
        found = trip("{sizes: [US-E]}", f"type: {device}\n      flow: {flow} L/min", "duration: 10 min")
        assert len(cautions(found, "unusual_setting")) == (flow in unusual)


def test_a_wrong_gas_is_told_with_the_pins_of_oxygen() -> None:
    """Pin index: oxygen 2-5, air 1-5 (EN ISO 407, as listed in a public encyclopaedia)."""
    found = trip(
        "{cylinders: [{label: A, size: US-E, gauge: 2000 psi, gas: air}]}",
        "type: nasal_cannula\n      flow: 2 L/min",
        "duration: 10 min",
    )
    fix = next(finding.fix for finding in found.findings if finding.code == "wrong_gas")
    assert "oxygen 2-5" in fix
    assert "1-5" not in fix
