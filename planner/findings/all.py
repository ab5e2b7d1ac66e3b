"""What the planner remarks about a trip: stops, cautions and notes, each with what would mend it."""

from planner.findings.batteries import of_batteries
from planner.findings.carried_for import of_empty, of_zero_flow
from planner.findings.missing_outlet import missing_outlets, of_missing_outlets, rows_apart, without_consequences
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
    "missing_outlets",
    "of_arrival",
    "of_backup",
    "of_batteries",
    "of_changes",
    "of_empty",
    "of_first",
    "of_missing_outlets",
    "of_need",
    "of_order",
    "of_outlets",
    "of_trip",
    "of_what_ifs",
    "of_zero_flow",
    "rows_apart",
    "unfit",
    "without_consequences",
]
