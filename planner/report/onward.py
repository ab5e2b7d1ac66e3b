"""What a card says that was planned again on the way: which it is, what it takes the place of, what it rests on."""

from __future__ import annotations

from planner import figures
from planner.constants import SAME_KPA
from planner.model import Onward
from planner.naming import called
from planner.report import words
from planner.results import Plan


def onward_lines(plan: Plan) -> tuple[str, ...]:
    """Sentences for the head of a card, the first with its revision; none for a trip that begins."""
    onward = plan.trip.onward
    if onward is None:
        return ()
    return (revision_line(plan, onward), _place(onward), *_reckoned(plan, onward), *_choices(plan))


def revision_line(plan: Plan, onward: Onward) -> str:
    """Which revision the card is, what minute 0 of it is, and the card to take away."""
    clock = figures.clock_down(plan.trip.departs, 0.0)
    at = f"{figures.minutes_down(onward.from_min)} after the trip left{f', {clock}' if clock else ''}"
    return (
        f"REVISION {onward.revision}: what is left of the trip, planned {at}. That is minute 0 and the departure on "
        f"this card. It replaces card {onward.replaces}: take that one away."
    )


def _place(onward: Onward) -> str:
    source = "as was said" if onward.told else "by the log"
    return f"Taken: {onward.leg_name}, {figures.minutes_up(onward.to_go_min)} to go, {source}."


def _reckoned(plan: Plan, onward: Onward) -> list[str]:
    """Gauges that were carried forward, supplies that nobody read, and what was measured above plan."""
    unit = plan.trip.policy.pressure_unit
    found = [
        f"LOOK AT THE PATIENT FIRST: less left {name} than planned. Is it open, are labels and units right? What "
        "nobody read of it counts at its least."
        for name in onward.less
    ]
    found += [
        f"{name}: the reading of {called(read)} may be one of {called(meant)}; counted is what leaves less. READ BOTH "
        "NOW, with their labels, and plan again."
        for name, read, meant in onward.labels
    ]
    found += [f"{name} was not read on the way: reckoned as planned. READ IT NOW." for name in onward.unread]
    found += [
        f"{name}: {called(label)} is counted, and may not be on board: the log does not name it, and its store is not "
        "as it was. LOOK NOW, read what is there, and plan again with it in the log."
        for name, label in onward.ashore
    ]
    carried = [
        f"{called(each.cylinder)} read {figures.gauge_read(each.read_kpa, unit)} and is taken as "
        f"{figures.gauge_read(each.gauge_kpa, unit)}"
        for each in onward.carried
        if SAME_KPA < each.gauge_kpa < each.read_kpa - SAME_KPA and each.supply not in onward.unread
    ]
    found += [
        f"{each.supply}: {called(each.cylinder)} read {figures.gauge_read(each.read_kpa, unit)}, came off, and nobody "
        "read it since: it counts as empty."
        for each in onward.carried
        if each.gauge_kpa <= SAME_KPA < each.read_kpa and each.supply not in onward.unread
    ]
    found += [f"Since its last reading drawn down: {'; '.join(carried)}."] if carried else []
    found += [
        f"{name} gave up to {figures.flow_up(flow)} more than planned and logged: counted to the end. Find out why."
        for name, flow in onward.more_l_per_min
    ]
    return found


def _choices(plan: Plan) -> tuple[str, ...]:
    """Of a no-go, the last minute of each choice: it is what the crew has to choose between."""
    if plan.go:
        return ()
    can = (words.turn_back_sentence(plan, window) for window in plan.turn_backs)
    return *_going_on(plan), *can, *words.cannot_sentences(plan)


def _going_on(plan: Plan) -> tuple[str, ...]:
    """Until when the supply lasts that ends first, at planned flows and without any reserve."""
    ends = [(one.lasts_min, name) for name, one in plan.supplies.items() if one.lasts_min is not None and one.order]
    if not ends:
        return ()
    minute, name = min(ends)
    until = words.minute_and_clock(plan, minute)
    return (f"Going on without any reserve: {name} ends by {until}, however long its last leg takes.",)
