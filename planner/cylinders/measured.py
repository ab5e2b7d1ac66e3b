"""The flow that a cylinder gives, measured by the fall of its gauge; how far off it may be; how long to watch.

    flow = V x (c(first gauge, first temperature) - c(second gauge, second temperature)) / minutes

V is the water capacity, c the contents of one litre of it by the real gas (`planner.gas.contents`).

**How doubts are put together.** Each input has a limit to either side (`Doubt`).

- The two readings and a change of temperature between them are independent. Each is taken as anything within its limit
  with equal chance, and twice the standard uncertainty counts: 2 / sqrt(3) x the root of the sum of squares, at
  most the plain sum. That covers about 95 cases of 100. Source: Guide to the expression of uncertainty in
  measurement, JCGM 100:2008, sections 4.3.7 and 6.3, from memory.
- The gauge's class, a temperature common to both readings, the water capacity and the time act on the
  whole result the same way. They stand at their worst at once, and the former is added to that.

**Gauge class.** A gauge of class 2.5 may be off by 2.5 % of full scale anywhere on its scale (ISO 5171, from
memory). One gauge takes both readings, and its error is taken as a straight line over the scale. Its part
that is the same at both readings, the zero error, cancels in the fall of pressure; in litres all but the curvature of
the gas law does, and that is kept. Its slope does not cancel: a line from 2.5 % too low at zero to 2.5 % too high at
full scale is within the class, and makes the fall too large by 5 % of itself, whatever the scale. Friction of the
pointer and reading it are apart: they are what the gauge can be read to.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product
from math import fsum, hypot, inf, sqrt
from typing import Final, Literal, NamedTuple

from planner.constants import GAUGE_ERROR_OF_FULL_SCALE, REFERENCE_TEMPERATURE_DEGC
from planner.gas import compact, contents

UNKNOWN_TEMPERATURE_DEGC: Final = 10.0
"""Without any temperature the gas is taken as 21.1 degC, give or take this: indoors and vehicles. By decision."""

UNKNOWN_CHANGE_DEGC: Final = 5.0
"""Without both temperatures the gas may have warmed or cooled by this between the readings. By decision."""

WIDEST_RATIO: Final = 3.0
"""The gauge can tell a flow where the highest is at most three times the lowest, 50 % to each side of the middle.
By decision."""

COVERAGE: Final = 2.0
"""How many standard uncertainties count to each side: about 95 cases of 100."""

_NEAR_MIN: Final = 0.01
_NEAR_KPA: Final = 1.0
"""A search ends with a step of less than this, which leaves a hundredth of it."""

SourceName = Literal[
    "first_reading", "second_reading", "gauge_class", "temperature", "temperature_change", "water_capacity", "time"
]
Compared = Literal["above", "below", "agrees"]


@dataclass(frozen=True, slots=True)
class Readings:
    """Two readings of one gauge on one cylinder of `gas`, kPa gauge, and the minutes between; temperatures if known."""

    from_gauge_kpa: float
    to_gauge_kpa: float
    minutes: float
    water_capacity_l: float
    from_degc: float | None = None
    to_degc: float | None = None
    gas: contents.Gas = "oxygen"

    @property
    def temperatures_degc(self) -> tuple[float, float]:
        """Gas temperature at both readings: as known, else that of the other, else 21.1 degC."""
        first, second = self.from_degc, self.to_degc
        if first is None:
            first = REFERENCE_TEMPERATURE_DEGC if second is None else second
        return first, first if second is None else second


@dataclass(frozen=True, slots=True)
class Doubt:
    """How far off each input may be, to either side unless said otherwise.

    `first_reading_kpa`, `second_reading_kpa`: what the gauge can be read to. `gauge_scale_kpa`: full scale, of which
    the gauge may be off by the share `gauge_class`, anywhere on it. `largest_water_capacity_l`: the most that the
    water capacity can be; the least is the one reckoned with. `minutes`: the time between the readings.
    `temperature_degc` counts where no temperature is known, `temperature_change_degc` where not both are.
    """

    first_reading_kpa: float
    second_reading_kpa: float
    gauge_scale_kpa: float
    largest_water_capacity_l: float
    minutes: float = 0.0
    temperature_degc: float = UNKNOWN_TEMPERATURE_DEGC
    temperature_change_degc: float = UNKNOWN_CHANGE_DEGC
    gauge_class: float = GAUGE_ERROR_OF_FULL_SCALE

    def about(self, readings: Readings) -> Doubt:
        """The same without what the temperatures known of some readings settle."""
        known = (readings.from_degc is not None) + (readings.to_degc is not None)
        return replace(
            self,
            temperature_degc=0.0 if known else self.temperature_degc,
            temperature_change_degc=0.0 if known == 2 else self.temperature_change_degc,
        )


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
    drawn = _lowest_and_highest_l(readings, doubt)
    lowest, highest = _rates(readings, doubt, drawn)
    _, same = _rates(readings, replace(doubt, largest_water_capacity_l=readings.water_capacity_l), drawn)
    first, second = readings.temperatures_degc
    per_litre = _per_litre(readings.from_gauge_kpa, first, readings.gas)
    per_litre -= _per_litre(readings.to_gauge_kpa, second, readings.gas)
    litres = per_litre * readings.water_capacity_l
    return Measured(
        readings=readings,
        doubt=doubt,
        litres=litres,
        flow_l_per_min=litres / readings.minutes,
        lowest_l_per_min=lowest,
        highest_l_per_min=highest,
        highest_same_capacity_l_per_min=same,
    )


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
        foreseen = replace(readings, to_gauge_kpa=gauge, minutes=minutes)
        return _tells(*_range(foreseen, doubt))

    early = doubt.minutes + _NEAR_MIN
    if latest <= early or not told(latest):
        return None
    late = latest
    while late - early > _NEAR_MIN:
        middle = (early + late) / 2.0
        if told(middle):
            late = middle
        else:
            early = middle
    return late


def _tells(lowest_l_per_min: float, highest_l_per_min: float) -> bool:
    return lowest_l_per_min > 0.0 and highest_l_per_min <= WIDEST_RATIO * lowest_l_per_min


def _sources(readings: Readings, doubt: Doubt) -> tuple[Source, ...]:
    """What each doubt does with all others set aside."""
    none = Doubt(0.0, 0.0, doubt.gauge_scale_kpa, readings.water_capacity_l, 0.0, 0.0, 0.0, 0.0)
    alone: dict[SourceName, Doubt] = {
        "first_reading": replace(none, first_reading_kpa=doubt.first_reading_kpa),
        "second_reading": replace(none, second_reading_kpa=doubt.second_reading_kpa),
        "gauge_class": replace(none, gauge_class=doubt.gauge_class),
        "temperature": replace(none, temperature_degc=doubt.temperature_degc),
        "temperature_change": replace(none, temperature_change_degc=doubt.temperature_change_degc),
        "water_capacity": replace(none, largest_water_capacity_l=doubt.largest_water_capacity_l),
        "time": replace(none, minutes=doubt.minutes),
    }
    return tuple(Source(name, *_range(readings, one), known=one == none) for name, one in alone.items())


def _range(readings: Readings, doubt: Doubt) -> tuple[float, float]:
    """The lowest and the highest flow, L/min; how doubts are put together stands at the head of this module."""
    return _rates(readings, doubt, _lowest_and_highest_l(readings, doubt))


def _lowest_and_highest_l(readings: Readings, doubt: Doubt) -> tuple[float, float]:
    """Litres drawn for each litre of water capacity, the fewest and the most, all but capacity and time in doubt."""
    found = [_drawn(readings, doubt, ends) for ends in _common_ends(doubt)]
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


class CommonEnds(NamedTuple):
    """What acts on both readings alike, each at one end of its doubt: degC, and shares of the gauge's full scale."""

    common_degc: float
    at_zero: float
    at_full: float


