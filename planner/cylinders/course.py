"""A flow on its way through cylinders in order: which is in use when, when to change, and where oxygen runs out.

Litres only. Cylinders are used in the order given, each down to nothing usable. A cylinder whose outlets do not carry
the leg is passed over. At the start of a no-change stretch, a cylinder that would not last through it makes room for
the first one still to come that fits and does; it then goes last. A change takes no time.

Where outlets differ, that may rob a later leg of the only cylinder that carries it. Each such choice is therefore one
of several, of which the first is the rule above; `planner.cylinders.ways` takes the first that leaves every leg
carried.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from math import inf, nextafter
from operator import attrgetter

from planner.constants import LITRE_NOISE
from planner.cylinders.drift import Drift
from planner.cylinders.turns import Course, Moment, TankChange, TankTurn
from planner.flow.flows import Flow, NoChange, Segment, between, litres
from planner.flow.outlets import Serves, Serving

_starts_at = attrgetter("start_min")
_LEAST_IN_USE_L = nextafter(LITRE_NOISE, inf)


class Underway:
    """A flow through tanks, on its way: `left` holds their litres, `out` the minute and leg where oxygen ran out.

    `begun` holds each turn so far as its tank, minute and litres at its beginning. `short` holds the tanks that a
    no-change stretch passed over for want of litres. `drift` is None, or a watch on what a later minute of the last
    change of flow would do (`planner.cylinders.drift`).

    `way` says which of the possible tanks, or orders of use, to take at each choice, one number a choice; where it
    ends, the first. `choices` holds for each choice met so far what was taken, and of how many. There are only such
    choices as more gas can never take away: with more in any tank, it goes on just as well.
    """

    def __init__(
        self,
        litres: Sequence[float],
        serving: Serving,
        no_change: Sequence[NoChange] = (),
        *,
        keep_moments: bool = False,
        way: Sequence[int] = (),
    ) -> None:
        self.left = list(litres)
        self.serving = serving
        self.no_change = no_change
        self.order: Sequence[int] = range(len(self.left))
        self.current: int | None = None
        self.begun: list[tuple[int, float, float]] = []
        self.short: frozenset[int] = frozenset()
        self.out: tuple[float, int] | None = None
        self.drift: Drift | None = None
        self.way = way
        self.choices: list[tuple[int, int]] = []
        self.kept = False  # from departure, where there is no change to tell it
        self._apart: frozenset[int] = frozenset()  # tanks that carried a leg done which not every tank carries
        self._leg_and_serves: tuple[int, Serves] | None = None
        self._keep_moments = keep_moments
        self._moments: list[Moment] = []
        self._until_min = 0.0
        self._ended: list[tuple[float, float]] = []  # minute and litres at the end of each turn but the last
        self._changes: list[tuple[float, int, int, float, bool, bool]] = []  # minute, leg, tank, litres, early, kept
        self._next_stretch = 0
        self._stretch_from_min = no_change[0].start_min if no_change else inf
        self._from: dict[Serves, int] = {}  # place in `order` before which no tank is left, by who serves

    def fork(self) -> Underway:
        """The same state, to be followed apart."""
        other = Underway.__new__(Underway)
        other.__dict__.update(
            self.__dict__,
            left=self.left.copy(),
            begun=self.begun.copy(),
            choices=self.choices.copy(),
            drift=None if self.drift is None else self.drift.copy(),
            _moments=self._moments.copy(),
            _ended=self._ended.copy(),
            _changes=self._changes.copy(),
            _from=self._from.copy(),
        )
        return other

    def _chosen(self, count: int) -> int:
        """Which of so many is taken, by the way; where there is but one this is no choice."""
        if count <= 1:
            return 0
        met = len(self.choices)
        number = self.way[met] if met < len(self.way) else 0
        self.choices.append((number, count))
        return min(number, count - 1)

    @property
    def touched(self) -> set[int]:
        """The tanks whose litres mattered so far."""
        return {tank for tank, _, _ in self.begun}.union(self.short)

    def follow(self, part: Flow, foreseen: Flow) -> None:
        """Draw part of a flow, until oxygen runs out. `foreseen` is what no-change stretches are prepared for."""
        for segment in part:
            if self.out is not None:
                return
            if segment.start_min >= self._stretch_from_min:
                self._enter(segment, foreseen)
            self._draw(segment)

    def mind_no_stretch(self) -> None:
        """From now on follow the order of use alone: what comes is not what was planned for."""
        self.no_change = ()
        self._stretch_from_min = inf

    def _enter(self, segment: Segment, foreseen: Flow) -> None:
        """Prepare for the stretch that this segment is the first to lie in, if any."""
        entered: NoChange | None = None
        while entered is None and segment.start_min >= self._stretch_from_min:
            stretch = self.no_change[self._next_stretch]
            entered = stretch if segment.start_min < stretch.end_min else None
            self._next_stretch += 1
            further = self._next_stretch < len(self.no_change)
            self._stretch_from_min = self.no_change[self._next_stretch].start_min if further else inf
        if entered is not None:
            self._prepare(between(foreseen, segment.start_min, entered.end_min))

    def _pick(self, serves: Serves) -> int | None:
        """The tank to draw from: the one in use while it lasts and serves, else the first in order that does."""
        left, current = self.left, self.current
        if current is not None and left[current] > LITRE_NOISE and serves[current]:
            return current
        order = self.order
        place = self._from.get(serves, 0)
        while place < len(order):
            tank = order[place]
            if serves[tank] and left[tank] > LITRE_NOISE:
                break
            place += 1
        self._from[serves] = place
        return order[place] if place < len(order) else None

    def _prepare(self, ahead: Flow) -> None:
        """Bring another tank forward where the one in use would have to be changed in the stretch that lies ahead.

        The choices: first the rule; then to bring any other tank forward that lasts, and to put any one last; or to
        leave all as it is.
        """
        least = max(litres(ahead) - LITRE_NOISE, _LEAST_IN_USE_L)
        serving = [self.serving.of(asks) for asks in dict.fromkeys([s.asks for s in ahead])]
        carries = serving[0] if len(serving) == 1 else list(map(all, zip(*serving, strict=True)))
        first = self._pick(serving[0])
        if self.drift is not None:
            self.drift.compared(self.left, least, ahead[0].flow_l_per_min)
        if first is None:
            return
        lasts = self.left[first] >= least and carries[first]
        if lasts and self.serving.alike:
            return
        able = [tank for tank in self.order if carries[tank] and tank != first]
        fuller = [tank for tank in able if self.left[tank] >= least]
        if not lasts:
            passed_over = able[: able.index(fuller[0])] if fuller else able
            self.short |= {first, *passed_over}
        taken = self._order_taken(first, fuller, serving[0], lasts=lasts)
        if taken is not None:
            forward, last = taken
            others = [tank for tank in self.order if tank not in (forward, last)]
            self.order = [forward, *others, last]
            self._from.clear()
            self._switch(forward, ahead[0].start_min, ahead[0].leg, early=True, kept=lasts)

    def _order_taken(self, first: int, fuller: Sequence[int], serves: Serves, *, lasts: bool) -> tuple[int, int] | None:
        """Before a stretch: which tank to bring forward and which to put last; None for neither.

        The choices, where outlets differ: each of the fuller ones forward and the first last, then each forward and
        any other one last, and neither, which comes at the head where the first lasts.
        """
        if self.serving.alike:
            return (fuller[0], first) if fuller else None
        left, usual = self.left, len(fuller)
        idle = [tank for tank in self.order if serves[tank] and left[tank] > LITRE_NOISE and tank != first]
        pairs = usual * len(idle)  # every fuller one is among the idle
        number = self._chosen(1 + pairs)
        if number == (0 if lasts else pairs):
            return None
        number -= lasts
        if number < usual:
            return fuller[number], first
        forward, last = divmod(number - usual, len(idle) - 1)
        return fuller[forward], [tank for tank in idle if tank != fuller[forward]][last]

    def _draw(self, segment: Segment) -> None:
        """Draw one segment, as far as oxygen lasts."""
        at, end, leg, flow, asks = segment
        serves = self.serving.of(asks)
        if not self.serving.alike:
            self._note_apart(leg, serves)
        tank = self._take(serves, at, leg)
        if self._keep_moments:
            self._moment(at, segment, tank, at_start=True)
        if self.drift is not None and self.drift.begins:
            self.drift.drawn(tank, flow)
        if flow > 0.0:
            tank, at = self._empty(tank, serves, segment)
            if tank is None:
                self.out = (at, leg)
                return
        if self.drift is not None:
            self.drift.rate = 0.0
        if tank is not None:
            self._until_min = end
        if self._keep_moments:
            self._moment(end, segment, tank, at_start=False)

    def _empty(self, tank: int | None, serves: Serves, segment: Segment) -> tuple[int | None, float]:
        """Draw on one tank after another; the one that lasts, None where none does, and when it was begun."""
        at, end, leg, flow, _ = segment
        left, drift = self.left, self.drift
        while tank is not None:
            have, wanted = left[tank], flow * (end - at)
            if have >= wanted - LITRE_NOISE or at + have / flow >= end:
                left[tank] = max(0.0, have - wanted)
                if drift is not None and tank in drift.litres:
                    drift.lasted(tank, have - wanted)
                break
            at += have / flow
            left[tank] = 0.0
            self._until_min = at
            emptied = tank
            if drift is not None:
                drift.emptied(emptied, wanted - have, flow)
            tank = self._take(serves, at, leg)
            if drift is not None:
                drift.handed_on(emptied, tank)
        return tank, at

    def _note_apart(self, leg: int, serves: Serves) -> None:
        before = self._leg_and_serves
        if before is not None and before[0] != leg and not all(before[1]):
            self._apart |= frozenset([tank for tank, carries in enumerate(before[1]) if carries])
        self._leg_and_serves = leg, serves

    def _take(self, serves: Serves, minute: float, leg: int) -> int | None:
        tank = self._pick(serves)
        if tank is not None and tank != self.current:
            tank = self._any_of(tank, serves) if self._apart and self.current is not None else tank
            self._switch(tank, minute, leg)
        return tank

    def _any_of(self, first: int, serves: Serves) -> int:
        """The first in order, or by the way one that has carried a leg which others do not: it may be in hand still."""
        others = [t for t in self.order if t in self._apart and t != first and serves[t] and self.left[t] > LITRE_NOISE]
        return [first, *others][self._chosen(1 + len(others))]

    def _switch(self, tank: int, minute: float, leg: int, *, early: bool = False, kept: bool = False) -> None:
        if self.current is None:
            self.kept = kept
        else:
            left = self.left[self.current]
            self._ended.append((self._until_min, left))
            self._changes.append((minute, leg, self.current, left, early, kept))
        self.current = tank
        self.begun.append((tank, minute, self.left[tank]))
        if self.drift is not None:
            self.drift.rates.append(self.drift.rate)
        self._until_min = minute

    def _change(self, turn: int) -> TankChange:
        """The change to a turn, the first of which has number 0."""
        minute, leg, from_tank, left, early, kept = self._changes[turn - 1]
        # Brought forward, it is made before the stretch: in it the supply comes into use, idle until then.
        inside = not early and self._in_stretch(minute)
        to_tank = self.begun[turn][0]
        return TankChange(minute, leg, from_tank, to_tank, left, early and left > LITRE_NOISE, inside, kept)

    def _in_stretch(self, minute: float) -> bool:
        place = bisect_left(self.no_change, minute, key=_starts_at)
        return place > 0 and minute < self.no_change[place - 1].end_min

    def _moment(self, minute: float, segment: Segment, tank: int | None, *, at_start: bool) -> None:
        self._moments.append(Moment(minute, segment.leg, at_start, segment.flow_l_per_min, tank, tuple(self.left)))

    def result(self) -> Course:
        """What has come of it so far."""
        ended = self._ended if self.current is None else [*self._ended, (self._until_min, self.left[self.current])]
        out_min, out_leg = self.out if self.out is not None else (None, None)
        return Course(
            tuple(
                TankTurn(tank, from_min, to_min, start_l, end_l)
                for (tank, from_min, start_l), (to_min, end_l) in zip(self.begun, ended, strict=True)
            ),
            tuple([self._change(turn) for turn in range(1, len(self.begun))]),
            tuple(self._moments),
            tuple(self.left),
            out_min,
            out_leg,
            tuple(self.order),
            tuple([number for number, _ in self.choices]),
            self.kept,
        )


def on_the_way(course: Underway, flow: Flow) -> list[Underway]:
    """A course before each segment of a flow, and at its end, each to be followed apart."""
    states = [course]
    for segment in flow:
        course = course.fork()
        course.follow((segment,), flow)
        states.append(course)
    return states
