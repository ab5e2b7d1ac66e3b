"""The best cylinders from a store.

A supply may name a store of cylinders with real readings, a weight limit and a number of places. Supplies of one trip
that choose from one store are chosen together: a cylinder serves once. Chosen are the sets that pass go with every
must-hold what-if, by: fewest readings that count no longer, fewest cylinders, then least mass, then fewest change-overs
that the litres ask for, then oldest readings (the sum of their places in the order of age). The order of use has the
fewest change-overs, those brought forward for a no-change stretch among them, then the oldest reading first. With
`prefer: part_used` fewest full cylinders comes before the number, and part-used ones are used first.

The search itself is in `planner.store.choice_search`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from math import fsum, inf
from pathlib import Path
from typing import NamedTuple

from planner import figures
from planner.constants import FULL_SHARE_OF_FILLING
from planner.cylinders.depletion import Tank
from planner.cylinders.stock import held
from planner.go.judge import Task
from planner.go.whatif import reads_high_kpa
from planner.model import Cylinder, Policy, Supply, Trip
from planner.moments import minutes_between
from planner.naming import labelled
from planner.problems import Finding, finding
from planner.store.choice_search import MOST_CUTS, Found, search
from planner.store.shelf import Candidate, Shelf, lacking_l, litres_wanted


class Choice(NamedTuple):
    """The cylinders chosen, in the order of use; None where none will do, with the limit that binds.

    `proven` False: a better choice, or any at all where there is none, could not be ruled out.
    """

    cylinders: tuple[Cylinder, ...] | None
    binding: str | None = None
    proven: bool = True


def choose(task: Task, trip: Trip | None = None) -> Choice:
    """The best set and order from the store of one supply by itself."""
    shelf = _shelf(task, trip, frozenset())
    return _choice(shelf, search([_within_weight(shelf)]), 0)


def _choice(shelf: Shelf, found: Found, number: int) -> Choice:
    if found.orders is None:
        return Choice(None, _why_none(shelf), found.proven)
    return Choice(tuple(one.cylinder for one in found.orders[number]), None, found.proven)


def full_gauge_kpa(cylinder: Cylinder, policy: Policy) -> float:
    """The reading from which a cylinder counts as full: `full_at` for US sizes, 0.9 of filling for others."""
    if cylinder.size is not None and cylinder.size.startswith("US-"):
        return policy.full_at_kpa
    return FULL_SHARE_OF_FILLING * cylinder.filling_gauge_kpa


def reading_age_min(trip: Trip | None, cylinder: Cylinder) -> float | None:
    """Minutes from a reading to the departure; None where nobody can tell."""
    if trip is None or trip.departs is None or cylinder.checked is None:
        return None
    if (cylinder.checked.tzinfo is None) != (trip.departs.tzinfo is None):
        return None
    return minutes_between(cylinder.checked, trip.departs)


def _physical(supply: Supply, cylinder: Cylinder) -> object:
    """What is the same for one cylinder in the stores of two supplies: the file and the label."""
    if supply.store_file is not None:
        return str(Path(supply.store_file).resolve()), cylinder.label
    return cylinder.where, cylinder.label


def _shelf(task: Task, trip: Trip | None, listed: frozenset[tuple[str, str | None]]) -> Shelf:
    """What a supply may choose from; `listed` are cylinders that the trip lists elsewhere already."""
    supply, policy = task.supply, task.policy
    found = []
    for place, cylinder in enumerate(supply.store or ()):
        normal = held(cylinder, supply, policy)
        if (
            (cylinder.out_of_use and not cylinder.on_board)
            or cylinder.gas != supply.gas
            or normal.usable_l <= 0.0
            or (cylinder.label, cylinder.size) in listed
        ):
            continue
        tank = Tank(normal.usable_l, normal.outlets, cylinder.magnet_safe)
        if not any(tank.serves(asks) for asks in task.asks):
            continue
        high = held(cylinder, supply, policy, allowance_kpa=reads_high_kpa(policy, cylinder))
        age_min = reading_age_min(trip, cylinder)
        found.append(
            Candidate(
                place,
                _physical(supply, cylinder),
                cylinder,
                tank,
                normal.usable_l,
                high.usable_l,
                inf if cylinder.mass_kg is None else cylinder.mass_kg,
                cylinder.gauge_kpa >= full_gauge_kpa(cylinder, policy),
                age_min is not None and age_min > policy.reading_valid_for_min,
            )
        )
    places = len(found) if supply.places is None else supply.places
    return Shelf(task, tuple(found), places, inf if supply.weight_limit_kg is None else supply.weight_limit_kg)


def _within_weight(shelf: Shelf) -> Shelf:
    """The same without cylinders of unknown mass where there is a limit."""
    if shelf.limit_kg == inf:
        return shelf
    return shelf._replace(candidates=tuple(one for one in shelf.candidates if one.mass_kg < inf))


def _why_none(shelf: Shelf) -> str:
    """The limit that binds and by how much, as a sentence."""
    everything = len(shelf.candidates)
    if not shelf.candidates:
        return _no_outlets(shelf)
    free = search([shelf._replace(places=everything, limit_kg=inf)])
    if free.orders is None:
        short = max(
            ((lacking_l(shelf, wanted), wanted.of) for wanted in litres_wanted(shelf)), key=lambda pair: pair[0]
        )
        if short[0] > 0.0:
            return _short(shelf, *short)
        return f"no set of the {everything} that fit carries every leg with its outlets in an order of use that holds"
    taken = len(free.orders[0])
    if taken > shelf.places:
        there = f"there {'is' if shelf.places == 1 else 'are'} {shelf.places} place{'s' * (shelf.places != 1)}"
        return f"it takes {taken} cylinders and {there}, {taken - shelf.places} too few"
    return _too_heavy(shelf, fsum(one.mass_kg for one in free.orders[0]))


def _short(shelf: Shelf, short_l: float, of: frozenset[int]) -> str:
    """How many litres all that can serve are short."""
    if not of:
        return _no_outlets(shelf)
    if len(of) == len(shelf.candidates):
        return f"all {len(of)} cylinders that fit are {figures.need_l(short_l)} short together"
    return f"the {len(of)} cylinders whose outlets carry all of some legs are {figures.need_l(short_l)} short together"


def _no_outlets(shelf: Shelf) -> str:
    count, gas = len(shelf.task.supply.store or ()), shelf.task.supply.gas
    return f"none of the {count} cylinders in the store has usable {gas} and outlets for all that may be asked"


def _too_heavy(shelf: Shelf, passes_at_kg: float) -> str:
    """By how much the lightest set that passes within the places is over the limit; one of a given mass does pass."""
    limit_kg = shelf.limit_kg
    known = _within_weight(shelf)._replace(limit_kg=passes_at_kg)
    lightest = search([known], lightest_first=True)
    if lightest.orders is None:
        return f"the mass of too many cylinders is unknown to keep the limit of {figures.mass_set(limit_kg)}"
    mass_kg = fsum(one.mass_kg for one in lightest.orders[0])
    return (
        f"the lightest set that passes weighs {figures.mass_up(mass_kg)}, {figures.mass_up(mass_kg - limit_kg)} over "
        f"the limit of {figures.mass_set(limit_kg)}"
    )


def chosen(trip: Trip, tasks: Mapping[str, Task]) -> tuple[Trip, tuple[Finding, ...]]:
    """The trip with the cylinders chosen for each supply that names a store, and what to say of each choice.

    All supplies choose together. Where that cannot be, they do so in the order of the profile as far as it goes, and
    the first that finds nothing left is told what the others took.
    """
    listed = frozenset((one.label, one.size) for supply in trip.supplies.values() for one in supply.cylinders)
    shelves = {
        name: _shelf(tasks[name], trip, listed) for name, supply in trip.supplies.items() if supply.store is not None
    }
    if not shelves:
        return trip, ()
    found = search([_within_weight(shelf) for shelf in shelves.values()])
    served, refused = list(shelves), dict[str, Choice]()
    if found.orders is None:
        served, found, refused = _as_far_as_it_goes(shelves)
    supplies = dict(trip.supplies)
    said: list[Finding] = []
    for name, shelf in shelves.items():
        choice = refused[name] if name in refused else _choice(shelf, found, served.index(name))
        supplies[name] = trip.supplies[name]._replace(cylinders=choice.cylinders or ())
        said.append(_said(trip.supplies[name], choice))
        said += _to_read_again(trip, name, choice)
    return trip._replace(supplies=supplies), tuple(said)


def _as_far_as_it_goes(shelves: Mapping[str, Shelf]) -> tuple[list[str], Found, dict[str, Choice]]:
    """Supplies that can choose together, in their order, what they take, and why each other one finds nothing."""
    served: list[str] = []
    found = Found(())
    refused: dict[str, Choice] = {}
    for name, shelf in shelves.items():
        trial = search([_within_weight(shelves[each]) for each in (*served, name)])
        if trial.orders is not None:
            served, found = [*served, name], trial
            continue
        alone = search([_within_weight(shelf)])
        if alone.orders is None:
            refused[name] = _choice(shelf, alone, 0)
        else:
            taken = ", ".join(labelled(one.cylinder.label, one.cylinder.gas) for one in alone.orders[0])
            need = f"it takes {taken} or others like it"
            why = f"{need}, and what {' and '.join(served)} must have leaves too little; a cylinder serves once"
            refused[name] = Choice(None, why, trial.proven)
    return served, found, refused


def _said(supply: Supply, choice: Choice) -> Finding:
    count = len(supply.store or ())
    if choice.cylinders is None:
        verdict = "passes" if choice.proven else f"was found in {MOST_CUTS} tries, though one may exist"
        return finding(
            "stop",
            "no_choice",
            f"{supply.name}: no choice from the store of {count} {verdict}: {choice.binding}.",
            "Fill or fetch cylinders, lift the limit, or shorten the trip.",
            supply.where,
        )
    labels = ", ".join(labelled(one.label, one.gas) for one in choice.cylinders) or "none needed"
    unproven = "" if choice.proven else " It passes; fewer or lighter ones could not be ruled out."
    return finding(
        "note",
        "chosen_from_store",
        f"{supply.name}: chosen from the store of {count}, in the order of use: {labels}.{unproven}",
        "Read each gauge again with the valve open before departure.",
        supply.where,
    )


def _to_read_again(trip: Trip, name: str, choice: Choice) -> Iterator[Finding]:
    """A caution where only readings that count no longer would serve."""
    old = [
        labelled(one.label, one.gas)
        for one in choice.cylinders or ()
        if (age_min := reading_age_min(trip, one)) is not None and age_min > trip.policy.reading_valid_for_min
    ]
    if old:
        supply = trip.supplies[name]
        yield finding(
            "caution",
            "chosen_on_old_reading",
            f"{name}: no choice of fresh readings passes; {', '.join(old)} must be read again.",
            f"Read {', '.join(old)} with the valve open, write gauge and time into the store, and plan again.",
            supply.where,
        )
