"""The store against what a shift takes from it.

A cylinder of the store can stand for one that a plan takes if it is of the same size and holds at least as much. The
store is short by the largest number by which, for any content, the cylinders wanted of at least that content exceed
those in the store: by Hall's theorem no pairing does better, and there is one that does as well. Cylinders at or below
change-over, and of another gas than oxygen or air, are no part of it; air is a size of its own. Portable cylinders
only: fixed ones stay with their vehicle.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from planner.cylinders.stock import held
from planner.model import Cylinder, Policy, Supply
from planner.moments import minutes_between
from planner.shift.shift import Out, Shift, most_out
from planner.shift.trip import SAME, as_read_l, is_full, size_of
from planner.trade.policy_table import policy_defaults

_SHELF = Supply("store", "cylinders")
COUNTED = ("oxygen", "air")
"""The gases of the cylinders that count; air has rows of its own."""


@dataclass(frozen=True, slots=True)
class StoreRow:
    """One size in the store and on the shift's trips.

    `full`, `part_used` and `empty` count the store. `short` is how many cylinders are lacking where every trip draws
    its own; `short_at_once` how many where those that come back are full again when they go out next.
    """

    size: str
    full: int
    part_used: int
    empty: int
    to_draw: int
    short: int
    at_once: int
    short_at_once: int


@dataclass(frozen=True, slots=True)
class Against:
    """A store against a shift: rows by size, cylinders of another gas, and readings too old, or without a time."""

    rows: tuple[StoreRow, ...]
    other_gas: tuple[str, ...]
    readings_old: int
    cylinders: int

    @property
    def short(self) -> int:
        """Cylinders lacking over all sizes where every trip draws its own."""
        return sum(row.short for row in self.rows)

    @property
    def short_at_once(self) -> int:
        """Cylinders lacking over all sizes where those that come back are full again when they go out next."""
        return sum(row.short_at_once for row in self.rows)


def against(store: Sequence[Cylinder], shift: Shift) -> Against:
    """What a store has and lacks for a shift, judged by the policy of `strictest`.

    A reading is old where it was taken longer before the first departure than the shortest time that a policy
    lets a reading count, or where nobody says when it was taken, or the clocks cannot be compared.
    """
    policy = strictest(shift)
    counted = [cylinder for cylinder in store if cylinder.gas in COUNTED]
    wanted: dict[str, list[tuple[Out, float]]] = {}
    for out in shift.trips:
        for cylinder in out.need.cylinders:
            if not cylinder.fixed:
                wanted.setdefault(cylinder.size, []).append((out, cylinder.contents_l))
    shelves: dict[str, list[Cylinder]] = {}
    for each in counted:
        shelves.setdefault(size_of(each), []).append(each)
    return Against(
        tuple(_row(size, shelves.get(size, ()), wanted.get(size, ()), policy) for size in sorted({*shelves, *wanted})),
        tuple(cylinder.label for cylinder in store if cylinder.gas not in COUNTED),
        sum(_is_old(cylinder.checked, shift, policy) for cylinder in counted),
        len(counted),
    )


def strictest(shift: Shift) -> Policy:
    """The policy that a store is judged by: of the trips' the highest gauges and the shortest life of a reading."""
    needs = [out.need for out in shift.trips]
    policy = policy_defaults("road")
    return policy._replace(
        full_at_kpa=max((need.full_at_kpa for need in needs), default=policy.full_at_kpa),
        change_over_at_kpa=max((need.change_over_at_kpa for need in needs), default=policy.change_over_at_kpa),
        reading_valid_for_min=min((need.reading_valid_for_min for need in needs), default=policy.reading_valid_for_min),
    )


def _row(size: str, shelf: Sequence[Cylinder], wanted: Sequence[tuple[Out, float]], policy: Policy) -> StoreRow:
    usable = [cylinder for cylinder in shelf if held(cylinder, _SHELF, policy).usable_l > 0.0]
    full = sum(is_full(cylinder, _SHELF, policy) for cylinder in usable)
    contents = sorted(as_read_l(cylinder, _SHELF, policy) * SAME for cylinder in usable)
    at_least = {level: len(contents) - bisect_left(contents, level) for level in {litres for _, litres in wanted}}
    levels = _levels(at_least)
    return StoreRow(
        size=size,
        full=full,
        part_used=len(usable) - full,
        empty=len(shelf) - len(usable),
        to_draw=len(wanted),
        short=max(0, *(_wants(wanted, level) - at_least[level] for level in levels), 0),
        at_once=_out(wanted, 0.0),
        short_at_once=max(0, *(_out(wanted, level) - at_least[level] for level in levels), 0),
    )


def _levels(at_least: dict[float, int]) -> list[float]:
    """Of the contents for which the store has equally many, the lowest: there most are wanted."""
    lowest: dict[int, float] = {}
    for level, count in at_least.items():
        lowest[count] = min(level, lowest.get(count, level))
    return list(lowest.values())


def _wants(wanted: Sequence[tuple[Out, float]], level: float) -> int:
    return sum(litres >= level for _, litres in wanted)


def _out(wanted: Sequence[tuple[Out, float]], level: float) -> int:
    """The most out at once of at least a content."""
    counts: dict[int, tuple[Out, int]] = {}
    for out, litres in wanted:
        if litres >= level:
            counts[out.number] = (out, counts.get(out.number, (out, 0))[1] + 1)
    return most_out(counts.values()).count


def _is_old(checked: datetime | None, shift: Shift, policy: Policy) -> bool:
    first = shift.first
    if checked is None or first is None or (checked.tzinfo is None) != (first.tzinfo is None):
        return True
    return minutes_between(checked, first) > policy.reading_valid_for_min
