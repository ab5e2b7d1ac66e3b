"""What-ifs on the oxygen at hand, each at its worst minute (`planner.go.worst_minute`).

A what-if spends planned litres without the reserve and may use every cylinder, spare included.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import reduce
from math import fsum, isfinite
from typing import NamedTuple

from planner.constants import GAUGE_ERROR_OF_FULL_SCALE, GAUGE_ERROR_PSI, KPA_PER_PSI, MINUTE_NOISE
from planner.cylinders.boiling import lasting_min
from planner.cylinders.depletion import Tank
from planner.cylinders.onhand import OnHand, on_hand
from planner.flow.outlets import Asks, refusal
from planner.go.outcome import Outcome
from planner.go.totals import Totals
from planner.go.whatifs.registry import PAIRED
from planner.go.whatifs.scenario import Scenario
from planner.go.worst_minute import Trial, Way, outcome
from planner.model import Cylinder, Policy, Supply
from planner.naming import all_called
from planner.results import WhatIf


def reads_high_kpa(policy: Policy, cylinder: Cylinder | None = None) -> float:
    """By how much the what-if takes a gauge to read high: max(100 psi, 2.5 % of gauge_scale), kPa.

    The scale is that of the cylinder's own gauge where it is known, else the policy's.
    """
    own = None if cylinder is None else cylinder.gauge_scale_kpa
    scale = policy.gauge_scale_kpa if own is None else own
    at_least = GAUGE_ERROR_PSI * KPA_PER_PSI
    return at_least if scale is None else max(at_least, GAUGE_ERROR_OF_FULL_SCALE * scale)


def readings_high(supply: Supply, policy: Policy) -> OnHand | None:
    """What a supply has if every gauge reads high."""
    return on_hand(supply, policy, allowance=lambda cylinder: reads_high_kpa(policy, cylinder))


MARKED = "marked magnet_safe"


class Remaining(NamedTuple):
    """What is on hand in a scenario, and the number of the cylinder that is lost, None where none is."""

    stock: OnHand
    lost: int | None = None


def planned_way(scenario: Scenario, way: Way | None) -> Way | None:
    """The way of the planned course, where a scenario has all that is planned with; else it is planned anew: None."""
    return None if scenario.reads_high or scenario.lose_one or scenario.lose_all else way


def oxygen_for(scenario: Scenario, policy: Policy, normal: OnHand) -> Remaining:
    """What is on hand in a scenario: gauges lower where they read high, the cylinder gone whose loss is the worst."""
    base = normal
    if scenario.reads_high:
        base = readings_high(normal.supply, policy) or normal
    if scenario.lose_all:
        return Remaining(base.empty())
    if not scenario.lose_one or not base.each:
        return Remaining(base)
    trial = Trial(scenario, base.serving)
    if trial.uniform or base.together is not None:
        largest = max(range(len(base.each)), key=lambda index: base.each[index].usable_l)
        return Remaining(base.without(largest), largest)
    ways = [Remaining(base.without(index), index) for index in _unlike(trial, base)]
    found = [(left, trial.outcome(left.stock.usable_l)) for left in ways]
    return reduce(lambda worst, one: one if one[1].worse_than(worst[1]) else worst, found)[0]


def _unlike(trial: Trial, base: OnHand) -> list[int]:
    """The cylinders whose loss may end in different ways, the fullest first.

    Where none is lost some may never come into use. If one of these is lost, nothing changes but the litres left at
    the end: of those that serve there, and of those that do not, the fullest stands for all.
    """
    touched = trial.answer(base.usable_l).touched
    at_the_end = trial.serving.of((trial.scenario.again or trial.scenario.after or trial.scenario.before)[-1].asks)
    first: dict[object, int] = {}
    for index in sorted(range(len(base.each)), key=lambda index: -base.each[index].usable_l):
        first.setdefault((index,) if index in touched else at_the_end[index], index)
    return list(first.values())


def report(scenario: Scenario, found: Outcome, left: Remaining, policy: Policy) -> WhatIf:
    """The outcome as a row of the plan."""
    name = None if found.out_leg is None else scenario.legs[found.out_leg].name
    drawn = found.last_flow_l_per_min - scenario.loss_l_per_min
    flow = drawn if found.holds and drawn > 0.0 else None
    spare = None if flow is None else lasting_min(left.stock.supply, found.left_l, flow, found.end_min)
    ends = found.ends_min if spare is None or left.stock.supply.liquid is None else found.end_min + spare
    return WhatIf(
        name=scenario.name,
        supply=scenario.supply,
        must_hold=scenario.name in policy.must_hold,
        holds=found.holds,
        from_min=found.from_min,
        runs_out_min=found.out_min,
        runs_out_leg=name,
        minutes_to_spare=spare,
        litres_left=found.left_l,
        last_flow_l_per_min=flow,
        lost_supply=scenario.lost_supply,
        short_l=None if found.holds else _short_l(scenario, found.from_min, left.stock.tanks),
        ends_min=ends if isfinite(ends) else None,
        cylinder=None if left.lost is None else left.stock.helds[left.lost].label,
        device=scenario.device,
        patient=scenario.patient,
        misfit=None if found.out_min is None else _misfit(scenario, found, left.stock),
    )


def _misfit(scenario: Scenario, found: Outcome, stock: OnHand) -> str | None:
    """Why no cylinder that still holds something serves where a case ends; None where litres are what is missing."""
    asks = _asked_at_the_end(scenario, found)
    if asks is None or _short_l(scenario, found.from_min, stock.tanks) > 0.0:
        return None
    idle = [index for index, tank in enumerate(stock.tanks) if tank.usable_l > 0.0 and not tank.serves(asks)]
    outlets = {index: stock.tanks[index].outlets for index in idle}
    reasons = {index: None if found is None else refusal(found, asks.needs) for index, found in outlets.items()}
    unmarked = [index for index, reason in reasons.items() if reason is None]
    if unmarked:
        labels = [label for index in unmarked if (label := stock.label_of(index)) is not None]
        return f"{all_called(labels)} {'is' if len(labels) == 1 else 'are'} not {MARKED}" if labels else f"not {MARKED}"
    return next((reason for reason in reasons.values() if reason), None)


def _asked_at_the_end(scenario: Scenario, found: Outcome) -> Asks | None:
    out_min = found.out_min or 0.0
    if not scenario.from_departure and out_min < found.from_min:
        flow = scenario.before
    else:
        flow = scenario.after if out_min < found.from_min + scenario.lasts_min else scenario.again
    here = [each for each in flow if each.leg == found.out_leg and each.end_min > out_min - MINUTE_NOISE]
    return here[0].asks if here else None


def _short_l(scenario: Scenario, minute: float, tanks: Sequence[Tank]) -> float:
    return max(0.0, Totals(scenario).drawn_l(minute) - fsum(tank.usable_l for tank in tanks))


def what_ifs(
    found: Sequence[Scenario], on: Mapping[str, tuple[OnHand, Way | None]], policy: Policy
) -> tuple[WhatIf, ...]:
    """The worst case of each what-if on each supply and device or patient.

    `on`: what each supply has, and the way of its planned course, where that is None the first on which every planned
    leg is carried; supplies still to be drawn are not in it, and have no rows. Of the pairs, a failing device and a
    lost cylinder, the worst of each supply alone is told.
    """
    rows: dict[tuple[object, ...], tuple[Outcome, WhatIf]] = {}
    for scenario in found:
        if scenario.supply not in on:
            continue
        stock, way = on[scenario.supply]
        left = oxygen_for(scenario, policy, stock)
        how = outcome(scenario, left.stock.tanks, left.stock.serving, planned_way(scenario, way))
        row = report(scenario, how, left, policy)
        key: tuple[object, ...] = (row.name, row.supply, row.lost_supply, row.device, row.patient)
        if PAIRED in row.name and row.name not in policy.must_hold:
            key = (PAIRED, row.supply)
        if key not in rows or how.worse_than(rows[key][0]):
            rows[key] = how, row
    return tuple(row for _, row in rows.values())
