"""What a comparison says of batteries: whether each lasts, what it rests on, and what to do."""

from __future__ import annotations

from collections.abc import Iterator

from planner import figures
from planner.afterwards.batteries import BatteryAnswer
from planner.afterwards.compare import Comparison
from planner.naming import listed
from planner.report.compare.when import minute_text

_MEND = "Plug it in, put on a charged battery, shorten the way, or go over to what stands by in its place"
_CHARGED = (
    " It was read to leave less before, and nothing charged it since: if a charged one was put on, leave out of the "
    "log what was read before."
)


def battery_sentence(found: Comparison, each: BatteryAnswer) -> str:
    """`Battery of maker: 45 min on it so far; left by the plan 135 min, by 50 % read at 45 min 45 min; ...`."""
    text = f"Battery of {each.device}: {figures.minutes_up(each.so_far_min)} on it so far"
    left = [] if each.by_plan_min is None else [f"by what is said of it {_left(each.by_plan_min)}"]
    if each.read_at_min is not None:
        by = f"by {each.read} read at {minute_text(found, each.read_at_min)}"
        left.append(f"{by} " + ("nothing can be told" if each.by_reading_min is None else _left(each.by_reading_min)))
    text += f"; left {' and '.join(left)}" if left else "; nobody says how long it lasts"
    if each.by_reading_min is not None:
        text += " (a share is no time: the least counts)"
    if each.asked_min <= 0.0:
        return f"{text}; no more time off the mains is to come."
    asked = "" if each.asked_min == each.ahead_min else f", for which {figures.minutes_up(each.asked_min)} are asked"
    text += f"; up to {figures.minutes_up(each.ahead_min)} are to come{asked}"
    verdicts = {"act": "TOO LOW", "holds": "lasts", "cannot-tell": "cannot tell whether it lasts"}
    until = "" if each.lasts_min is None else f"; it ends at {minute_text(found, each.lasts_min)}"
    return f"{text}: {verdicts[each.verdict]}{until}."


def _left(minutes: float) -> str:
    return figures.minutes_down(minutes)


def battery_steps(found: Comparison) -> Iterator[str]:
    """What to do about batteries: those that do not last first, then those to read."""
    for each in found.batteries:
        if each.verdict == "act":
            left = "" if each.left_min is None else f": {figures.minutes_down(each.left_min)} left, and"
            asked = figures.minutes_up(each.asked_min)
            yield f"The battery of {each.device} is too low{left} {asked} asked. {_MEND}: act NOW."
    for each in found.batteries:
        if each.verdict == "cannot-tell":
            why = "on it since departure and never read" if each.unread else "what it shows does not tell enough"
            step = f"Battery of {each.device}: {why}. Read it NOW, write it down, and look for a socket."
            yield step + (_CHARGED if _read_later(found, each) else "")


def _read_later(found: Comparison, each: BatteryAnswer) -> bool:
    """True where a later reading leaves more than an earlier one, with nothing between that charges."""
    minutes = [entry.minute for entry in found.log.entries if entry.device == each.device and entry.battery is not None]
    return each.read_at_min is not None and max(minutes) > each.read_at_min


def with_batteries(found: Comparison, line: str) -> str:
    """The line that leads a comparison, with the batteries that are too low, or those of which too little is known."""
    flat = found.batteries_too_low
    if not flat:
        unsure = [each.device for each in found.batteries if each.verdict == "cannot-tell"]
        return f"{line} Read the battery of {listed(unsure)} NOW: whether it lasts is not known." if unsure else line
    what = f"the batter{'y' if len(flat) == 1 else 'ies'} of {listed(flat)} {'is' if len(flat) == 1 else 'are'} too low"
    if line.startswith(("LOOK", "ACT")):
        return f"{line} {'And ' if line.startswith('ACT') or ' ACT: ' in line else 'Then '}ACT: {what}."
    return f"ACT - {what}."
