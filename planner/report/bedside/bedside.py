"""The answer to the bedside question, as text for the screen and as JSON (format 1).

Minutes and clock times go down, JSON is unrounded. The hand method stands beside every answer, with what makes the
difference.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any, NamedTuple

from planner import figures
from planner.bedside.lasts import Lasting
from planner.constants import KPA_PER_PSI, REFERENCE_TEMPERATURE_DEGC
from planner.model import Cylinder
from planner.naming import of_gas
from planner.problems import Finding
from planner.report import words
from planner.report.fields import fields, findings_result, moment, psi
from planner.report.screen import table, wrap

FORMAT = 1
NOTICE_L = 0.05
"""A difference of fewer litres than this is rounding, and not spoken of."""


class LastsAnswer(NamedTuple):
    """A bedside question with its answers, each with its end by the clock. `unit` is that of the gauge as typed."""

    answers: tuple[tuple[Lasting, datetime], ...]
    starts: datetime
    unit: str
    temperature_degc: float | None = None
    coldest_degc: float | None = None
    findings: tuple[Finding, ...] = ()


def cylinder_name(cylinder: Cylinder) -> str:
    """The label's contents where they are given, for they decide; else the size."""
    return of_gas(cylinder.label_contents or cylinder.size or "cylinder", cylinder.gas)


def factor_text(cylinder: Cylinder, unit: str) -> str:
    """The factor of the hand method in litres for one unit of the gauge: `0.28 L/psi`, `2 L/bar`."""
    factor = cylinder.factor_l_per_psi * figures.KPA_PER_UNIT[unit] / KPA_PER_PSI
    return f"{figures.plain(factor)} L/{unit}"


def fall_text(from_kpa: float, to_kpa: float, unit: str) -> str:
    """A fall of the gauge as a subtraction: `(1900 - 500) psi`."""
    start, end = (figures.gauge_read(gauge, unit).removesuffix(f" {unit}") for gauge in (from_kpa, to_kpa))
    return f"({start} - {end}) {unit}"


def lasts_lines(asked: LastsAnswer) -> list[str]:
    """The answer for the screen: figures for one gauge and flow, a table for several."""
    body = _single(asked, *asked.answers[0]) if len(asked.answers) == 1 else _several(asked)
    for finding in asked.findings:
        body += wrap(words.finding_sentence(finding), "", "  ")
    return [*body, "", *wrap(" ".join(words.PLANNING_AID[:2]))]


def _single(asked: LastsAnswer, lasting: Lasting, ends: datetime) -> list[str]:
    unit = asked.unit
    cylinder, flow = lasting.cylinder, figures.flow_set(lasting.flow_l_per_min)
    gauge = figures.gauge_read(cylinder.gauge_kpa, unit)
    change = figures.gauge_read(lasting.change_over_at_kpa, unit)
    act_at = figures.gauge_up(lasting.change_over_at_kpa, unit)
    from_time = figures.clock_time(asked.starts, asked.starts)
    until = figures.clock_time(ends, asked.starts)
    if lasting.usable_l > 0.0:
        lines = [f"{_long(lasting.minutes)} left, until {until}."]
        lines += wrap(f"Change the cylinder at {act_at} or at {until}, whichever comes first.")
    else:
        lines = wrap(
            f"0 min left: nothing is usable at {gauge}, with {change} as change-over. Change the cylinder now."
        )
    held = lasting.held
    contents, residual = (figures.worked(litres, 1) for litres in (held.contents_l, held.residual_l))
    usable = f"{contents} L at {gauge} - {residual} L left at {change} = {figures.supply_l(lasting.usable_l)}"
    if lasting.usable_l == 0.0:
        usable = f"0 L: {contents} L at {gauge}, and {residual} L stay in it at {change}"
    rows = [
        ("Cylinder", f"{cylinder_name(cylinder)}, gauge {gauge}, {flow} from {from_time}"),
        ("Usable", usable),
        ("By hand", _hand(lasting, unit)),
    ]
    lines.append("")
    for title, text in rows:
        lines += wrap(text, f"  {title:<12}")
    for reason in _reasons(lasting):
        lines += wrap(reason, f"  {'Difference':<12}")
    return lines


def _long(minutes: float) -> str:
    whole = figures.minutes_down(minutes)
    hours = figures.hours_down(minutes)
    return whole if hours == whole else f"{whole} ({hours})"


