"""Profiles that are read: what each key of the language becomes in the model.

Expected values are worked by hand beside each test, in the units of the profile and exact conversions
(1 psi = 6.894757293168361 kPa, NIST SP 811; 1 ft = 0.3048 m and 1 lb = 0.45359237 kg, exact by definition).
"""

from __future__ import annotations

import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.gas import contents
from planner.model import DEFAULT_OUTLETS, Outlet, Trip
from planner.problems import NOWHERE, Position, ProblemsError
from planner.profile.read import parse_trip, read_trip
from planner.trade.catalog import find_size

PSI = 6.894757293168361
ROOT = Path(__file__).resolve().parent.parent

TRIP = """\
profile: 1
trip: Ventilated adult, ward to scanner and on to the unit
reference: T-0001
setting: road
supplies:
  wall:
    pipeline: true
  cart:
    cylinders:
      - {label: A, size: US-E, gauge: 2000 psi, outlets: [{flowmeter: 25 L/min}, high_pressure]}
      - {label: B, contents: 680 L at 2015 psi, gauge: 1950 psi}
  ambulance:
    fixed: true
    cylinders:
      - {label: main, size: US-M, gauge: 1700 psi}
    coldest: 23 degF
devices:
  vent:
    type: ventilator
    drive: pneumatic
    tidal_volume: 450 mL
    rate: 16/min
    fio2: 60 %
    drive_gas: 0.5 L/min
    bias_flow: 0 L/min
    leak: 0 L/min
    if_it_fails: bag
  bag: {type: manual_resuscitator, flow: 15 L/min}
  neb: {type: nebulizer, flow: 8 L/min}
legs:
  - name: Ward to bay
    duration: 12 min
    delays:
      - {reason: waiting for the lift, time: 1 min 30 s}
    supply: cart
    devices: [vent]
    no_change: true
  - name: On the road
    duration: 1 h 5 min
    longest: 80 min
    supply: ambulance
    by: road
    devices:
      - vent
      - {use: neb, for: 10 min, supply: cart}
"""


def with_(old: str, new: str, text: str = TRIP) -> str:
    """The text with one piece replaced; the piece must stand there once."""
    assert text.count(old) == 1
    return text.replace(old, new)


def problems(text: str, *changes: str) -> list[tuple[int, str]]:
    """Line and code of every problem of a text."""
    with pytest.raises(ProblemsError) as caught:
        parse_trip(text, changes=changes)
    return [(problem.line, problem.code) for problem in caught.value.problems]


def supply_of(lines: str) -> str:
    """A trip whose supply `cart` holds the given lines, each indented by four."""
    body = "".join(f"    {line}\n" for line in lines.splitlines())
    return (
        "profile: 1\ntrip: t\nsupplies:\n  cart:\n"
        + body
        + "devices:\n  cannula: {type: nasal_cannula, flow: 2 L/min}\n"
        "legs:\n  - {name: l, duration: 10 min, supply: cart, devices: [cannula]}\n"
    )


def cylinder_of(entries: str) -> str:
    """A trip with one cylinder of the given entries."""
    return supply_of(f"cylinders:\n  - {{{entries}}}")


def device_of(lines: str, use: str = "d") -> str:
    """A trip with a device `d` of the given lines, used as given."""
    body = "".join(f"    {line}\n" for line in lines.splitlines())
    return (
        "profile: 1\ntrip: t\nsupplies:\n  cart: {litres: 3000 L}\n"
        "devices:\n  bag: {type: manual_resuscitator, flow: 15 L/min}\n"
        f"  d:\n{body}legs:\n  - {{name: l, duration: 10 min, supply: cart, devices: [{use}]}}\n"
    )


# The whole


def test_every_part_arrives_in_the_model() -> None:
    trip = parse_trip(TRIP, "t.yaml")
    assert (trip.name, trip.reference, trip.setting, trip.setting_given) == (
        "Ventilated adult, ward to scanner and on to the unit",
        "T-0001",
        "road",
        True,
    )
    assert [(supply.name, supply.kind) for supply in trip.supplies.values()] == [
        ("wall", "pipeline"),
        ("cart", "cylinders"),
        ("ambulance", "cylinders"),
    ]
    a, b = trip.supplies["cart"].cylinders
    assert a.gauge_kpa == pytest.approx(2000 * PSI, rel=1e-12)
    assert a.outlets == (Outlet("flowmeter", 25.0), Outlet("high_pressure"))
    assert (a.size, a.factor_l_per_psi, a.label_contents) == ("US-E", 0.28, None)
    assert (b.size, b.label_contents, b.outlets) == (None, "680 L at 2015 psi", None)
    assert trip.supplies["cart"].outlets_of(b) == DEFAULT_OUTLETS
    ambulance = trip.supplies["ambulance"]
    assert ambulance.fixed
    assert ambulance.coldest_degc == pytest.approx(-5.0)  # 23 degF = (23 - 32) / 1.8
    vent = trip.devices["vent"]
    assert (vent.tidal_volume_l, vent.rate_per_min, vent.fio2) == (0.45, 16.0, 0.6)
    assert (vent.drive, vent.drive_gas_l_per_min, vent.if_it_fails) == ("pneumatic", 0.5, "bag")
    bay, road = trip.legs
    assert (bay.duration_min, bay.total_min, bay.no_change) == (12.0, 13.5, True)
    assert (road.duration_min, road.longest_min, road.by) == (65.0, 80.0, "road")
    assert [(use.device.name, use.supply, use.for_min) for use in road.uses] == [
        ("vent", "ambulance", None),
        ("neb", "cart", 10.0),
    ]


