"""Air as a second gas: what blends draw of it, what it costs when it is gone, and that nobody breathes it for oxygen.

Figures by hand. At FiO2 0.30 the share of oxygen is (0.30 - 0.21) / 0.79 = 0.11392, that of air 0.88608.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.constants import KPA_PER_PSI
from planner.cylinders.stock import held
from planner.flow.devices import air_formula, air_l_per_min, demand_l_per_min, formula, on_oxygen_alone
from planner.flow.flows import flows
from planner.gas.contents import contents_l
from planner.model import Device, Leg, Supply, Use
from planner.planning import plan
from planner.problems import ProblemsError
from planner.profile.read import parse_trip, read_trip
from planner.results import Plan, WhatIf
from planner.trade.catalog import air_sizes, find_size, sizes
from planner.trade.policy_table import policy_defaults
from tests.build import HIGH_PRESSURE, cylinder, flowmeter, leg, trip

BLEND = Device("blend", "blended_flow", flow_l_per_min=10.0, fio2=0.3, bleed_l_per_min=0.0, air="airs")
VENT = Device(
    "vent",
    "ventilator",
    minute_volume_l_per_min=6.0,
    bias_flow_l_per_min=2.0,
    leak_l_per_min=1.0,
    fio2=0.4,
    drive="pneumatic",
    drive_gas_l_per_min=0.5,
    driven_by="air",
    air="airs",
    without_air="oxygen",
    if_it_fails="bag",
)
OUTLETS = (flowmeter(), HIGH_PRESSURE)


def oxygen(*gauges_psi: float, size: str = "US-E") -> Supply:
    """A cart of oxygen."""
    found = tuple(cylinder(f"O{number}", psi, size) for number, psi in enumerate(gauges_psi, 1))
    return Supply("cart", "cylinders", cylinders=found)


def air(*gauges_psi: float, size: str = "US-E") -> Supply:
    """A supply of air, in shells of the same size."""
    found = tuple(cylinder(f"L{number}", psi, size, gas="air") for number, psi in enumerate(gauges_psi, 1))
    return Supply("airs", "cylinders", cylinders=found, gas="air")


def row(found: Plan, name: str, supply: str) -> WhatIf:
    """A what-if on a supply."""
    (one,) = [each for each in found.whatifs if (each.name, each.supply) == (name, supply)]
    return one


@pytest.mark.parametrize(
    ("device", "of_oxygen", "of_air"),
    [
        # 10 x 0.11392 and 10 x 0.88608
        (BLEND, 1.1392, 8.8608),
        # (2 + 3) x 0.11392, not 2 x 0.11392 = 0.23: what the blender lets go is blended too
        (BLEND._replace(flow_l_per_min=2.0, bleed_l_per_min=3.0), 0.5696, 4.4304),
        # (6 + 2 + 1) x 0.19 / 0.79 = 2.1646; 9 - 2.1646 + 0.5 of driving gas
        (VENT, 2.1646, 7.3354),
        # driven by oxygen, the 0.5 L/min are on the other side
        (VENT._replace(driven_by="oxygen"), 2.6646, 6.8354),
        (BLEND._replace(air="compressor"), 1.1392, 0.0),
        (BLEND._replace(air="room"), 1.1392, 0.0),
        (Device("prongs", "high_flow_nasal", flow_l_per_min=50.0, fio2=0.605, air="airs"), 25.0, 25.0),
    ],
)
def test_what_a_blend_draws_of_each_gas(device: Device, of_oxygen: float, of_air: float) -> None:
    assert demand_l_per_min(device) == pytest.approx(of_oxygen, abs=5e-5)
    assert air_l_per_min(device) == pytest.approx(of_air, abs=5e-5)
    assert f"{of_oxygen:.4g} L/min" in formula(device)


def test_the_formula_of_the_air_has_the_numbers_put_in() -> None:
    assert air_formula(BLEND) == "(10 + 0) x (1 - (0.3 - 0.21) / 0.79) = 8.861 L/min"
    assert air_formula(VENT) == "(6 + 2 + 1) x (1 - (0.4 - 0.21) / 0.79) + 0.5 = 7.335 L/min"


@pytest.mark.hazard(39)
def test_without_air_all_that_flows_is_oxygen() -> None:
    bleeding = BLEND._replace(flow_l_per_min=2.0, bleed_l_per_min=3.0)
    assert demand_l_per_min(on_oxygen_alone(bleeding)) == pytest.approx(5.0)
    assert demand_l_per_min(on_oxygen_alone(VENT)) == pytest.approx(9.5)
    assert air_l_per_min(on_oxygen_alone(VENT)) == 0.0


def test_a_blender_that_does_not_say_is_never_taken_for_nought() -> None:
    for silent, missing in (
        (BLEND._replace(bleed_l_per_min=None), "bleed_l_per_min"),
        (BLEND._replace(air=None), "air"),
    ):
        with pytest.raises(ValueError, match=missing):
            plan(trip([oxygen(2000)], leg(30.0, silent)))


def test_both_gases_flow_each_on_its_own_supply() -> None:
    found = flows([leg(30.0, BLEND)])
    assert {name: flow[0].flow_l_per_min for name, flow in found.items()} == {
        "cart": pytest.approx(1.1392, abs=5e-5),
        "airs": pytest.approx(8.8608, abs=5e-5),
    }


def test_air_in_the_same_shell() -> None:
    """0.944 of the oxygen at 1900 psi (CoolProp; the labels 625 and 660 L of ASTM F1161 say 0.947)."""
    ratio = contents_l(1900 * KPA_PER_PSI, 21.1, 3.0, "air") / contents_l(1900 * KPA_PER_PSI, 21.1, 3.0)
    assert ratio == pytest.approx(0.944, abs=0.0005)
    shell = held(cylinder("O", 1900), oxygen(), policy_defaults("road"))
    of_air = held(cylinder("L", 1900, gas="air"), air(), policy_defaults("road"))
    assert of_air.contents_l / shell.contents_l == pytest.approx(0.944, abs=0.0005)
    # The gauge comes back to where it was, by air and not by oxygen.
    assert of_air.gauge_for(of_air.usable_l, 500 * KPA_PER_PSI) == pytest.approx(1900 * KPA_PER_PSI)


@pytest.mark.parametrize("code", air_sizes())
def test_a_size_of_air_is_the_shell_of_oxygen(code: str) -> None:
    of_air, shell = find_size(code, "air"), sizes()[code]
    assert of_air is not None
    assert (of_air.water_capacity_l, of_air.filling_gauge_kpa) == (shell.water_capacity_l, shell.filling_gauge_kpa)
    assert 0.90 < of_air.contents_l / shell.contents_l < 0.96
    assert of_air.connection.startswith("AIR")
    assert "2-5" not in of_air.connection
    assert ("1-5" in of_air.connection) == ("2-5" in shell.connection)
    assert of_air.factor_l_per_psi * of_air.filling_gauge_kpa / KPA_PER_PSI == pytest.approx(of_air.contents_l)


def test_the_layers_of_air_are_the_factor_alone() -> None:
    """30 min: air 265.8 L, half of it again 132.9. Oxygen 34.2 L and as much for reserve_time 30 min at 1.139 L/min."""
    found = plan(trip([oxygen(2000, 2000), air(2000, 2000)], leg(30.0, BLEND), setting="road"))
    of_air, of_oxygen = found.supplies["airs"].need, found.supplies["cart"].need
    assert of_air.planned_l == pytest.approx(265.82, abs=0.01)
    assert of_air.reserve_l == pytest.approx(132.91, abs=0.01)
    assert of_air.time_reserve_l == 0.0
    assert of_oxygen.reserve_l == pytest.approx(34.18, abs=0.01)
    assert found.supplies["airs"].usable_without_spare_l == found.supplies["airs"].usable_l
    assert not [one for one in found.whatifs if one.supply == "airs" and one.name.endswith("cylinder_lost")]
    assert found.verdict == "go"


@pytest.mark.hazard(39)
def test_air_lost_from_departure_draws_the_whole_flow_as_oxygen() -> None:
    """30 min x 10 L/min = 300 L from departure, where 34 were planned: one cylinder of 424 L does, one of 243 L not."""
    enough = plan(trip([oxygen(2000), air(2000, 2000)], leg(30.0, BLEND), setting="in_house"))
    lost = row(enough, "air_lost", "cart")
    usable_l = enough.supplies["cart"].usable_l
    assert usable_l is not None
    assert (lost.holds, lost.must_hold, lost.from_min) == (True, True, 0.0)
    assert lost.minutes_to_spare == pytest.approx((usable_l - 300.0) / 10.0)
    short = plan(trip([oxygen(2000, size="US-D"), air(2000, 2000)], leg(30.0, BLEND), setting="in_house"))
    lost, usable_l = row(short, "air_lost", "cart"), short.supplies["cart"].usable_l
    assert usable_l is not None
    assert usable_l < 300.0
    assert not lost.holds
    assert lost.runs_out_min == pytest.approx(usable_l / 10.0)
    assert short.verdict == "no-go"


@pytest.mark.hazard(39)
@pytest.mark.parametrize("source", ["compressor", "airs"])
def test_a_compressor_can_stop_like_a_cylinder_can_be_lost(source: str) -> None:
    found = plan(trip([oxygen(2000), air(2000, 2000)], leg(30.0, BLEND._replace(air=source)), setting="in_house"))
    assert row(found, "air_lost", "cart").holds


def test_room_air_is_never_lost() -> None:
    found = plan(trip([oxygen(2000)], leg(30.0, BLEND._replace(air="room")), setting="in_house"))
    assert not [one for one in found.whatifs if one.name == "air_lost"]


@pytest.mark.hazard(39)
@pytest.mark.parametrize(("without_air", "flow"), [("oxygen", 9.5), ("fallback", 15.0)])
def test_a_ventilator_without_air_does_what_it_says(without_air: str, flow: float) -> None:
    vent = VENT._replace(without_air=without_air)  # type: ignore[arg-type]
    found = plan(trip([oxygen(2000, size="US-H"), air(2000, size="US-H")], leg(30.0, vent), setting="in_house"))
    lost, usable_l = row(found, "air_lost", "cart"), found.supplies["cart"].usable_l
    assert usable_l is not None
    assert lost.minutes_to_spare == pytest.approx((usable_l - 30.0 * flow) / flow)


@pytest.mark.hazard(39)
def test_never_go_with_an_air_cylinder_that_the_trip_uses_up() -> None:
    """A D of air at 2000 psi holds some 225 L usable: 25 min at 8.861 L/min. Oxygen for the whole flow is at hand."""
    found = plan(trip([oxygen(2000, 2000), air(2000, size="US-D")], leg(30.0, BLEND), setting="in_house"))
    airs = found.supplies["airs"]
    assert airs.usable_l is not None
    assert airs.usable_l < airs.need.planned_l
    assert row(found, "air_lost", "cart").holds
    assert found.verdict == "no-go"
    stops = [one for one in found.findings if one.level == "stop"]
    assert ("not_enough", True) in [(one.code, "airs" in one.message) for one in stops]


def test_settings_rise_is_hard_on_the_other_gas_by_falling() -> None:
    """Oxygen: 30 x 10 L at FiO2 1.00. Air: 30 x 10 L at FiO2 0.21."""
    found = plan(trip([oxygen(2000, 2000), air(2000, 2000)], leg(30.0, BLEND), setting="in_house"))
    for supply in ("cart", "airs"):
        usable_l = found.supplies[supply].usable_l
        assert usable_l is not None
        assert row(found, "settings_rise", supply).minutes_to_spare == pytest.approx((usable_l - 300.0) / 10.0)


def test_air_is_carried_on_when_no_wall_is_free() -> None:
    """Wall air on the way; on arrival it stays behind. With portable air the blend goes on, else on oxygen alone."""
    wall = Supply("wall", "pipeline")
    wall_air = Supply("wall_air", "pipeline", gas="air")
    there = Leg("at the wall", 20.0, (Use(BLEND._replace(air="wall_air"), "wall"),), "wall")
    alone = plan(trip([oxygen(2000), wall, wall_air], there, setting="in_house"))
    usable_l = alone.supplies["cart"].usable_l
    assert usable_l is not None
    # 10 min x 10 L/min of oxygen
    assert row(alone, "no_wall_on_arrival", "cart").litres_left == pytest.approx(usable_l - 100.0)
    both = plan(trip([oxygen(2000), air(2000), wall, wall_air], there, setting="in_house"))
    usable_l, air_l = both.supplies["cart"].usable_l, both.supplies["airs"].usable_l
    assert usable_l is not None
    assert air_l is not None
    assert row(both, "no_wall_on_arrival", "cart").litres_left == pytest.approx(usable_l - 11.392, abs=0.001)
    assert row(both, "no_wall_on_arrival", "airs").litres_left == pytest.approx(air_l - 88.608, abs=0.001)


@pytest.mark.hazard(44)
@pytest.mark.parametrize(("supply_gas", "cylinder_gas"), [("air", "oxygen"), ("oxygen", "air")])
def test_a_cylinder_of_the_other_gas_counts_for_nothing(supply_gas: str, cylinder_gas: str) -> None:
    wrong = cylinder("X", 2000, gas=cylinder_gas)
    supplies = [oxygen(2000, 2000, 2000), air(2000, 2000)]
    place = 1 if supply_gas == "air" else 0
    supplies[place] = supplies[place]._replace(cylinders=(wrong,))
    found = plan(trip(supplies, leg(30.0, BLEND), setting="in_house"))
    assert found.supplies[supplies[place].name].usable_l == 0.0
    (stop,) = [one for one in found.findings if one.code == "wrong_gas"]
    assert stop.level == "stop"
    assert f"holds {cylinder_gas}, not {supply_gas}" in stop.message
    assert f"{supply_gas} {'1-5' if supply_gas == 'air' else '2-5'}" in stop.fix


@pytest.mark.hazard(44)
def test_a_device_on_oxygen_never_draws_on_air() -> None:
    crossed = Leg("crossed", 30.0, (Use(BLEND._replace(air="cart"), "airs"),), "airs")
    found = plan(trip([oxygen(2000, 2000), air(2000, 2000)], crossed, setting="in_house"))
    stops = [one.message for one in found.findings if one.code == "wrong_gas"]
    assert stops == [
        "blend takes its air from cart, which holds oxygen.",
        "blend takes its oxygen from airs, which holds air.",
    ]


TRIP = """\
profile: 1
trip: Newborn on two gases
setting: in_house
supplies:
  cart: {outlets: [high_pressure], cylinders: [{label: O1, size: US-E, gauge: 2000 psi}]}
  airs:
    gas: air
    outlets: [high_pressure]
    cylinders: [{label: L1, size: US-E, gauge: 2000 psi}, {label: L2, size: US-E, gauge: 2000 psi, gas: air}]
