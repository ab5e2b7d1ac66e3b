"""The way through cylinders on which every leg is carried.

Where outlets differ, a cylinder may be the only one that carries a later leg. The rule of use (the order given, and
before a no-change stretch the first one that lasts through it) is followed wherever it leaves every leg carried.
Where it does not, the other choices are gone through, the last one first, and the first way that does is taken: the
change then stands where it falls, another cylinder is brought forward, or the one in use is kept for later. Where none
does, the rule stands.

More gas never takes a way away. Whoever holds more in some cylinder goes the same way: where the other had to leave
an empty cylinder, it may be in use for longer, and nothing else is drawn from more than on that way.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from math import fsum

from planner.constants import LITRE_NOISE
from planner.cylinders.course import Underway
from planner.flow.flows import Flow

_MOST_WAYS = 500

Follow = Callable[[Underway], None]


def carried(course: Underway, ahead: Flow, follow: Follow) -> Underway:
    """A course after `follow` has drawn what is ahead, on the first way on which every leg is carried, else the rule.

    The course itself stays as it is. What is known of a later change of flow (`drift`) holds for all ways tried.
    """
    if course.serving.alike:  # there is nothing to choose
        only = course.fork()
        follow(only)
        return only
    ways = _ways(course, ahead, follow)
    first = next(ways)
    tried = [first]
    while tried[-1].out is not None and (another := next(ways, None)) is not None:
        tried.append(another)
    found = tried[-1] if tried[-1].out is None else first
    if len(tried) > 1:
        found.short |= frozenset(range(len(found.left)))  # that this way is taken rests on the litres of all
    for other in tried:
        if found.drift is not None and other.drift is not None:
            found.drift.no_further_than(other.drift)
    return found


def planned(course: Underway, flow: Flow) -> None:
    """Gives a course that is to begin with a flow its way: the first on which every leg is carried, else the rule."""
    if course.serving.alike:
        return
    found = carried(course, flow, lambda way: way.follow(flow, flow))
    course.way = found.result().way
    course.short |= found.short


def all_carried(course: Underway, ahead: Flow, follow: Follow) -> Iterator[Underway]:
    """Every way on which every leg is carried, the rule first; of those with the same turns one."""
    seen = set()
    for way in _ways(course, ahead, follow):
        turns = tuple(way.begun)
        if way.out is None and turns not in seen:
            seen.add(turns)
            yield way


def _ways(course: Underway, ahead: Flow, follow: Follow) -> Iterator[Underway]:
    """The course on one way after another; the first alone where no other could carry more."""
    made = len(course.choices)
    script: tuple[int, ...] | None = tuple([number for number, _ in course.choices])
    for tried in range(_MOST_WAYS):
        if script is None:
            return
        way = course.fork()
        way.way = script
        follow(way)
        script = _next(way, made)
        if not tried and way.out is not None and script is not None and not _may_be_carried(course, ahead):
            script = None
            if way.drift is not None:
                way.drift.low = way.drift.high = 0.0
        yield way


def _next(way: Underway, made: int) -> tuple[int, ...] | None:
    """The way that differs in the last choice in which it can, of those after the first so many."""
    for place in range(len(way.choices) - 1, made - 1, -1):
        number, count = way.choices[place]
        if number + 1 < count:
            return (*[taken for taken, _ in way.choices[:place]], number + 1)
    return None


def _may_be_carried(course: Underway, ahead: Flow) -> bool:
    """False where no way could carry what is ahead: some legs ask for more than all cylinders hold that carry them."""
    asked: dict[frozenset[int], float] = {}
    for segment in ahead:
        serves = course.serving.of(segment.asks)
        tanks = frozenset([tank for tank, carries in enumerate(serves) if carries])
        asked[tanks] = asked.get(tanks, 0.0) + segment.litres
    everything = frozenset(range(len(course.left)))
    for tanks in {*asked, everything}:
        need_l = fsum([litres for others, litres in asked.items() if others <= tanks])
        if need_l > fsum([course.left[tank] for tank in tanks]) + LITRE_NOISE * (1 + len(ahead)):
            return False
    return True
