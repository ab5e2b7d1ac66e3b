"""The second sheet: changes in their order, arrival and return, minutes left, readings without a row on the front."""

from __future__ import annotations

from planner.pages.card.back import NOTE, draw_card_head
from planner.pages.card.minutes import draw_minutes, minutes_height
from planner.pages.drawing.flow import PageFlow
from planner.pages.drawing.layout import LEFT, MM, RIGHT, WIDTH, Page
from planner.pages.drawing.lines import SMALL, leading, wrap
from planner.pages.drawing.move import (
    BOX_HEIGHT,
    BOX_WIDTH,
    LINE,
    SIZE,
    TICK,
    box,
    figure,
    lines_of,
    paragraph,
    text_line,
    text_width,
)
from planner.report.card.second import ReadingRow, Second
from planner.report.checklist.data import ChangeList, Checklist, ChecklistItem, Side, WriteIn
from planner.report.minutes_table import MinutesTable

TITLE = "Changes, arrival, readings"
CAPTION = LINE
STEP_BOX = 21.0 * MM
GAP = 6.0
COLUMN = WIDTH / 2 - 4
SECOND = LEFT + COLUMN + 8
"""Left edge of the second column, points."""
BESIDE_BOXES = WIDTH - 4 * (STEP_BOX + 4)
"""Width beside the four boxes of a change, points."""
INDENT = 12.0
"""How far a continued line of a step stands in, points."""
ROW = BOX_HEIGHT + 1.0
CLOSING = ("shut", "bleed")
"""Lines of the return list that `compare` asks for: they keep a box to tick."""

FILLED = "filled to"
"""In the place of a flow: what a cylinder has read since it was filled after the trip."""
# x from the left margin, readings.
R_EXPECTED, R_LEAST, R_GAUGE, R_TIME, R_FLOW = 284.0, 357.0, 360.0, 435.0, 493.0
# What should be read stands farther left where a limit for too fast stands in its place.
R_LEAK, R_EXPECTED_BESIDE = 288.5, 209.0
# and of blank rows, two side by side, from the left edge of each.
F_GAUGE, F_TIME, F_FLOW = 82.0, 155.0, 213.0


def draw_second(second: Second, table: MinutesTable | None, verdict: str, route: str) -> PageFlow:
    """The second sheet: two pages, more where a trip has many changes or readings.

    `table` are the minutes left, None where they stand elsewhere.
    """
    flow = PageFlow(
        TITLE,
        lambda page, again: draw_card_head(page, f"{TITLE}{', continued' if again else ''}", verdict, route),
    )
    told: dict[tuple[str, ...], int] = {}
    for change in second.changes:
        texts = tuple(steps(change.items))
        _change(flow, change, [f"Steps as in change {told[texts]}."] if texts in told else list(texts))
        told.setdefault(texts, change.number)
    for place, checklist in enumerate(second.after):
        if place and table is not None and minutes_height(table) <= flow.left < _after_height(checklist):
            draw_minutes(flow, table)
            table = None
        _after(flow, checklist)
    flow.need(LINE * len(lines_of(second.turn_back, WIDTH)))
    flow.y = paragraph(flow.page, LEFT, flow.y, WIDTH, second.turn_back) + GAP
    if table is not None:
        draw_minutes(flow, table)
    _readings(flow, second.rows, second.free)
    return flow


def steps(items: tuple[ChecklistItem, ...]) -> list[str]:
    """The lines of a list, numbered."""
    return [
        f"{item.number} {item.ask}: {item.answer}" if item.answer else f"{item.number} {item.ask}" for item in items
    ]


Lines = list[tuple[str, float]]
"""Lines and how far each stands in, points."""
Columns = tuple[Lines, Lines]


def columns(texts: list[str], size: float, above: float = 0.0, beside: float = 0.0) -> Columns:
    """Steps wrapped to two columns of about one height, the first column first; a step is never parted.

    `above` is what stands over the first column already, `beside` over the second, both in lines.
    """
    wrapped = [_step(text, size) for text in texts]

    def height(place: int) -> float:
        return max(above + sum(map(len, wrapped[:place])), beside + sum(map(len, wrapped[place:])))

    place = min(range(len(wrapped), -1, -1), key=height)
    return _column(wrapped[:place]), _column(wrapped[place:])


