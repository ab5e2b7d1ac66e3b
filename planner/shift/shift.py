"""From the plans of a shift to the cylinders that it takes.

A trip has its cylinders out from its departure until it ends at its longest times, and for a turnaround after that,
until they are back. A trip without a place on the common clock counts as out all the time. At the very minute of a
return the cylinders still count as out. So the figures err towards more cylinders.

What each trip takes is `planner.shift.trip`'s; a no-go trip is counted as it stands. Nothing here reads files, rounds,
or puts figures into words.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise
from typing import Final, Literal

from planner import figures
from planner.naming import gas_of
from planner.shift.trip import SAME, TripNeed, Wanted

HAND_BACK_MIN: Final = 30.0
"""Minutes to bring cylinders back to the store, check and tag them, where no turnaround is given. By decision."""

"""Minutes are compared to a millionth: the noise of sums of durations lies far below."""

Placed = Literal["clock", "no_departure", "no_zone"]


@dataclass(frozen=True, slots=True)
class Out:
    """A trip in its place in the shift.

    `leaves_min` and `back_min` are minutes after the first departure of the shift, None where the trip has no place on
    the common clock, as `placed` tells: it then counts as out all the time.
    """

    number: int
    need: TripNeed
    placed: Placed
    turnaround_min: float
    leaves_min: float | None
    back_min: float | None


@dataclass(frozen=True, slots=True)
class Peak:
    """The most cylinders out at once: from the departure of `begins` until the cylinders of `ends` are back.

    Both are None where only trips without a place on the clock count. `trips` are all that have cylinders out then.
    Numbers are those of the trips in the shift.
    """

    count: int
    begins: int | None
    ends: int | None
    trips: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class SizeNeed:
    """Cylinders of one size, or of all sizes of one gas together (`size` None), portable or fixed.

    `to_draw` counts every trip's; `part_used` of these are ones that a plan takes to be less than full.
    """

    fixed: bool
    size: str | None
    to_draw: int
    part_used: int
    peak: Peak
    gas: str = "oxygen"

    def covers(self, size: str) -> bool:
        """True for cylinders of a size that are counted here."""
        return self.size == size or (self.size is None and gas_of(size) == self.gas)


@dataclass(frozen=True, slots=True)
class Twice:
    """A cylinder on more than one trip; `at_once` where two of them are out at the same time.

    `counted_on` are trips that count on more in it than the trip before them leaves.
    """

    label: str
    size: str
    trips: tuple[int, ...]
    at_once: bool
    counted_on: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Shift:
    """All trips of a shift in their order, and the cylinders that they take."""

    trips: tuple[Out, ...]
    sizes: tuple[SizeNeed, ...]
    first: datetime | None
    turnaround_min: float | None
    fingerprint: str

    def trip(self, number: int) -> Out:
        """The trip of a number."""
        return self.trips[number - 1]


def default_turnaround_min(need: TripNeed) -> float:
    """Minutes after the end of a trip until its cylinders are back, where nobody gives them.

    Inside the hospital 30 min. By road and by air 30 min and the trip's own longest time once more, for the way back:
    a profile ends where the patient is handed over. By decision.
    """
    return HAND_BACK_MIN if need.setting == "in_house" else HAND_BACK_MIN + need.longest_min


def shift(needs: Iterable[TripNeed], turnaround_min: float | None = None) -> Shift:
    """The shift that trips make, in the order of departure, then of name and of file.

    `turnaround_min` replaces the default one of every trip. Where some departures know their offset from UTC and
    others do not, those that do not have no place on the common clock.
    """
    known = list(needs)
    aware = any(need.departs is not None and need.departs.tzinfo is not None for need in known)
    ordered = sorted(known, key=lambda need: _key(need, aware))
    placed = [need.departs for need in ordered if need.departs is not None and _place(need, aware) == "clock"]
    first = placed[0] if placed else None
    trips = tuple(_out(number, need, aware, first, turnaround_min) for number, need in enumerate(ordered, start=1))
    return Shift(trips, tuple(_size_needs(trips)), first, turnaround_min, _fingerprint(trips))


def most_out(counts: Iterable[tuple[Out, int]]) -> Peak:
    """The most out at once of trips with so many cylinders each, by a sweep over departures and returns.

    The count can only rise at a departure, so that the earliest highest one is the peak.
    """
    found = [(out, count) for out, count in counts if count > 0]
    always = sum(count for out, count in found if out.leaves_min is None)
    moves = sorted(
        move
        for out, count in found
        if out.leaves_min is not None and out.back_min is not None
        for move in ((out.leaves_min, 0, out.number, count), (out.back_min, 1, out.number, -count))
    )
    now = most = always
    at: tuple[float, int] | None = None
    for minute, _, number, change in moves:
        now += change
        if now > most:
            most, at = now, (minute, number)
    if at is None:
        return Peak(most, None, None, tuple(out.number for out, _ in found if out.leaves_min is None))
    there = [out for out, _ in found if is_out(out, at[0])]
    ends = min((out.back_min, out.number) for out in there if out.back_min is not None)
    return Peak(most, at[1], ends[1], tuple(out.number for out in there))


def is_out(out: Out, minute: float) -> bool:
    """True where the cylinders of a trip are out at a minute after the first departure, ends included."""
    return out.leaves_min is None or out.back_min is None or out.leaves_min <= minute <= out.back_min


def over_the_clock(trips: Sequence[Out], *, gas: str) -> tuple[tuple[float, int], ...]:
    """How many portable cylinders of a gas are out after each departure and return, with its minute after the first.

    Where both fall on one minute it stands twice, departures first.
    """
    now = sum(_count(out, gas) for out in trips if out.leaves_min is None)
    changes: dict[tuple[float, int], int] = {(0.0, 0): 0}
    for out in trips:
        if out.leaves_min is not None and out.back_min is not None:
            for key, change in (((out.leaves_min, 0), 1), ((out.back_min, 1), -1)):
                changes[key] = changes.get(key, 0) + change * _count(out, gas)
    steps = []
    for (minute, _), change in sorted(changes.items()):
        now += change
        steps.append((minute, now))
    return tuple(steps)


def taken_twice(trips: Sequence[Out]) -> tuple[Twice, ...]:
    """Cylinders that are on more than one trip, by the label that is written on them; fixed ones stay with a vehicle.

    A label is one cylinder, however its size is written: by its letter on one trip, by its contents on another.
    """
    users: dict[str, list[tuple[Out, Wanted]]] = {}
    for out in trips:
        mine = {one.label: one for one in out.need.cylinders if one.label is not None and not one.fixed}
        for label, one in mine.items():
            users.setdefault(label, []).append((out, one))
    return tuple(
        Twice(
            label,
            found[0][1].size,
            tuple(out.number for out, _ in found),
            most_out((out, 1) for out, _ in found).count > 1,
            tuple(
                then[0].number
                for first, then in pairwise(found)
                if first[1].left_l is not None and then[1].contents_l > first[1].left_l * SAME
            ),
        )
        for label, found in sorted(users.items())
        if len(found) > 1
    )


def _place(need: TripNeed, aware: bool) -> Placed:
    if need.departs is None:
        return "no_departure"
    return "clock" if (need.departs.tzinfo is not None) == aware else "no_zone"


def _instant(departs: datetime) -> datetime:
    """A moment in which times can be subtracted: UTC, or the clock as it stands where no zone is known."""
    return departs if departs.tzinfo is None else departs.astimezone(UTC).replace(tzinfo=None)


def _key(need: TripNeed, aware: bool) -> tuple[bool, datetime, str, str, str]:
    departs = datetime.max if need.departs is None else _instant(need.departs)  # noqa: DTZ901 - only to sort by
    return _place(need, aware) != "clock", departs, need.name, need.file, need.fingerprint


def _out(number: int, need: TripNeed, aware: bool, first: datetime | None, turnaround_min: float | None) -> Out:
    turnaround = default_turnaround_min(need) if turnaround_min is None else turnaround_min
    placed = _place(need, aware)
    if placed != "clock" or need.departs is None or first is None:
        return Out(number, need, placed, turnaround, None, None)
    leaves = figures.noiseless((_instant(need.departs) - _instant(first)).total_seconds() / 60.0)
    return Out(number, need, placed, turnaround, leaves, figures.noiseless(leaves + need.longest_min + turnaround))


def _size_needs(trips: Sequence[Out]) -> Iterator[SizeNeed]:
    """Portable before fixed; each size, and all sizes of a gas where it has more than one."""
    for fixed in (False, True):
        sizes = sorted({c.size for out in trips for c in out.need.cylinders if c.fixed == fixed})
        for gas in sorted(set(map(gas_of, sizes))):
            mine = [size for size in sizes if gas_of(size) == gas]
            for size in (*mine, None) if len(mine) > 1 else mine:
                covered = mine if size is None else [size]
                counts = [(out, _taken(out, fixed, covered)) for out in trips]
                found = [cylinder for _, cylinders in counts for cylinder in cylinders]
                peak = most_out((out, len(cylinders)) for out, cylinders in counts)
                yield SizeNeed(fixed, size, len(found), sum(not cylinder.full for cylinder in found), peak, gas)


def _taken(out: Out, fixed: bool, sizes: Sequence[str]) -> list[Wanted]:
    return [c for c in out.need.cylinders if c.fixed == fixed and c.size in sizes]


def _count(out: Out, gas: str) -> int:
    return sum(not c.fixed and gas_of(c.size) == gas for c in out.need.cylinders)


def _fingerprint(trips: Sequence[Out]) -> str:
    digest = hashlib.sha256()
    for out in trips:
        digest.update(f"{out.need.fingerprint}\n{out.leaves_min}\n{out.back_min}\n".encode())
    return digest.hexdigest()
