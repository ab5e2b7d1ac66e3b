"""The best cylinders from a store.

A supply may name a store of cylinders with real readings, a weight limit and a number of places. Chosen is the set
that passes go with every must-hold what-if, by: fewest cylinders, then least mass, then fewest change-overs that
the litres ask for, then oldest reading first. The order of use has the fewest change-overs, those brought forward
for a no-change stretch among them, then the oldest reading first. With `prefer: part_used` fewest full cylinders
comes before all, and part-used ones are used first. Only cylinders of oxygen whose outlets carry everything that
may be asked on the supply are considered, so that the sum of litres decides.

The search itself is in `planner.store.choice_search`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import fsum, inf
from typing import NamedTuple

from planner.constants import FULL_SHARE_OF_FILLING
from planner.cylinders.depletion import Tank
from planner.cylinders.onhand import OXYGEN
from planner.cylinders.stock import held
from planner.go.judge import Case
from planner.go.sizing import without_largest
from planner.go.whatif import reads_high_kpa
from planner.model import Cylinder, Policy, Supply, Trip
from planner.problems import Finding
from planner.store.choice_search import Candidate, Search


class Choice(NamedTuple):
    """The cylinders chosen, in the order of use; None where none will do, with the limit that binds."""

    cylinders: tuple[Cylinder, ...] | None
    binding: str | None = None


def choose(this: Case) -> Choice:
    """The best set and order from the store of a supply."""
    store = this.supply.store or ()
    candidates = [candidate for candidate in _candidates(this, store) if _may_serve(this, candidate)]
    search = Search(this, candidates)
    places = len(candidates) if this.supply.places is None else this.supply.places
    limit = inf if this.supply.weight_limit_kg is None else this.supply.weight_limit_kg
    weighed = [candidate for candidate in candidates if limit == inf or candidate.mass_kg < inf]
    found = Search(this, weighed).best(places, limit)
    if found is not None:
        return Choice(tuple(candidate.cylinder for candidate in found))
    return Choice(None, _why_none(store, search, places, limit))


def full_gauge_kpa(cylinder: Cylinder, policy: Policy) -> float:
    """The reading from which a cylinder counts as full: `full_at` for US sizes, 0.9 of filling for others."""
    if cylinder.size is not None and cylinder.size.startswith("US-"):
        return policy.full_at_kpa
    return FULL_SHARE_OF_FILLING * cylinder.filling_gauge_kpa


def _candidates(this: Case, store: Sequence[Cylinder]) -> Iterator[Candidate]:
    for place, cylinder in enumerate(store):
        normal = held(cylinder, this.supply, this.policy)
        high = held(cylinder, this.supply, this.policy, allowance_kpa=reads_high_kpa(this.policy, cylinder))
        if cylinder.gas == OXYGEN and normal.usable_l > 0.0:
            yield Candidate(
                place,
                cylinder,
                Tank(normal.usable_l, normal.outlets, cylinder.magnet_safe),
                normal.usable_l,
                high.usable_l,
                inf if cylinder.mass_kg is None else cylinder.mass_kg,
                cylinder.gauge_kpa >= full_gauge_kpa(cylinder, this.policy),
            )


def _may_serve(this: Case, candidate: Candidate) -> bool:
    return all(candidate.tank.serves(asks) for asks in this.asks)


def _why_none(store: Sequence[Cylinder], search: Search, places: int, limit: float) -> str:
    """The limit that binds and by how much, as a sentence."""
    if not search.candidates:
        return (
            f"none of the {len(store)} cylinders in the store has usable oxygen and outlets for all that may be asked"
        )
    everything = len(search.candidates)
    free = search.best(everything, inf)
    if free is None:
        short = max(
            need_l - without_largest([c.usable_high_l if high else c.usable_l for c in search.candidates], leave_out)
            for need_l, leave_out, high in search.demands
        )
        return f"all {everything} cylinders that fit are {short:.0f} L short together"
    if len(free) > places:
        return f"it takes {len(free)} cylinders and there are {places} places, {len(free) - places} too few"
    sums = [
        fsum(take * group[0].mass_kg for take, group in zip(spreads[0], search.classes, strict=True) if take)
        for count in range(len(free), min(places, everything) + 1)
        if (spreads := search.lightest(count, inf))
    ]
    lightest = min(sums)
    if lightest == inf:
        return f"the mass of too many cylinders is unknown to keep the limit of {limit:g} kg"
    over = lightest - limit
    return f"the lightest set that passes weighs {lightest:.1f} kg, {over:.1f} kg over the limit of {limit:g} kg"


def chosen(trip: Trip, cases: Mapping[str, Case]) -> tuple[Trip, tuple[Finding, ...]]:
    """The trip with the cylinders chosen for each supply that names a store, and what to say of each choice."""
    supplies = dict(trip.supplies)
    said: list[Finding] = []
    for name, supply in trip.supplies.items():
        if supply.store is None:
            continue
        choice = choose(cases[name])
        supplies[name] = supply._replace(cylinders=choice.cylinders or ())
        said.append(_said(supply, choice))
    return (trip._replace(supplies=supplies), tuple(said)) if said else (trip, ())


def _said(supply: Supply, choice: Choice) -> Finding:
    count = len(supply.store or ())
    line, column = (supply.where.line, supply.where.column) if supply.where.line else (None, None)
    if choice.cylinders is None:
        return Finding(
            "stop",
            "no_choice",
            f"{supply.name}: no choice from the store of {count} passes: {choice.binding}.",
            "Fill or fetch cylinders, lift the limit, or shorten the trip.",
            line,
            column,
        )
    labels = ", ".join(cylinder.label for cylinder in choice.cylinders) or "none needed"
    return Finding(
        "note",
        "chosen_from_store",
        f"{supply.name}: chosen from the store of {count}, in the order of use: {labels}.",
        "Read each gauge again with the valve open before departure.",
        line,
        column,
    )
