"""The second sheet: changes in their order, arrival and return, minutes left, readings without a row on the front."""

from __future__ import annotations

from planner import figures
from planner.pages.card.back import NOTE, draw_card_head
from planner.pages.card.minutes import draw_minutes, minutes_height
from planner.pages.drawing.flow import Flow
from planner.pages.drawing.layout import LEFT, RIGHT, WIDTH, Page
from planner.pages.drawing.lines import leading, wrap
from planner.pages.drawing.move import BOX_HEIGHT, BOX_WIDTH, LINE, SIZE, TICK, box, figure, lines_of, paragraph, say
from planner.report.card.second import Second
from planner.report.checklist.data import Change, Checklist, Item, Side, WriteIn
from planner.report.log.log import LogRow
from planner.report.minutes_table import MinutesTable

TITLE = "Changes, arrival, readings"
CAPTION = 10.0
STEP_BOX = 21.0 * 72 / 25.4
GAP = 6.0
COLUMN = WIDTH / 2 - 4
ROW = BOX_HEIGHT + 1.0
CLOSING = ("shut", "bleed")
"""Lines of the return list that `compare` asks for: they keep a box to tick."""

# x from the left margin, readings.
R_WHAT, R_EXPECTED, R_LEAST, R_GAUGE, R_TIME, R_FLOW = 210.0, 284.0, 356.0, 360.0, 435.0, 493.0


