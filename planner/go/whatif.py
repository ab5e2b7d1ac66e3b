"""What-ifs on the oxygen at hand, each at its worst minute (`planner.go.worst_minute`).

A what-if spends planned litres without the reserve and may use every cylinder, spare included.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import reduce
from math import fsum

from planner.constants import GAUGE_ERROR_OF_FULL_SCALE, GAUGE_ERROR_PSI, KPA_PER_PSI
from planner.cylinders.depletion import Tank
from planner.cylinders.onhand import OnHand, on_hand
from planner.flow.demand import litres, splice
from planner.go.scenarios import Scenario
from planner.go.worst_minute import Outcome, Trial, outcome
from planner.model import Cylinder, Policy, Supply
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


def oxygen_for(scenario: Scenario, policy: Policy, normal: OnHand) -> OnHand:
    """What is on hand in a scenario: gauges lower where they read high, the largest cylinder gone where it is lost.

    Where outlets differ, the largest of each kind is tried, and the one is lost whose loss is worst.
    """
    base = normal
    if scenario.reads_high:
        base = readings_high(normal.supply, policy) or normal
    if scenario.lose_all:
        return base.empty()
    if not scenario.lose_largest or not base.each:
        return base
    largest = base.largest()
    if len(largest) == 1 or base.together is not None:
        return base.without(largest[0])
    trial = Trial(scenario, base.serving)
    if trial.uniform:
        return base.without(largest[0])
    ways = [base.without(index) for index in _unlike(trial, base, largest)]
    found = [(left, trial.outcome(left.usable_l)) for left in ways]
    return reduce(lambda worst, one: one if one[1].worse_than(worst[1]) else worst, found)[0]


def _unlike(trial: Trial, base: OnHand, largest: Sequence[int]) -> list[int]:
    """Of the largest cylinders, those whose loss may end in different ways.

    Where none is lost some may never come into use. If one of these is lost, nothing changes but the litres left at
    the end: of those that serve there, and of those that do not, the first, which is the largest, stands for all.
    """
    touched = trial.answer(base.usable_l).touched
    at_the_end = trial.serving.of(trial.scenario.after[-1].asks)
    first: dict[object, int] = {}
    for index in largest:
        first.setdefault((index,) if index in touched else at_the_end[index], index)
    return list(first.values())


def report(scenario: Scenario, found: Outcome, tanks: Sequence[Tank], policy: Policy) -> WhatIf:
    """The outcome on tanks as a row of the plan."""
    name = None if found.out_leg is None else scenario.legs[found.out_leg].name
    spare = found.left_l / found.last_flow_l_per_min if found.holds and found.last_flow_l_per_min > 0.0 else None
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
        lost_supply=scenario.lost_supply,
        short_l=None if found.holds else _short_l(scenario, found.from_min, tanks),
    )


def _short_l(scenario: Scenario, minute: float, tanks: Sequence[Tank]) -> float:
    flow = scenario.after if scenario.from_departure else splice(scenario.before, scenario.after, minute)
    return max(0.0, litres(flow) - fsum(tank.usable_l for tank in tanks))


def what_ifs(found: Sequence[Scenario], stocks: Mapping[str, OnHand | None], policy: Policy) -> tuple[WhatIf, ...]:
    """Every scenario on the oxygen at hand; supplies still to be drawn are left out."""
    rows = []
    for scenario in found:
        stock = stocks[scenario.supply]
        if stock is not None:
            left = oxygen_for(scenario, policy, stock)
            rows.append(report(scenario, outcome(scenario, left.tanks, left.serving), left.tanks, policy))
    return tuple(rows)