def test_places_point_into_the_profile() -> None:
    trip = parse_trip(TRIP)
    assert trip.supplies["cart"].where == Position(8, 3)
    assert trip.supplies["cart"].cylinders[1].where == Position(11, 9)
    assert trip.devices["neb"].where == Position(29, 3)
    assert trip.legs[1].where == Position(38, 5)
    assert trip.legs[1].uses[1].where == Position(45, 9)


def test_what_is_silent_takes_its_default() -> None:
    trip = parse_trip(with_("setting: road\n", ""))
    assert (trip.setting, trip.setting_given) == ("road", False)
    assert trip.departs is None
    assert trip.home_altitude_m == 0.0
    assert trip.home_pressure_kpa == pytest.approx(101.325)
    cylinder = trip.supplies["cart"].cylinders[0]
    assert (cylinder.gas, cylinder.verified, cylinder.magnet_safe) == ("oxygen", None, False)


def test_home_altitude_gives_the_pressure_of_the_standard_atmosphere() -> None:
    # US Standard Atmosphere, 1976: 89.87 kPa at 1000 m (89.9 kPa also in the Arch Dis Child table).
    trip = parse_trip(with_("setting: road\n", "setting: road\nhome_altitude: 1000 m\n"))
    assert trip.home_pressure_kpa == pytest.approx(89.87, abs=0.01)


# Supplies and cylinders


def test_label_wins_over_the_catalogue() -> None:
    # 660 L at 1900 psi: the size E by ASTM F1161-88, as quoted in Nagelhout and Zaglaniczny, Nurse Anesthesia, 2001.
    (cylinder,) = (
        parse_trip(cylinder_of("label: A, size: US-E, contents: 660 L at 1900 psi, gauge: 1900 psi"))
        .supplies["cart"]
        .cylinders
    )
    assert contents.contents_l(1900 * PSI, 21.1, cylinder.water_capacity_l) == pytest.approx(660.0, rel=1e-9)
    assert cylinder.factor_l_per_psi == pytest.approx(660 / 1900)
    assert cylinder.filling_gauge_kpa == pytest.approx(1900 * PSI)
    assert cylinder.size == "US-E"


@pytest.mark.parametrize(("label", "degc"), [("460 L at 230 bar", 15.0), ("460 L at 230 bar at 21.1 degC", 21.1)])
def test_label_temperature(label: str, degc: float) -> None:
    # 460 L at 23 000 kPa: Lutman and Petros, Emerg Med J 2006;23:703.
    (cylinder,) = parse_trip(cylinder_of(f"label: A, contents: {label}, gauge: 200 bar")).supplies["cart"].cylinders
    assert contents.contents_l(23_000.0, degc, cylinder.water_capacity_l) == pytest.approx(460.0, rel=1e-9)


def test_water_capacity_as_stamped() -> None:
    text = cylinder_of(
        "label: A, water_capacity: 4.7 L, filling: 200 bar, gauge: 180 bar, mass: 20 lb, gauge_scale: 315 bar"
    )
    (cylinder,) = parse_trip(text).supplies["cart"].cylinders
    assert (cylinder.water_capacity_l, cylinder.filling_gauge_kpa, cylinder.gauge_kpa) == (4.7, 20_000.0, 18_000.0)
    full_l = contents.contents_l(20_000.0, 15.0, 4.7)
    assert cylinder.factor_l_per_psi * 20_000.0 / PSI == pytest.approx(full_l)
    assert cylinder.mass_kg == pytest.approx(9.0718474)
    assert cylinder.gauge_scale_kpa == 31_500.0


