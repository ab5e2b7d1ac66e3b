"""The front of the first sheet, as plain data: what is read on the move, in its final rounding.

One row a cylinder, one row a leg at its end, and at most three actions on failure beside those for AIR; more stand
overleaf, and the front says for which failures. The boxes bear the names of the log's own readings: what is typed here
stands there too.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import NamedTuple

from planner import figures
from planner.constants import SAME_MIN
from planner.report import vessel, words
from planner.report.card.actions import Action, actions
from planner.report.card.legs import leg_warnings, read_where, sole_labels
from planner.report.card.order import least_departure, order_places, size_words
from planner.report.change_gauge import change_gauge_kpa, expected_gauge
from planner.report.gases import has_air
from planner.report.log.log import LogRow, battery_leads, battery_of, log
from planner.report.onward import onward_lines
from planner.report.validity import not_valid, valid_text
from planner.results import CylinderPlan, Order, Plan, SupplyPlan

MOST_ACTIONS = 3
BEFORE = "before departure"


class CylinderRow(NamedTuple):
    """One cylinder in its turn. `least` and `field` are empty where it comes round again: it is read once."""

    name: str
    detail: str
    least: str
    field: str
    change_at: str
    when: str


class LegRow(NamedTuple):
    """The reading at the end of one leg on one supply; `name` is empty on the second supply of a leg.

    `warnings` are lines of their own, as in a magnet room. `supply` is told where room is left: the list of cylinders
    has it too; where two share a label it is part of `cylinder`. `field` is empty without a gauge.
    """

    number: int
    name: str
    no_change: bool
    warnings: tuple[str, ...]
    cylinder: str
    supply: str
    when: str
    expected: str
    leak: str
    leak_a_minute: str
    act: str
    field: str
    time_field: str
    battery: bool = False


class Front(NamedTuple):
    """The whole front. `decision` says in words who accepted what; empty for a plain go.

    `not_valid` stands behind the verdict of a go whose readings are too old.

    `onward` is what a card says that was planned again on the way; `overleaf` the failures whose actions stand there.
    `battery_act`: some reading of a battery, here or overleaf, has a least. `two_gases`: a supply holds AIR.
    """

    verdict: str
    not_valid: str
    onward: tuple[str, ...]
    decision: tuple[str, ...]
    route: str
    facts: tuple[str, ...]
    valid: str
    changed: tuple[str, ...]
    cylinders: tuple[CylinderRow, ...]
    notes: tuple[str, ...]
    legs: tuple[LegRow, ...]
    actions: tuple[Action, ...]
    overleaf: tuple[str, ...]
    battery_act: bool = False
    two_gases: bool = False


def front(
    plan: Plan,
    facts: tuple[str, ...],
    changed: tuple[str, ...],
    notes: tuple[str, ...],
    issued: datetime | None = None,
) -> Front:
    """The front of a plan's first sheet; `facts`, `changed` and `notes` as the rest of the card says them."""
    rows = tuple(row for part in log(plan) for row in part.rows)
    first, more = split(actions(plan))
    return Front(
        verdict=words.verdict(plan),
        not_valid=not_valid(plan, issued),
        onward=onward_lines(plan),
        decision=words.decisions(plan),
        route=plan.trip.name,
        facts=facts,
        valid=valid_text(plan, issued),
        changed=changed,
        cylinders=_cylinders(plan, rows),
        notes=notes,
        legs=tuple(_legs(plan, rows)),
        actions=first,
        overleaf=tuple(action.when for action in more),
        battery_act=any(one.least_min > 0.0 for one in plan.battery_checks),
        two_gases=has_air(plan),
    )


def split(found: tuple[Action, ...]) -> tuple[tuple[Action, ...], tuple[Action, ...]]:
    """The actions that stand on the front, and those overleaf."""
    more = [action for action in found if not action.in_front][MOST_ACTIONS:]
    return tuple(action for action in found if action not in more), tuple(more)


def _vessels(plan: Plan, rows: tuple[LogRow, ...]) -> Iterator[CylinderRow]:
    """Vessels of liquid, each by its own gauge: they are read before leaving as cylinders are."""
    for name, supply in plan.supplies.items():
        liquid = supply.supply.liquid
        if liquid is not None and supply.ledger:
            ends = max((check for check in plan.checkpoints if check.supply == name), key=lambda check: check.minute)
            yield CylinderRow(
                name=name,
                detail="liquid oxygen",
                least=vessel.departing(supply),
                field=_field(rows, name, vessel.OWN_GAUGE),
                change_at=vessel.at_least(liquid, liquid.keep_kg),
                when=f"ends at {vessel.shows(liquid, ends.amount_kg)}",
            )


