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
from planner.report.checklist.data import ChangeList
from planner.report.json_result import result
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


def keys(change: ChangeList) -> list[str]:
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


def two_ventilated(one: Leg, two: Leg) -> Plan:
    """A cart and a van with one 50-psi outlet and one flowmeter each; a third place, the chair."""
    pair = (Outlet("high_pressure"), Outlet("flowmeter", 15.0))
    cart = Supply("cart", "cylinders", cylinders=(cylinder("A", 2000), cylinder("B", 2000)))
    chair = Supply("chair", "cylinders", cylinders=(cylinder("C", 2000), cylinder("D", 2000)))
    van = Supply("van", "litres", stated_l=3000.0, fixed=True, backup="cart", outlets=pair)
    return plan(trip([cart, chair, van], one, two))


FIRST = VENTILATOR._replace(name="first vent", patient="first")
SECOND = VENTILATOR._replace(name="second vent", patient="second")


@pytest.mark.hazard(33)
def test_who_holds_an_outlet_moves_before_who_waits_for_it() -> None:
    """The first goes to the van, whose one 50-psi outlet the second leaves: the second moves before."""
    out = Leg("Out", 10.0, (Use(FIRST, "cart"), Use(SECOND, "van")), "cart")
    road = Leg("Road", 10.0, (Use(FIRST, "van"), Use(SECOND, "chair")), "van")
    found = two_ventilated(out, road)
    made = changes(found)
    assert [(c.old and c.old.name, c.new and c.new.name) for c in made] == [("van", "C"), ("A", "van")]
    assert Hands(found).follow(made) == []
    assert any("no outlet is free" in fault for fault in Hands(found).follow(made[::-1]))
    assert not any(finding.code == "no_gas_at_change" for finding in found.findings)


@pytest.mark.hazard(33)
def test_two_who_wait_for_the_outlet_of_the_other_are_told_that_one_comes_off() -> None:
    """First from cart to van, second from van to cart, one 50-psi outlet each: one is off while the other moves."""
    out = Leg("Out", 10.0, (Use(FIRST, "cart"), Use(SECOND, "van")), "cart")
    road = Leg("Road", 10.0, (Use(FIRST, "van"), Use(SECOND, "cart")), "van")
    found = two_ventilated(out, road)
    first, then = changes(found)
    assert keys(first).index("release") < keys(first).index("move")
    assert [item.ask for item in first.items if item.key == "release"] == ["second vent"]
    assert first.notes == ("second vent gives NO OXYGEN from here until its own change, the next.",)
    assert [item.ask for item in then.items if item.key == "move"] == ["second vent (50-psi outlet)"]
    (told,) = (finding for finding in found.findings if finding.code == "no_gas_at_change")
    assert told.level == "caution"
    assert told.message == (
        "Before Road second vent gets no oxygen while first vent moves to van: the outlet there is needed first, and "
        "the next one of its own is still taken."
    )
    assert Hands(found).follow((first, then)) == []


def one_road(minutes: float, regulators: int | None, *others: Supply) -> Plan:
    """A at 560 psi gives some 17 L, 60 psi by 0.28 L/psi: 3 min at 5.4 L/min; B and C at 2000 psi."""
    labels = {"A": 560.0, "B": 2000.0, "C": 2000.0}
    cart = Supply(
        "cart",
        "cylinders",
        cylinders=tuple(cylinder(label, gauge) for label, gauge in labels.items()),
        regulators=regulators,
    )
    return plan(trip([cart, *others], leg(minutes, VENTILATOR, name="Road")))


def told_of(found: Plan) -> list[str]:
    return [finding.code for finding in found.findings if finding.code in ("one_regulator", "no_gas_at_change")]


@pytest.mark.hazard(33)
def test_one_regulator_and_nothing_else_to_breathe_from_is_a_caution_with_its_minute() -> None:
    """17 L / 5.4 L/min: A is down to change-over 3 min after departure."""
    found = one_road(30.0, 1)
    assert told_of(found) == ["one_regulator", "no_gas_at_change"]
    one, bare = (finding for finding in found.findings if finding.code in ("one_regulator", "no_gas_at_change"))
    assert (one.level, bare.level) == ("caution", "caution")
    assert one.message == (
        "cart has one regulator for A, B, C: if it fails, none of them gives oxygen, and nothing flows from cart while "
        "it is changed over."
    )
    assert one.fix == "Carry a second regulator that fits, and write how many there are under cart."
    assert bare.message.startswith("cart: at the change from A to B (3 min after departure) vent gets no oxygen until")
    assert "second regulator" in bare.fix
    assert "manual resuscitator" in bare.fix


