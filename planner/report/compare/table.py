"""What was used against what was planned, between readings: the table, and the flow that was measured last.

The lowest litres go down, the highest up.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from planner import figures
from planner.afterwards.compare import Comparison
from planner.afterwards.stretches import Stretch
from planner.afterwards.vessels import Weighed
from planner.report import vessel
from planner.report.compare.gas import labels
from planner.report.compare.when import clocks, minute_text
from planner.report.screen import table, wrap

Told = Stretch | Weighed
"""A stretch of cylinders, or a vessel of liquid between its readings."""

VERDICTS: Final = {
    "as_planned": "as planned",
    "faster": "FASTER",
    "slower": "SLOWER",
    "cannot_tell": "cannot tell",
}

_CLOCK: Final = 3
"""The column of clock times, left out where no departure is known."""

_GAUGE: Final = 4


def table_lines(found: Comparison) -> list[str]:
    """Every stretch, the whole of each supply and each vessel; below it the leak that would have shown."""
    if not found.told:
        return []
    rows = [_row(found, stretch, labels(found, stretch, ", ")) for stretch in found.stretches]
    rows += [_row(found, stretch, "all") for stretch in found.overall]
    rows += [_row(found, each, "liquid") for each in found.weighed]
    unit = found.plan.trip.policy.pressure_unit
    gauge = "Gauge"
    if not found.weighed:  # a vessel tells its contents in a unit of its own
        gauge = f"Gauge, {unit}"
        rows = [(*row[:_GAUGE], row[_GAUGE].removesuffix(f" {unit}"), *row[_GAUGE + 1 :]) for row in rows]
    head: tuple[str, ...] = ("Supply", "Cylinder", "Minutes", "Clock", gauge, "Used, L", "Planned", "Verdict")
    if found.plan.trip.departs is None:
        head, *rows = (row[:_CLOCK] + row[_CLOCK + 1 :] for row in (head, *rows))
    lines = table(head, rows, frozenset({head.index("Planned")}), shrink=(0, 1))
    for supply, leak in leaks_that_show(found):
        leak_text = figures.flow_up(leak)
        lines += wrap(
            f"On {supply} a leak of {leak_text} would show in 95 of 100 cases; a smaller one may not yet.", "  "
        )
    return lines


def _row(found: Comparison, stretch: Told, name: str) -> tuple[str, ...]:
    unit = found.plan.trip.policy.pressure_unit
    gauge = figures.NONE
    liquid = found.plan.trip.supplies[stretch.supply].liquid
    if isinstance(stretch, Weighed):
        if liquid is not None:
            gauge = f"{vessel.shows(liquid, stretch.first.amount_kg)} to {vessel.shows(liquid, stretch.last.amount_kg)}"
    elif len(stretch.parts) == 1:
        readings = stretch.parts[0].measured.readings
        first = figures.gauge_read(readings.from_gauge_kpa, unit).removesuffix(f" {unit}")
        gauge = f"{first} to {figures.gauge_read(readings.to_gauge_kpa, unit)}"
    return (
        stretch.supply,
        name,
        f"{figures.steps_down(stretch.from_min, 1.0)} to {figures.steps_down(stretch.to_min, 1.0)}",
        clocks(found, stretch.from_min, stretch.to_min),
        gauge,
        used_text(stretch).removesuffix(" L"),
        figures.need_l(stretch.planned_l),
        VERDICTS[stretch.verdict],
    )


def used_text(stretch: Told) -> str:
    """`87 to 182 L`."""
    least = figures.steps_down(max(0.0, stretch.lowest_l), 1.0)
    return f"{least} to {figures.steps_up(max(0.0, stretch.highest_l), 1.0)} L"


def leaks_that_show(found: Comparison) -> Iterator[tuple[str, float]]:
    """For each supply without an alert over all of its readings, the leak that would show in most cases, L/min."""
    whole = {stretch.supply: stretch for stretch in (*found.stretches, *found.overall)}
    for supply, stretch in whole.items():
        if stretch.verdict in ("as_planned", "cannot_tell"):
            yield supply, stretch.leak_that_shows_l_per_min


def measured_texts(found: Comparison) -> list[str]:
    """The flow that was measured last of each supply, beside the planned one."""
    texts = []
    for supply, stretch in {stretch.supply: stretch for stretch in found.stretches}.items():
        least = figures.flow_down(max(0.0, stretch.lowest_l) / stretch.minutes).removesuffix(" L/min")
        most = figures.flow_up(max(0.0, stretch.highest_l) / stretch.minutes)
        planned = figures.flow_up(stretch.planned_l / stretch.minutes)
        between = f"{figures.minutes_down(stretch.from_min)} to {minute_text(found, stretch.to_min)}"
        texts.append(f"Measured on {supply}, {between}: {least} to {most}, planned {planned}.")
    return texts