def test_manifold_takes_its_one_gauge() -> None:
    both = "cylinders: [{label: A, size: US-H}, {label: B, size: US-H}]"
    supply = parse_trip(supply_of(f"manifold: true\ngauge: 1500 psi\n{both}")).supplies["cart"]
    assert supply.kind == "manifold"
    assert [cylinder.gauge_kpa for cylinder in supply.cylinders] == [pytest.approx(1500 * PSI)] * 2
    each = both.replace("US-H}", "US-H, gauge: 1500 psi}")
    spelt_out = parse_trip(supply_of(f"manifold: true\n{each}")).supplies["cart"]
    assert [cylinder._replace(where=NOWHERE) for cylinder in spelt_out.cylinders] == [
        cylinder._replace(where=NOWHERE) for cylinder in supply.cylinders
    ]


def test_kinds_of_supply() -> None:
    litres = parse_trip(supply_of("litres: 3000 L\noutlets: [{flowmeter: 15 L/min}]")).supplies["cart"]
    assert (litres.kind, litres.stated_l, litres.outlets) == ("litres", 3000.0, (Outlet("flowmeter", 15.0),))
    sizes = parse_trip(supply_of("sizes: [US-D, {size: UK-CD, outlets: [high_pressure]}]")).supplies["cart"]
    assert (sizes.kind, sizes.cylinders) == ("sizes", ())
    assert [(asked.size, asked.outlets) for asked in sizes.sizes] == [
        ("US-D", None),
        ("UK-CD", (Outlet("high_pressure"),)),
    ]


def test_sizes_asked_come_before_sizes_in_use() -> None:
    text = supply_of(
        "sizes: [US-D]\ncylinders:\n  - {label: A, size: US-E, gauge: 2000 psi, outlets: [high_pressure]}\n"
        "  - {label: B, size: US-E, gauge: 2000 psi}"
    )
    sizes = parse_trip(text).supplies["cart"].sizes
    assert [(asked.size, asked.outlets) for asked in sizes] == [("US-D", None), ("US-E", (Outlet("high_pressure"),))]


def test_full_reads_full_at_for_us_sizes_and_nine_tenths_of_filling_for_others() -> None:
    text = with_("trip: t\n", "trip: t\npolicy: {full_at: 1800 psi}\n", supply_of("sizes: [US-E, UK-CD, ISO-10]"))
    full = [asked.full_gauge_kpa for asked in parse_trip(text).supplies["cart"].sizes]
    assert full == [pytest.approx(1800 * PSI), pytest.approx(0.9 * 23_000), pytest.approx(0.9 * 20_000)]


def test_a_full_cylinder_never_reads_above_its_filling_pressure() -> None:
    text = with_("trip: t\n", "trip: t\npolicy: {full_at: 3000 psi}\n", supply_of("sizes: [US-E]"))
    assert parse_trip(text).supplies["cart"].sizes[0].full_gauge_kpa == pytest.approx(2200 * PSI)


def test_only_portable_supply_is_the_backup_of_a_fixed_one() -> None:
    assert parse_trip(TRIP).supplies["ambulance"].backup == "cart"
    two = with_("  ambulance:\n", "  bag: {litres: 300 L}\n  ambulance:\n")
    assert parse_trip(two).supplies["ambulance"].backup is None
    named = with_("    fixed: true\n", "    fixed: true\n    backup: bag\n", two)
    assert parse_trip(named).supplies["ambulance"].backup == "bag"


def test_store_to_choose_from(tmp_path: Path) -> None:
    listed = "[{label: S1, size: US-E, gauge: 2000 psi}, {label: S2, size: US-D, gauge: 1900 psi}]"
    limits = "weight_limit: 20 kg\nplaces: 3\nprefer: part_used"
    supply = parse_trip(supply_of(f"store: {listed}\n{limits}")).supplies["cart"]
    assert (supply.kind, supply.cylinders, supply.places, supply.prefer) == ("cylinders", (), 3, "part_used")
    assert supply.weight_limit_kg == 20.0
    assert supply.store is not None
    assert [cylinder.label for cylinder in supply.store] == ["S1", "S2"]
    (tmp_path / "store.yaml").write_text(f"cylinders: {listed}\n", encoding="utf-8")
    from_file = parse_trip(supply_of(f"store: store.yaml\n{limits}"), folder=tmp_path).supplies["cart"].store
    assert from_file is not None
    assert [(one.label, one.gauge_kpa) for one in from_file] == [(one.label, one.gauge_kpa) for one in supply.store]


@pytest.mark.hazard(3)
def test_bare_size_is_refused_and_both_systems_are_offered_with_their_litres() -> None:
    with pytest.raises(ProblemsError) as caught:
        parse_trip(cylinder_of("label: A, size: D, gauge: 1900 psi"))
    (problem,) = caught.value.problems
    assert (problem.line, problem.column, problem.code) == (6, 26, "size_without_system")
    # 0.16 L/psi x 2200 psi = 352 L (respiratory care textbooks); 340 L at 13 700 kPa (Lutman and Petros 2006).
    assert "US-D (352 L at 2200 psi)" in problem.allowed
    assert "UK-D (340 L at 137 bar)" in problem.allowed


