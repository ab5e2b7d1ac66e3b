"""The readings log: a row for every reading that the plan asks for, in the order of time.

Before departure every cylinder is read; on the way at each start and end of a leg, about every 30 min inside a long
one, and at each change of cylinder; after return each cylinder that was used, shut, before it is bled. Some rows stay
free. What is written in can be compared with what was planned.
"""

from __future__ import annotations

from typing import NamedTuple

from planner import figures
from planner.go.batteries import makes_oxygen
from planner.model import Liquid
from planner.report import vessel
from planner.report.card.legs import readings
from planner.report.card.order import least_departure, order_places
from planner.report.change_gauge import expected_at, expected_gauge, least_at
from planner.report.minutes_table import size_title
from planner.results import BatteryAt, Between, ChangeOver, Checkpoint, Order, Plan, SupplyPlan

COMES_OFF = "change: comes off"
AFTER = "After return: valve shut, read before it is bled. If filled again: its gauge once cool"
FREE_ROWS = 8
DOING = {"start": "leave,", "between": "read in", "end": "arrive,"}


class LogRow(NamedTuple):
    """One reading: `key` is stable, `cart.A.2` the second reading of cylinder A on the cart.

    A reading inside a long leg has a key of its own, `between.2.1.cart` at the first cut of leg 2, and moves no other.
    `elapsed`, `clock`, `expected` and `least` are empty where they do not apply; `gauge` is False where
    there is no gauge to read; `free` where the crew names the cylinder; `last` for the last gauge of a cylinder, with
    room for what it was filled to since.
    `leg` is the index of the leg and `at` its start, between or end, where the row stands for a checkpoint. Below
    `leak` the gauge falls too fast for the plan; each minute later takes `leak_a_minute` off; both are
    empty where unknown.
    """

    key: str
    elapsed: str
    clock: str
    what: str
    where: str
    cylinder: str
    supply: str
    expected: str
    least: str
    gauge: bool = True
    free: bool = False
    leg: int | None = None
    at: str = ""
    leak: str = ""
    leak_a_minute: str = ""
    last: bool = False


class LogPart(NamedTuple):
    """Rows under one heading."""

    title: str
    rows: tuple[LogRow, ...]


def log(plan: Plan) -> tuple[LogPart, ...]:
    """The parts of the log of a plan: before departure, on the way, after return, and free rows."""
    keys = _Keys()
    free = tuple(LogRow(f"free.{n}", "", "", "", "", "", "", "", "", free=True) for n in range(1, FREE_ROWS + 1))
    parts = (
        LogPart("Before departure, valve open and gas flowing", tuple(_before(plan, keys))),
        LogPart("On the way", tuple(_on_the_way(plan, keys))),
        LogPart(AFTER, tuple(_after(plan, keys))),
        LogPart("Other readings", free),
    )
    return tuple(part for part in parts if part.rows)


class _Keys:
    """Numbers the readings of each cylinder."""

    def __init__(self) -> None:
        self._count: dict[tuple[str, str], int] = {}

    def next(self, supply: str, cylinder: str) -> str:
        number = self._count.get((supply, cylinder), 0) + 1
        self._count[supply, cylinder] = number
        return f"{supply}.{cylinder}.{number}"


def _before(plan: Plan, keys: _Keys) -> list[LogRow]:
    rows = []
    for supply in plan.supplies.values():
        if supply.supply.liquid is not None:
            rows.append(_vessel(plan, keys, supply, supply.supply.liquid))
        one_gauge = supply.supply.kind == "manifold"
        for items in [supply.cylinders] if one_gauge and supply.cylinders else [(item,) for item in supply.cylinders]:
            label = "+".join(item.cylinder.label for item in items)
            lowest = min(items, key=lambda item: item.cylinder.gauge_kpa)
            rows.append(
                LogRow(
                    key=keys.next(supply.supply.name, label),
                    elapsed=figures.minutes_down(0.0),
                    clock=figures.clock_down(plan.trip.departs, 0.0, narrow=True),
                    what="before departure",
                    where=size_title(supply, lowest),
                    cylinder=label,
                    supply=supply.supply.name,
                    expected=expected_gauge(plan, supply.supply.name, label, lowest.cylinder.gauge_kpa),
                    least=least_departure(plan, lowest),
                )
            )
    return [*rows, *(_battery(plan, one) for one in plan.battery_checks if one.leg_index is None)]


def _battery(plan: Plan, one: BatteryAt) -> LogRow:
    """The charge of a device, written as its battery shows it: in percent, lamps or minutes."""
    before = one.leg_index is None
    end = "" if one.leg_index is None else f"arrive, leg {one.leg_index + 1}"
    return LogRow(
        key=f"battery.{one.device}.{0 if one.leg_index is None else one.leg_index + 1}",
        elapsed=figures.minutes_down(one.minute),
        clock=figures.clock_down(plan.trip.departs, one.minute, narrow=True),
        what="before departure" if before else end,
        where=one.leg or "percent or lamps as read",
        cylinder=battery_of(one.device),
        supply="",
        expected=figures.minutes_down_or_none(one.left_min),
        least=figures.minutes_up(one.least_min) if one.least_min > 0.0 else "",
        leg=one.leg_index,
        at="" if before else "end",
    )


def battery_leads(plan: Plan, what: str) -> bool:
    """True for the battery of a device that makes the oxygen: the front of the card tells of it as of a cylinder.

    Any other stands overleaf, and on the list before leaving.
    """
    devices = dict.fromkeys(use.device for leg in plan.trip.legs for use in leg.uses)
    return any(makes_oxygen(device) and battery_of(device.name) == what for device in devices)


