"""One value a trip: the rows of a history added up by trip, for each group that is compared with itself.

Of each group a trip gives one ratio, used over planned, summed over its stretches. A trip that ran out of oxygen or was
cut short for lack of it gives `inf`, the largest, in times too: a leg that was cut short took less than it would have.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterator, Sequence
from itertools import chain, compress
from math import inf
from operator import lt
from typing import Final

from planner.afterwards.review.history import CLOSED, FIELDS, OTHER, FlowGroup, FlowKey, History, TimeGroup

GREATEST_DOUBT: Final = 0.2
"""A trip whose readings leave more than this share of the planned litres in doubt tells nothing of a flow. By
decision."""


class Series:
    """One value a trip, by number of the trip: used over planned, the same with its doubt, planned, and L/min more.

    `unplanned` trips had nothing planned, `blurred` ones too much doubt: neither gives a value.
    """

    __slots__ = ("blurred", "extra_l_per_min", "most", "planned", "ratios", "trips", "unplanned")

    def __init__(self) -> None:
        self.trips = array("l")
        self.ratios = array("d")
        self.most = array("d")
        self.planned = array("d")
        self.extra_l_per_min = array("d")
        self.unplanned = 0
        self.blurred = 0

    def __len__(self) -> int:
        return len(self.ratios)

    def last_closed(self, most: int, rank: Sequence[int] | None) -> tuple[Sequence[int], Sequence[float]]:
        """Numbers and ratios of the last so many trips in the order of closing; `rank` as `TripSums` has it."""
        if rank is None:
            return self.trips[-most:], self.ratios[-most:]
        places = [rank[trip] for trip in self.trips]
        order = sorted(range(len(places)), key=places.__getitem__)[-most:]
        return [self.trips[at] for at in order], [self.ratios[at] for at in order]

    def last_planned(self, rank: Sequence[int] | None) -> float:
        """What was planned in the trip that was closed last, 0 where there is none."""
        if not self.trips:
            return 0.0
        if rank is None:
            return self.planned[-1]
        return max(zip(map(rank.__getitem__, self.trips), self.planned, strict=True))[1]


class TripSums:
    """The groups of a history as series.

    `rank` gives the place of each trip in the order of closing, None where that is the order of their numbers.
    `blurred`, `unplanned`: a flag by trip, of the pooled groups.
    """

    def __init__(self, history: History) -> None:
        self.history = history
        known = len(history.state)
        self.blurred, self.unplanned = bytearray(known), bytearray(known)
        self._counts = [
            closing if state == CLOSED else -1 for closing, state in zip(history.closing, history.state, strict=True)
        ]
        closed = history.counted()
        self.rank: array[int] | None = None
        if closed != sorted(closed):
            self.rank = array("l", bytes(array("l").itemsize * known))
            for place, trip in enumerate(closed):
                self.rank[trip] = place

    def flows(self, needed: int) -> Iterator[tuple[FlowGroup, Series]]:
        """Each type in each setting, and after it those of its settings and devices that have the trips `needed`."""
        kinds: dict[str, list[FlowKey]] = {}
        for key in self.history.flows:
            kinds.setdefault(", ".join(word for word in key[:3] if word), []).append(key)
        found: list[tuple[FlowGroup, Series]] = []
        for kind, keys in kinds.items():
            pooled = self._by_setting([self.history.flows[key] for key in keys], flag=True)
            found += [(FlowGroup(kind, setting), series) for setting, series in pooled.items() if _told(series)]
            for key in keys:
                *_, settings, device = key
                if settings == device == OTHER or len(self.history.flows[key]) < needed * FIELDS:
                    continue
                own = self._by_setting([self.history.flows[key]])
                found += [
                    (FlowGroup(kind, setting, settings, device), series)
                    for setting, series in own.items()
                    if len(series) >= needed
                ]
        yield from sorted(found, key=lambda each: _by_name(each[0]))

    def times(self) -> Iterator[tuple[TimeGroup, Series]]:
        """Each kind of leg and of wait, over all settings."""
        for group, rows in sorted(self.history.times.items(), key=lambda each: _by_name(each[0])):
            series = Series()
            ran_out = self.history.ran_out
            for trip, planned, real, _, _ in self._summed([rows]):
                if planned <= 0.0:
                    series.unplanned += 1
                    continue
                series.trips.append(trip)
                series.ratios.append(inf if ran_out[trip] else real / planned)
                series.planned.append(planned)
            if _told(series):
                yield group, series

    def devices(self) -> Iterator[tuple[str, str, Series]]:
        """Each device that the service lists by name, with its type, over all its settings."""
        named: dict[tuple[str, str], list[array[float]]] = {}
        for key, rows in self.history.flows.items():
            if key[4] != OTHER:
                named.setdefault((key[4], key[0]), []).append(rows)
        for (device, kind), rows_of in sorted(named.items()):
            whole = Series()
            for series in self._by_setting(rows_of).values():
                whole.ratios.extend(series.ratios)
                whole.extra_l_per_min.extend(series.extra_l_per_min)
            yield device, kind, whole

    def _by_setting(self, rows: list[array[float]], *, flag: bool = False) -> dict[str, Series]:
        """Litres of some rows, by setting of the trip. `flag`: note the trips that give no ratio."""
        found: dict[str, Series] = {}
        settings, ran_out = self.history.setting, self.history.ran_out
        for trip, planned, used, doubt, minutes in self._summed(rows):
            setting = settings[trip]
            series = found.get(setting)
            if series is None:
                series = found[setting] = Series()
            if planned <= 0.0:
                series.unplanned += 1
                self.unplanned[trip] |= flag
            elif ran_out[trip]:
                _add(series, trip, inf, inf, planned, 0.0)
            elif doubt > GREATEST_DOUBT * planned:
                series.blurred += 1
                self.blurred[trip] |= flag
            else:
                extra = (used - planned) / minutes if minutes else 0.0
                _add(series, trip, used / planned, (used + doubt) / planned, planned, extra)
        return found

    def _summed(self, parts: list[array[float]]) -> Iterator[tuple[int, float, float, float, float]]:
        """Sums of the rows of each trip's last closing, by number of the trip: planned, used, doubt, minutes."""
        floats = parts[0] if len(parts) == 1 else array("d", chain.from_iterable(parts))
        trips = list(map(int, floats[0::FIELDS]))
        columns = [floats[at::FIELDS] for at in range(2, FIELDS)]
        counts = [self._counts[trip] == closing for trip, closing in zip(trips, floats[1::FIELDS], strict=True)]
        if not all(counts) or not all(map(lt, trips, trips[1:])):
            trips, columns = _added(trips, columns, counts)
        return zip(trips, *columns, strict=True)


def _added(trips: list[int], columns: list[array[float]], counts: list[bool]) -> tuple[list[int], list[array[float]]]:
    """Rows that count, added up by trip; those of one trip in the order in which they were read."""
    of_trip: dict[int, int] = {}
    sums = [array("d") for _ in columns]
    for at in sorted(compress(range(len(trips)), counts), key=trips.__getitem__):
        place = of_trip.setdefault(trips[at], len(of_trip))
        for column, sum_of in zip(columns, sums, strict=True):
            if place == len(sum_of):
                sum_of.append(column[at])
            else:
                sum_of[place] += column[at]
    return list(of_trip), sums


def _add(series: Series, trip: int, ratio: float, most: float, planned: float, extra: float) -> None:
    series.trips.append(trip)
    series.ratios.append(ratio)
    series.most.append(most)
    series.planned.append(planned)
    series.extra_l_per_min.append(extra)


def _told(series: Series) -> bool:
    return bool(series.ratios) or series.unplanned + series.blurred > 0


def _by_name(group: FlowGroup | TimeGroup) -> tuple[tuple[bool, str], ...]:
    """By the names of a group, None first: the pooled row stands before the finer ones."""
    return tuple((word is not None, word or "") for word in group)
