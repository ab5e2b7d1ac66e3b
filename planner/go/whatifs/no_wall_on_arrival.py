"""No wall outlet is free on arrival: the last leg goes on for the handover time, in the same room.

Portable supplies carry their own devices on. Those of a fixed or wall supply go to its `backup`, else to the last
portable supply used, else to the only one that the trip lists. Air of a vehicle or a wall is left behind too. A vessel
of liquid goes on losing while it waits, beyond the time for which its loss was counted.
"""

from __future__ import annotations

from collections.abc import Iterator

from planner import figures
from planner.cylinders.boiling import later_loss_l
from planner.flow.flows import Segment, final_uses, flows, no_change_spans
from planner.go.whatifs.kind import Kind
from planner.go.whatifs.scenario import Planned, Scenario, can_run_out, with_air_at_hand
from planner.model import Leg, Trip, Use


def arrival_supply(trip: Trip, supply: str) -> str | None:
    """The supply that carries on what drew on another one when no wall outlet is free; None where there is none."""
    if trip.supplies[supply].portable:
        return supply
    if trip.supplies[supply].backup is not None:
        return trip.supplies[supply].backup
    legs = reversed((*trip.gone, *trip.legs))
    listed = [name for name, other in trip.supplies.items() if other.portable and other.gas == "oxygen"]
    used = [name for leg in legs for name in _used(trip, leg) if name in listed]
    return used[0] if used else listed[0] if len(listed) == 1 else None


def _used(trip: Trip, leg: Leg) -> list[str]:
    return sorted({use.supply for use in leg.uses}, key=[leg.supply, *trip.supplies].index)


def unbridged(trip: Trip) -> tuple[Use, ...]:
    """What runs at the end of the trip and has nothing to carry it on where no wall outlet is free."""
    return tuple(use for use in final_uses(trip.legs[-1]) if arrival_supply(trip, use.supply) is None)


def _scenarios(planned: Planned) -> Iterator[Scenario]:
    trip, minutes, last = planned.trip, planned.trip.policy.handover_time_min, planned.trip.legs[-1]
    carried = [(use, arrival_supply(trip, use.supply)) for use in final_uses(last)]
    waiting = tuple(
        Use(with_air_at_hand(trip, use.device, trip.legs), supply, None, use.where)
        for use, supply in carried
        if supply is not None
    )
    if minutes <= 0.0 or not waiting:
        return
    wait = last._replace(duration_min=minutes, uses=waiting, delays=(), longest_min=None, divert=None)
    legs = (*trip.legs, wait)
    after, no_change = flows(legs), no_change_spans(legs)
    idle = max(planned.idle_l_per_min.values(), default=0.0)
    for supply in wait.supplies:
        if can_run_out(trip.supplies[supply]):
            before, flow = planned.flows.get(supply, ()), after[supply]
            drawn = flow[-1].flow_l_per_min > 0.0
            loss = later_loss_l(trip.supplies[supply], trip.total_min + minutes) / minutes if drawn else 0.0
            if loss > 0.0:
                flow = tuple(_boiling(each, loss) if each.leg == len(trip.legs) else each for each in flow)
            yield Scenario(
                "no_wall_on_arrival",
                supply,
                before,
                flow,
                legs,
                no_change,
                idle_l_per_min=idle,
                loss_l_per_min=loss,
            )


def _boiling(segment: Segment, loss_l_per_min: float) -> Segment:
    """A segment in which what boils away is counted like what is drawn."""
    return segment._replace(flow_l_per_min=segment.flow_l_per_min + loss_l_per_min)


def _more(trip: Trip) -> str:
    return figures.minutes_up(trip.policy.handover_time_min)


WHAT_IF = Kind(
    title="No wall outlet on arrival",
    condition="If no wall outlet is free on arrival",
    scenarios=_scenarios,
    detail=lambda trip, _: f"{_more(trip)} more at the last flow",
    short_title=lambda trip, _: f"No wall outlet for {_more(trip)}",
)
