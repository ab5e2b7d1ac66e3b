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
from dataclasses import dataclass, field
from typing import Literal

from planner import figures
from planner.afterwards.gauged import Gauged
from planner.afterwards.logbook import Entry, SettingsChange
from planner.afterwards.schedule import changed_device, legs_from, real_legs, written_flows
from planner.afterwards.vessels import AmountRead
from planner.constants import MINUTE_NOISE, SAME_L, SAME_MIN
from planner.cylinders.depletion import course_of
from planner.cylinders.gauge_doubt import Reading
from planner.cylinders.onhand import on_hand
from planner.flow.devices import air_l_per_min, demand_l_per_min
from planner.flow.flows import Flow, flows, litres, rest, until
from planner.flow.raised import drawn_beside
from planner.gas.liquid import GAS_L_PER_KG, MIN_PER_DAY, usable_l
from planner.go.sizing import reserve_begins_min
from planner.go.vessel import KG_PER_UNIT, longest_min, unit_of
from planner.model import Cylinder, Leg, Liquid, Supply, Trip, Use
from planner.moments import later
from planner.planning import plan
from planner.results import Plan

Basis = Literal["planned", "written", "measured", "at_most", "late"]

MEASURED_NAME = "above plan"


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


@dataclass(frozen=True, slots=True)
class State:
    """A trip at its last reading: the legs as they went, and as late as the log allows; what is gauged, and now.

    `lost_idle` names the supplies that lost gas while nothing was to flow: what was measured of them goes on in every
    leg. `amounts` are the readings of each vessel of liquid.
    """

    trip: Trip
    bounds: Sequence[float]
    latest_bounds: Sequence[float]
    gauged: Mapping[str, Gauged]
    entries: Sequence[Entry]
    now_min: float
    lost_idle: frozenset[str] = frozenset()
    amounts: Mapping[str, Sequence[AmountRead]] = field(default_factory=dict)


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
    drawn = tuple(_with_extra(leg, extra, state.lost_idle) for leg in legs)
    return state.trip._replace(
        legs=drawn,
        supplies={
            name: _supply_now(state, supply, extra, lowest, legs) for name, supply in state.trip.supplies.items()
        },
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
    return _trip(state, raised, extra, lowest=False), tuple(_with_extra(leg, extra, state.lost_idle) for leg in back)


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


def _with_extra(leg: Leg, extra: Mapping[str, float], always: frozenset[str]) -> Leg:
    """The leg with an extra flow on each supply that it draws on, or that loses gas always, for as long as it lasts."""
    drawn = [use.supply for use in leg.uses if demand_l_per_min(use.device) > 0.0]
    drawn += [use.device.air_supply for use in leg.uses if use.device.air_supply and air_l_per_min(use.device) > 0.0]
    used = dict.fromkeys([*drawn, *sorted(always)])
    added = tuple(
        drawn_beside(f"{MEASURED_NAME}, {supply}", supply, extra[supply])
        for supply in used
        if extra.get(supply, 0.0) > 0.0
    )
    return leg._replace(uses=(*leg.uses, *added)) if added else leg


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


def _supply_now(state: State, supply: Supply, gone: Mapping[str, float], lowest: bool, legs: Sequence[Leg]) -> Supply:
    """A supply with its gauges now, the cylinder in use first; what nobody read after it came off counts as empty.

    `lowest`: with the least that the readings allow.
    """
    whole = state.gauged.get(supply.name)
    if whole is None:
        if supply.liquid is not None and state.amounts.get(supply.name):
            return _vessel_now(state, supply, supply.liquid, gone.get(supply.name, 0.0), lowest, legs)
        return _stated_now(state, supply, gone.get(supply.name, 0.0))
    if supply.kind == "manifold":
        reading = whole.latest(whole.current or "")
        cylinders = tuple(_read(cylinder, reading, lowest) for cylinder in supply.cylinders)
    else:
        cylinders = tuple(_cylinder_now(whole, cylinder, lowest) for cylinder in carried(supply, whole))
        cylinders = tuple(sorted(cylinders, key=lambda cylinder: cylinder.label != whole.current))
    colds = [supply.coldest_degc, *(found[-1].degc_between[0] for found in whole.readings.values() if found)]
    coldest = min((degc for degc in colds if degc is not None), default=None)
    read = supply._replace(cylinders=cylinders, store=None, coldest_degc=coldest)
    return _drawn_down(state, read, whole, gone.get(supply.name, 0.0))


def carried(supply: Supply, whole: Gauged) -> tuple[Cylinder, ...]:
    """The cylinders that are with the patient: those planned, or those of the log if it names others of the store."""
    logged = [label for label, found in whole.readings.items() if found]
    chosen = [cylinder.label for cylinder in supply.cylinders]
    if supply.store is None or all(label in chosen for label in logged):
        return supply.cylinders
    return tuple(cylinder for cylinder in supply.store if cylinder.label in logged)


def _cylinder_now(whole: Gauged, cylinder: Cylinder, lowest: bool) -> Cylinder:
    reading = whole.latest(cylinder.label)
    if reading is None:
        came_off = any(turn.label == cylinder.label for turn in whole.in_use)
        return cylinder._replace(gauge_kpa=0.0) if came_off and whole.readings.get(cylinder.label) else cylinder
    return _read(cylinder, reading, lowest)


def _read(cylinder: Cylinder, reading: Reading | None, lowest: bool) -> Cylinder:
    """A cylinder at a reading, as warm as it may have been."""
    if reading is None:
        return cylinder
    warmest = reading.degc_between[1]
    degc = cylinder.temperature_degc if warmest is None else warmest
    gauge = max(0.0, reading.gauge_kpa - reading.read_to_kpa) if lowest else reading.gauge_kpa
    return cylinder._replace(gauge_kpa=gauge, temperature_degc=degc)


def _stated_now(state: State, supply: Supply, extra_l_per_min: float) -> Supply:
    """A stated amount after what was drawn since departure; the supply itself where it states none."""
    if supply.stated_l is None:
        return supply
    drawn = litres(_drawn_since(state, supply.name, 0.0, extra_l_per_min))
    return supply._replace(stated_l=max(0.0, supply.stated_l - drawn))


def _vessel_now(
    state: State, supply: Supply, liquid: Liquid, extra_l_per_min: float, lowest: bool, legs: Sequence[Leg]
) -> Supply:
    """A vessel of liquid with its amount now: the last reading less what was drawn and boiled away since.

    What boils away counts on from now to the end of the longest rest.
    """
    last = state.amounts[supply.name][-1]
    drawn = litres(_drawn_since(state, supply.name, last.minute, extra_l_per_min)) / GAS_L_PER_KG
    boiled = liquid.loss_kg_per_day * max(0.0, state.now_min - last.minute) / MIN_PER_DAY
    amount = max(0.0, last.amount_kg - (last.read_to_kg if lowest else 0.0) - drawn - boiled)
    longest, unit = longest_min(state.trip._replace(legs=tuple(legs))), unit_of(liquid)
    now = liquid._replace(
        amount_kg=amount,
        text=f"{figures.liquid_down(amount / KG_PER_UNIT[unit])} {unit}",
        read_at=None if state.trip.departs is None else later(state.trip.departs, state.now_min),
        waiting_min=longest,
        lost_to_min=longest,
    )
    return supply._replace(liquid=now, stated_l=usable_l(amount, now.keep_kg, now.loss_kg_per_day, longest))


def _drawn_since(state: State, name: str, since_min: float, extra_l_per_min: float) -> Flow:
    """What a supply gave from a minute to now: as planned or as logged, whichever is more, and the extra flow."""
    legs = tuple(
        _with_extra(leg, {name: extra_l_per_min}, state.lost_idle) for leg in real_legs(state.trip.legs, state.bounds)
    )
    planned, logged = (
        until(rest(flow.get(name, ()), since_min), state.now_min)
        for flow in (flows(legs), written_flows(legs, state.entries))
    )
    return max(planned, logged, key=litres)


def _drawn_down(state: State, supply: Supply, whole: Gauged, extra_l_per_min: float) -> Supply:
    """The gauges of a supply that was read before now, after what was drawn since."""
    since = max((reading.minute for found in whole.readings.values() for reading in found), default=0.0)
    stock = on_hand(supply, state.trip.policy)
    if since >= state.now_min - MINUTE_NOISE or stock is None or not stock.helds:
        return supply
    drawn = _drawn_since(state, supply.name, since, extra_l_per_min)
    if not drawn:
        return supply
    left = course_of(stock.tanks, drawn).left_l
    gauges = []
    for tank, left_l in enumerate(left):
        source = stock.held_of(tank)
        if source is not None:
            gauges.append(source.gauge_after(stock.tanks[tank].usable_l - left_l))
    if stock.together is not None:
        gauges = gauges * len(supply.cylinders)
    pairs = zip(supply.cylinders, gauges, strict=True)
    return supply._replace(cylinders=tuple(cylinder._replace(gauge_kpa=gauge) for cylinder, gauge in pairs))