def _step(text: str, size: float) -> list[str]:
    """The lines of a step: the first as wide as the column, the others standing in."""
    first, *rest = wrap(text, "regular", size, COLUMN)
    return [first, *wrap(" ".join(rest), "regular", size, COLUMN - INDENT)] if rest else [first]


def _column(wrapped: list[list[str]]) -> Lines:
    return [(line, INDENT if number else 0.0) for lines in wrapped for number, line in enumerate(lines)]


def _height(found: Columns, size: float) -> float:
    return max(map(len, found)) * leading(size)


def _lines(page: Page, x: float, y: float, lines: Lines, size: float) -> float:
    """Draw lines below each other; returns the y below."""
    for line, indent in lines:
        page.text(x + indent, y + 0.8 * leading(size), line, size=size)
        y += leading(size)
    return y


def _change(flow: PageFlow, change: ChangeList, texts: list[str]) -> None:
    """One change, never parted by the end of a page: when, what comes off and goes on, then its steps in two columns.

    The boxes head the second column.
    """
    title = f"{change.number}. {f'{change.elapsed} {change.clock}'.strip()}, {change.leg}"
    told = [line for text in (title, *_what(change)) for line in lines_of(text, BESIDE_BOXES, "bold")]
    notes = " ".join(change.notes)
    if change.by_gauge:
        notes = f"{notes} At this gauge or this time, whichever comes first.".strip()
    told_notes = lines_of(notes, COLUMN)
    boxes = CAPTION + BOX_HEIGHT + 2
    first, second = columns(texts, SIZE, len(told) + len(told_notes), boxes / LINE)
    high = max(LINE * (len(told) + len(told_notes) + len(first)), boxes + LINE * len(second))
    flow.need(high + GAP)
    page, y = flow.page, flow.y
    page.lines(LEFT, y + 0.8 * LINE, told, size=SIZE, face="bold")
    y += len(told) * LINE
    _lines(page, LEFT, paragraph(page, LEFT, y, COLUMN, notes), first, SIZE)
    for number, blank in enumerate(change.blanks):
        _blank(page, RIGHT - (len(change.blanks) - number) * (STEP_BOX + 4) + 4, flow.y, blank)
    _lines(page, SECOND, flow.y + boxes, second, SIZE)
    page.across(flow.y + high + 2, 0.9)
    flow.y += high + GAP


def _blank(page: Page, x: float, y: float, blank: WriteIn) -> None:
    text_line(page, x, y + 0.8 * LINE, blank.title)
    box(page, x, y + CAPTION, STEP_BOX, blank.name, blank.tip)


def _what(change: ChangeList) -> list[str]:
    sides = (("OFF", change.old), ("ON", change.new))
    return [f"{word} {_side(side)}" for word, side in sides if side is not None]


def _side(side: Side) -> str:
    name = f"{side.name} ({side.supply})" if side.supply and side.supply != side.name else side.name
    return f"{name} at {side.gauge}" if side.gauge else name


def _after_parts(checklist: Checklist) -> tuple[str, float, Columns, list[ChecklistItem]]:
    """Title, type size, steps and the lines with a box to tick."""
    ticked = [item for item in checklist.items if checklist.key == "return" and item.key in CLOSING]
    size = NOTE if checklist.key == "return" else SIZE
    return f"{checklist.title}. {checklist.note}", size, columns(steps(checklist.items), size), ticked


def _after_height(checklist: Checklist) -> float:
    title, size, found, ticked = _after_parts(checklist)
    return LINE * len(lines_of(title, WIDTH, "bold")) + _height(found, size) + (TICK + 3 if ticked else 0) + GAP


def _after(flow: PageFlow, checklist: Checklist) -> None:
    title, size, found, ticked = _after_parts(checklist)
    flow.need(_after_height(checklist))
    y = paragraph(flow.page, LEFT, flow.y, WIDTH, title, "bold")
    flow.y = max(_lines(flow.page, x, y, lines, size) for x, lines in zip((LEFT, SECOND), found, strict=True))
    x = LEFT
    for item in ticked:
        flow.page.tick(x, flow.y + TICK, f"{checklist.key}.{item.key}", f"{item.ask}: {item.answer}", TICK)
        x += TICK + 6
        x += text_line(flow.page, x, flow.y + TICK - 7, f"{item.ask}: {item.answer}") + 16
    flow.y += TICK + 3 if ticked else 0
    flow.page.across(flow.y + 2, 0.9)
    flow.y += GAP


