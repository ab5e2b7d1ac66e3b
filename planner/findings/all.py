"""What the planner remarks about a trip: stops, cautions and notes, each with what would mend it."""

from planner.findings.carried_for import of_empty, of_zero_flow
from planner.findings.outcome import (
    of_arrival,
    of_backup,
    of_changes,
    of_first,
    of_need,
    of_order,
    of_outlets,
    of_what_ifs,
    unfit,
)
from planner.findings.trip import of_trip

__all__ = [
    "of_arrival",
    "of_backup",
    "of_changes",
    "of_empty",
    "of_first",
    "of_need",
    "of_order",
    "of_outlets",
    "of_trip",
    "of_what_ifs",
    "of_zero_flow",
    "unfit",
]
