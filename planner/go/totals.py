"""Litres that a what-if draws, by the minute at which it begins: sums, for cylinders that all carry every leg.

A case that begins at minute s has drawn, by minute t,

    F(t) before s;   F(s) + G(t) - G(s) until s + L;   F(s) + G(s + L) - G(s) + H(t) - H(s + L) after that

with F, G, H the litres of the flow before, of the altered one, and of the one after it, and L how long the altered one
lasts. All are piecewise linear. The minute at which oxygen ends is therefore least, and the litres drawn are most,
where s is an edge of a flow, or s + L is one, or oxygen ends just when the altered flow does.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator
from itertools import pairwise
from math import inf
from typing import NamedTuple

from planner.constants import LITRE_NOISE
from planner.flow.flows import Flow, Segment, rest, until
from planner.go.whatifs.scenario import Scenario


def edges(*parts: Flow) -> list[float]:
    """Departure, and every start and end of a segment: where a flow may change."""
    found = {0.0}
    for part in parts:
        for segment in part:
            found.update((segment.start_min, segment.end_min))
    return sorted(found)


def beginnings(scenario: Scenario, more: Iterable[float] = ()) -> list[float]:
    """The minutes at which a case may begin and between which nothing that matters for it changes, in order.

    `more`: minutes at which something else changes, such as the cylinder in use.
    """
    if scenario.from_departure:
        return [0.0]
    marks = {*edges(scenario.before, scenario.after, scenario.again), *more}
    if scenario.lasts_min < inf:
        marks |= {mark - scenario.lasts_min for mark in marks}
    end = end_min(scenario)
    found = sorted(mark for mark in marks if 0.0 <= mark <= end)
    if scenario.begins is None:
        return found
    found = sorted({*found, *(mark for span in scenario.begins for mark in span if 0.0 <= mark <= end)})
    return [mark for mark in found if any(low <= mark <= high for low, high in scenario.begins)]


def may_begin_between(scenario: Scenario, low_min: float, high_min: float) -> bool:
    """True where a case may begin at any minute between two."""
    return scenario.begins is None or any(low <= low_min and high_min <= high for low, high in scenario.begins)


def end_min(scenario: Scenario) -> float:
    """The end of the altered trip on the supply."""
    parts = [part for part in (scenario.before, scenario.after, scenario.again) if part]
    return max([part[-1].end_min for part in parts], default=0.0)


def case_end_min(scenario: Scenario, begin_min: float, trip_end_min: float | None = None) -> float:
    """When a case that begins at a minute is over: at the end of the trip (`end_min`), or as soon as help is there."""
    over = end_min(scenario) if trip_end_min is None else trip_end_min
    if scenario.again or scenario.lasts_min == inf:
        return over
    return min(over, begin_min + scenario.lasts_min)


def last_drawing(scenario: Scenario, begin_min: float) -> Segment:
    """The last segment of a case in which something is drawn: with its flow litres left become minutes.

    Where nothing is drawn at the end but a risen flow is known, the last segment at that flow; of a case that draws
    nothing at all, its last segment as it is.
    """
    end = case_end_min(scenario, begin_min)
    change = 0.0 if scenario.from_departure else begin_min
    back = change + scenario.lasts_min
    course = (*until(scenario.before, change), *rest(until(scenario.after, min(back, end)), change))
    course += rest(scenario.again, back) if back < end else ()
    if not course:
        course = scenario.after or scenario.before
    if course[-1].flow_l_per_min <= 0.0 < scenario.idle_l_per_min:
        return course[-1]._replace(flow_l_per_min=scenario.idle_l_per_min)
    return next((segment for segment in reversed(course) if segment.flow_l_per_min > 0.0), course[-1])


class Sum:
    """Litres of a flow from departure to any minute."""

    def __init__(self, flow: Flow) -> None:
        self.minutes, self.litres = [0.0], [0.0]
        for segment in flow:
            if segment.start_min > self.minutes[-1]:
                self.minutes.append(segment.start_min)
                self.litres.append(self.litres[-1])
            self.minutes.append(segment.end_min)
            self.litres.append(self.litres[-1] + segment.litres)

    def at(self, minute: float) -> float:
        """Litres drawn by a minute."""
        place = bisect_left(self.minutes, minute)
        if place == len(self.minutes):
            return self.litres[-1]
        if place == 0 or self.minutes[place] == minute:
            return self.litres[place]
        low, high = self.minutes[place - 1], self.minutes[place]
        return self.litres[place - 1] + (self.litres[place] - self.litres[place - 1]) * (minute - low) / (high - low)

    def passes(self, litres: float) -> float:
        """The minute at which more than so many litres begin to be drawn, `inf` where never."""
        place = bisect_right(self.litres, litres + LITRE_NOISE)
        if place == len(self.litres):
            return inf
        low, high = self.litres[place - 1], self.litres[place]
        share = max(0.0, (litres - low) / (high - low))
        return self.minutes[place - 1] + share * (self.minutes[place] - self.minutes[place - 1])


class Case(NamedTuple):
    """A case that begins at a minute, on so many litres: `out_min` None where it holds."""

    begin_min: float
    out_min: float | None
    left_l: float


class Totals:
    """Sums of a scenario, for one amount of litres after another."""

    def __init__(self, scenario: Scenario) -> None:
        self.scenario = scenario
        self._before, self._after, self._again = Sum(scenario.before), Sum(scenario.after), Sum(scenario.again)
        self._beginnings = beginnings(scenario)
        self._end_min = end_min(scenario)

    def most_drawn_l(self) -> float:
        """The most litres that a case draws, over every minute at which it may begin."""
        return max((self.drawn_l(begin) for begin in self._beginnings), default=0.0)

    def drawn_l(self, begin_min: float) -> float:
        """Litres of a whole case that begins at a minute."""
        return self._by(begin_min, case_end_min(self.scenario, begin_min, self._end_min))

    def cases(self, have_l: float) -> Iterator[Case]:
        """The cases among which the worst one is, on so many litres."""
        planned_out = inf if self.scenario.from_departure else self._before.passes(have_l)
        if planned_out < inf:
            yield Case(next(mark for mark in edges(self.scenario.before) if mark > planned_out), planned_out, 0.0)
        for begin in self._candidates(have_l):
            if begin <= planned_out:
                out = self._out(begin, have_l)
                left = max(0.0, have_l - self.drawn_l(begin)) if out is None else 0.0
                yield Case(begin, out, left)

    def _by(self, begin_min: float, minute: float) -> float:
        change, back = self._switches(begin_min)
        litres = 0.0 if self.scenario.from_departure else self._before.at(min(change, minute))
        if minute > change:
            litres += self._after.at(min(back, minute)) - self._after.at(change)
        if minute > back and self.scenario.again:
            litres += self._again.at(minute) - self._again.at(back)
        return litres

    def _switches(self, begin_min: float) -> tuple[float, float]:
        return begin_min, begin_min + self.scenario.lasts_min

    def _out(self, begin_min: float, have_l: float) -> float | None:
        """The minute at which oxygen runs out within the case; None where it does not."""
        change, back = self._switches(begin_min)
        end = case_end_min(self.scenario, begin_min, self._end_min)
        if not self.scenario.from_departure and (out := self._before.passes(have_l)) < change:
            return out
        left = have_l - (0.0 if self.scenario.from_departure else self._before.at(change))
        out = max(change, self._after.passes(left + self._after.at(change)))
        if out < min(back, end):
            return out
        if self.scenario.again and back < end:
            left -= self._after.at(back) - self._after.at(change)
            out = max(back, self._again.passes(left + self._again.at(back)))
            if out < end:
                return out
        return None

    def _candidates(self, have_l: float) -> list[float]:
        found = self._beginnings
        if self.scenario.from_departure or self.scenario.lasts_min == inf:
            return found
        return sorted({*found, *self._ending_together(have_l)})

    def _ending_together(self, have_l: float) -> Iterator[float]:
        """Beginnings for which oxygen ends just when the altered flow does: F(s) + G(s + L) - G(s) = have."""
        lasts = self.scenario.lasts_min
        for low, high in pairwise(self._beginnings):
            if not may_begin_between(self.scenario, low, high):
                continue
            at_low, at_high = (self._by(begin, begin + lasts) - have_l for begin in (low, high))
            if at_low < 0.0 <= at_high or at_high < 0.0 <= at_low:
                yield low + (high - low) * at_low / (at_low - at_high)


def most_drawn_l(scenario: Scenario) -> float:
    """The most litres that a scenario draws, over every minute at which it may begin."""
    return Totals(scenario).most_drawn_l()
