"""The ventilator fails and its fallback takes over, hand ventilation unless the trip says otherwise."""

from __future__ import annotations

from planner.go.whatifs.take_over import fails

WHAT_IF = fails("ventilator_fails", "The ventilator")
