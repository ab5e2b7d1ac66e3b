"""The checklists on paper: read aloud at the left, answered at the right, a box between that a glove can tick.

Each change on the way is a block of its own: what comes off and goes on with what it should read, when, and boxes
for what it does read, beside the few lines of the change.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple

from planner.pages.drawing import fonts
from planner.pages.drawing.flow import TITLE_HEIGHT, PageFlow, title_bar, title_height
from planner.pages.drawing.head import draw_head
from planner.pages.drawing.layout import LEFT, MM, RIGHT, TOP, WIDTH, Page
from planner.pages.drawing.lines import LONGEST_LINE, SMALL, leading, wrap
from planner.report.checklist.data import ChangeList, Checklist, ChecklistItem, Checklists, Side, WriteIn
from planner.results import Plan

TITLE = "Checklists"
HOW = (
    "One reads the line, the other does it and answers; then tick. A line stays open: stop. "
    "The service's own procedure comes first."
)
TICK = 15.0
"""Side of a box to tick, points: 5.3 mm."""
WRITE = 10 * MM
"""Height of a box to write in."""
HEAD = 22.0
"""Height of the head of a page that continues."""
SIZE = 11.0
CAPTION = 11.5

ROWS = (21.5, 19.6, 18.2)
"""Heights of a line, points, from airy to dense: the airiest that needs no more pages is taken."""

# x of each column of a list from the left margin.
NUMBER, BOX, ASK, ANSWER = 84.0, 91.0, 115.0, 312.0
PART_ROOM = 68.0
# the same for a change
SIDE = 216.0
LINES = 230.0
LINE_ASK, LINE_ANSWER = LINES + 21, LINES + 147
LINE_SIZE = 10.5


class WrappedItem(NamedTuple):
    """A line with its texts wrapped to their columns."""

    item: ChecklistItem
    ask: list[str]
    answer: list[str]
    row: float

    @property
    def high(self) -> float:
        """Height of the line: one row, and more where a text is wrapped."""
        return self.row + (max(len(self.ask), len(self.answer)) - 1) * leading(SIZE)


def checklist_pages(plan: Plan, lists: Checklists, issued: datetime | None = None) -> list[Page]:
    """The pages of every list; none where there is none."""
    if not lists.before and not lists.changes and not lists.after:
        return []
    return min((_pages(plan, lists, row, issued) for row in ROWS), key=len)


def _pages(plan: Plan, lists: Checklists, row: float, issued: datetime | None) -> list[Page]:
    flow = PageFlow(TITLE, lambda page, again: draw_head(page, plan, TITLE, again, issued))
    flow.y = flow.page.paragraph(LEFT, flow.y, LONGEST_LINE * SMALL, HOW) + 3
    for each in lists.before:
        _list(flow, each, row, first=each is lists.before[0])
    for change in lists.changes:
        _change(flow, change, row)
    for each in lists.after:
        _list(flow, each, row)
    return flow.pages


def _list(flow: PageFlow, checklist: Checklist, row: float, *, first: bool = False) -> None:
    """One list, whole on a page where it fits on one in any density; else parted between its parts."""
    boxes = _boxes_height(checklist)
    page_high = flow.left if first else flow.bottom - TOP - HEAD
    tries = [_lines(checklist.items, each) for each in (row, *(each for each in ROWS if each < row))]
    room = page_high - TITLE_HEIGHT - boxes
    lines = next((lines for lines in tries if _high(lines) <= room), tries[0])
    parted = _high(lines) > room
    flow.need(TITLE_HEIGHT + (4 * row if parted else _high(lines) + boxes))
    flow.title_bar(checklist.title, note=checklist.note)
    part = ""
    for number, line in enumerate(lines):
        ahead = line.high + (boxes if line is lines[-1] else 0)
        if line.item.part != part and parted:
            rest = [each.high for each in lines[number:] if each.item.part == line.item.part]
            ahead = sum(rest) + (boxes if len(rest) == len(lines) - number else 0)
        if flow.need(min(ahead, page_high)):
            flow.title_bar(f"{checklist.title}, continued", note=checklist.note)
            part = ""
        _draw_line(flow, checklist.key, line, part)
        part = line.item.part
    _boxes(flow, checklist)


def _lines(items: Sequence[ChecklistItem], row: float) -> list[WrappedItem]:
    return [_line(item, row, ANSWER - ASK - 8, WIDTH - ANSWER, SIZE) for item in items]


def _high(lines: Sequence[WrappedItem]) -> float:
    return sum(line.high for line in lines)


def _line(item: ChecklistItem, row: float, ask: float, answer: float, size: float) -> WrappedItem:
    """The texts of a line wrapped; a line of the service's own runs across both columns."""
    if item.own:
        asked, answered = wrap(item.ask, "regular", size, ask + answer + 8), []
    else:
        asked, answered = wrap(item.ask, "regular", size, ask), wrap(item.answer, "bold", size, answer)
    return WrappedItem(item, asked, answered, row)


def _draw_line(flow: PageFlow, key: str, line: WrappedItem, part: str) -> None:
    page, item, row = flow.page, line.item, line.row
    if item.part != part:
        if part:
            page.across(flow.y, 0.9)
        page.paragraph(LEFT, flow.y + row / 2 - 6.2, PART_ROOM, item.part, size=10, face="bold")
    else:
        page.rule(LEFT + BOX, flow.y, RIGHT, flow.y, 0.3)
    y = flow.y + row / 2 + 4.0
    page.text(LEFT + NUMBER, y, str(item.number), align="right")
    page.tick(LEFT + BOX, flow.y + row / 2 + TICK / 2 - 1, f"{key}.{item.key}", _tip(item), TICK)
    page.lines(LEFT + ASK, y, line.ask, size=SIZE)
    page.lines(LEFT + ANSWER, y, line.answer, size=SIZE, face="bold")
    flow.y += line.high


