"""Nomogram of gauge, flow and minutes: three upright scales, read with a straight edge.

    minutes = usable(gauge) / flow, so log minutes = log usable - log flow

Usable litres are the planner's own: those above change-over, real gas, each gas temperature as in the plan. The
gauge scale stands at the left, each gauge at the height of the logarithm of its litres; the flow scale stands at
the right and runs down. With moduli m (left) and n (right), the scale of minutes stands at m / (m + n) of the
way from left to right and has the modulus m n / (m + n). Each size that is carried has a diagram of its own: one
straight edge, no scale to mistake for another.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache
from typing import NamedTuple

from planner import figures
from planner.constants import NOISE, REFERENCE_TEMPERATURE_DEGC
from planner.go.by_gauge import usable_at_l
from planner.report.change_gauge import change_gauge_kpa
from planner.report.chart.graduation import Mark, Scale, graduate
from planner.report.minutes_table import (
    one_of_each_size,
    resuscitator_flow_l_per_min,
    risen_flow_l_per_min,
    size_title,
)
from planner.results import CylinderPlan, Plan, SupplyPlan

LEAST_SHARE = 1 / 20
"""The gauge scale begins at a gauge with this share of the litres at its top: below, a plan has long been changed."""
HIGHEST_FLOW_L_PER_MIN = 25.0
LOWEST_FLOW_L_PER_MIN = 1.0
EXAMPLE_PLACE = 0.8
COARSE_GAUGE: dict[str, float] = {"psi": 500.0, "bar": 50.0, "kPa": 5000.0, "MPa": 5.0}
FINE_GAUGE: dict[str, float] = {"psi": 10.0, "bar": 1.0, "kPa": 100.0, "MPa": 0.1}
ROUND_FLOWS = (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)


class Example(NamedTuple):
    """An example, with the places of its ends, and its words."""

    gauge_place: float
    flow_place: float
    text: str


class Nomogram(NamedTuple):
    """One diagram. `middle` is where the scale of minutes stands, as a share of the way from gauge to flow."""

    size: str
    cylinders: str
    unit: str
    assumes: str
    gauge: tuple[Mark, ...]
    minutes: tuple[Mark, ...]
    flow: tuple[Mark, ...]
    middle: float
    example: Example


def nomograms(plan: Plan, length_pt: float) -> tuple[Nomogram, ...]:
    """A diagram for each size carried, with scales `length_pt` long."""
    groups: dict[tuple[str, float, float, float], list[tuple[SupplyPlan, CylinderPlan]]] = {}
    for supply in plan.supplies.values():
        for item in one_of_each_size(supply):
            capacity = usable_at_l(plan.trip.policy, supply, item, item.cylinder.filling_gauge_kpa)
            key = (size_title(supply, item), figures.noiseless(capacity), item.read_degc, item.cold_degc)
            groups.setdefault(key, []).append((supply, item))
    flow = _flow_scale(plan, length_pt)
    found = [_nomogram(plan, members, flow, length_pt) for members in groups.values()]
    return tuple(nomogram for nomogram in found if nomogram is not None)


def flow_range(plan: Plan) -> tuple[float, float]:
    """Round flows from below the lowest of the plan, at most 1 L/min, to above the highest, at least 25 L/min."""
    flows = [line.flow_l_per_min for supply in plan.supplies.values() for line in supply.ledger]
    peak = max(
        resuscitator_flow_l_per_min(plan),
        *(supply.need.peak_flow_l_per_min for supply in plan.supplies.values()),
        *(risen_flow_l_per_min(plan, name) for name in plan.supplies),
    )
    lowest = min([LOWEST_FLOW_L_PER_MIN, *(flow for flow in flows if flow > 0.0)])
    return _round_down(lowest), max(HIGHEST_FLOW_L_PER_MIN, _round_up(1.25 * peak))


def _round_down(flow: float) -> float:
    unit = 10.0 ** math.floor(math.log10(flow) + NOISE)
    return max(step for step in ROUND_FLOWS if step * unit <= flow * (1 + NOISE)) * unit


def _round_up(flow: float) -> float:
    unit = 10.0 ** math.floor(math.log10(flow) + NOISE)
    return min(step for step in ROUND_FLOWS if step * unit >= flow * (1 - NOISE)) * unit


def _flow_scale(plan: Plan, length_pt: float) -> tuple[Mark, ...]:
    slowest, fastest = flow_range(plan)
    decades = math.log10(fastest / slowest)
    return graduate(Scale(lambda flow: math.log10(fastest / flow) / decades, slowest, fastest, length_pt))


def _nomogram(
    plan: Plan, members: list[tuple[SupplyPlan, CylinderPlan]], flow: tuple[Mark, ...], length_pt: float
) -> Nomogram | None:
    supply, item = members[0]
    unit = plan.trip.policy.pressure_unit
    per_unit = figures.KPA_PER_UNIT[unit]

    @cache
    def litres(gauge: float) -> float:
        return usable_at_l(plan.trip.policy, supply, item, gauge * per_unit)

    highest_read = max(each.cylinder.gauge_kpa for one, _ in members for each in one.cylinders)
    span = _gauge_range(litres, max(item.cylinder.filling_gauge_kpa, highest_read) / per_unit, unit)
    if span is None:
        return None
    low, high = span
    least, most = litres(low), litres(high)
    slowest, fastest = flow_range(plan)
    decades_l, decades_flow = math.log10(most / least), math.log10(fastest / slowest)

    @cache
    def gauge_place(gauge: float) -> float:
        return math.log10(litres(gauge) / least) / decades_l

    def minutes_place(minutes: float) -> float:
        return math.log10(minutes * fastest / least) / (decades_l + decades_flow)

    gauge = graduate(Scale(gauge_place, low, high, length_pt, COARSE_GAUGE[unit]))
    peak = max(one.need.peak_flow_l_per_min for one, _ in members) or LOWEST_FLOW_L_PER_MIN
    shown = min(
        (mark for mark in gauge if mark.text),
        key=lambda mark: (mark.value % COARSE_GAUGE[unit] > 0, abs(mark.place - EXAMPLE_PLACE)),
    )
    chosen = min((mark for mark in flow if mark.text), key=lambda mark: abs(math.log(mark.value / peak)))
    minutes = litres(shown.value) / chosen.value
    return Nomogram(
        size=size_title(supply, item),
        cylinders="; ".join(_labels(one, example) for one, example in members),
        unit=unit,
        assumes=_assumes(plan, item),
        gauge=gauge,
        minutes=graduate(Scale(minutes_place, least / fastest, most / slowest, length_pt)),
        flow=flow,
        middle=decades_flow / (decades_l + decades_flow),
        example=Example(
            shown.place,
            chosen.place,
            f"{shown.text} {unit}, {chosen.text} L/min: {figures.minutes_down(minutes)}",
        ),
    )


def _gauge_range(litres: Callable[[float], float], filling: float, unit: str) -> tuple[float, float] | None:
    """From the least gauge on the scale to the filling pressure or the highest reading, in round steps."""
    fine = FINE_GAUGE[unit]
    highest = figures.steps_up(filling, 5 * fine) * 5
    whole = litres(highest * fine)
    if whole <= 0.0:
        return None
    lowest = next(step for step in range(highest + 1) if litres(step * fine) >= LEAST_SHARE * whole)
    return lowest * fine, highest * fine


def _labels(supply: SupplyPlan, example: CylinderPlan) -> str:
    same = [
        item.cylinder.label
        for item in supply.cylinders
        if supply.supply.kind == "manifold"
        or (item.cylinder.size, item.cylinder.label_contents, item.read_degc, item.cold_degc)
        == (example.cylinder.size, example.cylinder.label_contents, example.read_degc, example.cold_degc)
    ]
    return f"{supply.supply.name}: {', '.join(same)}"


def _assumes(plan: Plan, item: CylinderPlan) -> str:
    policy = plan.trip.policy
    unit = policy.pressure_unit
    change = figures.gauge_up(change_gauge_kpa(plan, item), unit)
    text = f"Down to {change}; gas at {figures.temperature(item.read_degc)}"
    if item.cold_degc < REFERENCE_TEMPERATURE_DEGC:
        text += f", at {figures.temperature(item.cold_degc)} when changed"
    if policy.gauge_allowance_kpa:
        text += f"; gauge taken {figures.gauge_read(policy.gauge_allowance_kpa, unit)} lower"
    return f"{text}."
