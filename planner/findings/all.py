"""What the planner remarks about a trip: stops, cautions and notes, each with what would mend it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from planner.findings.accepted import Decisions
from planner.findings.at_changes import of_hands
from planner.findings.batteries import of_batteries
from planner.findings.carried_for import of_empty, of_zero_flow
from planner.findings.concentrators import of_concentrators
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
)
from planner.findings.trip import of_trip
from planner.go.batteries import batteries
from planner.go.worked import Worked
from planner.problems import Finding
from planner.results import Plan

_LEVELS = {"stop": 0, "caution": 1, "note": 2}


def findings(
    made: Plan, every: Mapping[str, Worked], choices: Sequence[Finding], decisions: Decisions
) -> tuple[Finding, ...]:
    """Every finding of a plan that has all but these, stops first; the cause stands before its consequences.

    `every`: each supply as worked out. `choices`: what is said of a choice from a store. `decisions` take the stops
    that a clinician accepts.
    """
    trip = made.trip
    missing = missing_outlets(every)
    found = [*of_missing_outlets(trip, missing), *choices]
    found += [*of_zero_flow(trip, every), *of_empty(trip, every)]
    found += decisions.on_cabin(of_trip(trip))
    found += of_batteries(trip, batteries(trip))
    found += of_concentrators(trip)
    for name, supply in trip.supplies.items():
        one, planned = every[name], made.supplies[name]
        told = [*of_backup(trip, supply, every), *of_order(one), *of_need(trip, one, planned)]
        told += of_outlets(planned)
        found += decisions.on_need(without_consequences(told, supply, missing), one)
        found += of_first(trip, one, planned)
        found += of_changes(planned)
    for row in rows_apart(made.whatifs, missing):
        found += decisions.on_what_if(of_what_ifs(trip, (row,), made.supplies), trip, row)
    found += of_hands(trip, made.changes)
    found += decisions.unneeded(every, made.whatifs)
    found += of_arrival(trip)
    return tuple(sorted(dict.fromkeys(found), key=lambda finding: _LEVELS[finding.level]))
