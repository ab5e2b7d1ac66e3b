"""The readings log on paper: a row for each reading, with boxes of at least 10 mm to write in, and the charts."""

from __future__ import annotations

from datetime import datetime
from typing import NamedTuple

from planner.pages.chart import draw_charts
from planner.pages.drawing import fonts
from planner.pages.drawing.flow import PageFlow
from planner.pages.drawing.head import draw_head
from planner.pages.drawing.layout import LEFT, MM, RIGHT, WIDTH, Page
from planner.pages.drawing.lines import LONGEST_LINE, SMALL, figure_width, wrap
from planner.report.chart.chart import Chart
from planner.report.gases import has_air
from planner.report.log.log import LogPart, LogRow
from planner.results import Plan

TITLE = "Readings log"
ROW = 10.2 * MM
HEAD = 14.5
PART = 13.5

# x of each column from the left margin; right edges of figures and left edges of boxes.
ELAPSED, WHERE, LEAK, LEAST = 60.0, 66.0, 314.0, 376.0
TIME, GAUGE, FLOW, INITIALS = 380.0, 418.0, 468.0, 505.0
LATER = 8.0
"""Around the middle of a row: a limit above, what each minute later takes off it below."""
FILLED = "filled to"
"""In place of the flow: what a cylinder that was filled after the trip has read since."""
AGAIN = 296.0
"""Where a free row asks whether the cylinder was filled on the way."""
FIRST, SECOND = 11.8, 25.8
"""Baselines of the minutes and of the clock time below them, from the top of a row."""
NOTE = "Write the reading, the time and the flow that really runs. "
TOO_FAST = (
    "Below LEAK BELOW, less what each minute later takes off: too fast for the plan, look for a leak or a changed "
    "setting. "
)
ACT = (
    "Below ACT BELOW before departure: do not leave, plan again. On the way: make for more oxygen, plan again. Far "
    "above what it should read: look at the patient first; is oxygen flowing, and from this cylinder? "
)
BATTERY = (
    "Of a battery write what it shows: 60 %, 3 of 5, 110 min. Below ACT BELOW on the way: plug in; no mains: do as if "
    "its device failed, before the battery is flat, and plan again."
)


class _Columns(NamedTuple):
    """Where the cylinder stands, and the right edge of what it should read; a limit for too fast moves both left."""

    cylinder: float
    expected: float


WIDE, NARROW = _Columns(221.0, 314.0), _Columns(161.0, 245.0)


def log_pages(
    plan: Plan, parts: tuple[LogPart, ...], charts: tuple[Chart, ...], issued: datetime | None = None
) -> list[Page]:
    """The pages of the log, then the charts."""
    unit = plan.trip.policy.pressure_unit
    flow = PageFlow(TITLE, lambda page, again: draw_head(page, plan, TITLE, again, issued))
    leak = any(row.leak for part in parts for row in part.rows)
    at = NARROW if leak else WIDE
    battery = any(one.leg_index is None for one in plan.battery_checks)
    act = ACT.replace("more oxygen", "more of that gas").replace("oxygen", "gas") if has_air(plan) else ACT
    note = "".join((NOTE, TOO_FAST * leak, act, BATTERY * battery)).strip()
    flow.y = flow.page.paragraph(LEFT, flow.y, LONGEST_LINE * SMALL, note) + 3
    _head(flow, unit, at)
    for part in parts:
        last = part.rows[0].last
        if flow.need(PART + _high(part.rows[0], at)):
            _head(flow, unit, at, last=last)
        flow.page.text(LEFT, flow.y + 10, part.title, size=10, face="bold", room=FLOW - 4)
        if last:
            flow.page.text(LEFT + FLOW + 1.5, flow.y + 10, FILLED)
        flow.page.across(flow.y + PART, 0.9)
        flow.y += PART
        for row in part.rows:
            high = _high(row, at)
            if flow.need(high):
                _head(flow, unit, at, last=last)
            _row(flow.page, flow.y, row, high, at)
            flow.y += high
    flow.y += 10
    draw_charts(flow, charts)
    return flow.pages


