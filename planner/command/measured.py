"""The verb `measured-flow`: the flow from two readings of a gauge, and what it does to a plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from planner.bedside.lasts import lasting
from planner.bedside.measured_options import (
    MeasuredGiven,
    OnTrip,
    Watched,
    read_on_trip,
    read_watched,
    tell_rise,
    tell_too_fast,
)
from planner.bedside.options import FLOW, OptionReader
from planner.command.answer import FORMATS, bedside_policy, give, present, pressure_unit, refuse
from planner.command.telling import GO, NO_GO, PROBLEMS, tell_problems, worst_code
from planner.cylinders.fall import Doubt
from planner.cylinders.gauge_doubt import gauge_scale_kpa, half_division_kpa, water_capacities_l
from planner.cylinders.measured import Measured, measure, watch_min
from planner.figures import flow_as_printed
from planner.findings.supply import plausible_gauge
from planner.flow.raised import planned_flows, raised
from planner.model import Policy, Trip
from planner.planning import plan
from planner.problems import ProblemsError
from planner.profile.read import read_trip
from planner.report.bedside.measured import MeasuredFlow, measured_lines, measured_result
from planner.report.bedside.measured_trip import HIGHEST, MEASURED, PLANNED, MeasuredPlan, Replanned
from planner.text import wall_clock
from planner.text.wall_clock import PresentMoment


def answer_measured(words: Sequence[str], given: MeasuredGiven) -> int:
    """Reads the options, measures, plans the trip again if one is given, and gives the exit code.

    `words` are what stood on the command line without an option.
    """
    options, now = OptionReader(), present()
    options.leftover(words)
    watched = read_watched(options, given, now)
    planned = options.quantity("--planned-flow", given.planned_flow, FLOW)
    change_over = options.quantity("--change-over-at", given.change_over_at, "change_over_at")
    formats = options.choices("--format", given.form, FORMATS)
    trip, code = _read(given.trip)
    on_trip = read_on_trip(options, given, trip)
    if options.problems or code or watched is None:
        return worst_code((code, refuse(options, "measured-flow") if options.problems else code))
    policy = bedside_policy(change_over, pressure_unit(given.from_gauge or ""))
    if trip is not None:
        policy = trip.policy._replace(pressure_unit=policy.pressure_unit)
    measured = measure(watched.readings, _doubt(watched, given, policy))
    if watched.readings.to_gauge_kpa > watched.readings.from_gauge_kpa and measured.litres <= 0.0:
        tell_rise(options, given, measured)
    elif measured.flow_l_per_min > (FLOW.high or 0.0):
        tell_too_fast(options, given, measured)
    if options.problems:
        return refuse(options, "measured-flow")
    found = _found(watched, measured, given, policy, now, planned if planned is not None else _planned(on_trip))
    if on_trip is not None:
        found = replace(found, replanned=_replanned(on_trip, measured))
    code = give(formats, measured_lines(found), measured_result(found))
    no_go = found.replanned is not None and not found.replanned.go
    return worst_code((code, NO_GO if no_go else GO))


def _read(path: str | None) -> tuple[Trip | None, int]:
    """The trip, if one is named and has no problems, and the exit code; its problems are told at once."""
    if path is None:
        return None, GO
    try:
        return read_trip(path), GO
    except ProblemsError as error:
        tell_problems(error.problems, path, "nothing worked out")
        return None, PROBLEMS


def _doubt(watched: Watched, given: MeasuredGiven, policy: Policy) -> Doubt:
    """How far off the readings may be: as given, else by the trip's policy, else as assumed."""
    cylinder = watched.cylinder
    first, second = (
        watched.resolution_kpa or half_division_kpa(pressure_unit(text or ""))
        for text in (given.from_gauge, given.to_gauge)
    )
    return Doubt(
        first_reading_kpa=first,
        second_reading_kpa=second,
        gauge_scale_kpa=gauge_scale_kpa(cylinder, policy),
        largest_water_capacity_l=water_capacities_l((cylinder,))[1],
        minutes=watched.doubt_min,
    )


def _planned(on_trip: OnTrip | None) -> float | None:
    """The planned flow to compare with, where all legs meant plan the same one throughout."""
    if on_trip is None:
        return None
    flows = planned_flows(on_trip.trip, on_trip.supply, on_trip.legs)
    found = {flow for leg in flows for flow in (leg.lowest_l_per_min, leg.highest_l_per_min)}
    return found.pop() if len(found) == 1 else None


def _found(
    watched: Watched,
    measured: Measured,
    given: MeasuredGiven,
    policy: Policy,
    now: PresentMoment,
    planned: float | None,
) -> MeasuredFlow:
    cylinder, readings = watched.cylinder, watched.readings
    read_at = None if watched.ended is None else wall_clock.moment_of(watched.ended, now)
    watch_flow = planned if planned is not None else measured.flow_l_per_min
    seek = not measured.tells and (FLOW.low or 0.0) <= watch_flow
    fastest = max(measured.highest_same_capacity_l_per_min, planned or 0.0)
    left, minutes = None, 0.0
    if fastest >= (FLOW.low or 0.0):
        least_kpa = max(0.0, readings.to_gauge_kpa - measured.doubt.second_reading_kpa)
        now_in_it = cylinder._replace(gauge_kpa=least_kpa, temperature_degc=readings.to_degc)
        left = lasting(now_in_it, fastest, policy)
        minutes = left.usable_l / flow_as_printed(fastest)
    moment = read_at or now.moment
    until = policy.change_over_at_kpa + policy.gauge_allowance_kpa
    return MeasuredFlow(
        cylinder=cylinder,
        measured=measured,
        unit=policy.pressure_unit,
        read_at=moment,
        left=left,
        ends=None if left is None else wall_clock.later(moment, minutes, now),
        planned_l_per_min=planned,
        watch_flow_l_per_min=watch_flow if seek else None,
        watch_min=watch_min(readings, measured.doubt, watch_flow, until) if seek else None,
        resolution_given=given.resolution is not None,
        scale_given=given.gauge_scale is not None or policy.gauge_scale_kpa is not None,
        findings=tuple(plausible_gauge("The cylinder", cylinder, policy)),
    )


def _replanned(on_trip: OnTrip, measured: Measured) -> Replanned:
    """The trip as planned, and at the measured and the highest flow where these raise it."""
    trip, supply, legs = on_trip.trip, on_trip.supply, on_trip.legs
    planned = planned_flows(trip, supply, legs)
    rows = [MeasuredPlan(PLANNED, None, plan(trip))]
    for name, flow in ((MEASURED, measured.flow_l_per_min), (HIGHEST, measured.highest_l_per_min)):
        if measured.tells and any(leg.lowest_l_per_min < flow for leg in planned):
            rows.append(MeasuredPlan(name, flow, plan(raised(trip, supply, flow, legs))))
    in_doubt = measured.doubt.largest_water_capacity_l > measured.readings.water_capacity_l
    return Replanned(supply, planned, tuple(rows), measured.tells, in_doubt)
