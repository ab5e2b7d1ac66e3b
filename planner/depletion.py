"""Flow through cylinders in order: who is in use when, when to change, and when oxygen runs out.

Litres only; gauges are for `planner.stock`. Cylinders are used in the order given, each down to nothing usable. A
cylinder whose outlets do not carry the leg is passed over. At the start of a no-change stretch, a cylinder that
would not last through it makes room for the first one still to come that fits and does; it then goes last.
A change takes no time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
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
    state = _State(tanks, tuple(stretches), keep_moments=moments)
    parts = [(flow, flow)] if then is None else [(until(flow, then[0]), flow), (rest(then[1], then[0]), then[1])]
    for part, foreseen in parts:
        for segment in part:
            stretch = state.entered(segment)
            if stretch is not None:
                state.prepare(rest(until(foreseen, stretch.end_min), segment.start_min))
            if not state.draw(segment):
                return state.result()
    return state.result()


@dataclass
class _State:
    tanks: Sequence[Tank]
    stretches: tuple[Stretch, ...]
    keep_moments: bool
    left: list[float] = field(init=False)
    order: list[int] = field(init=False)
    current: int | None = None
    turns: list[Turn] = field(default_factory=list)
    changes: list[Change] = field(default_factory=list)
    moments: list[Moment] = field(default_factory=list)
    out: tuple[float, int] | None = None
    _next_stretch: int = 0
    _early: bool = False
    _serves: dict[tuple[int, Asks], bool] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.left = [tank.usable_l for tank in self.tanks]
        self.order = list(range(len(self.tanks)))

    def serves(self, tank: int, asks: Asks) -> bool:
        key = (tank, asks)
        if key not in self._serves:
            self._serves[key] = self.tanks[tank].serves(asks)
        return self._serves[key]

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
        if self.current is not None and self.left[self.current] > LITRE_TOLERANCE and self.serves(self.current, asks):
            return self.current
        for tank in self.order:
            if self.left[tank] > LITRE_TOLERANCE and self.serves(tank, asks):
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
                self.order.append(first)
                self._early = True
                self._switch(tank, ahead[0].start_min, ahead[0].leg)
                self._early = False
                return

    def _lasts(self, tank: int, draw: float, ahead: Sequence[Segment]) -> bool:
        return (
            self.left[tank] > LITRE_TOLERANCE
            and self.left[tank] >= draw - LITRE_TOLERANCE
            and all(self.serves(tank, segment.asks) for segment in ahead)
        )

    def draw(self, segment: Segment) -> bool:
        """Draw one segment; False where oxygen runs out in it."""
        at = segment.start_min
        flow = segment.flow_l_per_min
        first = True
        while True:
            tank = self.pick(segment.asks)
            if tank is None and flow > 0.0:
                self.out = (at, segment.leg)
                if first:
                    self._moment(at, segment, None, at_start=True)
                return False
            if tank is not None and tank != self.current:
                self._switch(tank, at, segment.leg)
            if first:
                self._moment(at, segment, tank, at_start=True)
                first = False
            if tank is None or flow == 0.0:
                self._extend(tank, segment.end_min, 0.0)
                break
            lasts = self.left[tank] / flow
            if at + lasts < segment.end_min and self.left[tank] < flow * (segment.end_min - at) - LITRE_TOLERANCE:
                at += lasts
                self._extend(tank, at, self.left[tank])
                self.left[tank] = 0.0
                continue
            self._extend(tank, segment.end_min, min(self.left[tank], flow * (segment.end_min - at)))
            break
        self._moment(segment.end_min, segment, tank, at_start=False)
        return True

    def _switch(self, tank: int, minute: float, leg: int) -> None:
        if self.current is not None:
            # Brought forward, it is made before the stretch: in it the supply comes into use, idle until then.
            inside = not self._early and any(s.start_min < minute < s.end_min for s in self.stretches)
            left = self.left[self.current]
            early = self._early and left > LITRE_TOLERANCE
            self.changes.append(Change(minute, leg, self.current, tank, left, early, inside))
        self.current = tank
        self.turns.append(Turn(tank, minute, minute, self.left[tank], self.left[tank]))

    def _extend(self, tank: int | None, to_min: float, litres: float) -> None:
        if tank is None:
            return
        turn = self.turns[-1]
        left = max(0.0, self.left[tank] - litres)
        self.left[tank] = left
        self.turns[-1] = Turn(tank, turn.from_min, to_min, turn.start_l, left)

    def _moment(self, minute: float, segment: Segment, tank: int | None, *, at_start: bool) -> None:
        if self.keep_moments:
            self.moments.append(Moment(minute, segment.leg, at_start, segment.flow_l_per_min, tank, tuple(self.left)))

    def result(self) -> Run:
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
