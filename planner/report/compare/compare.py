"""What was used against what was planned, for the screen: what to do first, then the figures, then how sure they are.

Minutes are those since departure, with the clock time where it is known.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from planner import figures
from planner.afterwards.compare import Comparison
from planner.afterwards.stretches import SET_FLOW_WITHIN
from planner.afterwards.unit_slip import UNIT_IN_DOUBT
from planner.problems import Finding
from planner.report import words
from planner.report.compare.closing import closing_lines
from planner.report.compare.headline import headline
from planner.report.compare.rest import assumed_text, rest_lines
from planner.report.compare.steps import steps
from planner.report.compare.table import measured_texts, table_lines
from planner.report.compare.when import minute_text
from planner.report.screen import printable, wrap

CONFIDENCE: Final = 0.95


def confidence_text() -> str:
    """How sure a verdict is, and where that comes from."""
    return (
        "How sure: the ranges cover about 95 of 100 cases of what gauges are misread by (twice the standard "
        "uncertainty, JCGM 100:2008, from memory), with the gauge's class, temperature, water capacity and time at "
        f"their worst besides. A flow may be {figures.percent(SET_FLOW_WITHIN)} off what is set (ISO 15002, from "
        "memory). SLOWER and FASTER are said only where the whole range is beyond that, 'as planned' only where half "
        "of the planned use would have shown."
    )


def compare_text(found: Comparison) -> str:
    """The comparison as text with a line break at its end."""
    parts = (
        _head(found),
        [line for number, step in enumerate(steps(found), start=1) for line in wrap(step, f"  {number}. ")],
        table_lines(found),
        rest_lines(found),
        closing_lines(found),
        [line for each in _beside_steps(found) for line in wrap(words.finding_sentence(each), "", "  ")],
        wrap(confidence_text()),
        wrap(words.PLANNING_AID[0]),
    )
    lines = [line for part in parts if part for line in ("", *part)][1:]
    return "\n".join(printable(line.rstrip()) for line in lines) + "\n"


def _beside_steps(found: Comparison) -> Iterator[Finding]:
    return (each for each in found.findings if each.code != UNIT_IN_DOUBT)


def _head(found: Comparison) -> list[str]:
    trip = found.plan.trip
    name = trip.name if trip.reference is None else f"{trip.name} ({trip.reference})"
    what = "last reading" if found.log.closing is None else "last gauges"
    lines = wrap(headline(found))
    for text in measured_texts(found):
        lines += wrap(text)
    lines += wrap(f"Trip: {name}; {what} at {minute_text(found, found.now_min)}")
    return [*lines, *wrap(assumed_text(found))] if found.rests else lines
