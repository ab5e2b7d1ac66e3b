"""What a supply may choose from, and the litres that any set from it must give."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from math import inf
from typing import NamedTuple

from planner.cylinders.depletion import Tank
from planner.flow.flows import litres
from planner.go.judge import Task
from planner.go.sizing import carriers, enough, group_needs, spares, without_largest
from planner.model import Cylinder

Age = tuple[bool, float, int]
"""Whether the time of a reading is unknown, the time, and the place in the store."""


class Candidate(NamedTuple):
    """A cylinder of the store that may be chosen.

    `usable_high_l` counts where its gauge is taken to read high; `stale` where its reading counts no longer; `physical`
    is the same for one cylinder on the shelves of two supplies.
    """

    place: int
    physical: object
    cylinder: Cylinder
    tank: Tank
    usable_l: float
    usable_high_l: float
    mass_kg: float
    full: bool
    stale: bool = False

    @property
    def age(self) -> Age:
        """Sorts the oldest reading first, readings without a time last, equal ones by their place in the store."""
        checked = self.cylinder.checked
        return (checked is None, 0.0 if checked is None else _seconds(checked), self.place)


def _seconds(moment: datetime) -> float:
    return (moment if moment.tzinfo is not None else moment.replace(tzinfo=UTC)).timestamp()


class Litres(NamedTuple):
    """Litres wanted of the candidates numbered `of`, the `leave_out` largest of them withheld."""

    need_l: float
    leave_out: int
    reads_high: bool
    of: frozenset[int]


class Shelf(NamedTuple):
    """One supply and the cylinders that it may choose from, within places and weight."""

    task: Task
    candidates: Sequence[Candidate]
    places: int
    limit_kg: float

    @property
    def part_used_first(self) -> bool:
        """True where part-used cylinders are to be used up first."""
        return self.task.supply.prefer == "part_used"

    @property
    def needs_any(self) -> bool:
        """True where anything at all is asked of the supply."""
        return any(wanted.need_l > 0.0 for wanted in self.task.litre_needs)


def litres_wanted(shelf: Shelf) -> list[Litres]:
    """Every sum of litres that any set from a shelf must give: all together, and leg by leg where outlets differ."""
    task, tanks = shelf.task, [candidate.tank for candidate in shelf.candidates]
    everything = frozenset(range(len(tanks)))
    most: dict[tuple[int, bool, frozenset[int]], float] = {}

    def want(need_l: float, leave_out: int, reads_high: bool, of: frozenset[int]) -> None:
        key = (leave_out, reads_high, of)
        most[key] = max(most.get(key, 0.0), need_l)

    for each in task.litre_needs:
        want(each.need_l, each.leave_out, each.reads_high, everything)
    if tanks and task.flow:
        for need in group_needs(tanks, task.flow, task.policy, spares(task.supply, task.policy)):
            want(need.need_l, need.leave_out, False, need.tanks)
    for duty in task.duties:
        able = frozenset(i for i, tank in enumerate(tanks) if tank.serves(duty.busiest.asks))
        want(duty.need_l, 0, False, able)
    for scenario in task.must_hold if tanks else ():
        # It may begin at once: then all that follows is drawn.
        if scenario.lasts_min == inf and (scenario.begins is None or any(since <= 0.0 for since, _ in scenario.begins)):
            carried_by = carriers(tanks, scenario.after)
            for able in dict.fromkeys(carried_by):
                part = tuple(one for one, by in zip(scenario.after, carried_by, strict=True) if by == able)
                want(litres(part), int(scenario.lose_one), scenario.reads_high, able)
    return [Litres(need_l, *key) for key, need_l in most.items() if need_l > 0.0]


def lacking_l(shelf: Shelf, wanted: Litres) -> float:
    """Litres that even the whole shelf lacks of what is wanted; at most 0 where it has them."""
    held = [
        each.usable_high_l if wanted.reads_high else each.usable_l
        for number, each in enumerate(shelf.candidates)
        if number in wanted.of
    ]
    have_l = without_largest(held, wanted.leave_out)
    return 0.0 if enough(have_l, wanted.need_l) else wanted.need_l - have_l
