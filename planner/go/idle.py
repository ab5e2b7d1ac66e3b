"""What oxygen is carried for though nothing draws it as planned, at any minute of the way.

A patient at zero flow who may get worse, on a concentrator that may fail, or on a ventilator or blend at FiO2 0.21,
adds nothing to the planned litres of a supply and so nothing to a reserve by factor or time. Beside another patient who
does draw, the rest of the way must still carry that case, from whatever minute on:

    litres at a minute = the most that the case draws from then to the end, over every later minute at which it begins

As in every what-if the spare counts and the reserve does not.
"""

from __future__ import annotations

from collections.abc import Sequence

from planner.flow.devices import demand_l_per_min
from planner.flow.flows import rest
from planner.go.totals import most_drawn_l
from planner.go.whatifs.registry import scenarios
from planner.go.whatifs.scenario import Scenario
from planner.model import Device, Trip


def idle_cases(trip: Trip) -> dict[str, tuple[Scenario, ...]]:
    """The cases that must hold on each supply of who draws nothing from it as planned.

    Supplies without any are left out, and so is what a clinician accepts.
    """
    found: dict[str, tuple[Scenario, ...]] = {}
    idle = [use for leg in trip.legs for use in leg.uses if demand_l_per_min(use.device) <= 0.0]
    if not idle:
        return found
    accepted = {(each.what, each.supply) for each in trip.accepted}
    for scenario in scenarios(trip):
        asked = scenario.name in trip.policy.must_hold and (scenario.name, scenario.supply) not in accepted
        if asked and any(use.supply == scenario.supply and _befalls(scenario, use.device) for use in idle):
            found[scenario.supply] = (*found.get(scenario.supply, ()), scenario)
    return found


def _befalls(scenario: Scenario, device: Device) -> bool:
    """True where a case is about a device: its patient gets worse, it or its battery fails, or its air is gone."""
    if scenario.name == "deterioration":
        return device.may_rise_to is not None and device.patient == scenario.patient
    if scenario.device is not None:
        return device.name in scenario.device.split(", ")
    return scenario.name == "air_lost" and device.air is not None


def _from_minute(scenario: Scenario, minute: float) -> Scenario:
    """What is still to come of a case at an elapsed minute."""
    before, after, again = (rest(flow, minute) for flow in (scenario.before, scenario.after, scenario.again))
    return scenario._replace(before=before, after=after, again=again)


def idle_l(cases: Sequence[Scenario], minute: float) -> float:
    """Litres that must be there at an elapsed minute for the greatest of the cases; 0 without any."""
    return max((most_drawn_l(_from_minute(case, minute)) for case in cases), default=0.0)
