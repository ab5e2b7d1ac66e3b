"""Trip to plan: the one call that a library user needs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import fsum

from planner.cylinders.course import Run
from planner.cylinders.depletion import lasting
from planner.cylinders.onhand import OnHand, on_hand
from planner.cylinders.stock import hand_usable_l
from planner.findings import all as say
from planner.findings.accepted import Decisions
from planner.flow.demand import Flow, Stretch, doubling_l, flows, ledger, stretches
from planner.go.batteries import batteries
from planner.go.checkpoints import change_overs, checkpoints, course, orders
from planner.go.departure import mending_gauges_kpa, start_at_least_kpa
from planner.go.judge import Case, case, full_counts, passes, serving_without_spare_l
from planner.go.margins import breaking_delays
from planner.go.sizing import spares, without_largest
from planner.go.turning_back import turn_backs
from planner.go.whatif import what_ifs
from planner.go.whatifs.registry import scenarios
from planner.go.whatifs.scenario import Scenario, idle_flows_l_per_min
from planner.model import Trip
from planner.problems import Finding
from planner.results import GO_BY_DECISION, CylinderPlan, Plan, SupplyPlan, WhatIf

_LEVELS = {"stop": 0, "caution": 1, "note": 2}


def plan(trip: Trip) -> Plan:
    """Work out a trip: need and means of each supply, change-overs, checkpoints, what-ifs, go or no-go.

    The trip is taken as checked (`planner.profile`). Nothing is rounded. Raises ValueError where a device lacks
    a setting that its type needs.
    """
    return _plan(trip, departing=True)


def _plan(trip: Trip, *, departing: bool) -> Plan:
    """The plan; without `departing` the readings stand for the gauges to depart with, and no checkpoint is made."""
    planned = flows(trip.legs)
    altered = scenarios(trip, planned)
    cases = _cases(trip, planned, altered)
    choices: tuple[Finding, ...] = ()
    if any(supply.store is not None for supply in trip.supplies.values()):
        from planner.store.choice import chosen  # most trips have no store

        trip, choices = chosen(trip, cases)
    if choices:
        cases = _cases(trip, planned, altered)
    stocks = {name: on_hand(supply, trip.policy) for name, supply in trip.supplies.items()}
    still = stretches(trip.legs)
    idle = idle_flows_l_per_min(trip, planned)
    courses = {name: course(stock, planned.get(name, ()), still) for name, stock in stocks.items() if stock is not None}
    rows = what_ifs(altered, stocks, trip.policy)
    names = [leg.name for leg in trip.legs]
    unfit = {name: say.unfit(cases[name], stock, names) for name, stock in stocks.items() if stock is not None}
    supplies = {
        name: _supply_plan(
            trip,
            cases[name],
            stocks[name],
            courses.get(name),
            _minutes_flow(planned.get(name, ()), idle.get(name, 0.0)),
            unfit.get(name, ()),
            departing=departing,
        )
        for name in trip.supplies
    }
    decisions = Decisions(trip.accepted)
    found = _findings(trip, cases, stocks, supplies, rows, choices, unfit, decisions)
    stopped = any(finding.level == "stop" for finding in found)
    trip = trip._replace(accepted=decisions.in_force)
    if stopped:
        supplies = {name: _without_start(one) for name, one in supplies.items()}
    elif decisions.taken:
        supplies = {name: _at_readings(one) for name, one in supplies.items()}
    elif departing:
        supplies = _safe_together(trip, supplies)
    return Plan(
        trip=trip,
        verdict="no-go" if stopped else GO_BY_DECISION if decisions.taken else "go",
        supplies=supplies,
        checkpoints=()
        if not departing
        else checkpoints(
            trip,
            planned,
            stocks,
            courses,
            {name: [one.start_at_least_kpa for one in supply.cylinders] for name, supply in supplies.items()},
            idle,
        ),
        whatifs=rows,
        findings=found,
        batteries=batteries(trip),
        breaking_delays=breaking_delays(trip, planned, stocks),
        turn_backs=turn_backs(trip, planned, stocks),
        accepted=tuple(dict.fromkeys(decisions.taken)),
    )


def _cases(trip: Trip, planned: Mapping[str, Flow], altered: Sequence[Scenario]) -> dict[str, Case]:
    return {name: case(trip, supply, planned, altered) for name, supply in trip.supplies.items()}


def _supply_plan(
    trip: Trip,
    this: Case,
    stock: OnHand | None,
    planned: Run | None,
    flow: Flow,
    unfit: Sequence[str | None],
    *,
    departing: bool,
) -> SupplyPlan:
    supply, needed = this.supply, this.needed
    out_leg = None if planned is None or planned.out_leg is None else trip.legs[planned.out_leg].name
    return SupplyPlan(
        supply=supply,
        planned_l=needed.planned_l,
        factor_reserve_l=needed.factor_reserve_l,
        time_reserve_l=needed.time_reserve_l,
        reserve_l=needed.reserve_l,
        required_l=needed.required_l,
        peak_flow_l_per_min=needed.peak_flow_l_per_min,
        doubling_l=doubling_l(trip.legs, supply.name),
        usable_l=None if stock is None else without_largest(stock.usable_l, 0),
        usable_without_spare_l=None if stock is None else without_largest(stock.usable_l, spares(supply, trip.policy)),
        serving_without_spare_l=None if stock is None else serving_without_spare_l(this, stock),
        ledger=ledger(trip.legs, supply.name),
        cylinders=() if stock is None else _cylinders(trip, this, stock, unfit, departing=departing),
        full_cylinders=full_counts(this, supply.sizes) if supply.kind != "pipeline" else (),
        order=() if stock is None or planned is None or not flow else orders(stock, planned),
        change_overs=() if stock is None or planned is None else change_overs(stock, planned, trip.legs),
        lasts_min=None if stock is None or not flow else _lasts_min(stock, flow, this.stretches),
        planned_left_l=None if planned is None else fsum(planned.left_l),
        runs_out_min=None if planned is None else planned.out_min,
        runs_out_leg=out_leg,
        waiting=() if stock is None or planned is None else _waiting(stock, planned),
    )


def _minutes_flow(flow: Flow, idle_l_per_min: float) -> Flow:
    """The flow that minutes are counted with: the risen one at the end where nothing is planned there."""
    if not flow or flow[-1].flow_l_per_min > 0.0 or idle_l_per_min <= 0.0:
        return flow
    return (*flow[:-1], flow[-1]._replace(flow_l_per_min=idle_l_per_min))


def _lasts_min(stock: OnHand, flow: Flow, stretches: Sequence[Stretch]) -> float | None:
    return lasting(stock.tanks, flow, stretches, serving=stock.serving)


def _waiting(stock: OnHand, planned: Run) -> tuple[str, ...]:
    return tuple(label for tank in planned.order if (label := stock.label_of(tank)) is not None)


def _cylinders(
    trip: Trip, this: Case, stock: OnHand, unfit: Sequence[str | None], *, departing: bool
) -> tuple[CylinderPlan, ...]:
    least: list[float | None] = [one.gauge_kpa for one in this.supply.cylinders]
    go_at: list[float | None] = [None] * len(stock.each)
    if departing:
        least = start_at_least_kpa(this, stock)
        go_at = go_at if passes(this, stock) else mending_gauges_kpa(this, stock)
    return tuple(
        CylinderPlan(
            cylinder=cylinder,
            contents_l=held.contents_l,
            residual_l=held.residual_l,
            usable_l=tank.usable_l,
            hand_usable_l=hand_usable_l(cylinder, trip.policy),
            read_degc=held.read_degc,
            cold_degc=held.cold_degc,
            serves=unfit[index] is None or any(tank.serves(segment.asks) for segment in this.flow),
            unfit=unfit[index],
            start_at_least_kpa=least[index],
            go_at_kpa=go_at[index],
            change_at_kpa=held.change_at_kpa(trip.policy.change_over_at_kpa),
        )
        for index, (cylinder, held, tank) in enumerate(
            zip(this.supply.cylinders, stock.helds, stock.each, strict=False)
        )
    )


def _safe_together(trip: Trip, supplies: Mapping[str, SupplyPlan]) -> dict[str, SupplyPlan]:
    """The supplies with gauges to depart with that are safe together: the whole trip planned at these is go.

    Where it is not, supplies are lowered one after another, those before already lowered, and the readings are the
    figures of each with which it no longer is.
    """
    if _plan(_departing(trip, supplies), departing=False).go:
        return dict(supplies)
    kept = {name: _at_readings(supply) for name, supply in supplies.items()}
    for name, supply in supplies.items():
        lowered = {**kept, name: supply}
        if _plan(_departing(trip, lowered), departing=False).go:
            kept = lowered
    return kept


def _departing(trip: Trip, supplies: Mapping[str, SupplyPlan]) -> Trip:
    """The trip with every cylinder at its gauge to depart with; what was chosen from a store is on hand."""
    return trip._replace(
        supplies={
            name: supply.supply._replace(
                store=None,
                cylinders=tuple(
                    one.cylinder
                    if one.start_at_least_kpa is None
                    else one.cylinder._replace(gauge_kpa=one.start_at_least_kpa)
                    for one in supply.cylinders
                ),
            )
            for name, supply in supplies.items()
        }
    )


def _at_readings(supply: SupplyPlan) -> SupplyPlan:
    return supply._replace(
        cylinders=tuple(one._replace(start_at_least_kpa=one.cylinder.gauge_kpa) for one in supply.cylinders)
    )


def _without_start(supply: SupplyPlan) -> SupplyPlan:
    """A no-go has no gauges to depart with, whatever it is that stops it."""
    return supply._replace(cylinders=tuple(one._replace(start_at_least_kpa=None) for one in supply.cylinders))


def _findings(
    trip: Trip,
    cases: dict[str, Case],
    stocks: dict[str, OnHand | None],
    supplies: Mapping[str, SupplyPlan],
    rows: tuple[WhatIf, ...],
    choices: tuple[Finding, ...],
    unfit: Mapping[str, Sequence[str | None]],
    decisions: Decisions,
) -> tuple[Finding, ...]:
    missing = say.missing_outlets(cases, stocks)
    found = [*say.of_missing_outlets(trip, missing), *choices]
    found += [*say.of_zero_flow(trip, cases), *say.of_empty(trip, cases, stocks)]
    found += decisions.on_cabin(say.of_trip(trip))
    found += say.of_batteries(trip, batteries(trip))
    for name, supply in trip.supplies.items():
        this, stock = cases[name], stocks[name]
        told = [*say.of_backup(trip, supply, cases, stocks)]
        if stock is not None:
            told += say.of_order(this, stock)
            told += say.of_need(this, stock, supplies[name])
            told += say.of_outlets(supply, this, stock, unfit[name])
        told = list(say.without_consequences(told, supply, missing))
        found += told if stock is None else decisions.on_need(told, this, stock)
        if stock is None:
            continue
        found += say.of_first(trip, this, stock, supplies[name])
        found += say.of_changes(supply, supplies[name].change_overs)
    for row in say.rows_apart(rows, missing):
        found += decisions.on_what_if(say.of_what_ifs(trip, (row,), supplies), trip, row)
    found += decisions.unneeded(cases, stocks, rows)
    found += say.of_arrival(trip)
    return tuple(sorted(dict.fromkeys(found), key=lambda finding: _LEVELS[finding.level]))
