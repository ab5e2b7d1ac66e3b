"""The trips of a shift on its sheet: one row each, with boxes to tick when its cylinders go out and come back."""

from __future__ import annotations

import re

from planner.pages.drawing import fonts
from planner.pages.drawing.flow import PageFlow
from planner.pages.drawing.layout import LEFT, Page
from planner.pages.drawing.lines import SMALL, beside, leading, wrap
from planner.report.shift.shift import ShiftSheet, TripLine

HEAD = 14.5
NO_GO = "NO-GO"

# x of each column from the left margin; right edges of times and of the verdict.
T_NUMBER, T_LEAVES, T_BACK, T_NAME, T_VERDICT, T_OUT, T_IN = 20.0, 76.0, 128.0, 136.0, 466.0, 484.0, 516.0
VERDICT = 55.0
NAME, NAME_LEADING = 10.0, 12.0
MOST_CYLINDERS = 130.0


def draw_trips(flow: PageFlow, sheet: ShiftSheet, *, close: bool) -> None:
    """Every trip by departure; cylinders stand below the name of a trip, or beside it where `close`."""
    flow.need(HEAD + 30)
    _trips_head(flow)
    x = T_NAME
    if close:
        widest = max((fonts.width(fonts.clean(line.cylinders), "regular", SMALL) for line in sheet.trips), default=0.0)
        x = T_VERDICT - VERDICT - min(widest, MOST_CYLINDERS)
    for line in sheet.trips:
        name, cylinders = _name(line, x), _items(line.cylinders, T_VERDICT - VERDICT - x + 0.01)
        high = [NAME_LEADING * len(name), leading(SMALL) * len(cylinders)]
        whole = (max(high) if close else sum(high)) + 4.5
        if flow.need(whole):
            _trips_head(flow)
        _trip(flow.page, flow.y, line, name, cylinders, x)
        flow.page.across(flow.y + whole - 0.5, 0.4)
        flow.y += whole
    flow.y += 5


def _name(line: TripLine, x: float) -> list[tuple[str, str]]:
    """The name of a trip on as many lines as it takes, the reference after the last, or below it where it is long."""
    room = (x - 8 if x > T_NAME else T_VERDICT - VERDICT) - T_NAME
    return beside(line.trip, NAME, line.reference, SMALL, room, 6.0)


def _items(text: str, room: float) -> list[str]:
    """A list on as many lines as it takes, broken between its items where that goes."""
    lines: list[str] = []
    for item in re.split(r"(?<=[,;]) ", text):
        if lines and fonts.width(fonts.clean(f"{lines[-1]} {item}"), "regular", SMALL) <= room:
            lines[-1] += f" {item}"
        else:
            lines += wrap(item, "regular", SMALL, room)
    return lines


def _trips_head(flow: PageFlow) -> None:
    page, y = flow.page, flow.y + 10
    page.text(LEFT + T_NUMBER, y, "no.", align="right")
    page.text(LEFT + T_LEAVES, y, "LEAVES", face="bold", align="right")
    page.text(LEFT + T_BACK, y, "back by", align="right")
    page.text(LEFT + T_NAME, y, "Trips by departure, with their cylinders", size=10, face="bold")
    page.text(LEFT + T_OUT, y, "out")
    page.text(LEFT + T_IN, y, "back")
    page.across(flow.y + HEAD - 1.5, 1.4)
    flow.y += HEAD


def _trip(page: Page, top: float, line: TripLine, name: list[tuple[str, str]], cylinders: list[str], x: float) -> None:
    """One trip; its cylinders stand from `x` on, below its name or beside it."""
    y = top + 12.0
    page.text(LEFT + T_NUMBER, y, str(line.number), size=11, face="bold", align="right", room=T_NUMBER)
    page.text(LEFT + T_LEAVES, y, line.leaves, size=13.2, face="bold", align="right", room=T_LEAVES - T_NUMBER - 4)
    page.text(LEFT + T_BACK, y, line.back, size=11, align="right", room=T_BACK - T_LEAVES - 4)
    verdict = page.text(LEFT + T_VERDICT, y, line.verdict, size=11, face="bold", align="right")
    if line.verdict == NO_GO:
        page.box(LEFT + T_VERDICT - verdict - 2.5, y - 10.2, verdict + 5, 12.6, 1.2)
    for number, (text, reference) in enumerate(name):
        below = y + number * NAME_LEADING
        used = page.text(LEFT + T_NAME, below, text, size=NAME, face="bold")
        page.text(LEFT + T_NAME + (used + 6 if used else 0.0), below, reference)
    below = y if x > T_NAME else y + NAME_LEADING * len(name) - 0.5
    page.lines(LEFT + x, below, cylinders)
    page.tick(LEFT + T_OUT, y + 1.5, f"shift.trip{line.number}.out", f"trip {line.number}: cylinders out", 11.0)
    page.tick(LEFT + T_IN, y + 1.5, f"shift.trip{line.number}.back", f"trip {line.number}: cylinders back", 11.0)
