"""A review on the screen: what share was covered, then flows, times, what is implied and what has changed.

Nothing here is a verdict on a person. Ratios are rounded against the crew: limits and medians up, shares down.
"""

from __future__ import annotations

from collections.abc import Iterator

from planner import figures
from planner.afterwards.review.history import History
from planner.afterwards.review.review import RatioLimit, Review
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
from planner.report.screen import printable, table, wrap

_MOST_BROKEN = 20


def review_text(found: Review, history: History) -> str:
    """The whole text, with a line break at its end."""
    parts = (_covered(found), _flows(found), _times(found), _said(found), _proposed(found))
    lines = [line for part in parts for line in (*part, "")]
    lines += broken_lines(history)
    return "\n".join(printable(line.rstrip()) for line in lines).rstrip("\n") + "\n"


def _covered(found: Review) -> Iterator[str]:
    for number, text in enumerate(covered_texts(found)):
        yield from wrap(text, "  " * bool(number), "  " * bool(number))


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
    yield "REAL OVER PLANNED MINUTES, one value a trip (1.00 is as planned)"
    if not rows:
        yield "  no leg or wait with its real time"
        return
    yield from table(("Leg or wait", "Trips", "Median", "95 of 100 trips take at most"), rows, frozenset({1, 2}))
    for row in found.times:
        if row.unplanned:
            yield from wrap(f"  {time_name(row.group)}: on {trips(row.unplanned, 'more ')} no time was planned for it.")


def _said(found: Review) -> Iterator[str]:
    for text in (*implied_texts(found), *changed_texts(found)):
        yield from wrap(text)


def _proposed(found: Review) -> Iterator[str]:
    yield "WHAT THESE TRIPS PROPOSE, for a person to weigh; nothing changes by itself"
    for text in proposal_texts(found):
        yield from wrap(text, "  - ", "    ")


def broken_lines(history: History) -> Iterator[str]:
    """The lines that were skipped, each with its file and number; of many the first."""
    for one in history.broken[:_MOST_BROKEN]:
        yield f"{one.file}:{one.line}  line skipped: {one.why}"
    if history.broken_lines > _MOST_BROKEN:
        yield f"... and {history.broken_lines - _MOST_BROKEN} more lines skipped"


def _median(limit: RatioLimit) -> str:
    return figures.NONE if limit.median is None else figures.ratio_up(limit.median)
