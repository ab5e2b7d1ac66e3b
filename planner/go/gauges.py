"""What the gauge of the cylinder in use should show at a moment, the least it may show, and when it falls too fast.

The least gauge is the one with which the rest of the trip is still covered, reserve and spare included, the other
cylinders as they would be had all left at the gauges to depart with.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import fsum
from typing import NamedTuple

from planner.cylinders.depletion import course_of
from planner.cylinders.onhand import OnHand, at_gauges
from planner.cylinders.stock import Held
from planner.cylinders.turns import Moment
from planner.flow.flows import Flow, NoChange
from planner.go.idle import idle_l
from planner.go.leak import Leaks
from planner.go.sizing import GroupNeed, carriers, group_needs, least_litres, spares
from planner.go.whatifs.scenario import Scenario
from planner.model import Policy
from planner.results import LeakGauge


class Shown(NamedTuple):
    """The cylinder in use at a moment, by its label, and its gauges as indicated, kPa.

    `least_kpa` is None where no gauge of it would do; `leak` at departure and where it would not be above the least.
    """

    cylinder: str
    gauge_kpa: float
    least_kpa: float | None
    leak: LeakGauge | None


@dataclass(frozen=True)
class Gauges:
    """The gauges of one supply on the way.

    `policy` is the trip's, less what is accepted for this supply; `start_kpa` are its gauges to depart with, `start_kg`
    the amount of a vessel. `idle` are the cases of who draws nothing as planned (`planner.go.idle`).
    """

    stock: OnHand
    policy: Policy
    no_change: Sequence[NoChange] = ()
    start_kpa: Sequence[float | None] = ()
    start_kg: float | None = None
    idle: Sequence[Scenario] = ()

    @cached_property
    def _leaks(self) -> Leaks:
        return Leaks(self.stock, self.policy)

    @cached_property
    def _lowered(self) -> OnHand | None:
        gauges = [gauge for gauge in self.start_kpa if gauge is not None]
        if not self.stock.helds or len(gauges) != len(self.stock.helds):
            return None
        return at_gauges(self.stock, self.policy, gauges)

    def lowered(self, flow: Flow) -> tuple[Moment, ...]:
        """The state at every start and end of a segment of a flow, had all cylinders left at the gauge to depart with.

        Empty where there is no such set.
        """
        low = self._lowered
        return () if low is None else course_of(low.tanks, flow, self.no_change, moments=True).moments

    def shown(self, moment: Moment, needs: Sequence[GroupNeed], others_l: Sequence[float]) -> Shown | None:
        """What is shown at a moment; None for a stated amount, and where oxygen has run out.

        `needs`: what the rest of the trip asks for (`needs`). `others_l`: what each tank would hold had all left at the
        gauge to depart with.
        """
        tank = moment.tank
        source = None if tank is None else self.stock.held_of(tank)
        if tank is None or source is None:
            return None
        drawn_l = self.stock.tanks[tank].usable_l - moment.left_l[tank]
        least = self._least_kpa(source, needs, tank, others_l)
        if least is not None and self.idle:
            idle_kpa = self._least_for_idle_kpa(source, moment.minute, tank, others_l)
            least = None if idle_kpa is None else max(least, idle_kpa)
        if least is not None and drawn_l <= 0.0 and tank < len(self.start_kpa):
            least = max(least, self.start_kpa[tank] or 0.0)
        leak = None
        if moment.minute > 0.0:
            leak = self._leaks.gauge(tank, drawn_l, moment.flow_l_per_min, least)
        return Shown(source.label, source.gauge_after(drawn_l), least, leak)

    def needs(self, ahead: Flow) -> list[GroupNeed]:
        """What the flow still to come asks of the tanks."""
        return group_needs(self.stock.tanks, ahead, self.policy, self.withheld)

    @property
    def withheld(self) -> int:
        """How many tanks are left out as spare; of a manifold, which is one tank, none."""
        return spares(self.stock.supply, self.policy) if self.stock.together is None else 0

    def _least_kpa(
        self, source: Held, needs: Sequence[GroupNeed], tank: int, others_l: Sequence[float]
    ) -> float | None:
        if self.stock.together is not None:
            return self._least_on_manifold_kpa(source, needs)
        needed = [least_litres(need, others_l, tank) for need in needs]
        found = [litres for litres in needed if litres is not None]
        if len(found) < len(needed):
            return None
        return source.gauge_for(max(found, default=0.0), self.policy.change_over_at_kpa)

    def _least_for_idle_kpa(self, source: Held, minute: float, tank: int, others_l: Sequence[float]) -> float | None:
        litres = idle_l(self.idle, minute)
        if self.stock.together is None:
            risen = tuple(segment for case in self.idle for segment in case.after)
            tanks = frozenset[int]().union(*carriers(self.stock.tanks, risen, self.stock.serving))
            least_l = least_litres(GroupNeed(litres, 0, tanks), others_l, tank)
            if least_l is None:
                return None
            litres = least_l
        return source.gauge_for(litres, self.policy.change_over_at_kpa)

    def _least_on_manifold_kpa(self, together: Held, needs: Sequence[GroupNeed]) -> float | None:
        capacities = sorted((held.water_capacity_l for held in self.stock.helds), reverse=True)
        counted = fsum(capacities[spares(self.stock.supply, self.policy) :])
        required = fsum(need.need_l for need in needs)
        if required > 0.0 and counted <= 0.0:
            return None
        litres = required * fsum(capacities) / counted if required > 0.0 else 0.0
        return together.gauge_for(litres, self.policy.change_over_at_kpa)
