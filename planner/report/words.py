"""Sentences about a plan that a tired reader cannot take the wrong way.

Every sentence names its supply, says whether oxygen lasts or RUNS OUT (in capitals, since colour carries
no meaning here), and gives minutes after departure, with the clock time where a departure is known.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import fsum

from planner import figures
from planner.constants import SAME_MIN
from planner.findings.accepted import accepted_sentence
from planner.go.batteries import going_on, said
from planner.go.whatifs.registry import PAIRED, base, kind
from planner.naming import called
from planner.problems import Finding
from planner.report.change_gauge import comes_off_with_gas_left, off_gauge
from planner.report.validity import not_valid
from planner.results import BreakingDelay, ChangeOver, Plan, SupplyPlan, TurnBack, WhatIf

SETTINGS = {"in_house": "inside the hospital", "road": "by road", "air": "by air"}

PLANNING_AID = (
    "A planning aid: local protocol and licensed practice govern.",
    "Read each gauge again with the valve open and gas flowing, and measure the flow at the bedside.",
    "Settings changed: plan again.",
)
"""What stands under every plan."""


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a plan is what it is, and, for a no-go, what would mend it (else an empty text)."""

    text: str
    fix: str = ""


def verdict(plan: Plan) -> str:
    """`GO`, `GO BY DECISION` or `NO-GO`."""
    return "GO BY DECISION" if plan.by_decision else "GO" if plan.go else "NO-GO"


def short_verdict(plan: Plan, issued: datetime | None = None) -> str:
    """The verdict for the head of a page, `GO: NOT VALID YET` where a reading is too old."""
    return verdict(plan) + (": NOT VALID YET" if not_valid(plan, issued) else "")


def headline(plan: Plan, issued: datetime | None = None) -> str:
    """One line that leads everything: the verdict, whether it is valid, and its shortest reason."""
    yet = f"{old}. By readings too old: " if (old := not_valid(plan, issued)) else ""
    if plan.by_decision:
        stops = len(plan.accepted)
        return (
            f"GO BY DECISION - {yet}{stops} stop{'s' * (stops > 1)} accepted by a clinician; beyond the limit named, "
            "or planned again on the way, a no-go:"
        )
    if plan.go:
        return f"GO - {yet}every supply carries its required litres, and every what-if that must hold holds."
    stops = len(reasons(plan))
    if stops == 1:
        return "NO-GO - one reason, with what would mend it:"
    return f"NO-GO - {stops} reasons, each with what would mend it:"


def decisions(plan: Plan) -> tuple[str, ...]:
    """Who accepts what, why, and the stop it is about; empty for a plain go and for a no-go."""
    return tuple(map(accepted_sentence, plan.accepted)) if plan.by_decision else ()


def reasons(plan: Plan) -> tuple[Reason, ...]:
    """Every reason for a no-go, worst first as found; empty for a go."""
    if plan.go:
        return ()
    return tuple(Reason(finding.message, finding.fix) for finding in findings_at(plan, "stop"))


def findings_at(plan: Plan, level: str) -> tuple[Finding, ...]:
    """The findings of one level, in the order found."""
    return tuple(finding for finding in plan.findings if finding.level == level)


def finding_sentence(finding: Finding) -> str:
    """A finding with its place in the profile and its way to mend it."""
    text = f"{finding.level.upper()}: {sentence(finding.message)}"
    if finding.fix:
        text += f" Fix: {sentence(finding.fix)}"
    if finding.line:
        text += f" (line {finding.line})"
    return text


def sentence(text: str) -> str:
    """The text with a full stop at its end, if it has no end mark yet."""
    text = text.strip()
    return text if not text or text[-1] in ".:!?" else text + "."


# Places and times


def leg_text(plan: Plan, name: str | None) -> str:
    """`leg 3 (Road to coast hospital)`; the number is left out where two legs share the name."""
    if name is None:
        return "an unknown leg"
    number = leg_number(plan, name)
    return f"leg {name}" if number is None else f"leg {number} ({name})"


def leg_number(plan: Plan, name: str | None) -> int | None:
    """The number of a leg, from 1; None where no leg or more than one has the name."""
    numbers = [index for index, leg in enumerate(plan.trip.legs, start=1) if leg.name == name]
    return numbers[0] if len(numbers) == 1 else None


def moment(plan: Plan, minute: float) -> str:
    """`61 min after departure (15:21)`, or `at departure`."""
    if figures.steps_down(minute, 1.0) <= 0:
        return "at departure"
    text = f"{figures.minutes_down(minute)} after departure"
    clock = figures.clock_down(plan.trip.departs, minute)
    return f"{text} ({clock})" if clock else text


# Supplies