def _batteries(plan: Plan) -> Iterator[CylinderRow]:
    """Batteries of what makes the oxygen: the least is what is to come, `battery_factor` included."""
    for one in plan.battery_checks:
        if one.leg_index is None and battery_leads(plan, battery_of(one.device)):
            ends = [each for each in plan.battery_checks if each.device == one.device][-1]
            ending = "" if ends.left_min is None else f"ends at {figures.minutes_down(ends.left_min)}"
            yield CylinderRow(
                name=battery_of(one.device),
                detail="as it shows" if one.left_min is None else f"has {figures.minutes_down(one.left_min)}",
                least=figures.minutes_up(one.least_min),
                field=f"log.battery.{one.device}.0.gauge",
                change_at="",
                when=ending,
            )


def _cylinders(plan: Plan, rows: tuple[LogRow, ...]) -> tuple[CylinderRow, ...]:
    places = order_places(plan)
    several = len({place.supply.supply.name for place in places}) > 1
    found = list(_vessels(plan, rows))
    for _, supply, turn, item in places:
        name = supply.supply.name
        label = turn.cylinder if turn is not None else "" if item is None else item.cylinder.label
        size = figures.NONE if item is None else size_words(item)
        begun = () if turn is None else supply.order[: supply.order.index(turn)]
        again = any(other.cylinder == label for other in begun)
        found.append(
            CylinderRow(
                name=label,
                detail=f"{name}, {size}" if several else size,
                least="" if again else least_departure(plan, item),
                field="" if again else _field(rows, name, label),
                change_at=figures.gauge_up(change_gauge_kpa(plan, item), plan.trip.policy.pressure_unit),
                when=_when(plan, supply, turn, item),
            )
        )
    return (*found, *_batteries(plan))


def _when(plan: Plan, supply: SupplyPlan, turn: Order | None, item: CylinderPlan | None) -> str:
    """When a cylinder is changed, what it ends at, or what it is there for."""
    change = None if turn is None else supply.change_that_ends(turn)
    if change is not None:
        clock = figures.clock_down(plan.trip.departs, change.minute, narrow=True)
        told = (figures.minutes_down(change.minute), clock, f"leg {_leg_at(plan, change.minute)}")
        return " ".join(filter(None, told))
    if turn is not None and turn.to_min > turn.from_min:
        return f"ends at {expected_gauge(plan, supply.supply.name, turn.cylinder, turn.gauge_end_kpa)}"
    if item is None:
        return figures.NONE
    if item.usable_l <= 0.0:
        return "NOTHING USABLE"
    return "in reserve" if item.serves else "NOT FIT: see cautions"


def _field(rows: tuple[LogRow, ...], supply: str, label: str) -> str:
    """The name of the log's box for the reading of a cylinder before departure, or of the gauge it shares."""
    return next(
        (
            f"log.{row.key}.gauge"
            for row in rows
            if row.what == BEFORE
            and row.supply == supply
            and (row.cylinder == label or label in row.cylinder.split("+"))
        ),
        "",
    )


def _leg_at(plan: Plan, minute: float) -> int:
    """The number of the leg in which a minute falls; on the border, of the leg that ends."""
    end = 0.0
    for number, leg in enumerate(plan.trip.legs, start=1):
        end += leg.total_min
        if minute <= end + SAME_MIN:
            return number
    return len(plan.trip.legs)


def _legs(plan: Plan, rows: tuple[LogRow, ...]) -> list[LegRow]:
    found = []
    told: set[int] = set()
    sole = sole_labels(plan)
    several = sum(bool(supply.cylinders) for supply in plan.supplies.values()) > 1
    for row in rows:
        if row.at != "end" or row.leg is None or not (row.supply or battery_leads(plan, row.cylinder)):
            continue
        leg = plan.trip.legs[row.leg]
        first = row.leg not in told
        told.add(row.leg)
        where = read_where(plan, sole, row.supply, row.cylinder)
        found.append(
            LegRow(
                number=row.leg + 1,
                name=leg.name if first else "",
                no_change=first and leg.no_change,
                warnings=leg_warnings(plan, leg) if first else (),
                cylinder=where,
                supply=row.supply if several and where not in (f"{row.cylinder} ({row.supply})", row.supply) else "",
                when=" ".join(filter(None, (row.elapsed, row.clock))),
                expected=row.expected,
                leak=row.leak,
                leak_a_minute=row.leak_a_minute,
                act=row.least,
                field=f"log.{row.key}.gauge" if row.gauge else "",
                time_field=f"log.{row.key}.time",
                battery=not row.supply,
            )
        )
    return found
