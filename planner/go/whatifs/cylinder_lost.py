"""Any one cylinder of portable oxygen is lost at departure: each is tried, and the worst is told by its label."""

from __future__ import annotations

from collections.abc import Iterator

from planner.go.whatifs.kind import Kind
from planner.go.whatifs.scenario import Planned, Scenario, can_lose_one, unchanged
from planner.model import Trip
from planner.naming import called
from planner.results import WhatIf


def _scenarios(planned: Planned) -> Iterator[Scenario]:
    for name in planned.flows:
        supply = planned.trip.supplies[name]
        if can_lose_one(supply):
            yield unchanged(planned, "cylinder_lost", name, lose_one=True)


def _detail(_: Trip, row: WhatIf) -> str:
    return "at departure" if row.cylinder is None else f"at departure, the worst to lose is {called(row.cylinder)}"


WHAT_IF = Kind(
    title="A cylinder lost",
    condition="If ",
    about=lambda _, row: "a cylinder is lost" if row.cylinder is None else f"{called(row.cylinder)} is lost",
    scenarios=_scenarios,
    detail=_detail,
    short_title=lambda _, row: "A cylinder lost" if row.cylinder is None else f"{called(row.cylinder)} lost",
)
