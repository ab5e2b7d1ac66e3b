"""The calculation sheet on paper: sections of text, figures and tables, wrapped to their columns.

A source stands once, under a number at the end; figures and table rows carry the number.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from functools import lru_cache
from typing import NamedTuple

from planner.pages.drawing import fonts
from planner.pages.drawing.flow import PageFlow
from planner.pages.drawing.head import draw_head
from planner.pages.drawing.layout import LEFT, MM, RIGHT, TOP, WIDTH, Page
from planner.pages.drawing.lines import LONGEST_LINE, SMALL, leading, run_in_height, wrap, wrap_after
from planner.report import blocks
from planner.report.sheet.sheet import TITLE
from planner.results import Plan
from planner.text.letters import escaped

RESULT = 90.0
KEEP = 64.0
HANG = 12.0
LEAD = leading(SMALL)
CHECK_WIDE, CHECK_HIGH = 12.0 * MM, 10.0 * MM
GAP = 8.0
LONGEST_WORD = 120.0
SOURCE = "Source"
NO_SOURCE = "none stated"


class Sources:
    """Numbers the sources in the order in which they are first named."""

    def __init__(self) -> None:
        self._numbers: dict[str, int] = {}

    def mark(self, source: str) -> str:
        """`[3]`, or what was said where no source was."""
        if not source or source == NO_SOURCE:
            return source
        return f"[{self._numbers.setdefault(escaped(source), len(self._numbers) + 1)}]"

    def __iter__(self) -> Iterator[tuple[str, int]]:
        return iter(self._numbers.items())


class Gaps(NamedTuple):
    """White between sections, below each row or figure, and below a paragraph, points."""

    section: float
    row: float
    text: float


PLAIN, TIGHT = Gaps(5.0, 2.2, 1.5), Gaps(2.5, 1.5, 0.5)
NEARLY_EMPTY = 260.0
"""A last page filled no higher is worth setting the whole sheet tighter, points."""


def sheet_pages(plan: Plan, sections: Sequence[blocks.Section], issued: datetime | None = None) -> list[Page]:
    """The pages of the calculation sheet; set a little tighter where that saves a last page with a few lines."""
    plain = _flow(plan, sections, PLAIN, issued)
    if len(plain.pages) > 1 and plain.y - TOP < NEARLY_EMPTY:
        tight = _flow(plan, sections, TIGHT, issued)
        if len(tight.pages) < len(plain.pages):
            return tight.pages
    return plain.pages


def _flow(plan: Plan, sections: Sequence[blocks.Section], gaps: Gaps, issued: datetime | None) -> PageFlow:
    flow = PageFlow(TITLE, lambda page, again: draw_head(page, plan, TITLE, again, issued))
    sources = Sources()
    for section in sections:
        flow.title_bar(section.title, keep=_keep(section.blocks[0], gaps) if section.blocks else 0.0)
        for block in _joined(section.blocks):
            if isinstance(block, blocks.Text):
                _text(flow, block, gaps)
            elif isinstance(block, blocks.Figure):
                _figure(flow, block, sources, gaps)
            elif block.in_lines:
                _in_lines(flow, _numbered(block, sources), gaps)
            else:
                _table(flow, _numbered(block, sources), gaps)
        flow.y += gaps.section
    named = list(sources)
    if named:
        flow.title_bar("Sources", keep=2 * LEAD)
        _text(flow, blocks.Text("; ".join(f"[{number}] {source}" for source, number in named) + "."), gaps)
    return flow


def _keep(first: blocks.Block, gaps: Gaps) -> float:
    """Height that must not be parted from the title above it, points."""
    if isinstance(first, blocks.Table) and not first.in_lines:
        return _set(first).keep(gaps)
    return 5 * LEAD if isinstance(first, blocks.Text) and first.strong else 2 * LEAD + 6


def _joined(found: Sequence[blocks.Block]) -> Iterator[blocks.Block]:
    """The same blocks, with neighbouring plain texts that need not stand apart as one paragraph."""
    waiting: list[str] = []
    for block in found:
        if isinstance(block, blocks.Text) and not block.strong and not block.apart and not block.text.endswith(":"):
            waiting.append(block.text)
            continue
        if waiting:
            yield blocks.Text(" ".join(waiting))
            waiting = []
        yield block
    if waiting:
        yield blocks.Text(" ".join(waiting))


def _text(flow: PageFlow, block: blocks.Text, gaps: Gaps) -> None:
    """A paragraph; the lines of one that stands apart hang below its first."""
    face: fonts.Face = "bold" if block.strong else "regular"
    if block.strong or block.text.endswith(":"):
        flow.need(5 * LEAD)
    hang = HANG if block.apart else 0.0
    for number, line in enumerate(wrap_after(-hang, block.text, face, SMALL, LONGEST_LINE * SMALL - hang)):
        flow.need(LEAD)
        flow.page.text(LEFT + (hang if number else 0.0), flow.y + 0.8 * LEAD, line, face=face)
        flow.y += LEAD
    flow.y += gaps.text


def _in_lines(flow: PageFlow, table: blocks.Table, gaps: Gaps) -> None:
    """The rows one behind the other: the first cell bold, the others behind it."""
    x = LEFT
    flow.need(LEAD)
    for name, *cells in table.rows:
        value = ", ".join(cell for cell in cells if cell)
        wide = fonts.width(fonts.clean(f"{name} "), "bold", SMALL) + 1.8
        whole = wide + fonts.width(fonts.clean(value), "regular", SMALL)
        if x > LEFT and x + whole > RIGHT:
            x = LEFT
            flow.y += LEAD
            flow.need(LEAD)
        flow.page.text(x, flow.y + 0.8 * LEAD, name, face="bold")
        for number, line in enumerate(wrap(value, "regular", SMALL, LONGEST_LINE * SMALL - wide)):
            if number:
                flow.y += LEAD
                flow.need(LEAD)
            flow.page.text(x + wide, flow.y + 0.8 * LEAD, line)
        x += whole + 14
    flow.y += LEAD + gaps.text
    if table.note:
        _text(flow, blocks.Text(table.note), gaps)


def _figure(flow: PageFlow, block: blocks.Figure, sources: Sources, gaps: Gaps) -> None:
    """Label, formula, numbers and the number of the source at the left, the result at the right."""
    numbers = f"= {block.numbers}" if block.numbers else ""
    worked = " ".join(text for text in (block.formula, numbers, sources.mark(block.source)) if text)
    right = RIGHT - (CHECK_WIDE + 8 if block.check else 0.0)
    room = right - LEFT - max(RESULT, fonts.width(fonts.clean(block.result), "bold", 10) + 10)
    room = min(room, LONGEST_LINE * SMALL)
    note = wrap(block.note, "regular", SMALL, LONGEST_LINE * SMALL) if block.note else []
    high = run_in_height(block.label, worked, room) + len(note) * LEAD + gaps.row
    high = max(high, CHECK_HIGH + 1.5) if block.check else high
    flow.need(high)
    page, top = flow.page, flow.y
    page.text(right, top + 0.8 * LEAD, block.result, size=10, face="bold", align="right", room=WIDTH / 2)
    y = page.run_in(LEFT, top, room, block.label, worked)
    for line in note:
        page.text(LEFT + 18, y + 0.8 * LEAD, line)
        y += LEAD
    if block.check:
        tip = f"{block.label}, worked again by a second person: initials"
        page.text(right, top + LEAD + 0.8 * LEAD, "initials", align="right")
        page.write(RIGHT - CHECK_WIDE, top + 0.5, CHECK_WIDE, CHECK_HIGH, f"sheet.{block.check}.initials", tip)
    page.across(top + high - 0.7, 0.3)
    flow.y = top + high


def _numbered(table: blocks.Table, sources: Sources) -> blocks.Table:
    """The same table with numbers in its column of sources."""
    if SOURCE not in table.head:
        return table
    column = table.head.index(SOURCE)
    rows = tuple((*row[:column], sources.mark(row[column]), *row[column + 1 :]) for row in table.rows)
    return blocks.Table(table.head, rows, table.right, table.note)


# Tables


def _measure(text: str, *, head: bool) -> float:
    return fonts.width(fonts.clean(text), "bold" if head else "regular", SMALL) + 0.1


def column_widths(table: blocks.Table, room: float) -> list[float]:
    """Widths of the columns: as wide as they need where that fits, else the widest give way first.

    No column is made narrower than its longest word, unless the words alone do not fit: then the longest are broken.
    """
    columns = list(zip(table.head, *table.rows, strict=True))
    wish = [max(_measure(text, head=index == 0) for index, text in enumerate(column)) for column in columns]
    room -= GAP * (len(columns) - 1)
    words = [
        max(_measure(word, head=index == 0) for index, text in enumerate(column) for word in text.split() or [""])
        for column in columns
    ]
    longest = LONGEST_WORD if sum(min(word, LONGEST_WORD) for word in words) <= room else _level(words, room)
    least = [min(word, longest) for word in words]
    if sum(wish) <= room:
        if len(wish) > 1:
            wish[-1] += room - sum(wish) if (len(columns) - 1) not in table.right else 0.0
        return wish
    free = max(0.0, room - sum(least))
    over = [want - low for want, low in zip(wish, least, strict=True)]
    level = _level(over, free)
    return [low + min(more, level) for low, more in zip(least, over, strict=True)]


def _level(over: list[float], free: float) -> float:
    """The height to which `free` fills the columns evenly, none above its own wish."""
    rest, count = free, len(over)
    low = 0.0
    for value in sorted(over):
        if (value - low) * count > rest:
            return low + rest / count
        rest -= (value - low) * count
        low, count = value, count - 1
    return low


class _Set(NamedTuple):
    """A table broken into lines: widths of the columns, head and rows."""

    widths: list[float]
    head: list[list[str]]
    rows: list[list[list[str]]]

    def keep(self, gaps: Gaps) -> float:
        """The height to keep together, points."""
        heights = [_high(row, gaps) for row in (self.head, *self.rows)]
        whole = sum(heights)
        return whole if whole <= KEEP or not self.rows else min(sum(heights[:2]), KEEP)


@lru_cache(maxsize=256)
def _set(table: blocks.Table) -> _Set:
    widths = column_widths(table, WIDTH)
    head = [wrap(text, "bold", SMALL, wide) for text, wide in zip(table.head, widths, strict=True)]
    rows = [[wrap(text, "regular", SMALL, wide) for text, wide in zip(row, widths, strict=True)] for row in table.rows]
    return _Set(widths, head, rows)


def _table(flow: PageFlow, table: blocks.Table, gaps: Gaps) -> None:
    """A table with its head repeated on every page, columns measured, long cells wrapped."""
    lines = _set(table)
    flow.need(lines.keep(gaps))
    _row(flow, lines.head, lines.widths, table.right, gaps, head=True)
    for row in lines.rows:
        if flow.need(_high(row, gaps)):
            _row(flow, lines.head, lines.widths, table.right, gaps, head=True)
        _row(flow, row, lines.widths, table.right, gaps, head=False)
    if table.note:
        _text(flow, blocks.Text(table.note), gaps)
    flow.y += gaps.row


def _high(cells: list[list[str]], gaps: Gaps) -> float:
    return max(1, *(len(cell) for cell in cells)) * LEAD + gaps.row


def _row(
    flow: PageFlow, cells: list[list[str]], widths: list[float], right: tuple[int, ...], gaps: Gaps, *, head: bool
) -> None:
    face: fonts.Face = "bold" if head else "regular"
    x = LEFT
    for number, (lines, wide) in enumerate(zip(cells, widths, strict=True)):
        for index, line in enumerate(lines):
            y = flow.y + 0.3 + index * LEAD + 0.8 * LEAD
            if number in right:
                flow.page.text(x + wide, y, line, face=face, align="right")
            else:
                flow.page.text(x, y, line, face=face)
        x += wide + GAP
    high = _high(cells, gaps)
    flow.page.across(flow.y + high - 0.7, 0.9 if head else 0.3)
    flow.y += high
