"""The calculation sheet on paper: sections of text, figures and tables, wrapped to their columns."""

from __future__ import annotations

from collections.abc import Sequence

from planner.pages import fonts
from planner.pages.flow import Flow
from planner.pages.layout import LEFT, RIGHT, SMALL, TOP, WIDTH, Page, leading, run_in_height, wrap
from planner.report import blocks, words
from planner.report.sheet import TITLE
from planner.results import Plan

GAP = 8.0
LONGEST_WORD = 120.0
RESULT = 90.0
KEEP = 130.0
LEAD = leading(SMALL)


def sheet_pages(plan: Plan, sections: Sequence[blocks.Section]) -> list[Page]:
    """The pages of the calculation sheet."""
    flow = Flow(TITLE, lambda page, again: _head(page, plan, again))
    for section in sections:
        first = section.blocks[0] if section.blocks else None
        flow.title_bar(section.title, keep=2 * LEAD + 6 if first else 0)
        for block in section.blocks:
            if isinstance(block, blocks.Text):
                _text(flow, block)
            elif isinstance(block, blocks.Figure):
                _figure(flow, block)
            else:
                draw_table(flow, block)
        flow.y += 7
    return flow.pages


def _head(page: Page, plan: Plan, again: bool) -> float:
    title = f"{TITLE}{', continued' if again else ''}"
    right = page.text(RIGHT, TOP + 13, words.verdict(plan), size=14, face="wide", align="right")
    wide = page.text(LEFT, TOP + 13, title, size=14, face="bold")
    page.text(LEFT + wide + 14, TOP + 13, plan.trip.name, size=10, room=WIDTH - wide - right - 28)
    page.across(TOP + 18, 2.0)
    return TOP + 24


def _text(flow: Flow, block: blocks.Text) -> None:
    face: fonts.Face = "bold" if block.strong else "regular"
    if block.strong or block.text.endswith(":"):
        flow.need(5 * LEAD)
    for line in wrap(block.text, face, SMALL, WIDTH):
        flow.need(LEAD)
        flow.page.text(LEFT, flow.y + 0.8 * LEAD, line, face=face)
        flow.y += LEAD
    flow.y += 2


def _figure(flow: Flow, block: blocks.Figure) -> None:
    """Label, formula and numbers at the left, the result at the right, the source on its own line."""
    worked = " ".join(text for text in (block.formula, f"= {block.numbers}" if block.numbers else "") if text)
    room = WIDTH - max(RESULT, fonts.width(fonts.clean(block.result), "bold", 10) + 10)
    source = wrap(f"Source: {block.source}", "regular", SMALL, WIDTH - 18) if block.source else []
    flow.need(run_in_height(block.label, worked, room) + len(source) * LEAD + 4)
    page, y = flow.page, flow.y
    page.text(RIGHT, y + 0.8 * LEAD, block.result, size=10, face="bold", align="right", room=WIDTH / 2)
    y = page.run_in(LEFT, y, room, block.label, worked)
    for line in source:
        page.text(LEFT + 18, y + 0.8 * LEAD, line)
        y += LEAD
    page.across(y + 1.5, 0.3)
    flow.y = y + 4


def draw_table(flow: Flow, table: blocks.Table) -> None:
    """A table with its head repeated on every page, columns measured, long cells wrapped."""
    widths = column_widths(table, WIDTH)
    head = [wrap(text, "bold", SMALL, wide) for text, wide in zip(table.head, widths, strict=True)]
    rows = [[wrap(text, "regular", SMALL, wide) for text, wide in zip(row, widths, strict=True)] for row in table.rows]
    head_high = max(len(cell) for cell in head) * LEAD + 4
    first = max((len(cell) for cell in rows[0]), default=1) * LEAD + 4 if rows else 0.0
    whole = head_high + sum(max(1, *(len(cell) for cell in row)) * LEAD + 3 for row in rows)
    flow.need(whole if whole <= KEEP else min(head_high + first, KEEP))
    _row(flow, head, widths, table.right, "bold", 0.9)
    for row in rows:
        high = max(1, *(len(cell) for cell in row)) * LEAD + 3
        if flow.need(high):
            _row(flow, head, widths, table.right, "bold", 0.9)
        _row(flow, row, widths, table.right, "regular", 0.3)
    if table.note:
        _text(flow, blocks.Text(table.note))
    flow.y += 3


def _row(
    flow: Flow,
    cells: list[list[str]],
    widths: list[float],
    right: tuple[int, ...],
    face: fonts.Face,
    weight: float,
) -> None:
    high = max(1, *(len(cell) for cell in cells)) * LEAD + 3
    x = LEFT
    for number, (lines, wide) in enumerate(zip(cells, widths, strict=True)):
        for index, line in enumerate(lines):
            y = flow.y + 1 + index * LEAD + 0.8 * LEAD
            if number in right:
                flow.page.text(x + wide, y, line, face=face, align="right")
            else:
                flow.page.text(x, y, line, face=face)
        x += wide + GAP
    flow.page.across(flow.y + high - 0.5, weight)
    flow.y += high


def _measure(text: str, *, head: bool) -> float:
    return fonts.width(fonts.clean(text), "bold" if head else "regular", SMALL) + 0.1


def column_widths(table: blocks.Table, room: float) -> list[float]:
    """Widths of the columns: as wide as they need where that fits, else the widest give way first.

    No column is made narrower than its longest word, unless the words alone do not fit.
    """
    columns = list(zip(table.head, *table.rows, strict=True))
    wish = [max(_measure(text, head=index == 0) for index, text in enumerate(column)) for column in columns]
    least = [
        min(
            max(_measure(word, head=index == 0) for index, text in enumerate(column) for word in text.split() or [""]),
            LONGEST_WORD,
        )
        for column in columns
    ]
    room -= GAP * (len(columns) - 1)
    if sum(wish) <= room:
        if len(wish) > 1:
            wish[-1] += room - sum(wish) if (len(columns) - 1) not in table.right else 0.0
        return wish
    free = room - sum(least)
    if free <= 0:
        return [wide * room / sum(least) for wide in least]
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
