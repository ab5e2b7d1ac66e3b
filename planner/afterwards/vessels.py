"""A vessel of liquid oxygen as it was read on the way: what left it, against what was to leave it.

    used = (fall of the amount - loss of the time between) x litres of gas to a kg, give or take

A reading is the truth within `read_to_kg` to either side. What boils away is known by the manual alone: anything from
none to twice as much is allowed for (by decision). Until the first reading on the way the amount of the profile stands
for the one at departure, less what is said to have boiled away since it was read, in doubt by as much again.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from planner.afterwards.falls import Expected, Fall
from planner.afterwards.logbook import Logbook
from planner.afterwards.stretches import HALF, Verdict, verdict
from planner.gas.liquid import GAS_L_PER_KG, MIN_PER_DAY
from planner.model import Liquid, Supply, Trip
from planner.moments import minutes_between

READ_TO_SHARE: Final = 0.025
"""How closely a vessel's own gauge is read, of the amount that it was planned with, to either side (by decision)."""


class AmountRead(NamedTuple):
    """What a vessel held at an elapsed minute, kg, and how far off that may be; `logged` False as by the profile."""

    minute: float
    amount_kg: float
    read_to_kg: float
    logged: bool = True


@dataclass(frozen=True, slots=True)
class Weighed:
    """A vessel between its first reading and its last; as a stretch of a cylinder (`planner.afterwards.stretches`)."""

    supply: str
    first: AmountRead
    last: AmountRead
    lowest_l: float
    highest_l: float
    planned_l: float

    @property
    def from_min(self) -> float:
        """When it begins."""
        return self.first.minute

    @property
    def to_min(self) -> float:
        """When it ends."""
        return self.last.minute

    @property
    def minutes(self) -> float:
        """How long it is."""
        return self.to_min - self.from_min

    @property
    def verdict(self) -> Verdict:
        """How use and plan compare; as planned only where half of the planned use would have shown."""
        doubt = (self.highest_l - self.lowest_l) / 2.0
        most = HALF * self.planned_l + doubt
        shows = verdict(0.0, most, self.planned_l, half_shows=True) == "slower"
        return verdict(self.lowest_l, self.highest_l, self.planned_l, half_shows=shows)


def amounts(trip: Trip, log: Logbook) -> dict[str, list[AmountRead]]:
    """The readings of each vessel in the order of time, that of the profile first."""
    return {name: _amounts(trip, supply, log) for name, supply in trip.supplies.items() if supply.liquid is not None}


def _amounts(trip: Trip, supply: Supply, log: Logbook) -> list[AmountRead]:
    liquid = supply.liquid
    if liquid is None:
        return []
    before = 0.0
    if liquid.read_at is not None and trip.departs is not None:
        before = liquid.loss_kg_per_day * minutes_between(liquid.read_at, trip.departs) / MIN_PER_DAY
    found = [AmountRead(0.0, max(0.0, liquid.amount_kg - before), READ_TO_SHARE * liquid.amount_kg + before, False)]
    for entry in log.entries:
        if entry.supply == supply.name and entry.amount_kg is not None:
            read = AmountRead(max(0.0, entry.minute), entry.amount_kg, READ_TO_SHARE * liquid.amount_kg)
            found = [each for each in found if each.minute < read.minute or each.logged]
            found.append(read)
    return found


def vessel_falls(
    trip: Trip, read: Mapping[str, Sequence[AmountRead]], expected: Callable[[str], Expected]
) -> dict[str, list[Fall]]:
    """From every earlier reading of each vessel to its last, the longest first; none for one that was never read."""
    found: dict[str, list[Fall]] = {}
    for name, readings in read.items():
        liquid = trip.supplies[name].liquid
        if liquid is not None:
            last = readings[-1]
            earlier = [each for each in readings[:-1] if each.minute < last.minute]
            found[name] = [_fall(liquid, each, last, expected(name)) for each in earlier]
    return found


def _fall(liquid: Liquid, first: AmountRead, last: AmountRead, expected: Expected) -> Fall:
    lowest, highest = _left_l(liquid, first, last)
    assumed, least, most = expected.litres_between(first.minute, last.minute)
    return Fall(first.minute, last.minute, lowest, highest, assumed, 0.0, least, most)


def _left_l(liquid: Liquid, first: AmountRead, last: AmountRead) -> tuple[float, float]:
    """Litres of gas that were drawn between two readings, at least and at most."""
    loss = liquid.loss_kg_per_day * (last.minute - first.minute) / MIN_PER_DAY
    fall, doubt = first.amount_kg - last.amount_kg, first.read_to_kg + last.read_to_kg
    return max(0.0, fall - doubt - 2.0 * loss) * GAS_L_PER_KG, max(0.0, fall + doubt) * GAS_L_PER_KG


def weighed(
    trip: Trip, read: Mapping[str, Sequence[AmountRead]], expected: Callable[[str], Expected]
) -> tuple[Weighed, ...]:
    """Each vessel from its first reading to its last, where there are two."""
    found = []
    for name, readings in read.items():
        liquid, first, last = trip.supplies[name].liquid, readings[0], readings[-1]
        if liquid is not None and last.minute > first.minute:
            planned_l = expected(name).litres_between(first.minute, last.minute)[0]
            found.append(Weighed(name, first, last, *_left_l(liquid, first, last), planned_l))
    return tuple(found)
