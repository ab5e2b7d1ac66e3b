"""The front of the first sheet: verdict, cylinders, legs and what to do when something fails.

Everything here is read on the move, so nothing is smaller than `planner.pages.drawing.move.SIZE`, but for the captions
of boxes that are filled in before leaving. A label is wrapped, never cut; what does not fit goes to a further page.
"""

from __future__ import annotations

from planner import figures
from planner.naming import listed
from planner.pages.card.actions import TITLE as TITLE_FAILS
from planner.pages.card.actions import actions_height, draw_actions
from planner.pages.drawing import fonts
from planner.pages.drawing.flow import PageFlow
from planner.pages.drawing.layout import LEFT, MM, RIGHT, TOP, WIDTH, Page
from planner.pages.drawing.lines import beside, leading, wrap
from planner.pages.drawing.move import (
    BOX_HEIGHT,
    BOX_WIDTH,
    LINE,
    SIZE,
    box,
    figure,
    lines_of,
    paragraph,
    text_line,
    text_width,
)
from planner.report.card.front import Front, LegRow

TITLE = "Card"
HEAD = LINE + 1.5
GAP = 2.0
PAD = 0.4
"""What a row is higher than its lines or its box, points."""
ROW = BOX_HEIGHT + PAD
"""Height of a row with a box: boxes of neighbouring rows nearly touch, so that none is smaller than 10 mm."""
VERDICT_WIDTH, VERDICT_HEIGHT = 84.0, 40.0
LEFT_AT = (30 * MM, 12 * MM)
SIGNED = (34 * MM, BOX_HEIGHT)
NOTE = 11.0
"""Type size of the captions of boxes that are filled in before leaving, points."""
NEXT = 6.0
"""Between a label and what stands behind it, points."""
MORE_LEGS = "More legs, and what to do if it fails: see the next page."
GOES_ON = "If it fails: see the next page."
BELOW_LEAK = "Below LEAK: seek a leak or changed setting. "
BELOW_ACT = "Below ACT: make for oxygen, plan again."
BELOW_ACT_OF_TWO = "Below ACT: make for that gas, plan again."
"""Where rows of AIR stand among those of oxygen."""
BATTERY_ACT = "BATTERY below ACT: plug in; no mains: do as if its device failed, before it is flat."

# x from the left margin: right edges of figures, left edges of boxes.
C_NAME, C_LEAST, C_BOX, C_CHANGE, C_WHEN = 178.0, 258.0, 264.0, 407.0, 415.0
L_EXPECTED, L_BOX, L_LEAK, L_ACT, L_TIME = 260.0, 263.0, 408.5, 479.0, 484.0


def draw_front(front: Front) -> PageFlow:
    """The front, on one page unless the trip is large."""
    flow = PageFlow(TITLE, lambda page, again: _head(page, front, again))
    _cylinders(flow, front)
    _legs(flow, front)
    _actions(flow, front)
    return flow


def _head(page: Page, front: Front, again: bool) -> float:
    y = _decision(page, front, _onward(page, front, TOP, again=again))
    if again:
        wide = page.text(LEFT, y + LINE - 3, front.verdict, size=SIZE, face="wide", role="H1") + 12
        return paragraph(page, LEFT + wide, y, WIDTH - wide, f"{TITLE}, continued: {front.route}", "bold") + GAP
    banner = bool(front.decision or front.not_valid)
    if not banner:
        page.box(LEFT + 1, y + 1, VERDICT_WIDTH, VERDICT_HEIGHT, 2.4)
        middle = LEFT + 1 + VERDICT_WIDTH / 2
        page.text(
            middle, y + 33, front.verdict, size=34, face="wide", align="centre", room=VERDICT_WIDTH - 6, role="H1"
        )
    x = LEFT if banner else LEFT + VERDICT_WIDTH + 10
    left_at = _captioned(page, RIGHT, y + 1, "left at", "card.left_at", "time of leaving", LEFT_AT)
    below = paragraph(page, x, y - 1, left_at - x, front.route, "bold")
    below = paragraph(page, x, below, left_at - x, " · ".join(front.facts))
    y = max(below, y + (LEFT_AT[1] if banner else VERDICT_HEIGHT)) + 4
    accepted = _captioned(page, RIGHT, y, "accepted by", "card.accepted_by", "accepted by", SIGNED)
    released = _captioned(page, accepted, y, "released by", "card.released_by", "released by", SIGNED)
    below = paragraph(page, LEFT, y - 1, released - LEFT, front.valid)
    y = max(below, y + SIGNED[1]) + 2
    if front.changed:
        y = page.run_in(LEFT, y, WIDTH, "Changed for this plan:", "; ".join(front.changed), 11.0) + 2
    return y + 1