def worst_ends(readings: Readings, doubt: Doubt, near: CommonEnds | None = None) -> CommonEnds:
    """The ends of what is common to both readings at which the fewest litres have left.

    `near`: those of other readings; then these, or such as differ from them in one.
    """
    found = _common_ends(doubt)
    if near is not None:
        found = [each for each in found if sum(one != other for one, other in zip(each, near, strict=True)) <= 1]
    return min(found, key=lambda ends: _drawn(readings, doubt, ends).fewest_l)


def explained_down_to_kpa(readings: Readings, doubt: Doubt, litres: float, ends: CommonEnds) -> float | None:
    """The second gauge below which more than so many litres have left, kPa; None where that is no gauge.

    `readings.to_gauge_kpa`: a gauge near it. How far off what is independent puts the litres changes little with the
    gauge, a hundredth at most, so that a few steps do. What `Doubt.about` does about temperatures is for the caller.
    """
    while True:
        drawn = _drawn(readings, doubt, ends)
        left = drawn.first_l - drawn.spread_l - litres / readings.water_capacity_l
        if left <= 0.0:
            return None
        degc = _known_degc(readings.temperatures_degc[1] + ends.common_degc)
        true_kpa = contents.gauge_kpa(left, degc, 1.0, readings.gas)
        gauge_kpa = (true_kpa + doubt.gauge_scale_kpa * ends.at_zero) / (1.0 - (ends.at_full - ends.at_zero))
        if gauge_kpa <= 0.0:
            return None
        if abs(gauge_kpa - readings.to_gauge_kpa) <= _NEAR_KPA:
            return gauge_kpa
        readings = replace(readings, to_gauge_kpa=gauge_kpa)


