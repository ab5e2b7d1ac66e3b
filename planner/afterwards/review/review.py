"""What the closed trips of a service teach, in figures: shares, limits, what is implied and what has changed.

The unit is the trip: of each group a trip gives one ratio, used over planned, summed over its stretches, so that one
long trip weighs no more than a short one. Limits are those of `planner.afterwards.review.limits`, one-sided, 95 %
confidence.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import isinf, isnan
from statistics import median
from typing import Final, NamedTuple

from planner.afterwards.review import changed, limits
from planner.afterwards.review.history import FlowGroup, History, TimeGroup
from planner.afterwards.review.series import Series, TripSums

NEEDED: Final = limits.fewest_trips()
"""59: the fewest trips whose largest value covers 95 % of trips with 95 % confidence."""

NOT_ENOUGH: Final = "not_enough"
RAN_OUT: Final = "ran_out"


class RatioLimit(NamedTuple):
    """Ratios of one group, one a trip.

    `trips`: how many gave one; `median` of them; `upper`: the limit that covers a share of trips. `upper` is None with
    a `reason`: `not_enough` trips, or it would fall on a trip that `ran_out`. `needed` is the
    fewest trips that would give a limit. `median` is None where there is no trip or it falls on one that ran out.
    """

    trips: int
    median: float | None
    upper: float | None
    reason: str | None
    needed: int


class FlowRow(NamedTuple):
    """A group of stretches with its limit of used over planned litres.

    `ratios`: one a trip, in the order of the trips' numbers, `inf` where it ran out. `unplanned`, `blurred`: trips that
    gave no ratio, since nothing was planned or the readings leave too much in doubt.
    """

    group: FlowGroup
    limit: RatioLimit
    ratios: Sequence[float] = ()
    unplanned: int = 0
    blurred: int = 0


class TimeRow(NamedTuple):
    """A kind of leg or of wait with its limit of real over planned minutes; see `FlowRow`.

    `planned_min`: what was planned for it in the trip that was closed last.
    """

    group: TimeGroup
    limit: RatioLimit
    ratios: Sequence[float] = ()
    unplanned: int = 0
    planned_min: float = 0.0


class Implied(NamedTuple):
    """What a device drew beyond its plan, median of trips, L/min; below 0 where it drew less. `kind`: its type."""

    device: str
    trips: int
    extra_l_per_min: float
    kind: str = ""


class Changed(NamedTuple):
    """A series that has grown: what it is of, since when it seems to, and the date of the trip that told it.

    `trips`: how many trips of the series were tested.
    """

    what: FlowGroup | TimeGroup
    since: str
    told: str
    trips: int = 0


class ReserveLimit(NamedTuple):
    """The limit of (used + doubt) / planned that covers 99 % of the trips in one setting, and the 95 % limit beside."""

    setting: str
    limit: RatioLimit
    upper_95_95: float | None = None


class Review(NamedTuple):
    """All that is said of a history.

    `covered` of `drawn` trips, those on which something was planned to be drawn from a supply or was drawn;
    `covered_lower` is the 95 % lower bound of their share. `missing`: how many trips were made but are not closed here,
    None where nobody said how many were made, below 0 where fewer are said to have been made than are closed.
    `unclosed` have lines without a closing. `series` were tested for change, each alarm at `alarm_trips`. `first` and
    `last`: days on which the first and last trip were closed.
    """

    trips: int
    drawn: int
    covered: int
    covered_lower: float
    flows: tuple[FlowRow, ...]
    times: tuple[TimeRow, ...]
    implied: tuple[Implied, ...]
    changed: tuple[Changed, ...]
    blurred: int
    unplanned: int
    ran_out: int
    unclosed: int
    missing: int | None
    series: int
    alarm_trips: int
    reserves: tuple[ReserveLimit, ...]
    skipped: int
    first: str = ""
    last: str = ""


def review(history: History, trips_made: int | None = None) -> Review:
    """Figures of a history. `trips_made`: how many trips the service made in its time, if anybody knows."""
    closed = history.counted()
    sums = TripSums(history)
    flows = list(sums.flows(NEEDED))
    times = list(sums.times())
    tested = [*_each_once(flows), *times]
    drawn = [trip for trip in closed if history.ran_out[trip] or not isnan(history.excess[trip])]
    covered = sum(history.covered[trip] for trip in drawn)
    return Review(
        trips=len(closed),
        drawn=len(drawn),
        covered=covered,
        covered_lower=limits.lower_bound(covered, len(drawn)),
        flows=tuple(
            FlowRow(group, limit(of.ratios, of.most), of.ratios, of.unplanned, of.blurred) for group, of in flows
        ),
        times=tuple(
            TimeRow(group, limit(of.ratios), of.ratios, of.unplanned, of.last_planned(sums.rank)) for group, of in times
        ),
        implied=tuple(_implied(sums)),
        changed=tuple(_changed(history, sums, tested)),
        blurred=sum(sums.blurred),
        unplanned=sum(sums.unplanned),
        ran_out=sum(history.ran_out[trip] for trip in closed),
        unclosed=history.unclosed(),
        missing=None if trips_made is None else trips_made - len(closed),
        series=len(tested),
        alarm_trips=_threshold(len(tested)),
        reserves=tuple(_reserves(history, drawn)),
        skipped=history.broken_lines,
        first=history.closed[closed[0]] if closed else "",
        last=history.closed[closed[-1]] if closed else "",
    )


def limit(ratios: Sequence[float], most: Sequence[float] | None = None, covers: float = 0.95) -> RatioLimit:
    """Median of some ratios, and the upper limit of `most` (the ratios themselves unless given), as `RatioLimit` says.

    A trip that ran out counts as `inf`, the largest: left out, the limit would cover the trips that went well.
    """
    ordered = sorted(ratios)
    upper_of = ordered if most is None or most == ratios else sorted(most)
    middle = median(ordered) if ordered else None
    rank = limits.rank_from_above(len(upper_of), covers)
    upper = upper_of[-rank] if rank else None
    reason = NOT_ENOUGH if upper is None else RAN_OUT if isinf(upper) else None
    return RatioLimit(
        trips=len(ordered),
        median=None if middle is None or isinf(middle) else middle,
        upper=None if reason else upper,
        reason=reason,
        needed=limits.fewest_trips(covers),
    )


def _each_once(flows: list[tuple[FlowGroup, Series]]) -> Iterator[tuple[FlowGroup | TimeGroup, Series]]:
    """The groups but for those that hold the very trips of the pooled group before them: one thing is told once."""
    pooled = 0
    for group, series in flows:
        if group.pooled:
            pooled = len(series.ratios)
        if group.pooled or len(series.ratios) < pooled:
            yield group, series


def _implied(sums: TripSums) -> Iterator[Implied]:
    """Devices that the service lists by name, each over all its settings, with trips enough to tell."""
    for device, kind, series in sums.devices():
        extra = [flow for flow, ratio in zip(series.extra_l_per_min, series.ratios, strict=True) if not isinf(ratio)]
        if len(extra) >= NEEDED:
            yield Implied(device, len(extra), median(extra), kind)


def _threshold(series: int) -> int:
    return changed.ALARM_TRIPS * max(1, series)


def _changed(history: History, sums: TripSums, tested: list[tuple[FlowGroup | TimeGroup, Series]]) -> Iterator[Changed]:
    for group, values in tested:
        trips, ratios = values.last_closed(changed.TESTED_TRIPS, sums.rank)
        found = changed.first_alarm(ratios, _threshold(len(tested)))
        if found is not None:
            told, since = (history.closed[trips[index]] for index in found)
            yield Changed(group, since, told, len(trips))


def _reserves(history: History, drawn: Sequence[int]) -> Iterator[ReserveLimit]:
    """By setting: a reserve that many easy trips would bear out may be none for the few by air."""
    for setting in sorted({history.setting[trip] for trip in drawn}):
        excess = sorted(history.excess[trip] for trip in drawn if history.setting[trip] == setting)
        yield ReserveLimit(setting, limit(excess, None, 0.99), limit(excess).upper)
