"""What fell out of a cylinder between two readings of its gauge, and how far off that may be.

For each litre of water capacity c(first gauge, first temperature) - c(second gauge, second temperature) litres have
left, c being the contents by the real gas (`planner.gas.contents`).

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

from collections.abc import Iterator
from functools import lru_cache
from itertools import product
from math import fsum, hypot, sqrt
from typing import Final, NamedTuple

from planner.constants import GAUGE_ERROR_OF_FULL_SCALE, REFERENCE_TEMPERATURE_DEGC
from planner.gas import compact, contents

UNKNOWN_TEMPERATURE_DEGC: Final = 10.0
"""Without any temperature the gas is taken as 21.1 degC, give or take this: indoors and vehicles. By decision."""

UNKNOWN_CHANGE_DEGC: Final = 5.0
"""Without both temperatures the gas may have warmed or cooled by this between the readings. By decision."""

COVERAGE: Final = 2.0
"""How many standard uncertainties count to each side: about 95 cases of 100."""


class Readings(NamedTuple):
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


class Doubt(NamedTuple):
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
        return self._replace(
            temperature_degc=0.0 if known else self.temperature_degc,
            temperature_change_degc=0.0 if known == 2 else self.temperature_change_degc,
        )


class CommonEnds(NamedTuple):
    """What acts on both readings alike, each at one end of its doubt: degC, and shares of the gauge's full scale."""

    common_degc: float
    at_zero: float
    at_full: float


class Seen(NamedTuple):
    """What one reading says: litres for each litre of capacity, and how far off each doubt of its own puts them."""

    litres: float
    apart: tuple[float, ...]


class Drawn(NamedTuple):
    """Litres for each litre of capacity at both readings, and how far off what is independent puts those between."""

    first_l: float
    second_l: float
    spread_l: float

    @property
    def fewest_l(self) -> float:
        """The fewest that may have left between the two."""
        return self.first_l - self.second_l - self.spread_l

    @property
    def most_l(self) -> float:
        """The most that may have left between the two."""
        return self.first_l - self.second_l + self.spread_l


def common_ends(doubt: Doubt) -> Iterator[CommonEnds]:
    """Every set of ends of what is common to both readings."""
    classes = _ends(doubt.gauge_class)
    return map(CommonEnds._make, product(_ends(doubt.temperature_degc), classes, classes))


def drawn(readings: Readings, doubt: Doubt, ends: CommonEnds) -> Drawn:
    """What has left. The second temperature is off by a change of its own besides."""
    gauge = GaugeOff(doubt, ends, readings.gas)
    first_degc, second_degc = readings.temperatures_degc
    return between(
        gauge.seen(readings.from_gauge_kpa, first_degc, doubt.first_reading_kpa),
        gauge.seen(readings.to_gauge_kpa, second_degc, doubt.second_reading_kpa, doubt.temperature_change_degc),
    )


def between(first: Seen, second: Seen) -> Drawn:
    """What has left between two readings, at the same ends of what is common to both."""
    apart = (*first.apart, *second.apart)
    return Drawn(first.litres, second.litres, min(fsum(apart), COVERAGE / sqrt(3.0) * hypot(*apart)))


class GaugeOff:
    """A gauge that is off by its class in one way, on a gas whose temperature is off by what both readings share."""

    def __init__(self, doubt: Doubt, ends: CommonEnds, gas: contents.Gas) -> None:
        self._at_zero_kpa = doubt.gauge_scale_kpa * ends.at_zero
        self._slope = ends.at_full - ends.at_zero
        self._common_degc = ends.common_degc
        self._gas = gas

    def seen(self, gauge_kpa: float, degc: float, read_to_kpa: float, change_degc: float = 0.0) -> Seen:
        """What a reading says, with how far off it may be read, and how far the temperature may have changed."""
        degc += self._common_degc
        litres = self._litres(gauge_kpa, degc)
        read = max([abs(self._litres(gauge_kpa + end, degc) - litres) for end in _ends(read_to_kpa)])
        changed = max([abs(self._litres(gauge_kpa, degc + end) - litres) for end in _worse_ends(degc, change_degc)])
        return Seen(litres, (read, changed))

    def shown_kpa(self, litres: float, degc: float) -> float:
        """The reading that says so many litres for each litre of capacity, kPa."""
        true_kpa = contents.gauge_kpa(litres, known_degc(degc + self._common_degc), 1.0, self._gas)
        return (true_kpa + self._at_zero_kpa) / (1.0 - self._slope)

    def _litres(self, gauge_kpa: float, degc: float) -> float:
        """Litres for each litre of capacity."""
        return per_litre(gauge_kpa - self._at_zero_kpa - gauge_kpa * self._slope, degc, self._gas)


@lru_cache(maxsize=4096)
def per_litre(gauge_kpa: float, temperature_degc: float, gas: contents.Gas) -> float:
    """Litres of gas for each litre of water capacity; gauge and temperature are kept within what is known."""
    gauge = min(max(gauge_kpa, 0.0), contents.HIGHEST_GAUGE_KPA)
    return contents.per_litre(gas, gauge, known_degc(temperature_degc))


def known_degc(temperature_degc: float) -> float:
    """A temperature kept within what is known of the gas, degC."""
    return min(max(temperature_degc, compact.LOWEST_TEMPERATURE_DEGC), compact.HIGHEST_TEMPERATURE_DEGC)


def _worse_ends(degc: float, change_degc: float) -> tuple[float, ...]:
    """The ends of a doubt about a temperature that put the litres farthest off: the colder one alone.

    At one gauge litres fall ever more slowly as the gas warms. Where the colder one is beyond what is known, both.
    """
    colder_known = change_degc and degc - change_degc >= compact.LOWEST_TEMPERATURE_DEGC
    return (-change_degc,) if colder_known else _ends(change_degc)


def _ends(doubt: float) -> tuple[float, ...]:
    return (-doubt, doubt) if doubt else (0.0,)
