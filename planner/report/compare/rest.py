"""The rest of a trip on each of its bases, and what is assumed and cannot be seen, in sentences."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from planner import figures
from planner.afterwards.compare import Comparison
from planner.afterwards.rest import Rest
from planner.constants import MINUTE_NOISE
from planner.naming import listed
from planner.report import words
from planner.report.compare.battery import battery_sentence
from planner.report.compare.when import leg_named, minute_text
from planner.report.screen import wrap

BASES: Final = {
    "planned": "as planned",
    "written": "as written in the log",
    "measured": "as measured",
    "at_most": "at the most that the gauges allow",
    "late": "at the most, and as late as the log allows",
}


def rest_lines(found: Comparison) -> list[str]:
    """The rest on every basis; empty where nothing is left of the trip."""
    if not found.rests:
        return []
    now = minute_text(found, found.rests[0].from_min)
    labels = " and the labels as written" if any(answer.label is not None for answer in found.answers) else ""
    lines = wrap(f"The rest of the trip, from {now} on, planned again with these readings{labels}:")
    for rest in found.rests:
        lines += wrap(rest_sentence(found, rest), "  ", "    ")
    for text in unseen_texts(found):
        lines += wrap(text, "  ")
    for each in found.batteries:
        lines += wrap(battery_sentence(found, each), "  ", "    ")
    return lines


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
        flat = found.batteries_too_low
        by_battery = f" on oxygen alone, NO-GO by the battery of {listed(flat)}" if flat and rest.plan.go else ""
        text += f"{' and '.join(extra)}: " * bool(extra) + words.verdict(rest.plan) + by_battery
    for supply, minute in rest.lasts_min.items():
        if rest.plan.supplies[supply].need.planned_l > 0.0:
            out = rest.out.get(supply)
            until = (
                f"until {minute_text(found, minute)}" if out is None else f"RUNS OUT at {minute_text(found, out[0])}"
            )
            text += f"; {supply} {until}"
    return f"{text}."


def unseen_texts(found: Comparison) -> Iterator[str]:
    """From when on a leak cannot have been seen, for each supply that was read."""
    for answer in found.answers:
        if answer.unseen_from_min is None:
            continue
        since = minute_text(found, answer.unseen_from_min)
        whole = found.gauged.get(answer.supply)
        if whole is None or whole.minutes[-2:-1] == [answer.unseen_from_min]:
            yield f"{answer.supply}: a leak that began after {since}, the last reading but one, cannot be seen."
        else:
            yield (
                f"{answer.supply}: a leak that began after {since} cannot be seen: since then no cylinder has two "
                "readings that tell."
            )


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
        unsaid = "when that leg began" if leg_named(found) else "so"
        mend = "Write `at: start` where a leg begins" if leg_named(found) else "Write `leg:` beside each reading"
        text += f" The log does not say {unsaid}; as late as it allows, {most} are to go. {mend}."
    return text
