"""Each supply of a trip worked out: what is asked of it, what it has on hand, and the planned course through that."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from planner.cylinders.boiling import ends_min
from planner.cylinders.depletion import course_of, lasting
from planner.cylinders.onhand import OnHand, on_hand
from planner.cylinders.turns import NO_COURSE, Course
from planner.flow.flows import Flow
from planner.go import judge
from planner.go.judge import Task
from planner.go.worst_minute import Way


@dataclass(frozen=True)
class Worked:
    """One supply of a trip.

    `stock` is None, and the course empty, for a pipeline and for cylinders still to be drawn. The course keeps the
    state at every start and end of a leg. `idle_l_per_min` is the risen flow that minutes are counted with where
    nothing is planned to be drawn at the end, else 0. `passes`: it has all that is asked of it.
    """

    task: Task
    stock: OnHand | None
    course: Course
    idle_l_per_min: float = 0.0
    passes: bool = False

    @property
    def flow(self) -> Flow:
        """What is planned to be drawn."""
        return self.task.flow

    @property
    def way(self) -> Way:
        """What the planned course chooses wherever it has a choice."""
        return self.course.way

    @cached_property
    def covers_need(self) -> bool:
        """True where it has what is required, reserve and spare included."""
        return self.stock is not None and judge.covers_need(self.task, self.stock)

    @cached_property
    def serving_without_spare_l(self) -> float | None:
        """Usable litres of the cylinders that can serve, without the spare."""
        return None if self.stock is None else judge.serving_without_spare_l(self.task, self.stock)

    @property
    def lasts_min(self) -> float | None:
        """The minute at which the usable litres end if the last leg never ended; None where they never do.

        Where nothing is planned to be drawn at the end, the risen flow counts from when that begins, in whatever leg.
        """
        flow = self.flow
        if flow and flow[-1].flow_l_per_min <= 0.0 < self.idle_l_per_min:
            drawing = len(flow)
            while drawing and flow[drawing - 1].flow_l_per_min <= 0.0:
                drawing -= 1
            risen = flow[-1]._replace(start_min=flow[drawing].start_min, flow_l_per_min=self.idle_l_per_min)
            flow = (*flow[:drawing], risen)
        if self.stock is None:
            return None
        found = lasting(self.stock.tanks, flow, self.task.no_change, serving=self.stock.serving, way=self.way)
        return None if found is None else ends_min(self.task.supply, found, flow[-1].flow_l_per_min)

    def course_over(self, pieces: Flow) -> Course:
        """The planned course with its state at every start and end of the flow cut into pieces."""
        if self.stock is None:
            return NO_COURSE
        task, stock = self.task, self.stock
        return course_of(stock.tanks, pieces, task.no_change, moments=True, serving=stock.serving, way=self.way)

    @property
    def waiting(self) -> tuple[str, ...]:
        """Labels of the cylinders in the order in which they would be used from the end of the plan on."""
        stock = self.stock
        labels = [] if stock is None else [stock.label_of(tank) for tank in self.course.order]
        return tuple([label for label in labels if label is not None])


def worked(tasks: Mapping[str, Task], idle_l_per_min: Mapping[str, float]) -> dict[str, Worked]:
    """Every supply of a trip, by its name. `idle_l_per_min`: the risen flow of those that are idle at the end."""
    return {name: _worked(task, idle_l_per_min.get(name, 0.0)) for name, task in tasks.items()}


def _worked(task: Task, idle_l_per_min: float) -> Worked:
    stock = on_hand(task.supply, task.policy)
    if stock is None:
        return Worked(task, None, NO_COURSE, idle_l_per_min)
    way = judge.passing_way(task, stock)
    course = course_of(stock.tanks, task.flow, task.no_change, moments=True, serving=stock.serving, way=way)
    return Worked(task, stock, course, idle_l_per_min, way is not None)
