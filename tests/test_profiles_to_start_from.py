"""The profiles to start from: each is planned, with its verdict by profiles/README.md and its litres worked by hand.

Planned litres are flow x minutes, with k = (FiO2 - 0.21) / 0.79 as the share of oxygen in a blend (balance of oxygen
and air). No figure here comes from the program.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner

from planner.command.cli import main
from planner.planning import plan
from planner.profile.read import read_trip
from planner.results import Plan
from planner.text.source import load

ROOT = Path(__file__).resolve().parents[1]
FOLDER = ROOT / "profiles"
TABLE = (FOLDER / "README.md").read_text(encoding="utf-8")

K_30, K_40, K_45, K_50, K_60 = ((fio2 - 0.21) / 0.79 for fio2 in (0.30, 0.40, 0.45, 0.50, 0.60))

PLANNED_L = {
    # 7 + 3 to the scanner, 8 in it, 7 back: 25 min at 4 L/min
    "ward-to-scan": {"trolley": 25 * 4.0},
    # 4 + 4, 2 and 4 min at 15 L/min
    "emergency-to-theatre": {"trolley": (8 + 2 + 4) * 15.0},
    # (8 + 2) L/min x k at 60 %; on foot 10 + 5, 5, 5, 10 + 5 min, on the road 60 min
    "ventilated-by-road": {"cart": 40 * 10 * K_60, "ambulance": 60 * 10 * K_60},
    # 50 L/min x k at 50 % = 18.35 L/min; on foot 10 and 10 min, on the road 45 min
    "high-flow-by-road": {"cart": 20 * 50 * K_50, "ambulance": 45 * 50 * K_50},
    "high-flow-on-e-cylinders": {"cart": 65 * 50 * K_50},
    # 6 L/min x k at 30 %, the rest of it air; 10, 5, 50, 10 + 5 min
    "newborn-on-a-blend": {"oxygen": 80 * 6 * K_30, "air": 80 * 6 * (1 - K_30)},
    # 0.5 L x 14/min = 7 L/min x k at 50 %, and 0.5 L/min driving gas; pack 12, 6, 6, 10 + 4 min, flight 25 min
    "helicopter": {"pack": 38 * (7 * K_50 + 0.5), "aircraft": 25 * (7 * K_50 + 0.5)},
    # (6 + 3) L/min x k at 40 %; pack 10, 15, 15, 10 min, roads 20 min each, flight 70 min
    "fixed-wing": {
        "pack": 50 * 9 * K_40,
        "ambulance_1": 20 * 9 * K_40,
        "aircraft": 70 * 9 * K_40,
        "ambulance_2": 20 * 9 * K_40,
    },
    # 8 and 3 L/min; wards 10 min and 10 + 5 min, each on their own; road 35 min, both on the main
    "two-patients": {"stretcher": 25 * 8.0, "chair": 25 * 3.0, "ambulance": 35 * (8.0 + 3.0)},
    # 9 + 6, 40, 9 min at 3 L/min
    "magnet-scan": {"trolley": (15 + 40 + 9) * 3.0},
    # 0.45 L x 16/min = 7.2 L/min and 2 L/min bias flow, x k at 45 %; 10 + 5 and 20 min
    "from-the-store": {"cart": 35 * 9.2 * K_45},
    # 6 L/min; ground 25 + 10 + 25 min, flight 300 min
    "long-flight-on-liquid": {"vessel": 1800.0, "pack": 360.0},
    # a concentrator takes nothing from the cylinders
    "home-by-train": {"bag": 0.0},
    # half of the published 492 L: 60 min x (6 L/min x 0.6 + 0.5 L/min)
    "doubling-rule": {"cart": 246.0},
}


def profiles() -> list[str]:
    return sorted(path.stem for path in FOLDER.glob("*.yaml"))


def rows() -> dict[str, str]:
    """Verdict of each profile by the table."""
    return dict(re.findall(r"^\| \[([\w-]+)\.yaml\]\(\1\.yaml\) \|.*\| (go|no-go) \|$", TABLE, re.MULTILINE))


@cache
def planned(profile: str) -> Plan:
    return plan(read_trip(FOLDER / f"{profile}.yaml"))


def test_the_table_lists_every_profile_and_the_litres_of_each_are_worked_here() -> None:
    assert profiles() == sorted(rows()) == sorted(PLANNED_L)


@pytest.mark.parametrize("profile", profiles())
def test_the_verdict_is_that_of_the_table(profile: str, tmp_path: Path) -> None:
    shown = CliRunner().invoke(main, ["plan", str(FOLDER / f"{profile}.yaml"), "--output", str(tmp_path)])
    expected = rows()[profile]
    assert shown.stdout.startswith({"go": "GO - ", "no-go": "NO-GO - "}[expected])
    assert shown.exit_code == {"go": 0, "no-go": 3}[expected]
    assert (tmp_path / f"{profile}.pdf").exists()


@pytest.mark.parametrize("profile", profiles())
def test_planned_litres_are_those_worked_by_hand(profile: str) -> None:
    found = {name: supply.need.planned_l for name, supply in planned(profile).supplies.items()}
    assert found == pytest.approx(PLANNED_L[profile], rel=1e-9)


@pytest.mark.parametrize("profile", profiles())
def test_each_begins_with_what_it_is(profile: str) -> None:
    """Behind the first line, which is the editor's."""
    lines = (FOLDER / f"{profile}.yaml").read_text(encoding="utf-8").splitlines()[1:]
    assert lines[0].startswith("# ")
    assert profile == "ward-to-scan" or ("Invented scenario." in lines[0] and "# Shows: " in lines[1] + lines[2])


def test_the_ward_trip_is_required_as_in_the_readme() -> None:
    assert planned("ward-to-scan").supplies["trolley"].need.required_l == pytest.approx(220.0)


