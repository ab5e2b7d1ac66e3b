"""The lines of the card that do not count litres: what to do on failure.

They stand in `planner/trade/data/checklists.csv` with their conditions and sources; the service's own procedure comes
first.
"""

from __future__ import annotations

from typing import NamedTuple

from planner import figures
from planner.flow.devices import demand_l_per_min
from planner.go.whatifs.registry import kind
from planner.model import Device
from planner.report import whatif_words, words
from planner.report.checklist.facts import Facts, trip_facts
from planner.report.checklist.items import fixed_supplies, items, lost_text
from planner.report.minutes_table import resuscitator_flow_l_per_min
from planner.results import Plan, WhatIf
from planner.trade.policy_table import what_if_names

DEVICE_FAILS = tuple(name for name in what_if_names() if kind(name).device_fails)
"""What-ifs in which another device takes over, whose flow the line names."""
OUTCOMES = (
    *DEVICE_FAILS,
    "cylinder_lost",
    "vehicle_supply_lost",
    "air_lost",
)
"""What-ifs whose outcome a failure line may name."""


class Failure(NamedTuple):
    """What has failed, and what to do."""

    title: str
    text: str


def failures(plan: Plan) -> tuple[Failure, ...]:
    """Actions on failure of ventilator or other device, regulator or cylinder, and vehicle supply."""
    facts = trip_facts(plan)
    told = {name: _outcomes(plan, name) for name in OUTCOMES}
    lost = {lost_text(name): _outcomes(plan, "vehicle_supply_lost", name) for name, _ in fixed_supplies(plan)}
    known = Facts(facts.words, {**facts.texts, **told, **lost})
    return tuple(Failure(item.ask, item.answer) for item in items(plan, "failure", known))


def _outcomes(plan: Plan, name: str, lost: str | None = None) -> str:
    """What the what-if says, `cart lasts 57 min past the end, ambulance RUNS OUT 61 min after departure`, or nothing.

    With `lost`, only where that supply is the one that is lost.
    """
    parts = []
    for whatif in plan.whatifs:
        if whatif.name != name or lost not in (None, whatif.lost_supply):
            continue
        if whatif.holds and whatif.minutes_to_spare is not None:
            at = rate(plan, whatif) if name in DEVICE_FAILS else ""
            parts.append(f"{whatif.supply} lasts {whatif_words.to_spare(whatif)} past the end{at}")
        elif whatif.holds:
            parts.append(f"{whatif.supply} lasts")
        elif whatif.runs_out_min is not None:
            has = "has " if whatif_words.misfit_ends_it(whatif) else ""
            ending = f"{has}{whatif_words.ending(whatif)}"
            parts.append(f"{whatif.supply} {ending} {words.moment(plan, whatif.runs_out_min)}")
        else:
            parts.append(f"{whatif.supply} does NOT last")
    case = "Worst to lose" if name == "cylinder_lost" else "Worst case"
    return f" {case}: {', '.join(parts)}." if parts else ""


def rate(plan: Plan, whatif: WhatIf) -> str:
    """At which flow minutes to spare are counted, where the line names another: as where failing late is the worst."""
    flow = whatif.last_flow_l_per_min
    told = {resuscitator_flow_l_per_min(plan)}
    told |= {demand_l_per_min(other) for device in plan.trip.devices.values() if (other := _stand_in(plan, device))}
    if flow is None or any(abs(flow - other) < 0.05 for other in told):
        return ""
    return f" at {figures.flow_up(flow)}"


def _stand_in(plan: Plan, device: Device) -> Device | None:
    return plan.trip.devices.get(device.if_it_fails or "")
