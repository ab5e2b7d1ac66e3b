"""How fast a supply may have been drawn on before its last reading, from every earlier reading to that one.

Between readings the flow is constant, and it may change at each. A reading is the truth within half a division, at its
temperature. So from each earlier reading to the last one

    fall = sum over the cylinders of contents(first gauge) - contents(last gauge), give or take half a division each
    excess = fall / time between - (what was planned or logged, whichever is more) / time between

with a lower and an upper end. The longest of them tells little of what began on the way, the shortest is the least
exact: all of them count. What began after the last reading but one cannot be seen. An excess that only the last
interval shows may have begun within it: from half-way on, at twice the rate (by decision).

What was planned or logged for a time is itself known within limits: a leg may have ended anywhere between the last
reading in it and the first one in the next, and a flow or a setting that was written down may have been so since the
entry before. The lower end of an excess takes the most of these, the upper end the least.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import fsum
from typing import Final, NamedTuple

from planner.afterwards.gauged import Gauged
from planner.afterwards.logbook import Logbook
from planner.afterwards.schedule import read_onwards, written_earlier, written_flows
from planner.constants import REFERENCE_TEMPERATURE_DEGC, SAME_L
from planner.cylinders.gauge_doubt import TO_THE_MINUTE_MIN, Reading
from planner.flow.flows import Flow, between, flows, litres
from planner.gas import contents
from planner.model import Leg, SupplyGas

SHORTEST_MIN: Final = 5.0
"""Over less time than this one division is a flow of several litres a minute: the upper end of so short a fall counts
only where nothing longer is known, or where its lower end is above plan (by decision)."""

LONG_MIN: Final = 10.0
"""A fall over so many minutes is measured well enough to act on its upper end (by decision)."""


@dataclass(frozen=True, slots=True)
class Fall:
    """From one reading of a supply to its last: litres that left it, at least and at most, and what was expected.

    `expected_l` is what was planned or logged for that time, whichever is more, from `least_expected_l` to
    `most_expected_l` as far as the log tells. `doubt_min` is how far off the time between may be, to either side.
    `new`: nothing before this fall showed an excess.
    """

    from_min: float
    to_min: float
    lowest_l: float
    highest_l: float
    expected_l: float
    doubt_min: float
    least_expected_l: float
    most_expected_l: float
    new: bool = False

    @property
    def minutes(self) -> float:
        """The time between."""
        return self.to_min - self.from_min

    @property
    def least_excess_l_per_min(self) -> float:
        """The least by which it may have flowed above what was expected; below 0 where it may have flowed less."""
        return self.lowest_l / (self.minutes + self.doubt_min) - self.most_expected_l / self.minutes

    @property
    def most_excess_l_per_min(self) -> float:
        """The most by which it may have flowed above what was expected."""
        most = self.highest_l / (self.minutes - self.doubt_min) - self.least_expected_l / self.minutes
        return 2.0 * most if self.new and self.exceeds else most

    @property
    def upper_excess_l_per_min(self) -> float:
        """The same over the time as it was written down: what is acted on."""
        return (self.highest_l - self.expected_l) / self.minutes

    @property
    def exceeds(self) -> bool:
        """True where more left than was planned and logged, whatever the readings were off by."""
        return self.least_excess_l_per_min * self.minutes > SAME_L


class Expected(NamedTuple):
    """The flow that was to leave a supply: as planned and as logged, as far as the log tells when each began.

    `planned`: with the legs as assumed, and with the last leg begun as late as the log allows. `written`: from when it
    was written down, from the entry before, and going on over later legs; empty where nothing was.
    """

    planned: tuple[Flow, ...]
    written: tuple[Flow, ...] = ()

    def litres_between(self, start: float, end: float) -> tuple[float, float, float]:
        """Litres between two minutes: as assumed, the least and the most."""
        planned = [litres(between(flow, start, end)) for flow in self.planned]
        written = [litres(between(flow, start, end)) for flow in self.written]
        logged = written[0] if written else 0.0
        return max(planned[0], logged), max(min(planned), logged), max(*planned, *written, 0.0)


def every_fall(
    legs: Sequence[Leg], latest: Sequence[Leg], log: Logbook, known: Mapping[str, Gauged]
) -> dict[str, list[Fall]]:
    """The falls of each supply. `legs`: as they went; `latest`: the same, the last begun as late as the log allows."""
    expected = expected_of(legs, latest, log)
    return {name: falls_of(whole, expected(name)) for name, whole in known.items()}


def expected_of(legs: Sequence[Leg], latest: Sequence[Leg], log: Logbook) -> Callable[[str], Expected]:
    """What was to leave a supply, by its name, as far as the log tells; legs as in `every_fall`."""
    planned, by_latest = flows(legs), flows(latest)
    written = written_flows(legs, log.entries) if log.tells_flows else {}
    sooner = written_earlier(log.entries)
    early = written_flows(legs, sooner) if written else {}

    def expected(name: str) -> Expected:
        logged = written.get(name)
        if logged is None:
            return Expected((planned.get(name, ()), by_latest.get(name, ())))
        onwards = read_onwards(planned.get(name, ()), name, log.entries, sooner)
        return Expected((planned.get(name, ()), by_latest.get(name, ())), (logged, early.get(name, ()), onwards))

    return expected


def idle_losses(falls: Mapping[str, Sequence[Fall]]) -> frozenset[str]:
    """Supplies that lost gas while nothing was to flow."""
    return frozenset(name for name, each in falls.items() if any(f.exceeds and f.expected_l == 0.0 for f in each))


def falls_of(whole: Gauged, expected: Expected) -> list[Fall]:
    """Every fall of a supply that ends at the last reading to which one is known, the longest first."""
    minutes = whole.minutes
    for place in range(len(minutes) - 1, 0, -1):
        end, since = minutes[place], whole.known_since[place]
        known = (start for start, until in zip(minutes[:place], whole.known_until, strict=False) if until >= end)
        starts = [start for start in known if start >= since]
        found = [fall for start in starts if (fall := _fall(whole, start, end, expected)) is not None]
        if found:
            return [*found[:-1], _whether_new(whole, found[-1], minutes, expected)]
    return []


def _whether_new(whole: Gauged, last: Fall, minutes: Sequence[float], expected: Expected) -> Fall:
    """The shortest fall, marked where the one before it showed no excess, or there is none."""
    place = bisect_left(minutes, last.from_min)
    for start in reversed(minutes[:place]):
        before = _fall(whole, start, last.from_min, expected)
        if before is not None:
            return replace(last, new=not before.exceeds)
    return replace(last, new=True)


def act_excess_l_per_min(falls: list[Fall]) -> float:
    """The most by which a supply that was seen to flow above plan may do so, L/min; 0 where none was seen.

    Shorter falls are left out beside longer ones, for their upper end is far above what flows.
    """
    long = [fall for fall in falls if fall.minutes >= LONG_MIN] or falls[:1]
    return max([fall.upper_excess_l_per_min for fall in long if fall.exceeds], default=0.0)


def most_excess_l_per_min(falls: list[Fall]) -> float:
    """The most by which a supply may flow above plan by all of its falls, L/min; 0 without any."""
    long = [fall for fall in falls if fall.minutes >= SHORTEST_MIN or fall.exceeds] or falls[:1]
    return max([0.0, *(fall.most_excess_l_per_min for fall in long)])


def _fall(whole: Gauged, start: float, end: float, expected: Expected) -> Fall | None:
    """The fall between two minutes; None where a gauge is not known at one of them."""
    lowest, highest, doubt = [], [], 0.0
    for label in whole.involved(start, end):
        ends = whole.ends(label, start, end)
        if ends is None:
            return None
        first, second = ends
        cylinders = whole.cylinders(label)
        capacity, gas = fsum(cylinder.water_capacity_l for cylinder in cylinders), cylinders[0].counted_as
        lowest.append(max(0.0, (_least(first, gas) - _most(second, gas)) * capacity))
        highest.append((_most(first, gas) - _least(second, gas)) * capacity)
        doubt = max(doubt, TO_THE_MINUTE_MIN * (first.to_the_minute + second.to_the_minute))
    if not highest:
        return None
    assumed, least, most = expected.litres_between(start, end)
    return Fall(start, end, fsum(lowest), fsum(highest), assumed, min(doubt, (end - start) / 2.0), least, most)


def _least(reading: Reading, gas: SupplyGas) -> float:
    """The least that a cylinder held at a reading, litres for each litre of water capacity."""
    gauge = max(0.0, reading.gauge_kpa - reading.read_to_kpa)
    return contents.contents_l(gauge, max(_degc(reading)), 1.0, gas)


def _most(reading: Reading, gas: SupplyGas) -> float:
    gauge = min(contents.HIGHEST_GAUGE_KPA, reading.gauge_kpa + reading.read_to_kpa)
    return contents.contents_l(gauge, min(_degc(reading)), 1.0, gas)


def _degc(reading: Reading) -> tuple[float, float]:
    return reading.degc_range or (REFERENCE_TEMPERATURE_DEGC, REFERENCE_TEMPERATURE_DEGC)