@pytest.mark.hazard(4)
@pytest.mark.parametrize(
    "entries",
    [
        "label: A, size: US-E, gauge: 1900",
        "label: A, size: US-E, gauge: 1900 bar",  # psi meant
        "label: A, size: US-E, gauge: 200 bar",  # 2901 psi on a cylinder filled to 2200 psi
        "label: A, contents: 460 L at 230 psi, gauge: 2000 psi",  # bar meant
    ],
)
def test_slip_of_the_unit_of_pressure_is_refused(entries: str) -> None:
    assert len(problems(cylinder_of(entries))) == 1


def test_a_warm_overfilled_cylinder_is_read() -> None:
    # 1.25 x 2200 psi = 2750 psi: up to there the plan gives a caution, beyond it the profile is refused.
    trip = parse_trip(cylinder_of("label: A, size: US-E, gauge: 2750 psi"))
    assert trip.supplies["cart"].cylinders[0].gauge_kpa == pytest.approx(2750 * PSI)
    assert problems(cylinder_of("label: A, size: US-E, gauge: 2751 psi")) == [(6, "gauge_above_filling")]


@pytest.mark.hazard(5)
@pytest.mark.parametrize(("written", "read"), [(", verified: true", True), (", verified: false", False), ("", None)])
def test_unverified_reading_stays_unverified(written: str, read: bool | None) -> None:
    trip = parse_trip(cylinder_of(f"label: A, size: US-E, gauge: 1900 psi{written}"))
    assert trip.supplies["cart"].cylinders[0].verified is read


@pytest.mark.hazard(19)
def test_gas_is_kept_so_that_the_plan_can_refuse_it() -> None:
    trip = parse_trip(cylinder_of("label: A, size: US-E, gauge: 1900 psi, gas: air"))
    assert trip.supplies["cart"].cylinders[0].gas == "air"


@pytest.mark.hazard(19)
@pytest.mark.parametrize(
    ("label", "refused"),
    [
        *((label, True) for label in ("nitrous 1", "NO 800 ppm", "NO-800ppm", "nitric oxide", "Carbon dioxide")),
        *((label, True) for label in ("compressed air", "breathing-air 2", "synthetic air", "medical compressed air")),
        *((label, True) for label in ("medical air", "medical heliox", "N2O 1", "AIR 2")),
        *((label, False) for label in ("air ambulance main", "No 2", "north 1", "carbon fibre 1", "medical 1")),
    ],
)
def test_a_label_that_names_another_gas_is_no_oxygen_until_its_gas_is_said(label: str, refused: bool) -> None:
    text = cylinder_of(f"label: {label}, size: US-E, gauge: 1900 psi")
    if refused:
        assert [code for _, code in problems(text)] == ["gas_not_said"]
    else:
        assert parse_trip(text).supplies["cart"].cylinders[0].gas == "oxygen"


def test_stand_in_values_never_leave_the_reader() -> None:
    assert problems(cylinder_of("label: A, size: US-E")) == [(6, "key_missing")]


# Devices and uses

VENT = """type: ventilator
drive: electric
tidal_volume: 500 mL
rate: 12/min
fio2: 40 %
bias_flow: 3 L/min
leak: 2 L/min"""


@pytest.mark.hazard(6)
def test_gas_driven_ventilator_needs_its_driving_gas() -> None:
    driven = VENT.replace("electric", "pneumatic")
    assert parse_trip(device_of(f"{driven}\ndrive_gas: 0 L/min")).devices["d"].drive_gas_l_per_min == 0.0
    with pytest.raises(ProblemsError) as caught:
        parse_trip(device_of(driven))
    (problem,) = caught.value.problems
    assert problem.code == "key_missing"
    assert "`drive_gas`" in problem.found
    assert "ventilator's manual" in problem.fix


@pytest.mark.hazard(7)
@pytest.mark.parametrize("key", ["leak", "bias_flow"])
def test_ventilator_needs_its_leak_and_bias_flow_said(key: str) -> None:
    lines = "\n".join(line for line in VENT.splitlines() if not line.startswith(key))
    with pytest.raises(ProblemsError) as caught:
        parse_trip(device_of(lines))
    assert [problem.found for problem in caught.value.problems] == [f"ventilator `d` without `{key}`"]
    ruled = (
        device_of(f"{lines}\nrule: minute_volume_times_fio2")
        .replace("leak: 2", "leak: 0")
        .replace("bias_flow: 3", "bias_flow: 0")
    )
    assert parse_trip(ruled).devices["d"].rule == "minute_volume_times_fio2"


