"""What a supply gave between readings, against what was planned for the same time.

    used = sum over the cylinders involved of what each gave between its two readings

A stretch runs between two minutes at which the gauge of every cylinder that may have been in use is known. Its range is
the sum of the ranges of its cylinders (`planner.cylinders.measured`): the readings count with about 95 cases of 100,
all else at its worst.

Verdicts, with `planned` the litres planned for the stretch and T = 10 % of them:

- faster: the least that may have been used is more than planned + T;
- slower: the most that may have been used is less than planned - T;
- the gauge cannot tell: neither, but half of the planned use would not have shown as slower;
- as planned: neither, and half of the planned use would have shown. Where nothing was planned the gauge cannot tell:
  a leak of less than a division or two does not show.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, replace
from math import fsum
from typing import Final, Literal

from planner.afterwards.gauged import Gauged
from planner.constants import SAME_L
from planner.cylinders.halving import least_by_search
from planner.cylinders.measured import Measured, highest_l_per_min
from planner.flow.flows import Flow, between, litres
from planner.gas import contents

Verdict = Literal["as_planned", "faster", "slower", "cannot_tell"]

SET_FLOW_WITHIN: Final = 0.10
"""A flow is delivered to within this share of what is set. ISO 15002 for flowmeters, from memory."""

HALF: Final = 0.5
"""The under-use that must show before a stretch is called as planned."""

_FINE_MIN: Final = 0.05


@dataclass(frozen=True, slots=True)
class Part:
    """What one cylinder gave in a stretch."""

    label: str
    measured: Measured

    @property
    def lowest_l(self) -> float:
        """The least that it may have given, litres."""
        return self.measured.lowest_l_per_min * self.measured.readings.minutes

    @property
    def highest_l(self) -> float:
        """The most that it may have given, litres."""
        return self.measured.highest_l_per_min * self.measured.readings.minutes


@dataclass(frozen=True, slots=True)
class Stretch:
    """A supply between two minutes. `written_l` is what follows from flows and settings in the log, None without any.

    `half_shows` tells whether half of the planned use would have shown. `watch_min` counts from the beginning of the
    stretch: after that time half of the planned flow would show; None where it always shows or never does.
    """

    supply: str
    parts: tuple[Part, ...]
    from_min: float
    to_min: float
    planned_l: float
    written_l: float | None
    half_shows: bool
    watch_min: float | None = None

    @property
    def minutes(self) -> float:
        """How long it is."""
        return self.to_min - self.from_min

    @property
    def used_l(self) -> float:
        """Litres used, as the water capacities are reckoned."""
        return fsum(part.measured.litres for part in self.parts)

    @property
    def lowest_l(self) -> float:
        """The least that may have been used."""
        return fsum(part.lowest_l for part in self.parts)

    @property
    def highest_l(self) -> float:
        """The most that may have been used."""
        return fsum(part.highest_l for part in self.parts)

    @property
    def leak_that_shows_l_per_min(self) -> float:
        """A leak that would be called faster in about 95 cases of 100, where nothing else is off; L/min.

        The most that may be drawn without a call, the doubt of the readings counted twice: once for what the call
        allows, once for what they may be off. Largest water capacities are taken, with which the gauge falls slowest.
        """
        capacity = fsum(part.measured.readings.water_capacity_l for part in self.parts)
        largest = fsum(part.measured.doubt.largest_water_capacity_l for part in self.parts)
        unseen = (1.0 + SET_FLOW_WITHIN) * self.planned_l + 2.0 * (self.used_l - self.lowest_l)
        return max(0.0, (unseen * largest / capacity - self.planned_l) / self.minutes)

    @property
    def verdict(self) -> Verdict:
        """How use and plan compare."""
        return verdict(self.lowest_l, self.highest_l, self.planned_l, half_shows=self.half_shows)

    @property
    def agrees_with_written(self) -> bool:
        """True where flows or settings in the log explain a use that differs from the plan."""
        if self.written_l is None or self.verdict not in ("faster", "slower"):
            return False
        within = SET_FLOW_WITHIN * self.written_l
        return self.lowest_l <= self.written_l + within and self.highest_l >= self.written_l - within


def verdict(lowest_l: float, highest_l: float, planned_l: float, *, half_shows: bool) -> Verdict:
    """The verdict on a range of litres used; see the head of this module."""
    within = SET_FLOW_WITHIN * planned_l
    if lowest_l > planned_l + within + SAME_L:
        return "faster"
    if highest_l < _slower_below_l(planned_l):
        return "slower"
    return "as_planned" if half_shows else "cannot_tell"


def _slower_below_l(planned_l: float) -> float:
    return planned_l - SET_FLOW_WITHIN * planned_l - SAME_L


def drawn_l(flow: Flow, start_min: float, end_min: float) -> float:
    """Litres of a flow between two minutes."""
    return litres(between(flow, start_min, end_min))


def stretches_of(whole: Gauged, planned: Flow, written: Flow | None) -> list[Stretch]:
    """The stretches of a supply, one after another, each as short as the readings allow."""
    found = []
    minutes = whole.minutes
    place = 0
    while place < len(minutes):
        last = bisect_right(minutes, whole.known_until[place])
        known = (end for end in range(place + 1, last) if whole.known_since[end] <= minutes[place])
        for end in known:
            stretch = stretch_between(whole, minutes[place], minutes[end], planned, written)
            if stretch is not None:
                found.append(stretch)
                place = end - 1
                break
        place += 1
    return found


def overall(whole: Gauged, planned: Flow, written: Flow | None) -> Stretch | None:
    """The longest stretch of a supply: what single ones cannot show may show over all of them. None without any."""
    minutes = whole.minutes
    best: tuple[float, float] | None = None
    for place, start in enumerate(minutes):
        longest = 0.0 if best is None else best[1] - best[0]
        if minutes[-1] - start <= longest:
            break
        first, last = bisect_right(minutes, start + longest), bisect_right(minutes, whole.known_until[place]) - 1
        end = next((minutes[end] for end in range(last, first - 1, -1) if whole.known_since[end] <= start), None)
        best = best if end is None else (start, end)
    return None if best is None else stretch_between(whole, *best, planned, written)


def stretch_between(whole: Gauged, start: float, end: float, planned: Flow, written: Flow | None) -> Stretch | None:
    """The stretch between two minutes; None where a gauge is not known at one of them."""
    labels = whole.involved(start, end)
    parts = []
    for label in labels:
        ends = whole.ends(label, start, end)
        if ends is None:
            return None
        parts.append(Part(label, whole.between(label, *ends, (start, end))))
    if not parts:
        return None
    planned_l = drawn_l(planned, start, end)
    shows = _half_shows(parts, planned_l)
    return Stretch(
        supply=whole.supply.name,
        parts=tuple(parts),
        from_min=start,
        to_min=end,
        planned_l=planned_l,
        written_l=None if written is None else drawn_l(written, start, end),
        half_shows=shows,
    )


def watched(stretch: Stretch, whole: Gauged) -> Stretch:
    """The same with for how long to watch, where its gauge cannot tell yet."""
    if stretch.verdict != "cannot_tell" or stretch.planned_l <= SAME_L:
        return stretch
    until_kpa = whole.policy.change_over_at_kpa + whole.policy.gauge_allowance_kpa
    flow = stretch.planned_l / stretch.minutes
    return replace(stretch, watch_min=watch_min(stretch.parts[-1].measured, flow, until_kpa))


def _half_shows(parts: list[Part], planned_l: float) -> bool:
    """True where half of the planned litres, drawn from these cylinders, would be called slower; never of none."""
    used = [max(0.0, part.measured.litres) for part in parts]
    whole = fsum(used)
    shares = [litres / whole for litres in used] if whole > 0.0 else [1.0] + [0.0] * (len(used) - 1)
    room_l = _slower_below_l(planned_l)
    for part, share in zip(parts, shares, strict=True):
        room_l -= _foreseen_l(part.measured, HALF * planned_l * share, part.measured.readings.minutes, room_l)
        if room_l <= 0.0:
            return False
    return True


def _foreseen_l(found: Measured, drawn: float, minutes: float, enough: float) -> float:
    """The most litres that would be measured once so many were drawn in so many minutes, or any that are enough."""
    readings = found.readings
    first, second = readings.temperatures_degc
    left = contents.contents_l(readings.from_gauge_kpa, first, readings.water_capacity_l, readings.gas) - drawn
    gauge = contents.gauge_kpa(max(0.0, left), second, readings.water_capacity_l, readings.gas)
    doubt = found.doubt._replace(minutes=min(found.doubt.minutes, minutes / 2.0))
    foreseen = readings._replace(to_gauge_kpa=gauge, minutes=minutes)
    return highest_l_per_min(foreseen, doubt, enough / minutes) * minutes


def watch_min(found: Measured, planned_l_per_min: float, until_kpa: float) -> float | None:
    """Minutes from the first reading after which half of a planned flow would show; None where it never would.

    `planned_l_per_min`: L/min, above 0. `until_kpa`: the gauge at which the cylinder is changed, kPa.
    """
    readings = found.readings
    first, second = readings.temperatures_degc
    capacity = readings.water_capacity_l
    usable = contents.contents_l(readings.from_gauge_kpa, first, capacity, readings.gas)
    usable -= contents.contents_l(until_kpa, second, capacity, readings.gas)
    latest = usable / planned_l_per_min

    def shows(minutes: float) -> bool:
        planned_l = planned_l_per_min * minutes
        room_l = _slower_below_l(planned_l)
        return _foreseen_l(found, HALF * planned_l, minutes, room_l) < room_l

    return None if latest <= _FINE_MIN else least_by_search(shows, _FINE_MIN, latest, fine=_FINE_MIN)
