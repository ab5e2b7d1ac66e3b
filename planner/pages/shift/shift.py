"""The sheet of a shift on paper, for the coordinator: in the family of the cart card.

Top to bottom in order of importance: all go or not, what has to be settled first, cylinders to draw and the most out
at once, the curve over the clock, and every trip with its boxes to tick (`planner.pages.shift.trips`). A longer shift
continues under the same head. Who takes which cylinder, and what to fill for tomorrow, stand on a page of their own,
for those who hand them out (`planner.pages.shift.allotted`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, is_dataclass, replace
from datetime import datetime
from typing import Any, TypeVar

from planner import figures
from planner.package_file import edition
from planner.pages.card.card import hatch
from planner.pages.drawing import fonts
from planner.pages.drawing.flow import PageFlow
from planner.pages.drawing.layout import LEFT, RIGHT, TOP, WIDTH, Page
from planner.pages.drawing.lines import SMALL, leading, wrap
from planner.pages.pack import Paper, render
from planner.pages.shift.allotted import draw_allotted
from planner.pages.shift.trips import draw_trips
from planner.report.shift.clock import Curve
from planner.report.shift.shift import NoGo, ShiftSheet, SizeLine
from planner.text.letters import replaced, unshown

T = TypeVar("T")

TITLE = "Shift sheet"
HEAD = 14.5
UNSHOWN = "Letters that the page cannot show stand as a question mark."

# Cylinders: x of each column from the left margin; right edges of figures.
S_DRAW, S_PART, S_ONCE, S_BEGINS, S_FULL, S_STORE_PART, S_SHORT = 152.0, 204.0, 282.0, 292.0, 428.0, 474.0, WIDTH
S_ROW = 24.0

CURVE_SIDE = 22.0


def shift_bytes(sheet: ShiftSheet, *, paper: Paper = "a4", issued: datetime) -> bytes:
    """The sheet of a shift as the bytes of a PDF; `issued` stands on every page.

    A letter that the font cannot show is printed as `?`, and the page says so: one odd name must not cost the sheet.
    """
    shown = with_letters(sheet, _letters)
    if shown != sheet:
        shown = replace(shown, notes=(*shown.notes, UNSHOWN))
    pages = shift_pages(shown)
    text = f"{shown.fingerprint} · issued {figures.date_time(issued)} · {edition()}"
    for number, page in enumerate(pages, start=1):
        page.foot(number, len(pages), text, TITLE)
    return render(pages, paper, f"Oxygen shift sheet, {shown.span}")


def shift_pages(sheet: ShiftSheet) -> list[Page]:
    """The pages of the sheet, without their foot: airy, or close where that saves pages. Type sizes are the same."""
    airy = _pages(sheet, close=False)
    if len(airy) == 1 + bool(sheet.given):
        return airy
    close = _pages(sheet, close=True)
    return close if len(close) < len(airy) else airy


def _pages(sheet: ShiftSheet, *, close: bool) -> list[Page]:
    flow = PageFlow(TITLE, lambda page, again: _head(page, sheet, again))
    _settle(flow, sheet)
    _sizes(flow, sheet)
    for curve in sheet.curves:
        _curve(flow, curve, 34.0 if close else 54.0)
    draw_trips(flow, sheet, close=close)
    _notes(flow, sheet, close=close)
    draw_allotted(flow, sheet)
    return flow.pages


def with_letters(value: T, change: Callable[[str], str]) -> T:
    """A value of dataclasses, tuples with and without names, and texts with every text changed."""
    found: Any = value
    if isinstance(found, str):
        return change(found)  # type: ignore[return-value]
    if isinstance(found, tuple):
        items = (with_letters(item, change) for item in found)
        return type(found)(*items) if hasattr(found, "_fields") else tuple(items)  # type: ignore[return-value]
    if is_dataclass(found) and not isinstance(found, type):
        parts = {field.name: with_letters(getattr(found, field.name), change) for field in fields(found)}
        return replace(found, **parts)  # type: ignore[return-value]
    return value


def _letters(text: str) -> str:
    return replaced(text, lambda _letter: "?") if unshown(text) else text


def _head(page: Page, sheet: ShiftSheet, again: bool) -> float:
    """All go or not in a box of its own, then the shift. Small on a page that continues."""
    size = 15.0 if again else 25.0
    high, inset = (26.0, 8.0) if again else (42.0, 12.0)
    wide = fonts.width(sheet.verdict, "wide", size) + 2 * inset
    page.box(LEFT + 1, TOP + 1, wide, high - 4, 2.4)
    page.text(
        LEFT + 1 + wide / 2,
        TOP + high / 2 - 1 + 0.365 * size,
        sheet.verdict,
        size=size,
        face="wide",
        align="centre",
        role="H1",
    )
    x = LEFT + wide + 12
    if again:
        page.text(x, TOP + 11, f"{TITLE}, continued", size=11, face="bold", room=RIGHT - x)
        page.text(x, TOP + 22, sheet.span, room=RIGHT - x)
        y = TOP + high
    else:
        page.text(x, TOP + 11, f"{TITLE}: {sheet.cylinders}", size=13.2, face="bold", room=RIGHT - x)
        y = page.paragraph(x, TOP + 14, RIGHT - x, sheet.span, size=11, face="bold")
        y = max(TOP + high, page.paragraph(x, y - 1, RIGHT - x, " · ".join(sheet.facts), size=10) + 3)
        if not sheet.go:
            y = page.paragraph(LEFT, y, WIDTH, f"{sheet.why}.", size=11, face="bold") + 2
    if sheet.go:
        return y + 4
    hatch(page, y + 1, 6)
    return y + 11


def _settle(flow: PageFlow, sheet: ShiftSheet) -> None:
    """What has to be settled first: no-go trips with their reasons, what was not read, what clashes."""
    alarms = sheet.alarms if sheet.given else (*sheet.alarms, *sheet.to_do)
    if not (sheet.no_go or sheet.unread or alarms or sheet.waiting):
        return
    flow.title_bar("Settle first", keep=40)
    for trip in sheet.no_go:
        _no_go(flow, trip)
    for line in sheet.unread:
        _paragraph(flow, "NOT READ, NOT COUNTED", line)
    for line in alarms:
        _paragraph(flow, "SETTLE", line)
    if sheet.waiting:
        text = f"{sheet.waiting}: draw the cylinders, read each gauge with the valve open, and plan again."
        _paragraph(flow, "NO-GO until read:", text)
    flow.y += 5


def _no_go(flow: PageFlow, trip: NoGo) -> None:
    title, leaves = f"NO-GO {trip.number}", f"leaves {trip.leaves}" if trip.leaves else ""
    wide = fonts.width(title, "bold", 11)
    name = wrap(trip.trip, "bold", 11, WIDTH - wide - fonts.width(leaves, "bold", 10) - 20)
    flow.need(15 + (len(name) - 1) * leading(11) + 2 * leading(SMALL))
    page, y = flow.page, flow.y + 11
    page.text(LEFT, y, title, size=11, face="bold")
    page.text(RIGHT, y, leaves, size=10, face="bold", align="right")
    page.lines(LEFT + wide + 8, y, name, size=11, face="bold")
    flow.y += 15 + (len(name) - 1) * leading(11)
    for number, reason in enumerate(trip.reasons):
        _paragraph(flow, "", f"{number + 1}. {reason.text}")
        if reason.fix and (number + 1 == len(trip.reasons) or trip.reasons[number + 1].fix != reason.fix):
            _paragraph(flow, "", f"Mend: {reason.fix}", indent=24.0)
    flow.page.across(flow.y + 1, 0.3)
    flow.y += 3


def _paragraph(flow: PageFlow, title: str, text: str, indent: float = 12.0) -> None:
    """Wrapped text, each line of which may open a new page; a bold title stands in front."""
    if title:
        first, *rest = wrap(f"{title} {text}", "bold", SMALL, WIDTH)
        flow.lines([first], face="bold")
        flow.lines(rest)
    else:
        flow.lines(wrap(text, "regular", SMALL, WIDTH - indent), x=LEFT + indent)


def _sizes(flow: PageFlow, sheet: ShiftSheet) -> None:
    flow.need(2 * HEAD + S_ROW)
    group = ""
    for line in sheet.sizes:
        opens = line.group != group
        if flow.need(S_ROW + (HEAD if opens else 0.0)) or opens:
            _sizes_head(flow, line, bool(line.store_full) or (bool(sheet.store) and line.group == "Portable"))
        group = line.group
        _size_row(flow, line)
    flow.y += 5


def _sizes_head(flow: PageFlow, line: SizeLine, store: bool) -> None:
    page, y = flow.page, flow.y + 10
    page.text(LEFT, y, line.group, size=10, face="bold")
    page.text(LEFT + S_DRAW, y, "DRAW" if line.group == "Portable" else "IN USE", face="bold", align="right")
    page.text(LEFT + S_PART, y, "part-used", align="right")
    page.text(LEFT + S_ONCE, y, "OUT AT ONCE", face="bold", align="right")
    page.text(LEFT + S_BEGINS, y, "from, until")
    if store:
        page.text(LEFT + S_FULL, y, "store: full", align="right")
        page.text(LEFT + S_STORE_PART, y, "part-used", align="right")
        page.text(LEFT + S_SHORT, y, "SHORT", face="bold", align="right")
    page.across(flow.y + HEAD - 1.5, 1.4)
    flow.y += HEAD


def _size_row(flow: PageFlow, line: SizeLine) -> None:
    """Figures in one row; the trips that make the peak stand below its times, or below the row where they are many."""
    page, y = flow.page, flow.y + 15.5
    right = S_FULL - 24.0 if line.store_full else WIDTH
    page.text(LEFT, y, line.size, size=13.2, face="bold", room=S_DRAW - 30)
    page.figure(LEFT + S_DRAW, y, line.draw, size=14.5, align="right")
    page.text(LEFT + S_PART, y, line.part_used, size=11, align="right")
    page.figure(LEFT + S_ONCE, y, line.at_once, size=14.5, align="right")
    when = f"{line.begins} to {line.ends}" if line.ends else line.begins
    page.text(LEFT + S_BEGINS, flow.y + 10.5, when, size=11, face="bold", room=right - S_BEGINS)
    if line.store_full:
        page.figure(LEFT + S_FULL, y, line.store_full, face="regular", align="right")
        page.figure(LEFT + S_STORE_PART, y, line.store_part_used, face="regular", align="right")
        page.figure(LEFT + S_SHORT, y, line.lacking, size=14.5, align="right")
    fits = fonts.width(fonts.clean(line.trips), "regular", SMALL) <= right - S_BEGINS
    if fits:
        page.text(LEFT + S_BEGINS, flow.y + 20.5, line.trips)
    flow.y += S_ROW
    if not fits:
        _paragraph(flow, "", f"At once: {line.trips}")
    flow.page.across(flow.y, 0.4)


def _curve(flow: PageFlow, curve: Curve, high: float) -> None:
    """Portable cylinders out over the clock, as steps; the broken line is the most."""
    flow.need(HEAD + high + 20)
    page = flow.page
    page.text(LEFT, flow.y + 10, curve.title, size=10, face="bold")
    top, left, wide = flow.y + HEAD + 2, LEFT + CURVE_SIDE, WIDTH - CURVE_SIDE
    foot = top + high

    def at(minute: float, count: int) -> tuple[float, float]:
        return left + wide * minute / curve.end_min, foot - high * count / curve.most

    page.rule(left, top, RIGHT, top, 0.5, dashed=True)
    page.rule(left, foot, RIGHT, foot, 0.8)
    page.text(left - 4, top + 3.3, str(curve.most), face="bold", align="right")
    page.text(left - 4, foot + 3.3, "0", align="right")
    points = []
    before = 0
    for minute, count in curve.steps:
        points += [at(minute, before), at(minute, count)]
        before = count
    page.path(points, 1.6)
    free = left - 10
    for minute, clock in curve.hours:
        x, _ = at(minute, 0)
        page.rule(x, foot, x, foot + 3, 0.6)
        half = fonts.width(fonts.clean(clock), "regular", SMALL) / 2
        if x - half > free and x + half <= RIGHT:
            page.text(x, foot + 12, clock, align="centre")
            free = x + half + 4
    flow.y = foot + 20


def _notes(flow: PageFlow, sheet: ShiftSheet, *, close: bool) -> None:
    """The notes, each on lines of its own, or all in one paragraph."""
    for note in (" ".join(sheet.notes),) if close else sheet.notes:
        _paragraph(flow, "", note, indent=0.0)
