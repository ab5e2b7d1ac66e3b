"""The rest of a trip, from the last reading on, planned again.

The rest is a trip of its own: what is left of the legs, the cylinders at the gauges last read, the policy as it is. A
supply that was read earlier is first drawn down to now. It is planned on these bases:

- planned: as the plan has it; holds where this plan is go, with its reserve, spare and what-ifs;
- written: with the settings and flows in the log where they ask for more; holds where this plan is go;
- measured: as written, and besides the most that the flow may be above that where it was seen to be above it
  (`planner.afterwards.falls`), drawn all the way as a leak would be; holds where oxygen lasts to the end, the reserve
  spent and every cylinder used;
- at_most: the same with the most that any fall of a gauge allows, from the least that the cylinders may hold;
- late: the same with as much left of the way as the log allows, where it does not say in which leg the trip is.

Nothing measured or written down ever lowers a planned flow.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from planner.afterwards.logbook import Entry, SettingsChange
from planner.afterwards.schedule import changed_device, legs_from, real_legs
from planner.afterwards.supply_now import State, supply_now, with_extra
from planner.constants import SAME_L, SAME_MIN
from planner.flow.devices import air_l_per_min, demand_l_per_min
from planner.flow.flows import Flow, flows, rest, until
from planner.flow.raised import drawn_beside
from planner.go.sizing import reserve_begins_min
from planner.model import Leg, Trip, Use
from planner.moments import later
from planner.planning import plan
from planner.results import Plan

Basis = Literal["planned", "written", "measured", "at_most", "late"]


@dataclass(frozen=True, slots=True)
class Rest:
    """The rest of a trip from an elapsed minute on, planned anew.

    `plan` counts its minutes from `from_min`. `extra_l_per_min` is what is drawn beside the planned flows, by supply.
    `act_by_min` is the elapsed minute by which to act, None where it holds: when a reserve begins to be spent, or, as
    measured, reserve time before oxygen runs out; never before now.
    """

    basis: Basis
    from_min: float
    plan: Plan
    holds: bool
    lasts_min: Mapping[str, float]
    out: Mapping[str, tuple[float, str]]
    act_by_min: float | None
    extra_l_per_min: Mapping[str, float]

    @property
    def reserve_kept(self) -> bool:
        """True where the plan of the rest is go, its reserve in hand."""
        return self.plan.go


def rests(state: State, seen: Mapping[str, float], most: Mapping[str, float]) -> tuple[Rest, ...]:
    """The rest on every basis that differs from those before it.

    `seen`: by how much the flow of each supply may be above what is planned and logged where it was seen to be, L/min;
    `most`: by how much any fall of its gauge allows; supplies without a fall left out. Empty where nothing is left of
    the trip.
    """
    legs = legs_from(real_legs(state.trip.legs, state.bounds), state.now_min)
    late = legs_from(real_legs(state.trip.legs, state.latest_bounds), state.now_min)
    found = []
    if legs:
        raised, written = _written(state, legs)
        found.append(_rest("planned", state, legs, {}))
        if raised != legs or written:
            found.append(_rest("written", state, raised, written))
        if any(seen.values()):
            found.append(_rest("measured", state, raised, _sum(written, seen)))
        if most:
            found.append(_rest("at_most", state, raised, _sum(written, most)))
    if late and late != legs:
        raised, written = _written(state, late)
        found.append(_rest("late", state, raised, _sum(written, most)))
    return tuple(found)


def _sum(first: Mapping[str, float], second: Mapping[str, float]) -> dict[str, float]:
    return {name: first.get(name, 0.0) + second.get(name, 0.0) for name in {**first, **second}}


def _rest(basis: Basis, state: State, legs: tuple[Leg, ...], extra: Mapping[str, float]) -> Rest:
    """The rest with some legs; `extra` flows beside them, and the same since each supply was last read."""
    trip = _trip(state, legs, extra, lowest=basis in ("at_most", "late"))
    made = plan(trip)
    lasts, out = {}, {}
    for supply_name, supply in made.supplies.items():
        if supply.lasts_min is not None:
            lasts[supply_name] = state.now_min + supply.lasts_min
        if supply.runs_out_min is not None:
            out[supply_name] = (state.now_min + supply.runs_out_min, supply.runs_out_leg or "")
    holds = made.go if basis in ("planned", "written") else not out
    return Rest(
        basis, state.now_min, made, holds, lasts, out, None if holds else _act_by(basis, state, trip, made), dict(extra)
    )


def _trip(state: State, legs: Sequence[Leg], extra: Mapping[str, float], *, lowest: bool) -> Trip:
    """The rest as a trip that begins now; `lowest` with the least that the readings allow."""
    drawn = tuple(with_extra(leg, extra, state.lost_idle) for leg in legs)
    return state.trip._replace(
        legs=drawn,
        supplies={name: supply_now(state, supply, extra, lowest, legs) for name, supply in state.trip.supplies.items()},
        departs=None if state.trip.departs is None else later(state.trip.departs, state.now_min),
        accepted=(),  # what was accepted before departure lapses on the way
        devices={**state.trip.devices, **{use.device.name: use.device for leg in drawn for use in leg.uses}},
    )


def rest_trip(state: State, seen: Mapping[str, float], gone: Sequence[Leg]) -> tuple[Trip, tuple[Leg, ...]]:
    """The rest as a trip that begins now, at the higher of planned, logged and measured; and the legs gone at the same.

    `seen`: by how much the flow of each supply may be above what is planned and logged where it was seen to be, L/min.
    """
    raised, written = _written(state, legs_from(real_legs(state.trip.legs, state.bounds), state.now_min))
    extra = _sum(written, seen)
    changes = [change for entry in state.entries for change in entry.settings]
    back = (_raised_leg(leg, changes) for leg in gone)
    return _trip(state, raised, extra, lowest=False), tuple(with_extra(leg, extra, state.lost_idle) for leg in back)


def _act_by(basis: Basis, state: State, trip: Trip, made: Plan) -> float:
    """By when to act: before any reserve is spent, or, as measured, reserve time before oxygen runs out.

    Now where a reserve is spent already, or where it is not litres that are lacking.
    """
    found = []
    drawn = flows(trip.legs)
    for name, supply in made.supplies.items():
        if basis not in ("planned", "written"):
            if supply.runs_out_min is not None:
                found.append(reserve_begins_min(supply.runs_out_min, trip.policy))
        elif supply.serving_without_spare_l is not None and supply.serving_without_spare_l < supply.need.required_l:
            found.append(_minute_drawn(drawn.get(name, ()), supply.serving_without_spare_l - supply.need.reserve_l))
    return state.now_min + max(0.0, min(found, default=0.0))


def _minute_drawn(flow: Flow, litres: float) -> float:
    """The minute at which so many litres of a flow are drawn, its end at the latest; 0 for none."""
    if litres <= 0.0:
        return 0.0
    for segment in flow:
        if litres < segment.litres:
            return segment.start_min + litres / segment.flow_l_per_min
        litres -= segment.litres
    return flow[-1].end_min if flow else 0.0


def _written(state: State, legs: tuple[Leg, ...]) -> tuple[tuple[Leg, ...], dict[str, float]]:
    """The legs with the settings in the log where they ask for more, and what flows that were read add to them.

    What the flow that was read last was above the one planned, and logged as settings, for its minute goes on over
    every later leg, until a flow is read there.
    """
    changes = [change for entry in state.entries for change in entry.settings]
    went = real_legs(state.trip.legs, state.bounds)
    planned, known = flows(went), flows([_raised_leg(leg, changes) for leg in went])
    extra = {}
    for name in state.gauged:
        read = [entry for entry in state.entries if entry.supply == name and entry.flow_l_per_min is not None]
        if not read or read[-1].flow_l_per_min is None or _flow_at(planned, name, read[-1]) <= 0.0:
            continue
        most = _flow_at(known, name, read[-1])
        more = read[-1].flow_l_per_min - most
        if more > SAME_L:
            extra[name] = more
    return tuple(_raised_leg(leg, changes) for leg in legs), extra


def _flow_at(found: Mapping[str, Flow], name: str, entry: Entry) -> float:
    """The flow on a supply when an entry was written, L/min; at the end of a leg that of the leg."""
    minute = max(0.0, entry.minute)
    start = minute - SAME_MIN if entry.at == "end" else minute
    then = until(rest(found.get(name, ()), start), minute + SAME_MIN)
    return then[0].flow_l_per_min if then else 0.0


def _raised_leg(leg: Leg, changes: Sequence[SettingsChange]) -> Leg:
    """The leg with the settings in the log where they ask for more of a gas; neither gas is ever taken for less."""
    uses = tuple(_raised(use, changes) for use in leg.uses)
    air = [found for use, now in zip(leg.uses, uses, strict=True) if (found := _more_air(use, now, changes))]
    return leg._replace(uses=(*uses, *air))


def _more_air(use: Use, now: Use, changes: Sequence[SettingsChange]) -> Use | None:
    """What of the air of a device, as planned or as logged, is not counted in it as it is now."""
    supply = use.device.air_supply
    if supply is None:
        return None
    most = max(air_l_per_min(use.device), air_l_per_min(changed_device(use.device, changes)))
    lacking = most - (air_l_per_min(now.device) if now.device.air_supply == supply else 0.0)
    if lacking <= 0.0:
        return None
    return drawn_beside(f"air of {use.device.name}, as logged", supply, lacking)._replace(for_min=use.for_min)


def _raised(use: Use, changes: Sequence[SettingsChange]) -> Use:
    device = changed_device(use.device, changes)
    return use._replace(device=device) if demand_l_per_min(device) > demand_l_per_min(use.device) else use