def supply_sentence(supply: SupplyPlan) -> str:
    """Need against have of one supply, with what is to spare or short."""
    name = supply.supply.name
    if supply.supply.kind == "pipeline":
        return f"{name}: {figures.need_l(supply.need.planned_l)} planned from a pipeline, which does not run out."
    text = f"{name}: required {figures.need_l(supply.need.required_l)}, "
    have = supply.serving_without_spare_l
    if have is None:
        return f"{text}no readings yet, cylinders still to be drawn."
    text += f"COUNTED {figures.supply_l(have)} ({have_words(supply)}): "
    return text + margin(have, supply.need.required_l) + "."


def have_words(supply: SupplyPlan) -> str:
    """What the litres counted leave out: a spare, what no outlet can give; `usable` where they leave out nothing."""
    total, kept = supply.usable_l, supply.usable_without_spare_l
    if supply.supply.kind == "litres":
        return "usable as stated" if supply.supply.liquid is None else "usable, keep and loss taken off"
    words = "usable"
    if total is not None and kept is not None and _less(kept, total):
        words = f"{figures.spare_l(total, kept)} kept as spare"
    return f"{words}, of what the outlets can give" if _less(supply.serving_without_spare_l, kept) else words


def margin(have_l: float, required_l: float) -> str:
    """`612 L to spare` (down) or `SHORT by 45 L` (up)."""
    if have_l >= required_l:
        return f"{figures.supply_l(have_l - required_l)} to spare"
    return f"SHORT by {figures.need_l(required_l - have_l)}"


def _less(low: float | None, high: float | None) -> bool:
    return low is not None and high is not None and low < high - 0.5


def change_sentence(plan: Plan, change: ChangeOver) -> str:
    """When to change cylinders: by gauge or clock, whichever comes first, or before a leg while gas is left."""
    old, shows = called(change.from_cylinder), off_gauge(plan, change)
    text = f"Change {old} to {called(change.to_cylinder)}"
    if comes_off_with_gas_left(plan, change):
        where = f"{moment(plan, change.minute)}, {_when(plan, change)}"
        why = "so that no change falls in a no-change stretch" if change.early else f"since {old} cannot serve on"
        why = f"{old} is kept for a later leg" if change.kept else why
        return f"{text} {where}, while {old} should still show {shows}: {why}."
    text += (
        f" when {old} shows {shows} or {moment(plan, change.minute)}, whichever comes first, "
        f"in leg {change.leg_index + 1} ({change.leg})"
    )
    if change.inside_no_change:
        text += "; INSIDE a no-change stretch, which could not be avoided"
    return text + "."


def _when(plan: Plan, change: ChangeOver) -> str:
    """`before leg 2 (Lift)` where the change falls on the start of its leg, else `in leg 2 (Lift)`."""
    start = fsum(leg.total_min for leg in plan.trip.legs[: change.leg_index])
    before = abs(start - change.minute) < SAME_MIN
    return f"{'before' if before else 'in'} leg {change.leg_index + 1} ({change.leg})"


def breaking_delay_sentence(delay: BreakingDelay) -> str:
    """How much more delay in one leg empties a supply, and from when on it takes of the reserve."""
    return _delay_sentence((delay,))


def breaking_delay_sentences(plan: Plan) -> tuple[str, ...]:
    """The same for every delay of a plan; legs in which all minutes are the same share a sentence."""
    groups: dict[tuple[str, str, str], list[BreakingDelay]] = {}
    for delay in plan.breaking_delays:
        key = (figures.minutes_down(delay.minutes), _into_reserve(delay), delay.supply)
        groups.setdefault(key, []).append(delay)
    return tuple(_delay_sentence(group) for group in groups.values())


def _delay_sentence(delays: Sequence[BreakingDelay]) -> str:
    *most, last = [f"{delay.leg_index + 1} ({delay.leg})" for delay in delays]
    legs = f"{', '.join(most)} or {last}" if most else last
    first = delays[0]
    empty = f"EMPTY after {figures.minutes_down(first.minutes)} more"
    return f"A further delay in leg {legs}: {first.supply} {empty}{_into_reserve(first)}."


def _into_reserve(delay: BreakingDelay) -> str:
    """From how many minutes on a delay takes of the reserve."""
    if delay.into_reserve_min is None:
        return ""
    return f"; it takes of the reserve after {figures.minutes_down(delay.into_reserve_min)}"


