"""Every change of source and of cylinder on the way, in the order of time, each with its own short list."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, NamedTuple

from planner import figures
from planner.constants import PIN_INDEX
from planner.flow import devices
from planner.go.tubes import Tube, tubes
from planner.model import Leg
from planner.naming import called, listed
from planner.report.card.legs import OUTLETS
from planner.report.change_gauge import comes_off_with_gas_left, expected_gauge, off_gauge
from planner.report.checklist.data import ChangeList, Side, WriteIn
from planner.report.checklist.facts import Facts, device_words, least_contents, trip_facts
from planner.report.checklist.items import items
from planner.report.log.log import LogRow, log
from planner.results import Act, ChangeOver, Checkpoint, HandsOn, Plan, Source, SupplyPlan
from planner.trade.valves import valve_of

SHORT_NAME = 14
"""A longer name is called `the new one` or `the old one` in the lines; it stands in full above them."""


GAS_WORDS: Final = {"oxygen": "OXYGEN", "air": "AIR"}


class LoggedPlan(NamedTuple):
    """A plan with what holds of it, and the rows of its readings log."""

    plan: Plan
    facts: Facts
    rows: tuple[LogRow, ...]


def changes(plan: Plan) -> tuple[ChangeList, ...]:
    """Every change of a plan, numbered in the order in which hands do them."""
    way = LoggedPlan(plan, trip_facts(plan), tuple(row for part in log(plan) for row in part.rows))
    return tuple(
        _of_source(way, number, hands) if hands.change is None else _of_cylinder(way, number, hands, hands.change)
        for number, hands in enumerate(plan.changes, start=1)
    )


def _gas_texts(gas: str) -> dict[str, str]:
    """What the label, the yoke and the outlet of a gas say, and what they must not say."""
    other = "oxygen" if gas == "air" else "air"
    return {"gas": GAS_WORDS[gas], "other_gas": other, "pins": PIN_INDEX[gas]}


def _where(plan: Plan, hands: HandsOn) -> str:
    leg = plan.trip.legs[hands.leg_index]
    return f"{'before' if hands.at_start else 'in'} leg {hands.leg_index + 1}: {leg.name}"


def _acts(hands: HandsOn, do: str) -> tuple[Act, ...]:
    return tuple(act for act in hands.acts if act.do == do)


def _of_source(way: LoggedPlan, number: int, hands: HandsOn) -> ChangeList:
    plan, facts, index = way.plan, way.facts, hands.leg_index
    old, new = hands.old, hands.new
    off = None if old is None else _side(plan, _checkpoint(plan, index - 1, "end", old.supply), old)
    on = None if new is None else _side(plan, _checkpoint(plan, index, "start", new.supply), new)
    leg = plan.trip.legs[index]
    at_work = {tube.name: tube for tube in tubes(leg)}
    moved = [at_work[name] for act in _acts(hands, "move") for name in act.devices]
    texts = {
        **facts.texts,
        "on": _source_called(plan, new, "new"),
        "off": _source_called(plan, old, "old"),
        "off_supply": "" if old is None else _called(old.supply, "old"),
        "devices": ", ".join(map(_device, moved)),
        "contents": _contents(way, new, index),
        "released": ", ".join(hands.bare),
        **_gas_texts("oxygen" if new is None else plan.trip.supplies[new.supply].gas),
    }
    word = frozenset((*_words(leg), *_source_words(plan, hands)))
    return ChangeList(
        number=number,
        kind="source",
        leg=_where(plan, hands),
        old=off,
        new=on,
        elapsed=figures.minutes_down(hands.minute),
        clock=figures.clock_down(plan.trip.departs, hands.minute, narrow=True),
        by_gauge=False,
        notes=tuple(f"{name} gives NO OXYGEN from here until its own change, the next." for name in hands.bare),
        items=items(plan, "source_change", Facts(word, texts)),
        blanks=_blanks(
            number,
            (off, None if old is None else _row(way, old.supply, f"arrive, leg {index},")),
            (on, None if new is None else _row(way, new.supply, f"leave, leg {index + 1},")),
        ),
    )


def _contents(way: LoggedPlan, new: Source | None, index: int) -> str:
    """What a stated amount must read when it comes in, or later what it should read, where that is known."""
    if new is None or way.plan.supplies[new.supply].supply.kind != "litres":
        return ""
    if not any(new.supply in leg.supplies for leg in way.plan.trip.legs[:index]):
        return f"{least_contents(way.plan.supplies[new.supply])} or more"
    row = _row(way, new.supply, f"leave, leg {index + 1},")
    known = row is not None and row.expected not in ("", figures.NONE)
    return f"{row.expected} planned" if row is not None and known else "written in the log"


def _source_words(plan: Plan, hands: HandsOn) -> Iterator[str]:
    if hands.new is not None:
        new = plan.supplies[hands.new.supply].supply
        yield from ("comes_in", f"to_{'cylinders' if new.kind == 'sizes' else new.kind}", *["to_fixed"] * new.fixed)
    done = {act.do for act in hands.acts}
    holds = {
        "opens": "open" in done,
        "released": "release" in done,
        "from_portable": hands.old is not None and plan.supplies[hands.old.supply].supply.portable,
        "from_idle": "shut" in done,
    }
    yield from (word for word, on in holds.items() if on)


def _of_cylinder(way: LoggedPlan, number: int, hands: HandsOn, change: ChangeOver) -> ChangeList:
    plan, facts = way.plan, way.facts
    name = "" if hands.new is None else hands.new.supply
    supply = plan.supplies[name]
    leg = plan.trip.legs[hands.leg_index]
    elapsed = figures.minutes_down(hands.minute)
    left_over = comes_off_with_gas_left(plan, change)
    turn = supply.turn_that_begins(change)
    old = Side(change.from_cylinder, name, off_gauge(plan, change))
    starts = "" if turn is None else expected_gauge(plan, name, turn.cylinder, turn.gauge_start_kpa)
    new = Side(change.to_cylinder, name, starts)
    texts = {**facts.texts, **_names(hands, old, new), **_gas_texts(supply.supply.gas)}
    safe = any(item.cylinder.label == change.from_cylinder and item.cylinder.magnet_safe for item in supply.cylinders)
    word = {*_words(leg), *_cylinder_words(supply, hands), *["unsafe_off"] * (leg.magnet and not safe)}
    word |= {"early"} if left_over else set()
    return ChangeList(
        number=number,
        kind="cylinder",
        leg=_where(plan, hands),
        old=old,
        new=new,
        elapsed=elapsed,
        clock=figures.clock_down(plan.trip.departs, hands.minute, narrow=True),
        by_gauge=not left_over and not hands.fed_by,
        notes=tuple(_notes(plan, hands, change, left_over=left_over)),
        items=items(plan, "cylinder_change", Facts(frozenset(word), texts)),
        blanks=_blanks(
            number,
            (old, _row(way, name, "change: comes off", elapsed, old.name)),
            (new, _row(way, name, "change: goes on", elapsed, new.name)),
        ),
    )


def _names(hands: HandsOn, old: Side, new: Side) -> dict[str, str]:
    """The figures of a change of cylinder: what the lines call each cylinder, and what else is breathed from."""
    bridge = next(iter(_acts(hands, "bridge")), None)
    ready = next(iter(_acts(hands, "ready")), None)
    return {
        "on": _called(called(new.name), "new"),
        "off": _called(called(old.name), "old"),
        "devices": "",
        "bridge": "" if bridge is None else _source_name(bridge.at),
        "ready": "" if ready is None else _called(called(ready.at.cylinder or ""), "next"),
        "ready_off": "" if ready is None else _called(called(ready.off or ""), "old"),
    }


def _source_called(plan: Plan, source: Source | None, what: str) -> str:
    """A source in the lines: its supply, and its cylinder where the supply has several and the name stays short."""
    if source is None:
        return ""
    several = len(plan.supplies[source.supply].cylinders) > 1
    name = _source_name(source)
    return name if several and len(name) <= SHORT_NAME else _called(source.supply, what)


def _source_name(source: Source) -> str:
    return source.supply if source.cylinder is None else f"{source.supply}, {called(source.cylinder)}"


def _cylinder_words(supply: SupplyPlan, hands: HandsOn) -> Iterator[str]:
    new, old = hands.new, hands.old
    done = {act.do for act in hands.acts}
    opened, shut = ([act.at for act in _acts(hands, do)] for do in ("open", "shut"))
    yield from (
        f"to_{valve_of(one.cylinder)}" for one in supply.cylinders if new and one.cylinder.label == new.cylinder
    )
    holds = {
        "to_air": supply.supply.gas == "air",
        "swap": "swap" in done,
        "own_regulator": "swap" not in done,
        "opens": bool(done & {"open", "swap"}),
        "feeds": "move" in done,
        "bare": bool(hands.bare),
        "bridge": "bridge" in done,
        "bridge_opens": "bridge" in done and any(source not in (old, new) for source in opened),
        "ready": "ready" in done,
        "old_open": old in shut,
        "not_yet": new in shut,
        "bridge_shut": any(source not in (old, new) for source in shut),
    }
    yield from (word for word, on in holds.items() if on)


def _notes(plan: Plan, hands: HandsOn, change: ChangeOver, *, left_over: bool) -> Iterator[str]:
    if hands.fed_by:
        if hands.new is not None and hands.new.supply in plan.trip.legs[hands.leg_index].supplies:
            yield f"First, while the patient still breathes from {listed(hands.fed_by)}."
        else:
            yield f"Now, while the patient breathes from {listed(hands.fed_by)}: later hands are not free."
    if left_over and not hands.fed_by:
        why = "Early, to keep a no-change stretch free."
        why = f"Early: {called(change.from_cylinder)} is kept for a later leg." if change.kept else why
        yield why if change.early else f"Now, because {called(change.from_cylinder)} cannot serve on."
    if change.inside_no_change:
        yield "INSIDE a no-change stretch: a pair of hands for this alone."
    if hands.bare:
        yield "NO OXYGEN from here until the next is open: nothing else is there to give it."


def _words(leg: Leg) -> Iterator[str]:
    yield from device_words(use.device for use in leg.uses if not use.device.measured)
    if leg.magnet:
        yield "magnet"


def _called(name: str, what: str) -> str:
    return name if len(name) <= SHORT_NAME else f"the {what} one"


def _device(tube: Tube) -> str:
    return f"{tube.name} ({OUTLETS[devices.outlet_kind(tube.device)]})"


def _checkpoint(plan: Plan, index: int, at: str, supply: str) -> Checkpoint | None:
    return next(
        (check for check in plan.checkpoints if (check.leg_index, check.at, check.supply) == (index, at, supply)),
        None,
    )


def _side(plan: Plan, check: Checkpoint | None, source: Source) -> Side:
    """A source, with what its gauge should read at a checkpoint where that is of the same cylinder."""
    label = source.cylinder or (None if check is None else check.cylinder)
    if label is None:
        return Side(source.supply, "", "")
    if check is None or check.gauge_kpa is None or check.cylinder != label:
        return Side(label, source.supply, "")
    return Side(label, source.supply, expected_gauge(plan, source.supply, label, check.gauge_kpa))


def _row(
    way: LoggedPlan, supply: str, what: str, elapsed: str | None = None, cylinder: str | None = None
) -> LogRow | None:
    """The row of the readings log that asks for the same reading, so that both boxes carry one name."""
    for row in way.rows:
        same = row.supply == supply and elapsed in (None, row.elapsed) and cylinder in (None, row.cylinder)
        if same and row.what.startswith(what):
            return row
    return None


def _blanks(number: int, *sides: tuple[Side | None, LogRow | None]) -> tuple[WriteIn, ...]:
    """Time, the gauges of what comes off and goes on, initials, under the names of the log where it asks for them."""
    _, (_, on) = sides
    key = f"change.{number}" if on is None else f"log.{on.key}"
    found = [WriteIn(f"{key}.time", "time", "real time of the change")]
    for word, (side, row) in zip(("off", "on"), sides, strict=True):
        if side is not None and side.gauge:
            name = f"change.{number}.{word}.gauge" if row is None else f"log.{row.key}.gauge"
            found.append(WriteIn(name, f"{word} reads", f"gauge of {side.name} ({side.supply}), {word}"))
    return (*found, WriteIn(f"{key}.initials", "initials", "initials of who made the change"))
