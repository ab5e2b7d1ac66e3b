"""Flow through cylinders in order: who is in use when, when to change, and when oxygen runs out.

Litres only; gauges are for `planner.stock`. Cylinders are used in the order given, each down to nothing usable. A
cylinder whose outlets do not carry the leg is passed over. At the start of a no-change stretch, a cylinder that
would not last through it makes room for the first one still to come that fits and does; it then goes last.
A change takes no time.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import islice
from math import inf
from typing import NamedTuple

from planner.demand import Flow, Segment, Stretch, litres, rest, until
from planner.model import Outlet
from planner.outlets import Asks, fits

LITRE_TOLERANCE = 1e-9
"""Litres below which a cylinder counts as down to change-over: rounding noise of sums, far below any gauge."""


class Tank(NamedTuple):
    """Litres that can be drawn through some outlets; `outlets` None means not limited."""

    usable_l: float
    outlets: tuple[Outlet, ...] | None = None
    magnet_safe: bool = False

    def serves(self, asks: Asks) -> bool:
        """True where the outlets carry all that a leg asks for at once."""
        return fits(self.outlets, self.magnet_safe, asks)


class Turn(NamedTuple):
    """A tank in use from one minute to another, with its usable litres at both."""

    tank: int
    from_min: float
    to_min: float
    start_l: float
    end_l: float


class Change(NamedTuple):
    """A change of tank, with what the old one still had. `early`: brought forward to keep a stretch free."""

    minute: float
    leg: int
    from_tank: int
    to_tank: int
    left_l: float
    early: bool
    inside_stretch: bool


class Moment(NamedTuple):
    """The state at the start or the end of a segment; `tank` None where oxygen has run out."""

    minute: float
    leg: int
    at_start: bool
    flow_l_per_min: float
    tank: int | None
    left_l: tuple[float, ...]


class Run(NamedTuple):
    """The course of a flow through tanks. `out_min` is the minute at which no tank is left, None where none."""

    turns: tuple[Turn, ...]
    changes: tuple[Change, ...]
    moments: tuple[Moment, ...]
    left_l: tuple[float, ...]
    out_min: float | None
    out_leg: int | None
    order: tuple[int, ...]
    """Tanks in the order in which they would be used at the end: one brought forward stands first."""


def run(
    tanks: Sequence[Tank],
    flow: Flow,
    stretches: Sequence[Stretch] = (),
    *,
    then: tuple[float, Flow] | None = None,
    moments: bool = False,
) -> Run:
    """Draw a flow from tanks. The last segment may have no end (`inf`): it then runs until oxygen runs out.

    `then` is a minute and the flow that takes over at it. Nobody foresees it: a no-change stretch that begins before
    is prepared for the first flow. With `moments`, the state at every start and end of a segment is kept.
    """
    state = _State(tanks, stretches, keep_moments=moments)
    parts = [(flow, flow)] if then is None else [(until(flow, then[0]), flow), (rest(then[1], then[0]), then[1])]
    for part, foreseen in parts:
        for segment in part:
            stretch = state.entered(segment)
            if stretch is not None:
                state.prepare(rest(until(foreseen, stretch.end_min), segment.start_min))
            if not state.draw(segment):
                return state.result()
    return state.result()


class _State:
    """`spent` counts the empty tanks at the head of `order`; `since` is the minute and the litres of the turn begun."""

    def __init__(self, tanks: Sequence[Tank], stretches: Sequence[Stretch], *, keep_moments: bool) -> None:
        self.tanks = tanks
        self.stretches = stretches
        self.keep_moments = keep_moments
        self.left = [tank.usable_l for tank in tanks]
        self.order = list(range(len(tanks)))
        self.spent = 0
        self.current: int | None = None
        self.since = (0.0, 0.0)
        self.until_min = 0.0
        self.turns: list[Turn] = []
        self.changes: list[Change] = []
        self.moments: list[Moment] = []
        self.out: tuple[float, int] | None = None
        self._next_stretch = 0
        self._early = False

    def entered(self, segment: Segment) -> Stretch | None:
        """The stretch that this segment is the first to lie in, if any."""
        while self._next_stretch < len(self.stretches):
            stretch = self.stretches[self._next_stretch]
            if segment.start_min < stretch.start_min:
                return None
            self._next_stretch += 1
            if segment.start_min < stretch.end_min:
                return stretch
        return None

    def pick(self, asks: Asks) -> int | None:
        """The tank to draw from: the one in use while it lasts and fits, else the first in order that does."""
        current = self.current
        if current is not None and self.left[current] > LITRE_TOLERANCE and self.tanks[current].serves(asks):
            return current
        while self.spent < len(self.order) and self.left[self.order[self.spent]] <= LITRE_TOLERANCE:
            self.spent += 1
        for tank in islice(self.order, self.spent, None):
            if self.left[tank] > LITRE_TOLERANCE and self.tanks[tank].serves(asks):
                return tank
        return None

    def prepare(self, ahead: Flow) -> None:
        """Bring another tank forward where the one in use would have to be changed in the stretch that lies ahead."""
        draw = litres(ahead)
        first = self.pick(ahead[0].asks)
        if first is None or self._lasts(first, draw, ahead):
            return
        for tank in self.order:
            if tank != first and self._lasts(tank, draw, ahead):
                self.order.remove(tank)
                self.order.remove(first)
                self.order.insert(0, tank)
                self.spent = 0
                self.order.append(first)
                self._early = True
                self._switch(tank, ahead[0].start_min, ahead[0].leg)
                self._early = False
                return

    def _lasts(self, tank: int, draw: float, ahead: Sequence[Segment]) -> bool:
        return (
            self.left[tank] > LITRE_TOLERANCE
            and self.left[tank] >= draw - LITRE_TOLERANCE
            and all(self.tanks[tank].serves(segment.asks) for segment in ahead)
        )

    def draw(self, segment: Segment) -> bool:
        """Draw one segment; False where oxygen runs out in it."""
        at, end, leg, flow, asks = segment
        tank = self._take(asks, at, leg)
        if self.keep_moments:
            self._moment(at, segment, tank, at_start=True)
        while tank is not None and self._ends_before(tank, flow, at, end):
            at += self.left[tank] / flow
            self._use(tank, at, self.left[tank])
            tank = self._take(asks, at, leg)
        if tank is not None:
            self._use(tank, end, min(self.left[tank], flow * (end - at)) if flow > 0.0 else 0.0)
        elif flow > 0.0:
            self.out = (at, leg)
            return False
        if self.keep_moments:
            self._moment(end, segment, tank, at_start=False)
        return True

    def _ends_before(self, tank: int, flow_l_per_min: float, at_min: float, end_min: float) -> bool:
        left = self.left[tank]
        return (
            flow_l_per_min > 0.0
            and at_min + left / flow_l_per_min < end_min
            and left < flow_l_per_min * (end_min - at_min) - LITRE_TOLERANCE
        )

    def _take(self, asks: Asks, minute: float, leg: int) -> int | None:
        tank = self.pick(asks)
        if tank is not None and tank != self.current:
            self._switch(tank, minute, leg)
        return tank

    def _switch(self, tank: int, minute: float, leg: int) -> None:
        if self.current is not None:
            self._end_turn(self.current)
            # Brought forward, it is made before the stretch: in it the supply comes into use, idle until then.
            inside = not self._early and any(s.start_min < minute < s.end_min for s in self.stretches)
            left = self.left[self.current]
            early = self._early and left > LITRE_TOLERANCE
            self.changes.append(Change(minute, leg, self.current, tank, left, early, inside))
        self.current = tank
        self.since = (minute, self.left[tank])
        self.until_min = minute

    def _end_turn(self, tank: int) -> None:
        from_min, start_l = self.since
        self.turns.append(Turn(tank, from_min, self.until_min, start_l, self.left[tank]))

    def _use(self, tank: int, until_min: float, litres: float) -> None:
        self.until_min = until_min
        self.left[tank] = max(0.0, self.left[tank] - litres)

    def _moment(self, minute: float, segment: Segment, tank: int | None, *, at_start: bool) -> None:
        self.moments.append(Moment(minute, segment.leg, at_start, segment.flow_l_per_min, tank, tuple(self.left)))

    def result(self) -> Run:
        if self.current is not None:
            self._end_turn(self.current)
        out_min, out_leg = self.out if self.out is not None else (None, None)
        return Run(
            tuple(self.turns),
            tuple(self.changes),
            tuple(self.moments),
            tuple(self.left),
            out_min,
            out_leg,
            tuple(self.order),
        )


def lasting(tanks: Sequence[Tank], flow: Flow, stretches: Sequence[Stretch] = ()) -> float | None:
    """The elapsed minute at which the usable litres end if the last leg never ended; None where they never do."""
    if not flow:
        return None
    last = flow[-1]
    endless = Segment(last.start_min, inf, last.leg, last.flow_l_per_min, last.asks)
    return run(tanks, (*flow[:-1], endless), stretches).out_min
