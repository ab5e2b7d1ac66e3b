"""Minutes left by gauge and flow, for the sizes of cylinder that a trip carries.

For each size, minutes = (contents(gauge - allowance, T_read) - contents(change-over, T_cold)) / flow, never
below zero and rounded down, with the same gas temperatures as the plan and the flow as printed beside them. The
crew reads it when the flow is the planned one or the resuscitator's; another asks for the nomogram or a new plan.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import NamedTuple

from planner import figures
from planner.constants import RESUSCITATOR_L_PER_MIN
from planner.flow.flows import flows, peak_l_per_min
from planner.go.by_gauge import usable_at_l
from planner.go.whatifs.scenario import risen_device, with_devices
from planner.model import Device, Trip
from planner.naming import of_gas
from planner.report.change_gauge import change_gauge_kpa
from planner.results import CylinderPlan, Plan, SupplyPlan
from planner.trade.catalog import VENTILATOR_FAILS, device_types

MOST_ROWS = 6
CHANGE_OVER = "change-over"


class MinutesRow(NamedTuple):
    """One size at one flow, and its minutes to change-over for each gauge of the table.

    `supply` is empty where the size says enough: told only where one size at one flow has other minutes elsewhere.
    """

    size: str
    flow: str
    what: str
    minutes: tuple[str, ...]
    supply: str = ""


class MinutesTable(NamedTuple):
    """Gauges across, sizes and flows down the side; `until` is the gauge at which it counts zero.

    Where cylinders are changed at different gauges, `until` says `change-over`. `title` says what is counted: one
    cylinder, or all that are open together.
    """

    gauges: tuple[str, ...]
    rows: tuple[MinutesRow, ...]
    until: str
    title: str


def minutes_table(plan: Plan) -> MinutesTable | None:
    """The table of a plan, or None where it carries no cylinder that gives at a flow."""
    carried = [(supply, item) for supply in plan.supplies.values() for item in one_of_each_size(supply)]
    if not carried:
        return None
    unit, policy = plan.trip.policy.pressure_unit, plan.trip.policy
    highest = max(item.cylinder.filling_gauge_kpa for _, item in carried)
    steps = gauge_steps_kpa(highest, policy.change_over_at_kpa, unit)
    ends = {figures.gauge_up(change_gauge_kpa(plan, item), unit) for _, item in carried}
    until = ends.pop() if len(ends) == 1 else CHANGE_OVER
    each = "" if any(supply.supply.kind == "manifold" for supply, _ in carried) else ", one cylinder"
    rows = _told_apart(
        MinutesRow(
            size=size_title(supply, item),
            flow=shown,
            what=what,
            minutes=tuple(
                figures.minutes_down(usable_at_l(policy, supply, item, gauge) / flow)
                if gauge <= item.cylinder.filling_gauge_kpa * 1.1
                else figures.NONE
                for gauge in steps
            ),
            supply=_place(supply, item),
        )
        for supply, item in carried
        for what, shown, flow in _flows(plan, supply)
    )
    if not rows:
        return None
    gauges = tuple(figures.gauge_nearest(gauge, unit) for gauge in steps)
    return MinutesTable(gauges, rows, until, f"Minutes left to {until}{each}")


def _told_apart(rows: Iterable[MinutesRow]) -> tuple[MinutesRow, ...]:
    """Rows alike share one; where a size at a flow has other minutes on another supply, each names its supply."""
    alike: dict[MinutesRow, list[str]] = {}
    for row in rows:
        names = alike.setdefault(row._replace(supply=""), [])
        if row.supply not in names:
            names.append(row.supply)
    times = Counter(row[:3] for row in alike)
    return tuple(row._replace(supply=", ".join(names)) if times[row[:3]] > 1 else row for row, names in alike.items())


def gauge_steps_kpa(filling_kpa: float, change_over_kpa: float, unit: str) -> tuple[float, ...]:
    """At most six round gauges from near full down to above change-over, kPa, in steps of 1, 2, 2.5 or 5."""
    per_unit = figures.KPA_PER_UNIT[unit]
    top, low = filling_kpa / per_unit, change_over_kpa / per_unit
    step = 0.001
    while True:
        for factor in (1.0, 2.0, 2.5, 5.0):
            size = step * factor
            highest, lowest = figures.steps_down(top, size), figures.steps_down(low, size) + 1
            if highest - lowest + 1 <= MOST_ROWS:
                return tuple(number * size * per_unit for number in range(highest, lowest - 1, -1))
        step *= 10.0


def resuscitator_flow_l_per_min(plan: Plan) -> float:
    """The highest flow of a resuscitator that a device of the trip falls back on; 15 L/min where none is named."""
    bags = (device.flow_l_per_min for device in _bags(plan.trip))
    return max((flow for flow in bags if flow is not None), default=RESUSCITATOR_L_PER_MIN)


def _bags(trip: Trip) -> list[Device]:
    """The resuscitators that a device of the trip falls back on."""
    named = {device.if_it_fails for device in trip.devices.values()}
    return [one for one in trip.devices.values() if one.name in named and "by_hand" in device_types()[one.type].traits]


def names_a_bag(trip: Trip) -> bool:
    """True where a patient may have to be ventilated by hand: a resuscitator is named, or assumed for a ventilator."""
    return bool(_bags(trip)) or any(
        device_types()[use.device.type].fails == VENTILATOR_FAILS for leg in trip.legs for use in leg.uses
    )


def _flows(plan: Plan, supply: SupplyPlan) -> list[tuple[str, str, float]]:
    """For what, the flow in words, and the same flow as a number, L/min, that minutes are counted with.

    The planned flow and the one that it may rise to are what is drawn, up; that of the bag is what hands set, as the
    lines of the card say it. Where settings may rise the bag stands beside them only where a patient may need one.
    """
    drawn = {"planned": supply.need.peak_flow_l_per_min}
    if rises := any(use.device.may_rise_to is not None for leg in plan.trip.legs for use in leg.uses):
        drawn["raised"] = risen_flow_l_per_min(plan, supply.supply.name)
    told = [(what, figures.flow_up(flow), figures.flow_as_printed(flow)) for what, flow in drawn.items() if flow > 0.0]
    by_bag = resuscitator_flow_l_per_min(plan)
    if supply.supply.gas == "oxygen" and by_bag > 0.0 and (not told or not rises or names_a_bag(plan.trip)):
        told.append(("by bag", figures.flow_set(by_bag), by_bag))
    return [one for number, one in enumerate(told) if one[2] not in [other[2] for other in told[:number]]]


def risen_flow_l_per_min(plan: Plan, supply: str) -> float:
    """The highest flow on a supply with every device at the settings to which it may rise; 0 where nothing draws."""
    legs = plan.trip.legs
    risen = flows(legs, with_devices(legs, lambda _, device: risen_device(plan.trip, device)))
    return peak_l_per_min(risen.get(supply, ()))


def one_of_each_size(supply: SupplyPlan) -> list[CylinderPlan]:
    """One cylinder of each size and gas temperature; of a manifold, which has one gauge, the first."""
    found: dict[tuple[str, float, float, float], CylinderPlan] = {}
    for item in supply.cylinders:
        found.setdefault(_kind(item), item)
    items = list(found.values())
    return items[:1] if supply.supply.kind == "manifold" else items


def _kind(item: CylinderPlan) -> tuple[str, float, float, float]:
    """What tells cylinders apart that last differently from one gauge reading."""
    return _size(item), item.cylinder.water_capacity_l, item.read_degc, item.cold_degc


def _place(supply: SupplyPlan, item: CylinderPlan) -> str:
    """Where a size is found: its supply, with the labels where the same supply has others of that size."""
    name, alike = supply.supply.name, [each for each in supply.cylinders if _size(each) == _size(item)]
    if supply.supply.kind == "manifold" or len({_kind(each) for each in alike}) == 1:
        return name
    return f"{name} {', '.join(each.cylinder.label for each in alike if _kind(each) == _kind(item))}"


def _size(item: CylinderPlan) -> str:
    of = item.cylinder
    text = of.size or of.label_contents
    return of.label if text is None else of_gas(text, of.gas)


def size_title(supply: SupplyPlan, item: CylinderPlan) -> str:
    """The size as printed, `US-E`; of a manifold with the number of cylinders of each, `2 × US-E + US-D`."""
    if supply.supply.kind == "manifold":
        sizes = Counter(_size(each) for each in supply.cylinders)
        return " + ".join(f"{count} × {size}" if count > 1 else size for size, count in sizes.items())
    return _size(item)
