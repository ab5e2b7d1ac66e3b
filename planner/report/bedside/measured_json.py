"""A measured flow as JSON, format 1: unrounded, pressures in psi gauge; what does not apply is null."""

from __future__ import annotations

from typing import Any

from planner.report.bedside.bedside import FORMAT, cylinder_result
from planner.report.bedside.measured import MeasuredFlow
from planner.report.bedside.measured_trip import replanned_result
from planner.report.fields import fields, findings_result, moment, psi


def measured_result(found: MeasuredFlow) -> dict[str, Any]:
    """The measured flow as plain dictionaries and lists.

    `minutes_left` counts from the second reading, at the end that runs out first, `flow_for_minutes_left_l_per_min`.
    `watch_min` counts from the first reading; null while the gauge can tell, or where it never could.
    """
    measured, left = found.measured, found.left
    readings, doubt = measured.readings, measured.doubt
    planned = found.planned_l_per_min
    return {
        "format": FORMAT,
        "command": "measured-flow",
        **cylinder_result(found.cylinder),
        "from_gauge_psi": psi(readings.from_gauge_kpa),
        "to_gauge_psi": psi(readings.to_gauge_kpa),
        "from_temperature_degc": readings.from_degc,
        "to_temperature_degc": readings.to_degc,
        "minutes": readings.minutes,
        "drawn_l": measured.litres,
        **fields(measured, "flow_l_per_min", "lowest_l_per_min", "highest_l_per_min"),
        "highest_same_capacity_l_per_min": measured.highest_same_capacity_l_per_min,
        "hand_flow_l_per_min": found.hand_flow_l_per_min,
        "gauge_can_tell": measured.tells,
        "doubts": [
            {
                "name": source.name,
                "settled": source.known,
                **fields(source, "lowest_l_per_min", "highest_l_per_min"),
            }
            for source in measured.sources
        ],
        "resolution_psi": psi(doubt.first_reading_kpa),
        "gauge_scale_psi": psi(doubt.gauge_scale_kpa),
        "largest_water_capacity_l": doubt.largest_water_capacity_l,
        "planned_flow_l_per_min": planned,
        "compared": None if planned is None else measured.compared_with(planned),
        **fields(found, "watch_flow_l_per_min", "watch_min"),
        "minutes_left": None if left is None else left.minutes,
        "flow_for_minutes_left_l_per_min": None if left is None else left.flow_l_per_min,
        "usable_l": None if left is None else left.usable_l,
        "ends": moment(found.ends),
        "findings": findings_result(found.findings),
        "replanned": None if found.replanned is None else replanned_result(found.replanned),
    }