def draw_second(second: Second, table: MinutesTable | None, verdict: str, route: str) -> Flow:
    """The second sheet: two pages, more where a trip has many changes or readings.

    `table` are the minutes left, None where they stand elsewhere.
    """
    flow = Flow(
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
    _readings(flow, (*second.rows, *second.free))
    return flow


def steps(items: tuple[Item, ...]) -> list[str]:
    """The lines of a list, numbered."""
    return [
        f"{item.number} {item.ask}: {item.answer}" if item.answer else f"{item.number} {item.ask}" for item in items
    ]


Columns = tuple[list[str], list[str]]


def columns(texts: list[str], size: float) -> Columns:
    """Steps wrapped to two columns of about one height, the first column first; a step is never parted."""
    wrapped = [wrap(text, "regular", size, COLUMN - 12) for text in texts]
    total, left, place = sum(map(len, wrapped)), 0, 0
    while place < len(wrapped) and left < total / 2:
        left += len(wrapped[place])
        place += 1
    return _column(wrapped[:place]), _column(wrapped[place:])


def _column(wrapped: list[list[str]]) -> list[str]:
    return [line if first else f"  {line}" for lines in wrapped for first, line in _marked(lines)]


def _marked(lines: list[str]) -> list[tuple[bool, str]]:
    return [(number == 0, line) for number, line in enumerate(lines)]


def _height(found: Columns, size: float) -> float:
    return max(map(len, found)) * leading(size)


def _steps(page: Page, y: float, found: Columns, size: float) -> float:
    """Draw steps in two columns, continued lines a little in; returns the y below."""
    for column, lines in enumerate(found):
        x = LEFT + column * (COLUMN + 8)
        for number, line in enumerate(lines):
            indent = 12.0 if line.startswith("  ") else 0.0
            page.text(x + indent, y + 0.8 * leading(size) + number * leading(size), line, size=size)
    return y + _height(found, size)


def _change(flow: Flow, change: Change, texts: list[str]) -> None:
    """One change, never parted by the end of a page: when, what comes off and goes on, boxes, and its steps."""
    boxes = len(change.blanks) * (STEP_BOX + 4)
    room = WIDTH - boxes - 4
    title = " · ".join(filter(None, (f"{change.number}", f"{change.elapsed} {change.clock}".strip(), change.leg)))
    what = _what(change)
    notes = " ".join(change.notes)
    if change.by_gauge:
        notes = f"{notes} At this gauge or this time, whichever comes first.".strip()
    found = columns(texts, SIZE)
    told = [*lines_of(title, room, "bold"), *lines_of(what, room, "bold")]
    head = max(LINE * len(told), CAPTION + BOX_HEIGHT) + 2
    high = head + LINE * len(lines_of(notes, WIDTH)) + _height(found, SIZE)
    flow.need(high + GAP)
    page = flow.page
    for number, text in enumerate(told):
        say(page, LEFT, flow.y + (number + 0.8) * LINE, text, face="bold")
    for number, blank in enumerate(change.blanks):
        _blank(page, RIGHT - boxes + 4 + number * (STEP_BOX + 4), flow.y, blank)
    y = paragraph(page, LEFT, flow.y + head, WIDTH, notes)
    y = _steps(page, y, found, SIZE)
    page.across(y + 2, 0.9)
    flow.y = y + GAP


def _blank(page: Page, x: float, y: float, blank: WriteIn) -> None:
    page.text(x, y + 8, blank.title, room=STEP_BOX)
    box(page, x, y + CAPTION, STEP_BOX, blank.name, blank.tip)


def _what(change: Change) -> str:
    sides = (("OFF", change.old), ("ON", change.new))
    return " → ".join(f"{word} {_side(side)}" for word, side in sides if side is not None)


def _side(side: Side) -> str:
    name = f"{side.name} ({side.supply})" if side.supply and side.supply != side.name else side.name
    return f"{name} at {side.gauge}" if side.gauge else name


def _after_parts(checklist: Checklist) -> tuple[str, float, Columns, list[Item]]:
    """Title, type size, steps and the lines with a box to tick."""
    ticked = [item for item in checklist.items if checklist.key == "return" and item.key in CLOSING]
    return f"{checklist.title}. {checklist.note}", NOTE, columns(steps(checklist.items), NOTE), ticked


def _after_height(checklist: Checklist) -> float:
    title, size, found, ticked = _after_parts(checklist)
    return LINE * len(lines_of(title, WIDTH, "bold")) + _height(found, size) + (TICK + 3 if ticked else 0) + GAP


def _after(flow: Flow, checklist: Checklist) -> None:
    title, size, found, ticked = _after_parts(checklist)
    flow.need(_after_height(checklist))
    flow.y = paragraph(flow.page, LEFT, flow.y, WIDTH, title, "bold")
    flow.y = _steps(flow.page, flow.y, found, size)
    x = LEFT
    for item in ticked:
        flow.page.tick(x, flow.y + TICK, f"{checklist.key}.{item.key}", f"{item.ask}: {item.answer}", TICK)
        x += TICK + 6
        x += say(flow.page, x, flow.y + TICK - 7, f"{item.ask}: {item.answer}") + 16
    flow.y += TICK + 3 if ticked else 0
    flow.page.across(flow.y + 2, 0.9)
    flow.y += GAP


def _readings(flow: Flow, rows: tuple[LogRow, ...]) -> None:
    flow.need(LINE + 3 + 2 * ROW)
    _readings_head(flow)
    for row in rows:
        texts = _reading_lines(row)
        high = max(ROW, LINE * len(texts) + 3)
        if flow.need(high):
            _readings_head(flow)
        _reading(flow.page, flow.y, row, texts, high)
        flow.y += high


def _readings_head(flow: Flow) -> None:
    page, y = flow.page, flow.y + 0.8 * LINE
    say(page, LEFT, y, "Other readings", face="bold", role="H2")
    say(page, LEFT + R_EXPECTED, y, "should read", face="bold", align="right")
    say(page, LEFT + R_LEAST, y, "act below", face="bold", align="right")
    for x, text in ((R_GAUGE, "gauge"), (R_TIME, "time"), (R_FLOW, "flow")):
        say(page, LEFT + x + 2, y, text)
    page.across(flow.y + LINE + 1, 1.4)
    flow.y += LINE + 3


def _reading_lines(row: LogRow) -> list[str]:
    if row.free:
        return []
    when = " ".join(filter(None, (row.elapsed, row.clock)))
    return lines_of(", ".join(filter(None, (row.cylinder, when, row.what))), R_WHAT)


def _reading(page: Page, top: float, row: LogRow, texts: list[str], high: float) -> None:
    key = f"log.{row.key}"
    named = row.cylinder or "other"
    y = top + (high - LINE * max(1, len(texts))) / 2 + 0.8 * LINE
    for number, text in enumerate(texts):
        say(page, LEFT, y + number * LINE, text)
    if row.free:
        box(page, LEFT, top + 0.5, R_LEAST, f"{key}.cylinder", "where, cylinder")
    else:
        middle = top + high / 2 + 0.3 * LINE
        figure(page, LEFT + R_EXPECTED, middle, "" if row.expected == figures.NONE else row.expected)
        figure(page, LEFT + R_LEAST, middle, "" if row.least == figures.NONE else row.least)
    for name, x, wide in (("gauge", R_GAUGE, BOX_WIDTH), ("time", R_TIME, 54.0), ("flow", R_FLOW, WIDTH - R_FLOW)):
        box(page, LEFT + x, top + 0.5, wide, f"{key}.{name}", f"{named}: {name}")
