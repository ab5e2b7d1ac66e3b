"""The tables of a plan as CSV (RFC 4180) for a spreadsheet: supplies, ledger, checkpoints, what-ifs.

Figures are unrounded and carry their unit in the column's name; what does not apply is an empty cell. A text
that a spreadsheet would run as a formula (it begins with `=`, `+`, `-` or `@`) gets an apostrophe before it.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from typing import Final

from planner.report.json_result import result
from planner.results import Plan

CsvValue = str | float | int | None


_COLUMNS: Final = {
    "supplies": (
        *("trip", "verdict", "supply", "planned_l", "reserve_l", "required_l", "usable_l", "usable_without_spare_l"),
        *("peak_flow_l_per_min", "lasts_min"),
    ),
    "checkpoints": (
        *("min", "leg", "at", "supply", "cylinder", "flow_l_per_min", "gauge_psi", "least_gauge_psi", "minutes_left"),
        *("cylinder_minutes_left", "leak_gauge_psi", "leak_fall_psi_per_min"),
    ),
    "whatifs": (
        *("trip", "name", "supply", "must_hold", "holds", "from_min", "runs_out_min", "runs_out_leg"),
        "minutes_to_spare",
    ),
}
"""Columns by table, under the names that the JSON result has for them."""


def tables(plan: Plan) -> dict[str, str]:
    """The text of each table by its name: `supplies`, `ledger`, `checkpoints`, `whatifs`."""
    told = result(plan)
    rows = {**told, "supplies": [{**row, "supply": name} for name, row in told["supplies"].items()]}
    found = {
        table: csv_text(head, ([{**told, **row}[name] for name in head] for row in rows[table]))
        for table, head in _COLUMNS.items()
    }
    return {"supplies": found.pop("supplies"), "ledger": _ledger(plan), **found}


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


def csv_text(head: Sequence[str], rows: Iterable[Sequence[CsvValue]]) -> str:
    """A table as text, as the first lines of this module say."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(head)
    writer.writerows([_safe(cell) for cell in row] for row in rows)
    return out.getvalue()


def _safe(cell: CsvValue) -> CsvValue:
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(("=", "+", "-", "@", "\t")) else cell
