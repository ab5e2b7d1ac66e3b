"""The page of a review: what was covered, what has changed, what is proposed, and a dot for every trip.

Everything is black on white: a dot is a trip, the median has a triangle and its name, the limit a bar with a cap and
its name, and a broken line stands where things go as planned.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Final

from planner import figures
from planner.package_file import edition
from planner.pages.drawing import fonts
from planner.pages.drawing.flow import PageFlow
from planner.pages.drawing.layout import LEFT, TOP, WIDTH, Page
from planner.pages.drawing.lines import LONGEST_LINE, SMALL, leading, wrap
from planner.pages.pack import Paper, render
from planner.report.review.page import COLUMNS, DotRow, Plot, ReviewPage

TITLE: Final = "What closed trips teach"
BESIDE: Final = 88.0
"""Room beside an axis for the dots that lie beyond it, and for those of trips that ran out."""
PITCH: Final = (WIDTH - BESIDE) / COLUMNS
DOT: Final = PITCH * 0.8
NAMES, TICKS, APART = 12.0, 13.0, 7.0
"""Above the dots room for the names of median and limit, below the axis for its numbers, and between rows."""
ROOM: Final = LONGEST_LINE * SMALL
GUTTER: Final = (32.0, 68.0)
"""Middles of the two stacks beside an axis, from its end."""


def review_bytes(found: ReviewPage, *, paper: Paper = "a4", issued: datetime) -> bytes:
    """The page as the bytes of a PDF, always the same for the same review and time of issue.

    A letter that the font cannot show is printed as `?`.
    """
    pages = review_pages(found)
    for number, page in enumerate(pages, start=1):
        page.foot(number, len(pages), f"issued {figures.date_time(issued)} · {edition()}", TITLE)
    return render(pages, paper, TITLE)


def review_pages(found: ReviewPage) -> list[Page]:
    """The pages without their foot."""
    flow = PageFlow(TITLE, lambda page, again: _head(page, found, again))
    main, *rest = found.covered
    flow.title_bar("Share of trips covered by planned litres and reserve", keep=40)
    _paragraph(flow, main, size=11.0)
    for text in rest:
        _paragraph(flow, text)
    _texts(flow, "What has changed, and what devices draw", found.changed)
    _texts(flow, "Proposed, for a person to weigh and sign", found.proposed)
    for plot in found.plots:
        _plot(flow, plot)
    _texts(flow, "How to read this page", found.notes)
    return flow.pages


def _head(page: Page, found: ReviewPage, again: bool) -> float:
    size = 11.0 if again else 17.0
    title = f"{TITLE}, continued" if again else TITLE
    wide = page.text(LEFT, TOP + size, title, size=size, face="bold", role="H1")
    page.text(LEFT + wide + 12, TOP + size, fonts.showable(found.span), size=min(size, 11.0), room=WIDTH - wide - 12)
    return TOP + size + 8


def _texts(flow: PageFlow, title: str, texts: Sequence[str]) -> None:
    if not texts:
        return
    flow.y += 5
    flow.title_bar(title, keep=2 * leading(SMALL))
    for text in texts:
        _paragraph(flow, text, dot=True)


def _paragraph(flow: PageFlow, text: str, *, size: float = SMALL, dot: bool = False) -> None:
    """Wrapped text, a dash before it where it is one of several; each line may open a new page."""
    indent = 9.0 if dot else 0.0
    face: fonts.Face = "regular" if size == SMALL else "bold"
    if dot:
        flow.need(leading(size))
        flow.page.text(LEFT, flow.y + 0.8 * leading(size), "–")
    lines = wrap(fonts.showable(text), face, size, max(ROOM, LONGEST_LINE * size) - indent)
    flow.lines(lines, x=LEFT + indent, size=size, face=face)
    flow.y += 1.5


def _plot(flow: PageFlow, plot: Plot) -> None:
    flow.y += 5
    first = _height(plot.rows[0]) if plot.rows else leading(SMALL)
    flow.title_bar(plot.title, keep=first, note=plot.note)
    if not plot.rows:
        _paragraph(flow, plot.none)
    for row in plot.rows:
        if flow.need(_height(row)):
            flow.title_bar(f"{plot.title}, continued", note=plot.note)
        _row(flow, plot, row)


def _words(row: DotRow) -> tuple[list[str], list[str]]:
    """Lines of the name and of the facts."""
    facts = "; ".join((row.facts, *row.notes))
    return (
        wrap(fonts.showable(row.name), "bold", 10.0, WIDTH),
        wrap(fonts.showable(facts), "regular", SMALL, WIDTH),
    )


def _stack(row: DotRow) -> float:
    return PITCH * max((3, row.beyond, row.ran_out, *(dots for _, dots in row.columns)))


def _height(row: DotRow) -> float:
    names, facts = _words(row)
    return len(names) * leading(10.0) + len(facts) * leading(SMALL) + NAMES + _stack(row) + TICKS + APART


def _row(flow: PageFlow, plot: Plot, row: DotRow) -> None:
    names, facts = _words(row)
    flow.lines(names, size=10.0, face="bold")
    flow.lines(facts)
    page = flow.page
    top = flow.y + NAMES
    axis = top + _stack(row)
    _axis(page, plot, row, top, axis)
    for column, dots in row.columns:
        _dots(page, LEFT + (column + 0.5) * PITCH, axis, dots)
    for middle, dots in zip(GUTTER, (row.beyond, row.ran_out), strict=True):
        _dots(page, LEFT + COLUMNS * PITCH + middle, axis, dots)
    _median_and_limit(page, row, top, axis)
    flow.y = axis + TICKS + APART


def _axis(page: Page, plot: Plot, row: DotRow, top: float, axis: float) -> None:
    end = LEFT + COLUMNS * PITCH
    page.rule(LEFT, axis, end, axis, 0.8)
    x = LEFT + plot.planned * COLUMNS * PITCH
    page.rule(x, top, x, axis, 0.6, dashed=True)
    for place, text in plot.marks:
        x = LEFT + place * COLUMNS * PITCH
        page.rule(x, axis, x, axis + 3, 0.6)
        page.text(x, axis + 11.5, text, align="left" if not place else "centre")
    for middle, dots, text in zip(GUTTER, (row.beyond, row.ran_out), (plot.beyond, "ran out"), strict=True):
        if dots:
            page.rule(end + middle - 14, axis, end + middle + 14, axis, 0.8)
            page.text(end + middle, axis + 11.5, text, align="centre")


def _dots(page: Page, x: float, axis: float, dots: int) -> None:
    for number in range(dots):
        page.box(x - DOT / 2, axis - (number + 1) * PITCH, DOT, DOT, 0.0, solid=True)


def _median_and_limit(page: Page, row: DotRow, top: float, axis: float) -> None:
    """A triangle that points down at the median, a bar with a cap at the limit, each with its name beside it."""
    free = LEFT
    if row.median is not None:
        x = LEFT + row.median * COLUMNS * PITCH
        page.path([(x - 3, top - 8), (x + 3, top - 8), (x, top - 2.5), (x - 3, top - 8), (x + 3, top - 8)], 1.1)
        page.rule(x, top - 2.5, x, axis, 0.4)
        wide = fonts.width("median", "bold", SMALL)
        start = max(LEFT, x - 6 - wide)
        if start + wide > x - 4:
            start = x + 6
        page.text(start, top - 2.5, "median", face="bold")
        free = max(x + 6, start + wide + 4)
    if row.limit is not None:
        x = LEFT + row.limit * COLUMNS * PITCH
        page.rule(x, top - 9, x, axis, 1.3)
        page.rule(x - 4, top - 9, x + 4, top - 9, 1.3)
        page.text(max(free, x + 6), top - 2.5, "limit", face="bold")