@pytest.mark.parametrize(
    ("use", "minute_volume", "tidal_volume", "rate"),
    [
        ("{use: d, rate: 20/min}", None, 0.5, 20.0),
        ("{use: d, minute_volume: 9 L/min}", 9.0, None, None),
    ],
)
def test_use_replaces_tidal_volume_and_rate(
    use: str, minute_volume: float | None, tidal_volume: float | None, rate: float | None
) -> None:
    trip = parse_trip(device_of(VENT, use))
    device = trip.legs[0].uses[0].device
    assert (device.minute_volume_l_per_min, device.tidal_volume_l, device.rate_per_min) == (
        minute_volume,
        tidal_volume,
        rate,
    )
    assert (device.fio2, device.leak_l_per_min, device.name) == (0.4, 2.0, "d")
    assert trip.devices["d"].rate_per_min == 12.0


def test_use_replaces_minute_volume() -> None:
    lines = VENT.replace("tidal_volume: 500 mL\nrate: 12/min", "minute_volume: 6 L/min")
    device = parse_trip(device_of(lines, "{use: d, tidal_volume: 400 mL, rate: 15/min}")).legs[0].uses[0].device
    assert (device.minute_volume_l_per_min, device.tidal_volume_l, device.rate_per_min) == (None, 0.4, 15.0)


def test_use_replaces_one_form_of_cpap_by_the_other() -> None:
    to_flow = parse_trip(device_of("type: cpap\ntotal_flow: 60 L/min\nfio2: 40 %", "{use: d, oxygen_flow: 15 L/min}"))
    device = to_flow.legs[0].uses[0].device
    assert (device.oxygen_flow_l_per_min, device.total_flow_l_per_min, device.fio2) == (15.0, None, None)
    to_blend = parse_trip(device_of("type: cpap\noxygen_flow: 15 L/min", "{use: d, total_flow: 60 L/min, fio2: 0.40}"))
    device = to_blend.legs[0].uses[0].device
    assert (device.oxygen_flow_l_per_min, device.total_flow_l_per_min, device.fio2) == (None, 60.0, 0.4)


def test_use_to_electric_drive_drops_the_driving_gas_and_back_asks_for_it() -> None:
    driven = VENT.replace("electric", "pneumatic") + "\ndrive_gas: 0.5 L/min"
    assert parse_trip(device_of(driven, "{use: d, drive: electric}")).legs[0].uses[0].device.drive_gas_l_per_min is None
    assert problems(device_of(VENT, "{use: d, drive: pneumatic}")) == [(16, "key_missing")]


@pytest.mark.parametrize(
    "lines",
    [
        "type: nasal_cannula\nflow: 0 L/min",
        "type: simple_mask\nflow: 6 LPM",
        "type: reservoir_mask\nflow: 15 l/min",
        "type: tracheostomy_mask\nflow: 6 L/min",
        "type: nebulizer\nflow: 8 L/min",
        "type: manual_resuscitator\nflow: 15 L/min",
        "type: fixed_flow\nflow: 3 L/min",
        "type: oxygen_powered_suction\nflow: 40 L/min",
        "type: air_entrainment_mask\nflow: 6 L/min\nfio2: 35 %",
        "type: air_entrainment_mask\nflow: 6 L/min",
        "type: high_flow_nasal\nflow: 50 L/min\nfio2: 0.50",
        "type: blended_flow\nflow: 8 L/min\nbleed: 0 L/min\nair: room\nfio2: 1",
        "type: cpap\noxygen_flow: 15 L/min",
        "type: cpap\ntotal_flow: 60 L/min\nfio2: 21 %",
        VENT,
        "type: pulse_conserver\npulse_volume: 16 mL\nrate: 20/min\nif_it_fails: bag",
        "type: concentrator\nif_it_fails: bag",
    ],
)
def test_every_device_type_is_read(lines: str) -> None:
    device = parse_trip(device_of(lines)).legs[0].uses[0].device
    assert device.type == lines.split()[1]


def test_standby_devices_and_labels_of_patients_are_kept() -> None:
    lines = "type: nasal_cannula\nflow: 2 L/min\npatient: B\nmay_rise_to: bag\noutlet: high_pressure"
    device = parse_trip(device_of(lines)).devices["d"]
    assert (device.patient, device.may_rise_to, device.outlet) == ("B", "bag", "high_pressure")
    assert "bag" in parse_trip(device_of(lines)).devices


# Legs


