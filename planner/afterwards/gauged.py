"""A supply whose cylinders have gauges: what is known to have stood on each of them at a minute, and between two.

A cylinder that was not in use kept its gauge. One that was filled on the way is another cylinder from then on: nothing
is measured over its filling.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass, field
from functools import cached_property
from math import inf
from typing import NamedTuple

from planner.afterwards.gauges_read import cylinders_of, measured_between
from planner.constants import MINUTE_NOISE
from planner.cylinders.gauge_doubt import Reading
from planner.cylinders.measured import Measured
from planner.model import Cylinder, Policy, Supply


@dataclass(frozen=True, slots=True)
class InUse:
    """A cylinder in use: from some minute between `from_low` and `from_high` to one between `to_low` and `to_high`."""

    label: str
    from_low: float
    from_high: float
    to_low: float
    to_high: float

    def may_overlap(self, start: float, end: float) -> bool:
        """True where it may have been in use at some time between two minutes."""
        return self.from_low < end - MINUTE_NOISE and self.to_high > start + MINUTE_NOISE


class _Turns(NamedTuple):
    """When one cylinder was in use, turn after turn: its places among the turns of its supply, and the widest times."""

    places: list[int]
    from_low: list[float]
    to_high: list[float]

    def next_after(self, minute: float) -> int | None:
        """The place of the first turn that may go on after a minute."""
        turn = bisect_right(self.to_high, minute + MINUTE_NOISE)
        return self.places[turn] if turn < len(self.places) else None

    def begins_after(self, minute: float) -> float:
        """From when on it may be in use after a minute; inf where it is not."""
        turn = bisect_right(self.to_high, minute + MINUTE_NOISE)
        return self.from_low[turn] if turn < len(self.places) else inf

    def ends_before(self, minute: float) -> float:
        """Until when it may have been in use before a minute; -inf where it was not."""
        turn = bisect_left(self.from_low, minute - MINUTE_NOISE)
        return self.to_high[turn - 1] if turn else -inf


_NO_TURNS = _Turns([], [], [])


@dataclass(frozen=True)
class Gauged:
    """A supply whose cylinders have gauges: what was read of each, in the order of time, and which was in use.

    Asked of every pair of minutes, so that no answer goes through all readings or all turns.
    """

    supply: Supply
    policy: Policy
    readings: dict[str, list[Reading]]
    in_use: tuple[InUse, ...] = ()
    unlogged: tuple[str, ...] = field(default=())
    """Cylinders whose gauge fell although the log has another one in use."""

    def cylinders(self, label: str) -> tuple[Cylinder, ...]:
        """The cylinder of a label; all of a manifold."""
        return cylinders_of(self.supply, label)

    @cached_property
    def minutes(self) -> list[float]:
        """Every minute at which something was read, in order."""
        return sorted({reading.minute for found in self.readings.values() for reading in found})

    @cached_property
    def _turns(self) -> dict[str, _Turns]:
        found: dict[str, _Turns] = {}
        for place, turn in enumerate(self.in_use):
            of_label = found.setdefault(turn.label, _Turns([], [], []))
            of_label.places.append(place)
            of_label.from_low.append(turn.from_low)
            of_label.to_high.append(turn.to_high)
        return found

    @cached_property
    def _fillings(self) -> dict[str, list[float]]:
        filled = {label: [each.minute for each in found if each.refilled] for label, found in self.readings.items()}
        return {label: minutes for label, minutes in filled.items() if minutes}

    @cached_property
    def known_until(self) -> list[float]:
        """For each minute, how far on every gauge stays known of what may be in use from it."""
        return [min((self._until(label, start) for label in self._turns), default=-inf) for start in self.minutes]

    @cached_property
    def known_since(self) -> list[float]:
        """For each minute, how far back it is known what the gauges showed at it of what may have been in use."""
        return [max((self._since(label, end) for label in self._turns), default=inf) for end in self.minutes]

    def involved(self, start: float, end: float) -> tuple[str, ...]:
        """The cylinders that may have been in use between two minutes, in the order of use."""
        firsts = {label: turns.next_after(start) for label, turns in self._turns.items()}
        found = [(first, label) for label, first in firsts.items() if first is not None]
        return tuple(label for first, label in sorted(found) if self.in_use[first].from_low < end - MINUTE_NOISE)

    def at(self, label: str, minute: float) -> Reading | None:
        """What the gauge of a cylinder showed at a minute; None where it was not read while it stayed the same."""
        found = self.readings.get(label, [])
        place = bisect_right(found, minute + MINUTE_NOISE, key=_minute)
        before, after = found[max(0, place - 1) : place], found[place : place + 1]
        if before and (
            before[0].minute > minute - MINUTE_NOISE or not self._may_be_used(label, before[0].minute, minute)
        ):
            return before[0]
        if after and not after[0].refilled and not self._may_be_used(label, minute, after[0].minute):
            return after[0]
        return None

    def ends(self, label: str, start: float, end: float) -> tuple[Reading, Reading] | None:
        """What the gauge of a cylinder showed at two minutes; None where one is not known, or it was filled between."""
        if self._filled_after(label, start) < end - MINUTE_NOISE:
            return None
        first, second = self.at(label, start), self._at_end(label, end)
        return None if first is None or second is None else (first, second)

    def _until(self, label: str, start: float) -> float:
        """How far on, from a minute, what a cylinder gave is known, or is nothing since it was not in use."""
        used = self._turns[label].begins_after(start)
        if self.at(label, start) is not None:
            used = max(used, self._filled_after(label, start))
        return used + MINUTE_NOISE

    def _since(self, label: str, end: float) -> float:
        """How far back, from a minute, what a cylinder gave is known, or is nothing since it was not in use."""
        if self._at_end(label, end) is not None:
            return -inf
        return self._turns[label].ends_before(end) - MINUTE_NOISE

    def _filled_after(self, label: str, minute: float) -> float:
        """When a cylinder was filled next after a minute; inf where it was not."""
        filled = self._fillings.get(label, ())
        place = bisect_right(filled, minute + MINUTE_NOISE)
        return filled[place] if place < len(filled) else inf

    def _at_end(self, label: str, minute: float) -> Reading | None:
        """What a gauge showed at the end of a time; of one that was filled then, the reading before."""
        if self._filled_after(label, minute - 2.0 * MINUTE_NOISE) > minute + MINUTE_NOISE:
            return self.at(label, minute)
        found = [each for each in self.readings[label] if each.minute <= minute + MINUTE_NOISE]
        place = max(number for number, each in enumerate(found) if each.refilled)
        last = found[place - 1] if place else None
        if last is None or last.minute > minute - MINUTE_NOISE:
            return last
        return None if self._may_be_used(label, last.minute, minute) else last

    def latest(self, label: str) -> Reading | None:
        """The last reading of a cylinder, unless it was in use after it and came off at a gauge nobody wrote down."""
        found = self.readings.get(label, [])
        if not found:
            return None
        last = found[-1]
        gone = [turn for turn in self.in_use if turn.label == label and turn.to_high < inf]
        if any(turn.may_overlap(last.minute, inf) for turn in gone):
            return None
        return last

    @property
    def current(self) -> str | None:
        """The cylinder in use at the end of the log."""
        return next((turn.label for turn in reversed(self.in_use) if turn.to_high == inf), None)

    def _may_be_used(self, label: str, start: float, end: float) -> bool:
        return self._turns.get(label, _NO_TURNS).begins_after(start) < end - MINUTE_NOISE

    def between(self, label: str, first: Reading, second: Reading, minutes: tuple[float, float]) -> Measured:
        """What a cylinder gave between two readings, which hold for two minutes."""
        return measured_between(self.cylinders(label), self.policy, first, second, minutes)


def _minute(reading: Reading) -> float:
    return reading.minute
