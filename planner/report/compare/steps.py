"""What to do, in an order that hands can do: labels in doubt, the patient, a leak, the rest of the trip, the watch."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from planner import figures
from planner.afterwards.answers import Answer
from planner.afterwards.compare import Comparison
from planner.afterwards.rest import Rest
from planner.afterwards.unit_slip import UNIT_IN_DOUBT
from planner.afterwards.vessels import Weighed
from planner.constants import SAME_L
from planner.naming import labelled
from planner.report import words
from planner.report.compare import gas
from planner.report.compare.battery import battery_steps
from planner.report.compare.gas import is_air, labels, named
from planner.report.compare.headline import doubted, failing, no_go_text
from planner.report.compare.rest import BASES
from planner.report.compare.table import VERDICTS, Told, used_text
from planner.report.compare.when import by_text, leg_named, minute_text

LOOK: Final = (
    "Look at the patient, then follow the oxygen back to the cylinder: supply shut, hose off or kinked, mask or tube "
    "off, another cylinder in use?"
)
LOOK_BACK: Final = "Was the supply shut, a hose off or kinked, or another cylinder in use?"
LEAK: Final = "Look and listen for a leak, and check the settings against the plan. Settings changed: plan again."
LEAK_BACK: Final = "Was there a leak, or were settings changed? Check cylinder and regulator before the next trip."
FIND_IT: Final = "Find and stop what uses more; else fetch a cylinder, or shorten the way."


def steps(found: Comparison) -> list[str]:
    """What to do, in order: a unit or label in doubt, the patient, a leak, the rest of the trip, how long to watch."""
    slower = [stretch for stretch in found.alerts if stretch.verdict == "slower"]
    faster = [stretch for stretch in found.alerts if stretch.verdict == "faster"]
    over = found.log.closing is not None
    told = [f"{each.message} {each.fix}" for each in found.findings if each.code == UNIT_IN_DOUBT]
    told += [_which_label(found, answer) for answer in found.answers if answer.label is not None]
    told += [
        f"{_alert(found, stretch)} {_look(found, stretch)}{_written(stretch)}"
        for stretch in (*_worst(slower), *_worst(faster))
    ]
    told += _act(found)
    told += [
        _cannot_tell(found, answer)
        for answer in found.answers
        if answer.verdict == "cannot-tell" and answer.label is None
    ]
    told += battery_steps(found)
    return told if over else [*told, *_watch(found)]


# A label in doubt


def _which_label(found: Comparison, answer: Answer) -> str:
    """Whose reading it was, which decides: the cause stands before what follows if the label is right."""
    if answer.label is None:
        return ""
    gas_held = found.plan.trip.supplies[answer.supply].gas
    read, meant, fails = (labelled(label, gas_held) for label in answer.label)
    lasts = answer.lasts_min
    fail = f"the rest is no-go: {no_go_text(found)}"
    if lasts is not None and lasts < found.bounds_min[-1]:
        fail = f"the rest does not hold: it lasts until {minute_text(found, lasts)}"
    return (
        f"{answer.supply}: {read} was read where {meant} was in use, and the log has no change. If it was {fails}, "
        f"{fail}; if it was {read if fails == meant else meant}, it may hold. Read the gauges of both NOW, with their "
        f"labels, and write down which is open. If it was {fails}: fetch a cylinder, or shorten the way."
    )


# The patient, or a leak


def _alert(found: Comparison, stretch: Told) -> str:
    between = f"{minute_text(found, stretch.from_min)} to {minute_text(found, stretch.to_min)}"
    planned = figures.need_l(stretch.planned_l)
    what = f"{VERDICTS[stretch.verdict]}: {stretch.supply} {labels(found, stretch)}, {between}"
    return f"{what}: {used_text(stretch)} used, where {planned} were planned."


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


def _written(stretch: Told) -> str:
    if isinstance(stretch, Weighed):
        return ""
    if not stretch.agrees_with_written or stretch.written_l is None:
        return ""
    written = figures.need_l(stretch.written_l)
    return f" It agrees with the flows and settings in the log ({written}): are they meant so?"


# The rest of the trip


def _act(found: Comparison) -> Iterator[str]:
    """The rest that asks for somebody soonest, in one step; none where nothing but a label in doubt says so."""
    known = failing(found)
    if doubted(found):
        known = [rest for rest in known if rest.out.keys() - doubted(found)]
    if not known:
        return
    *others, rest = sorted(known, key=lambda each: (bool(each.out), -_act_by(each)))
    text = f"The rest, {BASES[rest.basis]}, "
    if rest.out:
        text += f"does not hold: act {by_text(found, rest.act_by_min)}."
        for supply, (minute, leg) in rest.out.items():
            if supply not in doubted(found):
                text += f" {named(found.plan, supply)} RUNS OUT at {minute_text(found, minute)}, in leg {leg}."
                text += gas.without_it(found.plan, supply)
    else:
        text += f"is no-go: {no_go_text(found)}. Put it right {by_text(found, rest.act_by_min)}."
    yield f"{text} {mends(rest)}{_besides(rest, others)}"


def _act_by(rest: Rest) -> float:
    return rest.from_min if rest.act_by_min is None else rest.act_by_min


def _besides(worst: Rest, others: list[Rest]) -> str:
    """What is still to be mended once what uses more is stopped."""
    mild = next((rest for rest in others if rest.basis in ("planned", "written")), None)
    if worst.basis in ("planned", "written") or mild is None:
        return ""
    return f" Once that is stopped, the rest, {BASES[mild.basis]}, is no-go still. {mends(mild)}"


def mends(rest: Rest) -> str:
    """What would mend a rest that does not hold, in the words of its plan, which counts from the last reading on."""
    reasons = words.reasons(rest.plan)
    if not reasons or rest.basis not in ("planned", "written"):
        return FIND_IT
    first = reasons[0]
    others = len(reasons) - 1
    more = "" if not others else " There is 1 more reason." if others == 1 else f" There are {others} more reasons."
    return f"Counted from now: {words.sentence(first.text)} Fix: {words.sentence(first.fix)}{more}"


def _cannot_tell(found: Comparison, answer: Answer) -> str:
    """What is not known of a supply, and until when it can be found out."""
    if answer.unread:
        return f"{answer.supply}: drawn on since departure and never read. Read its gauge NOW."
    lasts = f"until {minute_text(found, answer.lasts_min)}" if answer.lasts_min is not None else "too short"
    if answer.which_leg:
        late = min(rest.out[answer.supply][0] for rest in found.rests if answer.supply in rest.out)
        lasts = f"until {minute_text(found, late)}"
        write = (
            "a line with its number and `at: start` where it began"
            if leg_named(found)
            else ("`leg:` with the leg in which it was last read")
        )
        return (
            f"{answer.supply}: it holds, unless the trip is as late as the log allows: then it lasts {lasts}. Write "
            f"{write}."
        )
    return (
        f"{answer.supply}: as planned it lasts to the end, at the most that its gauge allows {lasts}. Read it again "
        f"{by_text(found, answer.read_again_by_min)}: then there is still time to act."
    )


# The watch


def _watch(found: Comparison) -> Iterator[str]:
    """For how long to watch where neither the stretch that ends now nor all of its supply tells."""
    whole = {stretch.supply: stretch for stretch in found.overall}
    for supply, stretch in {stretch.supply: stretch for stretch in found.stretches}.items():
        verdicts = {stretch.verdict, whole.get(supply, stretch).verdict}
        if verdicts != {"cannot_tell"} or stretch.to_min < found.now_min:
            continue
        name, watch = f"{supply} {labels(found, stretch)}", stretch.watch_min
        if stretch.planned_l <= SAME_L:
            yield (
                f"{name}: nothing was to flow, and {figures.need_l(stretch.highest_l)} may have. Look that its "
                "flowmeter stands at 0, and listen for a leak: a gauge that goes on falling is one."
            )
            continue
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
                f"{name}: watch on, and read its gauge again at {minute_text(found, float(again))}. Then, "
                f"{figures.minutes_up(watch)} after this stretch began, half of the planned flow would show."
            )
