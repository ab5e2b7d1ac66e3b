"""Trip to plan: the one call that a library user needs."""

from __future__ import annotations

from collections.abc import Mapping

from planner.cylinders.onhand import OnHand
from planner.cylinders.stock import hand_usable_l
from planner.findings.accepted import Decisions
from planner.findings.all import findings
from planner.findings.outcome import unfit
from planner.flow.flows import doubling_l, flows, ledger
from planner.go.accepted import eased
from planner.go.batteries import batteries, battery_checks
from planner.go.between import between
from planner.go.changes import changes
from planner.go.checkpoints import change_overs, checkpoints, orders
from planner.go.departure import mending_gauges_kpa, start_at_least_kpa
from planner.go.gauges import Gauges
from planner.go.idle import idle_cases
from planner.go.judge import full_counts, tasks_of
from planner.go.margins import breaking_delays
from planner.go.sizing import spares, without_largest
from planner.go.turning_back import turn_backs
from planner.go.vessel import amount_kg, start_at_least_kg
from planner.go.whatif import what_ifs
from planner.go.whatifs.registry import scenarios
from planner.go.whatifs.scenario import idle_flows_l_per_min
from planner.go.worked import Worked, worked
from planner.model import Trip
from planner.problems import Finding
from planner.results import GO_BY_DECISION, CylinderPlan, Plan, SupplyPlan


def plan(trip: Trip) -> Plan:
    """Work out a trip: need and means of each supply, change-overs, checkpoints, what-ifs, go or no-go.

    The trip is taken as checked (`planner.profile`). Nothing is rounded. Raises ValueError where a device lacks
    a setting that its type needs.
    """
    made, every = _judged(trip)
    trip, supplies = made.trip, _departing(made, every)
    change_overs = {name: supply.change_overs for name, supply in supplies.items()}
    idle = idle_cases(trip)
    gauges = {
        name: Gauges(
            one.stock,
            eased(trip, name, one.flow),
            one.task.no_change,
            supplies[name].start_kpa,
            supplies[name].start_at_least_kg,
            idle.get(name, ()),
        )
        for name, one in every.items()
        if one.stock is not None
    }
    return made._replace(
        supplies=supplies,
        checkpoints=checkpoints(trip, every, gauges),
        batteries=batteries(trip),
        battery_checks=tuple(battery_checks(trip)),
        breaking_delays=breaking_delays(trip, every),
        turn_backs=turn_backs(trip, every),
        between=between(trip, every, gauges, change_overs),
    )


def _judged(trip: Trip) -> tuple[Plan, dict[str, Worked]]:
    """A plan with all that decides its verdict, and each supply worked out.

    Its trip has what was chosen from a store, and of the acceptances those in force; no supply has gauges to depart
    with yet.
    """
    planned = flows(trip.legs)
    altered = scenarios(trip, planned)
    tasks = tasks_of(trip, planned, altered)
    choices: tuple[Finding, ...] = ()
    if any(supply.store is not None for supply in trip.supplies.values()):
        from planner.store.choice import chosen  # most trips have no store

        trip, choices = chosen(trip, tasks)
        tasks = tasks_of(trip, planned, altered)
    every = worked(tasks, idle_flows_l_per_min(trip, planned))
    supplies = {name: _supply_plan(trip, one) for name, one in every.items()}
    on = {name: (one.stock, one.way) for name, one in every.items() if one.stock is not None}
    rows = what_ifs(altered, on, trip.policy)
    made = Plan(trip, "no-go", supplies, (), rows, changes=changes(trip, supplies))
    decisions = Decisions(trip.accepted)
    made = made._replace(findings=findings(made, every, choices, decisions))
    accepted = tuple(dict.fromkeys(decisions.taken))
    if not any(each.level == "stop" for each in made.findings):
        made = made._replace(verdict=GO_BY_DECISION if accepted else "go")
    return made._replace(trip=trip._replace(accepted=decisions.in_force), accepted=accepted), every


def _supply_plan(trip: Trip, one: Worked) -> SupplyPlan:
    supply, stock, course = one.task.supply, one.stock, one.course
    found = SupplyPlan(
        supply=supply,
        need=one.task.need,
        doubling_l=doubling_l(trip.legs, supply.name),
        ledger=ledger(trip.legs, supply.name),
        full_cylinders=full_counts(one.task, supply.sizes) if supply.kind != "pipeline" else (),
    )
    if stock is None:
        return found
    return found._replace(
        usable_l=without_largest(stock.usable_l, 0),
        usable_without_spare_l=without_largest(stock.usable_l, spares(supply, trip.policy)),
        serving_without_spare_l=one.serving_without_spare_l,
        cylinders=_cylinders(trip, one, stock),
        order=orders(stock, course),
        change_overs=change_overs(stock, course, one.flow, trip.legs),
        lasts_min=one.lasts_min,
        departs_with_kg=None if supply.liquid is None else amount_kg(trip, supply.liquid, (), 0.0),
        runs_out_min=course.out_min,
        runs_out_leg=None if course.out_leg is None else trip.legs[course.out_leg].name,
        waiting=one.waiting,
        way=tuple(one.way),
    )


def _cylinders(trip: Trip, one: Worked, stock: OnHand) -> tuple[CylinderPlan, ...]:
    reasons = unfit(one.task, stock, [leg.name for leg in trip.legs])
    go_at_kpa = [None] * len(stock.each) if one.passes else mending_gauges_kpa(one.task, stock)
    return tuple(
        CylinderPlan(
            cylinder=cylinder,
            contents_l=held.contents_l,
            residual_l=held.residual_l,
            usable_l=tank.usable_l,
            hand_usable_l=hand_usable_l(cylinder, trip.policy),
            read_degc=held.read_degc,
            cold_degc=held.cold_degc,
            serves=why is None or any(tank.serves(segment.asks) for segment in one.flow),
            unfit=why,
            start_at_least_kpa=None,
            go_at_kpa=go_at,
            change_at_kpa=held.change_at_kpa(trip.policy.change_over_at_kpa),
        )
        for cylinder, held, tank, why, go_at in zip(
            stock.supply.cylinders, stock.helds, stock.each, reasons, go_at_kpa, strict=False
        )
    )


def _departing(made: Plan, every: Mapping[str, Worked]) -> dict[str, SupplyPlan]:
    """The supplies with their gauges to depart with; those of a no-go have none.

    They are safe together: what stops a trip asks of each supply by itself. Of a go by decision the readings are the
    figures.
    """
    found = dict(made.supplies)
    for name, supply in made.supplies.items() if made.go else ():
        least: list[float | None] = [one.cylinder.gauge_kpa for one in supply.cylinders]
        least_kg = supply.departs_with_kg
        if not made.by_decision:
            least, least_kg = start_at_least_kpa(every[name]), start_at_least_kg(made.trip, every[name])
        pairs = zip(supply.cylinders, least, strict=False)
        cylinders = tuple(one._replace(start_at_least_kpa=gauge) for one, gauge in pairs)
        found[name] = supply._replace(cylinders=cylinders, start_at_least_kg=least_kg)
    return found
