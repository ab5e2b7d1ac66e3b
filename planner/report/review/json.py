"""A review as a JSON document, format 1. Numbers are unrounded; what does not apply is null."""

from __future__ import annotations

from typing import Any, Final

from planner.afterwards.review.history import FlowGroup, TimeGroup
from planner.afterwards.review.review import RatioLimit, Review

FORMAT: Final = 1


def review_result(found: Review) -> dict[str, Any]:
    """The document; `changed` names a series as in `flows` or `times`."""
    return {
        "format": FORMAT,
        "trips": found.trips,
        "covered": {
            "share": found.covered / found.drawn if found.drawn else None,
            "lower_95": found.covered_lower if found.drawn else None,
            "trips": found.drawn,
        },
        "flows": [
            {**group_result(row.group), **_limit(row.limit), "unplanned": row.unplanned, "blurred": row.blurred}
            for row in found.flows
        ],
        "times": [{**group_result(row.group), **_limit(row.limit), "unplanned": row.unplanned} for row in found.times],
        "implied": [
            {"device": one.device, "trips": one.trips, "extra_l_per_min": one.extra_l_per_min} for one in found.implied
        ],
        "changed": [
            {"what": group_result(one.what), "since": one.since, "told": one.told, "trips": one.trips}
            for one in found.changed
        ],
        "alarm_trips": found.alarm_trips,
        "series": found.series,
        "reserves": [{"setting": one.setting, **_limit(one.limit, "upper_99_95")} for one in found.reserves],
        "blurred": found.blurred,
        "unplanned": found.unplanned,
        "ran_out": found.ran_out,
        "unclosed": found.unclosed,
        "missing": found.missing if found.missing is None or found.missing >= 0 else None,
        "skipped": found.skipped,
    }


def group_result(group: FlowGroup | TimeGroup) -> dict[str, Any]:
    """What a series is of."""
    if isinstance(group, FlowGroup):
        return {"type": group.kind, "setting": group.setting, "settings": group.settings, "device": group.device}
    return {"leg": group.leg, "by": group.by} if group.wait is None else {"wait": group.wait}


def _limit(limit: RatioLimit, upper: str = "upper_95_95") -> dict[str, Any]:
    return {
        "trips": limit.trips,
        "median": limit.median,
        upper: limit.upper,
        "reason": limit.reason,
        "needed": limit.needed,
    }
