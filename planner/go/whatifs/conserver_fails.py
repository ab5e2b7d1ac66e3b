"""The oxygen conserver fails and its fallback takes over."""

from __future__ import annotations

from planner.go.whatifs.kind import Kind
from planner.go.whatifs.take_over import mends, of_types

WHAT_IF = Kind(
    title="Oxygen conserver fails",
    condition="If the oxygen conserver fails",
    scenarios=lambda planned: of_types(planned, "conserver_fails"),
    mends=mends,
    device_fails=True,
    at_the_worst=True,
)
