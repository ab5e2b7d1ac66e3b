"""The tables of a plan as CSV (RFC 4180) for a spreadsheet: supplies, ledger, checkpoints, what-ifs.

Figures are unrounded and carry their unit in the column's name; what does not apply is an empty cell. A text
that a spreadsheet would run as a formula (it begins with `=`, `+`, `-` or `@`) gets an apostrophe before it.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from planner.constants import KPA_PER_PSI
from planner.results import Plan

CsvValue = str | float | int | None


def tables(plan: Plan) -> dict[str, str]:
    """The text of each table by its name: `supplies`, `ledger`, `checkpoints`, `whatifs`."""
    return {
        "supplies": _supplies(plan),
        "ledger": _ledger(plan),
        "checkpoints": _checkpoints(plan),
        "whatifs": _whatifs(plan),
    }


def _supplies(plan: Plan) -> str:
    head = (
        "trip",
        "verdict",
        "supply",
        "planned_l",
        "reserve_l",
        "required_l",
        "usable_l",
        "usable_without_spare_l",
        "peak_flow_l_per_min",
        "lasts_min",
    )
    return csv_text(
        head,
        (
            (
                plan.trip.name,
                plan.verdict,
                name,
                supply.need.planned_l,
                supply.need.reserve_l,
                supply.need.required_l,
                supply.usable_l,
                supply.usable_without_spare_l,
                supply.need.peak_flow_l_per_min,
                supply.lasts_min,
            )
            for name, supply in plan.supplies.items()
        ),
    )


def _ledger(plan: Plan) -> str:
    head = ("supply", "leg", "device", "type", "flow_l_per_min", "time_min", "litres_l")
    return csv_text(
        head,
        (
            (name, line.leg, line.device, line.device_type, line.flow_l_per_min, line.minutes, line.litres)
            for name, supply in plan.supplies.items()
            for line in supply.ledger
        ),
    )


def _checkpoints(plan: Plan) -> str:
    head = (
        "min",
        "leg",
        "at",
        "supply",
        "cylinder",
        "flow_l_per_min",
        "gauge_psi",
        "least_gauge_psi",
        "minutes_left",
        "cylinder_minutes_left",
        "leak_gauge_psi",
        "leak_fall_psi_per_min",
    )
    return csv_text(
        head,
        (
            (
                point.minute,
                point.leg,
                point.at,
                point.supply,
                point.cylinder,
                point.flow_l_per_min,
                None if point.gauge_kpa is None else point.gauge_kpa / KPA_PER_PSI,
                None if point.least_gauge_kpa is None else point.least_gauge_kpa / KPA_PER_PSI,
                point.minutes_left,
                point.cylinder_minutes_left,
                None if point.leak is None else point.leak.gauge_kpa / KPA_PER_PSI,
                None if point.leak is None else point.leak.fall_kpa_per_min / KPA_PER_PSI,
            )
            for point in plan.checkpoints
        ),
    )


def _whatifs(plan: Plan) -> str:
    head = (
        "trip",
        "name",
        "supply",
        "must_hold",
        "holds",
        "from_min",
        "runs_out_min",
        "runs_out_leg",
        "minutes_to_spare",
    )
    return csv_text(
        head,
        (
            (
                plan.trip.name,
                row.name,
                row.supply,
                "yes" if row.must_hold else "no",
                "yes" if row.holds else "no",
                row.from_min,
                row.runs_out_min,
                row.runs_out_leg,
                row.minutes_to_spare,
            )
            for row in plan.whatifs
        ),
    )


def csv_text(head: Sequence[str], rows: Iterable[Sequence[CsvValue]]) -> str:
    """A table as text, as the first lines of this module say."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(head)
    writer.writerows([_safe(cell) for cell in row] for row in rows)
    return out.getvalue()


def _safe(cell: CsvValue) -> CsvValue:
    return f"'{cell}" if isinstance(cell, str) and cell[:1] in ("=", "+", "-", "@", "\t") and cell[:1] else cell
