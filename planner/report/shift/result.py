"""A shift with all that belongs on its sheet, whether all of it is go, and short words for numbers of trips."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from planner.naming import gas_of, listed
from planner.problems import Problem
from planner.shift.allotment import Allotment
from planner.shift.shift import Shift, Twice
from planner.shift.store import COUNTED, Against


@dataclass(frozen=True, slots=True)
class Unread:
    """A profile that could not be planned: its problems, or the one line of an internal error."""

    file: str
    problems: tuple[Problem, ...]
    error: str | None = None


@dataclass(frozen=True, slots=True)
class ShiftResult:
    """A shift with all that belongs on its sheet.

    `store` is None without one; `store_name` says which it is, `store_fingerprint` in which state.
    `refilled`: cylinders that come back are full again, so that the store has to cover the most out at once only.
    `allotment`: who takes which cylinder, trips in turn; None where nobody worked it out.
    """

    shift: Shift
    unread: tuple[Unread, ...]
    store: Against | None
    store_name: str
    refilled: bool
    twice: tuple[Twice, ...]
    store_fingerprint: str = ""
    allotment: Allotment | None = None

    @property
    def short(self) -> int:
        """Cylinders that the store lacks: trips in turn, else by the way of counting that holds."""
        return sum(map(self.short_of, COUNTED))

    def short_of(self, gas: str) -> int:
        """Those of one gas."""
        rows = [] if self.store is None else [row for row in self.store.rows if gas_of(row.size) == gas]
        if self.allotment is not None:
            return sum(self.allotment.lacks(row.size) for row in rows)
        return sum(row.short_at_once if self.refilled else row.short for row in rows)

    @property
    def go(self) -> bool:
        """True where every profile was read, every trip is a go, and the store covers the need."""
        return not why(self)


def why(result: ShiftResult) -> list[str]:
    """What keeps the shift from being all go, as phrases; empty for all go."""
    needs = [out.need for out in result.shift.trips]
    no_go = sum(not need.go and not need.waits for need in needs)
    waits = sum(need.waits for need in needs)
    at_once = sum(twice.at_once for twice in result.twice)
    found = []
    if result.unread:
        found.append(f"{many(len(result.unread), 'profile')} NOT READ and not counted")
    if no_go:
        found.append(f"{many(no_go, 'trip')} NO-GO")
    if waits:
        found.append(f"{many(waits, 'trip')} no-go until cylinders are drawn and read")
    if result.short:
        found.append(f"the store is SHORT of {_short(result)}")
    if at_once:
        found.append(f"{many(at_once, 'cylinder')} on two trips at once")
    refills = 0 if result.allotment is None else len(result.allotment.refills)
    if refills:
        found.append(f"{many(refills, 'cylinder')} to be REFILLED on the way")
    unfilled = sum(bool(twice.counted_on) and not twice.at_once for twice in result.twice)
    if unfilled and not refills and not result.refilled:
        found.append(f"{many(unfilled, 'cylinder')} counted on again as if not used")
    return found


def _short(result: ShiftResult) -> str:
    """`2 cylinders`, of oxygen; where air lacks too, each gas by itself."""
    oxygen, air = map(result.short_of, COUNTED)
    if not air:
        return many(oxygen, "cylinder")
    return listed([*([f"{many(oxygen, 'cylinder')} of oxygen"] if oxygen else []), f"{many(air, 'cylinder')} of AIR"])


def numbers(found: Iterable[int]) -> str:
    """Numbers of trips, neighbours run together.

    >>> numbers([1, 2, 3, 5, 7, 8])
    '1 to 3, 5, 7, 8'
    """
    runs: list[list[int]] = []
    for number in found:
        if runs and runs[-1][-1] == number - 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    parts = [[f"{run[0]} to {run[-1]}"] if len(run) > 2 else list(map(str, run)) for run in runs]
    return ", ".join(text for part in parts for text in part)


def trips_text(found: Iterable[int]) -> str:
    """`trip 4`, `trips 1 to 3, 5`."""
    known = tuple(found)
    return f"trip{'' if len(known) == 1 else 's'} {numbers(known)}"


def many(count: int, what: str) -> str:
    """`1 trip`, `3 trips`."""
    return f"{count} {what}{'' if count == 1 else 's'}"