def _tip(item: ChecklistItem) -> str:
    return f"{item.ask}: {item.answer}" if item.answer else item.ask


# Boxes to write in

COLUMNS = 5
GAP = 9.0
BOX_WIDTH = (WIDTH - (COLUMNS - 1) * GAP) / COLUMNS


def _grid(checklist: Checklist) -> list[tuple[int, int, WriteIn]]:
    """Row and column of every box: readings from the left, time and initials at the end of the last row."""
    found = [(number // COLUMNS, number % COLUMNS, blank) for number, blank in enumerate(checklist.readings)]
    many, signed = len(checklist.readings), len(checklist.signed)
    row, left = divmod(many, COLUMNS)
    row += left + signed > COLUMNS
    return [*found, *((row, COLUMNS - signed + number, blank) for number, blank in enumerate(checklist.signed))]


def _boxes_height(checklist: Checklist) -> float:
    rows = max((row for row, _, _ in _grid(checklist)), default=-1) + 1
    return rows * (CAPTION + WRITE + 3) + 12


def _boxes(flow: PageFlow, checklist: Checklist) -> None:
    flow.page.across(flow.y, 0.9)
    for row, column, blank in _grid(checklist):
        top = flow.y + 2 + row * (CAPTION + WRITE + 3)
        _blank(flow.page, LEFT + column * (BOX_WIDTH + GAP), top, BOX_WIDTH, blank)
    flow.y += _boxes_height(checklist)


def _blank(page: Page, x: float, top: float, wide: float, blank: WriteIn) -> None:
    page.text(x, top + 8.5, blank.title, room=wide)
    page.write(x, top + CAPTION, wide, WRITE, blank.name, blank.tip)


# Changes


def _change(flow: PageFlow, change: ChangeList, row: float) -> None:
    """One change, never parted by the end of a page."""
    lines = [_line(item, row, LINE_ANSWER - LINE_ASK - 6, WIDTH - LINE_ANSWER, LINE_SIZE) for item in change.items]
    title = f"Change {change.number} · {change.kind}"
    head = title_height(title, change.leg)
    high = head + max(_high(lines), _what(Page(""), change, 0.0)) + 9  # a page that nobody prints measures it
    flow.need(high)
    page, top = flow.page, flow.y
    title_bar(page, top, title, change.leg)
    _what(page, change, top + head)
    y = top + head
    for line in lines:
        if line is not lines[0]:
            page.rule(LEFT + LINES, y, RIGHT, y, 0.3)
        page.tick(LEFT + LINES, y + row / 2 + TICK / 2 - 1, f"{change.key}.{line.item.key}", _tip(line.item), TICK)
        base = y + row / 2 + 3.8
        page.lines(LEFT + LINE_ASK, base, line.ask, size=LINE_SIZE)
        page.lines(LEFT + LINE_ANSWER, base, line.answer, size=LINE_SIZE, face="bold")
        y += line.high
    flow.y = top + high


def _what(page: Page, change: ChangeList, y: float) -> float:
    """When, what comes off and goes on, notes, and the boxes. Returns the y below."""
    page.text(LEFT, y + 14, "after")
    wide = 34 + page.figure(LEFT + 34, y + 14, change.elapsed)
    if change.clock:
        page.figure(LEFT + wide + 14, y + 14, change.clock)
    if any(side is not None and side.gauge for side in (change.old, change.new)):
        page.text(LEFT + SIDE, y + 14, "should read", align="right")
    y += 19
    for word, side in (("off", change.old), ("on", change.new)):
        if side is not None:
            y = _side(page, word, side, y)
    by_gauge = ("At this gauge off or at this time, whichever comes first.",) if change.by_gauge else ()
    for note in (*by_gauge, *change.notes):
        y = page.paragraph(LEFT, y, SIDE, note, face="bold")
    wide = (SIDE - (len(change.blanks) - 1) * 5) / len(change.blanks)
    for number, blank in enumerate(change.blanks):
        _blank(page, LEFT + number * (wide + 5), y + 1, wide, blank)
    return y + CAPTION + WRITE + 3


def _side(page: Page, word: str, side: Side, y: float) -> float:
    """One row: off or on, name and supply, what the gauge should read. A long name wraps and is never cut."""
    x, room = LEFT + 34, SIDE - 34 - (62 if side.gauge else 0)
    size = SMALL if fonts.width(fonts.clean(side.name), "bold", 13.2) > room else 13.2
    name = wrap(side.name, "bold", size, room)
    wide = fonts.width(name[-1], "bold", size)
    beside = room - wide - 6 >= fonts.width(fonts.clean(side.supply), "regular", SMALL)
    supply = [] if beside else wrap(side.supply, "regular", SMALL, SIDE - 34)
    base = y + 13.5
    last = base + (len(name) - 1) * leading(SMALL)
    page.text(LEFT, base, word)
    for number, text in enumerate(name):
        page.text(x, base + number * leading(SMALL), text, size=size, face="bold")
    if beside:
        page.text(x + wide + 6, last, side.supply)
    page.lines(x, last + leading(SMALL), supply)
    if side.gauge:
        page.figure(LEFT + SIDE, base, side.gauge, align="right")
    return last + 5.0 + len(supply) * leading(SMALL)
