"""A review on the screen: what share was covered, then flows, times, what is implied and what has changed.

Nothing here is a verdict on a person. Ratios are rounded against the crew: limits and medians up, shares down.
"""

from __future__ import annotations

from collections.abc import Iterator

from planner import figures
from planner.afterwards.review.history import FlowGroup, History, TimeGroup
from planner.afterwards.review.review import NOT_ENOUGH, RatioLimit, Review
from planner.report.screen import printable, table, wrap

_MOST_BROKEN = 20


def review_text(found: Review, history: History) -> str:
    """The whole text, with a line break at its end."""
    lines = [line for part in (_covered(found), _flows(found), _times(found), _said(found)) for line in (*part, "")]
    lines += _broken(history)
    return "\n".join(printable(line.rstrip()) for line in lines).rstrip("\n") + "\n"


def _covered(found: Review) -> Iterator[str]:
    if not found.trips:
        yield "No closed trip was read: nothing can be said."
        return
    share = figures.percent_down(found.covered / found.trips)
    yield from wrap(
        f"{found.trips} closed trips: planned litres and reserve covered {found.covered} of them ({share}); with 95 % "
        f"confidence they cover at least {figures.percent_down(found.covered_lower)} of such trips."
    )
    counts = [
        (found.ran_out, "ran out of oxygen, and count as the worst everywhere"),
        (found.blurred, "had readings too coarse for a flow (doubt above a fifth of the plan)"),
        (found.unplanned, "used a supply from which nothing was planned to be drawn"),
        (found.unclosed, "have lines without a whole closing, and are not counted"),
    ]
    for count, what in counts:
        if count:
            yield from wrap(f"{count} {what}.", "  ", "  ")
    if found.missing is None:
        yield from wrap(
            "How many trips were made and never closed is not known here; what is said holds for closed trips alone. "
            "Say --made NUMBER to have the missing ones counted.",
            "  ",
            "  ",
        )
    elif found.missing:
        yield from wrap(
            f"{found.missing} trips were made and not closed: what is said may not hold for them.", "  ", "  "
        )


def _flows(found: Review) -> Iterator[str]:
    rows = [
        (flow_name(row.group), str(row.limit.trips), _median(row.limit), upper_text(row.limit)) for row in found.flows
    ]
    yield "USED OVER PLANNED LITRES, one value a trip (1.00 is as planned)"
    if not rows:
        yield "  no stretch that one device drew alone"
        return
    yield from table(("Device and setting", "Trips", "Median", "95 of 100 trips use at most"), rows, frozenset({1, 2}))


def _times(found: Review) -> Iterator[str]:
    rows = [
        (time_name(row.group), str(row.limit.trips), _median(row.limit), upper_text(row.limit)) for row in found.times
    ]
    yield "REAL OVER PLANNED MINUTES, one value a trip"
    if not rows:
        yield "  no leg or wait with its real time"
        return
    yield from table(("Leg or wait", "Trips", "Median", "95 of 100 trips take at most"), rows, frozenset({1, 2}))


def _said(found: Review) -> Iterator[str]:
    for one in found.implied:
        more = "more" if one.extra_l_per_min >= 0.0 else "less"
        yield from wrap(
            f"{one.device}: {figures.flow_up(abs(one.extra_l_per_min))} {more} than planned, the median of {one.trips} "
            "trips: a driving gas or a leak that the profile does not have, or settings that are others in use."
        )
    for changed in found.changed:
        name = flow_name(changed.what) if isinstance(changed.what, FlowGroup) else time_name(changed.what)
        yield from wrap(
            f"CHANGED: {name} has become larger, as it seems since the trip closed on {changed.since} (told by the one "
            f"of {changed.told}). Of unchanged series such a line comes once in {found.alarm_trips} trips or less."
        )
    reserve = found.reserve
    if reserve.upper is not None:
        yield from wrap(
            f"A reserve factor of {figures.ratio_up(reserve.upper)} would have covered 99 of 100 trips (with 95 % "
            f"confidence, of {reserve.trips} trips). A person decides; nothing changes by itself."
        )
    elif reserve.reason == NOT_ENOUGH:
        yield from wrap(f"For a proposal on the reserve: not enough yet, {reserve.trips} of {reserve.needed} trips.")
    else:
        yield from wrap("No reserve is proposed: too many trips ran out of oxygen for a limit to be given.")


def _broken(history: History) -> Iterator[str]:
    for one in history.broken[:_MOST_BROKEN]:
        yield f"{one.file}:{one.line}  line skipped: {one.why}"
    if len(history.broken) > _MOST_BROKEN:
        yield f"... and {len(history.broken) - _MOST_BROKEN} more lines skipped"


def flow_name(group: FlowGroup) -> str:
    """`ventilator, pneumatic, by road`, or with settings and device."""
    words = [group.kind.replace("_", " "), group.setting.replace("_", " ")]
    return ", ".join([*words, *(word for word in (group.settings, group.device) if word)])


def time_name(group: TimeGroup) -> str:
    """`leg to the scanner, on foot`, or `wait for the lift`."""
    if group.wait is not None:
        return f"wait: {group.wait}"
    return f"leg: {group.leg}" + (f", {group.by}" if group.by else "")


def _median(limit: RatioLimit) -> str:
    return figures.NONE if limit.median is None else figures.ratio_up(limit.median)


def upper_text(limit: RatioLimit) -> str:
    """The limit, or why there is none: `not enough yet: 41 of 59`."""
    if limit.upper is not None:
        return figures.ratio_up(limit.upper)
    if limit.reason == NOT_ENOUGH:
        return f"not enough yet: {limit.trips} of {limit.needed}"
    return "no limit: too many trips ran out"
