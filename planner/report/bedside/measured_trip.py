"""What a measured flow does to a plan: as planned, at the flow measured, and at the highest it may be."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from planner import figures
from planner.flow.raised import PlannedFlow
from planner.report import words
from planner.report.fields import fields, findings_result
from planner.report.screen import table, wrap
from planner.results import Plan

PLANNED, MEASURED, HIGHEST = "planned", "measured", "highest"
_NAMES = {PLANNED: "as planned", MEASURED: "measured flow", HIGHEST: "highest flow"}


@dataclass(frozen=True, slots=True)
class MeasuredPlan:
    """A plan of the trip: `name` is planned, measured or highest; `flow_l_per_min` None as planned."""

    name: str
    flow_l_per_min: float | None
    plan: Plan


@dataclass(frozen=True, slots=True)
class Replanned:
    """A trip planned again with a measured flow on one supply.

    `legs` are the legs that the measured flow holds for, as planned. `rows` holds the plan as it stands, and after it
    those at the measured and at the highest flow where these raise it. `told` is False where the gauge could not
    tell, so that nothing was raised; `capacity_in_doubt` True where the highest flow rests on the largest label.
    """

    supply: str
    legs: tuple[PlannedFlow, ...]
    rows: tuple[MeasuredPlan, ...]
    told: bool
    capacity_in_doubt: bool

    @property
    def decides(self) -> Plan:
        """The plan whose verdict counts, with its reserve: at the measured flow, else as planned."""
        return next(row.plan for row in reversed(self.rows) if row.name != HIGHEST)

    @property
    def runs_out_min(self) -> float | None:
        """When oxygen runs out at the highest flow, as in a what-if: without reserve, every cylinder used."""
        return self.rows[-1].plan.supplies[self.supply].runs_out_min

    @property
    def gas(self) -> str:
        """What the supply holds."""
        return self.rows[0].plan.trip.supplies[self.supply].gas

    @property
    def go(self) -> bool:
        """Go at the measured flow, and its gas lasts to the end at the highest."""
        return self.decides.go and self.runs_out_min is None


def replanned_lines(again: Replanned) -> list[str]:
    """The trip with the measured flow, for the screen."""
    trip = again.rows[0].plan.trip
    lines = _verdict(again)
    lines += wrap(f"{trip.name}, supply {again.supply}, {figures.minutes_up(trip.total_min)} in all", "Trip: ", "  ")
    head = ("Planned with", "Flow", "Planned", "Required", "Have", "Lasts", "Outcome")
    lines += table(head, [_cells(again.supply, row) for row in again.rows], frozenset({1, 2, 3, 4, 5}))
    lines += _raised(again)
    if not again.decides.go:
        for number, reason in enumerate(words.reasons(again.decides), start=1):
            lines += wrap(words.sentence(reason.text), f"{number:>3}. ")
            lines += wrap(words.sentence(reason.fix), "     Fix: ", " " * 10) if reason.fix else []
    return lines


def _verdict(again: Replanned) -> list[str]:
    """What the measured flow makes of the plan; nothing where the gauge could not tell."""
    if not again.told:
        return []
    if len(again.rows) == 1:
        return wrap(f"{words.verdict(again.decides)} as planned: the measured flow is below it and changes nothing.")
    if again.go:
        if again.decides.by_decision:
            lines = wrap(
                f"GO BY DECISION at the measured flow, within what is accepted; {again.gas} lasts at the highest."
            )
            return lines + [line for text in words.decisions(again.decides) for line in wrap(text, "  ")]
        return wrap(f"GO: the plan holds with its reserve at the measured flow, and {again.gas} lasts at the highest.")
    if not again.decides.go:
        return wrap("NO-GO: the plan does not hold at the measured flow.")
    return wrap(
        f"NO-GO: {again.gas} may run out, for it does not last at the highest flow. Fix: add a cylinder, or narrow the "
        "range: watch for longer, give the cylinder's label (--contents), both temperatures, or what the gauge can be "
        "read to (--resolution)."
    )


def _cells(supply: str, row: MeasuredPlan) -> tuple[str, ...]:
    planned = row.plan.supplies[supply]
    outcome = words.verdict(row.plan)
    if row.name == HIGHEST:
        outcome = "lasts to the end"
        if planned.runs_out_min is not None:
            outcome = f"RUNS OUT at {figures.minutes_down(planned.runs_out_min)}"
    return (
        _NAMES[row.name],
        figures.NONE if row.flow_l_per_min is None else figures.flow_up(row.flow_l_per_min),
        figures.need_l(planned.need.planned_l),
        figures.NONE if row.name == HIGHEST else figures.need_l(planned.need.required_l),
        figures.supply_l_or_none(planned.usable_l if row.name == HIGHEST else planned.serving_without_spare_l),
        figures.minutes_down_or_none(planned.lasts_min),
        outcome,
    )


def _raised(again: Replanned) -> list[str]:
    if not again.told:
        return wrap("The gauge cannot tell, so no flow is raised and the plan stands as it is.", "  ")
    lines = []
    if again.gas == "air":
        lines += wrap(
            "Air above plan is taken as a leak. It may also be a blend turned down, to less oxygen for the patient: "
            "read the FiO2. When the air ends, the blend takes oxygen in its place: the what-if air_lost counts that.",
            "  ",
        )
    last = again.rows[-1].flow_l_per_min
    raised = [leg for leg in again.legs if last is not None and leg.lowest_l_per_min < last]
    if raised:
        texts = [f"leg {leg.leg + 1} ({leg.name}) from {_flows(leg)}" for leg in raised]
        lines += wrap(f"Raised: {', '.join(texts)}.", "  ", "    ")
    if len(raised) < len(again.legs):
        lines += wrap("What plans more stands: a measured flow never lowers a planned flow by itself.", "  ")
    if again.rows[-1].name == HIGHEST:
        text = (
            "The highest flow is tried as a what-if: without the reserve, with every cylinder, spare included. It "
            f"decides when {again.gas} may run out."
        )
        if again.capacity_in_doubt:
            text += (
                " It takes the cylinder for the largest of its size, and the litres of the plan are those of the "
                "factor: the label (--contents here, contents: in the profile) settles both."
            )
        lines += wrap(text, "  ")
    return lines


def _flows(leg: PlannedFlow) -> str:
    """What a leg plans; where it plans several flows, all rise by what the lowest lacks."""
    lowest = figures.flow_up(leg.lowest_l_per_min)
    if leg.highest_l_per_min == leg.lowest_l_per_min:
        return lowest
    return f"{lowest}, its other flows up to {figures.flow_up(leg.highest_l_per_min)} by as much"


def replanned_result(again: Replanned) -> dict[str, Any]:
    """The same as plain dictionaries and lists, unrounded.

    `verdict` is go if the plan at the measured flow is, and oxygen lasts at the highest; that one has no verdict of
    its own, for it is tried without the reserve.
    """
    trip = again.rows[0].plan.trip
    return {
        "file": trip.file,
        "trip": trip.name,
        "supply": again.supply,
        "legs": [
            {
                "leg": leg.name,
                "number": leg.leg + 1,
                "lowest_planned_l_per_min": leg.lowest_l_per_min,
                "highest_planned_l_per_min": leg.highest_l_per_min,
            }
            for leg in again.legs
        ],
        "verdict": again.decides.verdict if again.go else "no-go",
        "plans": [
            {
                "planned_with": row.name,
                "flow_l_per_min": row.flow_l_per_min,
                "verdict": None if row.name == HIGHEST else row.plan.verdict,
                **fields(supply.need, "planned_l", "required_l"),
                **fields(supply, "usable_l", "usable_without_spare_l", "lasts_min", "runs_out_min"),
                "findings": findings_result(row.plan.findings),
            }
            for row in again.rows
            for supply in (row.plan.supplies[again.supply],)
        ],
    }
