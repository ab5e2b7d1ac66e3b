"""The one line that leads a comparison. It says ACT where, and only where, an answer, for gas or battery, is `act`.

The patient first, then oxygen that runs out, then what uses more than planned, then what cannot be told, then a rest
that lasts and is no-go. Whatever leads, the rest is told behind it, so that line, steps and figures say the same.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from planner.afterwards.answers import Answer
from planner.afterwards.compare import Comparison
from planner.afterwards.rest import Rest
from planner.naming import labelled, listed
from planner.report.compare import gas
from planner.report.compare.battery import with_batteries
from planner.report.compare.gas import gases, is_air
from planner.report.compare.when import by_text, leg_named


def headline(found: Comparison) -> str:
    """One line that leads everything."""
    verdicts = {each.verdict for each in found.told}
    if found.log.closing is not None:
        return _of_the_past(found, verdicts)
    return with_batteries(found, _on_the_way(found, verdicts))


def _on_the_way(found: Comparison, verdicts: Collection[str]) -> str:
    """The line by the gas alone."""
    act = any(answer.verdict == "act" for answer in found.answers)
    unsure = [answer for answer in found.answers if answer.verdict == "cannot-tell"]
    if "slower" in verdicts:
        return f"LOOK AT THE PATIENT FIRST - {gas.less(found)}.{_then(found, act=act, unsure=unsure)}"
    if act:
        more = f"{gas.more(found)}, and " if "faster" in verdicts else ""
        short = [name for rest in failing(found) for name in rest.out]
        what = "" if not any(is_air(found.plan, name) for name in short) else f": {gases(found.plan, short)} RUNS OUT"
        return f"ACT - {more}the rest of the trip does not hold{what}."
    if "faster" in verdicts:
        then = _then(found, act=act, unsure=unsure) or " The rest of the trip holds even so."
        return f"LOOK FOR A LEAK OR A RAISED SETTING - {gas.more(found)}.{then}"
    if unsure:
        no_go = "" if not is_no_go(found) else "; as planned it is no-go"
        return f"CANNOT TELL whether the rest of the trip holds - {_again(found, unsure)}{no_go}."
    if is_no_go(found):
        return f"NO-GO FROM HERE - as planned {no_go_text(found)}."
    if not found.told:
        return "NO COMPARISON YET - it takes two readings of a cylinder."
    if "as_planned" not in verdicts:
        rest = " The rest of the trip holds at the most that they allow." if found.rests else ""
        return f"THE GAUGES CANNOT TELL - neither as planned nor otherwise.{rest}"
    return "AS PLANNED - and the rest of the trip holds."


def _of_the_past(found: Comparison, verdicts: Collection[str]) -> str:
    """The line for a trip that is over: nobody can act on it any more."""
    for verdict, what in (("slower", gas.less), ("faster", gas.more)):
        if verdict in verdicts:
            return f"{what(found).replace(' is ', ' was ', 1).upper()}. Find out why before the next trip."
    if not found.told:
        return "NO COMPARISON YET - it takes two readings of a cylinder."
    if "as_planned" not in verdicts:
        return "THE GAUGES CANNOT TELL - neither as planned nor otherwise."
    return "AS PLANNED - the trip used what was planned."


def _then(found: Comparison, *, act: bool, unsure: Sequence[Answer]) -> str:
    """What comes after the patient or a leak; empty where the rest holds."""
    if act:
        return " Then ACT: the rest of the trip does not hold."
    if unsure:
        return f" Then {_again(found, unsure)}: whether the rest of the trip holds cannot be told."
    return f" From here on it is NO-GO: {no_go_text(found)}." if is_no_go(found) else ""


def failing(found: Comparison) -> list[Rest]:
    """The rest as planned, logged and measured above both, where it is no-go or runs out."""
    return [rest for rest in found.rests if not rest.holds and rest.basis not in ("at_most", "late")]


def doubted(found: Comparison) -> frozenset[str]:
    """Supplies of which a label may be a slip that decides."""
    return frozenset(answer.supply for answer in found.answers if answer.label is not None)


def is_no_go(found: Comparison) -> bool:
    """True where the rest is no-go for want of a reserve or the like; not told where a label may be the cause."""
    return bool(failing(found)) and not doubted(found)


def no_go_text(found: Comparison) -> str:
    """That a no-go lasts, and what it lacks."""
    air = any(is_air(found.plan, name) for name in found.plan.supplies)
    return f"its {'gas' if air else 'oxygen'} lasts, but what the plan asks for is lacking"


def _again(found: Comparison, unsure: Sequence[Answer]) -> str:
    """What to read by when, the earliest first: `read cart again by 52 min (15:02)`."""
    if all(answer.which_leg for answer in unsure):
        return "write when its leg began" if leg_named(found) else "write in which leg it was read"
    first = min(unsure, key=lambda answer: answer.read_again_by_min or 0.0)
    names = listed([_to_read(found, answer) for answer in unsure])
    again = "" if first.unread else "again "
    return f"read {names} {again}{by_text(found, first.read_again_by_min)}"


def _to_read(found: Comparison, answer: Answer) -> str:
    """A supply, with both cylinders where one label may be a slip: `cart (A and B)`."""
    if answer.label is None:
        return answer.supply
    held = found.plan.trip.supplies[answer.supply].gas
    return f"{answer.supply} ({listed(sorted(labelled(each, held) for each in answer.label[:2]))})"