def _hand(lasting: Lasting, unit: str) -> str:
    if lasting.hand_usable_l == 0.0:
        return "0 min: the gauge is not above change-over"
    cylinder, minutes = lasting.cylinder, figures.minutes_down(lasting.hand_minutes)
    fall = fall_text(cylinder.gauge_kpa, lasting.change_over_at_kpa, unit)
    return f"{fall} x {factor_text(cylinder, unit)} / {figures.flow_set(lasting.flow_l_per_min)} = {minutes}"


def _reasons(lasting: Lasting) -> list[str]:
    """Why the planner's minutes are not those of the hand method; a line for each cause."""
    if lasting.usable_l == 0.0 == lasting.hand_usable_l:
        return ["none: both give nothing"]
    found = []
    if abs(lasting.by_real_gas_l) >= NOTICE_L:
        found.append(
            f"{_more(lasting, lasting.by_real_gas_l)}: litres of a real gas do not fall in step with the gauge, "
            "as the factor takes it"
        )
    if abs(lasting.by_temperature_l) >= NOTICE_L:
        found.append(f"{_more(lasting, lasting.by_temperature_l)}: {_temperatures(lasting)}")
    return found or ["none that counts"]


def _temperatures(lasting: Lasting) -> str:
    held, causes = lasting.held, []
    if held.read_degc > REFERENCE_TEMPERATURE_DEGC:
        causes.append(f"gas at {figures.temperature(held.read_degc)} holds less at the same gauge")
    if held.cold_degc < REFERENCE_TEMPERATURE_DEGC:
        causes.append(f"more stays at change-over at {figures.temperature(held.cold_degc)}")
    return " and ".join(causes)


def _more(lasting: Lasting, litres: float) -> str:
    minutes = figures.worked(abs(litres) / lasting.flow_l_per_min, 1)
    which = "more" if litres > 0.0 else "fewer"
    return f"{figures.worked(abs(litres), 1)} L {which} than by hand ({'+' if litres > 0.0 else '-'}{minutes} min)"


def _several(asked: LastsAnswer) -> list[str]:
    first, _ = asked.answers[0]
    change = figures.gauge_read(first.change_over_at_kpa, asked.unit)
    rows = [
        (
            figures.gauge_read(lasting.cylinder.gauge_kpa, asked.unit),
            figures.flow_set(lasting.flow_l_per_min),
            figures.supply_l(lasting.usable_l),
            figures.minutes_down(lasting.minutes),
            figures.clock_time(ends, asked.starts, narrow=True) if lasting.usable_l > 0.0 else "change now",
            figures.minutes_down(lasting.hand_minutes),
        )
        for lasting, ends in asked.answers
    ]
    lines = wrap(
        f"{cylinder_name(first.cylinder)}, down to change-over at {change}, from "
        f"{figures.clock_time(asked.starts, asked.starts)}; each line is one cylinder on its own."
    )
    head = ("Gauge", "Flow", "Usable", "Minutes left", "Until", "By hand")
    lines += ["", *table(head, rows, frozenset({0, 1, 2, 3, 5})), ""]
    lines += wrap(
        f"By hand: (gauge - {change}) x {factor_text(first.cylinder, asked.unit)} / flow. It differs because litres of "
        "a real gas do not fall in step with the gauge, as the factor takes it."
    )
    temperatures = _temperatures(first)
    return lines + (wrap(f"Temperatures count besides: {temperatures}.") if temperatures else [])


def lasts_result(asked: LastsAnswer) -> dict[str, Any]:
    """The answer as JSON, format 1: unrounded, pressures in psi gauge.

    `minutes` is that of the one answer, null where there are several.
    """
    first, _ = asked.answers[0]
    return {
        "format": FORMAT,
        "command": "lasts",
        **cylinder_result(first.cylinder),
        "change_over_at_psi": psi(first.change_over_at_kpa),
        **fields(asked, "temperature_degc", "coldest_degc"),
        "starts": moment(asked.starts),
        "minutes": first.minutes if len(asked.answers) == 1 else None,
        "answers": [
            {
                "gauge_psi": psi(lasting.cylinder.gauge_kpa),
                "flow_l_per_min": lasting.flow_l_per_min,
                **fields(lasting.held, "contents_l", "residual_l"),
                **fields(lasting, "usable_l", "minutes"),
                "ends": moment(ends),
                **fields(lasting, "hand_usable_l", "hand_minutes", "by_real_gas_l", "by_temperature_l"),
            }
            for lasting, ends in asked.answers
        ],
        "findings": findings_result(asked.findings),
    }


def cylinder_result(cylinder: Cylinder) -> dict[str, Any]:
    """What is known of a cylinder apart from its reading."""
    return fields(cylinder, "gas", "size", "label_contents", "water_capacity_l", "factor_l_per_psi")
