"""How much delay a plan bears, and until when it can be broken off.

A breaking delay is the time in one leg, at its last flow, that uses up all that a supply has left at the end of the
plan. Turning back at minute t takes t minutes at the present flow; it is allowed while minutes left at that
flow are at least t + reserve_time. A diversion takes its own time instead. Every cylinder counts here, spare
included; residual and allowance stay untouched. A supply still to be drawn has nothing to go back on.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import compress, pairwise
from math import fsum, inf
from typing import NamedTuple

from planner.cylinders.course import Course, Moment, on_the_way
from planner.cylinders.depletion import all_serve, run
from planner.cylinders.drift import Drift
from planner.cylinders.onhand import OnHand
from planner.flow.demand import Flow, Segment, litres
from planner.go.sizing import least_by_search
from planner.model import Trip
from planner.results import BreakingDelay, TurnBack

_LONGEST_DELAY_MIN = 14.0 * 24.0 * 60.0
_FINE_MIN = 1e-3
_NEAR_MIN = 1e-9


def breaking_delays(
    trip: Trip, planned: Mapping[str, Flow], stocks: Mapping[str, OnHand | None]
) -> tuple[BreakingDelay, ...]:
    """For each leg and each supply that flows at its end, the minutes that would use it up; smallest first."""
    found = []
    for name, flow in planned.items():
        stock = stocks[name]
        if stock is None:
            continue
        uniform = all_serve(stock.serving, flow)
        left = fsum(tank.usable_l for tank in stock.tanks) - litres(flow)
        states = [] if uniform else on_the_way(Course([tank.usable_l for tank in stock.tanks], stock.serving), flow)
        for place, segment in _last_of_legs(flow):
            index = segment.leg
            if segment.flow_l_per_min <= 0.0:
                continue
            by_sum = max(0.0, left) / segment.flow_l_per_min
            minutes = by_sum if uniform else _searched(states, flow, place)
            found.append(BreakingDelay(trip.legs[index].name, index, name, minutes))
    return tuple(sorted(found, key=lambda row: row.minutes))


def _last_of_legs(flow: Flow) -> Iterator[tuple[int, Segment]]:
    """The last segment of each leg, with its place in the flow."""
    for place, segment in enumerate(flow):
        if place + 1 == len(flow) or flow[place + 1].leg != segment.leg:
            yield place, segment


class _Delayed(NamedTuple):
    """Whether oxygen runs out after a delay, and how much shorter and longer it may be for the same tanks in turn."""

    minutes: float
    breaks: bool
    low: float
    high: float

    def tells(self, minutes: float) -> bool:
        """True where another delay ends alike."""
        return self.low + _NEAR_MIN < minutes - self.minutes < self.high - _NEAR_MIN


def _searched(states: Sequence[Course], flow: Flow, place: int) -> float:
    """By halving, where outlets differ: the longest delay at the end of a segment that still holds, from below."""
    known: list[_Delayed] = []

    def breaks(minutes: float) -> bool:
        for one in known:
            if one.tells(minutes):
                return one.breaks
        known.append(_delayed(states[place].fork(), flow[place], flow[place + 1 :], minutes))
        return known[-1].breaks

    found = least_by_search(breaks, 0.0, _LONGEST_DELAY_MIN, fine=_FINE_MIN)
    return _LONGEST_DELAY_MIN if found is None else max(0.0, found - _FINE_MIN)


def _delayed(course: Course, segment: Segment, ahead: Flow, minutes: float) -> _Delayed:
    """A course that draws a segment for so many minutes more, and then what lies ahead of it."""
    end = segment.end_min + minutes
    course.follow((segment._replace(end_min=end),), ())
    if course.out is not None:
        return _Delayed(minutes, True, course.out[0] - end, inf)
    tank, in_use_from_min, _ = course.begun[-1]  # the segment flows, so that there is one
    drift = course.drift = Drift(begins=False)
    drift.left_off(tank, segment.flow_l_per_min, course.left[tank])
    course.follow(ahead, ())
    return _Delayed(minutes, course.out is not None, max(drift.low, in_use_from_min - end), drift.high)


def turn_backs(trip: Trip, planned: Mapping[str, Flow], stocks: Mapping[str, OnHand | None]) -> tuple[TurnBack, ...]:
    """The windows for turning back and for each diversion."""
    pieces = _pieces(trip, planned, stocks)
    reserve = trip.policy.reserve_time_min
    back = _joined(_window(piece, reserve, None) for piece in pieces)
    found = [TurnBack(None, None, low, high) for low, high in back]
    for index, leg in enumerate(trip.legs):
        if leg.divert is not None:
            time = leg.divert.time_min
            inside = [piece for piece in pieces if piece.leg == index]
            windows = _joined(_window(piece, reserve, time) for piece in inside)
            found += [TurnBack(leg.divert.to, leg.name, low, high, time) for low, high in windows]
    return tuple(found)


class _Piece:
    """A span of one leg in which every flow is constant: minutes left at its start, the least over supplies."""

    def __init__(self, leg: int, start_min: float, end_min: float) -> None:
        self.leg, self.start_min, self.end_min = leg, start_min, end_min
        self.minutes_left = inf


def _pieces(trip: Trip, planned: Mapping[str, Flow], stocks: Mapping[str, OnHand | None]) -> list[_Piece]:
    edges = sorted({edge for flow in planned.values() for s in flow for edge in (s.start_min, s.end_min)})
    legs = {s.start_min: s.leg for flow in planned.values() for s in flow}
    pieces: list[_Piece] = []
    for low, high in pairwise(edges):
        pieces.append(_Piece(legs.get(low, pieces[-1].leg if pieces else 0), low, high))
    for name, flow in planned.items():
        stock = stocks[name]
        if stock is not None:
            _put_minutes_left(pieces, flow, stock)
        elif trip.supplies[name].kind != "pipeline":
            _put_minutes_left(pieces, flow, None)
    return pieces


def _put_minutes_left(pieces: Sequence[_Piece], flow: Flow, stock: OnHand | None) -> None:
    starts: dict[float, Moment] = {}
    if stock is not None:
        course = run(stock.tanks, flow, moments=True, serving=stock.serving)
        starts = {moment.minute: moment for moment in course.moments if moment.at_start}
    at = 0
    for segment in flow:
        moment = starts.get(segment.start_min)
        have = 0.0 if moment is None or stock is None else fsum(compress(moment.left_l, stock.serving.of(segment.asks)))
        while at < len(pieces) and pieces[at].start_min < segment.start_min:
            at += 1
        while at < len(pieces) and pieces[at].end_min <= segment.end_min:
            piece = pieces[at]
            if segment.flow_l_per_min > 0.0:
                gone = piece.start_min - segment.start_min
                left = max(0.0, have / segment.flow_l_per_min - gone)
                piece.minutes_left = min(piece.minutes_left, left)
            at += 1


def _window(piece: _Piece, reserve_min: float, time_min: float | None) -> tuple[float, float] | None:
    """The part of a piece, from its start on, that allows going back (`time_min` None) or away; None where none."""
    if time_min is None:
        # left(start) - x >= start + x + reserve, with x minutes into the piece
        longest = (piece.minutes_left - piece.start_min - reserve_min) / 2.0
    else:
        longest = piece.minutes_left - time_min - reserve_min
    if longest < 0.0:
        return None
    return piece.start_min, min(piece.end_min, piece.start_min + longest)


def _joined(windows: Iterator[tuple[float, float] | None]) -> list[tuple[float, float]]:
    found: list[tuple[float, float]] = []
    for window in windows:
        if window is None:
            continue
        if found and found[-1][1] == window[0]:
            found[-1] = (found[-1][0], window[1])
        else:
            found.append(window)
    return found
