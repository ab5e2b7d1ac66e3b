"""What the closed trips of a service teach, in figures: shares, limits, what is implied and what has changed.

The unit is the trip: of each group a trip gives one ratio, used over planned, summed over its stretches, so that one
long trip weighs no more than a short one. Limits are those of `planner.afterwards.review.limits`, one-sided, 95 %
confidence.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterator, Sequence
from math import inf, isinf, isnan
from statistics import median
from typing import Final, NamedTuple

from planner.afterwards.review import changed, limits
from planner.afterwards.review.history import CLOSED, OTHER, FlowGroup, History, Sums, TimeGroup

NEEDED: Final = limits.fewest_trips()
"""59: the fewest trips whose largest value covers 95 % of trips with 95 % confidence."""

NEEDED_FOR_A_RESERVE: Final = limits.fewest_trips(0.99)
"""299: the same for 99 % of trips, which a proposal for the reserve asks for."""

GREATEST_DOUBT: Final = 0.2
"""A trip whose readings leave more than this share of the planned litres in doubt tells nothing of a flow. By
decision."""

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
    """A group of stretches with its limit of used over planned litres."""

    group: FlowGroup
    limit: RatioLimit


class TimeRow(NamedTuple):
    """A kind of leg or of wait with its limit of real over planned minutes."""

    group: TimeGroup
    limit: RatioLimit


class Implied(NamedTuple):
    """What a device drew beyond its plan, median of trips, L/min; below 0 where it drew less."""

    device: str
    trips: int
    extra_l_per_min: float


class Changed(NamedTuple):
    """A series that has grown: what it is of, since when it seems to, and the date of the trip that told it."""

    what: FlowGroup | TimeGroup
    since: str
    told: str


class Review(NamedTuple):
    """All that is said of a history.

    `covered_lower` is the 95 % lower bound of the share covered; `missing` how many trips were made but are not closed
    here, None where nobody said how many were made. `unclosed` have lines without a closing. `series` were tested for
    change, each alarm at `alarm_trips`. `reserve` is the limit of (used + doubt) / planned that covers
    99 % of trips.
    """

    trips: int
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
    reserve: RatioLimit


class _Series:
    """One value a trip, in the order of closing: number of the trip, used over planned, with the doubt, L/min more."""

    __slots__ = ("extra_l_per_min", "most", "ratios", "trips")

    def __init__(self) -> None:
        self.trips = array("l")
        self.ratios = array("d")
        self.most = array("d")
        self.extra_l_per_min = array("d")

    def add(self, trip: int, ratio: float, most: float, extra_l_per_min: float) -> None:
        """One more trip."""
        self.trips.append(trip)
        self.ratios.append(ratio)
        self.most.append(most)
        self.extra_l_per_min.append(extra_l_per_min)


def review(history: History, trips_made: int | None = None) -> Review:
    """Figures of a history. `trips_made`: how many trips the service made in its time, if anybody knows."""
    closed = history.counted()
    trips = _Trips(history, closed)
    flows = [
        (group, trips.flows(sums, count=_is_pooled(group)))
        for group, sums in sorted(history.flows.items(), key=_by_name)
        if _is_pooled(group) or (len(sums) >= NEEDED and not group.settings == group.device == OTHER)
    ]
    flows = [(group, row) for group, row in flows if row.trips and (_is_pooled(group) or len(row.trips) >= NEEDED)]
    times = [(group, trips.times(sums)) for group, sums in sorted(history.times.items(), key=_by_name)]
    times = [(group, row) for group, row in times if row.trips]
    series: list[tuple[FlowGroup | TimeGroup, _Series]] = [*flows, *times]
    covered = sum(history.covered[trip] for trip in closed)
    excess = [history.excess[trip] for trip in closed]
    return Review(
        trips=len(closed),
        covered=covered,
        covered_lower=limits.lower_bound(covered, len(closed)),
        flows=tuple(FlowRow(group, limit(values.ratios, values.most)) for group, values in flows),
        times=tuple(TimeRow(group, limit(values.ratios, values.most)) for group, values in times),
        implied=tuple(_implied(history, trips)),
        changed=tuple(_changed(history, series)),
        blurred=len(trips.blurred),
        unplanned=len(trips.unplanned),
        ran_out=sum(history.ran_out[trip] for trip in closed),
        unclosed=history.unclosed(),
        missing=None if trips_made is None else max(0, trips_made - len(closed)),
        series=len(series),
        alarm_trips=_threshold(len(series)),
        reserve=limit([ratio for ratio in excess if not isnan(ratio)], None, 0.99),
    )


def limit(ratios: Sequence[float], most: Sequence[float] | None = None, covers: float = 0.95) -> RatioLimit:
    """Median of some ratios, and the upper limit of `most` (the ratios themselves unless given), as `Limit` says.

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


