"""The history of one cylinder, as the journal of its store has it: each closing and undoing, and what it lost between.

A slow leak in the rack shows where a trip began at a lower gauge than the trip before had left. A refill in between
would raise it; nothing lowers it but a leak, a use that nobody closed, or a colder room.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Any, NamedTuple

from planner import figures
from planner.report.screen import printable, table, wrap
from planner.store.journal import JournalLine
from planner.store.store_file import WITHIN_KPA, typed_gauge_kpa


class JournalStep(NamedTuple):
    """One line of the journal for one cylinder.

    `lost_kpa` is how much lower it read when it was taken along than at the closing before; None where nobody can tell,
    below 0 where it read more. `drawn` and `left` are gauges as typed.
    """

    at: str
    what: str
    trip: str
    drawn: str | None
    left: str | None
    refilled: bool
    lost_kpa: float | None


def journal_steps(lines: Sequence[JournalLine]) -> list[JournalStep]:
    """The steps of one cylinder (`planner.store.journal.history`), oldest first. Undone closings lose their gauge."""
    found: list[JournalStep] = []
    standing: dict[str, str] = {}
    for line in lines:
        one = line["cylinders"][0]
        left, drawn = _gauge(one.get("to")), one.get("drawn")
        lost: float | None = None
        if line["what"] == "close":
            before = standing.get("gauge") or _gauge(one.get("from"))
            if drawn is not None and before:
                lost = typed_gauge_kpa(before) - typed_gauge_kpa(drawn)
        if left is not None:
            standing["gauge"] = left
        found.append(
            JournalStep(
                _when(one, line), str(line["what"]), _trip(line), drawn, left, one.get("refilled") is True, lost
            )
        )
    return found


def journal_text(label: str, store: str, found: Sequence[JournalStep], unit: str = "psi") -> str:
    """The whole text, with a line break at its end."""
    lines = wrap(f"{label} in {store}: {len(found)} entries of the journal, oldest first.")
    if not found:
        lines = wrap(f"{label} in {store}: no closing of a trip has named it yet.")
    else:
        rows = [
            (
                step.at,
                {"close": "closed", "undo": "UNDONE"}.get(step.what, step.what) + (", refilled" * step.refilled),
                step.trip,
                step.drawn or figures.NONE,
                step.left or figures.NONE,
                _lost(step, unit),
            )
            for step in found
        ]
        head = ("Read at", "What", "Trip", "Taken at", "Left at", "Lost in the rack")
        lines += table(head, rows, frozenset({3, 4, 5}), shrink=(2,))
        for text in _told(label, found, unit):
            lines += wrap(text)
    return "\n".join(printable(line.rstrip()) for line in lines) + "\n"


def journal_result(label: str, found: Sequence[JournalStep]) -> dict[str, Any]:
    """The same for other programs; kPa unrounded, gauges as typed."""
    return {"format": 1, "cylinder": label, "steps": [step._asdict() for step in found], "leaks": leaks(found)}


def leaks(found: Sequence[JournalStep]) -> bool:
    """True where it lost more in the rack than two readings may differ by: at once, or little by little.

    Of small differences those to either side count against one another, for readings err both ways.
    """
    known = [step.lost_kpa for step in found if step.lost_kpa is not None]
    little = sum(lost for lost in known if abs(lost) <= WITHIN_KPA)
    return little > WITHIN_KPA or any(lost > WITHIN_KPA for lost in known)


def _told(label: str, found: Sequence[JournalStep], unit: str) -> Iterator[str]:
    if leaks(found):
        lost = [step.lost_kpa for step in found if step.lost_kpa is not None and step.lost_kpa > 0.0]
        yield (
            f"CAUTION: {label} lost {figures.gauge_nearest(sum(lost), unit)} in the rack, over {len(lost)} of "
            f"{len(found)} entries: it may leak, or was used without being closed. Look at its valve and seal."
        )


def _lost(step: JournalStep, unit: str) -> str:
    if step.lost_kpa is None:
        return figures.NONE
    return "nothing" if step.lost_kpa <= 0.0 else figures.gauge_nearest(step.lost_kpa, unit)


def _gauge(state: Any) -> str | None:
    gauge = None if state is None else state.get("gauge")
    return None if gauge is None else str(gauge)


def _when(one: Any, line: JournalLine) -> str:
    checked = (one.get("to") or {}).get("checked")
    if checked:
        return str(checked)
    return datetime.fromisoformat(line["at"]).strftime("%Y-%m-%d %H:%M") if "at" in line else figures.NONE


def _trip(line: JournalLine) -> str:
    trip = line.get("trip") or {}
    return str(trip.get("reference") or trip.get("name") or figures.NONE)
