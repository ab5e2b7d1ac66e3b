"""What-ifs on the oxygen at hand, each at its worst minute.

A what-if spends planned litres without the reserve and may use every cylinder, spare included. The flow is piecewise
constant, so that the litres drawn until oxygen runs out are piecewise linear in the minute at which things
go wrong. Where every cylinder carries every leg the worst minute (earliest run-out, else fewest litres left) is one at
which a flow changes; elsewhere it may lie just beside one at which another cylinder comes into use.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache, reduce
from itertools import pairwise
from typing import NamedTuple

from planner.constants import GAUGE_ERROR_OF_FULL_SCALE, GAUGE_ERROR_PSI, KPA_PER_PSI
from planner.demand import Flow, litres, splice
from planner.depletion import LITRE_TOLERANCE, Run, Tank, run
from planner.model import Cylinder, Policy, Supply
from planner.onhand import OnHand, on_hand
from planner.results import WhatIf
from planner.scenarios import Scenario, boundaries

_MINUTE_TOLERANCE = 1e-9
_FINE_MIN = 1e-5
"""How near a search comes to the minute at which the way through tanks of different outlets becomes another one."""


class Outcome(NamedTuple):
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

    Of several that are equally large the one is lost whose loss is worst, for their outlets may differ.
    """
    base = normal
    if scenario.reads_high:
        base = readings_high(normal.supply, policy) or normal
    if scenario.lose_all:
        return base.empty()
    if not scenario.lose_largest or not base.each:
        return base
    left = base.without_largest()
    if serves_all(base.each, scenario.after):
        return left[0]
    return reduce(lambda one, other: other if _worse(scenario, other, one) else one, left)


def _worse(scenario: Scenario, one: OnHand, other: OnHand) -> bool:
    return outcome(scenario, one.tanks).worse_than(outcome(scenario, other.tanks))


def serves_all(tanks: Sequence[Tank], *parts: Flow) -> bool:
    """True where every tank carries every segment: then only the sum of litres counts."""
    asks = {segment.asks for part in parts for segment in part}
    return all(tank.serves(ask) for tank in tanks for ask in asks)


def outcome(scenario: Scenario, tanks: Sequence[Tank]) -> Outcome:
    """How a scenario ends on tanks, at its worst minute."""
    if scenario.from_departure:
        return _end(scenario, tanks, 0.0)
    if serves_all(tanks, scenario.before, scenario.after):
        return _end(scenario, tanks, _Totals(scenario).worst_minute(sum(tank.usable_l for tank in tanks)))
    return reduce(lambda worst, found: found if found.worse_than(worst) else worst, _tries(scenario, tanks))


def holds(scenario: Scenario, tanks: Sequence[Tank]) -> bool:
    """True where a scenario holds on tanks from every minute on."""
    if scenario.from_departure or serves_all(tanks, scenario.before, scenario.after):
        return outcome(scenario, tanks).holds
    return all(found.holds for found in _tries(scenario, tanks))


def worst_litres(scenario: Scenario) -> float:
    """The most litres that a scenario draws, over every minute at which it may begin."""
    totals = _Totals(scenario)
    return totals.after[-1] if scenario.from_departure else max(totals.drawn(i) for i in range(len(totals.edges)))


def _tries(scenario: Scenario, tanks: Sequence[Tank]) -> Iterator[Outcome]:
    """Outcomes where outlets differ, the worst among them.

    Between the minutes at which the flow or the planned tank changes, every run-out and every change of tank is linear
    in the minute at which things go wrong, for as long as the way through the tanks is the same. Where it is another
    one at the two ends of such a time, the minute at which it becomes so is found by halving.
    """
    edges = boundaries(scenario.before, scenario.after)
    planned = run(tanks, scenario.before, scenario.stretches)
    minutes = sorted({*edges, *(change.minute for change in planned.changes)})
    for minute in minutes:
        yield _end(scenario, tanks, minute)
    for low, high in pairwise(minutes):
        yield from _between(scenario, tanks, edges, low, high)


