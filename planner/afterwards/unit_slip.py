"""A reading that is far below all that the plan foresees, and that would fit it in another unit.

A gauge has often two scales: 131 bar is 1900 psi, and who reads the inner one writes 131. As psi that is a cylinder
that has all but emptied. Which of the two it is nobody can tell from here, so nothing is mended: it is asked.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from planner.afterwards.logbook import Entry, LastGauge, Logbook
from planner.figures import KPA_PER_UNIT, gauge_nearest
from planner.naming import labelled
from planner.problems import Finding, finding
from planner.results import Plan

UNIT_IN_DOUBT: Final = "unit_in_doubt"

FITS_DOWN_TO: Final = 0.9
FITS_UP_TO: Final = 1.02
"""Shares of the lowest gauge planned, and of the departure reading, between which it fits in another (by decision)."""


def other_unit(plan: Plan, supply: str, label: str, gauge_kpa: float, unit: str) -> str | None:
    """The unit in which the number of a reading would fit the plan; None where it may be what it says.

    `gauge_kpa`: the reading taken in `unit`, kPa.
    """
    whole = plan.supplies[supply]
    of_one = whole.supply.kind != "manifold"
    readings = [one.cylinder.gauge_kpa for one in whole.cylinders if one.cylinder.label == label or not of_one]
    if not readings:
        return None
    departs_kpa = min(readings)
    ends = [turn.gauge_end_kpa for turn in whole.order if turn.cylinder == label or not of_one]
    lowest_kpa = min([departs_kpa, *ends])
    if gauge_kpa >= FITS_DOWN_TO * lowest_kpa:
        return None
    number = gauge_kpa / KPA_PER_UNIT[unit]
    fitting = (other for other, kpa in KPA_PER_UNIT.items() if _fits(number * kpa, lowest_kpa, departs_kpa))
    return next(fitting, None)


def _fits(kpa: float, lowest_kpa: float, departs_kpa: float) -> bool:
    return FITS_DOWN_TO * lowest_kpa <= kpa <= FITS_UP_TO * departs_kpa


def unit_doubts(plan: Plan, log: Logbook) -> Iterator[Finding]:
    """A caution for each reading of a log that fits the plan in another unit alone."""
    read: list[Entry | LastGauge] = [*log.entries]
    read += [] if log.closing is None else log.closing.last
    for entry in read:
        if entry.gauge_kpa is None or entry.supply is None or entry.cylinder is None:
            continue
        unit = next((one for one in KPA_PER_UNIT if entry.gauge_text.endswith(one)), "psi")
        other = other_unit(plan, entry.supply, entry.cylinder, entry.gauge_kpa, unit)
        if other is not None:
            meant = f"{entry.gauge_text.removesuffix(unit).strip()} {other}"
            as_typed = gauge_nearest(entry.gauge_kpa / KPA_PER_UNIT[unit] * KPA_PER_UNIT[other], unit)
            label = labelled(entry.cylinder, plan.trip.supplies[entry.supply].gas)
            yield finding(
                "caution",
                UNIT_IN_DOUBT,
                f"{entry.supply} {label}: {entry.gauge_text} was written, and {meant} is {as_typed}, as planned.",
                f"Read it again NOW, with its unit. Until then it counts as {entry.gauge_text}.",
                entry.where,
            )
