"""Who takes which cylinder, on the sheet of a shift: a row each with a box to tick when it is drawn, then tomorrow."""

from __future__ import annotations

from planner.pages.drawing import fonts
from planner.pages.drawing.flow import PageFlow
from planner.pages.drawing.fonts import Face
from planner.pages.drawing.layout import LEFT, RIGHT, WIDTH
from planner.pages.drawing.lines import SMALL, fit, leading, wrap
from planner.report.shift.allotted import GivenLine
from planner.report.shift.shift import ShiftSheet

HEAD = 14.5
ROW = 14.5

# x of each column from the left margin; right edges of trip, time and litres.
A_NUMBER, A_LEAVES, A_TAKES, A_SIZE, A_HOLDS, A_FROM, A_SUPPLY = 20.0, 76.0, 86.0, 190.0, 300.0, 310.0, 440.0
A_TICK = 12.0


def draw_allotted(flow: PageFlow, sheet: ShiftSheet) -> None:
    """The list where a store is known, and what to fill and to order for tomorrow."""
    if sheet.given:
        flow.need(flow.left + 1.0)
        flow.title_bar("Who takes which cylinder, trips in turn")
        for text in sheet.to_do:
            flow.lines(wrap(text, "bold", SMALL, WIDTH), face="bold")
        flow.y += 5
        _head(flow)
        for number, line in enumerate(sheet.given, start=1):
            if flow.need(_high(line)):
                _head(flow)
            _row(flow, number, line)
        flow.y += 5
    if sheet.tomorrow:
        flow.need(HEAD + leading(SMALL))
        flow.page.text(LEFT, flow.y + 10, "For tomorrow", size=10, face="bold")
        flow.y += HEAD
        for text in sheet.tomorrow:
            flow.lines(wrap(f"{text}.", "regular", SMALL, WIDTH))
        flow.y += 5


def _head(flow: PageFlow) -> None:
    page, y = flow.page, flow.y + 10
    page.text(LEFT + A_NUMBER, y, "trip", align="right")
    page.text(LEFT + A_LEAVES, y, "leaves", align="right")
    page.text(LEFT + A_TAKES, y, "TAKES", face="bold")
    page.text(LEFT + A_SIZE, y, "size")
    page.text(LEFT + A_HOLDS, y, "holds at least", align="right")
    page.text(LEFT + A_FROM, y, "from")
    page.text(LEFT + A_SUPPLY, y, "for")
    page.text(RIGHT, y, "drawn", align="right")
    page.across(flow.y + HEAD - 1.5, 1.4)
    flow.y += HEAD


def _columns(line: GivenLine) -> list[tuple[float, list[str], float, Face]]:
    """Place, lines, size and face of each column of names: a long one wraps and is never cut."""
    label_room = A_SIZE - A_TAKES - 4
    size = fit(fonts.clean(line.cylinder), "bold", 11.0, label_room)
    return [
        (A_TAKES, wrap(line.cylinder, "bold", size, label_room), size, "bold"),
        (A_SIZE, wrap(line.size, "regular", SMALL, A_HOLDS - A_SIZE - 44), SMALL, "regular"),
        (A_FROM, wrap(line.comes, "regular", SMALL, A_SUPPLY - A_FROM - 4), SMALL, "regular"),
        (A_SUPPLY, wrap(line.supply, "regular", SMALL, WIDTH - A_SUPPLY - A_TICK - 6), SMALL, "regular"),
    ]


def _high(line: GivenLine) -> float:
    return ROW + leading(SMALL) * (max(len(lines) for _, lines, _, _ in _columns(line)) - 1)


def _row(flow: PageFlow, number: int, line: GivenLine) -> None:
    page, y = flow.page, flow.y + 10.5
    page.text(LEFT + A_NUMBER, y, str(line.number), face="bold", align="right", room=A_NUMBER)
    page.text(LEFT + A_LEAVES, y, line.leaves, size=10, face="bold", align="right", room=A_LEAVES - A_NUMBER - 4)
    for x, lines, size, face in _columns(line):
        for place, text in enumerate(lines):
            page.text(LEFT + x, y + place * leading(SMALL), text, size=size, face=face)
    page.text(LEFT + A_HOLDS, y, line.holds, size=10, align="right")
    page.tick(RIGHT - A_TICK, y + 1.5, f"shift.drawn{number}", f"trip {line.number}: {line.cylinder} drawn", 10.0)
    page.across(flow.y + _high(line) - 0.5, 0.3)
    flow.y += _high(line)