def _between(
    scenario: Scenario, tanks: Sequence[Tank], edges: Sequence[float], low: float, high: float
) -> Iterator[Outcome]:
    """Outcomes between two minutes, on both sides of each minute at which the way through the tanks changes."""
    fine = min(_FINE_MIN, (high - low) / 4.0)
    begin, end = (_course(scenario, tanks, minute) for minute in (low + fine, high - fine))
    waiting = [(low + fine, begin, high - fine, end)]
    while waiting:
        low, begin, high, end = waiting.pop()
        if high - low <= fine or _way(begin, edges) == _way(end, edges):
            yield _outcome(scenario, tanks, low, begin)
            yield _outcome(scenario, tanks, high, end)
        else:
            middle = (low + high) / 2.0
            course = _course(scenario, tanks, middle)
            waiting += [(middle, course, high, end), (low, begin, middle, course)]


def _way(course: Run, edges: Sequence[float]) -> list[tuple[int, int, int]]:
    """The tanks in turn, each with the edges between which it begins, and where oxygen runs out."""
    begins = [(turn.tank, turn.from_min) for turn in course.turns]
    ends = [] if course.out_min is None else [(-1, course.out_min)]
    return [(tank, bisect_left(edges, minute), bisect_right(edges, minute)) for tank, minute in begins + ends]


def _end(scenario: Scenario, tanks: Sequence[Tank], minute: float) -> Outcome:
    return _outcome(scenario, tanks, minute, _course(scenario, tanks, minute))


def _course(scenario: Scenario, tanks: Sequence[Tank], minute: float) -> Run:
    if scenario.from_departure:
        return run(tanks, scenario.after, scenario.stretches)
    return run(tanks, scenario.before, scenario.stretches, then=(minute, scenario.after))


def _outcome(scenario: Scenario, tanks: Sequence[Tank], minute: float, course: Run) -> Outcome:
    over = scenario.after[-1].end_min <= minute and scenario.before
    last = scenario.before[-1] if over else scenario.after[-1]
    left = sum(litre for litre, tank in zip(course.left_l, tanks, strict=True) if tank.serves(last.asks))
    return Outcome(minute, course.out_min, course.out_leg, left, last.flow_l_per_min)


class _Totals:
    """Litres drawn by the flow before (F) and after (G) at every minute where either changes."""

    def __init__(self, scenario: Scenario) -> None:
        self.edges, self.before, self.after = _sums(scenario.before, scenario.after)

    def drawn(self, index: int) -> float:
        """Litres of the whole trip if things go wrong at edge `index`: F(s) + G(end) - G(s)."""
        return self.before[index] + self.after[-1] - self.after[index]

    def worst_minute(self, have_l: float) -> float:
        """Earliest run-out, else most litres drawn; the first such edge."""
        best, best_key = 0, (float("inf"), float("inf"))
        for index in range(len(self.edges)):
            key = (self._runs_out(index, have_l), have_l - self.drawn(index))
            if _less(key, best_key):
                best, best_key = index, key
            if self.before[index] > have_l + LITRE_TOLERANCE:
                break
        return self.edges[best]

    def _runs_out(self, index: int, have_l: float) -> float:
        if self.before[index] > have_l + LITRE_TOLERANCE:
            return self._passes(self.before, have_l)
        if self.drawn(index) <= have_l + LITRE_TOLERANCE:
            return float("inf")
        return self._passes(self.after, have_l - self.before[index] + self.after[index])

    def _passes(self, sums: Sequence[float], drawn_l: float) -> float:
        """The minute at which a sum goes beyond so many litres, which it does."""
        at = bisect_right(sums, drawn_l + LITRE_TOLERANCE)
        low, high = sums[at - 1], sums[at]
        share = max(0.0, (drawn_l - low) / (high - low))
        return self.edges[at - 1] + share * (self.edges[at] - self.edges[at - 1])


@lru_cache(maxsize=64)
def _sums(before: Flow, after: Flow) -> tuple[list[float], list[float], list[float]]:
    """Edges and sums, asked for twice of most scenarios: for the outcome, and for the litres that it takes."""
    edges = boundaries(before, after)
    return edges, _running(before, edges), _running(after, edges)


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
    return max(0.0, litres(flow) - sum(tank.usable_l for tank in tanks))


def what_ifs(found: Sequence[Scenario], stocks: Mapping[str, OnHand | None], policy: Policy) -> tuple[WhatIf, ...]:
    """Every scenario on the oxygen at hand; supplies still to be drawn are left out."""
    rows = []
    for scenario in found:
        stock = stocks[scenario.supply]
        if stock is not None:
            tanks = oxygen_for(scenario, policy, stock).tanks
            rows.append(report(scenario, outcome(scenario, tanks), tanks, policy))
    return tuple(rows)