def battery_of(device: str) -> str:
    """What is read of a device that lives on a battery."""
    return f"battery of {device}"


def _vessel(plan: Plan, keys: _Keys, supply: SupplyPlan, liquid: Liquid) -> LogRow:
    """A vessel of liquid before departure, by its own gauge."""
    return LogRow(
        key=keys.next(supply.supply.name, "supply"),
        elapsed=figures.minutes_down(0.0),
        clock=figures.clock_down(plan.trip.departs, 0.0, narrow=True),
        what="before departure",
        where="liquid oxygen",
        cylinder=vessel.OWN_GAUGE,
        supply=supply.supply.name,
        expected=vessel.shows(liquid, supply.departs_with_kg),
        least=vessel.departing(supply),
    )


def _on_the_way(plan: Plan, keys: _Keys) -> list[LogRow]:
    """Checkpoints, readings inside long legs and changes in the order of time; at one minute a change comes first."""
    found: list[tuple[float, int, Checkpoint | Between | BatteryAt | tuple[SupplyPlan, ChangeOver]]] = [
        (check.minute, 1, check)
        for check in readings(plan)
        if check.minute > 0.0 or (check.cylinder is None and check.amount_kg is None)
    ]
    found += [
        (change.minute, 0, (supply, change)) for supply in plan.supplies.values() for change in supply.change_overs
    ]
    found += [(each.check.minute, 1, each) for each in plan.between]
    found += [(one.minute, 1, one) for one in plan.battery_checks if one.leg_index is not None]
    rows = []
    for _, _, event in sorted(found, key=lambda entry: entry[:2]):
        if isinstance(event, Checkpoint):
            rows.append(_checkpoint(plan, keys.next(event.supply, event.cylinder or "supply"), event))
        elif isinstance(event, BatteryAt):
            rows.append(_battery(plan, event))
        elif isinstance(event, Between):
            check = event.check
            rows.append(_checkpoint(plan, f"between.{check.leg_index + 1}.{event.number}.{check.supply}", check))
        else:
            rows += _change(plan, keys, *event)
    return rows


def _checkpoint(plan: Plan, key: str, check: Checkpoint) -> LogRow:
    unit = plan.trip.policy.pressure_unit
    kind = plan.supplies[check.supply].supply.kind
    own = {"pipeline": "wall outlet", "litres": vessel.OWN_GAUGE}.get(kind, "none left")
    return LogRow(
        key=key,
        elapsed=figures.minutes_down(check.minute),
        clock=figures.clock_down(plan.trip.departs, check.minute, narrow=True),
        what=f"{DOING[check.at]} leg {check.leg_index + 1}, draws {figures.flow_up(check.flow_l_per_min)}",
        where=check.leg,
        cylinder=check.cylinder or own,
        supply=check.supply,
        expected=expected_at(plan, check),
        least=least_at(plan, check),
        gauge=kind != "pipeline",
        leg=check.leg_index,
        at=check.at,
        leak="" if check.leak is None else figures.gauge_down(check.leak.gauge_kpa, unit),
        leak_a_minute="" if check.leak is None else _a_minute(check.leak.fall_kpa_per_min, unit),
    )


def _a_minute(fall_kpa_per_min: float, unit: str) -> str:
    """What a minute later takes off, `−16 a min`; nothing where nothing flows."""
    if fall_kpa_per_min <= 0.0:
        return ""
    return f"−{figures.gauge_fall_up(fall_kpa_per_min, unit).partition(' ')[0]} a min"


def _change(plan: Plan, keys: _Keys, supply: SupplyPlan, change: ChangeOver) -> list[LogRow]:
    next_up = supply.turn_that_begins(change)
    reads = [
        (change.from_cylinder, COMES_OFF, change.gauge_kpa),
        (
            change.to_cylinder,
            "change: goes on",
            None if next_up is None else next_up.gauge_start_kpa,
        ),
    ]
    return [
        LogRow(
            key=keys.next(supply.supply.name, cylinder),
            elapsed=figures.minutes_down(change.minute),
            clock=figures.clock_down(plan.trip.departs, change.minute, narrow=True),
            what=what,
            where=change.leg,
            cylinder=cylinder,
            supply=supply.supply.name,
            expected=expected_gauge(plan, supply.supply.name, cylinder, gauge_kpa),
            least="",
        )
        for cylinder, what, gauge_kpa in reads
    ]


def _after(plan: Plan, keys: _Keys) -> list[LogRow]:
    """Every cylinder that the plan uses, once, with the gauge at the end of its last turn."""
    last: dict[tuple[str, str], tuple[Order, str]] = {}
    for _, supply, turn, item in order_places(plan):
        if turn is None or turn.to_min <= turn.from_min:
            continue
        label = turn.cylinder
        if supply.supply.kind == "manifold":
            label = "+".join(each.cylinder.label for each in supply.cylinders)
        last[supply.supply.name, label] = (turn, "" if item is None else size_title(supply, item))
    return [
        LogRow(
            key=keys.next(supply_name, label),
            elapsed="",
            clock="",
            what="after return, shut",
            where=size,
            cylinder=label,
            supply=supply_name,
            expected=expected_gauge(plan, supply_name, label, turn.gauge_end_kpa),
            least="",
            last=True,
        )
        for (supply_name, label), (turn, size) in last.items()
    ]
