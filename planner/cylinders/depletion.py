"""Flow through cylinders: the whole course of a trip, and how long litres last.

Litres only; gauges are for `planner.cylinders.stock`. How cylinders follow on one another is in
`planner.cylinders.course`.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf
from typing import NamedTuple

from planner.cylinders.course import Underway
from planner.cylinders.turns import Course
from planner.cylinders.ways import carried, planned
from planner.flow.flows import Flow, NoChange, Segment, rest, until
from planner.flow.outlets import Asks, Serving, fits
from planner.model import Outlet


class Tank(NamedTuple):
    """Litres that can be drawn through some outlets; `outlets` None means not limited."""

    usable_l: float
    outlets: tuple[Outlet, ...] | None = None
    magnet_safe: bool = False

    @property
    def kind(self) -> object:
        """What tanks have in common that carry the same legs."""
        return self.outlets, self.magnet_safe

    def serves(self, asks: Asks) -> bool:
        """True where the outlets carry all that a leg asks for at once."""
        return fits(self.outlets, self.magnet_safe, asks)


def course_of(
    tanks: Sequence[Tank],
    flow: Flow,
    no_change: Sequence[NoChange] = (),
    *,
    then: tuple[float, Flow] | None = None,
    moments: bool = False,
    serving: Serving | None = None,
    way: Sequence[int] | None = None,
) -> Course:
    """Draw a flow from tanks. The last segment may have no end (`inf`): it then runs until oxygen runs out.

    `then` is a minute and the flow that takes over at it. Nobody foresees it: a no-change stretch that begins before
    is prepared for the first flow. With `moments`, the state at every start and end of a segment is kept. `serving`
    is that of the tanks, where it is known. `way` is that of the course where it is known
    (`planner.cylinders.course.Underway`), else the first on which every leg is carried.
    """
    serving = serving_of(tanks) if serving is None else serving
    course = Underway([tank.usable_l for tank in tanks], serving, no_change, keep_moments=moments, way=way or ())
    if then is None:
        if way is None:
            return carried(course, flow, lambda way: way.follow(flow, flow)).result()
        course.follow(flow, flow)
        return course.result()
    planned(course, flow)
    course.follow(until(flow, then[0]), flow)
    after = rest(then[1], then[0])
    return carried(course, after, lambda way: way.follow(after, then[1])).result()


def serving_of(tanks: Sequence[Tank]) -> Serving:
    """Which tanks carry what a leg asks for."""
    return Serving([(tank.outlets, tank.magnet_safe) for tank in tanks])


def all_serve(serving: Serving, *parts: Flow) -> bool:
    """True where every tank carries every segment: then only the sum of litres counts."""
    for part in parts:
        for segment in part:
            if not serving.all_of(segment.asks):
                return False
    return True


def lasting(
    tanks: Sequence[Tank],
    flow: Flow,
    no_change: Sequence[NoChange] = (),
    *,
    serving: Serving | None = None,
    way: Sequence[int] | None = None,
) -> float | None:
    """The elapsed minute at which the usable litres end if the last leg never ended; None where they never do.

    `way` is that of the planned course where it is known, else the first on which every leg is carried.
    """
    if not flow:
        return None
    serving = serving_of(tanks) if serving is None else serving
    course = Underway([tank.usable_l for tank in tanks], serving, no_change, way=way or ())
    if way is None:
        planned(course, flow)
    last = flow[-1]
    endless = Segment(last.start_min, inf, last.leg, last.flow_l_per_min, last.asks)
    course.follow((*flow[:-1], endless), flow)
    return None if course.out is None else course.out[0]