def turn_back_sentence(plan: Plan, window: TurnBack) -> str:
    """Until when one can turn back, or divert, and which supply decides it."""
    what = "turn back" if window.to is None else f"divert to {window.to}"
    way = "" if window.time_min is None else f", {figures.minutes_up(window.time_min)} away"
    where = "" if window.leg is None else f" in {leg_text(plan, window.leg)}"
    keeps = _keeps(plan)
    if window.decided_by is None and window.by_battery is None:
        when = "at any minute" if window.leg is None else "at any minute of it"
        of_air = any(plan.trip.supplies[name].gas == "air" for leg in plan.trip.legs for name in leg.supplies)
        of_what = " of oxygen" if of_air else ""
        lasts = ", and air lasts" if of_air else ""
        lasts += f", and batteries last {_counted(plan)}" if _on_battery(plan) else ""
        return f"Can {what}{way}{where} {when}: every supply{of_what} then {keeps}{lasts}."
    early = "" if window.from_min <= 0.0 else f" from minute {figures.steps_up(window.from_min, 1.0)}"
    late = minute_and_clock(plan, window.to_min)
    if window.decided_by is None:
        return (
            f"Can {what}{way}{where}{early} until {late}: the battery of {window.by_battery} then just lasts for it "
            f"{_counted(plan)}."
        )
    if plan.trip.supplies[window.decided_by].gas == "air":
        keeps = "just lasts for it"
    return f"Can {what}{way}{where}{early} until {late}: {window.decided_by} then {keeps}."


def _on_battery(plan: Plan) -> bool:
    """True where the battery of a device counts in turning back."""
    return bool(said((*plan.trip.legs, *plan.trip.gone)))


def _counted(plan: Plan) -> str:
    """How time on battery counts for what is a choice."""
    return f"({figures.factor_set(plan.trip.policy.battery_factor)} x the time on it)"


def _keeps(plan: Plan) -> str:
    """What is left after the way back: the reserve time, or just enough where the policy knows none."""
    reserve_min = plan.trip.policy.reserve_time_min
    return f"keeps the reserve time of {figures.minutes_set(reserve_min)}" if reserve_min > 0.0 else "just lasts for it"


def cannot_sentences(plan: Plan) -> tuple[str, ...]:
    """Said where no minute allows turning back, and for each leg in which none allows its diversion."""
    reserve = figures.minutes_set(plan.trip.policy.reserve_time_min)
    battery = ", or a battery would not last" if _on_battery(plan) else ""
    why = f"at any minute: a supply would not keep the reserve time of {reserve}{battery}."
    known = {(window.to, window.leg) for window in plan.turn_backs}
    asked = [(leg.divert.to, leg.name) for leg in plan.trip.legs if leg.divert is not None]
    back = () if (None, None) in known else (f"Cannot turn back {why}",)
    left = [(to, leg_text(plan, leg)) for to, leg in asked if (to, leg) not in known]
    return *back, *(f"Cannot divert to {to} in {leg} {why}" for to, leg in left)


def go_on_sentence(plan: Plan) -> str:
    """Until when those can go on who take longer in the last leg: by its supplies and batteries; empty for ever."""
    last = plan.trip.legs[-1]
    ends = [
        (minute, f"{name} then ends") for name in last.supplies if (minute := plan.supplies[name].lasts_min) is not None
    ]
    ends += [(minute, f"the battery of {device} then counts as empty") for device, minute in going_on(plan.trip)]
    if not ends:
        return ""
    minute, what = min(ends, key=lambda end: end[0])
    return f"Can go on until {minute_and_clock(plan, minute)}, if the last leg takes that long: {what}."


def choices(plan: Plan) -> tuple[str, ...]:
    """The last minute of each choice on the way: go on, turn back, divert; none where nothing is on hand to tell by."""
    if not plan.breaking_delays and not plan.turn_backs:
        return ()
    on = go_on_sentence(plan)
    can = (turn_back_sentence(plan, window) for window in plan.turn_backs)
    return *((on,) if on else ()), *can, *cannot_sentences(plan), *_uncounted(plan)


def _uncounted(plan: Plan) -> Iterator[str]:
    """Said of each battery that nobody knows: none of these choices counts it."""
    for name, battery in plan.batteries.items():
        if battery.have_min is None and battery.on_battery_min > 0.0:
            yield f"The battery of {name} is not counted in this: nothing says how long it lasts."


def minute_and_clock(plan: Plan, minute: float) -> str:
    """An elapsed minute, down, with its clock time where departure is known: `minute 20 (14:40)`."""
    clock = figures.clock_down(plan.trip.departs, minute)
    text = f"minute {figures.steps_down(minute, 1.0)}"
    return f"{text} ({clock})" if clock else text


def whatif_title(whatif: WhatIf) -> str:
    """The short title of a what-if."""
    return kind(base(whatif.name)).title + (" and a cylinder lost" if whatif.name.endswith(PAIRED) else "")
