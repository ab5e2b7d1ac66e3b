"""The concentrator fails and its fallback takes over."""

from __future__ import annotations

from planner.go.whatifs.kind import Kind
from planner.go.whatifs.take_over import mends, of_types

WHAT_IF = Kind(
    title="Concentrator fails",
    condition="If the concentrator fails",
    scenarios=lambda planned: of_types(planned, "concentrator_fails"),
    mends=mends,
    device_fails=True,
    at_the_worst=True,
)
