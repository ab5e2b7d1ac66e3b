"""The calculation sheet as plain data: every figure with its formula, the numbers put in, and its source.

A second person can follow it with a pencil. The figures inside a working are shown to the nearest last digit;
only a figure that decides (required, usable, minutes) is rounded, and then never in the optimistic direction.
"""

from __future__ import annotations

from datetime import datetime

from planner import figures
from planner.report import whatif_words, words
from planner.report.blocks import AS_ABOVE, Block, Section, Table, Text
from planner.report.change_gauge import expected_at, expected_gauge, least_at
from planner.report.onward import onward_lines
from planner.report.sheet.gas import gas_section
from planner.report.sheet.inputs import inputs_sections
from planner.report.sheet.liquid import liquid_section
from planner.report.sheet.needs import counts_section, go_section, ledger_section, need_section
from planner.report.sheet.policy import policy_section
from planner.results import Checkpoint, Plan, WhatIf
from planner.text.letters import escaped

TITLE = "Calculation sheet"


def sheet(plan: Plan, issued: datetime | None = None) -> tuple[Section, ...]:
    """The sections of the calculation sheet, in reading order."""
    sections = (
        _result(plan, issued),
        *inputs_sections(plan),
        ledger_section(plan),
        need_section(plan),
        gas_section(plan),
        liquid_section(plan),
        go_section(plan),
        counts_section(plan),
        _order(plan),
        _checkpoints(plan),
        _whatifs(plan),
        _margins(plan),
        _findings(plan),
        policy_section(plan),
    )
    return tuple(section for section in sections if section.blocks)


def _result(plan: Plan, issued: datetime | None) -> Section:
    trip = plan.trip
    blocks: list[Block] = [Text(words.headline(plan, issued), strong=True)]
    for reason in words.reasons(plan):
        fix = f" Fix: {words.sentence(reason.fix)}" if reason.fix else ""
        blocks.append(Text(f"{words.sentence(reason.text)}{fix}", strong=True))
    blocks += [Text(words.sentence(text), strong=True) for text in words.decisions(plan)]
    blocks += [Text(line) for line in onward_lines(plan)]
    setting = words.SETTINGS.get(trip.setting, trip.setting)
    if not trip.setting_given:
        setting += " (assumed: the profile names no setting)"
    rows = [
        ("Trip", trip.name),
        ("Reference", trip.reference or "none given"),
        ("Setting", setting),
        (
            "Departs" if trip.onward is None else "Planned again",
            figures.date_time(trip.departs) if trip.departs else "no clock time given; minutes are elapsed",
        ),
        ("Profile", escaped(trip.file) or "none"),
        ("Fingerprint of the profile", trip.fingerprint or "none"),
    ]
    rows += [("Changed for this plan", escaped(change)) for change in trip.changes]
    blocks.append(Table(("Item", "Value"), tuple(rows), in_lines=True))
    blocks += [Text(line) for line in words.PLANNING_AID]
    return Section("Result", tuple(blocks))


def _order(plan: Plan) -> Section:
    rows = tuple(
        (
            name,
            turn.cylinder,
            figures.minutes_down(turn.from_min),
            figures.minutes_down(turn.to_min),
            expected_gauge(plan, name, turn.cylinder, turn.gauge_start_kpa),
            expected_gauge(plan, name, turn.cylinder, turn.gauge_end_kpa),
        )
        for name, supply in plan.supplies.items()
        for turn in supply.order
    )
    blocks: list[Block] = []
    if rows:
        head = ("Supply", "Cylinder", "From", "To", "Gauge then", "Gauge at its end")
        blocks.append(Table(head, rows, (2, 3, 4, 5)))
    for supply in plan.supplies.values():
        blocks += [Text(words.change_sentence(plan, change), strong=True) for change in supply.change_overs]
    lasting = [
        f"{name} lasts {figures.minutes_down(supply.lasts_min)} after departure"
        for name, supply in plan.supplies.items()
        if supply.lasts_min is not None
    ]
    if lasting:
        joined = f"Supply {'; supply '.join(lasting)}{'; each' if len(lasting) > 1 else ','}"
        blocks.append(Text(f"{joined} if its last planned flow never ended (every cylinder used, no reserve kept)."))
    return Section("Order of use and change-over", tuple(blocks))


