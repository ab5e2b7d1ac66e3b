"""The worst minute of a what-if on some tanks, and how it ends from there.

The flow is piecewise constant, so that the number that ranks cases (`planner.go.outcome`) is piecewise linear in the
minute at which things go wrong. Where every tank carries every leg it is least at one of a few minutes
(`planner.go.totals`). Where outlets differ it may be least just beside one at which another tank comes into use: a
`Trial` tries minute after minute.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from functools import cached_property
from itertools import compress, pairwise
from math import fsum, inf
from operator import attrgetter
from typing import NamedTuple

from planner.constants import MINUTE_NOISE
from planner.cylinders.course import Underway, on_the_way
from planner.cylinders.depletion import Tank, all_serve, serving_of
from planner.cylinders.drift import Drift
from planner.cylinders.ways import carried
from planner.cylinders.ways import planned as plan_way
from planner.flow.flows import rest, until
from planner.flow.outlets import Serving
from planner.go.outcome import Outcome, worst
from planner.go.totals import (
    Case,
    Totals,
    beginnings,
    case_end_min,
    edges,
    last_drawing,
    may_begin_between,
)
from planner.go.whatifs.scenario import Scenario

_FINE_MIN = 1e-5
"""How near a search comes to the minute at which the way through tanks of different outlets becomes another one."""

_ends_at = attrgetter("end_min")

Way = Sequence[int]
"""What a planned course chooses wherever it has a choice (`planner.cylinders.course.Underway.way`)."""

_TanksInTurn = list[tuple[int, int, int, bool]]


def outcome(
    scenario: Scenario, tanks: Sequence[Tank], serving: Serving | None = None, way: Way | None = None
) -> Outcome:
    """How a scenario ends on tanks, at its worst minute. `serving` and `way` are those of the tanks, where known."""
    trial = Trial(scenario, serving_of(tanks) if serving is None else serving, way)
    return trial.outcome([tank.usable_l for tank in tanks])


def holds(scenario: Scenario, tanks: Sequence[Tank], serving: Serving | None = None, way: Way | None = None) -> bool:
    """True where a scenario holds on tanks from every minute on."""
    trial = Trial(scenario, serving_of(tanks) if serving is None else serving, way)
    return trial.answer([tank.usable_l for tank in tanks]).holds


class Proof(NamedTuple):
    """Whether a scenario holds from every minute on.

    `touched` are the tanks whose litres the answer rests on. Any other one that has something usable may hold more, or
    less, or nothing: every course that was tried stays the same.
    """

    holds: bool
    touched: frozenset[int]


class _Try(NamedTuple):
    """A course whose flow changes at a minute, and what it would be if that came at another one."""

    minute: float
    course: Underway
    drift: Drift
    lasts_min: float = inf

    def stands_for(self, minute: float) -> bool:
        """True where the same tanks follow on one another if the flow changes at another minute."""
        return self.drift.low + MINUTE_NOISE < minute - self.minute < self.drift.high - MINUTE_NOISE

    def way(self, minute: float, edges: Sequence[float]) -> _TanksInTurn:
        """The tanks in turn, each with the edges between which it begins, and where oxygen runs out."""
        later = minute - self.minute
        rates = [0.0] * (len(self.course.begun) - len(self.drift.rates)) + self.drift.rates
        begins = [(turn[0], turn[1] + rate * later) for turn, rate in zip(self.course.begun, rates, strict=True)]
        if self.course.out is not None:
            begins.append((-1, self.course.out[0] + self.drift.rate * later))
        back = minute + self.lasts_min
        return [(tank, bisect_left(edges, at), bisect_right(edges, at), at < back) for tank, at in begins]


class Trial:
    """A scenario on tanks of some outlets, to be tried with one set of litres after another.

    Between the minutes at which the flow or the planned tank changes, every run-out and every change of tank is linear
    in the minute at which things go wrong, for as long as the way through the tanks is the same
    (`planner.cylinders.drift`).
    Where it is another one at the two ends of such a time, the minute at which it becomes so is found by halving.
    Until that minute the planned course goes its `way`, and where that is not known the first on which every planned
    leg is carried; what follows then goes the first on which every altered leg is.
    """

    def __init__(self, scenario: Scenario, serving: Serving, way: Way | None = None) -> None:
        self.scenario = scenario
        self.serving = serving
        self.way = way

    @cached_property
    def uniform(self) -> bool:
        """True where every tank carries every leg: then only the sum of litres counts."""
        return all_serve(self.serving, self.scenario.before, self.scenario.after, self.scenario.again)

    @cached_property
    def _edges(self) -> list[float]:
        return edges(self.scenario.before, self.scenario.after, self.scenario.again)

    def outcome(self, litres: Sequence[float]) -> Outcome:
        """How it ends at its worst minute, on so many litres in each tank."""
        if self.scenario.from_departure:
            return self._outcome(0.0, self._course(0.0, litres))
        if not self.uniform:
            return self._worst(litres)
        cases = Totals(self.scenario).cases(fsum(litres))
        rough = worst(sorted((self._rough(case) for case in cases), key=lambda one: one.from_min))
        return self._outcome(rough.from_min, self._course(rough.from_min, litres))

    def _rough(self, case: Case) -> Outcome:
        begin, out, left = case
        flow = last_drawing(self.scenario, begin).flow_l_per_min
        return Outcome(begin, out, None, left, flow, case_end_min(self.scenario, begin))

    def answer(self, litres: Sequence[float]) -> Proof:
        """Whether it holds from every minute on."""
        if self.uniform and not self.scenario.from_departure:
            return Proof(self.outcome(litres).holds, frozenset(range(len(litres))))
        touched: set[int] = set()
        for course in self._courses(litres):
            touched.update(course.touched)
            if course.out is not None:
                return Proof(False, frozenset(touched))
        return Proof(True, frozenset(touched))

    def _worst(self, litres: Sequence[float]) -> Outcome:
        planned = self._planned(litres)
        minutes = self._minutes(planned)
        found = [self._outcome(minute, self._try(planned, minute).course) for minute in minutes]
        for low, high in self._spans(minutes):
            tried = sorted(self._between(planned, low, high), key=lambda one: one[0])
            found += [self._outcome(minute, one.course, one) for minute, one in tried]
        return worst(sorted(found, key=lambda one: one.from_min))

    def _spans(self, minutes: Sequence[float]) -> list[tuple[float, float]]:
        return [(low, high) for low, high in pairwise(minutes) if may_begin_between(self.scenario, low, high)]

    def _courses(self, litres: Sequence[float]) -> Iterator[Underway]:
        """Courses, one that runs out among them if any does."""
        if self.scenario.from_departure:
            yield self._course(0.0, litres)
            return
        planned = self._planned(litres)
        minutes = self._minutes(planned)
        for minute in minutes:
            yield self._try(planned, minute).course
        for low, high in self._spans(minutes):
            for one in self._each_way(planned, low, high):
                if one.course.out is not None:  # perhaps for less time than halving finds
                    yield from (tried.course for _, tried in self._between(planned, low, high))
                    break
                yield one.course

    def _course(self, minute: float, litres: Sequence[float]) -> Underway:
        """As planned up to a minute, altered from it on, and as after it when that is over."""
        scenario = self.scenario
        if not scenario.from_departure:
            course = self._begun(litres)
            course.follow(until(scenario.before, minute), scenario.before)
            return self._altered(course, minute)
        planned, after = scenario.before, scenario.after
        if planned and after[: len(planned)] == planned and len(after) > len(planned):  # goes on where the plan ends
            course = self._begun(litres)
            course.follow(planned, planned)
            return self._altered(course, planned[-1].end_min)
        return self._altered(Underway(litres, self.serving, scenario.no_change), minute)

    def _begun(self, litres: Sequence[float]) -> Underway:
        """A course that has still to draw what is planned, on its way."""
        course = Underway(litres, self.serving, self.scenario.no_change)
        if self.way is None:
            plan_way(course, self.scenario.before)
        else:
            course.way = self.way
        return course

    def _altered(self, course: Underway, minute: float) -> Underway:
        scenario = self.scenario
        back = minute + scenario.lasts_min
        begun = rest(until(scenario.after, back), minute)
        again = rest(scenario.again, back)

        def follow(way: Underway) -> None:
            way.follow(begun, scenario.after)
            if scenario.again:
                if way.drift is not None and way.out is None and again and again[0].start_min == back:
                    drawn = [s for s in scenario.after if s.start_min < back <= s.end_min]
                    tank = way.current
                    left = 0.0 if tank is None else way.left[tank]
                    way.drift.changes_again(tank, drawn[0].flow_l_per_min if drawn else 0.0, left)
                way.follow(again, scenario.again)

        return carried(course, (*begun, *again), follow)

    def _planned(self, litres: Sequence[float]) -> list[Underway]:
        """The planned course: before each segment, and at the end."""
        return on_the_way(self._begun(litres), self.scenario.before)

    def _minutes(self, planned: Sequence[Underway]) -> list[float]:
        """When the flow or the planned tank changes."""
        return beginnings(self.scenario, (minute for _, minute, _ in planned[-1].begun[1:]))

    def _try(self, planned: Sequence[Underway], minute: float) -> _Try:
        """The same as `_course`, from where the planned one has come to."""
        before = self.scenario.before
        done = bisect_right(before, minute, key=_ends_at)
        course = planned[done].fork()
        flow = 0.0
        if done < len(before) and before[done].start_min < minute:
            flow = before[done].flow_l_per_min
            course.follow((before[done]._replace(end_min=minute),), before)
        ahead = rest(until(self.scenario.after, minute + self.scenario.lasts_min), minute)
        drift = course.drift = Drift(begins=bool(ahead) and ahead[0].start_min == minute)
        if course.out is not None:
            drift.low, drift.rate = course.out[0] - minute, 0.0
        elif flow > 0.0 and course.current is not None:
            drift.left_off(course.current, flow, course.left[course.current])
        course = self._altered(course, minute)
        return _Try(minute, course, course.drift or drift, self.scenario.lasts_min)

    def _each_way(self, planned: Sequence[Underway], low: float, high: float) -> Iterator[_Try]:
        """A try for each way through the tanks between two minutes, one after another."""
        minute, least = low + MINUTE_NOISE, 2.0 * MINUTE_NOISE
        while minute < high:
            one = self._try(planned, minute)
            yield one
            least = 2.0 * least if one.drift.high <= 0.0 else 2.0 * MINUTE_NOISE
            minute += least + max(0.0, one.drift.high)

    def _between(self, planned: Sequence[Underway], low: float, high: float) -> Iterator[tuple[float, _Try]]:
        """Minutes between two, on both sides of each at which the way changes, each with a try that stands for it."""
        fine = min(_FINE_MIN, (high - low) / 4.0)
        tried: list[_Try] = []

        def at(minute: float) -> tuple[float, _Try]:
            one = next((one for one in tried if one.stands_for(minute)), None)
            if one is None:
                one = self._try(planned, minute)
                tried.append(one)
            return minute, one

        begin, end = at(low + fine), at(high - fine)
        yield begin
        yield end
        waiting = [(begin, self._way(begin), end, self._way(end))]
        while waiting:
            begin, begin_way, end, end_way = waiting.pop()
            if end[0] - begin[0] > fine and begin_way != end_way:
                middle = at((begin[0] + end[0]) / 2.0)
                yield middle
                way = self._way(middle)
                waiting += [(middle, way, end, end_way), (begin, begin_way, middle, way)]

    def _way(self, tried: tuple[float, _Try]) -> _TanksInTurn:
        minute, one = tried
        return one.way(minute, self._edges)

    def _outcome(self, minute: float, course: Underway, tried: _Try | None = None) -> Outcome:
        """What a course from a minute comes to; `tried`: of another minute, for which the course stands."""
        last = last_drawing(self.scenario, minute)
        serving = self.serving.of(last.asks)
        left = fsum(compress(course.left, serving))
        out_min, out_leg = (None, None) if course.out is None else course.out
        if tried is not None and minute != tried.minute:
            later = minute - tried.minute
            left += later * fsum([slope for tank, slope in tried.drift.litres.items() if serving[tank]])
            out_min = None if out_min is None else out_min + later * tried.drift.rate
        end = case_end_min(self.scenario, minute)
        return Outcome(minute, out_min, out_leg, left, last.flow_l_per_min, end)