@pytest.mark.hazard(33)
def test_every_change_without_gas_is_told_with_its_minute() -> None:
    """B holds some 424 L, 78 min at 5.4 L/min: C is due 81 min after departure."""
    found = one_road(90.0, 1)
    (bare,) = (finding for finding in found.findings if finding.code == "no_gas_at_change")
    assert "at the changes from A to B and B to C (3 min and 81 min after departure)" in bare.message


@pytest.mark.hazard(33)
def test_a_second_regulator_or_another_cylinder_with_a_flowmeter_takes_the_caution_away() -> None:
    assert told_of(one_road(30.0, 2)) == []
    assert told_of(one_road(30.0, None)) == []
    chair = Supply("chair", "cylinders", cylinders=(cylinder("D", 2000),))
    assert told_of(one_road(30.0, 1, chair)) == ["one_regulator"]
    driven = Supply("chair", "cylinders", cylinders=(cylinder("D", 2000, outlets=(Outlet("high_pressure"),)),))
    assert told_of(one_road(30.0, 1, driven)) == ["one_regulator", "no_gas_at_change"]
    empty = Supply("chair", "cylinders", cylinders=(cylinder("D", 500),))
    assert told_of(one_road(30.0, 1, empty)) == ["one_regulator", "no_gas_at_change"]


def test_the_acts_of_every_change_stand_in_the_result() -> None:
    """Opened, moved, shut: the cart to the van; then B under the regulator of A; then back to B."""
    made = result(on_and_off_the_vehicle(1))["changes"]
    assert [(each["leg_number"], each["at_start"], [act["do"] for act in each["acts"]]) for each in made] == [
        (2, True, ["open", "move", "shut"]),
        (3, True, ["swap"]),
        (3, True, ["move", "shut"]),
    ]
    swap = made[1]
    assert (swap["min"], swap["from"], swap["to"]) == (
        22.0,
        {"supply": "cart", "cylinder": "A"},
        {"supply": "cart", "cylinder": "B"},
    )
    assert swap["acts"][0] == {"do": "swap", "supply": "cart", "cylinder": "B", "devices": [], "off": "A"}
    assert (swap["fed_by"], swap["without_gas"]) == (["van"], [])
    assert result(one_road(30.0, 1))["changes"][0]["without_gas"] == ["vent"]


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
ONE_OF_EACH = (Outlet("high_pressure"), Outlet("flowmeter", 15.0))


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
            cylinders=bank("abcde", [560, 700, 1200, 2000], random.choice([ONE_OF_EACH, TWO_OUTLETS])),
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
                Supply(
                    "van",
                    "litres",
                    stated_l=3000.0,
                    fixed=True,
                    backup="cart",
                    outlets=random.choice([None, ONE_OF_EACH]),
                ),
                Supply(
                    "van",
                    "manifold",
                    fixed=True,
                    backup="cart",
                    cylinders=bank("xy", [1900], random.choice([ONE_OF_EACH, TWO_OUTLETS])),
                ),
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
    of_first, of_second = "cart", "chair"
    legs: list[Leg] = []
    for number in range(1, random.randint(3, 7)):
        if legs and two and random.random() < 0.2:  # each to where the other was
            of_second, of_first = of_first, of_second
        else:
            of_first, of_second = (
                random.choice(["cart", "cart", "van", "wall"]),
                random.choice(["chair", "cart", "van"]),
            )
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
    many = 400 if pytestconfig.getoption("--long", default=False) else 6
    for number in range(seed * many, (seed + 1) * many):
        found = plan(random_trip(number))
        if has_gas_throughout(found):
            assert Hands(found).follow(changes(found)) == [], number


@pytest.mark.hazard(33)
def test_random_trips_hold_what_a_list_can_ask_for() -> None:
    """Every kind of line is asked for by one of them; the search above would otherwise hold nothing."""
    asked: set[str] = set()
    for number in (15, 77, 116, 324):  # in the last each waits for the outlet of the other
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
        "release",
    }
    assert asked >= {"valve", "valve_open", "contents", "wall", "every_valve", "move", "shut", "tag_part_used"}
