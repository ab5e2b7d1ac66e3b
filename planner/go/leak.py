"""The gauge below which more has left a cylinder than the plan and every doubt about its gauge can explain.

A gauge falls by what is drawn and by cold; it is read to half a division, and it may be out by its class. These are the
doubts of `planner.cylinders.measured`, with which a closed trip is compared. Below the leak gauge even all of them
together do not make the fall since departure as small as what the plan draws: something leaks, or a setting is not the
planned one. Above it nothing is said: a slow leak can hide there, and the least gauge stands guard.

The gas is taken as warm as it may have been at departure and as cold as it may be now. A time on paper is a whole
minute, and so is that of departure: one minute more is allowed for.
"""

from __future__ import annotations

from typing import Final

from planner.cylinders.gauge_doubt import TO_THE_MINUTE_MIN, gauge_scale_kpa, half_division_kpa
from planner.cylinders.measured import (
    UNKNOWN_CHANGE_DEGC,
    CommonEnds,
    Doubt,
    Readings,
    explained_down_to_kpa,
    worst_ends,
)
from planner.cylinders.onhand import OnHand
from planner.cylinders.stock import Held
from planner.model import Cylinder, Policy
from planner.results import LeakGauge

LATE_MIN: Final = 10.0
"""For so many minutes after its own the limit holds, less what each minute takes off. By decision."""


class Leaks:
    """The leak gauges of one supply."""

    def __init__(self, stock: OnHand, policy: Policy) -> None:
        self._stock, self._policy = stock, policy
        self._falls: dict[int, _Doubts] = {}

    def gauge(self, tank: int, drawn_l: float, flow_l_per_min: float, least_kpa: float | None) -> LeakGauge | None:
        """The leak gauge of the cylinder in use (of a manifold, of all) some minutes after departure.

        `drawn_l`: litres that the plan has drawn from it since departure. `flow_l_per_min`: what it gives now.
        `least_kpa`: its least gauge; a limit that is not above it says nothing new. None there, for a stated amount,
        and where a gauge on its stop would still be explained. The fall for each minute later is that of the limit
        itself, which is a little more than that of the planned gauge: the doubts grow too.
        """
        source = self._stock.held_of(tank)
        if source is None:
            return None
        if tank not in self._falls:
            cylinders = self._stock.supply.cylinders
            self._falls[tank] = _Doubts(source, cylinders[0 if self._stock.together else tank], self._policy)
        planned_l = drawn_l + 2.0 * TO_THE_MINUTE_MIN * flow_l_per_min
        gauge = self._falls[tank].explained_down_to_kpa(planned_l)
        if gauge is None or (least_kpa is not None and gauge <= least_kpa):
            return None
        late = self._falls[tank].explained_down_to_kpa(planned_l + LATE_MIN * flow_l_per_min) or 0.0
        return LeakGauge(gauge, (gauge - late) / LATE_MIN)


class _Doubts:
    """The fall of a gauge since departure, and what explains it.

    The doubts are those that a closed trip is allowed, but that cooling down to the coldest known stands in the
    readings themselves.
    """

    def __init__(self, source: Held, cylinder: Cylinder, policy: Policy) -> None:
        read_to = half_division_kpa(policy.pressure_unit)
        cooling = source.read_degc - source.cold_degc
        self._source = source
        self._doubt = Doubt(
            first_reading_kpa=read_to,
            second_reading_kpa=read_to,
            gauge_scale_kpa=gauge_scale_kpa(cylinder, policy),
            largest_water_capacity_l=source.water_capacity_l,
            temperature_change_degc=max(0.0, UNKNOWN_CHANGE_DEGC - cooling),
        )
        self._ends: CommonEnds | None = None
        self._lower_kpa = 0.0  # than planned, that the last limit was: the next is near it

    def explained_down_to_kpa(self, planned_l: float) -> float | None:
        """The gauge below which more has left than planned; None where that is no gauge.

        Which ends of what is common are the worst changes with the gauge: where others are than those that were taken,
        these are.
        """
        near = self._down_to(max(0.0, self._source.gauge_after(planned_l) - self._lower_kpa))
        ends = worst_ends(near, self._doubt) if self._ends is None else self._ends
        found = explained_down_to_kpa(near, self._doubt, planned_l, ends)
        while found is not None and (worse := worst_ends(self._down_to(found), self._doubt, ends)) != ends:
            lower = explained_down_to_kpa(self._down_to(found), self._doubt, planned_l, worse)
            if lower is not None and lower >= found:
                break
            found, ends = lower, worse
        self._ends = ends
        self._lower_kpa = self._source.gauge_after(planned_l) - (found or 0.0)
        return found

    def _down_to(self, gauge_kpa: float) -> Readings:
        source = self._source
        capacity = source.water_capacity_l
        return Readings(source.gauge_kpa, gauge_kpa, 1.0, capacity, source.read_degc, source.cold_degc, source.gas)