def _common_ends(doubt: Doubt) -> list[CommonEnds]:
    classes = _ends(doubt.gauge_class)
    return [CommonEnds(*ends) for ends in product(_ends(doubt.temperature_degc), classes, classes)]


class _Drawn(NamedTuple):
    """Litres for each litre of capacity at both readings, and how far off what is independent puts those between."""

    first_l: float
    second_l: float
    spread_l: float

    @property
    def fewest_l(self) -> float:
        return self.first_l - self.second_l - self.spread_l

    @property
    def most_l(self) -> float:
        return self.first_l - self.second_l + self.spread_l


def _drawn(readings: Readings, doubt: Doubt, ends: CommonEnds) -> _Drawn:
    """What was drawn. Each reading is off by its own kPa, and the second temperature by a change of its own besides."""
    first_degc, second_degc = readings.temperatures_degc
    first_degc, second_degc = first_degc + ends.common_degc, second_degc + ends.common_degc

    def held(gauge_kpa: float, degc: float) -> float:
        true_kpa = gauge_kpa - doubt.gauge_scale_kpa * ends.at_zero - gauge_kpa * (ends.at_full - ends.at_zero)
        return _per_litre(true_kpa, degc, readings.gas)

    first, second = held(readings.from_gauge_kpa, first_degc), held(readings.to_gauge_kpa, second_degc)
    apart = (
        max([abs(held(readings.from_gauge_kpa + end, first_degc) - first) for end in _ends(doubt.first_reading_kpa)]),
        max([abs(held(readings.to_gauge_kpa + end, second_degc) - second) for end in _ends(doubt.second_reading_kpa)]),
        max(
            [
                abs(held(readings.to_gauge_kpa, second_degc + end) - second)
                for end in _ends(doubt.temperature_change_degc)
            ]
        ),
    )
    return _Drawn(first, second, min(fsum(apart), COVERAGE / sqrt(3.0) * hypot(*apart)))


def _ends(doubt: float) -> tuple[float, ...]:
    return (-doubt, doubt) if doubt else (0.0,)


@lru_cache(maxsize=4096)
def _per_litre(gauge_kpa: float, temperature_degc: float, gas: contents.Gas) -> float:
    """Litres of gas for each litre of water capacity; gauge and temperature are kept within what is known."""
    gauge = min(max(gauge_kpa, 0.0), contents.HIGHEST_GAUGE_KPA)
    return contents.contents_l(gauge, _known_degc(temperature_degc), 1.0, gas)


def _known_degc(temperature_degc: float) -> float:
    return min(max(temperature_degc, compact.LOWEST_TEMPERATURE_DEGC), compact.HIGHEST_TEMPERATURE_DEGC)
