"""Litres that a what-if draws, by the minute at which things go wrong: sums, for cylinders that all carry every leg.

The sums are piecewise linear in that minute, so that the worst one is one at which a flow changes.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise

from planner.cylinders.drift import LITRE_TOLERANCE
from planner.flow.demand import Flow
from planner.go.scenarios import Scenario, boundaries

MINUTE_TOLERANCE = 1e-9
"""Minutes below which two run-outs count as the same: rounding noise."""


def worst_litres(scenario: Scenario) -> float:
    """The most litres that a scenario draws, over every minute at which it may begin."""
    totals = Totals(scenario)
    return totals.after[-1] if scenario.from_departure else max(totals.drawn(i) for i in range(len(totals.edges)))


class Totals:
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
    if one[0] != other[0] and abs(one[0] - other[0]) > MINUTE_TOLERANCE:
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
