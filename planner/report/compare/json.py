"""The comparison as JSON, format 1: unrounded, gauges in psi, minutes since departure; null where nothing applies."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from planner.afterwards.answers import Answer
from planner.afterwards.compare import Comparison
from planner.afterwards.rest import Rest
from planner.afterwards.stretches import Stretch
from planner.constants import KPA_PER_PSI
from planner.report.compare.battery import battery_sentence
from planner.report.compare.closing import missing_texts
from planner.report.compare.compare import CONFIDENCE, confidence_text
from planner.report.compare.headline import headline
from planner.report.compare.rest import assumed_text
from planner.report.compare.steps import steps
from planner.report.compare.table import measured_texts
from planner.report.fields import finding_result

FORMAT = 1


def compare_result(found: Comparison, *, close: bool = False) -> dict[str, Any]:
    """The comparison as plain dictionaries and lists. `close`: whether the trip is to be closed after it is told."""
    trip = found.plan.trip
    return {
        "format": FORMAT,
        "command": "compare",
        "trip": trip.name,
        "reference": trip.reference,
        "fingerprint": trip.fingerprint,
        "headline": headline(found),
        "steps": steps(found),
        "alert": not found.as_planned,
        "now_min": found.now_min,
        "legs_end_min": list(found.bounds_min[1:]),
        "stretches": [_stretch(stretch) for stretch in found.stretches],
        "overall": [_stretch(stretch) for stretch in found.overall],
        "measured": measured_texts(found),
        "assumed": assumed_text(found) if found.rests else None,
        "rest": [_answer(answer, trip.supplies[answer.supply].gas) for answer in found.answers],
        "batteries": [each._asdict() | {"text": battery_sentence(found, each)} for each in found.batteries],
        "rest_planned": [_rest(rest, found.batteries_too_low) for rest in found.rests],
        "closed": {
            "asked": close,
            "given": found.log.closing is not None,
            "complete": found.log.closing is not None and not found.missing,
            "used": {supply: list(labels) for supply, labels in found.used.items()},
            "missing": missing_texts(found),
        },
        "confidence": {"share": CONFIDENCE, "source": confidence_text()},
        "findings": [finding_result(finding) for finding in found.findings],
    }


def _stretch(stretch: Stretch) -> dict[str, Any]:
    return {
        "supply": stretch.supply,
        "from_min": stretch.from_min,
        "to_min": stretch.to_min,
        "cylinders": [
            {
                "cylinder": part.label,
                "gauge_from_psi": part.measured.readings.from_gauge_kpa / KPA_PER_PSI,
                "gauge_to_psi": part.measured.readings.to_gauge_kpa / KPA_PER_PSI,
                "used_l": part.measured.litres,
                "lowest_l": part.lowest_l,
                "highest_l": part.highest_l,
            }
            for part in stretch.parts
        ],
        "used_l": stretch.used_l,
        "lowest_l": stretch.lowest_l,
        "highest_l": stretch.highest_l,
        "planned_l": stretch.planned_l,
        "written_l": stretch.written_l,
        "verdict": stretch.verdict,
        "agrees_with_log": stretch.agrees_with_written,
        "watch_min": stretch.watch_min,
        "leak_that_shows_l_per_min": stretch.leak_that_shows_l_per_min,
    }


def _answer(answer: Answer, gas: str) -> dict[str, Any]:
    return {
        "supply": answer.supply,
        "gas": gas,
        "verdict": answer.verdict,
        "holds": answer.holds,
        "lasts_min": answer.lasts_min,
        "read_again_by_min": answer.read_again_by_min,
        "unread": answer.unread,
        "which_leg": answer.which_leg,
        "unseen_from_min": answer.unseen_from_min,
        "label_in_doubt": None if answer.label is None else answer.label._asdict(),
    }


def _rest(rest: Rest, batteries_too_low: Sequence[str]) -> dict[str, Any]:
    """One way to reckon the rest; `holds` and the minutes are of gas alone, the verdict of batteries too."""
    return {
        "planned_with": rest.basis,
        "from_min": rest.from_min,
        "holds": rest.holds,
        "verdict": "no-go" if batteries_too_low else rest.plan.verdict,
        "batteries_too_low": list(batteries_too_low),
        "act_by_min": rest.act_by_min,
        "extra_l_per_min": dict(rest.extra_l_per_min),
        "lasts_min": dict(rest.lasts_min),
        "runs_out": {supply: {"min": minute, "leg": leg} for supply, (minute, leg) in rest.out.items()},
        "stops": [
            {"code": finding.code, "message": finding.message, "fix": finding.fix}
            for finding in rest.plan.findings
            if finding.level == "stop"
        ],
    }
