"""The back of the first sheet, as plain data: three pauses before leaving, settings, and every caution in full.

Actions on failure that have no room on the front stand here, the first thing on the page.

A pause has four to six lines, read aloud by one and answered by the other with what is seen (NASA CR-177549, 1990, from
a summary). They stand in `planner/trade/data/checklists.csv` under the list `pause`; lines of one order stand for one
another, so that air, a battery or a magnet room take the place of a line and never add one.
"""

from __future__ import annotations

from typing import NamedTuple

from planner.problems import Finding
from planner.report import words
from planner.report.card.actions import Action, actions
from planner.report.card.front import split
from planner.report.card.settings import SetDevice, settings
from planner.report.checklist.facts import trip_facts
from planner.report.checklist.items import OWN_PART, items
from planner.results import Plan


class PauseLine(NamedTuple):
    """What is read and what is answered; `key` names its two boxes for initials."""

    key: str
    ask: str
    answer: str


class Pause(NamedTuple):
    """The lines of one moment."""

    title: str
    lines: tuple[PauseLine, ...]


class Back(NamedTuple):
    """The whole back."""

    actions: tuple[Action, ...]
    pauses: tuple[Pause, ...]
    settings: tuple[SetDevice, ...]
    cautions: tuple[str, ...]


def back(plan: Plan) -> Back:
    """The back of a plan's first sheet."""
    facts = trip_facts(plan)
    found: dict[str, list[PauseLine]] = {}
    for item in items(plan, "pause", facts):
        found.setdefault(item.part, []).append(PauseLine(f"pause.{item.key}", item.ask, item.answer))
    for number, line in enumerate((line for line in plan.trip.policy.own_lines if line.list == "before_departure"), 1):
        found.setdefault(OWN_PART, []).append(PauseLine(f"pause.own{number}", line.text, ""))
    return Back(
        actions=split(actions(plan))[1],
        pauses=tuple(Pause(title, tuple(lines)) for title, lines in found.items()),
        settings=settings(plan),
        cautions=tuple(map(_caution, words.findings_at(plan, "caution"))),
    )


def _caution(finding: Finding) -> str:
    text = words.sentence(finding.message)
    return f"{text} {words.sentence(finding.fix)}" if finding.fix else text