@pytest.mark.hazard(16)
def test_flight_needs_its_cabin() -> None:
    flight = with_("by: road", "by: air")
    assert problems(flight) == [(38, "key_missing")]
    leg = parse_trip(with_("by: road", "by: air\n    cabin_altitude: 8000 ft")).legs[1]
    assert leg.cabin_altitude_m == pytest.approx(2438.4)
    # US Standard Atmosphere, 1976: 8000 ft is about 565 mmHg.
    assert leg.cabin_pressure_kpa == pytest.approx(75.26, abs=0.02)
    by_pressure = parse_trip(with_("by: road", "by: air\n    cabin_pressure: 565 mmHg")).legs[1]
    assert by_pressure.cabin_pressure_kpa == pytest.approx(565 * 0.133322387415)
    assert by_pressure.cabin_altitude_m == pytest.approx(2438.4, abs=10)


def test_part_of_a_leg_may_reach_to_the_end_of_its_delays() -> None:
    text = with_("    devices: [vent]\n", "    devices:\n      - {use: vent, for: 13 min 30 s}\n")
    assert parse_trip(text).legs[0].uses[0].for_min == 13.5
    assert problems(text.replace("13 min 30 s", "13 min 31 s")) == [(37, "longer_than_leg")]


def test_diversion_magnet_and_checked() -> None:
    text = with_("by: road", "divert: {to: Valley hospital, time: 20 min}\n    magnet: true")
    leg = parse_trip(text).legs[1]
    assert leg.divert is not None
    assert (leg.divert.to, leg.divert.time_min, leg.magnet) == ("Valley hospital", 20.0, True)


# Clock


@pytest.mark.hazard(24)
@pytest.mark.parametrize(
    ("lines", "utc"),
    [
        ("departs: 2026-12-03 14:20\ntimezone: Europe/Berlin", "2026-12-03 13:20"),  # winter time, UTC+1
        ("departs: 2026-07-03T14:20\ntimezone: Europe/Berlin", "2026-07-03 12:20"),  # summer time, UTC+2
        ("departs: 2026-12-03 14:20+05:45", "2026-12-03 08:35"),
        ("departs: 2026-12-03 14:20Z", "2026-12-03 14:20"),
        ("departs: 2026-10-25 02:30+02:00\ntimezone: Europe/Berlin", "2026-10-25 00:30"),  # before the clocks go back
        ("departs: 2026-10-25 02:30+01:00\ntimezone: Europe/Berlin", "2026-10-25 01:30"),  # after
    ],
)
def test_departure_is_one_moment(lines: str, utc: str) -> None:
    departs = parse_trip(with_("setting: road\n", f"setting: road\n{lines}\n")).departs
    assert departs is not None
    assert departs.astimezone(UTC) == datetime.fromisoformat(utc).replace(tzinfo=UTC)


@pytest.mark.parametrize(
    ("departs", "why"),
    [
        ("2028-02-30 14:20", "but that month has 29 days"),  # a leap year
        ("2026-04-31 14:20", "but that month has 30 days"),
        ("2026-04-00 14:20", "but that month has 30 days"),
        ("2026-13-01 14:20", "but there is no such month"),
        ("2026-00-01 14:20", "but there is no such month"),
        ("0000-01-01 14:20", "but there is no such month"),
        ("2026-12-03 24:00", "but a clock shows 00:00 to 23:59"),
        ("2026-12-03 12:60", "but a clock shows 00:00 to 23:59"),
    ],
)
def test_a_moment_that_no_calendar_or_clock_shows_is_told_in_words_of_its_own(departs: str, why: str) -> None:
    """Never in the interpreter's: these differ from one version to the next."""
    with pytest.raises(ProblemsError) as raised:
        parse_trip(with_("setting: road\n", f"setting: road\ndeparts: {departs}\n"))
    assert [problem.found for problem in raised.value.problems] == [f"departs `{departs}`, {why}"]


def test_departure_without_zone_stays_without() -> None:
    trip = parse_trip(with_("setting: road\n", "setting: road\ndeparts: 2026-12-03 14:20\n"))
    assert trip.departs == datetime(2026, 12, 3, 14, 20)


def test_readings_and_departure_can_be_held_against_each_other() -> None:
    text = with_(
        "trip: t\n",
        "trip: t\ndeparts: 2026-12-03 14:20+01:00\n",
        cylinder_of("label: A, size: US-E, gauge: 1900 psi, checked: 2026-12-03 13:50"),
    )
    trip = parse_trip(text)
    checked = trip.supplies["cart"].cylinders[0].checked
    assert checked is not None
    assert trip.departs is not None
    assert trip.departs - checked == timedelta(minutes=30)


# Policy