def test_the_doubling_rule_gives_the_published_litres() -> None:
    # Oxygen requirements for patient transfer, emergency medicine examination notes: 60 min, 6 L/min, FiO2 0.6,
    # driving gas 0.5 L/min: 492 L.
    supply = planned("doubling-rule").supplies["cart"]
    assert supply.need.required_l == pytest.approx(492.0)
    assert supply.need.reserve_l == pytest.approx(246.0)


def test_e_cylinders_do_not_carry_high_flow_by_road() -> None:
    supply = planned("high-flow-on-e-cylinders").supplies["cart"]
    # By the hand method a full E gives (2000 - 500) psi x 0.28 L/psi = 420 L, 23 min of 18.35 L/min. Required are
    # 1.5 x 1193 L = 1790 L: five cylinders, and the spare.
    assert supply.order[0].to_min == pytest.approx(420 / 18.35, abs=0.5)
    assert {full.size: full.count for full in supply.full_cylinders}["US-E"] == 6


@pytest.mark.hazard(39)
def test_without_its_air_the_newborn_draws_nine_times_the_oxygen() -> None:
    (row,) = (row for row in planned("newborn-on-a-blend").whatifs if row.name == "air_lost")
    # By the hand method two E hold (2000 - 500 + 1900 - 500) psi x 0.28 L/psi = 812 L. From departure on 6 L/min in
    # place of 0.68 are 480 L in 80 min; 332 L more last 55 min at 6 L/min.
    assert row.must_hold
    assert row.holds
    assert row.from_min == 0.0
    assert row.minutes_to_spare == pytest.approx(55.0, abs=2.0)


@pytest.mark.hazard(16)
def test_the_aircraft_carries_the_fio2_that_the_cabin_asks_for() -> None:
    (row,) = (row for row in planned("fixed-wing").whatifs if row.name == "inspired_oxygen_kept")
    assert row.supply == "aircraft"
    assert row.must_hold
    assert row.holds
    # 0.40 x (760 - 47) / (565 - 47) = 0.55 at 8000 ft: standard respiratory physiology, about 565 mmHg by the
    # 1976 standard atmosphere.
    note = next(finding for finding in planned("fixed-wing").findings if finding.code == "inspired_oxygen")
    stated = float(note.message.split(" becomes ")[1][:4])
    assert stated == pytest.approx(0.40 * (760 - 47) / (565 - 47), abs=0.01)


@pytest.mark.hazard(27)
def test_only_the_safe_cylinder_enters_the_magnet_room() -> None:
    inside = [point for point in planned("magnet-scan").checkpoints if point.leg == "In the magnet room"]
    assert {point.cylinder for point in inside} == {"safe"}


def test_the_store_gives_the_part_used_cylinder_first_and_none_without_its_outlet() -> None:
    supply = planned("from-the-store").supplies["cart"].supply
    labels = [cylinder.label for cylinder in supply.cylinders]
    assert labels[0] == "E-02"
    # The resuscitator for 35 min: 525 L; by the hand method E-02 gives 182 L and E-05 (1900 - 500) x 0.28 = 392 L.
    assert labels == ["E-02", "E-05"]
    assert not {"E-03", "D-01"} & set(labels)


def policies() -> list[str]:
    return sorted(path.stem for path in (FOLDER / "policies").glob("*.yaml"))


@pytest.mark.parametrize("policy", policies())
def test_each_value_of_a_policy_says_where_it_comes_from(policy: str) -> None:
    path = FOLDER / "policies" / f"{policy}.yaml"
    lines = path.read_text(encoding="utf-8").splitlines()
    keys = [key.text for key, _ in load(path).root.pairs]
    for key in keys:
        if key in ("name", "pressure_unit", "own_lines"):
            continue
        (line,) = (line for line in lines if line.startswith(f"{key}:"))
        comment = line.partition("# ")[2]
        assert re.search(r"common practice|formula|none: |read it off", comment), f"{policy}: {key} without a source"


@pytest.mark.parametrize("policy", policies())
def test_each_policy_is_at_work_in_the_profiles_of_its_row(policy: str) -> None:
    link = re.escape(f"[policies/{policy}.yaml](policies/{policy}.yaml)")
    (row,) = re.findall(rf"^\| {link} \|.*\| (.*) \|$", TABLE, re.MULTILINE)
    users = [name.strip().removesuffix(".yaml") for name in row.split(",")]
    assert users == [name for name in PLANNED_L if _policy_of(name) == f"policies/{policy}.yaml"]
    name = load(FOLDER / "policies" / f"{policy}.yaml").root.get("name")
    assert name is not None
    assert {planned(user).trip.policy.name for user in users} == {name.text}


def _policy_of(profile: str) -> str | None:
    node = load(FOLDER / f"{profile}.yaml").root.get("policy")
    return None if node is None else node.text


@pytest.mark.hazard(41)
def test_the_vessel_of_the_long_flight_is_what_its_weight_leaves() -> None:
    """Read 90 min before departure, and 420 min of the longest trip: 8.5 h at 1.5 lb/day are 0.531 lb.

    40 - 2 - 0.531 = 37.469 lb of 342.03 L each.
    """
    usable_l = planned("long-flight-on-liquid").supplies["vessel"].usable_l
    assert usable_l == pytest.approx(37.469 * 342.03, rel=1e-4)


@pytest.mark.hazard(40)
def test_the_train_has_a_socket_and_the_battery_counts_the_rest() -> None:
    """Off the mains at the longest: 30 + 30 + 40 = 100 min; half as much again is 150 min of 180."""
    battery = planned("home-by-train").batteries["maker"]
    assert (battery.have_min, battery.on_battery_min) == (180.0, 100.0)
