"""A reading that is far below all that the plan foresees, and that would fit it in another unit.

A gauge has often two scales: 131 bar is 1900 psi, and who reads the inner one writes 131. As psi that is a cylinder
that has all but emptied. Which of the two it is nobody can tell from here, so nothing is mended: it is asked.
"""

from __future__ import annotations

from string import ascii_letters
from typing import Final, NamedTuple

from planner.afterwards.logbook import Entry, LastGauge, Logbook
from planner.figures import KPA_PER_UNIT, gauge_nearest
from planner.naming import labelled
from planner.problems import Finding, finding
from planner.results import Plan

UNIT_IN_DOUBT: Final = "unit_in_doubt"

FITS_DOWN_TO: Final = 0.9
FITS_UP_TO: Final = 1.02
"""Shares of the lowest gauge planned, and of the departure reading, between which it fits in another (by decision)."""


class Foreseen(NamedTuple):
    """The lowest gauge that the plan foresees for a cylinder, and its departure reading, kPa."""

    lowest_kpa: float
    departs_kpa: float

    def fits(self, gauge_kpa: float) -> bool:
        """True for a gauge between the two."""
        return FITS_DOWN_TO * self.lowest_kpa <= gauge_kpa <= FITS_UP_TO * self.departs_kpa

    def other_unit(self, gauge_kpa: float, unit: str) -> str | None:
        """The unit in which the number of a reading in `unit` would fit; None where it may be what it says."""
        if gauge_kpa >= FITS_DOWN_TO * self.lowest_kpa:
            return None
        number = gauge_kpa / KPA_PER_UNIT[unit]
        return next((other for other, kpa in KPA_PER_UNIT.items() if self.fits(number * kpa)), None)


def foreseen(plan: Plan) -> dict[tuple[str, str], Foreseen]:
    """What the plan foresees by supply and label, as a log names them."""
    found: dict[tuple[str, str], Foreseen] = {}
    for name, whole in plan.supplies.items():
        of_all = "+".join(one.cylinder.label for one in whole.cylinders) if whole.supply.kind == "manifold" else None
        gauges = [(of_all or one.cylinder.label, one.cylinder.gauge_kpa) for one in whole.cylinders]
        for label, gauge_kpa in gauges:
            known = found.get((name, label), Foreseen(gauge_kpa, gauge_kpa))
            found[name, label] = Foreseen(min(known.lowest_kpa, gauge_kpa), min(known.departs_kpa, gauge_kpa))
        for turn in whole.order:
            known = found[name, of_all or turn.cylinder]
            lowest_kpa = min(known.lowest_kpa, turn.gauge_end_kpa)
            found[name, of_all or turn.cylinder] = known._replace(lowest_kpa=lowest_kpa)
    return found


def unit_doubts(plan: Plan, log: Logbook) -> list[Finding]:
    """A caution for each cylinder with a reading that fits the plan in another unit alone: of the last such reading."""
    read: list[Entry | LastGauge] = [*log.entries]
    read += [] if log.closing is None else log.closing.last
    of_plan = foreseen(plan)
    found: dict[tuple[str, str], Finding] = {}
    for entry in read:
        name, label = entry.supply or "", entry.cylinder or ""
        if entry.gauge_kpa is None or (name, label) not in of_plan:
            continue
        unit = next((one for one in KPA_PER_UNIT if entry.gauge_text.endswith(one)), "psi")
        other = of_plan[name, label].other_unit(entry.gauge_kpa, unit)
        if other is not None:
            meant = f"{entry.gauge_text.rstrip(ascii_letters + ' ')} {other}"
            as_typed = gauge_nearest(entry.gauge_kpa / KPA_PER_UNIT[unit] * KPA_PER_UNIT[other], unit)
            said = f"{name} {labelled(label, plan.trip.supplies[name].gas)}: {entry.gauge_text} was written"
            found[name, label] = finding(
                "caution",
                UNIT_IN_DOUBT,
                f"{said}, and {meant} is {as_typed}, as planned.",
                f"Read it again NOW, with its unit. Until then it counts as {entry.gauge_text}.",
                entry.where,
            )
    return list(found.values())
