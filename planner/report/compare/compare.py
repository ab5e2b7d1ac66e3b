"""What was used against what was planned, for the screen: what to do first, then the figures, then how sure they are.

The lowest litres go down, the highest up. Minutes are those since departure, with the clock time where it is known.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from planner import figures
from planner.afterwards.answers import Answer
from planner.afterwards.compare import Comparison
from planner.afterwards.rest import Rest
from planner.afterwards.stretches import SET_FLOW_WITHIN, Stretch
from planner.afterwards.vessels import Weighed
from planner.constants import MINUTE_NOISE
from planner.naming import labelled
from planner.report import vessel, words
from planner.report.compare import gas
from planner.report.compare.gas import gases, is_air, labels, named
from planner.report.screen import printable, table, wrap

Told = Stretch | Weighed
"""A stretch of cylinders, or a vessel of liquid between its readings."""

VERDICTS: Final = {
    "as_planned": "as planned",
    "faster": "FASTER",
    "slower": "SLOWER",
    "cannot_tell": "cannot tell",
}
BASES: Final = {
    "planned": "as planned",
    "written": "as written in the log",
    "measured": "as measured",
    "at_most": "at the most that the gauges allow",
    "late": "at the most, and as late as the log allows",
}
LOOK: Final = (
    "Look at the patient, then follow the oxygen back to the cylinder: supply shut, hose off or kinked, mask or tube "
    "off, another cylinder in use?"
)
LOOK_BACK: Final = "Was the supply shut, a hose off or kinked, or another cylinder in use?"
LEAK: Final = "Look and listen for a leak, and check the settings against the plan. Settings changed: plan again."
LEAK_BACK: Final = "Was there a leak, or were settings changed? Check cylinder and regulator before the next trip."
CONFIDENCE: Final = 0.95


def confidence_text() -> str:
    """How sure a verdict is, and where that comes from."""
    return (
        "How sure: the ranges cover about 95 of 100 cases of what gauges are misread by (twice the standard "
        "uncertainty, JCGM 100:2008, from memory), with the gauge's class, temperature, water capacity and time at "
        f"their worst besides. A flow may be {figures.percent(SET_FLOW_WITHIN)} off what is set (ISO 15002, from "
        "memory). SLOWER and FASTER are said only where the whole range is beyond that, 'as planned' only where half "
        "of the planned use would have shown."
    )


def compare_text(found: Comparison) -> str:
    """The comparison as text with a line break at its end."""
    parts = (
        _head(found),
        [line for number, step in enumerate(steps(found), start=1) for line in wrap(step, f"  {number}. ")],
        _table(found),
        _rest(found),
        _closing(found),
        [line for finding in found.findings for line in wrap(words.finding_sentence(finding), "", "  ")],
        wrap(confidence_text()),
        wrap(words.PLANNING_AID[0]),
    )
    lines = [line for part in parts if part for line in ("", *part)][1:]
    return "\n".join(printable(line.rstrip()) for line in lines) + "\n"


# What to do


def headline(found: Comparison) -> str:
    """One line that leads everything."""
    verdicts = {each.verdict for each in found.told}
    over = found.log.closing is not None
    act = any(answer.verdict == "act" for answer in found.answers)
    if "slower" in verdicts:
        less = gas.less(found)
        if over:
            return f"{less.replace(' is ', ' was ', 1).upper()}. Find out why before the next trip."
        then = " Then ACT: the rest of the trip does not hold." if act else ""
        return f"LOOK AT THE PATIENT FIRST - {less}.{then}"
    more = f"{gas.more(found)}, and " if "faster" in verdicts else ""
    if act:
        short = [name for rest in found.rests if rest.basis not in ("at_most", "late") for name in rest.out]
        what = "" if not any(is_air(found.plan, name) for name in short) else f": {gases(found.plan, short)} RUNS OUT"
        return f"ACT - {more}the rest of the trip does not hold{what}."
    if not found.holds:
        lasts = "gas lasts" if any(is_air(found.plan, name) for name in found.plan.supplies) else "oxygen lasts"
        return f"ACT - {more}the rest of the trip is no-go: its {lasts}, but what the plan asks for is lacking."
    if "faster" in verdicts:
        if over:
            return f"{gas.more(found).replace(' is ', ' was ', 1).upper()}. Find out why before the next trip."
        return f"ACT - {gas.more(found)}."
    unsure = [answer for answer in found.answers if answer.verdict == "cannot-tell"]
    if unsure:
        return f"CANNOT TELL whether the rest of the trip holds - {_again(found, unsure)}."
    if not found.told:
        return "NO COMPARISON YET - it takes two readings of a cylinder."
    if "as_planned" not in verdicts:
        rest = "" if over else " The rest of the trip holds at the most that they allow."
        return f"THE GAUGES CANNOT TELL - neither as planned nor otherwise.{rest}"
    return "AS PLANNED - " + ("the trip used what was planned." if over else "and the rest of the trip holds.")


def _again(found: Comparison, unsure: list[Answer]) -> str:
    """What to read by when, the earliest first: `read cart again by 52 min (15:02)`."""
    if all(answer.which_leg for answer in unsure):
        return "write when its leg began" if _leg_named(found) else "write in which leg it was read"
    first = min(unsure, key=lambda answer: answer.read_again_by_min or 0.0)
    names = ", ".join(answer.supply for answer in unsure)
    again = "" if first.unread else "again "
    minute = first.read_again_by_min
    now = minute is None or minute <= found.now_min + 0.5
    return f"read {names} {again}" + ("NOW" if now else f"by {_minute(found, minute or 0.0)}")


def _head(found: Comparison) -> list[str]:
    trip = found.plan.trip
    name = trip.name if trip.reference is None else f"{trip.name} ({trip.reference})"
    what = "last reading" if found.log.closing is None else "last gauges"
    lines = wrap(headline(found))
    for text in measured_texts(found):
        lines += wrap(text)
    lines += wrap(f"Trip: {name}; {what} at {_minute(found, found.now_min)}")
    return [*lines, *wrap(assumed_text(found))] if found.rests else lines


def measured_texts(found: Comparison) -> list[str]:
    """The flow that was measured last of each supply, beside the planned one."""
    texts = []
    for supply, stretch in {stretch.supply: stretch for stretch in found.stretches}.items():
        least = figures.flow_down(max(0.0, stretch.lowest_l) / stretch.minutes).removesuffix(" L/min")
        most = figures.flow_up(max(0.0, stretch.highest_l) / stretch.minutes)
        planned = figures.flow_up(stretch.planned_l / stretch.minutes)
        between = f"{figures.minutes_down(stretch.from_min)} to {_minute(found, stretch.to_min)}"
        texts.append(f"Measured on {supply}, {between}: {least} to {most}, planned {planned}.")
    return texts


def assumed_text(found: Comparison) -> str:
    """The leg and the minutes to go that the rest is reckoned with."""
    bounds, now = found.bounds_min, found.now_min
    legs = found.plan.trip.legs
    number = next((n for n, end in enumerate(bounds[1:]) if end > now + MINUTE_NOISE), len(legs) - 1)
    to_go = figures.minutes_up(bounds[-1] - now)
    in_leg = figures.minutes_up(bounds[number + 1] - now)
    text = f"Assumed: in leg {number + 1} ({legs[number].name}) with {in_leg} of it to go, {to_go} to the end."
    late = next((rest for rest in found.rests if rest.basis == "late"), None)
    if late is not None:
        most = figures.minutes_up(sum(leg.total_min for leg in late.plan.trip.legs))
        unsaid = "when that leg began" if _leg_named(found) else "so"
        mend = "Write `at: start` where a leg begins" if _leg_named(found) else "Write `leg:` beside each reading"
        text += f" The log does not say {unsaid}; as late as it allows, {most} are to go. {mend}."
    return text


def _leg_named(found: Comparison) -> bool:
    """True where the last reading says in which leg it was taken."""
    return any(entry.leg is not None and entry.minute >= found.now_min - MINUTE_NOISE for entry in found.log.entries)


def steps(found: Comparison) -> list[str]:
    """What to do, in order: the patient, a leak, the rest of the trip, for how long to watch."""
    slower = [stretch for stretch in found.alerts if stretch.verdict == "slower"]
    faster = [stretch for stretch in found.alerts if stretch.verdict == "faster"]
    over = found.log.closing is not None
    told = [_which_label(found, answer) for answer in found.answers if answer.label is not None]
    told += [
        f"{_alert(found, stretch)} {_look(found, stretch)}{_written(stretch)}"
        for stretch in (*_worst(slower), *_worst(faster))
    ]
    told += [
        _act(found, rest, rest.act_by_min)
        for rest in found.rests
        if rest.act_by_min is not None and rest.basis not in ("at_most", "late")
    ]
    told += [
        _cannot_tell(found, answer)
        for answer in found.answers
        if answer.verdict == "cannot-tell" and answer.label is None
    ]
    return told if over else [*told, *_watch(found)]


def _which_label(found: Comparison, answer: Answer) -> str:
    """Whose reading it was, which decides: the cause stands before what follows if the label is right."""
    if answer.label is None:
        return ""
    gas_held = found.plan.trip.supplies[answer.supply].gas
    read, meant, fails = (labelled(label, gas_held) for label in answer.label)
    until = "" if answer.lasts_min is None else f": it lasts until {_minute(found, answer.lasts_min)}"
    return (
        f"{answer.supply}: {read} was read where {meant} was in use, and the log has no change. If it was {fails}, the "
        f"rest does not hold{until}; if it was {read if fails == meant else meant}, it may. Read the gauges of both "
        "NOW, with their labels, and write down which is open."
    )


def _cannot_tell(found: Comparison, answer: Answer) -> str:
    """What is not known of a supply, and until when it can be found out."""
    if answer.unread:
        return f"{answer.supply}: drawn on since departure and never read. Read its gauge NOW."
    lasts = f"until {_minute(found, answer.lasts_min)}" if answer.lasts_min is not None else "too short"
    if answer.which_leg:
        write = (
            "a line with its number and `at: start` where it began"
            if _leg_named(found)
            else ("`leg:` with the leg in which it was last read")
        )
        return (
            f"{answer.supply}: it holds, unless the trip is as late as the log allows: then it lasts {lasts}. Write "
            f"{write}."
        )
    minute = answer.read_again_by_min or found.now_min
    by = "NOW" if minute <= found.now_min + 0.5 else f"by {_minute(found, minute)}"
    return (
        f"{answer.supply}: as planned it lasts to the end, at the most that its gauge allows {lasts}. Read it again "
        f"{by}: then there is still time to act."
    )


def _look(found: Comparison, stretch: Told) -> str:
    """Where to look for what differs: the patient first, or a leak; of air, what it means for the oxygen."""
    over, slower = found.log.closing is not None, stretch.verdict == "slower"
    if not is_air(found.plan, stretch.supply):
        return (LOOK_BACK if slower else LEAK_BACK) if over else LOOK if slower else LEAK
    if over:
        return gas.LOOK_AIR_BACK if slower else gas.LEAK_AIR_BACK
    return gas.LOOK_AIR if slower else f"{gas.LEAK_AIR}{gas.without_it(found.plan, stretch.supply)}"


def _worst(stretches: list[Told]) -> list[Told]:
    """One alert a supply: that of its last stretch, which is how things are now, else of all of it."""
    in_time = sorted(stretches, key=lambda each: (each.to_min, each.from_min))
    return list({stretch.supply: stretch for stretch in in_time}.values())


def _alert(found: Comparison, stretch: Told) -> str:
    between = f"{_minute(found, stretch.from_min)} to {_minute(found, stretch.to_min)}"
    planned = figures.need_l(stretch.planned_l)
    what = f"{VERDICTS[stretch.verdict]}: {stretch.supply} {labels(found, stretch)}, {between}"
    return f"{what}: {_used(stretch)} used, where {planned} were planned."


def _written(stretch: Told) -> str:
    if isinstance(stretch, Weighed):
        return ""
    if not stretch.agrees_with_written or stretch.written_l is None:
        return ""
    written = figures.need_l(stretch.written_l)
    return f" It agrees with the flows and settings in the log ({written}): are they meant so?"


def _act(found: Comparison, rest: Rest, by_min: float) -> str:
    by = "NOW" if by_min <= rest.from_min + 0.5 else f"by {_minute(found, by_min)}"
    text = f"The rest, {BASES[rest.basis]}, does not hold: act {by}."
    for supply, (minute, leg) in rest.out.items():
        text += f" {named(found.plan, supply)} RUNS OUT at {_minute(found, minute)}, in leg {leg}."
        text += gas.without_it(found.plan, supply)
    return f"{text} {mends(rest)}"


def mends(rest: Rest) -> str:
    """What would mend a rest that does not hold, in the words of its plan, which counts from the last reading on."""
    reasons = words.reasons(rest.plan)
    if not reasons or rest.basis not in ("planned", "written"):
        return "Find and stop what uses more; else fetch a cylinder, or shorten the way."
    first = reasons[0]
    others = len(reasons) - 1
    more = "" if not others else " There is 1 more reason." if others == 1 else f" There are {others} more reasons."
    return f"Counted from now: {words.sentence(first.text)} Fix: {words.sentence(first.fix)}{more}"


def _watch(found: Comparison) -> Iterator[str]:
    """For how long to watch where neither the stretch that ends now nor all of its supply tells."""
    whole = {stretch.supply: stretch for stretch in found.overall}
    for supply, stretch in {stretch.supply: stretch for stretch in found.stretches}.items():
        verdicts = {stretch.verdict, whole.get(supply, stretch).verdict}
        if verdicts != {"cannot_tell"} or stretch.to_min < found.now_min:
            continue
        name, watch = f"{supply} {labels(found, stretch)}", stretch.watch_min
        again = None if watch is None else figures.steps_up(stretch.from_min + watch, 1.0)
        if watch is None or again is None or watch <= stretch.minutes or again > found.bounds_min[-1]:
            before = "the cylinder is changed" if watch is None or watch <= stretch.minutes else "the trip ends"
            takes = "" if before != "the trip ends" else f" (it takes {figures.minutes_up(watch or 0.0)})"
            yield (
                f"{name}: its gauge cannot tell before {before}{takes}. Read a flowmeter, read the gauge more closely "
                "(gauge_read_to), or give the cylinder's own label (contents) in the profile."
            )
        else:
            yield (
                f"{name}: watch on, and read its gauge again at {_minute(found, float(again))}. Then, "
                f"{figures.minutes_up(watch)} after this stretch began, half of the planned flow would show."
            )


# The figures


def _table(found: Comparison) -> list[str]:
    if not found.told:
        return []
    rows = [_row(found, stretch, labels(found, stretch, ", ")) for stretch in found.stretches]
    rows += [_row(found, stretch, "all") for stretch in found.overall]
    rows += [_row(found, each, "liquid") for each in found.weighed]
    head = ("Supply", "Cylinder", "Minutes", "Clock", "Gauge", "Used", "Planned", "Verdict")
    lines = table(head, rows, frozenset({6}), shrink=(0, 1))
    for supply, leak in leaks_that_show(found):
        leak_text = figures.flow_up(leak)
        lines += wrap(
            f"On {supply} a leak of {leak_text} would show in 95 of 100 cases; a smaller one may not yet.", "  "
        )
    return lines


def _row(found: Comparison, stretch: Told, name: str) -> tuple[str, ...]:
    unit = found.plan.trip.policy.pressure_unit
    gauge = figures.NONE
    liquid = found.plan.trip.supplies[stretch.supply].liquid
    if isinstance(stretch, Weighed):
        if liquid is not None:
            gauge = f"{vessel.shows(liquid, stretch.first.amount_kg)} to {vessel.shows(liquid, stretch.last.amount_kg)}"
    elif len(stretch.parts) == 1:
        readings = stretch.parts[0].measured.readings
        first = figures.gauge_read(readings.from_gauge_kpa, unit).removesuffix(f" {unit}")
        gauge = f"{first} to {figures.gauge_read(readings.to_gauge_kpa, unit)}"
    return (
        stretch.supply,
        name,
        f"{figures.steps_down(stretch.from_min, 1.0)} to {figures.steps_down(stretch.to_min, 1.0)}",
        _clocks(found, stretch),
        gauge,
        _used(stretch),
        figures.need_l(stretch.planned_l),
        VERDICTS[stretch.verdict],
    )


def _used(stretch: Told) -> str:
    least = figures.steps_down(max(0.0, stretch.lowest_l), 1.0)
    return f"{least} to {figures.steps_up(max(0.0, stretch.highest_l), 1.0)} L"


def leaks_that_show(found: Comparison) -> Iterator[tuple[str, float]]:
    """For each supply without an alert over all of its readings, the leak that would show in most cases, L/min."""
    whole = {stretch.supply: stretch for stretch in (*found.stretches, *found.overall)}
    for supply, stretch in whole.items():
        if stretch.verdict in ("as_planned", "cannot_tell"):
            yield supply, stretch.leak_that_shows_l_per_min


def _rest(found: Comparison) -> list[str]:
    if not found.rests:
        return []
    now = _minute(found, found.rests[0].from_min)
    lines = wrap(f"The rest of the trip, from {now} on, planned again with these readings:")
    for rest in found.rests:
        lines += wrap(rest_sentence(found, rest), "  ", "    ")
    for text in unseen_texts(found):
        lines += wrap(text, "  ")
    return lines


def unseen_texts(found: Comparison) -> Iterator[str]:
    """From when on a leak cannot have been seen, for each supply that was read."""
    for answer in found.answers:
        if answer.unseen_from_min is None:
            continue
        since = _minute(found, answer.unseen_from_min)
        whole = found.gauged.get(answer.supply)
        if whole is None or whole.minutes[-2:-1] == [answer.unseen_from_min]:
            yield f"{answer.supply}: a leak that began after {since}, the last reading but one, cannot be seen."
        else:
            yield (
                f"{answer.supply}: a leak that began after {since} cannot be seen: since then no cylinder has two "
                "readings that tell."
            )


def rest_sentence(found: Comparison, rest: Rest) -> str:
    """One way to reckon the rest: whether it holds, and until when oxygen lasts."""
    text = f"{BASES[rest.basis]}: "
    extra = [f"{supply} +{figures.flow_up(flow)}" for supply, flow in rest.extra_l_per_min.items() if flow > 0.0]
    if rest.basis not in ("planned", "written"):
        more = f"{' and '.join(extra)}: " if extra else "not above plan: "
        text += more + ("lasts to the end" if rest.holds else "DOES NOT LAST")
        if rest.reserve_kept:
            text += ", with what the plan asks for"
        elif rest.holds:
            text += ", but not with what the plan asks for"
    else:
        text += words.verdict(rest.plan)
    for supply, minute in rest.lasts_min.items():
        if rest.plan.supplies[supply].need.planned_l > 0.0:
            out = rest.out.get(supply)
            until = f"until {_minute(found, minute)}" if out is None else f"RUNS OUT at {_minute(found, out[0])}"
            text += f"; {supply} {until}"
    return f"{text}."


# The end


def _closing(found: Comparison) -> list[str]:
    if found.log.closing is None:
        return []
    if not found.missing:
        used = [
            f"{supply} {labelled(label, found.plan.trip.supplies[supply].gas)}"
            for supply, labels_ in found.used.items()
            for label in labels_
        ]
        return wrap(f"Every cylinder used has its last gauge, and is shut and bled: {', '.join(used) or 'none'}.")
    lines = wrap("NOT CLOSED. A cylinder that is left open is empty next time, and a fire hazard.")
    return [*lines, *(line for text in missing_texts(found) for line in wrap(text, "  - "))]


def missing_texts(found: Comparison) -> list[str]:
    """What is lacking to close the trip, a phrase for each cylinder: `cart B without its last gauge`."""
    texts = []
    for each in found.missing:
        lacking = ["its last gauge"] if each.gauge else []
        lacking += ["the word that it was shut and bled"] if each.shut_and_bled else []
        label = labelled(each.cylinder, found.plan.trip.supplies[each.supply].gas)
        texts.append(f"{each.supply} {label} without {' and '.join(lacking)}")
    return texts


def _minute(found: Comparison, minute: float) -> str:
    """`61 min (15:21)`."""
    text = figures.minutes_down(minute)
    time = figures.clock_down(found.plan.trip.departs, minute)
    return f"{text} ({time})" if time else text


def _clocks(found: Comparison, stretch: Told) -> str:
    """`23:55-00:15 +1d`, short enough for a column."""
    departs = found.plan.trip.departs
    times = (figures.clock_down(departs, minute, narrow=True) for minute in (stretch.from_min, stretch.to_min))
    return "-".join(filter(None, times)) or figures.NONE