def _readings(flow: PageFlow, rows: tuple[ReadingRow, ...], free: tuple[str, ...]) -> None:
    """A row for each reading that is asked for nowhere else, then blank rows, two side by side."""
    flow.need(LINE + 3 + 2 * ROW)
    leak = any(row.leak for row in rows)
    expected = R_EXPECTED_BESIDE if leak else R_EXPECTED
    _readings_head(flow, expected, leak=leak)
    room = expected - 6.0 - max((text_width(row.expected, "bold") for row in rows), default=0.0)
    for row in rows:
        texts = lines_of(f"{row.where}, {row.what}", room)
        if any(text.startswith("min") for text in texts):  # a number stays beside its unit
            texts = [*lines_of(f"{row.where},", room), *lines_of(row.what, room)]
        high = max(ROW, LINE * max(len(texts), 2 if row.leak else 1) + 1)
        if flow.need(high):
            _readings_head(flow, expected, leak=leak)
        _reading(flow.page, flow.y, row, texts, expected, high)
        flow.y += high
    each = -(-len(free) // 2)
    flow.need(LINE + 1 + each * ROW)
    flow.y += 1
    for x in (LEFT, SECOND):
        for start, text in ((0.0, "cylinder"), (F_GAUGE, "gauge"), (F_TIME, "time"), (F_FLOW, "flow")):
            text_line(flow.page, x + start + 2, flow.y + 0.8 * LINE, text)
    flow.y += LINE
    for number, key in enumerate(free):
        _free(flow.page, (LEFT, SECOND)[number // each], flow.y + number % each * ROW, f"log.{key}")
    flow.y += each * ROW


def _free(page: Page, x: float, top: float, key: str) -> None:
    """A blank row: which cylinder, its gauge, time and flow."""
    box(page, x, top, F_GAUGE - 2, f"{key}.cylinder", "where, cylinder")
    box(page, x + F_GAUGE, top, BOX_WIDTH, f"{key}.gauge", "other: gauge")
    box(page, x + F_TIME, top, F_FLOW - F_TIME - 2, f"{key}.time", "other: time")
    box(page, x + F_FLOW, top, COLUMN - F_FLOW, f"{key}.flow", "other: flow")


def _readings_head(flow: PageFlow, expected: float, *, leak: bool) -> None:
    page, y = flow.page, flow.y + 0.8 * LINE
    text_line(page, LEFT, y, "Other readings", face="bold", role="H2")
    text_line(page, LEFT + expected, y, "should read", face="bold", align="right")
    if leak:
        text_line(page, LEFT + R_LEAK, y, "leak below", face="bold", align="right")
    text_line(page, LEFT + R_LEAST, y, "act below", face="bold", align="right")
    for x, text in ((R_GAUGE, "gauge"), (R_TIME, "time"), (R_FLOW, "flow")):
        text_line(page, LEFT + x + 2, y, text)
    page.across(flow.y + LINE + 1, 1.4)
    flow.y += LINE + 3


def _reading(page: Page, top: float, row: ReadingRow, texts: list[str], expected: float, high: float) -> None:
    key = f"log.{row.key}"
    y = top + (high - LINE * len(texts)) / 2 + 0.8 * LINE
    page.lines(LEFT, y, texts, size=SIZE)
    middle, beside = top + high / 2 + 0.3 * LINE, top + (high - BOX_HEIGHT) / 2
    figure(page, LEFT + expected, middle, row.expected)
    if row.leak:
        figure(page, LEFT + R_LEAK, middle - LINE / 2, row.leak)
        text_line(page, LEFT + R_LEAK, middle + LINE / 2, row.leak_a_minute, align="right")
    figure(page, LEFT + R_LEAST, middle, row.least)
    box(page, LEFT + R_GAUGE, beside, BOX_WIDTH, f"{key}.gauge", f"{row.where}, {row.what}: gauge")
    box(page, LEFT + R_TIME, beside, R_FLOW - R_TIME - 2, f"{key}.time", f"{row.where}, {row.what}: time")
    if row.last:
        box(page, LEFT + R_FLOW, beside, WIDTH - R_FLOW, f"{key}.refilled_to", f"{row.where}: {FILLED}")
        page.text(LEFT + R_FLOW + 3, beside + SMALL + 0.5, FILLED)
    if row.flow:
        box(page, LEFT + R_FLOW, beside, WIDTH - R_FLOW, f"{key}.flow", f"{row.where}, {row.what}: flow")
