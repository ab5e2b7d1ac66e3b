"""What of the readings is in doubt when a trip is planned again on its way, and is counted at its least.

- A label that may be a slip (`planner.afterwards.slips`): the supply is taken as it is written or as it would be with
  the other label, whichever leaves less.
- Less used than planned: either the patient did not get it, or it came out of a cylinder that nobody read. What was
  not read on the way counts as spent where its turn is over by the plan, else as what it is to have at its end.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import fsum
from typing import NamedTuple

from planner.afterwards.falls import Fall, act_excess_l_per_min, every_fall, expected_of, idle_losses
from planner.afterwards.gauged import Gauged
from planner.afterwards.in_use import gauged
from planner.afterwards.logbook import Logbook
from planner.afterwards.rest import rest_trip
from planner.afterwards.schedule import real_legs, written_flows
from planner.afterwards.slips import slips
from planner.afterwards.stretches import overall, stretches_of
from planner.afterwards.supply_now import State
from planner.afterwards.vessels import amounts, vessel_falls
from planner.constants import MINUTE_NOISE, SAME_L
from planner.cylinders.onhand import on_hand
from planner.flow.flows import flows
from planner.model import Leg, Supply, Trip
from planner.results import Plan


class Doubts(NamedTuple):
    """Readings in doubt: supply, label and the other cylinder's; and supplies of which less was used than planned."""

    labels: tuple[tuple[str, str, str], ...]
    less: tuple[str, ...]


class Seen(NamedTuple):
    """A trip as its log has it, and by how much each supply was seen to flow above plan, L/min."""

    state: State
    excess_l_per_min: Mapping[str, float]


def state_of(
    plan: Plan,
    log: Logbook,
    known: Mapping[str, Gauged],
    bounds: tuple[Sequence[float], Sequence[float]],
    at_min: float,
) -> tuple[State, dict[str, list[Fall]]]:
    """A trip as its log has it, and the falls of each supply. `bounds`: of its legs as they went, and at the latest."""
    went, late = (real_legs(plan.trip.legs, each) for each in bounds)
    vessels = amounts(plan.trip, log)
    falls = every_fall(went, late, log, known) | vessel_falls(plan.trip, vessels, expected_of(went, late, log))
    return State(plan.trip, *bounds, known, log.entries, at_min, idle_losses(falls), vessels), falls


def seen_by(plan: Plan, log: Logbook, bounds: Sequence[float], at_min: float) -> Seen:
    """A trip as a log has it. `bounds`: when the legs really began, and the end."""
    state, falls = state_of(plan, log, gauged(plan, log), (bounds, bounds), at_min)
    return Seen(state, {name: act_excess_l_per_min(each) for name, each in falls.items()})


def least_rest(
    plan: Plan, log: Logbook, seen: Seen, gone: Sequence[Leg]
) -> tuple[Trip, tuple[Leg, ...], Mapping[str, float], Doubts]:
    """The rest of a trip with what is in doubt at its least, the legs gone, each excess counted, and the doubts."""
    bounds, at_min = seen.state.bounds, seen.state.now_min
    found = [slip for whole in seen.state.gauged.values() for slip in slips(plan, log, whole)]
    others = [(slip, seen_by(plan, slip.log, bounds, at_min)) for slip in found]
    excess = dict(seen.excess_l_per_min)
    for slip, other in others:
        excess[slip.supply] = max(excess.get(slip.supply, 0.0), other.excess_l_per_min.get(slip.supply, 0.0))
    less = _less(plan, log, seen.state)
    rest, back = rest_trip(seen.state, excess, gone)
    supplies = {name: _least(plan, seen.state, one) if name in less else one for name, one in rest.supplies.items()}
    labels = []
    for slip, other in others:
        name = slip.supply
        one = rest_trip(other.state, excess, gone)[0].supplies[name]
        if _less(plan, slip.log, other.state).count(name):
            one = _least(plan, other.state, one)
        if _usable_l(rest, one) < _usable_l(rest, supplies[name]) - SAME_L:
            labels.append((name, slip.read, slip.meant))
            supplies[name] = one
    return rest._replace(supplies=supplies), back, excess, Doubts(tuple(dict.fromkeys(labels)), less)


def _usable_l(trip: Trip, supply: Supply) -> float:
    stock = on_hand(supply, trip.policy)
    return 0.0 if stock is None else fsum(tank.usable_l for tank in stock.tanks)


def _less(plan: Plan, log: Logbook, state: State) -> tuple[str, ...]:
    """Supplies that gave less than planned and logged, over some time between readings or all of it."""
    legs = real_legs(plan.trip.legs, state.bounds)
    planned = flows(legs)
    written = written_flows(legs, log.entries) if log.tells_flows else {}
    found = []
    for name, whole in state.gauged.items():
        flow, logged = planned.get(name, ()), written.get(name)
        every = [*stretches_of(whole, flow, logged), overall(whole, flow, logged)]
        told = (each for each in every if each is not None and each.verdict == "slower")
        if any(not each.agrees_with_written for each in told):
            found.append(name)
    return tuple(found)


def _least(plan: Plan, state: State, supply: Supply) -> Supply:
    """A supply with every cylinder whose turn has begun by the plan, and that nobody read, at the end of that turn."""
    whole = state.gauged[supply.name]
    spent = plan.trip.policy.change_over_at_kpa + plan.trip.policy.gauge_allowance_kpa
    ends = {
        turn.cylinder: spent if turn.to_min <= state.now_min + MINUTE_NOISE else turn.gauge_end_kpa
        for turn in plan.supplies[supply.name].order
        if turn.to_min > turn.from_min and turn.from_min < state.now_min - MINUTE_NOISE
    }
    cylinders = tuple(
        each
        if each.label not in ends or _read_on_the_way(whole, each.label)
        else each._replace(gauge_kpa=min(each.gauge_kpa, ends[each.label]))
        for each in supply.cylinders
    )
    return supply._replace(cylinders=cylinders)


def _read_on_the_way(whole: Gauged, label: str) -> bool:
    return any(
        reading.minute > 0.0 for name, found in whole.readings.items() if label in name.split("+") for reading in found
    )