devices:
  blend: {type: blended_flow, flow: 10 L/min, bleed: 0 L/min, fio2: 30 %, air: airs}
legs:
  - {name: Ward to scan, duration: 30 min, supply: cart, devices: [blend]}
"""


def problem(text: str) -> str:
    """The one problem that a profile gives."""
    with pytest.raises(ProblemsError) as caught:
        parse_trip(text)
    (one,) = caught.value.problems
    return f"{one.code}: {one.found}; {one.allowed}; {one.fix}"


def test_a_profile_of_two_gases_is_read_and_planned() -> None:
    found = plan(parse_trip(TRIP))
    assert [each.gas for each in found.trip.supplies["airs"].cylinders] == ["air", "air"]
    assert found.supplies["airs"].need.planned_l == pytest.approx(265.82, abs=0.01)
    # 576 L of air at 2200 psi in the shell that holds 616 L of oxygen: 0.2620 L/psi
    assert found.trip.supplies["airs"].cylinders[0].factor_l_per_psi == pytest.approx(0.262, abs=0.0005)
    assert found.verdict == "go"


@pytest.mark.hazard(39)
def test_a_blender_that_forgets_its_air_is_a_problem() -> None:
    told = problem(TRIP.replace(", air: airs}", "}"))
    assert told.startswith("key_missing: blended flow `blend` without `air`")
    assert "`air: compressor` or `air: room`" in told
    told = problem(TRIP.replace(" bleed: 0 L/min,", ""))
    assert "without `bleed`" in told
    assert "manual" in told


@pytest.mark.hazard(44)
@pytest.mark.parametrize(
    ("old", "new", "starts", "holds"),
    [
        ("air: airs}", "air: cart}", "wrong_gas: air `cart`, a supply of oxygen", "(`airs`)"),
        ("air: airs}", "air: cylinder}", "supply_unknown: air `cylinder`", "compressor, room"),
        ("supply: cart, devices", "supply: airs, devices", "wrong_gas: supply `airs`, which holds air", "`air: airs`"),
        ("devices: [blend]", "devices: [{use: blend, supply: airs}]", "wrong_gas: supply `airs`", "oxygen: cart"),
        ("gas: air\n", "gas: air\n    backup: cart\n", "of_no_use: backup on supply `airs`", "air_lost"),
        ("cart: {", "cart: {backup: airs, ", "wrong_gas: backup `airs`, which holds air", "a supply of oxygen"),
        ("L1, size: US-E", "L1, size: US-M6", "size_unknown: size `US-M6` of air", "`contents:` of air"),
    ],
)
def test_gases_that_are_crossed_are_problems(old: str, new: str, starts: str, holds: str) -> None:
    told = problem(TRIP.replace(old, new))
    assert told.startswith(starts), told
    assert holds in told, told


VENTILATOR = (
    "blend: {type: ventilator, minute_volume: 6 L/min, fio2: 40 %, bias_flow: 2 L/min, leak: 1 L/min, "
    "drive: pneumatic, drive_gas: 0.5 L/min, driven_by: air, air: airs, without_air: oxygen}"
)


@pytest.mark.parametrize(
    ("old", "new", "starts"),
    [
        (", without_air: oxygen", "", "key_missing: ventilator `blend` without `without_air`"),
        (", air: airs, without_air: oxygen", "", "key_missing: driven_by air, and no air at pressure"),
        (
            "driven_by: air, air: airs, without_air: oxygen",
            "without_air: oxygen",
            "of_no_use: without_air on a ventilator with room air",
        ),
        ("bias_flow: 2 L/min, leak: 1 L/min", "rule: minute_volume_times_fio2", "two_ways: air `airs` beside `rule`"),
    ],
)
def test_what_a_ventilator_must_say_of_its_air(old: str, new: str, starts: str) -> None:
    blend = TRIP[TRIP.index("blend: {type") : TRIP.index("\nlegs:")]
    text = TRIP.replace(blend, VENTILATOR)
    parse_trip(text)
    assert problem(text.replace(old, new)).startswith(starts)


def test_a_leg_may_take_its_air_from_elsewhere() -> None:
    text = TRIP.replace("devices: [blend]", "devices: [{use: blend, air: room}]")
    assert "airs" not in flows(parse_trip(text).legs)


def test_in_a_store_that_two_gases_share_silence_means_oxygen(tmp_path: Path) -> None:
    """Each supply takes its own gas from the one list, and an air cylinder is one only where it says so."""
    (tmp_path / "store.yaml").write_text(
        "cylinders:\n"
        + "".join(f"  - {{label: O{n}, size: US-E, gauge: 2000 psi, outlets: [high_pressure]}}\n" for n in (1, 2, 3))
        + "".join(
            f"  - {{label: L{n}, size: US-E, gauge: 2000 psi, outlets: [high_pressure], gas: air}}\n" for n in (1, 2, 3)
        ),
        encoding="utf-8",
    )
    start, end = TRIP.index("  cart:"), TRIP.index("devices:")
    supplies = "  cart: {store: store.yaml}\n  airs: {gas: air, store: store.yaml}\n"
    (tmp_path / "trip.yaml").write_text(TRIP[:start] + supplies + TRIP[end:], encoding="utf-8")
    found = plan(read_trip(tmp_path / "trip.yaml"))
    chosen = {name: {one.cylinder.label[0] for one in supply.cylinders} for name, supply in found.supplies.items()}
    assert chosen == {"cart": {"O"}, "airs": {"L"}}
    assert found.verdict == "go"
    said = [one.message for one in found.findings if one.code == "chosen_from_store"]
    assert [each.partition("use: ")[2] for each in said] == [
        "O1.",
        "AIR L1, AIR L2.",
    ]  # 30 min at 10 L/min, air lost: 300 L of 424


def test_a_store_with_oxygen_alone_lacks_air(tmp_path: Path) -> None:
    """Four full cylinders of oxygen stand there, and nothing for the air of the blend: what lacks is air."""
    (tmp_path / "store.yaml").write_text(
        "cylinders:\n"
        + "".join(
            f"  - {{label: O{n}, size: US-E, gauge: 2000 psi, outlets: [high_pressure]}}\n" for n in (1, 2, 3, 4)
        ),
        encoding="utf-8",
    )
    start, end = TRIP.index("  cart:"), TRIP.index("devices:")
    supplies = "  cart: {store: store.yaml}\n  airs: {gas: air, store: store.yaml}\n"
    (tmp_path / "trip.yaml").write_text(TRIP[:start] + supplies + TRIP[end:], encoding="utf-8")
    found = plan(read_trip(tmp_path / "trip.yaml"))
    assert found.supplies["airs"].cylinders == ()
    (stop,) = [one.message for one in found.findings if one.code == "no_choice"]
    assert "none of the 4 cylinders in the store has usable air" in stop


def test_sizes_of_air_are_counted_with_air() -> None:
    """30 min: 398.7 L required, and full at 2000 psi an E gives some 385 L of air: two."""
    start, end = TRIP.index("    cylinders: [{label: L1"), TRIP.index("devices:")
    found = plan(parse_trip(TRIP[:start] + "    sizes: [US-E]\n" + TRIP[end:]))
    (count,) = found.supplies["airs"].full_cylinders
    assert count.usable_each_l == pytest.approx(
        contents_l(2000 * KPA_PER_PSI, 21.1, sizes()["US-E"].water_capacity_l, "air")
        - contents_l(500 * KPA_PER_PSI, 21.1, sizes()["US-E"].water_capacity_l, "air")
    )
    assert count.count == 2


@pytest.mark.hazard(39)
def test_a_newborn_with_137_litres_asked_and_460_at_hand_would_end_at_46_of_80_min_without_air() -> None:
    """80 min at 1.139 L/min are 91.1 L, half as much again 136.7. On oxygen alone 460 L last 46 min at 10 L/min."""
    oxygen = Supply("cart", "litres", stated_l=460.0, outlets=(HIGH_PRESSURE,))
    airs = Supply("airs", "pipeline", gas="air")
    found = plan(trip([oxygen, airs], leg(80.0, BLEND)))
    assert found.supplies["cart"].need.required_l == pytest.approx(136.7, abs=0.05)
    (row,) = [one for one in found.whatifs if one.name == "air_lost"]
    assert (row.holds, row.must_hold) == (False, True)
    assert row.runs_out_min == pytest.approx(46.0)
    assert found.verdict == "no-go"
    enough = trip([oxygen._replace(stated_l=800.0), airs], leg(80.0, BLEND))
    assert [one.holds for one in plan(enough).whatifs if one.name == "air_lost"] == [True]
