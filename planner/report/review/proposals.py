"""What a history proposes, in sentences, and as a policy file with lines for profiles and the evidence beside each.

The file is a policy that `plan` reads, named as not signed, so that a sheet planned with it says so. The lines for
profiles stand in it as comments: `#` leads a line of a profile, `##` what it rests on.
"""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator
from typing import Final

from planner import figures
from planner.afterwards.review.propose import FlowProposal, Proposals, ReserveProposal, TimeProposal, propose
from planner.afterwards.review.review import NOT_ENOUGH, Implied, RatioLimit, ReserveLimit, Review
from planner.package_file import edition
from planner.report.review.words import covered_texts, flow_name, time_name, trips
from planner.report.screen import printable

_WIDE: Final = 100
_MOVES: Final = frozenset(("foot", "road", "air", "rail", "water"))
"""What `by` of a leg may be in a profile."""


def proposal_texts(found: Review) -> Iterator[str]:
    """Each proposal and why, then what is not proposed and why."""
    proposals = propose(found)
    yield from map(_time_text, proposals.times)
    yield from map(_flow_text, proposals.flows)
    yield from map(_implied_text, proposals.implied)
    if not (proposals.times or proposals.flows or proposals.implied):
        yield "No longer time and no higher flow is proposed: none is borne out by trips enough yet."
    yield from _reserve_texts(proposals.reserve)


def policy_text(found: Review) -> str | None:
    """The policy file with lines for profiles, None where nothing is proposed."""
    proposals = propose(found)
    if not proposals.any:
        return None
    lines = [*_head(found), "", *_policy(found, proposals.reserve), "", *_profile(proposals)]
    return "\n".join(lines).rstrip("\n") + "\n"


def _head(found: Review) -> Iterator[str]:
    yield from _comment(
        f"PROPOSED by {edition()} from {trips(found.trips)} closed from {found.first} to {found.last}. NOTHING CHANGES "
        "BY ITSELF: read each line with its evidence, take out what you do not want, give the policy a name of your "
        "own, sign, and name this file as `policy` in your profiles."
    )
    yield "#"
    yield "# Signed (name): ______________________________   Date: ______________"
    yield "#"
    for text in covered_texts(found):
        yield from _comment(text)


def _policy(found: Review, reserve: ReserveProposal) -> Iterator[str]:
    yield f"name: {_quoted(f'Proposal from {trips(found.trips)} to {found.last}, NOT SIGNED')}"
    yield ""
    for text in _reserve_texts(reserve):
        yield from _comment(text)
    if reserve.factor is not None:
        yield f"reserve_factor: {figures.factor_set(reserve.factor)}"


def _profile(proposals: Proposals) -> Iterator[str]:
    if not (proposals.times or proposals.flows or proposals.implied):
        return
    yield from _comment(
        "LINES FOR PROFILES. Lines that begin with ## say what the lines below them rest on; of the others take out "
        "the # and the space, and put them where your profile has that leg, wait or device."
    )
    for time in proposals.times:
        yield "#"
        yield from _comment(_time_text(time), "## ")
        yield from (f"# {line}" for line in _time_lines(time))
    for flow in proposals.flows:
        yield "#"
        yield from _comment(_flow_text(flow), "## ")
        yield f"# type: {flow.group.kind.split(',')[0]}"
        yield f"# flow: {figures.flow_up(flow.flow_l_per_min)}"
    for implied in proposals.implied:
        yield "#"
        yield from _comment(_implied_text(implied), "## ")


def _time_lines(time: TimeProposal) -> Iterator[str]:
    if time.group.wait is not None:
        yield "delays:"
        yield f"  - reason: {_quoted(time.group.wait)}"
        yield f"    time: {figures.minutes_set(time.minutes)}"
        return
    yield f"- name: {_quoted(time.group.leg or '')}"
    if time.group.by in _MOVES:
        yield f"  by: {time.group.by}"
    yield f"  duration: {figures.minutes_set(time.planned_min)}"
    yield f"  longest: {figures.minutes_set(time.minutes)}"