def test_policy_layers_and_their_sources(tmp_path: Path) -> None:
    (tmp_path / "ground.yaml").write_text(
        "name: Ground service\nreserve_time: 45 min\nchange_over_at: 300 psi\nreserve_factor: 1.5\n", encoding="utf-8"
    )
    text = with_(
        "setting: road\n", "setting: road\npolicy: {file: ground.yaml, change_over_at: 20 bar, must_hold: []}\n"
    )
    policy = parse_trip(text, folder=tmp_path).policy
    assert (policy.name, policy.reserve_time_min, policy.change_over_at_kpa) == ("Ground service", 45.0, 2000.0)
    assert (policy.reserve_factor, policy.must_hold) == (1.5, ())
    assert policy.overrides == ("reserve_time", "change_over_at", "must_hold")
    assert policy.sources["reserve_time"].endswith("ground.yaml: 45 min")
    assert policy.sources["change_over_at"] == "the trip profile: 20 bar"
    assert policy.sources["must_hold"] == "the trip profile: none"
    assert "common practice" in policy.sources["reserve_factor"]


def test_policy_as_a_path_starts_at_the_profile(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "trips").mkdir()
    (tmp_path / "ground.yaml").write_text("spare_cylinders: 2\n", encoding="utf-8")
    profile = tmp_path / "trips" / "trip.yaml"
    profile.write_text(with_("setting: road\n", "setting: road\npolicy: ../ground.yaml\n"), encoding="utf-8")
    monkeypatch.chdir(ROOT)
    policy = read_trip(profile).policy
    assert (policy.spare_cylinders, policy.name, policy.overrides) == (2, "ground", ("spare_cylinders",))


@pytest.mark.parametrize(
    ("setting", "spare", "handover_min"), [("in_house", 0, 10.0), ("road", 1, 20.0), ("air", 1, 20.0)]
)
def test_setting_chooses_the_column(setting: str, spare: int, handover_min: float) -> None:
    policy = parse_trip(with_("setting: road", f"setting: {setting}")).policy
    assert (policy.spare_cylinders, policy.handover_time_min, policy.overrides) == (spare, handover_min, ())


# Values of the command line


def test_changes_are_read_like_the_profile() -> None:
    trip = parse_trip(TRIP, changes=["cart.A.gauge=1900 psi", "legs[2].duration=40 min", "policy.reserve_time=1 h"])
    assert trip.supplies["cart"].cylinders[0].gauge_kpa == pytest.approx(1900 * PSI)
    assert trip.legs[1].duration_min == 40.0
    assert trip.policy.sources["reserve_time"] == "the command line: 1 h"
    assert trip.changes == ("cart.A.gauge=1900 psi", "legs[2].duration=40 min", "policy.reserve_time=1 h")


def test_change_that_is_wrong_says_which() -> None:
    with pytest.raises(ProblemsError) as caught:
        parse_trip(TRIP, "t.yaml", changes=["cart.A.gauge=1900", "ambulance.fixed=yes"])
    assert [(problem.file, problem.line, problem.code) for problem in caught.value.problems] == [
        ("--set ambulance.fixed", 1, "not_allowed"),
        ("--set cart.A.gauge", 1, "unit_missing"),
    ]


@pytest.mark.hazard(20)
def test_one_edit_changes_the_fingerprint(tmp_path: Path) -> None:
    policy = tmp_path / "ground.yaml"
    text = with_("setting: road\n", "setting: road\npolicy: ground.yaml\n")

    def fingerprint(text: str, policy_text: str, *changes: str) -> str:
        policy.write_text(policy_text, encoding="utf-8")
        return parse_trip(text, folder=tmp_path, changes=changes).fingerprint

    first = fingerprint(text, "reserve_time: 45 min\n")
    assert first == fingerprint(text, "reserve_time: 45 min\n")
    others = {
        fingerprint(text.replace("2000 psi", "2001 psi"), "reserve_time: 45 min\n"),
        fingerprint(text + "# a remark\n", "reserve_time: 45 min\n"),
        fingerprint(text, "reserve_time: 46 min\n"),
        fingerprint(text, "reserve_time: 45 min\n", "cart.A.gauge=1900 psi"),
        fingerprint(text, "reserve_time: 45 min\n", "cart.A.gauge=1900 psi", "legs[2].duration=40 min"),
    }
    assert len(others | {first}) == 6


# One fault, one problem


