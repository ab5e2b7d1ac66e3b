"""The page of a review as plain data: its sentences, and the dots of each plot by column.

A trip is a dot over its ratio; equal ones stand on one another. Where a stack would be too high a dot stands for
several trips, and a column that holds any trip has a dot, so that the one long wait among thousands is seen.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from math import ceil, isinf
from typing import Final, NamedTuple

from planner import figures
from planner.afterwards.review.review import FlowRow, RatioLimit, Review, TimeRow
from planner.report.review.proposals import proposal_texts
from planner.report.review.words import (
    changed_texts,
    covered_texts,
    flow_name,
    implied_texts,
    time_name,
    trips,
    upper_text,
)

COLUMNS: Final = 110
"""Columns of dots along an axis."""

HIGHEST: Final = 14
"""Most dots in a column."""

_TOPS: Final = (1.5, 2.0, 2.5, 3.0, 4.0, 5.0)
"""Where an axis may end; what lies beyond has a place of its own."""

_SEEN: Final = 0.98
"""The share of the trips of each row that the axis holds at least, as far as the last of `_TOPS` goes."""


class DotRow(NamedTuple):
    """One row of a plot.

    `columns`: columns of the axis with their number of dots, each of which is up to `per_dot` trips; `beyond` and
    `ran_out` are dots beside the axis. `median` and `limit` are places on the axis, from 0 to 1; None where there is
    none, `limit` also where it lies beyond, as `notes` then say.
    """

    name: str
    facts: str
    columns: tuple[tuple[int, int], ...]
    per_dot: int
    beyond: int
    ran_out: int
    median: float | None
    limit: float | None
    notes: tuple[str, ...] = ()


class Plot(NamedTuple):
    """Rows on one axis: `marks` are places from 0 to 1 with their text, `planned` is where 1.0 stands."""

    title: str
    note: str
    marks: tuple[tuple[float, str], ...]
    planned: float
    beyond: str
    rows: tuple[DotRow, ...]
    none: str


class ReviewPage(NamedTuple):
    """The whole page. `covered` begins with its main sentence."""

    span: str
    covered: tuple[str, ...]
    changed: tuple[str, ...]
    plots: tuple[Plot, ...]
    proposed: tuple[str, ...]
    notes: tuple[str, ...]


NOTES: Final = (
    (
        "A dot stands over how many times as much was used, or how many times as long it took, as planned. Half the "
        "trips lie at or below the median. The limit, with 95 % confidence, is what 95 of 100 trips stay within; it "
        "counts what the readings leave in doubt, needs 59 trips, and holds whatever the distribution, for trips like "
        "these."
    ),
    (
        "This page holds plans against what was used. It is no judgement of a person, and nobody is named in it: text "
        "that somebody typed stands here only where the service's policy lists it."
    ),
    "It proposes, and nothing changes by itself. Follow local policy; who is licensed to decide does so, and signs.",
)


def review_page(found: Review) -> ReviewPage:
    """The page of a review."""
    used = "95 of 100 trips use at most"
    taken = "95 of 100 trips take at most"
    return ReviewPage(
        span=f"{trips(found.trips)} closed from {found.first} to {found.last}" if found.trips else "no closed trip",
        covered=tuple(covered_texts(found)),
        changed=(*changed_texts(found), *implied_texts(found)),
        plots=(
            _plot(
                "Used over planned litres, by device",
                [(flow_name(row.group), row) for row in found.flows],
                used,
                "No stretch that one device drew alone.",
            ),
            _plot(
                "Real over planned minutes, by leg and wait",
                [(time_name(row.group), row) for row in found.times],
                taken,
                "No leg or wait with its real time.",
            ),
        ),
        proposed=tuple(proposal_texts(found)),
        notes=NOTES,
    )


def _plot(title: str, named: Sequence[tuple[str, FlowRow | TimeRow]], at_most: str, none: str) -> Plot:
    top = _top([row for _, row in named])
    step = 0.25 if top <= 2.0 else 0.5
    marks = [(at * step / top, figures.plain(at * step)) for at in range(int(top / step) + 1)]
    return Plot(
        title=title,
        note="one value a trip; broken line: as planned (1)",
        marks=tuple(marks),
        planned=1.0 / top,
        beyond=f"over {figures.plain(top)}",
        rows=tuple(_row(name, row, top, at_most) for name, row in named),
        none=none,
    )


def _top(rows: Sequence[FlowRow | TimeRow]) -> float:
    """Where the axis ends: beyond every limit and nearly every trip, if it may."""
    wanted = 0.0
    for row in rows:
        finite = sorted(ratio for ratio in row.ratios if not isinf(ratio))
        if finite:
            wanted = max(wanted, finite[min(len(finite) - 1, int(_SEEN * len(finite)))], row.limit.upper or 0.0)
    return next((top for top in _TOPS if top > wanted), _TOPS[-1])


def _row(name: str, row: FlowRow | TimeRow, top: float, at_most: str) -> DotRow:
    counts = Counter(int(COLUMNS * ratio / top) for ratio in row.ratios if 0.0 <= ratio < top)
    counts[0] += sum(ratio < 0.0 for ratio in row.ratios)
    beyond = [ratio for ratio in row.ratios if top <= ratio and not isinf(ratio)]
    ran_out = sum(map(isinf, row.ratios))
    per_dot = _per_dot(max((*counts.values(), len(beyond), ran_out)))
    limit = row.limit
    return DotRow(
        name=name,
        facts=_facts(limit, per_dot, at_most),
        columns=tuple((column, ceil(count / per_dot)) for column, count in sorted(counts.items()) if count),
        per_dot=per_dot,
        beyond=ceil(len(beyond) / per_dot),
        ran_out=ceil(ran_out / per_dot),
        median=_place(limit.median, top),
        limit=_place(limit.upper, top),
        notes=tuple(_notes(row, beyond, ran_out, top)),
    )


def _place(ratio: float | None, top: float) -> float | None:
    return None if ratio is None or ratio >= top else max(0.0, ratio / top)


def _per_dot(most: int) -> int:
    """1, 2, 5, 10, 20 ...: the least with which no column is too high."""
    unit = 1
    while True:
        for per_dot in (unit, 2 * unit, 5 * unit):
            if ceil(most / per_dot) <= HIGHEST:
                return per_dot
        unit *= 10


def _facts(limit: RatioLimit, per_dot: int, at_most: str) -> str:
    dot = "a dot is a trip" if per_dot == 1 else f"a dot is up to {per_dot} trips"
    parts = [f"{trips(limit.trips)}, {dot}"]
    if limit.median is not None:
        parts.append(f"median {figures.ratio_up(limit.median)}")
    upper = upper_text(limit)
    parts.append(f"{at_most} {upper} (95 % confidence)" if limit.upper is not None else f"limit: {upper}")
    return "; ".join(parts)


def _notes(row: FlowRow | TimeRow, beyond: Sequence[float], ran_out: int, top: float) -> Iterator[str]:
    if beyond:
        yield f"{trips(len(beyond))} over {figures.plain(top)}, the most {figures.ratio_up(max(beyond))}"
    if row.limit.upper is not None and row.limit.upper >= top:
        yield "the limit lies beyond the axis"
    if ran_out:
        yield f"{trips(ran_out)} ran out of oxygen or had to be cut short for it"
    if row.unplanned:
        yield f"{trips(row.unplanned)} with nothing planned left out"
    if isinstance(row, FlowRow) and row.blurred:
        yield f"{trips(row.blurred)} with too coarse readings left out"
