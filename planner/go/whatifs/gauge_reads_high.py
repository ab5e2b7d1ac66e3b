"""Every gauge reads too high, by max(100 psi, 2.5 % of its scale), in place of the allowance."""

from __future__ import annotations

from collections.abc import Iterator

from planner.go.whatifs.kind import Kind
from planner.go.whatifs.scenario import Planned, Scenario, unchanged


def _scenarios(planned: Planned) -> Iterator[Scenario]:
    for name in planned.flows:
        if planned.trip.supplies[name].kind in ("cylinders", "manifold", "sizes"):
            yield unchanged(planned, "gauge_reads_high", name, reads_high=True)


WHAT_IF = Kind(
    title="Gauges read too high",
    condition="If the gauges read too high",
    scenarios=_scenarios,
    detail=lambda _, __: "every one by 100 psi, or 2.5 % of its scale if more",
)
