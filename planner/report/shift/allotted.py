"""Who takes which cylinder in a shift: what to settle, the rows of the list, what to fill for tomorrow, and the JSON.

The times stand as in the list of trips: departures down to the minute, returns up. Litres round down.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from planner import figures
from planner.naming import called, gas_of, labelled, listed
from planner.report.shift.clock import back_text, leaves_text
from planner.report.shift.result import trips_text
from planner.shift.allotment import Allotment, CylinderGiven, Tomorrow
from planner.shift.shift import Shift

TO_BRING = "NEW"


@dataclass(frozen=True, slots=True)
class GivenLine:
    """One cylinder of a trip: which it is, at least so much in it, and where it comes from."""

    number: int
    leaves: str
    supply: str
    size: str
    cylinder: str
    holds: str
    comes: str


def given_lines(shift: Shift, found: Allotment) -> Iterator[GivenLine]:
    """The list, trips in turn; empty without a store."""
    for each in found.given if found.from_store else ():
        yield GivenLine(
            each.trip,
            leaves_text(shift, each.trip),
            each.wanted.supply,
            each.wanted.size,
            _name(each),
            figures.supply_l(each.holds_l),
            _comes(shift, each),
        )


def _comes(shift: Shift, each: CylinderGiven) -> str:
    if each.clash:
        return f"OUT on trip {each.after}"
    back = "" if each.after is None else back_text(shift, each.after)
    if each.label is None and each.after is None:
        return "TO BE BROUGHT"
    after = "the shelf" if each.after is None else f"trip {each.after}, back {back}"
    return f"{after}: REFILL first" if each.refill else f"{after}: read it again" if each.after is not None else after


def to_settle(shift: Shift, found: Allotment) -> Iterator[str]:
    """What has to be done, by when: cylinders to refill, to bring, and trips to plan again with another one."""
    for size in dict.fromkeys(each.wanted.size for each in found.refills):
        mine = [each for each in found.refills if each.wanted.size == size]
        yield f"Refill {size}: {'; '.join(_refill(shift, each) for each in mine)}."
    to_bring = [each for each in found.given if each.label is None and each.after is None]
    for size in dict.fromkeys(each.wanted.size for each in to_bring):
        yield _bring(shift, [each for each in to_bring if each.wanted.size == size])
    for each in found.given:
        if each.instead:
            yield (
                f"Trip {each.trip} was planned with {_planned(each)}, which another trip has: plan it again with "
                f"{_name(each)}, and print its card anew."
            )
    if not found.proven:
        yield "Who takes what: fewer cylinders to bring or to refill might do; the search was cut short."


def _refill(shift: Shift, each: CylinderGiven) -> str:
    """`E-02 before 14:20 (trip 3), back 12:40 from trip 1`."""
    leaves = leaves_text(shift, each.trip)
    when = "" if leaves == figures.NONE else f" before {leaves}"
    since = "" if each.after is None else f", back {back_text(shift, each.after)} from trip {each.after}"
    return f"{called(_name(each))}{when} (trip {each.trip}){since}"


def _name(each: CylinderGiven) -> str:
    """A cylinder as it is called on paper; one of air says so."""
    return labelled(each.label or f"{TO_BRING} {each.brought}", gas_of(each.wanted.size))


def _planned(each: CylinderGiven) -> str:
    return labelled(each.wanted.label or "", gas_of(each.wanted.size))


def _bring(shift: Shift, lacking: list[CylinderGiven]) -> str:
    """Cylinders of one size that have to be brought; of several, each with how much stands in the list."""
    first = lacking[0]
    by = leaves_text(shift, first.trip)
    when = "" if by == figures.NONE else f" by {by}" if len(lacking) == 1 else f", the first by {by}"
    most = figures.need_l(max(each.wanted.contents_l for each in lacking))
    return (
        f"Bring {len(lacking)} more {first.wanted.size}{when}, for "
        f"{trips_text(dict.fromkeys(each.trip for each in lacking))}, with {most} in "
        f"{'it' if len(lacking) == 1 else 'each'}: the store has none left for that."
    )


def tomorrow_lines(found: Allotment) -> Iterator[str]:
    """What is less than full after the shift, and what to order, by size."""
    for each in found.tomorrow:
        yield _tomorrow(each)


def _tomorrow(each: Tomorrow) -> str:
    parts = []
    count = len(each.labels) + each.unnamed
    if count:
        named = f": {listed(each.labels)}" if each.labels else ""
        more = f" and {each.unnamed} drawn without a label" if each.labels and each.unnamed else ""
        parts.append(f"fill or exchange {count}{named}{more}")
    if each.lacking:
        parts.append(f"order {each.lacking} more, which this shift lacked")
    return f"{each.size}: {'; '.join(parts)}"


def allotted_result(found: Allotment) -> dict[str, Any]:
    """The allotment as plain dictionaries and lists; litres unrounded."""
    return {
        "lacking": found.lacks(),
        "proven": found.proven,
        "given": [
            {
                "trip": each.trip,
                "supply": each.wanted.supply,
                "size": each.wanted.size,
                "planned_label": each.wanted.label,
                "label": each.label,
                "brought": each.brought or None,
                "after_trip": each.after,
                "holds_at_least_l": each.holds_l,
                "counted_on_l": each.wanted.contents_l,
                "refill_before": each.refill,
                "out_on_another_trip": each.clash,
                "plan_again": each.instead,
            }
            for each in found.given
        ],
        "tomorrow": [
            {"size": each.size, "fill": list(each.labels), "fill_unnamed": each.unnamed, "lacking": each.lacking}
            for each in found.tomorrow
        ],
    }
