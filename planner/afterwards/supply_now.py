"""A supply of a trip under way as it is now: each gauge as last read, and what was drawn since taken off.

The cylinder in use stands first; what nobody read after it came off counts as empty.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from planner import figures
from planner.afterwards.gauged import Gauged
from planner.afterwards.logbook import Entry, Logbook
from planner.afterwards.schedule import real_legs, written_flows
from planner.afterwards.vessels import AmountRead
from planner.constants import MINUTE_NOISE
from planner.cylinders.depletion import course_of
from planner.cylinders.gauge_doubt import Reading
from planner.cylinders.onhand import on_hand
from planner.flow.devices import air_l_per_min, demand_l_per_min
from planner.flow.flows import Flow, flows, litres, rest, until
from planner.flow.raised import drawn_beside
from planner.gas.liquid import GAS_L_PER_KG, MIN_PER_DAY, usable_l
from planner.go.vessel import KG_PER_UNIT, longest_min, unit_of
from planner.model import Cylinder, Leg, Liquid, Supply, Trip
from planner.moments import later


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


def supply_now(state: State, supply: Supply, gone: Mapping[str, float], lowest: bool, legs: Sequence[Leg]) -> Supply:
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


def not_surely_on_board(trip: Trip, supply: Supply, log: Logbook) -> tuple[str, ...]:
    """The cylinders of a supply that were chosen from a store which is not as it was, and that the log does not name.

    Others may have been taken along: what is out of use now was perhaps in use then, or it read otherwise.
    """
    store, departs = trip.supplies[supply.name].store or (), trip.departs
    since = (one for one in store if departs is not None and one.checked is not None and one.checked > departs)
    if not any(one.out_of_use and not one.on_board for one in store) and next(since, None) is None:
        return ()
    named = {label for entry in log.entries for label in (entry.cylinder, entry.change_to)}
    return tuple(one.label for one in supply.cylinders if one.label not in named)


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
        with_extra(leg, {name: extra_l_per_min}, state.lost_idle) for leg in real_legs(state.trip.legs, state.bounds)
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


def with_extra(leg: Leg, extra: Mapping[str, float], always: frozenset[str]) -> Leg:
    """The leg with an extra flow on each supply that it draws on, or that loses gas always, for as long as it lasts."""
    drawn = [use.supply for use in leg.uses if demand_l_per_min(use.device) > 0.0]
    drawn += [use.device.air_supply for use in leg.uses if use.device.air_supply and air_l_per_min(use.device) > 0.0]
    used = dict.fromkeys([*drawn, *sorted(always)])
    added = tuple(
        drawn_beside(f"above plan, {supply}", supply, extra[supply]) for supply in used if extra.get(supply, 0.0) > 0.0
    )
    return leg._replace(uses=(*leg.uses, *added)) if added else leg