@pytest.mark.hazard(25)
@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("    type: ventilator", "    typ: ventilator"),
        ("    drive: pneumatic", "    drive: pneumatik"),
        ("    rate: 16/min", "    rate: 16"),
        ("    rate: 16/min", "    rate: 1:30"),
        ("    rate: 16/min", "    rate: 020/min"),
        ("    fio2: 60 %", "    FiO2: 60 %"),
        ("    leak: 0 L/min", "    leak: no"),
        ("    leak: 0 L/min", "    leak:"),
        ("    leak: 0 L/min", "    leak: []"),
        ("  ambulance:\n    fixed: true", "  ambulance:\n    fixed: on"),
        ("    supply: cart\n", "    supply: [cart]\n"),
        ("    supply: cart\n", "    suply: cart\n"),
        ("    devices: [vent]", "    device: [vent]"),
        ("devices:\n  vent", "device:\n  vent"),
        ("supplies:\n", "supply:\n"),
        ("  cart:\n    cylinders:", "  cart:\n    cylinder:"),
        ("label: A, ", "lable: A, "),
        ("size: US-E", "size: us e"),
        ("size: US-E", "size: [US-E]"),
        ("flowmeter: 25 L/min", "flowmeter: 25"),
        ("flowmeter: 25 L/min", "flow: 25 L/min"),
        ("setting: road", "setting: [road]"),
        ("contents: 680 L at 2015 psi", "contents: 680 L"),
        ("{use: neb, for: 10 min, supply: cart}", "{uses: neb, for: 10 min, supply: cart}"),
        ("    duration: 12 min", "    duration: 12"),
        ("profile: 1", "profile: one"),
        ("profile: 1", "profil: 1"),
    ],
)
def test_one_fault_gives_one_problem(old: str, new: str) -> None:
    assert len(problems(with_(old, new))) == 1


def test_library_for_schemas_is_not_loaded_for_a_faultless_profile() -> None:
    code = (
        "import sys; from planner.profile.read import parse_trip; parse_trip(sys.stdin.read()); "
        "print(sorted({'jsonschema', 'pint', 'numpy'} & set(sys.modules)))"
    )
    ran = subprocess.run([sys.executable, "-c", code], input=TRIP, capture_output=True, text=True, cwd=ROOT, check=True)
    assert ran.stdout.strip() == "[]"


# Whatever is written, the answer is a trip or a list of problems

_LINES = TRIP.splitlines()
_WORDS = st.sampled_from(
    [
        "",
        "yes",
        "0",
        "-1",
        "nan",
        "1e9",
        "1:30",
        "[]",
        "{}",
        "[a, {b: c}]",
        "{a: {b: [c]}}",
        '"',
        "'",
        "*a",
        "&a b",
        "!!int 3",
        "5 psi",
        "4 L/min",
        "9" * 400,
        "é",
        "\u202e",
        "true",
        "null",
        "~",
        "- a",
        "a: b",
        "? a",
        "US-E",
        "cart",
        "vent",
        "%",
        "#",
        ":",
        "2026-02-30 25:61",
    ]
)


@st.composite
def _spoiled(draw: st.DrawFn) -> str:
    lines = list(_LINES)
    for _ in range(draw(st.integers(1, 4))):
        place = draw(st.integers(0, len(lines) - 1))
        what = draw(st.integers(0, 4))
        line = lines[place]
        if what == 0:
            del lines[place]
        elif what == 1:
            lines.insert(place, line)
        elif what == 2:
            lines[place] = line.partition(":")[0] + ": " + draw(_WORDS)
        elif what == 3:
            lines[place] = " " * draw(st.integers(0, 8)) + line.strip()
        else:
            cut = draw(st.integers(0, len(line)))
            lines[place] = line[:cut] + draw(_WORDS) + line[cut:]
        if not lines:
            break
    return "\n".join(lines)


def reading(text: str) -> Trip | ProblemsError:
    """A trip, or why not."""
    try:
        return parse_trip(text)
    except ProblemsError as error:
        return error


@given(_spoiled())
def test_spoiled_profiles_give_a_trip_or_problems(text: str) -> None:
    read = reading(text)
    if isinstance(read, Trip):
        assert all(leg.duration_min > 0 and leg.uses for leg in read.legs)
        assert {use.supply for leg in read.legs for use in leg.uses} <= set(read.supplies)
        return
    assert read.problems
    for problem in read.problems:
        assert problem.line >= 1
        assert problem.column >= 1
        assert problem.code
        assert problem.found
        assert problem.allowed
        assert problem.fix


def test_sizes_of_the_catalogue_are_taken_as_they_stand() -> None:
    size = find_size("US-E")
    assert size is not None
    (cylinder,) = parse_trip(cylinder_of("label: A, size: US-E, gauge: 1900 psi")).supplies["cart"].cylinders
    assert (cylinder.water_capacity_l, cylinder.filling_gauge_kpa, cylinder.mass_kg, cylinder.connection) == (
        size.water_capacity_l,
        size.filling_gauge_kpa,
        size.full_mass_kg,
        size.connection,
    )
