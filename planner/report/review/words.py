"""Sentences of a review, the same on the screen and on paper. Nothing in them is a verdict on a person.

Ratios are rounded against the crew: limits and medians up, shares down.
"""

from __future__ import annotations

from collections.abc import Iterator

from planner import figures
from planner.afterwards.review.changed import ALARM_TRIPS
from planner.afterwards.review.history import OTHER, FlowGroup, TimeGroup
from planner.afterwards.review.review import NOT_ENOUGH, RatioLimit, Review


def covered_texts(found: Review) -> Iterator[str]:
    """What share of trips was covered, and what the figures leave out."""
    if not found.trips:
        yield "No closed trip was read: nothing can be said."
    elif not found.drawn:
        yield f"{trips(found.trips)} closed; on none of them was anything to be drawn from a supply."
    else:
        share = figures.percent_down(found.covered / found.drawn)
        yield (
            f"{trips(found.drawn, 'closed ')}: planned litres and reserve covered {found.covered} of them ({share}); "
            f"with 95 % confidence they cover at least {figures.percent_down(found.covered_lower)} of such trips."
        )
    for count, what in (
        (
            found.trips - found.drawn if found.drawn else 0,
            "drew on no supply, as planned, and tell nothing of coverage",
        ),
        (found.ran_out, "ran out of oxygen, or had to be cut short for it: counted as the largest everywhere"),
        (found.blurred, "had readings too coarse for a flow (doubt above a fifth of the plan)"),
        (found.unplanned, "had a stretch for which nothing was planned to be drawn"),
        (found.unclosed, "left lines without a whole closing: not counted"),
    ):
        if count:
            yield f"{trips(count)} {what}."
    if found.skipped:
        yield f"{found.skipped} line{'s' * (found.skipped != 1)} could not be used: skipped."
    yield from _missing(found)


def _missing(found: Review) -> Iterator[str]:
    if found.missing is None:
        yield (
            "How many trips were made and never closed is not known here; what is said holds for closed trips alone. "
            "Say --made NUMBER to have the missing ones counted."
        )
    elif found.missing < 0:
        yield (
            f"The number of trips made is said to be {found.trips + found.missing}, and {found.trips} are closed: it "
            "cannot be right, and how many closings are missing is not known."
        )
    elif not found.missing:
        yield "No closing is missing: as many trips were closed as were made."
    else:
        least = figures.percent_down(found.covered / (found.drawn + found.missing))
        yield (
            f"{trips(found.missing)} made and not closed: what is said may not hold for them. Were none of them "
            f"covered, the share would be {least}."
        )


def implied_texts(found: Review) -> Iterator[str]:
    """What devices drew beyond their plan."""
    for one in found.implied:
        more = "more" if one.extra_l_per_min >= 0.0 else "less"
        yield (
            f"{one.device}: {figures.flow_up(abs(one.extra_l_per_min))} {more} than planned, the median of {one.trips} "
            "trips: a driving gas or a leak that the profile does not have, or settings that are others in use."
        )


def changed_texts(found: Review) -> Iterator[str]:
    """What has grown, and how often such a line comes by chance."""
    for changed in found.changed:
        name = flow_name(changed.what) if isinstance(changed.what, FlowGroup) else time_name(changed.what)
        yield (
            f"CHANGED: {name} has become larger, as it seems since the trip closed on {changed.since} (told by the one "
            f"of {changed.told}; {trips(changed.trips)} looked at)."
        )
    if found.changed:
        yield (
            f"What CHANGED means: while nothing changes, a series gives such a line on the average no more often than "
            f"once in {found.alarm_trips} of its trips, and all {found.series} series together no more often than once "
            f"in {ALARM_TRIPS} trips. Look for a cause before anything else."
        )
    elif found.series:
        yield (
            f"No series has grown so far that it is told (of {found.series}). While nothing changes, a false alarm "
            f"comes on the average no more often than once in {ALARM_TRIPS} trips; no alarm is no proof that nothing "
            "changed."
        )


def flow_name(group: FlowGroup) -> str:
    """`ventilator, pneumatic, by road`, or with settings and device."""
    words = [group.kind.replace("_", " "), group.setting.replace("_", " ")]
    return ", ".join([*words, *(word for word in (group.settings, group.device) if word and word != OTHER)])


def time_name(group: TimeGroup) -> str:
    """`leg: to the scanner, by foot`, or `wait: lift`."""
    if group.wait is not None:
        return "waits not listed by name" if group.wait == OTHER else f"wait: {group.wait}"
    name = "legs not listed by name" if group.leg == OTHER else f"leg: {group.leg}"
    return name + (f", by {group.by}" if group.by else "")


def upper_text(limit: RatioLimit) -> str:
    """The limit, or why there is none: `not enough yet: 41 of 59`."""
    if limit.upper is not None:
        return figures.ratio_up(limit.upper)
    if limit.reason == NOT_ENOUGH:
        return f"not enough yet: {limit.trips} of {limit.needed}"
    return "no limit: too many trips ran out"


def trips(count: int, which: str = "") -> str:
    """`1 trip`, `2 trips`, `2 closed trips`."""
    return f"{count} {which}trip{'s' * (count != 1)}"
