"""The worst minute of a what-if on some tanks, and how it ends from there.

The flow is piecewise constant, so that the litres drawn until oxygen runs out are piecewise linear in the minute at
which things go wrong. Where every tank carries every leg the worst minute (earliest run-out, else fewest litres left)
is one at which a flow changes. Where outlets differ it may lie just beside one at which another tank comes into use: a
`Trial` tries minute after minute.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from functools import cached_property, reduce
from itertools import compress, pairwise
from math import fsum
from operator import attrgetter
from typing import NamedTuple

from planner.cylinders.course import Course, on_the_way
from planner.cylinders.depletion import Tank, all_serve, serving_of
from planner.cylinders.drift import LITRE_TOLERANCE, Drift
from planner.flow.demand import rest, until
from planner.flow.outlets import Serving
from planner.go.scenarios import Scenario, boundaries
from planner.go.totals import MINUTE_TOLERANCE, Totals

_NEAR_MIN = 1e-9
_FINE_MIN = 1e-5
"""How near a search comes to the minute at which the way through tanks of different outlets becomes another one."""

_ends_at = attrgetter("end_min")

_Way = list[tuple[int, int, int]]


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
            return self.out_min < other.out_min - MINUTE_TOLERANCE
        if self.out_min is None and other.out_min is None:
            return self.left_l < other.left_l - LITRE_TOLERANCE * 1e3
        return self.out_min is not None


def outcome(scenario: Scenario, tanks: Sequence[Tank], serving: Serving | None = None) -> Outcome:
    """How a scenario ends on tanks, at its worst minute. `serving` is that of the tanks, where it is known."""
    trial = Trial(scenario, serving_of(tanks) if serving is None else serving)
    return trial.outcome([tank.usable_l for tank in tanks])


def holds(scenario: Scenario, tanks: Sequence[Tank], serving: Serving | None = None) -> bool:
    """True where a scenario holds on tanks from every minute on."""
    trial = Trial(scenario, serving_of(tanks) if serving is None else serving)
    return trial.answer([tank.usable_l for tank in tanks]).holds


class Answer(NamedTuple):
    """Whether a scenario holds from every minute on; if not, a minute from which it does not.

    `touched` are the tanks whose litres the answer rests on. Any other one that has something usable may hold more, or
    less, or nothing: every course that was tried stays the same.
    """

    holds: bool
    touched: frozenset[int]
    minute: float | None = None


class _Try(NamedTuple):
    """A course whose flow changes at a minute, and what it would be if that came at another one."""

    minute: float
    course: Course
    drift: Drift

    def stands_for(self, minute: float) -> bool:
        """True where the same tanks follow on one another if the flow changes at another minute."""
        return self.drift.low + _NEAR_MIN < minute - self.minute < self.drift.high - _NEAR_MIN

    def way(self, minute: float, edges: Sequence[float]) -> _Way:
        """The tanks in turn, each with the edges between which it begins, and where oxygen runs out."""
        later = minute - self.minute
        rates = [0.0] * (len(self.course.begun) - len(self.drift.rates)) + self.drift.rates
        begins = [(turn[0], turn[1] + rate * later) for turn, rate in zip(self.course.begun, rates, strict=True)]
        if self.course.out is not None:
            begins.append((-1, self.course.out[0] + self.drift.rate * later))
        return [(tank, bisect_left(edges, begin), bisect_right(edges, begin)) for tank, begin in begins]


class Trial:
    """A scenario on tanks of some outlets, to be tried with one set of litres after another.

    Between the minutes at which the flow or the planned tank changes, every run-out and every change of tank is linear
    in the minute at which things go wrong, for as long as the way through the tanks is the same
    (`planner.cylinders.drift`).
    Where it is another one at the two ends of such a time, the minute at which it becomes so is found by halving.
    """

    def __init__(self, scenario: Scenario, serving: Serving) -> None:
        self.scenario = scenario
        self.serving = serving

    @cached_property
    def uniform(self) -> bool:
        """True where every tank carries every leg: then only the sum of litres counts."""
        return all_serve(self.serving, self.scenario.before, self.scenario.after)

    @cached_property
    def _edges(self) -> list[float]:
        return boundaries(self.scenario.before, self.scenario.after)

    def outcome(self, litres: Sequence[float]) -> Outcome:
        """How it ends at its worst minute, on so many litres in each tank."""
        if self.scenario.from_departure:
            minute = 0.0
        elif self.uniform:
            minute = Totals(self.scenario).worst_minute(fsum(litres))
        else:
            minute = self._worst_minute(litres)
        return self._outcome(minute, self._course(minute, litres))

    def answer(self, litres: Sequence[float], near: float | None = None) -> Answer:
        """Whether it holds from every minute on. Minutes about `near` are tried first."""
        if self.uniform and not self.scenario.from_departure:
            return Answer(self.outcome(litres).holds, frozenset(range(len(litres))))
        touched: set[int] = set()
        for minute, course in self._courses(litres, near):
            touched.update(course.touched)
            if course.out is not None:
                return Answer(False, frozenset(touched), minute)
        return Answer(True, frozenset(touched))

    def _worst_minute(self, litres: Sequence[float]) -> float:
        planned = self._planned(litres)
        minutes = self._minutes(planned)
        found = [self._outcome(minute, self._try(planned, minute).course) for minute in minutes]
        for low, high in pairwise(minutes):
            tried = sorted(self._between(planned, low, high), key=lambda one: one[0])
            found += [self._outcome(minute, one.course, one) for minute, one in tried]
        return reduce(lambda worst, one: one if one.worse_than(worst) else worst, found).from_min

    def _courses(self, litres: Sequence[float], near: float | None) -> Iterator[tuple[float, Course]]:
        """Courses with their minutes, one that runs out among them if any does."""
        if self.scenario.from_departure:
            yield 0.0, self._course(0.0, litres)
            return
        planned = self._planned(litres)
        minutes = self._minutes(planned)
        spans = list(pairwise(minutes))
        if near is not None:
            spans.sort(key=lambda span: not span[0] <= near <= span[1])
        yield minutes[0], self._try(planned, minutes[0]).course
        for low, high in spans:
            yield high, self._try(planned, high).course
            for one in self._each_way(planned, low, high):
                if one.course.out is not None:  # perhaps for less time than halving finds
                    yield from ((minute, tried.course) for minute, tried in self._between(planned, low, high))
                    break
                yield one.minute, one.course

    def _course(self, minute: float, litres: Sequence[float]) -> Course:
        """As planned up to a minute, and altered from it on."""
        before, after = self.scenario.before, self.scenario.after
        course = Course(litres, self.serving, self.scenario.stretches)
        if self.scenario.from_departure:
            course.follow(after, after)
        else:
            course.follow(until(before, minute), before)
            course.follow(rest(after, minute), after)
        return course

    def _planned(self, litres: Sequence[float]) -> list[Course]:
        """The planned course: before each segment, and at the end."""
        return on_the_way(Course(litres, self.serving, self.scenario.stretches), self.scenario.before)

    def _minutes(self, planned: Sequence[Course]) -> list[float]:
        """When the flow or the planned tank changes."""
        return sorted({*self._edges, *(minute for _, minute, _ in planned[-1].begun[1:])})

    def _try(self, planned: Sequence[Course], minute: float) -> _Try:
        """The same as `_course`, from where the planned one has come to."""
        before, after = self.scenario.before, self.scenario.after
        done = bisect_right(before, minute, key=_ends_at)
        course = planned[done].fork()
        flow = 0.0
        if done < len(before) and before[done].start_min < minute:
            flow = before[done].flow_l_per_min
            course.follow((before[done]._replace(end_min=minute),), before)
        ahead = rest(after, minute)
        drift = course.drift = Drift(begins=bool(ahead) and ahead[0].start_min == minute)
        if course.out is not None:
            drift.low, drift.rate = course.out[0] - minute, 0.0
        elif flow > 0.0 and course.current is not None:
            drift.left_off(course.current, flow, course.left[course.current])
        course.follow(ahead, after)
        return _Try(minute, course, drift)

    def _each_way(self, planned: Sequence[Course], low: float, high: float) -> Iterator[_Try]:
        """A try for each way through the tanks between two minutes, one after another."""
        minute, least = low + _NEAR_MIN, 2.0 * _NEAR_MIN
        while minute < high:
            one = self._try(planned, minute)
            yield one
            least = 2.0 * least if one.drift.high <= 0.0 else 2.0 * _NEAR_MIN
            minute += least + max(0.0, one.drift.high)

    def _between(self, planned: Sequence[Course], low: float, high: float) -> Iterator[tuple[float, _Try]]:
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

    def _way(self, tried: tuple[float, _Try]) -> _Way:
        minute, one = tried
        return one.way(minute, self._edges)

    def _outcome(self, minute: float, course: Course, tried: _Try | None = None) -> Outcome:
        """What a course from a minute comes to; `tried`: of another minute, for which the course stands."""
        before, after = self.scenario.before, self.scenario.after
        over = after[-1].end_min <= minute and before
        last = before[-1] if over else after[-1]
        serving = self.serving.of(last.asks)
        left = fsum(compress(course.left, serving))
        out_min, out_leg = (None, None) if course.out is None else course.out
        if tried is not None and minute != tried.minute:
            later = minute - tried.minute
            left += later * fsum([slope for tank, slope in tried.drift.litres.items() if serving[tank]])
            out_min = None if out_min is None else out_min + later * tried.drift.rate
        return Outcome(minute, out_min, out_leg, left, last.flow_l_per_min)
