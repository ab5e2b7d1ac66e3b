"""Every change list can be done by two hands in the order in which it is printed (tests/hands.py follows it)."""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest

from planner.model import Supply
from planner.planning import plan
from planner.profile.read import read_trip
from planner.report.checklist.changes import changes
from planner.results import Plan
from tests.build import CANNULA, VENTILATOR, cylinder, leg, trip
from tests.hands import Hands

ROOT = Path(__file__).resolve().parents[1]
FOLDERS = (ROOT / "profiles", ROOT / "demo", ROOT / "tests" / "profiles" / "good")
PROFILES = sorted(
    path for folder in FOLDERS for path in folder.rglob("*.yaml") if "\nlegs:" in path.read_text(encoding="utf-8")
)


def on_and_off_the_vehicle() -> Plan:
    """A at 560 psi gives some 17 L, 60 psi by 0.28 L/psi: 3 min at 5.4 L/min, used up in leg 1; B is due in leg 3."""
    cart = Supply("cart", "cylinders", cylinders=(cylinder("A", 560), cylinder("B", 2000), cylinder("C", 2000)))
    van = Supply("van", "litres", stated_l=3000.0, fixed=True, backup="cart")
    legs = (
        leg(2.0, VENTILATOR, name="Out"),
        leg(20.0, VENTILATOR, supply="van", name="Road"),
        leg(15.0, VENTILATOR, name="Unloading", no_change=True),
    )
    return plan(trip([cart, van], *legs))


@pytest.mark.hazard(33)
def test_a_cylinder_is_changed_while_the_vehicle_still_feeds_the_patient() -> None:
    found = on_and_off_the_vehicle()
    made = changes(found)
    assert [change.kind for change in made] == ["source", "cylinder", "source"]
    first = made[1]
    assert (first.old.name if first.old else None, first.new.name) == ("A", "B")
    assert "First, while the patient still breathes from van." in first.notes
    assert Hands(found).follow(made) == []


@pytest.mark.hazard(33)
def test_the_same_list_with_the_ventilator_moved_first_cannot_be_done() -> None:
    """The simulator finds the fault: B is to be opened while the regulator sits on A."""
    found = on_and_off_the_vehicle()
    out, cylinder_change, back = changes(found)
    faults = Hands(found).follow((out, back, cylinder_change))
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
@pytest.mark.parametrize("seed", range(60))
def test_lists_of_random_trips_can_be_done(seed: int) -> None:
    random = Random(seed)  # noqa: S311 - no secret
    bank = tuple(cylinder(label, random.choice([560, 700, 1200, 2000])) for label in "ABCD")
    cart = Supply("cart", "cylinders", cylinders=bank)
    van = Supply(
        "van", "cylinders", fixed=True, backup="cart", cylinders=tuple(cylinder(f"V{n}", 900) for n in range(4))
    )
    legs = [
        leg(
            random.uniform(2.0, 25.0),
            random.choice([CANNULA, VENTILATOR]),
            supply=random.choice(["cart", "van"]),
            name=f"leg {number}",
            no_change=random.random() < 0.3,
        )
        for number in range(1, 6)
    ]
    found = plan(trip([cart, van], *legs))
    if all(supply.runs_out_min is None for supply in found.supplies.values()):
        assert Hands(found).follow(changes(found)) == []
