"""The policy in force, each value with its source and whether the service or the trip has changed it."""

from __future__ import annotations

from planner import figures
from planner.report import words
from planner.report.blocks import Section, Table
from planner.results import Plan


def policy_rows(plan: Plan) -> tuple[tuple[str, str, str, str], ...]:
    """One row a policy value: key, value with unit, whether it was changed, and source, without a long value again."""
    policy = plan.trip.policy
    unit = policy.pressure_unit
    values = (
        ("reserve_factor", figures.plain(policy.reserve_factor)),
        ("reserve_time", figures.minutes_set(policy.reserve_time_min)),
        ("spare_cylinders", str(policy.spare_cylinders)),
        ("change_over_at", figures.gauge_read(policy.change_over_at_kpa, unit)),
        ("full_at", figures.gauge_read(policy.full_at_kpa, unit)),
        ("gauge_allowance", figures.gauge_read(policy.gauge_allowance_kpa, unit)),
        (
            "gauge_scale",
            "not given" if policy.gauge_scale_kpa is None else figures.gauge_read(policy.gauge_scale_kpa, unit),
        ),
        ("handover_time", figures.minutes_set(policy.handover_time_min)),
        ("reading_valid_for", figures.hours_set(policy.reading_valid_for_min)),
        ("must_hold", ", ".join(policy.must_hold) or "none"),
        ("pressure_unit", unit),
    )
    return tuple(
        (
            key,
            value,
            "CHANGED by the service or this trip" if key in policy.overrides else "",
            policy.sources.get(key, "none stated").removesuffix(f": {value}" if key == "must_hold" else ""),
        )
        for key, value in values
    )


def policy_section(plan: Plan) -> Section:
    """The policy table, with its name and its setting."""
    policy = plan.trip.policy
    name = policy.name or "the planner's defaults"
    changed = ", ".join(policy.overrides) or "nothing"
    setting = words.SETTINGS.get(plan.trip.setting, plan.trip.setting)
    note = f"Policy: {name}; setting: {setting}; changed: {changed}. What is not CHANGED is the planner's default."
    return Section("Policy", (Table(("Key", "Value", "From", "Source"), policy_rows(plan), (), note, in_lines=True),))