def _captioned(
    page: Page, right: float, y: float, caption: str, name: str, tip: str, size: tuple[float, float]
) -> float:
    """A box that ends at `right`, its caption at its left; returns where the caption begins, with a gap."""
    wide, high = size
    box(page, right - wide, y, wide, name, tip, high)
    lines = caption.split(" ")
    start = right - wide - 3 - max(fonts.width(line, "regular", NOTE) for line in lines)
    for number, line in enumerate(lines):
        base = y + high / 2 + (number - len(lines) / 2) * leading(NOTE) + 0.8 * leading(NOTE)
        page.text(start, base, line, size=NOTE)
    return start - 8


def _onward(page: Page, front: Front, y: float, *, again: bool) -> float:
    """Which revision this is and what it rests on, over the whole card; on a further page the first of it."""
    if not front.onward:
        return y
    first, *more = front.onward
    y = paragraph(page, LEFT, y, WIDTH, first, "bold")
    for text in () if again else more:
        y = paragraph(page, LEFT, y, WIDTH, text)
    page.across(y + 1, 2.4)
    return y + 4


def _decision(page: Page, front: Front, y: float) -> float:
    """That a go is not valid yet, and who has accepted what, in words over the whole card: no verdict stands alone."""
    if not front.decision and not front.not_valid:
        return y
    for line in wrap(" - ".join(filter(None, (front.verdict, front.not_valid))), "wide", 24, WIDTH):
        page.text(LEFT, y + 21, line, size=24, face="wide", role="H1")
        y += 27
    for text in front.decision:
        y = paragraph(page, LEFT, y, WIDTH, text, "bold")
    page.across(y + 2, 2.4)
    return y + 5


def _cylinders(flow: PageFlow, front: Front) -> None:
    if front.cylinders:
        flow.need(HEAD + ROW)
        _cylinders_head(flow)
    for row in front.cylinders:
        name, when = beside(row.name, SIZE, row.detail, SIZE, C_NAME, NEXT), lines_of(row.when, WIDTH - C_WHEN)
        high = max(ROW if row.field else 0.0, LINE * max(len(name), len(when), 1) + PAD)
        if flow.need(high):
            _cylinders_head(flow)
        page, y = flow.page, flow.y + _first(high, max(len(name), len(when), 1))
        for number, (label, detail) in enumerate(name):
            wide = text_line(page, LEFT, y + number * LINE, label, face="bold") + NEXT if label else 0.0
            text_line(page, LEFT + wide, y + number * LINE, detail)
        middle = flow.y + _first(high, 1)
        figure(page, LEFT + C_LEAST, middle, row.least)
        if row.field:
            top = flow.y + (high - BOX_HEIGHT) / 2
            box(page, LEFT + C_BOX, top, BOX_WIDTH, row.field, f"{row.name} reads before departure")
        figure(page, LEFT + C_CHANGE, middle, row.change_at)
        page.lines(LEFT + C_WHEN, flow.y + _first(high, len(when)), when, size=SIZE)
        flow.y += high
        flow.page.across(flow.y, 0.4)
    for note in front.notes:
        flow.need(LINE * len(lines_of(note, WIDTH)))
        flow.y = paragraph(flow.page, LEFT, flow.y + 1, WIDTH, note)
    flow.y += GAP


def _first(high: float, lines: int) -> float:
    """From the top of a row to the baseline of the first of its lines."""
    return (high - LINE * lines) / 2 + 0.8 * LINE


def _cylinders_head(flow: PageFlow) -> None:
    page, y = flow.page, flow.y + 0.8 * LINE
    text_line(page, LEFT, y, "Cylinders", face="bold", role="H2")
    text_line(page, LEFT + C_LEAST, y, "START AT LEAST", face="bold", align="right")
    text_line(page, LEFT + C_BOX + 4, y, "reads")
    text_line(page, LEFT + C_CHANGE, y, "change at", face="bold", align="right")
    text_line(page, LEFT + C_WHEN, y, "or after, if sooner")
    page.across(flow.y + HEAD - 1.0, 1.4)
    flow.y += HEAD


def _legs(flow: PageFlow, front: Front) -> None:
    flow.need(HEAD + ROW)
    leak = any(row.leak for row in front.legs)
    room = L_EXPECTED - NEXT - max((text_width(_shown(row.expected), "bold") for row in front.legs), default=0.0)
    _legs_head(flow, leak=leak)
    for row in front.legs:
        texts = _leg_lines(row, room)
        high = max(ROW if row.field else 0.0, LINE * max(len(texts), 2 if row.leak_a_minute else 1) + PAD)
        if high + LINE + 1 > flow.left:  # a line is kept for what says that the card goes on
            text_line(flow.page, LEFT, flow.y + 0.8 * LINE, MORE_LEGS, face="bold")
            flow.need(flow.left + 1.0)
            _legs_head(flow, leak=leak)
        _leg(flow.page, flow.y, row, texts, high)
        flow.y += high
        flow.page.across(flow.y, 0.6)
    flow.y += 1


