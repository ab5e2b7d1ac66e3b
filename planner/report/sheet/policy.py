"""The policy in force, each value with its source and whether the service or the trip has changed it."""

from __future__ import annotations

from typing import Any

from planner import figures
from planner.report import words
from planner.report.blocks import Section, Table
from planner.results import Plan
from planner.trade.policy_table import policy_rows


def rows_of_policy(plan: Plan) -> tuple[tuple[str, str, str, str], ...]:
    """One row a policy value: key, value with unit, whether it was changed, and source, without a long value again."""
    policy = plan.trip.policy
    found = []
    for key, row in policy_rows().items():
        value = _written(getattr(policy, row.field), row.unit, policy.pressure_unit)
        changed = "CHANGED by the service or this trip" if key in policy.overrides else ""
        source = policy.sources.get(key, "none stated").removesuffix(f": {value}" if row.unit == "what-ifs" else "")
        found.append((key, value, changed, source))
    return tuple(found)


def _written(value: Any, unit: str, pressure_unit: str) -> str:
    if value is None:
        return "not given"
    if unit == "what-ifs":
        return ", ".join(value) or "none"
    if unit == "psi":
        return figures.gauge_read(value, pressure_unit)
    if unit in ("min", "h"):
        return figures.minutes_set(value) if unit == "min" else figures.hours_set(value)
    return figures.plain(value) if unit == "" else str(value)


def policy_section(plan: Plan) -> Section:
    """The policy table, with its name and its setting."""
    policy = plan.trip.policy
    name = policy.name or "the planner's defaults"
    changed = ", ".join(policy.overrides) or "nothing"
    setting = words.SETTINGS.get(plan.trip.setting, plan.trip.setting)
    note = f"Policy: {name}; setting: {setting}; changed: {changed}. What is not CHANGED is the planner's default."
    return Section(
        "Policy", (Table(("Key", "Value", "From", "Source"), rows_of_policy(plan), (), note, in_lines=True),)
    )
