"""What-ifs on the oxygen at hand, each at its worst minute.

A what-if spends planned litres without the reserve and may use every cylinder, spare included. The flow is piecewise
constant, so that the litres drawn until oxygen runs out are piecewise linear in the minute at which things
go wrong: the worst minute (earliest run-out, else fewest litres left) is one at which a flow changes or a cylinder
is changed.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from planner.constants import GAUGE_ERROR_OF_FULL_SCALE, GAUGE_ERROR_PSI, KPA_PER_PSI
from planner.demand import Flow, splice
from planner.depletion import LITRE_TOLERANCE, Run, Tank, run
from planner.model import Policy
from planner.onhand import OnHand, on_hand
from planner.results import WhatIf
from planner.scenarios import Scenario, boundaries

_MINUTE_TOLERANCE = 1e-9


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a scenario ends on some tanks, from its worst minute on."""

    from_min: float
    out_min: float | None
    out_leg: int | None
    left_l: float
    last_flow_l_per_min: float

    @property
    def holds(self) -> bool:
        """True where oxygen lasts to the end."""
        return self.out_min is None

    def worse_than(self, other: Outcome) -> bool:
        """Earlier run-out, else fewer litres left; by more than rounding noise."""
        if self.out_min is not None and other.out_min is not None:
            return self.out_min < other.out_min - _MINUTE_TOLERANCE
        if self.out_min is None and other.out_min is None:
            return self.left_l < other.left_l - LITRE_TOLERANCE * 1e3
        return self.out_min is not None


def reads_high_kpa(policy: Policy) -> float:
    """By how much the what-if takes every gauge to read high: max(100 psi, 2.5 % of gauge_scale), kPa."""
    at_least = GAUGE_ERROR_PSI * KPA_PER_PSI
    if policy.gauge_scale_kpa is None:
        return at_least
    return max(at_least, GAUGE_ERROR_OF_FULL_SCALE * policy.gauge_scale_kpa)


def oxygen_for(scenario: Scenario, policy: Policy, normal: OnHand) -> OnHand:
    """What is on hand in a scenario: gauges lower where they read high, the largest cylinder gone where it is lost."""
    base = normal
    if scenario.reads_high:
        base = on_hand(normal.supply, policy, allowance_kpa=reads_high_kpa(policy)) or normal
    if scenario.lose_all:
        return base.empty()
    return base.without_largest() if scenario.lose_largest and base.each else base


def serves_all(tanks: Sequence[Tank], *parts: Flow) -> bool:
    """True where every tank carries every segment: then only the sum of litres counts."""
    asks = {segment.asks for part in parts for segment in part}
    return all(tank.serves(ask) for tank in dict.fromkeys(tanks) for ask in asks)


def outcome(scenario: Scenario, tanks: Sequence[Tank]) -> Outcome:
    """How a scenario ends on tanks, at its worst minute."""
    if scenario.from_departure:
        return _end(scenario, tanks, 0.0)
    if serves_all(tanks, scenario.before, scenario.after):
        return _end(scenario, tanks, _Totals(scenario).worst_minute(sum(tank.usable_l for tank in tanks)))
    return _search(scenario, tanks)


def worst_litres(scenario: Scenario) -> float:
    """The most litres that a scenario draws, over every minute at which it may begin."""
    totals = _Totals(scenario)
    return totals.after[-1] if scenario.from_departure else max(totals.drawn(i) for i in range(len(totals.edges)))


def _search(scenario: Scenario, tanks: Sequence[Tank]) -> Outcome:
    planned = run(tanks, scenario.before, scenario.stretches)
    minutes = sorted({*boundaries(scenario), *(change.minute for change in planned.changes)})
    worst = _end(scenario, tanks, minutes[0])
    for minute in minutes[1:]:
        found = _end(scenario, tanks, minute)
        if found.worse_than(worst):
            worst = found
    return worst


def _end(scenario: Scenario, tanks: Sequence[Tank], minute: float) -> Outcome:
    flow = scenario.after if scenario.from_departure else splice(scenario.before, scenario.after, minute)
    course: Run = run(tanks, flow, scenario.stretches)
    last = flow[-1]
    left = sum(litres for litres, tank in zip(course.left_l, tanks, strict=True) if tank.serves(last.asks))
    return Outcome(minute, course.out_min, course.out_leg, left, last.flow_l_per_min)


class _Totals:
    """Litres drawn by the flow before (F) and after (G) at every minute where either changes."""

    def __init__(self, scenario: Scenario) -> None:
        self.edges = boundaries(scenario)
        self.before = _running(scenario.before, self.edges)
        self.after = _running(scenario.after, self.edges)

    def drawn(self, index: int) -> float:
        """Litres of the whole trip if things go wrong at edge `index`: F(s) + G(end) - G(s)."""
        return self.before[index] + self.after[-1] - self.after[index]

    def worst_minute(self, have_l: float) -> float:
        """Earliest run-out, else most litres drawn; the first such edge."""
        best, best_key = 0, (float("inf"), float("inf"))
        for index in range(len(self.edges)):
            if self.before[index] > have_l + LITRE_TOLERANCE:
                break
            key = (self._runs_out(index, have_l), have_l - self.drawn(index))
            if _less(key, best_key):
                best, best_key = index, key
        return self.edges[best]

    def _runs_out(self, index: int, have_l: float) -> float:
        if self.drawn(index) <= have_l + LITRE_TOLERANCE:
            return float("inf")
        wanted = have_l - self.before[index] + self.after[index]
        at = min(max(bisect_left(self.after, wanted), index + 1), len(self.edges) - 1)
        low, high = self.after[at - 1], self.after[at]
        share = 0.0 if high <= low else (wanted - low) / (high - low)
        return self.edges[at - 1] + share * (self.edges[at] - self.edges[at - 1])


def _less(one: tuple[float, float], other: tuple[float, float]) -> bool:
    if one[0] != other[0] and abs(one[0] - other[0]) > _MINUTE_TOLERANCE:
        return one[0] < other[0]
    return one[0] == float("inf") and one[1] < other[1] - LITRE_TOLERANCE * 1e3


def _running(flow: Flow, edges: Sequence[float]) -> list[float]:
    total, sums, segments = 0.0, [0.0], iter(flow)
    segment = next(segments, None)
    for low, high in pairwise(edges):
        while segment is not None and segment.end_min <= low:
            segment = next(segments, None)
        if segment is not None and segment.start_min <= low and segment.end_min >= high:
            total += segment.flow_l_per_min * (high - low)
        sums.append(total)
    return sums


def report(scenario: Scenario, found: Outcome, policy: Policy) -> WhatIf:
    """The outcome as a row of the plan."""
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
    )


def what_ifs(found: Sequence[Scenario], stocks: Mapping[str, OnHand | None], policy: Policy) -> tuple[WhatIf, ...]:
    """Every scenario on the oxygen at hand; supplies still to be drawn are left out."""
    rows = []
    for scenario in found:
        stock = stocks[scenario.supply]
        if stock is not None:
            tanks = oxygen_for(scenario, policy, stock).tanks
            rows.append(report(scenario, outcome(scenario, tanks), policy))
    return tuple(rows)
