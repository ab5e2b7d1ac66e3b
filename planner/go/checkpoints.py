"""What the crew should see at each start and end of a leg, and the least gauge with which the rest still passes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import fsum

from planner.cylinders.boiling import lasting_min
from planner.cylinders.depletion import course_of
from planner.cylinders.onhand import OnHand, at_gauges
from planner.cylinders.turns import Course, Moment, TankChange
from planner.flow.flows import Flow, NoChange, no_change_spans
from planner.go import vessel
from planner.go.accepted import eased
from planner.go.leak import Leaks
from planner.go.sizing import Ahead, GroupNeed, carriers, group_needs, least_litres, spares
from planner.go.worked import Worked
from planner.model import Leg, Policy, Trip
from planner.results import ChangeOver, Checkpoint, Order


def orders(stock: OnHand, planned: Course) -> tuple[Order, ...]:
    """Order of use with gauges. A cylinder with nothing usable is listed where its turn would be, for no time."""
    if not stock.helds:
        return ()
    if stock.together is not None:
        return tuple(
            Order(held.label, order.from_min, order.to_min, order.gauge_start_kpa, order.gauge_end_kpa)
            for order in _in_turn(stock, planned)
            for held in stock.helds
        )
    waiting = [index for index, tank in enumerate(stock.tanks) if tank.usable_l <= 0.0]
    rows = []
    for turn, order in zip(planned.turns, _in_turn(stock, planned), strict=True):
        rows += [_empty(stock, index, turn.from_min) for index in waiting if index < turn.tank]
        waiting = [index for index in waiting if index > turn.tank]
        rows.append(order)
    last = planned.turns[-1].to_min if planned.turns else planned.out_min
    if last is not None:
        rows += [_empty(stock, index, last) for index in waiting]
    return tuple(rows)


def _in_turn(stock: OnHand, planned: Course) -> list[Order]:
    rows = []
    for turn in planned.turns:
        source = stock.together or stock.helds[turn.tank]
        whole = stock.tanks[turn.tank].usable_l
        start, end = source.gauge_after(whole - turn.start_l), source.gauge_after(whole - turn.end_l)
        rows.append(Order(source.label, turn.from_min, turn.to_min, start, end))
    return rows


def _empty(stock: OnHand, index: int, minute: float) -> Order:
    held = stock.helds[index]
    return Order(held.label, minute, minute, held.gauge_kpa, held.gauge_kpa)


def change_overs(stock: OnHand, planned: Course, flow: Flow, legs: Sequence[Leg]) -> tuple[ChangeOver, ...]:
    """Every change of cylinder, with the gauge of the one that comes off.

    One that falls due inside a no-change stretch in which another source has fed so far is made before the stretch.
    """
    rows = []
    still = no_change_spans(legs)
    for change in planned.changes:
        minute, leg, inside = _made_at(change, flow, still)
        old, new = stock.helds[change.from_tank], stock.helds[change.to_tank]
        drawn = stock.tanks[change.from_tank].usable_l - change.left_l
        rows.append(
            ChangeOver(
                minute=minute,
                leg=legs[leg].name,
                from_cylinder=old.label,
                to_cylinder=new.label,
                gauge_kpa=old.gauge_after(drawn),
                early=change.early,
                inside_no_change=inside,
                leg_index=leg,
                kept=change.kept,
            )
        )
    return tuple(rows)


def _made_at(change: TankChange, flow: Flow, still: Sequence[NoChange]) -> tuple[float, int, bool]:
    """Minute and leg at which a change is made, and whether inside a no-change stretch."""
    stretch = next((one for one in still if one.start_min < change.minute < one.end_min), None)
    idle_from = max((segment.end_min for segment in flow if segment.start_min < change.minute), default=0.0)
    if stretch is not None and idle_from <= stretch.start_min:
        return stretch.start_min, stretch.first_leg, False
    return change.minute, change.leg, change.inside_stretch


def checkpoints(
    trip: Trip, every: Mapping[str, Worked], start_kpa: Mapping[str, Sequence[float | None]]
) -> tuple[Checkpoint, ...]:
    """Start and end of each leg; where a leg draws on several supplies, its own first, then one row for each.

    `every`: each supply of the trip; `start_kpa`: its gauges to depart with.
    """
    trips = {name: eased(trip, name, one.flow) for name, one in every.items()}
    tracks = {name: _Track(trips[name], one, start_kpa.get(name, ())) for name, one in every.items() if one.flow}
    rows = []
    start = 0.0
    for index, leg in enumerate(trip.legs):
        end = start + leg.total_min
        used = sorted(leg.supplies, key=lambda name: name != leg.supply)
        for at, minute in (("start", start), ("end", end)):
            rows += [_row(trips[name], leg, index, at, minute, name, tracks[name]) for name in used]
        start = end
    return tuple(rows)


def _ends(moments: Sequence[Moment]) -> dict[tuple[int, str], Moment]:
    found: dict[tuple[int, str], Moment] = {}
    for moment in moments:
        if moment.at_start:
            found.setdefault((moment.leg, "start"), moment)
        else:
            found[moment.leg, "end"] = moment
    return found


class _Track:
    """One supply along the trip: its flow, who carries it, and its cylinders at each start and end of a leg.

    `lowered` are the same moments had every cylinder left at the gauge to depart with.
    """

    def __init__(self, trip: Trip, one: Worked, start_kpa: Sequence[float | None]) -> None:
        self.flow, self.stock, self.idle_l_per_min = one.flow, one.stock, one.idle_l_per_min
        flow, stock = self.flow, self.stock
        self.start_kpa = start_kpa
        low = None if stock is None else lowest_start(stock, trip.policy, start_kpa)
        self.lowered = (
            {} if low is None else _ends(course_of(low.tanks, flow, one.task.no_change, moments=True).moments)
        )
        self.at_ends = _ends(one.course.moments)
        nobody: list[frozenset[int]] = [frozenset()] * len(flow)
        self.carried_by = nobody if stock is None else carriers(stock.tanks, flow, stock.serving)
        self.ahead = Ahead(flow, self.carried_by)
        self.inside: dict[int, list[int]] = {}
        for number, segment in enumerate(flow):
            self.inside.setdefault(segment.leg, []).append(number)
        self.leaks = None if stock is None else Leaks(stock, trip.policy)


def _row(trip: Trip, leg: Leg, index: int, at: str, minute: float, name: str, track: _Track) -> Checkpoint:
    gauge = serving = left = own = least = leak = None
    counted = 0.0
    label = None
    number = track.inside[index][0 if at == "start" else -1]
    flow_l_per_min = track.flow[number].flow_l_per_min
    stock = track.stock
    if stock is not None:
        moment = track.at_ends.get((index, at))
        tank = None if moment is None else moment.tank
        litres = [0.0] * len(stock.tanks) if moment is None or moment.minute != minute else list(moment.left_l)
        counted = flow_l_per_min if flow_l_per_min > 0.0 else track.idle_l_per_min
        serving = fsum(litre for each, litre in enumerate(litres) if each in track.carried_by[number])
        if counted > 0.0:
            left = lasting_min(stock.supply, serving, counted, minute)
            own = 0.0 if tank is None else litres[tank] / counted
        source = None if tank is None else stock.held_of(tank)
        if source is not None and tank is not None:
            label = source.label
            gauge = source.gauge_after(stock.tanks[tank].usable_l - litres[tank])
            rest_from = number if at == "start" else number + 1
            needs = track.ahead.needs(rest_from, trip.policy, _withheld(stock, trip.policy))
            low = track.lowered.get((index, at))
            others = litres if low is None or low.minute != minute else list(low.left_l)
            least = _least_for(stock, trip.policy, needs, tank, others)
            if least is not None and litres[tank] >= stock.tanks[tank].usable_l:
                least = max(least, start_of(track.start_kpa, tank))
            drawn = stock.tanks[tank].usable_l - litres[tank]
            if track.leaks is not None and minute > 0.0:
                leak = track.leaks.gauge(tank, drawn, flow_l_per_min, least)
        own = own if stock.helds else None
    flow = (flow_l_per_min, label, gauge, left, own, least, leak, serving, counted)
    found = Checkpoint(minute, leg.name, index, at, name, *flow)
    return with_amounts(trip, found, track.flow, track.flow[number + (at == "end") :])


def with_amounts(trip: Trip, check: Checkpoint, flow: Flow, ahead: Flow) -> Checkpoint:
    """The checkpoint with what a vessel of liquid should hold and must hold; as it is for what is none."""
    liquid = trip.supplies[check.supply].liquid
    if liquid is None:
        return check
    return check._replace(
        amount_kg=vessel.amount_kg(trip, liquid, flow, check.minute),
        least_amount_kg=vessel.least_kg(trip, liquid, ahead, trip.policy, check.minute),
    )


def lowest_start(stock: OnHand, policy: Policy, start_kpa: Sequence[float | None]) -> OnHand | None:
    """What a supply has had every cylinder left at the gauge to depart with; None where there is no such set."""
    gauges = [gauge for gauge in start_kpa if gauge is not None]
    if not stock.helds or len(gauges) != len(stock.helds):
        return None
    return at_gauges(stock, policy, gauges)


def start_of(start_kpa: Sequence[float | None], tank: int) -> float:
    """The gauge to depart with of a cylinder from which nothing has been drawn yet, kPa; 0 where there is none."""
    return (start_kpa[tank] if tank < len(start_kpa) else None) or 0.0


def least_gauge_kpa(stock: OnHand, policy: Policy, ahead: Flow, tank: int, litres: Sequence[float]) -> float | None:
    """The gauge of the cylinder in use with which the rest of the trip is still covered, reserve and spare included.

    `litres`: usable litres of each tank, those of the others as they would be had all left at the gauge to depart with.
    """
    needs = group_needs(stock.tanks, ahead, policy, _withheld(stock, policy))
    return _least_for(stock, policy, needs, tank, litres)


def _withheld(stock: OnHand, policy: Policy) -> int:
    return spares(stock.supply, policy) if stock.together is None else 0


def _least_for(
    stock: OnHand, policy: Policy, needs: Sequence[GroupNeed], tank: int, litres: Sequence[float]
) -> float | None:
    source = stock.held_of(tank)
    if source is None:
        return None
    if stock.together is not None:
        return _least_on_manifold(stock, policy, needs, spares(stock.supply, policy))
    needed = [least_litres(need, litres, tank) for need in needs]
    if any(litre is None for litre in needed):
        return None
    return source.gauge_for(
        max((litre for litre in needed if litre is not None), default=0.0), policy.change_over_at_kpa
    )


def _least_on_manifold(stock: OnHand, policy: Policy, needs: Sequence[GroupNeed], leave_out: int) -> float | None:
    capacities = sorted((held.water_capacity_l for held in stock.helds), reverse=True)
    counted = fsum(capacities[leave_out:])
    required = fsum(need.need_l for need in needs)
    if stock.together is None or (required > 0.0 and counted <= 0.0):
        return None
    litres = required * fsum(capacities) / counted if required > 0.0 else 0.0
    return stock.together.gauge_for(litres, policy.change_over_at_kpa)
