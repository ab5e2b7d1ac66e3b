"""Every change list can be done by two hands in the order in which it is printed (tests/hands.py follows it)."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from random import Random

import pytest

from planner.model import Cylinder, Leg, Outlet, Supply, Trip, Use
from planner.planning import plan
from planner.profile.read import read_trip
from planner.report.checklist.changes import changes
from planner.report.checklist.data import Change
from planner.results import Plan
from tests.build import CANNULA, VENTILATOR, cylinder, leg, trip
from tests.hands import Hands

ROOT = Path(__file__).resolve().parents[1]
FOLDERS = (ROOT / "profiles", ROOT / "demo", ROOT / "tests" / "profiles" / "good")
PROFILES = sorted(
    path for folder in FOLDERS for path in folder.rglob("*.yaml") if "\nlegs:" in path.read_text(encoding="utf-8")
)


def on_and_off_the_vehicle(regulators: int | None = None) -> Plan:
    """A at 560 psi gives some 17 L, 60 psi by 0.28 L/psi: 3 min at 5.4 L/min, used up in leg 1; B is due in leg 3."""
    cart = Supply(
        "cart",
        "cylinders",
        cylinders=(cylinder("A", 560), cylinder("B", 2000), cylinder("C", 2000)),
        regulators=regulators,
    )
    van = Supply("van", "litres", stated_l=3000.0, fixed=True, backup="cart")
    legs = (
        leg(2.0, VENTILATOR, name="Out"),
        leg(20.0, VENTILATOR, supply="van", name="Road"),
        leg(15.0, VENTILATOR, name="Unloading", no_change=True),
    )
    return plan(trip([cart, van], *legs))


def keys(change: Change) -> list[str]:
    return [item.key for item in change.items]


@pytest.mark.hazard(33)
@pytest.mark.parametrize("regulators", [None, 1, 2])
def test_a_cylinder_is_changed_while_the_vehicle_still_feeds_the_patient(regulators: int | None) -> None:
    found = on_and_off_the_vehicle(regulators)
    made = changes(found)
    assert [change.kind for change in made] == ["source", "cylinder", "source"]
    first = made[1]
    assert (first.old and first.old.name, first.new and first.new.name) == ("A", "B")
    assert "First, while the patient still breathes from van." in first.notes
    assert ("regulator" in keys(first)) == (regulators == 1)
    assert Hands(found).follow(made) == []


@pytest.mark.hazard(33)
def test_the_same_list_with_the_ventilator_moved_first_cannot_be_done() -> None:
    """The simulator finds the fault: B is to be opened while the regulator sits on A."""
    found = on_and_off_the_vehicle(1)
    out, cylinder_change, back = changes(found)
    opened = back._replace(
        items=tuple(item._replace(key="valve") if item.key == "valve_open" else item for item in back.items)
    )
    faults = Hands(found).follow((out, opened, cylinder_change))
    assert any("the regulator is not on B yet" in fault for fault in faults)


@pytest.mark.hazard(33)
def test_a_list_that_shuts_the_old_source_before_the_new_one_is_open_leaves_the_patient_without_gas() -> None:
    found = on_and_off_the_vehicle()
    out, *rest = changes(found)
    shut = next(item for item in out.items if item.key == "shut")
    wrong = out._replace(items=(shut, *(item for item in out.items if item is not shut)))
    assert any("no gas" in fault for fault in Hands(found).follow((wrong, *rest)))


@pytest.mark.hazard(33)
@pytest.mark.parametrize("path", PROFILES, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_every_list_of_every_profile_can_be_done(path: Path) -> None:
    found = plan(read_trip(path))
    assert Hands(found).follow(changes(found)) == []


@pytest.mark.hazard(33)
@pytest.mark.parametrize("regulators", [1, 2])
@pytest.mark.parametrize("path", PROFILES, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_every_list_can_be_done_with_fewer_regulators(path: Path, regulators: int) -> None:
    made = read_trip(path)
    fewer = {
        name: supply._replace(regulators=regulators) if supply.kind == "cylinders" else supply
        for name, supply in made.supplies.items()
    }
    found = plan(made._replace(supplies=fewer))
    if found.go:
        assert Hands(found).follow(changes(found)) == []


TWO_OUTLETS = (Outlet("high_pressure"), Outlet("flowmeter", 15.0), Outlet("flowmeter", 15.0))
ONE_OUTLET = (Outlet("flowmeter", 15.0),)


def random_trip(seed: int) -> Trip:
    """Two patients at most; a cart, a chair, a vehicle, a wall; few regulators, built-in ones, stretches, a magnet."""
    random = Random(seed)  # noqa: S311 - no secret

    def bank(letters: str, gauges: Sequence[float], outlets: tuple[Outlet, ...]) -> tuple[Cylinder, ...]:
        return tuple(
            cylinder(f"{letter}{number}", random.choice(gauges), outlets=outlets)._replace(
                connection=random.choice([None, None, "integral"]), size=None, magnet_safe=random.random() < 0.8
            )
            for number, letter in enumerate(letters, start=1)
        )

    regulators = [None, 1, 1, 2, 3]
    supplies = [
        Supply(
            "cart",
            "cylinders",
            cylinders=bank("abcde", [560, 700, 1200, 2000], TWO_OUTLETS),
            regulators=random.choice(regulators),
        ),
        Supply(
            "chair",
            "cylinders",
            cylinders=bank("pqr", [700, 1200, 2000], random.choice([ONE_OUTLET, TWO_OUTLETS])),
            regulators=random.choice(regulators),
        ),
        Supply("wall", "pipeline"),
        random.choice(
            [
                Supply("van", "litres", stated_l=3000.0, fixed=True, backup="cart"),
                Supply("van", "manifold", fixed=True, backup="cart", cylinders=bank("xy", [1900], TWO_OUTLETS)),
                Supply(
                    "van",
                    "cylinders",
                    fixed=True,
                    backup="cart",
                    cylinders=bank("stuv", [900, 2000], TWO_OUTLETS),
                    regulators=random.choice(regulators),
                ),
            ]
        ),
    ]
    first = random.choice([CANNULA, VENTILATOR])._replace(patient="first")
    second = CANNULA._replace(name="second cannula", patient="second")
    two = random.random() < 0.5
    legs = []
    for number in range(1, random.randint(3, 7)):
        of_first, of_second = random.choice(["cart", "cart", "van", "wall"]), random.choice(["chair", "cart", "van"])
        if random.random() < 0.2:
            first = random.choice([CANNULA, VENTILATOR])._replace(patient="first")
        uses = [Use(first, of_first), *([Use(second, of_second)] if two else [])]
        legs.append(
            Leg(
                f"leg {number}",
                random.uniform(1.0, 25.0),
                tuple(uses),
                supply=of_first,
                no_change=random.random() < 0.4,
                magnet=random.random() < 0.05,
            )
        )
    return trip(supplies, *legs)


def has_gas_throughout(found: Plan) -> bool:
    return all(supply.runs_out_min is None for supply in found.supplies.values())


@pytest.mark.hazard(33)
@pytest.mark.parametrize("seed", range(10))
def test_lists_of_random_trips_can_be_done(seed: int, pytestconfig: pytest.Config) -> None:
    many = 400 if pytestconfig.getoption("--long", default=False) else 12
    for number in range(seed * many, (seed + 1) * many):
        found = plan(random_trip(number))
        if has_gas_throughout(found):
            assert Hands(found).follow(changes(found)) == [], number


@pytest.mark.hazard(33)
def test_random_trips_hold_what_a_list_can_ask_for() -> None:
    """Every kind of line is asked for by one of them; the search above would otherwise hold nothing."""
    asked: set[str] = set()
    for number in range(150):
        found = plan(random_trip(number))
        if has_gas_throughout(found):
            asked |= {item.key for change in changes(found) for item in change.items}
    assert asked >= {
        "regulator",
        "hose",
        "ready",
        "bridge",
        "bridge_open",
        "bridge_shut",
        "bare",
        "not_yet",
        "old_last",
    }
    assert asked >= {"valve", "valve_open", "contents", "wall", "every_valve", "move", "shut", "tag_part_used"}
