"""What stands on the cart card, as plain data: texts in their final rounding, in order of importance.

The card holds what a crew needs with its hands full: go or no-go, the least gauge to leave with, when to
change, what each gauge should show on the way, and what to do when something fails. Everything else is on
the calculation sheet.
"""

from __future__ import annotations

from datetime import datetime
from typing import NamedTuple

from planner import figures
from planner.findings.common import magnet_mark
from planner.naming import called
from planner.report import words
from planner.report.card.actions import Action, actions
from planner.report.card.front import Front, front
from planner.report.card.pauses import Back, back
from planner.report.card.second import Second, second
from planner.report.card.settings import SetDevice, settings
from planner.report.minutes_table import MinutesTable, minutes_table
from planner.report.onward import onward_lines
from planner.report.words import Reason
from planner.results import Plan, SupplyPlan
from planner.text.letters import escaped


class Balance(NamedTuple):
    """Need against means of one supply, for a no-go."""

    supply: str
    required: str
    have: str
    margin: str
    full: str


class Card(NamedTuple):
    """The whole card. `reference` is empty where the trip has none; a no-go has no `back` and no `second` sheet."""

    verdict: str
    go: bool
    trip: str
    reference: str
    facts: tuple[str, ...]
    changes: tuple[str, ...]
    reasons: tuple[Reason, ...]
    settings: tuple[SetDevice, ...]
    minutes: MinutesTable | None
    actions: tuple[Action, ...]
    balance: tuple[Balance, ...]
    front: Front
    back: Back | None
    second: Second | None
    onward: tuple[str, ...] = ()
    """What a card says that was planned again on the way; of a go the front says it."""


def card(plan: Plan, issued: datetime | None = None) -> Card:
    """Put a plan on a card; by `issued` it knows whether readings are too old by now."""
    trip = plan.trip
    facts, changed = _facts(plan), tuple(map(escaped, trip.changes))
    return Card(
        verdict=words.short_verdict(plan, issued),
        go=plan.go,
        trip=trip.name,
        reference=trip.reference or "",
        facts=facts,
        changes=changed,
        reasons=words.reasons(plan),
        settings=settings(plan),
        minutes=minutes_table(plan),
        actions=actions(plan),
        balance=tuple(_balance(plan, supply) for supply in plan.supplies.values() if supply.supply.kind != "pipeline"),
        front=front(plan, tuple(filter(None, (trip.reference, *facts))), changed, _notes(plan), issued),
        back=back(plan) if plan.go else None,
        second=second(plan) if plan.go else None,
        onward=onward_lines(plan),
    )


def _notes(plan: Plan) -> tuple[str, ...]:
    return (
        *(_other(plan, supply) for supply in plan.supplies.values() if not supply.cylinders and supply.ledger),
        *(note for supply in plan.supplies.values() for note in _change_notes(supply)),
    )


def _facts(plan: Plan) -> tuple[str, ...]:
    trip = plan.trip
    facts = [words.SETTINGS[trip.setting] if trip.setting_given else f"{words.SETTINGS[trip.setting]} (assumed)"]
    if trip.departs is not None:
        facts.append(f"{'departs' if trip.onward is None else 'from'} {figures.date_time(trip.departs)}")
    facts.append(figures.minutes_up(trip.total_min))
    return tuple(facts)


def _change_notes(supply: SupplyPlan) -> list[str]:
    notes = []
    for change in supply.change_overs:
        what = f"{called(change.from_cylinder)} to {called(change.to_cylinder)}"
        if change.early:
            why = f": {called(change.from_cylinder)} is kept for a later leg" if change.kept else ""
            notes.append(f"{what} is early{why or ', to keep a no-change stretch free'}.")
        if change.inside_no_change:
            notes.append(f"{what} falls INSIDE a no-change stretch: {change.leg}.")
    return notes


def _other(plan: Plan, supply: SupplyPlan) -> str:
    name, kind = supply.supply.name, supply.supply.kind
    if kind == "pipeline":
        return f"{name}: wall outlet, does not run out; try it first."
    if supply.supply.liquid is not None:
        read = "read" if plan.trip.onward is None else "left by the last reading"
        return (
            f"{name}: liquid, {supply.supply.liquid.text} {read}, {figures.supply_l_or_none(supply.usable_l)} of gas "
            f"to use, {figures.need_l(supply.need.required_l)} required; read its own gauge."
        )
    if kind == "litres":
        return (
            f"{name}: {figures.supply_l_or_none(supply.usable_l)} stated, "
            f"{figures.need_l(supply.need.required_l)} required; read its own gauge."
        )
    counts = ", ".join(
        f"{'no number' if full.count is None else full.count} × {full.size}" for full in supply.full_cylinders
    )
    return f"{name}: cylinders still to be drawn, full: {counts}."


def _balance(plan: Plan, supply: SupplyPlan) -> Balance:
    have = supply.serving_without_spare_l
    counts = " or ".join(f"{full.count} × {full.size}" for full in supply.full_cylinders if full.count is not None)
    mark = magnet_mark(plan.trip, supply.supply.name)
    return Balance(
        supply=supply.supply.name,
        required=figures.need_l(supply.need.required_l),
        have=figures.supply_l_or_none(have),
        margin="no readings yet" if have is None else words.margin(have, supply.need.required_l),
        full=f"{counts}, {mark}" if counts and mark else counts,
    )
