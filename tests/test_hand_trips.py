"""Trips worked by hand, and what happens to them when one thing is changed.

The profiles stand in tests/profiles/good/, their figures beside them. Here each is told as a story, and the control
of a hazard is taken away or put in, by changing the text of the profile.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from planner.flow.devices import total_flow_l_per_min
from planner.planning import plan
from planner.profile.read import parse_trip, read_trip
from planner.report.json_result import result

GOOD = Path(__file__).parent / "profiles" / "good"

# Litres that a full US-E gives from 2000 down to 500 psi. Hand method: 0.28 L/psi x 1500 psi = 420 L; the real gas
# gives 1.2 % more (see full_cylinders in counts_by_size.figures.yaml).
FULL_E_L = 424.94


def planned(name: str, *edits: tuple[str, str]) -> dict[str, Any]:
    """The result of a good profile after changes of its text, each of which must find its place."""
    text = (GOOD / f"{name}.yaml").read_text(encoding="utf-8")
    for old, new in edits:
        assert old in text, f"{name}.yaml has no {old!r}"
        text = text.replace(old, new)
    return result(plan(parse_trip(text, f"{name}.yaml", GOOD)))


def whatif(found: dict[str, Any], name: str, supply: str) -> dict[str, Any]:
    rows: list[dict[str, Any]] = [row for row in found["whatifs"] if (row["name"], row["supply"]) == (name, supply)]
    assert len(rows) == 1
    return rows[0]


def messages(found: dict[str, Any], level: str, code: str) -> list[str]:
    return [finding["message"] for finding in found["findings"] if (finding["level"], finding["code"]) == (level, code)]


def fixes(found: dict[str, Any], code: str) -> list[str]:
    return [finding["fix"] for finding in found["findings"] if finding["code"] == code]


def run_out_min(flow_at: Callable[[float], float], minutes: float, litres: float, steps_a_minute: int) -> float | None:
    """Drawing step by step: the minute at which the litres are gone, None where they last."""
    for step in range(round(minutes * steps_a_minute)):
        flow = flow_at((step + 0.5) / steps_a_minute)
        if flow > litres * steps_a_minute:
            return step / steps_a_minute + litres / flow
        litres -= flow / steps_a_minute
    return None


def earliest(outs: Iterable[tuple[float | None, float]]) -> tuple[float, float]:
    """The earliest run-out, and the minute at which things went wrong for it."""
    return min((out, wrong) for out, wrong in outs if out is not None)


def test_ward_to_scan_and_back_with_one_part_used_e_cylinder() -> None:
    """25 min x 4 L/min = 100 L; reserve max(50, 30 x 4 = 120) = 120 L; together 220 L.

    Hand method: (1500 - 500) x 0.28 = 280 L, so it goes, with 60 L and 45 min more than planned:
    (280 - 100) / 4 = 45. The hand method is exact to 1 % here.
    """
    found = planned("scan_and_back")
    assert found["verdict"] == "go"
    bedside = found["supplies"]["bedside"]
    assert bedside["required_l"] == pytest.approx(220.0, abs=0.005)
    assert bedside["usable_l"] == pytest.approx(280.0, rel=0.01)
    assert found["checkpoints"][-1]["minutes_left"] == pytest.approx(45.0, rel=0.02)
    # By hand it goes from 220 / 0.28 + 500 = 1286 psi on. At 1250 psi: 750 x 0.28 = 210 L.
    assert planned("scan_and_back", ("1500 psi", "1300 psi"))["verdict"] == "go"
    short = planned("scan_and_back", ("1500 psi", "1250 psi"))
    assert short["verdict"] == "no-go"
    (told,) = messages(short, "stop", "not_enough")
    assert told.startswith("bedside needs 220 L, COUNTED 210 L; 120 L of the need are the reserve of 30 min at 4 L/min")


def test_road_transfer_ventilated_takes_four_full_e_cylinders() -> None:
    """(10 + 0 + 0) x (0.60 - 0.21) / 0.79 + 0.5 = 5.437 L/min; 90 min: 489.3 L; reserve 244.7 L; required 734 L.

    A full E gives 425 L, so that by need 734 / 425 = 1.7, two and a spare, three would do. But the ventilator may fail
    as it leaves: the resuscitator takes 90 x 15 = 1350 L, and 1350 / 425 = 3.2: four.
    """
    count = planned("road_ventilated")["supplies"]["trolley"]["full_cylinders"][0]["count"]
    assert count == 4
    without = planned("road_ventilated", ("setting: road", "setting: road\npolicy: {must_hold: [cylinder_lost]}"))
    assert without["supplies"]["trolley"]["full_cylinders"][0]["count"] == 3
    smaller = planned("road_ventilated", ("flow: 15 L/min", "flow: 14 L/min"))
    assert 90 * 14 / FULL_E_L < 3.0
    assert smaller["supplies"]["trolley"]["full_cylinders"][0]["count"] == 3
    drawn = ", ".join(
        f"{{label: {label}, size: US-E, gauge: 2000 psi, outlets: [high_pressure, {{flowmeter: 15 L/min}}]}}"
        for label in "ABCD"
    )
    assert planned("road_ventilated", ("sizes: [US-E]", f"cylinders: [{drawn}]"))["verdict"] == "go"
    three = planned("road_ventilated", ("sizes: [US-E]", f"cylinders: [{drawn[: drawn.rindex(', {label')]}]"))
    assert three["verdict"] == "no-go"
    # 3 x 425 L at 15 L/min last 85 of the 90 minutes.
    assert messages(three, "stop", "what_if_fails") == [
        "If the ventilator fails (worst at departure): trolley runs out 84 min after departure, in Road."
    ]
    assert whatif(three, "ventilator_fails", "trolley")["runs_out_min"] == pytest.approx(3 * FULL_E_L / 15, abs=0.05)


@pytest.mark.hazard(16)
def test_helicopter_at_6000_ft_changes_in_flight_and_warns_of_the_thin_air() -> None:
    """40 x 15 = 600 L, reserve 30 x 15 = 450 L. An E of 425 L lasts 28 min: a change in flight.

    Cabin 6000 ft: 609.0 mmHg (U.S. Standard Atmosphere, 1976). (609.0 - 47) / (760 - 47) = 0.788, rounded down 78 %.
    """
    found = planned("helicopter")
    assert found["verdict"] == "go"
    order = found["supplies"]["rack"]["order"]
    assert [turn["cylinder"] for turn in order] == ["A", "B"]
    assert order[1]["from_min"] == pytest.approx(FULL_E_L / 15.0, abs=0.02)
    assert messages(found, "caution", "inspired_oxygen_falls") == [
        "Flight: mask is set by flow alone; in the cabin 78 % of the home inspired oxygen is left."
    ]
    on_the_ground = planned("helicopter", (", by: air, cabin_altitude: 6000 ft", ""))
    assert messages(on_the_ground, "caution", "inspired_oxygen_falls") == []


@pytest.mark.hazard(1)
def test_minutes_to_spare_can_be_used_up_and_not_one_second_more() -> None:
    spare = whatif(planned("overrides"), "longest_times", "cart")["minutes_to_spare"]
    just = planned("overrides", ("longest: 30 min", f"longest: {30 + spare - 0.01:.4f} min"))
    assert whatif(just, "longest_times", "cart")["holds"]
    beyond = planned("overrides", ("longest: 30 min", f"longest: {30 + spare + 0.01:.4f} min"))
    row = whatif(beyond, "longest_times", "cart")
    assert not row["holds"]
    # Leg 1 takes 25 + 4 + 3 = 32 min in this what-if, leg 2 runs dry at the end of what was printed as spare.
    assert row["runs_out_min"] == pytest.approx(32 + 30 + spare, abs=0.02)
    assert row["runs_out_leg"] == "Lift to theatre"


@pytest.mark.hazard(1)
def test_a_delay_is_drawn_at_the_flow_of_its_leg() -> None:
    """Seven minutes of delay at 2 L/min are 14 of the 174 L."""
    on_time = planned(
        "overrides",
        ("    delays:\n", ""),
        ("      - {reason: lift is busy, time: 4 min}\n", ""),
        ("      - {reason: lift is busy again, time: 3 min}\n", ""),
    )
    assert on_time["supplies"]["cart"]["planned_l"] == pytest.approx(174 - 7 * 2)


@pytest.mark.hazard(2)
def test_three_cylinders_at_400_psi_hold_nothing_usable_above_500() -> None:
    """Added up first they would be 1200 psi on an E: (1200 - 500) x 0.28 = 196 L, enough for the 80 L required."""
    assert planned("three_low")["supplies"]["cart"]["usable_l"] == 0.0
    lower = planned("three_low", ("setting: road", "setting: in_house\npolicy: {change_over_at: 100 psi}"))
    # By hand 3 x (400 - 100) x 0.28 = 252 L; the real gas gives 4 % less at this end of the gauge.
    assert lower["supplies"]["cart"]["usable_l"] == pytest.approx(252.0, rel=0.06)
    assert lower["verdict"] == "go"


@pytest.mark.hazard(8)
@pytest.mark.parametrize(
    ("policy", "waiting_l", "walking_l"),
    [
        # planned 300 and 128 L, peak 2 and 14 L/min
        ("{reserve_factor: 1, reserve_time: 0 min}", 300.0, 128.0),
        ("{reserve_factor: 2, reserve_time: 0 min}", 600.0, 256.0),
        ("{reserve_factor: 1, reserve_time: 30 min}", 360.0, 548.0),
        ("{reserve_factor: 2, reserve_time: 30 min}", 600.0, 548.0),
        ("{reserve_factor: 2, reserve_time: 10 min}", 600.0, 268.0),
    ],
)
def test_the_larger_reserve_is_added_once(policy: str, waiting_l: float, walking_l: float) -> None:
    found = planned("reserve_each_once", ("setting: in_house", f"setting: in_house\npolicy: {policy}"))["supplies"]
    assert found["waiting"]["required_l"] == pytest.approx(waiting_l)
    assert found["walking"]["required_l"] == pytest.approx(walking_l)


@pytest.mark.hazard(9)
def test_ventilator_failure_is_as_bad_as_at_the_worst_of_all_minutes() -> None:
    """Tried every 10 s: 20 L/min for 60 min, then 8 x (0.40 - 0.21) / 0.79 + 4 L/min; the resuscitator 15 L/min."""
    found = planned("worst_minute_inside")
    litres = found["supplies"]["bank"]["usable_l"]
    row = whatif(found, "ventilator_fails", "bank")

    def flow(minute: float, failing: float) -> float:
        if minute >= failing:
            return 15.0
        return 20.0 if minute < 60.0 else 8.0 * 0.19 / 0.79 + 4.0

    sixths = [sixth / 6.0 for sixth in range(105 * 6 + 1)]
    out, failing = earliest((run_out_min(partial(flow, failing=at), 105.0, litres, 6), at) for at in sixths)
    assert row["from_min"] == failing == 60.0
    assert row["runs_out_min"] == pytest.approx(out, abs=1e-6)
    assert found["verdict"] == "no-go"
    # Nothing but this what-if stops it: with a resuscitator at 10 L/min, 1200 + 450 L, it goes.
    assert planned("worst_minute_inside", ("flow: 15 L/min}", "flow: 10 L/min}"))["verdict"] == "go"


@pytest.mark.hazard(10)
def test_without_a_cylinder_to_spare_it_is_no_go() -> None:
    """Four E cylinders: three carry the 1050 L required. Three: two carry 850 L.

    The spare is 1274 L less 849 L as both are printed, so that the line adds up: three of 424.8 L are 1274.
    """
    assert planned("helicopter")["verdict"] == "go"
    three = planned(
        "helicopter", ("      - {label: D, size: US-E, gauge: 2000 psi, outlets: [{flowmeter: 15 L/min}]}\n", "")
    )
    assert three["verdict"] == "no-go"
    assert messages(three, "stop", "not_enough") == ["rack needs 1050 L, COUNTED 849 L (425 L kept as spare)."]
    no_spare = planned("scan_and_back", ("setting: in_house", "setting: in_house\npolicy: {spare_cylinders: 1}"))
    assert no_spare["supplies"]["bedside"]["usable_without_spare_l"] == 0.0
    assert no_spare["verdict"] == "no-go"


@pytest.mark.hazard(12)
def test_25_l_per_min_on_a_flowmeter_to_15_is_a_stop() -> None:
    refused = planned("flow_over_outlet")
    assert refused["verdict"] == "no-go"
    assert messages(refused, "stop", "outlet_missing") == [
        (
            "An outlet is missing on A and B of cart: bag needs a flowmeter to 25 L/min and each has one to 15 L/min. "
            "So nothing of cart can be used."
        )
    ]
    assert fixes(refused, "outlet_missing") == [
        "If they have it, write outlets: [{flowmeter: 25 L/min}] under cart; else take cylinders that have it."
    ]
    # 950 L required: 30 min at the peak is 750 L. 200 L and a reserve of 8 min, 200 L, fit into 850 L.
    carried = planned(
        "flow_over_outlet",
        ("flowmeter: 15 L/min", "flowmeter: 25 L/min"),
        ("setting: in_house", "setting: in_house\npolicy: {reserve_time: 8 min}"),
    )
    assert carried["verdict"] == "go"


@pytest.mark.hazard(12)
def test_one_outlet_carries_one_device() -> None:
    """Nebulizer and ventilator: with one flowmeter for two nebulizers, or without a 50-psi outlet, B serves no more."""
    assert planned("outlets_shared")["verdict"] == "go"
    undriven = planned("outlets_shared", ("[high_pressure, ", "["))
    assert undriven["verdict"] == "no-go"
    single = planned(
        "outlets_shared",
        ("[high_pressure, {flowmeter: 6 L/min}, {flowmeter: 15 L/min}]", "[high_pressure, {flowmeter: 5 L/min}]"),
    )
    assert single["verdict"] == "no-go"
    # Two masks and a nebulizer at once when the vehicle's supply is lost: two flowmeters are one too few.
    three, two = (
        "[{flowmeter: 15 L/min}, {flowmeter: 15 L/min}, {flowmeter: 15 L/min}]",
        "[{flowmeter: 15 L/min}, {flowmeter: 15 L/min}]",
    )
    assert whatif(planned("two_patients"), "vehicle_supply_lost", "cart")["holds"]
    assert not whatif(planned("two_patients", (three, two)), "vehicle_supply_lost", "cart")["holds"]


@pytest.mark.hazard(12)
def test_outlets_that_are_not_stated_are_one_flowmeter_to_15() -> None:
    unstated = (", outlets: [{flowmeter: 15 L/min}]", "")
    shorter = ("setting: in_house", "setting: in_house\npolicy: {reserve_time: 8 min}")
    assert planned("flow_over_outlet", unstated, shorter)["verdict"] == "no-go"
    assert planned("flow_over_outlet", unstated, shorter, ("flow: 25 L/min", "flow: 15 L/min"))["verdict"] == "go"
    # Without its override the turbine ventilator asks for a 50-psi outlet.
    assert planned("turbine_low_pressure", unstated)["verdict"] == "go"
    assert planned("turbine_low_pressure", unstated, ("    outlet: flowmeter\n", ""))["verdict"] == "no-go"


@pytest.mark.hazard(13)
def test_a_change_inside_the_lift_is_brought_forward_or_told() -> None:
    """A gives 8 L/min for 138 / 8 = 17 min. The lift and tail lift last from minute 10 to 20."""
    moved = planned("change_brought_forward")
    assert [turn["cylinder"] for turn in moved["supplies"]["cart"]["order"]] == ["A", "C", "B", "A"]
    assert messages(moved, "caution", "change_in_no_change") == []
    freely = planned("change_brought_forward", ("no_change: true, ", ""))
    assert [turn["cylinder"] for turn in freely["supplies"]["cart"]["order"]] == ["A", "B", "C"]
    assert freely["supplies"]["cart"]["order"][0]["to_min"] == pytest.approx(17.4, abs=0.3)
    told = planned("change_cannot_move")
    assert messages(told, "caution", "change_in_no_change") == [
        "cart: the change from A to B falls 17 min after departure, inside the no-change stretch at Lift and tail lift."
    ]


@pytest.mark.hazard(14)
def test_no_wall_on_arrival_decides_go() -> None:
    """90 L and 10 min more at 6 L/min. With 42 min more, 90 + 252 = 342 L, a little more than the 339 L at hand."""
    assert planned("wall_and_cart")["verdict"] == "go"
    longer = planned("wall_and_cart", ("setting: in_house", "setting: in_house\npolicy: {handover_time: 42 min}"))
    assert longer["verdict"] == "no-go"
    assert whatif(longer, "no_wall_on_arrival", "cart")["must_hold"]
    unasked = planned(
        "wall_and_cart", ("setting: in_house", "setting: in_house\npolicy: {handover_time: 42 min, must_hold: []}")
    )
    assert unasked["verdict"] == "go"
    assert not whatif(unasked, "no_wall_on_arrival", "cart")["holds"]


@pytest.mark.hazard(15)
def test_vehicle_supply_lost_is_as_bad_as_at_the_worst_of_all_minutes() -> None:
    """Cart: 10 L/min for 10 min, and from the loss on 10 L/min for the rest of the 90 min road."""
    found = planned("vehicle_supply_lost")
    litres = found["supplies"]["cart"]["usable_l"]

    def flow(minute: float, lost: float) -> float:
        return 10.0 if minute < 10.0 or minute >= lost else 0.0

    out, _ = earliest((run_out_min(partial(flow, lost=at), 100.0, litres, 6), at) for at in map(float, range(101)))
    assert whatif(found, "vehicle_supply_lost", "cart")["runs_out_min"] == pytest.approx(out, abs=1e-6)
    held = planned(
        "vehicle_supply_lost", ("setting: road", "setting: road\npolicy: {must_hold: [vehicle_supply_lost]}")
    )
    assert held["verdict"] == "no-go"
    assert planned("backup_too_small")["verdict"] == "no-go"
    # 480 L asked of the backup: two E cylinders at 1500 psi give 2 x 0.28 x 1000 = 560 L.
    assert planned("backup_too_small", ("gauge: 1200 psi", "gauge: 1500 psi"))["verdict"] == "go"


@pytest.mark.hazard(17)
def test_neither_warmth_nor_cold_adds_a_litre() -> None:
    plain = planned("hot_reading", (", temperature: 45 degC", ""))["supplies"]["cart"]["usable_l"]
    hot = planned("hot_reading")["supplies"]["cart"]["usable_l"]
    cold = planned("hot_reading", ("temperature: 45 degC", "temperature: -20 degC"))["supplies"]["cart"]["usable_l"]
    # At 45 degC by the ideal gas law alone 2000 psi would be 294.25 / 318.15 = 0.925 of it.
    assert hot < 0.93 * (plain + 0.28 * 500)
    assert cold < plain


@pytest.mark.hazard(18)
def test_two_patients_draw_the_sum() -> None:
    both = planned("two_patients")["supplies"]
    one = planned("two_patients", ("      - mask_2\n", ""))["supplies"]
    other = planned("two_patients", ("      - mask_1\n", ""))["supplies"]
    assert one["vehicle"]["planned_l"] == pytest.approx(30 * 8)
    assert other["vehicle"]["planned_l"] == pytest.approx(30 * 5)
    assert both["vehicle"]["planned_l"] == pytest.approx(30 * 8 + 30 * 5)


@pytest.mark.hazard(19)
def test_air_is_not_oxygen() -> None:
    refused = planned("air_for_oxygen")
    assert messages(refused, "stop", "wrong_gas") == ["cart AIR A holds air, not oxygen; nothing is counted from it."]
    taken = planned("air_for_oxygen", (", gas: air", ", gas: oxygen"))
    assert taken["verdict"] == "go"
    assert taken["supplies"]["cart"]["usable_l"] == pytest.approx(2 * refused["supplies"]["cart"]["usable_l"])


@pytest.mark.hazard(27)
def test_nothing_safe_for_the_magnet_room_is_a_stop() -> None:
    assert planned("magnet_room")["verdict"] == "go"
    steel = planned("magnet_room", (", magnet_safe: true", ""))
    assert steel["verdict"] == "no-go"
    assert messages(steel, "stop", "magnet") == [
        "In the magnet room is a magnet room and no cylinder of cart is marked magnet_safe."
    ]
    assert planned("magnet_room", (", magnet: true", ""))["supplies"]["cart"]["order"][0]["to_min"] == 50.0


@pytest.mark.hazard(16)
def test_a_blend_that_no_fio2_can_keep_is_a_stop() -> None:
    """0.80 x (716.0 - 47) / (523 - 47) = 1.124, up; home at 500 m: 716.0 mmHg (U.S. Standard Atmosphere, 1976)."""
    found = planned("too_high")
    assert messages(found, "stop", "inspired_oxygen_not_kept") == [
        (
            "Flight: to keep the inspired oxygen of blender at FiO2 0.80 the cabin would ask for FiO2 1.13, "
            "which cannot be given."
        )
    ]
    # 0.70 x 669 / 476 = 0.984, which is then the note's 0.99, rounded up.
    lower = planned("too_high", ("fio2: 80 %", "fio2: 70 %"))
    assert messages(lower, "stop", "inspired_oxygen_not_kept") == []
    assert messages(lower, "note", "inspired_oxygen") == [
        "Flight: to keep the inspired oxygen of blender, FiO2 0.70 on the ground becomes 0.99 in the cabin."
    ]


def test_going_down_from_home_takes_no_oxygen_away() -> None:
    """Home at 2500 m, cabin at 300 m: by the formula FiO2 would fall below that of air. Nothing is altered."""
    found = planned("mountain_to_coast")
    assert [row for row in found["whatifs"] if row["name"] == "inspired_oxygen_kept"] == []
    assert not any(finding["code"].startswith("inspired_oxygen") for finding in found["findings"])


def test_an_air_entrainment_mask_gives_its_flow_over_the_share_of_oxygen() -> None:
    """9 L/min of oxygen at 35 %: 9 x 0.79 / (0.35 - 0.21) = 50.79 L/min. Textbooks: 1 to 5 of air, from memory."""
    total = total_flow_l_per_min(read_trip(GOOD / "set_flows.yaml").devices["venturi"])
    assert total is not None
    assert total == pytest.approx(50.79, abs=0.005)
    assert total / 9.0 - 1.0 == pytest.approx(5.0, abs=0.5)
