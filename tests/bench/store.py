"""How long the choice from a store takes: `python -m tests.bench store`.

For stores of 20, 40 and 200 cylinders it prints the median of seven choices in milliseconds, and the ratio to a
floor measured in the same run: working out what each cylinder of the store gives, once, which any choice must do. A
store of 200 is meant to stay under 2 s, the start of the solver not in it.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from random import Random

from planner.cylinders.stock import held
from planner.flow.flows import flows
from planner.go.judge import Task, task_of
from planner.go.whatifs.registry import scenarios
from planner.model import Supply
from planner.store.choice import choose
from tests.bench.timing import call_ms
from tests.build import CANNULA, HIGH_PRESSURE, VENTILATOR, cylinder, flowmeter, leg, trip

MORNING = datetime(2026, 12, 3, 6, tzinfo=UTC)
MASSES_KG = {"US-E": 7.9, "US-D": 5.7, "US-M60": 13.3}


def invented(count: int, *, weighed: bool, refused: str = "", mixed: bool = False) -> Task:
    """A road trip of four legs with a store; `weighed` gives each cylinder a mass of its own.

    `mixed`: one in five drives a ventilator, the others feed a mask, and legs need either. `refused` by "places",
    "weight", "litres" or "outlets": no set will do, and why is to be told.
    """
    random = Random(count)  # noqa: S311 - draws a store, guards nothing
    store = []
    for number in range(count):
        size = random.choice(["US-E", "US-E", "US-D", "US-M60"])
        mass = random.uniform(5.0, 14.0) if weighed else MASSES_KG[size]
        read = MORNING + timedelta(minutes=random.randint(0, 500))
        psi = random.randint(500, 501 if refused == "litres" else 2200)
        drives = not mixed or (number % 5 == 0 and refused != "outlets")
        outlets = (HIGH_PRESSURE, *((flowmeter(),) if not mixed else ())) if drives else (flowmeter(),)
        store.append(cylinder(f"c{number}", psi, size, mass_kg=mass, checked=read, outlets=outlets))
    limits = {"places": {"places": 1}, "weight": {"weight_limit_kg": 9.0}}.get(refused, {})
    supply = Supply("cart", "cylinders", store=tuple(store), **limits)  # type: ignore[arg-type]
    devices = (VENTILATOR, CANNULA, VENTILATOR, CANNULA) if mixed else (VENTILATOR,) * 4
    made = trip([supply], *(leg(30.0, device) for device in devices), setting="road")
    return task_of(made, made.supplies["cart"], flows(made.legs), scenarios(made))


def main() -> None:
    """Prints one line a store."""
    print("Choice from a store, CPU time; the floor works out what each cylinder gives, once:")
    for weighed in (False, True):
        for count in (20, 40, 200):
            task = invented(count, weighed=weighed)
            store = task.supply.store or ()
            taken = call_ms(lambda task=task: choose(task))  # type: ignore[misc]
            floor = call_ms(
                lambda task=task, store=store: [held(one, task.supply, task.policy) for one in store]  # type: ignore[misc]
            )
            masses = "a mass of its own each" if weighed else "masses by size"
            print(f"  {count:5,} cylinders, {masses:22}  {taken:8.1f} ms, {taken / floor:5.1f} x floor")
    for mixed in (False, True):
        for refused in ("", "places", "weight", "litres", *(("outlets",) if mixed else ())):
            task = invented(200, weighed=True, refused=refused, mixed=mixed)
            assert (choose(task).cylinders is None) == bool(refused), (mixed, refused)
            what = f"{'mixed outlets, ' * mixed}{f'refused by {refused}' * bool(refused) or 'chosen'}"
            print(f"    200 cylinders, {what:34}  {call_ms(lambda task=task: choose(task)):8.1f} ms")  # type: ignore[misc]
