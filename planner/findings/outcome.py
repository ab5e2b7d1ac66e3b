"""Remarks on what was worked out: need, outlets, backup, what-ifs, change-overs, arrival."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from math import fsum

from planner import figures
from planner.constants import LITRE_NOISE
from planner.cylinders.depletion import Tank
from planner.cylinders.onhand import OnHand, on_hand
from planner.findings.common import MAGNET_MARK, magnet_mark, remark
from planner.findings.mend import DRAW_MARKED, mend_need, mend_what_if
from planner.flow.outlets import refusal
from planner.go.judge import Task, carries_duty, covers_need
from planner.go.other_order import passing_order
from planner.go.sizing import without_largest
from planner.go.whatifs.no_wall_on_arrival import unbridged
from planner.go.whatifs.registry import PAIRED, condition
from planner.go.worked import Worked
from planner.model import Supply, Trip
from planner.naming import called, listed
from planner.problems import Finding, finding
from planner.results import SupplyPlan, WhatIf

NOT_MARKED = "as it is not marked magnet_safe"


def of_outlets(planned: SupplyPlan) -> Iterator[Finding]:
    """Cylinders whose outlets do not carry some leg."""
    for one in planned.cylinders:
        if (why := one.unfit) is not None:
            name = f"{planned.supply.name} {called(one.cylinder.label, one.cylinder.gas)}"
            if why.endswith(NOT_MARKED):
                yield remark("not_marked", one.cylinder, name=name, why=why)
            else:
                of_that_leg = " of that leg" if one.serves else ""
                yield remark("outlets", one.cylinder, name=name, of_that_leg=of_that_leg, why=why)


def unfit(task: Task, stock: OnHand, legs: Sequence[str]) -> tuple[str | None, ...]:
    """For each cylinder, the first leg that its outlets do not carry and why; None where they carry all.

    Of one that they carry and that must not go into a magnet room, every such leg.
    """
    found: list[str | None] = []
    for tank in stock.each:
        why = None
        for segment in task.flow:
            if not tank.serves(segment.asks):
                reason = refusal(tank.outlets or (), segment.asks.needs)
                why = f"{legs[segment.leg]}: {reason}" if reason else _kept_outside(task, tank, legs)
                break
        found.append(why)
    return tuple(found)


def _kept_outside(task: Task, tank: Tank, legs: Sequence[str]) -> str:
    """The magnet rooms that a cylinder is kept out of: `left out of leg 2 (Scan), as it is not marked ...`."""
    inside = dict.fromkeys(each.leg for each in task.flow if each.asks.magnet and not tank.serves(each.asks))
    return f"left out of {listed(f'leg {leg + 1} ({legs[leg]})' for leg in inside)}, {NOT_MARKED}"


def _nothing_chosen(supply: Supply) -> bool:
    return supply.store is not None and not supply.cylinders


def of_need(trip: Trip, one: Worked, planned: SupplyPlan) -> Iterator[Finding]:
    """A stop where the required litres are not there."""
    task, stock, have = one.task, one.stock, one.serving_without_spare_l
    if stock is None or have is None or not task.flow or _nothing_chosen(task.supply) or one.covers_need:
        return
    required = task.need.required_l
    marked = have >= required and _would_do_if_marked(task, stock)
    if have < required:
        text = f"{task.supply.name} needs {figures.need_l(required)}, COUNTED {figures.supply_l(have)}"
        usable = fsum(tank.usable_l for tank in stock.each)
        left = without_largest(stock.usable_l, len(stock.each) and task.policy.spare_cylinders)
        if task.supply.portable and usable > left and task.supply.kind != "litres":
            text += f" ({figures.spare_l(usable, left)} kept as spare)"
    elif marked:
        text = f"{task.supply.name} has enough litres, but too few in cylinders that are {MAGNET_MARK}"
    else:
        text = f"{task.supply.name} has enough litres, but not in cylinders whose outlets carry every leg"
    lasts = planned.runs_out_min is None
    if lasts and have < required and task.need.time_reserve_l > max(task.need.planned_l, task.need.factor_reserve_l):
        text += (
            f"; {figures.need_l(task.need.time_reserve_l)} of the need are the reserve of "
            f"{figures.minutes_set(task.policy.reserve_time_min)} at {figures.flow_up(task.need.peak_flow_l_per_min)}"
        )
    if planned.runs_out_min is not None and have > 0.0:
        text += f"; it runs out {_minutes(planned.runs_out_min)}, in {planned.runs_out_leg}"
    fix = DRAW_MARKED if marked else mend_need(trip, task, stock, planned)
    yield finding("stop", "not_enough", f"{text}.", fix, task.supply.where)


def _would_do_if_marked(task: Task, stock: OnHand) -> bool:
    """True where the required litres would be there if every cylinder could go into the magnet room."""
    marked = tuple(cylinder._replace(magnet_safe=True) for cylinder in task.supply.cylinders)
    there = on_hand(stock.supply._replace(cylinders=marked), task.policy)
    return there is not None and covers_need(task, there)


def of_order(one: Worked) -> Iterator[Finding]:
    """A stop that names another order of use in which the same cylinders of a supply would pass."""
    task = one.task
    if one.stock is None or one.passes or task.supply.store is not None:
        return
    order = passing_order(task)
    if order is not None:
        first = called(order[0], task.supply.gas)
        yield remark("order_of_use", task.supply, first=first, order=", ".join(order))


def of_backup(trip: Trip, supply: Supply, every: Mapping[str, Worked]) -> Iterator[Finding]:
    """A stop where a fixed supply of oxygen in use has no backup, or one that does not carry the reserve time."""
    used = any(supply.name in leg.supplies for leg in trip.legs)
    if not supply.fixed or supply.kind == "pipeline" or supply.gas != "oxygen" or not used:
        return
    if supply.backup is None:
        yield remark("no_backup", supply)
        return
    stock = every[supply.backup].stock
    for duty in every[supply.backup].task.duties:
        if duty.fixed == supply.name and stock is not None and not carries_duty(duty, stock):
            yield remark(
                "backup_short",
                supply,
                backup=supply.backup,
                need=figures.need_l(duty.need_l),
                minutes=figures.minutes_set(trip.policy.reserve_time_min),
                flow=figures.flow_up(duty.busiest.flow_l_per_min),
                have=figures.supply_l(fsum(t.usable_l for t in stock.each if t.serves(duty.busiest.asks))),
            )


def of_what_ifs(trip: Trip, rows: Sequence[WhatIf], plans: Mapping[str, SupplyPlan]) -> Iterator[Finding]:
    """A stop for each must-hold what-if that fails, a caution for each other one.

    Nothing is said where no cylinders could be chosen from a store: that is a stop of its own, and explains all.
    """
    for row in rows:
        if row.holds or _nothing_chosen(trip.supplies[row.supply]):
            continue
        if row.name.endswith(PAIRED) and not row.must_hold:
            continue  # two failures at once: the row says it; a caution that is always there is not read
        yield finding(
            "stop" if row.must_hold else "caution",
            "what_if_fails",
            f"{condition(trip, row, _minutes(row.from_min))}: {_ending(row)}.",
            mend_what_if(row, plans[row.supply], trip.policy, magnet=bool(magnet_mark(trip, row.supply))),
            trip.supplies[row.supply].where,
        )


def _ending(row: WhatIf) -> str:
    """When and where it ends, and whether for want of litres or of what fits (outlets, magnet room)."""
    when = _minutes(row.runs_out_min or 0.0)
    if row.short_l == 0.0:
        why = "" if row.misfit is None else f": {row.misfit}"
        return f"{when}, in {row.runs_out_leg}, nothing left on {row.supply} fits{why}"
    return f"{row.supply} runs out {when}, in {row.runs_out_leg}"


def _minutes(minute: float) -> str:
    return f"{figures.minutes_down(minute)} after departure"


def of_changes(planned: SupplyPlan) -> Iterator[Finding]:
    """Changes that fall inside a no-change stretch, and changes brought forward to keep out of one."""
    supply = planned.supply
    for change in planned.change_overs:
        if change.inside_no_change or change.early:
            row = "kept_for_later" if change.kept else "early_change"
            minutes = figures.minutes_down(change.minute)
            off, on = (called(label, supply.gas) for label in (change.from_cylinder, change.to_cylinder))
            yield remark(
                "change_in_no_change" if change.inside_no_change else row,
                supply,
                off=off,
                on=on,
                leg=change.leg,
                minutes=minutes,
            )


def of_first(trip: Trip, one: Worked, planned: SupplyPlan) -> Iterator[Finding]:
    """A note where the first cylinder in order gives way from the start, to keep a no-change stretch free."""
    task, stock = one.task, one.stock
    if stock is None or not task.flow or task.supply.kind != "cylinders":
        return
    asks = task.flow[0].asks
    able = [
        held
        for held, tank in zip(stock.helds, stock.tanks, strict=True)
        if tank.usable_l > LITRE_NOISE and tank.serves(asks)
    ]
    first = next((turn.cylinder for turn in planned.order if turn.to_min > turn.from_min), None)
    if able and first is not None and first != able[0].label:
        instead, usual = (called(label, task.supply.gas) for label in (first, able[0].label))
        if one.course.kept:
            yield remark("other_first_kept", task.supply, first=instead, usual=usual)
        else:
            leg = trip.legs[task.flow[0].leg].name
            yield remark("other_first", task.supply, first=instead, usual=usual, leg=leg)


def of_arrival(trip: Trip) -> Iterator[Finding]:
    """A caution where no supply could bridge a missing wall outlet on arrival."""
    if trip.policy.handover_time_min > 0.0 and unbridged(trip):
        yield remark("nothing_for_arrival")