def _time_text(time: TimeProposal) -> str:
    what = "longest" if time.group.wait is None else "time"
    return (
        f"{time_name(time.group)}: {what} {figures.minutes_set(time.minutes)} where "
        f"{figures.minutes_set(time.planned_min)} are planned (as in the trip closed last), {_ratio(time.limit)} times "
        f"as many. Of {trips(time.limit.trips)}, 95 of 100 take at most that many times the minutes planned "
        f"(95 % confidence).{_grown(time.since)}"
    )


def _flow_text(flow: FlowProposal) -> str:
    median = figures.NONE if flow.limit.median is None else figures.ratio_up(flow.limit.median)
    return (
        f"{flow_name(flow.group)}: plan {figures.flow_up(flow.flow_l_per_min)} in place of "
        f"{figures.flow_up(flow.planned_l_per_min)}. Median of {trips(flow.limit.trips)}: {median} times as planned. "
        f"Look first whether the flowmeter or the setting is another than planned.{_grown(flow.since)}"
    )


def _implied_text(one: Implied) -> str:
    return (
        f"{one.device}: add {figures.flow_up(one.extra_l_per_min)} to the drive_gas, leak or bleed that its profile "
        f"has now, the median beyond plan of {trips(one.trips)}, unless you find another cause."
    )


def _reserve_texts(reserve: ReserveProposal) -> Iterator[str]:
    """Each setting with its limit or what it lacks, then what follows."""
    default = figures.factor_set(reserve.default)
    for one in reserve.reserves:
        yield (
            f"{_setting(one)}: 99 of 100 trips use at most {_ratio(one.limit)} times the litres planned, with 95 % "
            f"confidence, of {trips(one.limit.trips)}."
        )
    for one in reserve.lacking:
        yield from _lacking(one, reserve.default)
    if reserve.factor is None:
        if reserve.changed:
            yield "A flow has CHANGED: while it is not known why, nothing below the default is proposed."
        if reserve.reserves or reserve.lacking:
            yield f"No reserve factor is proposed; the default is {default}."
        return
    factor = figures.factor_set(reserve.factor)
    if reserve.below_default:
        yield (
            f"reserve_factor {factor} is LESS than the default of {default}: less oxygen is carried. It would have "
            "covered 99 of 100 trips like these; one in a hundred may use more, and of trips of another kind or never "
            "closed it says nothing. reserve_time and spare_cylinders stay as they are, and the larger reserve counts."
        )
        if reserve.factor == 1.0:
            yield "A factor of 1 keeps no reserve at all beyond that by time (reserve_time)."
    else:
        yield f"reserve_factor {factor} is more than the default of {default}, which does not cover 99 of 100 trips."


def _lacking(one: ReserveLimit, default: float) -> Iterator[str]:
    if one.limit.reason == NOT_ENOUGH:
        yield (
            f"{_setting(one)}: for a reserve that covers 99 of 100 trips not enough yet, {one.limit.trips} of "
            f"{one.limit.needed} trips."
        )
    else:
        yield (
            f"{_setting(one)}: no limit for a reserve: of {trips(one.limit.trips)} too many ran out, or drew on a "
            "supply from which nothing was planned. Do not lower the reserve; find out why."
        )
    if one.upper_95_95 is not None and one.upper_95_95 > default:
        yield (
            f"{_setting(one)}: 95 of 100 of these trips use at most {figures.ratio_up(one.upper_95_95)} times the "
            f"litres planned, more than the default factor of {figures.factor_set(default)}: do not lower it."
        )


def _setting(one: ReserveLimit) -> str:
    return one.setting.replace("_", " ")


def _ratio(limit: RatioLimit) -> str:
    return figures.NONE if limit.upper is None else figures.ratio_up(limit.upper)


def _grown(since: str | None) -> str:
    if since is None:
        return ""
    return f" It has CHANGED since {since}: trips before that lower this figure, and what is so now may be more."


def _comment(text: str, lead: str = "# ") -> list[str]:
    return textwrap.wrap(printable(text), _WIDE, initial_indent=lead, subsequent_indent=lead, break_long_words=False)


def _quoted(text: str) -> str:
    """A text as YAML between double quotes, in one line whatever it holds."""
    return json.dumps(printable(text), ensure_ascii=False)