def _head(flow: PageFlow, unit: str, at: _Columns, *, last: bool = False) -> None:
    page, y = flow.page, flow.y + 10
    page.text(LEFT, y, "after, clock")
    page.text(LEFT + WHERE, y, "when, where")
    page.text(LEFT + at.cylinder, y, "cyl.")
    page.text(LEFT + at.expected, y, "SHOULD READ", face="bold", align="right")
    if at == NARROW:
        page.text(LEFT + LEAK, y, "LEAK BELOW", face="bold", align="right")
    page.text(LEFT + LEAST, y, "ACT BELOW", face="bold", align="right")
    for x, text in (
        (TIME, "time"),
        (GAUGE, f"gauge, {unit}"),
        (FLOW, FILLED if last else "L/min"),
        (INITIALS, "initials"),
    ):
        page.text(LEFT + x + 1.5, y, text)
    page.across(flow.y + HEAD, 1.4)
    flow.y += HEAD


def _where(row: LogRow, at: _Columns) -> list[tuple[str, fonts.Face]]:
    """What is read and in which leg, in the lines of their column."""
    room = at.cylinder - WHERE - 6
    what, where = wrap(row.what, "bold", SMALL, room), wrap(row.where, "regular", SMALL, room)
    if len(what) > 1 and ", " in row.what:  # a flow stays whole
        first, _, flow = row.what.rpartition(", ")
        what = [*wrap(f"{first},", "bold", SMALL, room), *wrap(flow, "bold", SMALL, room)]
    return [*((line, "bold") for line in what), *((line, "regular") for line in where if line)]


def _cylinder_room(row: LogRow, at: _Columns) -> float:
    return at.expected - at.cylinder - figure_width(row.expected, fonts.critical_size_pt()) - 6


def _beside(row: LogRow, at: _Columns) -> bool:
    """True where label and supply fit in their column."""
    label, supply = fonts.width(fonts.clean(row.cylinder), "bold", SMALL), fonts.width(row.supply, "regular", SMALL)
    return max(label, supply) <= _cylinder_room(row, at)


def _below(row: LogRow, at: _Columns) -> list[str]:
    """Label and supply over two columns, where they are too long for theirs."""
    if _beside(row, at):
        return []
    text = f"{row.cylinder} ({row.supply})" if row.supply else row.cylinder
    return wrap(text, "bold", SMALL, at.cylinder - WHERE + _cylinder_room(row, at))


def _high(row: LogRow, at: _Columns) -> float:
    return ROW if row.free else max(ROW, 7.0 + 12.0 * (len(_where(row, at)) + len(_below(row, at))))


def _row(page: Page, top: float, row: LogRow, high: float, at: _Columns) -> None:
    middle = top + high / 2 + 4.5
    key = f"log.{row.key}"
    if row.free:
        page.text(LEFT, middle - 1.5, "where, cyl.")
        page.write(LEFT + WHERE, top, AGAIN - WHERE - 6, high, f"{key}.cylinder", "where, cylinder")
        page.text(LEFT + AGAIN, middle - 1.5, "filled again")
        page.tick(LEFT + TIME - 14, middle - 1.5, f"{key}.refilled", "filled on the way, before this reading")
    else:
        first = top + FIRST if row.clock else middle
        page.figure(LEFT + ELAPSED, first, row.elapsed, face="regular", align="right")
        page.figure(LEFT + ELAPSED, top + SECOND, row.clock, align="right")
        for number, (text, face) in enumerate(_where(row, at)):
            page.text(LEFT + WHERE, top + 12.0 * (number + 1), text, face=face)
        for number, text in enumerate(_below(row, at), start=len(_where(row, at)) + 1):
            page.text(LEFT + WHERE, top + 12.0 * number, text, face="bold")
        if _beside(row, at):
            page.text(LEFT + at.cylinder, top + 12.0, row.cylinder, size=11, face="bold", room=_cylinder_room(row, at))
            page.text(LEFT + at.cylinder, top + 24.0, row.supply)
        page.figure(LEFT + at.expected, middle, row.expected, align="right")
        if row.leak:
            page.figure(LEFT + LEAK, middle - LATER / 2, row.leak, align="right")
            page.text(LEFT + LEAK, middle + LATER, row.leak_a_minute, align="right")
        page.figure(LEFT + LEAST, middle, row.least, align="right")
    named = row.cylinder or "other"
    third = "refilled_to" if row.last else "flow"
    for name, x, end in (("time", TIME, GAUGE), ("gauge", GAUGE, FLOW), (third, FLOW, INITIALS)):
        if name != "gauge" or row.gauge:
            page.write(LEFT + x, top, end - x, high, f"{key}.{name}", f"{named}: {name.replace('refilled_to', FILLED)}")
    page.write(LEFT + INITIALS, top, WIDTH - INITIALS, high, f"{key}.initials", f"{named}: initials")
    page.rule(LEFT, top + high, LEFT + TIME if not row.free else RIGHT, top + high, 0.4)
