"""What the crew should see at each start and end of a leg, and the least gauge with which the rest still passes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import fsum

from planner.cylinders.boiling import lasting_min
from planner.cylinders.onhand import OnHand
from planner.cylinders.turns import Course, Moment, TankChange
from planner.flow.flows import Flow, NoChange, no_change_spans
from planner.go import vessel
from planner.go.gauges import Gauges, Shown
from planner.go.sizing import Ahead, carriers
from planner.go.worked import Worked
from planner.model import Leg, Trip, timed
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


def checkpoints(trip: Trip, every: Mapping[str, Worked], gauges: Mapping[str, Gauges]) -> tuple[Checkpoint, ...]:
    """Start and end of each leg; where a leg draws on several supplies, its own first, then one row for each.

    `every`: each supply of the trip; `gauges`: those of each that has something on hand.
    """
    tracks = {name: _Track(trip, one, gauges.get(name)) for name, one in every.items() if one.flow}
    rows = []
    for index, leg, start, end in timed(trip.legs):
        used = sorted(leg.supplies, key=lambda name: name != leg.supply)
        for at, minute in (("start", start), ("end", end)):
            rows += [tracks[name].row(leg, index, at, minute) for name in used]
    return tuple(rows)


def _ends(moments: Sequence[Moment]) -> dict[tuple[int, str], Moment]:
    """The state at the start and the end of each leg."""
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

    def __init__(self, trip: Trip, one: Worked, gauges: Gauges | None) -> None:
        self.trip, self.one, self.flow, self.gauges = trip, one, one.flow, gauges
        self.at_ends = _ends(one.course.moments)
        self.inside: dict[int, list[int]] = {}
        for number, segment in enumerate(self.flow):
            self.inside.setdefault(segment.leg, []).append(number)
        if gauges is not None:
            self.lowered = _ends(gauges.lowered(self.flow))
            self.carried_by = carriers(gauges.stock.tanks, self.flow, gauges.stock.serving)
            self.ahead = Ahead(self.flow, self.carried_by)

    def row(self, leg: Leg, index: int, at: str, minute: float) -> Checkpoint:
        """One supply at the start or the end of a leg that draws on it."""
        number = self.inside[index][0 if at == "start" else -1]
        flow_l_per_min, name = self.flow[number].flow_l_per_min, self.one.task.supply.name
        found = Checkpoint(minute, leg.name, index, at, name, flow_l_per_min)
        if self.gauges is None:
            return found
        stock, policy = self.gauges.stock, self.gauges.policy
        moment = self.at_ends.get((index, at))
        if moment is None or moment.minute != minute:
            nothing_left = (0.0,) * len(stock.tanks)
            moment = Moment(
                minute, index, at == "start", flow_l_per_min, None if moment is None else moment.tank, nothing_left
            )
        counted = flow_l_per_min if flow_l_per_min > 0.0 else self.one.idle_l_per_min
        left_l = fsum(litres for tank, litres in enumerate(moment.left_l) if tank in self.carried_by[number])
        found = found._replace(litres_left=left_l, counted_l_per_min=counted)
        if counted > 0.0:
            own_l = 0.0 if moment.tank is None else moment.left_l[moment.tank]
            found = found._replace(
                minutes_left=lasting_min(stock.supply, left_l, counted, minute),
                cylinder_minutes_left=own_l / counted if stock.helds else None,
            )
        first_ahead = number + (at == "end")
        low = self.lowered.get((index, at))
        others_l = moment.left_l if low is None or low.minute != minute else low.left_l
        needs = self.ahead.needs(first_ahead, policy, self.gauges.withheld)
        found = with_gauges(found, self.gauges.shown(moment, needs, others_l))
        return with_amounts(self.trip, self.gauges, found, self.flow, self.flow[first_ahead:])


def with_gauges(check: Checkpoint, shown: Shown | None) -> Checkpoint:
    """The checkpoint with what its gauge should show; as it is where there is none."""
    if shown is None:
        return check
    cylinder, gauge_kpa, least_gauge_kpa, leak = shown
    return check._replace(cylinder=cylinder, gauge_kpa=gauge_kpa, least_gauge_kpa=least_gauge_kpa, leak=leak)


def with_amounts(trip: Trip, gauges: Gauges, check: Checkpoint, flow: Flow, ahead: Flow) -> Checkpoint:
    """The checkpoint with what a vessel of liquid should hold and must hold; as it is for what is none."""
    liquid = trip.supplies[check.supply].liquid
    if liquid is None:
        return check
    return check._replace(
        amount_kg=vessel.amount_kg(trip, liquid, flow, check.minute),
        least_amount_kg=vessel.least_kg(trip, liquid, flow, ahead, gauges, check.minute),
    )
