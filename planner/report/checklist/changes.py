"""Every change of source and of cylinder on the way, in the order of time, each with its own short list."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Final, NamedTuple

from planner import figures
from planner.constants import PIN_INDEX, SAME_MIN
from planner.flow import devices
from planner.model import Device, Leg
from planner.naming import called
from planner.report.card.legs import OUTLETS
from planner.report.change_gauge import comes_off_with_gas_left, expected_gauge, off_gauge
from planner.report.checklist.data import Change, Side, WriteIn
from planner.report.checklist.facts import Facts, device_words, trip_facts, valve_of
from planner.report.checklist.items import items
from planner.report.log.log import LogRow, log
from planner.results import ChangeOver, Checkpoint, Plan, SupplyPlan

SHORT_NAME = 14
"""A longer name is called `the new one` or `the old one` in the lines; it stands in full above them."""


class Move(NamedTuple):
    """Devices that go from one supply to another between two legs; `old` is None where a supply comes in new."""

    old: str | None
    new: str
    moved: tuple[Device, ...]


class Way(NamedTuple):
    """A plan with what holds of it, and the rows of its readings log."""

    plan: Plan
    facts: Facts
    rows: tuple[LogRow, ...]


def changes(plan: Plan) -> tuple[Change, ...]:
    """Every change of a plan, numbered in the order in which hands do them.

    At one minute a change of source comes before one of cylinder; but a cylinder of a supply that feeds nobody yet is
    changed first, while the patient still breathes from the old source.
    """
    way = Way(plan, trip_facts(plan), tuple(row for part in log(plan) for row in part.rows))
    found = sorted((*_of_source(way), *_of_cylinder(way)), key=lambda each: each[:2])
    return tuple(_numbered(number, change) for number, (_, _, change) in enumerate(found, start=1))


def moves(before: Leg, after: Leg) -> tuple[Move, ...]:
    """What changes its source between two legs: devices at work in both, then supplies that come in new."""
    return (*_moves(_oxygens(before), _oxygens(after)), *_moves(_airs(before), _airs(after)))


def _oxygens(leg: Leg) -> list[tuple[Device, str]]:
    """The devices of a leg, each with its supply; a flow that was measured above plan is none."""
    return [(use.device, use.supply) for use in leg.uses if not use.device.measured]


def _airs(leg: Leg) -> list[tuple[Device, str]]:
    """The devices of a leg that take their air from a supply, each with that."""
    return [(use.device, use.device.air_supply) for use in leg.uses if use.device.air_supply is not None]


def _moves(before: list[tuple[Device, str]], after: list[tuple[Device, str]]) -> Iterator[Move]:
    """The same for one gas: devices with their supplies in both legs."""
    last = {device.name: supply for device, supply in before}
    gone, come = list(dict.fromkeys(name for _, name in before)), list(dict.fromkeys(name for _, name in after))
    groups: dict[tuple[str | None, str], list[Device]] = {}
    for device, supply in after:
        old = last.get(device.name)
        if old is not None and old != supply:
            groups.setdefault((old, supply), []).append(device)
    taken = {new for _, new in groups}
    left = [name for name in gone if name not in {*come, *(old for old, _ in groups)}]
    for name in come:
        if name not in taken and name not in gone:
            old = left.pop(0) if left else None
            groups[old, name] = [device for device, supply in after if supply == name]
    return (Move(old, new, tuple(moved)) for (old, new), moved in groups.items())


GAS_WORDS: Final = {"oxygen": "OXYGEN", "air": "AIR"}


def _gas_texts(gas: str) -> dict[str, str]:
    """What the label, the yoke and the outlet of a gas say, and what they must not say."""
    other = "oxygen" if gas == "air" else "air"
    return {"gas": GAS_WORDS[gas], "other_gas": other, "pins": PIN_INDEX[gas]}


def _numbered(number: int, change: Change) -> Change:
    """The change with its number, in the names of its blanks too."""
    blanks = tuple(
        blank if blank.name.startswith("log.") else blank._replace(name=f"change.{number}.{blank.name}")
        for blank in change.blanks
    )
    return change._replace(number=number, blanks=blanks)


def _of_source(way: Way) -> Iterator[tuple[float, int, Change]]:
    minute, legs = 0.0, way.plan.trip.legs
    for index, (before, after) in enumerate(pairwise(legs)):
        minute += before.total_min
        found = moves(before, after)
        for place, move in enumerate(found):
            last = all(other.old != move.old for other in found[place + 1 :])
            yield minute, 0, _source_change(way, index, move, minute, last=last)


def _source_change(way: Way, index: int, move: Move, minute: float, *, last: bool) -> Change:
    """One change of source. Of several from one supply, the `last` alone shuts it: until then somebody draws on it."""
    plan, facts = way.plan, way.facts
    after = plan.trip.legs[index + 1]
    old = None if move.old is None else _side(plan, _checkpoint(plan, index, "end", move.old), move.old)
    new = _side(plan, _checkpoint(plan, index + 1, "start", move.new), move.new)
    on, off = _called(move.new, "new"), _called(move.old or "", "old")
    texts = {**facts.texts, "on": on, "off": off, "devices": ", ".join(map(_device, move.moved))}
    texts |= _gas_texts(plan.trip.supplies[move.new].gas)
    word = {*_words(after), *_source_words(plan, move, after, last=last)}
    return Change(
        number=0,
        kind="source",
        leg=f"before leg {index + 2}: {after.name}",
        old=old,
        new=new,
        elapsed=figures.minutes_down(minute),
        clock=figures.clock_down(plan.trip.departs, minute, narrow=True),
        by_gauge=False,
        notes=(),
        items=items(plan, "source_change", Facts(frozenset(word), texts)),
        blanks=_blanks(
            (old, _row(way, move.old or "", f"arrive, leg {index + 1},")),
            (new, _row(way, move.new, f"leave, leg {index + 2},")),
        ),
    )


def _source_words(plan: Plan, move: Move, after: Leg, *, last: bool) -> Iterator[str]:
    new = plan.supplies[move.new].supply
    yield f"to_{'cylinders' if new.kind == 'sizes' else new.kind}"
    if new.fixed:
        yield "to_fixed"
    if move.old is None:
        return
    if plan.supplies[move.old].supply.portable:
        yield "from_portable"
    if last and move.old not in after.supplies:
        yield "from_idle"


def _of_cylinder(way: Way) -> Iterator[tuple[float, int, Change]]:
    for supply in way.plan.supplies.values():
        for change in supply.change_overs:
            first = _fed_by_others(way.plan, supply.supply.name, change)
            yield change.minute, -1 if first else 1, _cylinder_change(way, supply, change, first)


def _fed_by_others(plan: Plan, supply: str, change: ChangeOver) -> tuple[str, ...]:
    """What feeds the patient until a supply comes into use with this change; none where the supply feeds already."""
    number, _, at_start = _leg(plan, change)
    if not at_start or number == 1:
        return ()
    gas = plan.trip.supplies[supply].gas
    feeding = tuple(name for name in plan.trip.legs[number - 2].supplies if plan.trip.supplies[name].gas == gas)
    return () if supply in feeding else feeding


def _cylinder_change(way: Way, supply: SupplyPlan, change: ChangeOver, fed_by: tuple[str, ...]) -> Change:
    """One change of cylinder; `fed_by` names what feeds the patient meanwhile, where that is not this supply."""
    plan, facts = way.plan, way.facts
    number, leg, at_start = _leg(plan, change)
    elapsed = figures.minutes_down(change.minute)
    left_over = comes_off_with_gas_left(plan, change)
    turn = next((turn for turn in supply.order if _begins(turn.cylinder, turn.from_min, change)), None)
    name = supply.supply.name
    old = Side(change.from_cylinder, name, off_gauge(plan, change))
    starts = "" if turn is None else expected_gauge(plan, name, turn.cylinder, turn.gauge_start_kpa)
    new = Side(change.to_cylinder, name, starts)
    texts = {
        **facts.texts,
        "on": _called(called(new.name), "new"),
        "off": _called(called(old.name), "old"),
        "devices": "",
        **_gas_texts(supply.supply.gas),
    }
    word = {*_words(leg), *_valve_words(supply, change.to_cylinder)}
    if supply.supply.gas == "air":
        word.add("to_air")
    if leg.magnet and not _magnet_safe(supply, change.from_cylinder):
        word.add("unsafe_off")
    notes = []
    if fed_by:
        notes.append(f"First, while the patient still breathes from {' and '.join(fed_by)}.")
    if left_over:
        word.add("early")
        why = (
            "Early, to keep a no-change stretch free."
            if change.early
            else f"Now, because {called(old.name)} cannot serve on."
        )
        notes.append(why)
    if change.inside_no_change:
        word.add("inside_no_change")
        notes.append("INSIDE a no-change stretch: a pair of hands for this alone.")
    return Change(
        number=0,
        kind="cylinder",
        leg=f"{'before' if at_start else 'in'} leg {number}: {leg.name}",
        old=old,
        new=new,
        elapsed=elapsed,
        clock=figures.clock_down(plan.trip.departs, change.minute, narrow=True),
        by_gauge=not left_over,
        notes=tuple(notes),
        items=items(plan, "cylinder_change", Facts(frozenset(word), texts)),
        blanks=_blanks(
            (old, _row(way, name, "change: comes off", elapsed, old.name)),
            (new, _row(way, name, "change: goes on", elapsed, new.name)),
        ),
    )


def _begins(cylinder: str, from_min: float, change: ChangeOver) -> bool:
    return cylinder == change.to_cylinder and abs(from_min - change.minute) < SAME_MIN


def _leg(plan: Plan, change: ChangeOver) -> tuple[int, Leg, bool]:
    """The leg that a change falls in, and whether on its start: the first of its name that lasts beyond the minute."""
    start = 0.0
    found = (len(plan.trip.legs), plan.trip.legs[-1], False)
    for number, leg in enumerate(plan.trip.legs, start=1):
        if leg.name == change.leg:
            found = (number, leg, abs(start - change.minute) < SAME_MIN)
            if start + leg.total_min > change.minute + SAME_MIN:
                break
        start += leg.total_min
    return found


def _words(leg: Leg) -> Iterator[str]:
    yield from device_words(use.device for use in leg.uses if not use.device.measured)
    if leg.magnet:
        yield "magnet"


def _valve_words(supply: SupplyPlan, label: str) -> Iterator[str]:
    return (f"to_{valve_of(item.cylinder)}" for item in supply.cylinders if item.cylinder.label == label)


def _magnet_safe(supply: SupplyPlan, label: str) -> bool:
    return any(item.cylinder.label == label and item.cylinder.magnet_safe for item in supply.cylinders)


def _called(name: str, what: str) -> str:
    return name if len(name) <= SHORT_NAME else f"the {what} one"


def _device(device: Device) -> str:
    return f"{device.name} ({OUTLETS[devices.outlet_kind(device)]})"


def _checkpoint(plan: Plan, index: int, at: str, supply: str) -> Checkpoint | None:
    return next(
        (check for check in plan.checkpoints if (check.leg_index, check.at, check.supply) == (index, at, supply)),
        None,
    )


def _side(plan: Plan, check: Checkpoint | None, supply: str) -> Side:
    if check is None or check.cylinder is None or check.gauge_kpa is None:
        return Side(supply, "", "")
    return Side(check.cylinder, supply, expected_gauge(plan, supply, check.cylinder, check.gauge_kpa))


def _row(way: Way, supply: str, what: str, elapsed: str | None = None, cylinder: str | None = None) -> LogRow | None:
    """The row of the readings log that asks for the same reading, so that both boxes carry one name."""
    return next(
        (
            row
            for row in way.rows
            if row.supply == supply
            and row.what.startswith(what)
            and elapsed in (None, row.elapsed)
            and cylinder in (None, row.cylinder)
        ),
        None,
    )


def _blanks(off: tuple[Side | None, LogRow | None], on: tuple[Side, LogRow | None]) -> tuple[WriteIn, ...]:
    """Time, the gauges of what comes off and goes on, initials, under the names of the log where it asks for them."""
    key = "" if on[1] is None else f"log.{on[1].key}."
    found = [WriteIn(f"{key}time", "time", "real time of the change")]
    for word, (side, row) in (("off", off), ("on", on)):
        if side is not None and side.gauge:
            name = f"{word}.gauge" if row is None else f"log.{row.key}.gauge"
            found.append(WriteIn(name, f"{word} reads", f"gauge of {side.name} ({side.supply}), {word}"))
    return (*found, WriteIn(f"{key}initials", "initials", "initials of who made the change"))
