"""The ventilator fails and its fallback takes over, hand ventilation unless the trip says otherwise."""

from __future__ import annotations

from planner.go.whatifs.kind import Kind
from planner.go.whatifs.take_over import mends, of_types

WHAT_IF = Kind(
    title="Ventilator fails",
    condition="If the ventilator fails",
    scenarios=lambda planned: of_types(planned, "ventilator_fails"),
    mends=mends,
    device_fails=True,
    at_the_worst=True,
)
