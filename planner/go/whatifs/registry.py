"""Every what-if by its name, in the order of planner/trade/data/what_ifs.csv: a row there, a file here."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib import import_module

from planner.flow.flows import Flow
from planner.go.whatifs.kind import Kind
from planner.go.whatifs.scenario import Scenario, as_planned, can_lose_one
from planner.model import Trip
from planner.naming import called
from planner.results import WhatIf
from planner.trade.policy_table import what_if_names

PAIRED = "+cylinder_lost"
"""What a pair is named by: the failure of a device, and a cylinder lost as well."""


@cache
def kind(name: str) -> Kind:
    """A what-if by its name. Raises ModuleNotFoundError for one without a file."""
    found: Kind = import_module(f"planner.go.whatifs.{name}").WHAT_IF
    return found


def base(name: str) -> str:
    """The what-if that a row is of: the failure itself, for a pair."""
    return name.removesuffix(PAIRED)


def title(trip: Trip, row: WhatIf) -> str:
    """A row in a narrow column: `Ventilator fails`, `main lost`, and what else is lost beside it."""
    of = kind(base(row.name))
    text = of.title if of.short_title is None else of.short_title(trip, row)
    return f"{text}, {_lost(row)} lost too" if row.name.endswith(PAIRED) else text


def condition(trip: Trip, row: WhatIf, begins: str) -> str:
    """What is supposed, at the head of a sentence: `If the ventilator fails (worst 23 min after departure)`."""
    of = kind(base(row.name))
    about = of.about(trip, row) if of.about is not None else ""
    text = of.condition + about + (f" and {_lost(row)} is lost" if row.name.endswith(PAIRED) else "")
    return f"{text} (worst {begins if row.from_min >= 1.0 else 'at departure'})" if of.at_the_worst else text


def _lost(row: WhatIf) -> str:
    return "a cylinder" if row.cylinder is None else called(row.cylinder)


def scenarios(trip: Trip, planned: Mapping[str, Flow] | None = None) -> tuple[Scenario, ...]:
    """Every what-if that changes something, in the order of the table, and each failure of a device paired.

    `planned`: the flows of the trip, if known.
    """
    start = as_planned(trip, planned)
    single = [scenario for name in what_if_names() for scenario in kind(name).scenarios(start)]
    pairs = [
        scenario._replace(name=f"{scenario.name}{PAIRED}", lose_one=True)
        for scenario in single
        if kind(scenario.name).device_fails and can_lose_one(trip.supplies[scenario.supply])
    ]
    return (*single, *pairs)
