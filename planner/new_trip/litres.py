"""What can be said of the litres while a trip is still being asked for, in the words of the plan."""

from __future__ import annotations

from collections.abc import Iterator

from planner import figures
from planner.model import Trip
from planner.planning import plan
from planner.report import words
from planner.results import Plan, SupplyPlan

MOST_REASONS = 3
OF_SETTINGS = ("unusual_setting",)
OF_CYLINDERS = ("gauge_very_low", "gauge_above_filling", "outlets")
"""Cautions that a slip in an answer most often gives, told while it can still be mended with `back`."""


def needed(trip: Trip) -> tuple[str, ...]:
    """After devices and legs: what each supply must give, and how many full cylinders would do."""
    made = plan(trip)
    lines = [line for supply in made.supplies.values() for line in _need(supply)]
    return (*lines, *_cautions(made, OF_SETTINGS))


def judged(trip: Trip) -> tuple[str, ...]:
    """After cylinders: what each supply has of what is required, and go or no-go with what would mend it.

    While a supply has no readings nothing is judged.
    """
    made = plan(trip)
    lines = [words.supply_sentence(supply) for supply in made.supplies.values() if _used(supply)]
    lines += _cautions(made, OF_CYLINDERS)
    if any(supply.supply.kind == "sizes" for supply in made.supplies.values() if _used(supply)):
        return (*lines, "Not judged yet: a supply still has no readings, and without them a plan is a no-go.")
    return (*lines, *_verdict(made))


def _cautions(made: Plan, codes: tuple[str, ...]) -> Iterator[str]:
    for finding in dict.fromkeys(words.findings_at(made, "caution")):
        if finding.code in codes:
            yield f"CAUTION: {words.sentence(finding.message)} {words.sentence(finding.fix)}"


def _need(supply: SupplyPlan) -> Iterator[str]:
    name = supply.supply.name
    if supply.supply.kind == "pipeline" or not _used(supply):
        return
    yield (
        f"{name}: planned {figures.need_l(supply.need.planned_l)} + reserve {figures.need_l(supply.need.reserve_l)} "
        f"= required {figures.need_l(supply.need.required_l)}."
    )
    counts = [f"{full.count} x {full.size}" for full in supply.full_cylinders if full.count is not None]
    if counts:
        yield f"{name}: full cylinders that would do, spare counted in: {' or '.join(counts)}."
    elif supply.full_cylinders:
        yield f"{name}: {', '.join(full.size for full in supply.full_cylinders)}: NONE WOULD DO."


def _used(supply: SupplyPlan) -> bool:
    return bool(supply.ledger)


def _verdict(made: Plan) -> Iterator[str]:
    if made.go:
        yield from words.decisions(made)
        yield f"{words.verdict(made)} by these figures. `plan` prints the card with every check and what-if."
        return
    reasons = words.reasons(made)
    for reason in reasons[:MOST_REASONS]:
        yield f"NO-GO: {words.sentence(reason.text)} Fix: {words.sentence(reason.fix)}"
    if len(reasons) > MOST_REASONS:
        yield f"NO-GO: {len(reasons) - MOST_REASONS} more reasons; `plan` tells them all."