def _checkpoints(plan: Plan) -> Section:
    """The checkpoints; the end of a leg and the start of the next are one row where all their figures are the same."""
    unit = plan.trip.policy.pressure_unit
    rows = [
        (
            figures.minutes_down(point.minute),
            figures.clock_down(plan.trip.departs, point.minute, narrow=True) or figures.NONE,
            f"{point.at} of {point.leg_index + 1}",
            point.supply,
            point.cylinder or figures.NONE,
            _flow(point),
            expected_at(plan, point),
            least_at(plan, point),
            figures.supply_l_or_none(point.litres_left),
            figures.minutes_down_or_none(point.minutes_left),
            figures.minutes_down_or_none(point.cylinder_minutes_left),
        )
        for point in plan.checkpoints
    ]
    found: dict[tuple[str, ...], str] = {}
    for row in rows:
        figure = (*row[:2], *row[3:])
        found[figure] = f"{found[figure]}, {row[2]}" if figure in found else row[2]
    head = (
        "Elapsed",
        "Clock",
        "Leg",
        "Supply",
        "Cylinder",
        "Flow",
        "Expected",
        "Least",
        "Litres",
        "Left",
        "In cylinder",
    )
    note = (
        f"Expected gauge to the nearest {figures.step_text(unit)}; least gauge up to the next "
        f"{figures.step_text(unit)}: below it the rest of the trip no longer keeps its reserve with the spare left "
        "out. Minutes left = usable litres left / flow, down; where the plan draws nothing, the flow it may rise to."
    )
    merged = tuple((*figure[:2], where, *figure[2:]) for figure, where in found.items())
    return Section("Checkpoints", (Table(head, merged, (0, 1, 5, 6, 7, 8, 9, 10), note),) if merged else ())


def _flow(point: Checkpoint) -> str:
    """The flow, and the one that minutes are counted with where nothing is planned to be drawn."""
    flow, counted = (figures.worked(each, 3) for each in (point.flow_l_per_min, point.counted_l_per_min))
    return (
        f"{flow} L/min"
        if point.flow_l_per_min > 0.0 or point.minutes_left is None
        else f"{flow}, risen {counted} L/min"
    )


def _whatifs(plan: Plan) -> Section:
    rows: list[tuple[str, ...]] = []
    before = ""
    for whatif in whatif_words.whatifs_by_weight(plan.whatifs):
        condition = whatif_words.whatif_condition(plan, whatif)
        rows.append(
            (
                AS_ABOVE if condition == before else condition,
                "yes" if whatif.must_hold else "no",
                whatif.supply,
                whatif_words.whatif_verdict(plan, whatif),
                _working(whatif),
            )
        )
        before = condition
    note = (
        "Holds: oxygen lasts to the end. A what-if spends the planned litres without the reserve and may use every "
        "cylinder, spare included; nothing below change-over is used. Minutes to spare = litres left / last flow, down."
    )
    head = ("If", "Must hold", "Supply", "Result", "Working")
    return Section("What-ifs", (Table(head, tuple(rows), (), note),) if rows else ())


def _margins(plan: Plan) -> Section:
    texts = list(words.breaking_delay_sentences(plan))
    texts += words.choices(plan)
    if texts:
        texts.append("A delay is at the last flow of its leg, and every cylinder counts, spare included.")
        texts.append(
            "Turning back goes over the legs done in reverse, each on its own supply, for the time spent in it; a "
            "diversion takes its own time and then the handover time. Spare withheld."
        )
    return Section("Delay and turning back", tuple(Text(text) for text in texts))


def _working(whatif: WhatIf) -> str:
    flow = whatif.last_flow_l_per_min
    if flow is None or whatif.litres_left is None or not whatif.holds:
        return figures.NONE
    return f"{figures.worked(whatif.litres_left)} L / {figures.worked(flow, 3)} L/min"


def _findings(plan: Plan) -> Section:
    """Every finding as a paragraph of its own, stops first."""
    found = [finding for level in ("stop", "caution", "note") for finding in words.findings_at(plan, level)]
    return Section(
        "Findings",
        tuple(Text(words.finding_sentence(finding), finding.level == "stop", apart=True) for finding in found),
    )
