"""The gauge below which more has left a cylinder than the plan and every doubt about its gauge can explain.

A gauge falls by what is drawn and by cold; it is read to half a division, and it may be out by its class. These are the
doubts of `planner.cylinders.fall`, with which a closed trip is compared. Below the leak gauge even all of them
together do not make the fall since departure as small as what the plan draws: something leaks, or a setting is not the
planned one. Above it nothing is said: a slow leak can hide there, and the least gauge stands guard.

The gas is taken as warm as it may have been at departure and as cold as it may be now. A time on paper is a whole
minute, and so is that of departure: one minute more is allowed for.
"""

from __future__ import annotations

from typing import Final

from planner.cylinders.fall import (
    UNKNOWN_CHANGE_DEGC,
    CommonEnds,
    Doubt,
    GaugeOff,
    Seen,
    between,
)
from planner.cylinders.gauge_doubt import TO_THE_MINUTE_MIN, gauge_scale_kpa, half_division_kpa
from planner.cylinders.onhand import OnHand
from planner.cylinders.stock import Held
from planner.model import Cylinder, Policy
from planner.results import LeakGauge

LATE_MIN: Final = 10.0
"""For so many minutes after its own the limit holds, less what each minute takes off. By decision."""

_NEAR_KPA: Final = 50.0
"""A search ends with a step of less than this, which leaves some hundredth of it: a tenth of a psi."""


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
        cooling = source.read_degc - source.cold_degc
        self._source = source
        self._read_to_kpa = half_division_kpa(policy.pressure_unit)
        self._doubt = Doubt(
            first_reading_kpa=self._read_to_kpa,
            second_reading_kpa=self._read_to_kpa,
            gauge_scale_kpa=gauge_scale_kpa(cylinder, policy),
            largest_water_capacity_l=source.water_capacity_l,
            temperature_change_degc=max(0.0, UNKNOWN_CHANGE_DEGC - cooling),
        )
        self._worst = CommonEnds(self._doubt.temperature_degc, -self._doubt.gauge_class, self._doubt.gauge_class)
        self._first: dict[CommonEnds, tuple[GaugeOff, Seen]] = {}
        self._known: dict[float, float | None] = {}

    def explained_down_to_kpa(self, planned_l: float) -> float | None:
        """The gauge below which more has left than planned; None where that is no gauge.

        The end of a leg and the start of the next ask for the same, and are answered once.
        """
        if planned_l not in self._known:
            self._known[planned_l] = self._searched_kpa(planned_l)
        return self._known[planned_l]

    def _searched_kpa(self, planned_l: float) -> float | None:
        """That gauge, not yet known.

        It is the lowest of those of all ends of what is common. The worst ends change little with the gauge: those of
        the gauge before come first (at departure warm gas, and a gauge that falls too far), and then such as differ
        from them in one, where these explain more. Each search begins at the planned gauge, so that the same litres
        have the same limit whatever was asked before.
        """
        source = self._source
        planned_kpa = source.gauge_after(planned_l)
        per_litre = planned_l / source.water_capacity_l
        worst = self._worst
        found = self._limit_kpa(planned_kpa, per_litre, worst)
        while found is not None:
            fewest_l, other = min((self._fewest_l(found, ends), ends) for ends in _next_to(worst))
            lower = self._limit_kpa(planned_kpa, per_litre, other) if fewest_l < per_litre else found
            if lower is not None and lower >= found:
                break
            found, worst = lower, other
        self._worst = worst
        return found

    def _fewest_l(self, gauge_kpa: float, ends: CommonEnds) -> float:
        """The fewest litres for each litre of capacity that have left down to a gauge."""
        return between(self._off(ends)[1], self._now(gauge_kpa, ends)).fewest_l

    def _limit_kpa(self, near_kpa: float, per_litre: float, ends: CommonEnds) -> float | None:
        """The gauge below which more has left than so many litres for each litre of capacity, at some common ends.

        `near_kpa`: a gauge near it. How far off what is independent puts the litres changes little with the gauge, a
        hundredth at most, so that a few steps do.
        """
        gauge, first = self._off(ends)
        while True:
            left = first.litres - between(first, self._now(near_kpa, ends)).spread_l - per_litre
            gauge_kpa = gauge.shown_kpa(left, self._source.cold_degc) if left > 0.0 else 0.0
            if gauge_kpa <= 0.0:
                return None
            if abs(gauge_kpa - near_kpa) <= _NEAR_KPA:
                return gauge_kpa
            near_kpa = gauge_kpa

    def _now(self, gauge_kpa: float, ends: CommonEnds) -> Seen:
        """What a gauge says now, of gas that may be as cold as it gets."""
        change_degc = self._doubt.temperature_change_degc
        return self._off(ends)[0].seen(gauge_kpa, self._source.cold_degc, self._read_to_kpa, change_degc)

    def _off(self, ends: CommonEnds) -> tuple[GaugeOff, Seen]:
        """A gauge that is off so, and what it said at departure."""
        if ends not in self._first:
            gauge, source = GaugeOff(self._doubt, ends, self._source.gas), self._source
            self._first[ends] = gauge, gauge.seen(source.gauge_kpa, source.read_degc, self._read_to_kpa)
        return self._first[ends]


def _next_to(ends: CommonEnds) -> list[CommonEnds]:
    """The sets of ends that differ from one in a single end."""
    return [ends._replace(**{name: -end}) for name, end in ends._asdict().items()]