def _by_name(entry: tuple[FlowGroup | TimeGroup, Sums]) -> tuple[tuple[bool, str], ...]:
    """By the names of a group, None first: the pooled row stands before the finer ones."""
    return tuple((word is not None, word or "") for word in entry[0])


def _is_pooled(group: FlowGroup) -> bool:
    return group.settings is None and group.device is None


class _Trips:
    """The trips that count, in the order of closing."""

    def __init__(self, history: History, closed: Sequence[int]) -> None:
        self.history = history
        self.closed = closed
        self.blurred: set[int] = set()
        self.unplanned: set[int] = set()

    def flows(self, sums: Sums, *, count: bool) -> _Series:
        """Litres of a group. `count`: note the trips that give no ratio."""
        series = _Series()
        ran_out = self.history.ran_out
        for trip, planned, used, doubt, minutes in self._summed(sums):
            if planned <= 0.0:
                if count:
                    self.unplanned.add(trip)
            elif ran_out[trip]:
                series.add(trip, inf, inf, 0.0)
            elif doubt > GREATEST_DOUBT * planned:
                if count:
                    self.blurred.add(trip)
            else:
                extra = (used - planned) / minutes if minutes else 0.0
                series.add(trip, used / planned, (used + doubt) / planned, extra)
        return series

    def times(self, sums: Sums) -> _Series:
        """Minutes of a group: they are written down, not measured, and carry no doubt."""
        series = _Series()
        for trip, planned, real, _, _ in self._summed(sums):
            if planned > 0.0:
                series.add(trip, real / planned, real / planned, 0.0)
        return series

    def _summed(self, sums: Sums) -> Iterator[tuple[int, float, float, float, float]]:
        """Sums of the rows of each trip's last closing: trip, planned, used, doubt, minutes. In plain arrays."""
        history = self.history
        state, closings, known = history.state, history.closing, len(history.state)
        planned, used, doubt, minutes = (array("d", bytes(8 * known)) for _ in range(4))
        seen = bytearray(known)
        for at, closing, planned_, used_, doubt_, minutes_ in sums.rows():
            trip = int(at)
            if state[trip] == CLOSED and closings[trip] == closing:
                planned[trip] += planned_
                used[trip] += used_
                doubt[trip] += doubt_
                minutes[trip] += minutes_
                seen[trip] = 1
        return ((trip, planned[trip], used[trip], doubt[trip], minutes[trip]) for trip in self.closed if seen[trip])


def _implied(history: History, trips: _Trips) -> Iterator[Implied]:
    """Devices that the service lists by name, each over all its settings, with trips enough to tell."""
    by_device: dict[str, Sums] = {}
    for group, sums in history.flows.items():
        if group.device is not None and group.device != OTHER:
            by_device.setdefault(group.device, Sums()).join(sums)
    for device, sums in sorted(by_device.items()):
        series = trips.flows(sums, count=False)
        extra = [flow for flow, ratio in zip(series.extra_l_per_min, series.ratios, strict=True) if not isinf(ratio)]
        if len(extra) >= NEEDED:
            yield Implied(device, len(extra), median(extra))


def _threshold(series: int) -> int:
    return changed.ALARM_TRIPS * max(1, series)


def _changed(history: History, series: list[tuple[FlowGroup | TimeGroup, _Series]]) -> Iterator[Changed]:
    for group, values in series:
        first = max(0, len(values.trips) - changed.TESTED_TRIPS)
        found = changed.first_alarm(values.ratios[first:], _threshold(len(series)))
        if found is not None:
            told, since = (history.closed[values.trips[first + index]] for index in found)
            yield Changed(group, since, told)
