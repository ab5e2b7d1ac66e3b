"""The oxygen conserver fails and its fallback takes over."""

from __future__ import annotations

from planner.go.whatifs.take_over import fails

WHAT_IF = fails("conserver_fails", "The oxygen conserver")
