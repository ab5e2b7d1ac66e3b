"""A measured flow for the screen: the range, what each doubt does, minutes left, and how long to watch.

The lowest flow is rounded down, every other up. Advice on running out uses the end that runs out first. As JSON, format
1, figures are unrounded and pressures in psi gauge; what does not apply is null.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from planner import figures
from planner.bedside.lasts import Lasting
from planner.constants import KPA_PER_PSI
from planner.cylinders.measured import WIDEST_RATIO, Measured, Source
from planner.model import Cylinder
from planner.problems import Finding
from planner.report import words
from planner.report.bedside.bedside import FORMAT, cylinder_name, cylinder_result, factor_text, fall_text
from planner.report.bedside.measured_trip import Replanned, replanned_lines, replanned_result
from planner.report.fields import fields, findings_result, moment, psi
from planner.report.screen import wrap

LOOK: Final = "Look at the patient first: supply shut, hose off, tube blocked, another cylinder in use?"


@dataclass(frozen=True, slots=True)
class MeasuredFlow:
    """A measured flow and what surrounds it.

    `left` is how long the cylinder lasts at the end that runs out first, from the least that the second reading may
    mean, None where the gauge says nothing of a flow. `planned_l_per_min` is the planned flow to compare with, where
    one is known.
    `watch_flow_l_per_min` is the steady flow for which `watch_min` (from the first reading) was sought; `watch_min`
    None: the cylinder would be down to change-over before. The two `..._given` tell what was typed, not assumed.
    """

    cylinder: Cylinder
    measured: Measured
    unit: str
    read_at: datetime
    left: Lasting | None
    ends: datetime | None
    planned_l_per_min: float | None = None
    watch_flow_l_per_min: float | None = None
    watch_min: float | None = None
    resolution_given: bool = False
    scale_given: bool = False
    findings: tuple[Finding, ...] = ()
    replanned: Replanned | None = None

    @property
    def hand_flow_l_per_min(self) -> float:
        """The hand method: the fall of the gauge in psi x the factor / minutes."""
        readings = self.measured.readings
        fall_kpa = readings.from_gauge_kpa - readings.to_gauge_kpa
        return fall_kpa / KPA_PER_PSI * self.cylinder.factor_l_per_psi / readings.minutes


def measured_lines(found: MeasuredFlow) -> list[str]:
    """The measured flow for the screen."""
    lines = [*_headline(found), *_compared(found), *_watch(found), *_left(found)]
    for finding in found.findings:
        lines += wrap(words.finding_sentence(finding), "", "  ")
    if found.replanned is not None:
        lines += ["", *replanned_lines(found.replanned)]
    lines += ["", *_facts(found), "", *_sources(found)]
    return [*lines, "", *wrap(words.PLANNING_AID[0])]


def _headline(found: MeasuredFlow) -> list[str]:
    measured = found.measured
    low, high = measured.lowest_l_per_min, measured.highest_l_per_min
    if measured.tells:
        flow = figures.flow_up(measured.flow_l_per_min)
        return wrap(f"Measured flow {flow}, between {figures.flow_down(low)} and {figures.flow_up(high)}.")
    if high <= 0.0:
        return wrap("THE GAUGE CANNOT TELL: the fall is no more than the cooling of the gas explains.")
    if low <= 0.0:
        return wrap(f"THE GAUGE CANNOT TELL: the flow is anything up to {figures.flow_up(high)}, none at all included.")
    ratio = figures.plain(WIDEST_RATIO)
    return wrap(
        f"THE GAUGE CANNOT TELL: the flow is between {figures.flow_down(low)} and {figures.flow_up(high)}, and the "
        f"highest is more than {ratio} times the lowest."
    )


def _facts(found: MeasuredFlow) -> list[str]:
    measured, unit = found.measured, found.unit
    readings = measured.readings
    fall = fall_text(readings.from_gauge_kpa, readings.to_gauge_kpa, unit)
    minutes = figures.minutes_set(readings.minutes)
    flow = figures.worked(measured.flow_l_per_min)
    hand_flow = figures.worked(found.hand_flow_l_per_min)
    rows = (
        (
            "Cylinder",
            f"{cylinder_name(found.cylinder)}, from {_gauge(found, first=True)} to {_gauge(found)} in {minutes}",
        ),
        ("Drawn", f"{figures.worked(measured.litres, 1)} L by the real gas / {minutes} = {flow} L/min"),
        ("By hand", f"{fall} x {factor_text(found.cylinder, unit)} / {minutes} = {hand_flow} L/min"),
    )
    return [line for title, text in rows for line in wrap(text, f"  {title:<10}")]


def _gauge(found: MeasuredFlow, *, first: bool = False) -> str:
    readings = found.measured.readings
    gauge, degc = (readings.from_gauge_kpa, readings.from_degc) if first else (readings.to_gauge_kpa, readings.to_degc)
    text = figures.gauge_read(gauge, found.unit)
    return text if degc is None else f"{text} at {figures.temperature(degc)}"


def _sources(found: MeasuredFlow) -> list[str]:
    rows = []
    for source in found.measured.sources:
        what, why = _explained(found, source)
        span = "settled"
        if not source.known:
            low, high = figures.flow_down(source.lowest_l_per_min), figures.flow_up(source.highest_l_per_min)
            span = f"{low.removesuffix(' L/min')} to {high}"
        rows.append((what, span, why))
    rows.insert(0, ("What is in doubt", "Alone gives", "Limit and source"))
    wide = max(len(span) for _, span, _ in rows)
    lines = [line for what, span, why in rows for line in wrap(why, f"  {what:<16}  {span:<{wide}}  ")]
    lines += wrap(
        "The readings and a change of temperature are independent: twice their standard uncertainty counts, about 95 "
        "cases of 100. All else is added at its worst. A zero error of the gauge is in both readings and cancels; an "
        "error of its slope does not, and within the class it can be 5 % of the fall.",
        "  ",
    )
    return lines


def _explained(found: MeasuredFlow, source: Source) -> tuple[str, str]:
    """What a doubt is, and its limit with its source, short enough for a line."""
    doubt, readings, unit = found.measured.doubt, found.measured.readings, found.unit
    first, second = map(figures.temperature, readings.temperatures_degc)
    half = "as given" if found.resolution_given else "half a division; common practice, no source"
    scale = f"{figures.gauge_read(doubt.gauge_scale_kpa, unit)}{'' if found.scale_given else ' (scale assumed)'}"
    minutes = figures.minutes_set(readings.minutes)
    settled = {
        "temperature": ("Gas temperature", f"{first}, as given"),
        "temperature_change": ("Warming, cooling", f"{first} to {second}, as given"),
        "time": ("Time", f"{minutes}, as given"),
    }
    if source.known and source.name in settled:
        return settled[source.name]
    near, change = map(figures.temperature, (doubt.temperature_degc, doubt.temperature_change_degc))
    return {
        "first_reading": ("First reading", f"within {figures.gauge_read(doubt.first_reading_kpa, unit)}: {half}"),
        "second_reading": ("Second reading", f"within {figures.gauge_read(doubt.second_reading_kpa, unit)}: {half}"),
        "gauge_class": ("Gauge class", f"2.5 % of {scale}: ISO 5171, from memory"),
        "temperature": ("Gas temperature", f"{first} within {near}: none given; by decision"),
        "temperature_change": ("Warming, cooling", f"within {change}: not both temperatures given; by decision"),
        "water_capacity": ("Water capacity", _capacity(found, source)),
        "time": ("Time", f"within {figures.minutes_set(doubt.minutes)}: clock times read to the minute"),
    }[source.name]


def _capacity(found: MeasuredFlow, source: Source) -> str:
    least = figures.worked(found.measured.readings.water_capacity_l)
    if found.cylinder.label_contents is not None:
        return f"{least} L by the cylinder's own label"
    if source.known:
        return f"{least} L by the catalogue; no larger label known"
    most = figures.worked(found.measured.doubt.largest_water_capacity_l)
    return f"{least} to {most} L: factor to largest label; --contents settles it"


def _compared(found: MeasuredFlow) -> list[str]:
    planned = found.planned_l_per_min
    if planned is None:
        return []
    flow = _planned(planned)
    compared = found.measured.compared_with(planned)
    if compared == "above":
        text = (
            f"FASTER than the planned {flow}, whatever the gauge was off by. Look for a leak and check the settings; "
            f"plan again with {figures.flow_up(found.measured.flow_l_per_min)}, and be ready for the highest."
        )
    elif compared == "below":
        text = f"SLOWER than the planned {flow}, whatever the gauge was off by. {LOOK} The planned flow stands."
    elif found.measured.tells:
        text = f"Agrees with the planned {flow}, as far as the gauge can tell"
        if found.measured.flow_l_per_min > planned:
            text += (
                f"; what is measured is above it: better to plan with {figures.flow_up(found.measured.flow_l_per_min)}."
            )
        else:
            text += ". The planned flow stands: a measured one never lowers it by itself."
    else:
        text = f"The planned {flow} is neither confirmed nor refuted, and stands."
    return wrap(text)


def _planned(flow_l_per_min: float) -> str:
    """A planned flow, up; in full where a step of 0.1 L/min is too coarse for it."""
    return figures.flow_up(flow_l_per_min) if flow_l_per_min >= 1.0 else figures.flow_set(flow_l_per_min)


def _watch(found: MeasuredFlow) -> list[str]:
    measured = found.measured
    if measured.tells:
        return []
    flow = found.watch_flow_l_per_min
    if flow is None:
        return wrap("To learn for how long to watch, give the planned flow with --planned-flow.")
    which = "the planned" if flow == found.planned_l_per_min else "about"
    at = f"{which} {_planned(flow)}"
    if found.watch_min is None:
        return wrap(
            f"At {at} this cylinder is down to change-over before its gauge can tell. Read a flowmeter, use a gauge "
            "with finer divisions (--resolution), or give the label (--contents) and both temperatures."
        )
    minutes, gone = found.watch_min, measured.readings.minutes
    if minutes <= gone:
        return wrap(f"A steady flow of {_planned(flow)} would have shown within {figures.minutes_up(minutes)}.")
    again = figures.clock_time(found.read_at, found.read_at)
    return wrap(
        f"Watch on: at {at} the gauge can tell after {figures.minutes_up(minutes)} from the first reading, that is "
        f"{figures.minutes_up(minutes - gone)} after the second ({again})."
    )


def _least(found: MeasuredFlow) -> str:
    """The least that the gauge may stand at by the second reading."""
    readings = found.measured.readings
    return figures.gauge_read(max(0.0, readings.to_gauge_kpa - found.measured.doubt.second_reading_kpa), found.unit)


def _left(found: MeasuredFlow) -> list[str]:
    if found.left is None or found.ends is None:
        return []
    left, unit = found.left, found.unit
    change = figures.gauge_up(left.change_over_at_kpa, unit)
    if left.usable_l == 0.0:
        return wrap(
            f"Nothing is surely usable in this cylinder: it may be at {_least(found)}, with {change} as change-over. "
            "Change it now."
        )
    high = found.measured.highest_same_capacity_l_per_min
    if left.flow_l_per_min > high:
        why = "the planned flow, which is above the highest that was measured"
    elif not found.cylinder.label_contents and found.measured.highest_l_per_min > high:
        why = "the highest flow if its capacity is that of the factor; a larger one gives more and holds as much more"
    else:
        why = "the highest flow that the readings allow"
    until = figures.clock_time(found.ends, found.read_at)
    minutes = figures.minutes_at(left.usable_l, left.flow_l_per_min)
    return wrap(
        f"This cylinder: {minutes} left, until {until}, down to {change}: "
        f"{figures.supply_l(left.usable_l)} usable, for it may be at {_least(found)}; at "
        f"{figures.flow_up(left.flow_l_per_min)}, {why}."
    )


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
