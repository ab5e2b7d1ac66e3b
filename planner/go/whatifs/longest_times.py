"""Every leg takes its longest time, delays added."""

from __future__ import annotations

from collections.abc import Iterator

from planner.go.whatifs.kind import Kind
from planner.go.whatifs.scenario import Planned, Scenario, altered


def _scenarios(planned: Planned) -> Iterator[Scenario]:
    legs = tuple(
        leg if leg.longest_min is None else leg._replace(duration_min=leg.longest_min, longest_min=None)
        for leg in planned.trip.legs
    )
    yield from altered(planned, "longest_times", [leg.uses for leg in legs], legs=legs)


WHAT_IF = Kind(
    title="Every leg takes its longest time",
    condition="If every leg takes its longest time",
    scenarios=_scenarios,
    detail=lambda _, __: "delays added",
    short_title=lambda _, __: "Longest times on all legs",
)
