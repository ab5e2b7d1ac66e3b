"""The choice from a store against brute force over every set and every order of use."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import combinations, permutations
from random import Random

import pytest

from planner.cylinders.depletion import course_of
from planner.cylinders.onhand import on_hand
from planner.flow.flows import flows
from planner.go.judge import Task, passes, task_of
from planner.go.whatifs.registry import scenarios
from planner.model import Cylinder, Supply, Trip
from planner.planning import plan
from planner.store import choice_search
from planner.store.choice import choose, full_gauge_kpa
from planner.trade.policy_table import policy_defaults
from tests.build import CANNULA, HIGH_PRESSURE, VENTILATOR, cylinder, flowmeter, leg, trip

NOON = datetime(2026, 1, 1, 12, tzinfo=UTC)


def random_case(random: Random) -> Task:
    """A road trip of one to four legs with a store of one to seven cylinders, and often a limit."""
    store = tuple(
        cylinder(
            f"c{number}",
            random.choice([400, 900, 1500, 2000, 2100, 2200]),
            random.choice(["US-E", "US-E", "US-D", "US-M60"]),
            mass_kg=float(random.choice([3, 5, 8, 8])),
            checked=random.choice([None, NOON + timedelta(hours=random.randint(0, 5))]),
        )
        for number in range(random.randint(1, 7))
    )
    supply = Supply(
        "cart",
        "cylinders",
        store=store,
        weight_limit_kg=random.choice([None, None, None, 12.0, 20.0]),
        places=random.choice([None, 2, 3, 4]),
        prefer=random.choice([None, "part_used"]),
    )
    legs = [
        leg(random.randint(5, 40), VENTILATOR, no_change=random.random() < 0.4) for _ in range(random.randint(1, 4))
    ]
    policy = policy_defaults("road")
    extra = random.choice([(), ("gauge_reads_high",)])
    policy = policy._replace(spare_cylinders=random.randint(0, 2), must_hold=(*policy.must_hold, *extra))
    made = trip([supply], *legs, setting="road", policy=policy)
    return task_of(made, supply, flows(made.legs), scenarios(made))


def age(placed: tuple[int, Cylinder]) -> tuple[bool, float, int]:
    place, one = placed
    return (one.checked is None, 0.0 if one.checked is None else one.checked.timestamp(), place)


def changes(task: Task, order: Sequence[tuple[int, Cylinder]], *, brought_forward: bool) -> int:
    """Change-overs of one order of use, with or without those brought forward for a no-change stretch."""
    stock = on_hand(task.supply._replace(cylinders=tuple(one for _, one in order)), task.policy)
    assert stock is not None
    return len(course_of(stock.tanks, task.flow, task.no_change if brought_forward else ()).changes)


def allowed_orders(task: Task, chosen: Sequence[tuple[int, Cylinder]]) -> list[tuple[tuple[int, Cylinder], ...]]:
    """Every order of use; part-used before full where the supply prefers it."""
    found = []
    for order in permutations(chosen):
        fulls = [one.gauge_kpa >= full_gauge_kpa(one, task.policy) for _, one in order]
        if not task.supply.prefer or fulls == sorted(fulls):
            found.append(order)
    return found


def brute_force(task: Task) -> list[str] | None:
    """Labels of the best set in the order of use, by trying everything."""
    store = [*enumerate(task.supply.store or ())]
    places = len(store) if task.supply.places is None else task.supply.places
    passing = []
    for count in range(min(len(store), places) + 1):
        for chosen in combinations(store, count):
            mass = sum(one.mass_kg or 0.0 for _, one in chosen)
            if task.supply.weight_limit_kg is not None and mass > task.supply.weight_limit_kg:
                continue
            supply = task.supply._replace(cylinders=tuple(one for _, one in chosen))
            stock = on_hand(supply, task.policy)
            assert stock is not None
            if any(tank.usable_l <= 0.0 for tank in stock.each) or not passes(replace(task, supply=supply), stock):
                continue
            fulls = sum(one.gauge_kpa >= full_gauge_kpa(one, task.policy) for _, one in chosen)
            passing.append(((fulls if task.supply.prefer else 0, count, mass), chosen))
    if not passing:
        return None
    least = min(key for key, _ in passing)
    by_age = sorted(age(placed) for placed in store)
    sets = [
        (
            min(changes(task, order, brought_forward=False) for order in allowed_orders(task, chosen)),
            sum(by_age.index(age(placed)) for placed in chosen),
            chosen,
        )
        for key, chosen in passing
        if key == least
    ]
    best = min(sets, key=lambda one: one[:2])[-1]
    orders = [
        (changes(task, order, brought_forward=True), [age(placed) for placed in order], [one.label for _, one in order])
        for order in allowed_orders(task, best)
    ]
    return min(orders)[-1]


@pytest.mark.hazard(30)
@pytest.mark.longer("seed", range(2), range(800))
def test_choice_is_the_best_of_all(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """However few of each kind are tried first."""
    random = Random(seed)  # noqa: S311 - draws trips, guards nothing
    chosen_some = 0
    for number in range(40):
        monkeypatch.setattr(choice_search, "FEW", 1 + number % 4)
        task = random_case(random)
        found = choose(task)
        labels = None if found.cylinders is None else [one.label for one in found.cylinders]
        assert labels == brute_force(task), task.supply
        assert (found.cylinders is None) == (found.binding is not None)
        chosen_some += labels is not None
    assert chosen_some > 2


OUTLETS = [(flowmeter(),), (HIGH_PRESSURE,), (flowmeter(), HIGH_PRESSURE), (flowmeter(6.0), HIGH_PRESSURE)]


def random_shared_trip(random: Random) -> Trip:
    """Cart and chair choose from one store of two to five cylinders whose outlets differ."""
    store = tuple(
        cylinder(
            f"c{number}",
            random.choice([900, 1500, 2000, 2200]),
            random.choice(["US-E", "US-D"]),
            mass_kg=float(random.choice([3, 5, 8])),
            outlets=random.choice(OUTLETS),
        )
        for number in range(random.randint(2, 5))
    )
    supplies = [
        Supply(name, "cylinders", store=store, store_file="room.yaml", places=random.choice([None, 2]))
        for name in ("cart", "chair")
    ]
    legs = [
        leg(random.randint(2, 15), random.choice([VENTILATOR, CANNULA]), supply=random.choice(["cart", "chair"]))
        for _ in range(random.randint(1, 3))
    ]
    policy = policy_defaults("in_house")._replace(reserve_time_min=float(random.choice([0, 5, 15])))
    return trip(supplies, *legs, policy=policy)


def ways(made: Trip, name: str) -> dict[frozenset[int], float]:
    """Every set of the store that passes for a supply by itself in some order of use, with its mass."""
    task = task_of(made, made.supplies[name], flows(made.legs), scenarios(made))
    store = [*enumerate(task.supply.store or ())]
    most = len(store) if task.supply.places is None else task.supply.places
    found: dict[frozenset[int], float] = {}
    if not any(need.need_l > 0.0 for need in task.litre_needs):
        return {frozenset(): 0.0}
    for count in range(1, most + 1):
        for chosen in combinations(store, count):
            for order in permutations(chosen):
                supply = task.supply._replace(cylinders=tuple(one for _, one in order))
                stock = on_hand(supply, task.policy)
                assert stock is not None
                if passes(replace(task, supply=supply), stock):
                    found[frozenset(place for place, _ in chosen)] = sum(one.mass_kg or 0.0 for _, one in chosen)
                    break
    return found


@pytest.mark.hazard(34)
@pytest.mark.longer("seed", range(1), range(100))
def test_two_supplies_choose_the_best_that_both_can_have(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    random = Random(1000 + seed)  # noqa: S311 - draws trips, guards nothing
    both = neither = 0
    for number in range(40):
        monkeypatch.setattr(choice_search, "FEW", 1 + number % 4)
        made = random_shared_trip(random)
        pairs = [
            (len(cart) + len(chair), cart_kg + chair_kg)
            for cart, cart_kg in ways(made, "cart").items()
            for chair, chair_kg in ways(made, "chair").items()
            if not cart & chair
        ]
        found = plan(made)
        refused = any(finding.code == "no_choice" for finding in found.findings)
        assert refused == (not pairs), made
        if pairs:
            taken = [one for supply in found.trip.supplies.values() for one in supply.cylinders]
            assert len({one.label for one in taken}) == len(taken)
            assert (len(taken), sum(one.mass_kg or 0.0 for one in taken)) == min(pairs), made
        both, neither = both + bool(pairs), neither + (not pairs)
    assert both > 3
    assert neither > 3