def _legs_head(flow: PageFlow, *, leak: bool) -> None:
    page, y = flow.page, flow.y + 0.8 * LINE
    text_line(page, LEFT, y, "At the end of each leg", face="bold", role="H2")
    text_line(page, LEFT + L_EXPECTED, y, "should read", face="bold", align="right")
    text_line(page, LEFT + L_BOX + 4, y, "reads")
    if leak:
        text_line(page, LEFT + L_LEAK, y, "leak below", face="bold", align="right")
    text_line(page, LEFT + L_ACT, y, "act below", face="bold", align="right")
    text_line(page, LEFT + L_TIME + 2, y, "time")
    page.across(flow.y + HEAD - 1.0, 1.4)
    flow.y += HEAD


def _leg_lines(row: LegRow, room: float) -> list[tuple[str, fonts.Face]]:
    """Name, warnings, then minute, clock and cylinder, with its supply where that costs no line."""
    name = f"{row.number} {row.name}" if row.name else ""
    if row.no_change:
        name = f"{name}: NO CHANGE"
    when = lines_of(f"{row.when} · {row.cylinder}", room)
    told = lines_of(f"{row.when} · {row.cylinder} ({row.supply})", room) if row.supply else when
    found: list[tuple[str, fonts.Face]] = [(text, "bold") for text in lines_of(name, room, "bold")]
    found += [(text, "bold") for warning in row.warnings for text in lines_of(warning, room, "bold")]
    return [*found, *((text, "regular") for text in (told if len(told) == len(when) else when))]


def _leg(page: Page, top: float, row: LegRow, texts: list[tuple[str, fonts.Face]], high: float) -> None:
    y = top + _first(high, len(texts))
    for number, (text, face) in enumerate(texts):
        text_line(page, LEFT, y + number * LINE, text, face=face)
    middle = top + (high - BOX_HEIGHT) / 2
    box(page, LEFT + L_TIME, middle, WIDTH - L_TIME, row.time_field, f"end of leg {row.number}: time")
    if not row.field:
        return
    box(page, LEFT + L_BOX, middle, BOX_WIDTH, row.field, f"{row.cylinder} reads at the end of leg {row.number}")
    line = top + _first(high, 1)
    figure(page, LEFT + L_EXPECTED, line, _shown(row.expected))
    if row.leak:
        lines = 2 if row.leak_a_minute else 1
        figure(page, LEFT + L_LEAK, top + _first(high, lines), row.leak)
        text_line(page, LEFT + L_LEAK, top + _first(high, lines) + LINE, row.leak_a_minute, align="right")
    figure(page, LEFT + L_ACT, line, _shown(row.act))


def _shown(text: str) -> str:
    """Nothing in place of a dash: where a figure does not apply, its column stays empty."""
    return "" if text == figures.NONE else text


def _actions(flow: PageFlow, front: Front) -> None:
    """What a reading asks for, then the actions, then for which failures they stand overleaf."""
    rules, more = _rules(front), lines_of(_overleaf(front), WIDTH, "bold")
    high = LINE * (sum(len(lines_of(rule, WIDTH)) for rule in rules) + len(more)) + actions_height(front.actions)
    if high > flow.left + 0.01:
        text_line(flow.page, LEFT, flow.y + 0.8 * LINE, GOES_ON, face="bold")
    flow.need(high)
    for rule in rules:
        flow.y = paragraph(flow.page, LEFT, flow.y, WIDTH, rule)
    draw_actions(flow, TITLE_FAILS, front.actions)
    flow.y = paragraph(flow.page, LEFT, flow.y, WIDTH, _overleaf(front), "bold")


def _rules(front: Front) -> tuple[str, ...]:
    """What a reading below a limit asks for, of the limits that stand above, then of batteries; those that apply."""
    leak = any(row.leak for row in front.legs)
    act = any(_shown(row.act) for row in front.legs if row.field and not row.battery)
    below_act = BELOW_ACT_OF_TWO if front.two_gases else BELOW_ACT
    return tuple(filter(None, ((BELOW_LEAK * leak + below_act * act).strip(), BATTERY_ACT * front.battery_act)))


def _overleaf(front: Front) -> str:
    return f"OVERLEAF, what to do {listed(front.overleaf)}." if front.overleaf else ""
