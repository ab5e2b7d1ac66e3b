"""The history of one cylinder, as the journal of its store has it: trips, readings, refills, and what it lost between.

A slow leak in the rack shows where it reads less than it was left with: when it is taken along, or read again. A refill
in between would raise it; nothing lowers it but a leak, a use that nobody closed, or a colder room.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Any, Final, NamedTuple

from planner import figures
from planner.constants import GAUGES_ALIKE_KPA
from planner.model import Cylinder
from planner.report.screen import printable, table, wrap
from planner.store.closing import typed_gauge_kpa
from planner.store.journal import JournalLine

_WORDS: Final = {
    "close": "closed",
    "undo": "UNDONE",
    "out_of_use": "OUT OF USE",
    "back_in_use": "back in use",
    "by_hand": "changed by hand",
}
_UNITS: Final = ("psi", "bar", "kPa", "MPa")


class JournalStep(NamedTuple):
    """One line of the journal for one cylinder.

    `what`: `close`, `undo`, `read`, `refilled`, `out_of_use`, `back_in_use`, or `by_hand` where the store was changed
    without a line. `trip` is the trip, or why it was put out of use. `lost_kpa` is how much lower it read when it was
    taken along, or read again, than it was left with; None where nobody can tell, below 0 where it read more. `drawn`
    and `left` are gauges as typed.
    """

    at: str
    what: str
    trip: str
    drawn: str | None
    left: str | None
    refilled: bool
    lost_kpa: float | None


def journal_steps(lines: Sequence[JournalLine], now: Cylinder | None = None) -> list[JournalStep]:
    """The steps of one cylinder (`planner.store.journal.history`), oldest first; `now`: as it stands in the store."""
    found: list[JournalStep] = []
    standing: str | None = None
    for line in lines:
        one = line["cylinders"][0]
        was, before = _gauge(one.get("was", one.get("from"))), _gauge(one.get("from"))
        left, drawn, what = _gauge(one.get("to")), one.get("drawn"), str(line["what"])
        if standing and was and was != standing and what != "undo":
            at = (one.get("was") or one["from"]).get("checked") or figures.NONE
            found.append(_by_hand(at, standing, was))
        taken = drawn if what == "close" else left if what == "read" else None
        lost = typed_gauge_kpa(before) - typed_gauge_kpa(taken) if before and taken else None
        refilled = what == "refilled" or one.get("refilled") is True
        found.append(JournalStep(_when(one, line), what, _trip(line), drawn, left, refilled, lost))
        standing = left or standing
    if now is not None and standing and abs(typed_gauge_kpa(standing) - now.gauge_kpa) > 1.0:
        at = figures.NONE if now.checked is None else f"{now.checked:%Y-%m-%d %H:%M}"
        found.append(_by_hand(at, standing, figures.gauge_read(now.gauge_kpa, _unit(standing))))
    return found


def _by_hand(at: str, before: str, now: str) -> JournalStep:
    """A gauge that somebody wrote into the store without a line of the journal."""
    lost = typed_gauge_kpa(before) - typed_gauge_kpa(now)
    return JournalStep(at, "by_hand", "", None, now, False, lost)


def journal_text(label: str, store: str, found: Sequence[JournalStep], now: Cylinder | None = None) -> str:
    """The whole text, with a line break at its end."""
    lines = wrap(f"{label} in {store}: {len(found)} entr{'y' if len(found) == 1 else 'ies'}, oldest first.")
    if not found:
        lines = wrap(f"{label} in {store}: no closing of a trip has named it yet, and nothing was noted of it.")
    else:
        head = ("Read at", "What", "Trip, reason", "Taken at", "Left at", "Lost in rack")
        lines += table(head, [_row(step) for step in found], frozenset({3, 4, 5}), shrink=(2,))
    for text in _told(label, found, now):
        lines += wrap(text)
    return "\n".join(printable(line.rstrip()) for line in lines) + "\n"


def _row(step: JournalStep) -> tuple[str, ...]:
    what = _WORDS.get(step.what, step.what)
    filled = ", refilled" if step.refilled and step.what == "close" else ""
    lost = figures.NONE if step.lost_kpa is None else "nothing"
    if step.lost_kpa is not None and step.lost_kpa > 0.0:
        lost = figures.gauge_nearest(step.lost_kpa, _unit(step.left))
    elif step.what == "by_hand":
        filled, lost = ", FULLER", figures.NONE
    return step.at, what + filled, step.trip, step.drawn or figures.NONE, step.left or figures.NONE, lost


def journal_result(label: str, found: Sequence[JournalStep], now: Cylinder | None = None) -> dict[str, Any]:
    """The same for other programs; kPa unrounded, gauges as typed."""
    out = None if now is None else now.out_of_use
    steps = [step._asdict() for step in found]
    return {"format": 1, "cylinder": label, "out_of_use": out, "steps": steps, "leaks": leaks(found)}


def leaks(found: Sequence[JournalStep]) -> bool:
    """True where it lost more in the rack than two readings may differ by: at once, or little by little.

    Of small differences those to either side count against one another, for readings err both ways.
    """
    known = [step.lost_kpa for step in found if step.lost_kpa is not None]
    little = sum(lost for lost in known if abs(lost) <= GAUGES_ALIKE_KPA)
    return little > GAUGES_ALIKE_KPA or any(lost > GAUGES_ALIKE_KPA for lost in known)


def _told(label: str, found: Sequence[JournalStep], now: Cylinder | None) -> Iterator[str]:
    if leaks(found):
        lost = [step.lost_kpa for step in found if step.lost_kpa is not None and step.lost_kpa > 0.0]
        yield (
            f"CAUTION: {label} lost {figures.gauge_nearest(sum(lost), _unit(found[-1].left))} in the rack, over "
            f"{len(lost)} of {len(found)} entries: it may leak, or was used without being closed. Look at its valve "
            "and seal."
        )
    if any(step.what == "by_hand" and (step.lost_kpa or 0.0) < -GAUGES_ALIKE_KPA for step in found):
        yield (
            f"{label} got fuller in the store without a line of the journal: refilled, or another cylinder with its "
            "label. `transport-oxygen store STORE --refilled` writes one."
        )
    if now is not None and now.out_of_use:
        yield f"{label} is OUT OF USE: no trip is given it."


def _unit(gauge: str | None) -> str:
    """The unit in which a gauge was typed; psi where nobody can tell."""
    return next((unit for unit in _UNITS if (gauge or "").lower().endswith(unit.lower())), "psi")


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
    return str(trip.get("reference") or trip.get("name") or line.get("why") or "")
