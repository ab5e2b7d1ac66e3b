"""The gauge below which more has left a cylinder than the plan and every doubt about its gauge can explain.

A gauge falls by what is drawn and by cold; it is read to half a division, and it may be out by its class. These are the
doubts of `planner.cylinders.measured`, with which a closed trip is compared. Below the leak gauge even all of them
together do not make the fall since departure as small as what the plan draws: something leaks, or a setting is not the
planned one. Above it nothing is said: a slow leak can hide there, and the least gauge stands guard.

The gas is taken as warm as it may have been at departure and as cold as it may be now. A time on paper is a whole
minute, and so is that of departure: one minute more is allowed for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from planner.cylinders.gauge_doubt import TO_THE_MINUTE_MIN, gauge_scale_kpa, half_division_kpa
from planner.cylinders.measured import UNKNOWN_CHANGE_DEGC, CommonEnds, Doubt, Readings, least_drawn_l, worst_ends
from planner.cylinders.onhand import OnHand
from planner.cylinders.stock import Held
from planner.model import Cylinder, Policy
from planner.results import LeakGauge

LATE_MIN: Final = 10.0
"""For so many minutes after its own the limit holds, less what each minute takes off. By decision."""

_FINE_KPA: Final = 1.0
_SAME_L: Final = 1e-6


def leak_gauge(
    stock: OnHand, policy: Policy, tank: int, drawn_l: float, flow_l_per_min: float, least_kpa: float | None
) -> LeakGauge | None:
    """The leak gauge of the cylinder in use (of a manifold, of all) some minutes after departure.

    `drawn_l`: litres that the plan has drawn from it since departure. `flow_l_per_min`: what it gives now. `least_kpa`:
    its least gauge; a limit that is not above it says nothing new. None there, for a stated amount, and where a gauge
    on its stop would still be explained. The fall for each minute later is that of the limit itself, which is a little
    more than that of the planned gauge: the doubts grow too.
    """
    source = stock.held_of(tank)
    if source is None:
        return None
    cylinders = stock.supply.cylinders if stock.together is not None else (stock.supply.cylinders[tank],)
    fall = _Fall(source, _doubt(source, cylinders, policy))
    planned_l = drawn_l + 2.0 * TO_THE_MINUTE_MIN * flow_l_per_min
    gauge = fall.explained_down_to_kpa(planned_l)
    if gauge is None or (least_kpa is not None and gauge <= least_kpa):
        return None
    late = fall.explained_down_to_kpa(planned_l + LATE_MIN * flow_l_per_min) or 0.0
    return LeakGauge(gauge, (gauge - late) / LATE_MIN)


def _doubt(source: Held, cylinders: Sequence[Cylinder], policy: Policy) -> Doubt:
    """What a closed trip is allowed, but that cooling down to the coldest known stands in the readings themselves."""
    read_to = half_division_kpa(policy.pressure_unit)
    doubt = Doubt(
        first_reading_kpa=read_to,
        second_reading_kpa=read_to,
        gauge_scale_kpa=gauge_scale_kpa(cylinders[0], policy),
        largest_water_capacity_l=source.water_capacity_l,
    )
    cooling = source.read_degc - source.cold_degc
    return replace(doubt, temperature_change_degc=max(0.0, UNKNOWN_CHANGE_DEGC - cooling))


class _Fall:
    """The fall of a gauge since departure, and what explains it."""

    def __init__(self, source: Held, doubt: Doubt) -> None:
        self._source = source
        self._doubt = doubt
        self._ends = worst_ends(self._down_to(source.gauge_kpa / 2.0), doubt)

    def explained_down_to_kpa(self, planned_l: float) -> float | None:
        """The gauge at which no more need have left than planned, from below; None where that is any gauge.

        What the worst is changes a little with the gauge: the search is done again where it was another.
        """
        gauge = self._search_kpa(planned_l)
        while gauge is not None and (ends := worst_ends(self._down_to(gauge), self._doubt)) != self._ends:
            if self._too_much_l(gauge, planned_l, ends) > -_SAME_L:
                break
            self._ends = ends
            gauge = self._search_kpa(planned_l)
        return gauge

    def _search_kpa(self, planned_l: float) -> float | None:
        """The same to within a kPa, for one worst.

        The line between two gauges on either side is followed to where it crosses (false position, the Illinois way):
        litres are nearly straight in the gauge, so that a few steps do.
        """
        low, high = 0.0, self._source.gauge_after(planned_l)
        above, below = (self._too_much_l(gauge, planned_l, self._ends) for gauge in (low, high))
        if above <= 0.0 or below >= 0.0:
            return None
        while high - low > _FINE_KPA:
            gauge = low + (high - low) * above / (above - below)
            gauge = min(max(gauge, low + _FINE_KPA / 2.0), high - _FINE_KPA / 2.0)
            found = self._too_much_l(gauge, planned_l, self._ends)
            if found > 0.0:
                low, above, below = gauge, found, below / 2.0
            else:
                high, below, above = gauge, found, above / 2.0
        return low

    def _too_much_l(self, gauge_kpa: float, planned_l: float, ends: CommonEnds) -> float:
        return least_drawn_l(self._down_to(gauge_kpa), self._doubt, ends) - planned_l

    def _down_to(self, gauge_kpa: float) -> Readings:
        source = self._source
        capacity = source.water_capacity_l
        return Readings(source.gauge_kpa, gauge_kpa, 1.0, capacity, source.read_degc, source.cold_degc)
