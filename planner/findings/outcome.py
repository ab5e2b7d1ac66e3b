"""Remarks on what was worked out: need, outlets, backup, what-ifs, change-overs, arrival."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import floor

from planner.findings.common import finding, litres_down, litres_up
from planner.findings.mend import mend_need, mend_what_if
from planner.judge import Case, carries_duty, covers_need, serving_without_spare_l
from planner.model import Supply, Trip
from planner.onhand import OnHand
from planner.outlets import refusal
from planner.problems import Finding
from planner.results import ChangeOver, SupplyPlan, WhatIf
from planner.scenarios import arrival_supply
from planner.sizing import without_largest


def of_outlets(supply: Supply, this: Case, stock: OnHand, unfit: Sequence[str | None]) -> Iterator[Finding]:
    """Cylinders whose outlets do not carry some leg."""
    for cylinder, tank, why in zip(supply.cylinders, stock.each, unfit, strict=False):
        if why is not None:
            none = not any(tank.serves(segment.asks) for segment in this.flow)
            what = "is left out" if none else "is left out of that leg"
            yield finding(
                "caution",
                "outlets",
                f"{supply.name} {cylinder.label} {what}: {why}.",
                "Fit the outlet that is missing, or take a cylinder that has it.",
                cylinder.where,
            )


def unfit(this: Case, stock: OnHand, legs: Sequence[str]) -> tuple[str | None, ...]:
    """For each cylinder, the first leg that its outlets do not carry and why; None where they carry all."""
    found: list[str | None] = []
    for tank in stock.each:
        why = None
        for segment in this.flow:
            if not tank.serves(segment.asks):
                reason = refusal(tank.outlets or (), segment.asks.needs) or "it is not marked magnet_safe"
                why = f"{legs[segment.leg]}: {reason}"
                break
        found.append(why)
    return tuple(found)


def of_need(this: Case, stock: OnHand, planned: SupplyPlan) -> Iterator[Finding]:
    """A stop where the required litres are not there."""
    nothing_chosen = this.supply.store is not None and not this.supply.cylinders
    if not this.flow or nothing_chosen or covers_need(this, stock):
        return
    have = serving_without_spare_l(this, stock)
    required = this.needed.required_l
    if have < required:
        text = f"{this.supply.name} needs {litres_up(required)} and {litres_down(have)} can be used"
        spare = sum(tank.usable_l for tank in stock.each) - without_largest(
            stock.usable_l, len(stock.each) and this.policy.spare_cylinders
        )
        if this.supply.portable and spare > 0.0 and this.supply.kind != "litres":
            text += f", the spare of {litres_down(spare)} withheld"
    else:
        text = f"{this.supply.name} has enough litres, but not in cylinders whose outlets carry every leg"
    yield finding("stop", "not_enough", f"{text}.", mend_need(this, stock, planned), this.supply.where)


def of_backup(
    trip: Trip, supply: Supply, cases: Mapping[str, Case], stocks: Mapping[str, OnHand | None]
) -> Iterator[Finding]:
    """A stop where a fixed supply in use has no backup, or one that does not carry the reserve time."""
    used = any(use.supply == supply.name for leg in trip.legs for use in leg.uses)
    if not supply.fixed or supply.kind == "pipeline" or not used:
        return
    if supply.backup is None:
        yield finding(
            "stop",
            "no_backup",
            f"{supply.name} is fixed to the vehicle and nothing carries on when it is lost.",
            "Bring portable cylinders, or name the supply that takes over under backup.",
            supply.where,
        )
        return
    stock = stocks[supply.backup]
    for duty in cases[supply.backup].duties:
        if duty.fixed == supply.name and stock is not None and not carries_duty(duty, stock):
            yield finding(
                "stop",
                "backup_short",
                f"{supply.backup} backs up {supply.name} and must carry {litres_up(duty.need_l)} "
                f"({trip.policy.reserve_time_min:g} min at {duty.busiest.flow_l_per_min:.3g} L/min); "
                f"it has {litres_down(sum(t.usable_l for t in stock.each if t.serves(duty.busiest.asks)))} "
                "in cylinders whose outlets fit.",
                "Add cylinders, gauge or outlets to the backup.",
                supply.where,
            )


def of_what_ifs(trip: Trip, rows: Sequence[WhatIf], plans: Mapping[str, SupplyPlan]) -> Iterator[Finding]:
    """A stop for each must-hold what-if that fails, a caution for each other one."""
    for row in rows:
        if row.holds:
            continue
        minute = 0 if row.runs_out_min is None else floor(row.runs_out_min + 1e-9)
        yield finding(
            "stop" if row.must_hold else "caution",
            "what_if_fails",
            f"What if {row.name.replace('_', ' ')}: {row.supply} runs out {minute} min after departure, "
            f"in {row.runs_out_leg}.",
            mend_what_if(row, plans[row.supply], trip.policy),
            trip.supplies[row.supply].where,
        )


def of_changes(supply: Supply, changes: Sequence[ChangeOver]) -> Iterator[Finding]:
    """Changes that fall inside a no-change stretch, and changes brought forward to keep out of one."""
    for change in changes:
        minute = floor(change.minute + 1e-9)
        if change.inside_no_change:
            yield finding(
                "caution",
                "change_in_no_change",
                f"{supply.name}: the change from {change.from_cylinder} to {change.to_cylinder} falls {minute} min "
                f"after departure, inside the no-change stretch at {change.leg}.",
                "Start with a fuller cylinder, or carry one that lasts through the stretch.",
                supply.where,
            )
        elif change.early:
            yield finding(
                "note",
                "early_change",
                f"{supply.name}: change from {change.from_cylinder} to {change.to_cylinder} before {change.leg}, "
                f"{minute} min after departure, so that none falls inside the no-change stretch.",
                f"Keep {change.from_cylinder} for later; it goes last.",
                supply.where,
            )


def of_arrival(trip: Trip) -> Iterator[Finding]:
    """A caution where no supply could bridge a missing wall outlet on arrival."""
    if arrival_supply(trip) is None and trip.policy.handover_time_min > 0.0:
        yield finding(
            "caution",
            "nothing_for_arrival",
            "No portable supply and no backup is there if no wall outlet is free on arrival.",
            "Carry a portable cylinder.",
        )
