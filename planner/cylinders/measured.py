"""The flow that a cylinder gives, measured by the fall of its gauge; how far off it may be; how long to watch.

    flow = V x (c(first gauge, first temperature) - c(second gauge, second temperature)) / minutes

V is the water capacity, c the contents of one litre of it by the real gas (`planner.gas.contents`).

How far off each may be, and how doubts are put together: `planner.cylinders.fall`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import inf
from typing import Final, Literal

from planner.cylinders.fall import Doubt, Readings, common_ends, drawn, per_litre
from planner.cylinders.halving import least_by_search
from planner.gas import contents

WIDEST_RATIO: Final = 3.0
"""The gauge can tell a flow where the highest is at most three times the lowest, 50 % to each side of the middle.
By decision."""

_NEAR_MIN: Final = 0.01
"""A search for minutes ends with a step of less than this."""

SourceName = Literal[
    "first_reading", "second_reading", "gauge_class", "temperature", "temperature_change", "water_capacity", "time"
]
Compared = Literal["above", "below", "agrees"]


@dataclass(frozen=True, slots=True)
class Source:
    """What one doubt does alone: the lowest and the highest flow, L/min. `known`: the input is not in doubt."""

    name: SourceName
    lowest_l_per_min: float
    highest_l_per_min: float
    known: bool


@dataclass(frozen=True, slots=True)
class Measured:
    """A measured flow and its range, L/min; `litres` is what left the cylinder, as its capacity is reckoned.

    `highest_same_capacity_l_per_min` is the highest flow if the water capacity is the one reckoned with. It goes
    with the planner's litres of that cylinder: flow and litres left grow together with the capacity, so that
    the minutes left do not depend on it.
    """

    readings: Readings
    doubt: Doubt
    litres: float
    flow_l_per_min: float
    lowest_l_per_min: float
    highest_l_per_min: float
    highest_same_capacity_l_per_min: float

    @property
    def sources(self) -> tuple[Source, ...]:
        """What each doubt does alone."""
        return _sources(self.readings, self.doubt)

    @property
    def tells(self) -> bool:
        """True where the gauge can tell the flow: the range leaves out zero and is narrow enough."""
        return _tells(self.lowest_l_per_min, self.highest_l_per_min)

    def compared_with(self, planned_l_per_min: float) -> Compared:
        """Above or below a planned flow, if the whole range is; else the two agree as far as the gauge can tell."""
        if self.lowest_l_per_min > planned_l_per_min:
            return "above"
        return "below" if self.highest_l_per_min < planned_l_per_min else "agrees"


@lru_cache(maxsize=4096)
def measure(readings: Readings, doubt: Doubt) -> Measured:
    """The flow between two readings, with its range.

    Units stand in the names. The minutes are above 0 and above their doubt, the largest water capacity is not below
    the one reckoned with. A flow comes out at or below zero where the gauge has not fallen; the caller judges it.
    Raises `ValueError` for other minutes or capacities, and where gauges or temperatures are outside what
    `planner.gas.contents` knows.
    """
    if not 0.0 <= doubt.minutes < readings.minutes < inf:
        raise ValueError(f"{readings.minutes} min, give or take {doubt.minutes} min, is no time to measure over")
    if not 0.0 < readings.water_capacity_l <= doubt.largest_water_capacity_l < inf:
        raise ValueError(
            f"water capacity {readings.water_capacity_l} L is not above 0 and up to the largest, "
            f"{doubt.largest_water_capacity_l} L"
        )
    doubt = doubt.about(readings)
    drawn_l = _lowest_and_highest_l(readings, doubt)
    lowest, highest = _rates(readings, doubt, drawn_l)
    _, same = _rates(readings, doubt._replace(largest_water_capacity_l=readings.water_capacity_l), drawn_l)
    first, second = readings.temperatures_degc
    left = per_litre(readings.from_gauge_kpa, first, readings.gas)
    left -= per_litre(readings.to_gauge_kpa, second, readings.gas)
    litres = left * readings.water_capacity_l
    return Measured(
        readings=readings,
        doubt=doubt,
        litres=litres,
        flow_l_per_min=litres / readings.minutes,
        lowest_l_per_min=lowest,
        highest_l_per_min=highest,
        highest_same_capacity_l_per_min=same,
    )


def highest_l_per_min(readings: Readings, doubt: Doubt, enough_l_per_min: float) -> float:
    """The highest flow that `measure` gives, or the first found on the way to it that is as high as is enough."""
    doubt = doubt.about(readings)
    highest = -inf
    for ends in common_ends(doubt):
        most_l = drawn(readings, doubt, ends).most_l
        highest = max(highest, *_rates(readings, doubt, (most_l, most_l)))
        if highest >= enough_l_per_min:
            break
    return highest


def watch_min(readings: Readings, doubt: Doubt, flow_l_per_min: float, until_kpa: float) -> float | None:
    """Minutes from the first reading after which the gauge could tell a steady flow; None where it never could.

    `flow_l_per_min`: L/min, above 0. `until_kpa`: the gauge at which the cylinder is changed, kPa. The second gauge is
    foreseen with the largest water capacity, on which it falls slowest. Raises `ValueError` for a flow not above 0.
    """
    if not 0.0 < flow_l_per_min < inf:
        raise ValueError(f"flow {flow_l_per_min} L/min is not a number above 0 L/min")
    doubt = doubt.about(readings)
    first, second = readings.temperatures_degc
    capacity = doubt.largest_water_capacity_l
    full = contents.contents_l(readings.from_gauge_kpa, first, capacity, readings.gas)
    latest = (full - contents.contents_l(until_kpa, second, capacity, readings.gas)) / flow_l_per_min

    def told(minutes: float) -> bool:
        left = max(0.0, full - flow_l_per_min * minutes)
        gauge = contents.gauge_kpa(left, second, capacity, readings.gas)
        foreseen = readings._replace(to_gauge_kpa=gauge, minutes=minutes)
        return _tells(*_range(foreseen, doubt))

    early = doubt.minutes + _NEAR_MIN
    return None if latest <= early else least_by_search(told, early, latest, fine=_NEAR_MIN)


def _tells(lowest_l_per_min: float, highest_l_per_min: float) -> bool:
    return lowest_l_per_min > 0.0 and highest_l_per_min <= WIDEST_RATIO * lowest_l_per_min


def _sources(readings: Readings, doubt: Doubt) -> tuple[Source, ...]:
    """What each doubt does with all others set aside."""
    none = Doubt(0.0, 0.0, doubt.gauge_scale_kpa, readings.water_capacity_l, 0.0, 0.0, 0.0, 0.0)
    alone: dict[SourceName, Doubt] = {
        "first_reading": none._replace(first_reading_kpa=doubt.first_reading_kpa),
        "second_reading": none._replace(second_reading_kpa=doubt.second_reading_kpa),
        "gauge_class": none._replace(gauge_class=doubt.gauge_class),
        "temperature": none._replace(temperature_degc=doubt.temperature_degc),
        "temperature_change": none._replace(temperature_change_degc=doubt.temperature_change_degc),
        "water_capacity": none._replace(largest_water_capacity_l=doubt.largest_water_capacity_l),
        "time": none._replace(minutes=doubt.minutes),
    }
    return tuple(Source(name, *_range(readings, one), known=one == none) for name, one in alone.items())


def _range(readings: Readings, doubt: Doubt) -> tuple[float, float]:
    """The lowest and the highest flow, L/min; how doubts are put together stands at the head of this module."""
    return _rates(readings, doubt, _lowest_and_highest_l(readings, doubt))


def _lowest_and_highest_l(readings: Readings, doubt: Doubt) -> tuple[float, float]:
    """Litres drawn for each litre of water capacity, the fewest and the most, all but capacity and time in doubt."""
    found = [drawn(readings, doubt, ends) for ends in common_ends(doubt)]
    return min([one.fewest_l for one in found]), max([one.most_l for one in found])


def _rates(readings: Readings, doubt: Doubt, drawn_l: tuple[float, float]) -> tuple[float, float]:
    """The lowest and the highest flow, L/min, from litres drawn for each litre of capacity."""
    rates = [
        litres * capacity / minutes
        for litres in drawn_l
        for capacity in (readings.water_capacity_l, doubt.largest_water_capacity_l)
        for minutes in (readings.minutes - doubt.minutes, readings.minutes + doubt.minutes)
    ]
    return min(rates), max(rates)
