"""The front of the first sheet: verdict, cylinders, legs and what to do when something fails.

Everything here is read on the move, so nothing is smaller than `planner.pages.drawing.move.SIZE`, but for the captions
of boxes that are filled in before leaving. A label is wrapped, never cut; what does not fit goes to a further page.
"""

from __future__ import annotations

from planner import figures
from planner.pages.drawing import fonts
from planner.pages.drawing.flow import Flow
from planner.pages.drawing.layout import LEFT, MM, RIGHT, TOP, WIDTH, Page
from planner.pages.drawing.move import BOX_HEIGHT, BOX_WIDTH, LINE, SIZE, box, figure, lines_of, measure, paragraph, say
from planner.report.card.front import CylinderRow, Front, LegRow

TITLE = "Card"
HEAD = LINE + 2.0
GAP = 3.0
ROW = BOX_HEIGHT + 1.2
VERDICT_WIDTH, VERDICT_HEIGHT = 84.0, 40.0
LEFT_AT_WIDTH, LEFT_AT_HEIGHT = 30 * MM, 12 * MM
SIGNED_WIDTH = 36 * MM
NEXT = 6.0
"""Between a label and what stands behind it, points."""
RULES = (
    "Change at the gauge or the time, whichever comes first. Below LEAK BELOW: look for a leak or a changed setting. "
    "Below ACT BELOW: make for more oxygen, plan again."
)

# x from the left margin: right edges of figures, left edges of boxes.
C_NAME, C_LEAST, C_BOX, C_CHANGE, C_WHEN = 178.0, 258.0, 264.0, 407.0, 415.0
L_NAME, L_EXPECTED, L_BOX, L_LEAK, L_ACT, L_TIME = 190.0, 264.0, 268.0, 410.0, 482.0, 488.0


def draw_front(front: Front) -> Flow:
    """The front, on one page unless the trip is large."""
    flow = Flow(TITLE, lambda page, again: _head(page, front, again))
    _cylinders(flow, front)
    _legs(flow, front)
    _actions(flow, front)
    return flow


def _head(page: Page, front: Front, again: bool) -> float:
    y = _decision(page, front, TOP)
    if again:
        wide = page.text(LEFT, y + LINE - 3, front.verdict, size=SIZE, face="wide") + 12
        return paragraph(page, LEFT + wide, y, WIDTH - wide, f"{TITLE}, continued: {front.route}", "bold") + GAP
    if not front.decision:
        page.box(LEFT + 1, y + 1, VERDICT_WIDTH, VERDICT_HEIGHT, 2.4)
        middle = LEFT + 1 + VERDICT_WIDTH / 2
        page.text(middle, y + 33, front.verdict, size=34, face="wide", align="centre", room=VERDICT_WIDTH - 6)
    left_at = RIGHT - LEFT_AT_WIDTH
    page.text(left_at, y + 7.5, "left at", face="bold")
    box(page, left_at, y + 10, LEFT_AT_WIDTH, "card.left_at", "time of leaving", LEFT_AT_HEIGHT)
    x = LEFT if front.decision else LEFT + VERDICT_WIDTH + 10
    below = paragraph(page, x, y - 1, left_at - x - 8, front.route, "bold")
    below = paragraph(page, x, below, left_at - x - 8, " · ".join(front.facts))
    y = max(below, y + 10 + LEFT_AT_HEIGHT) + 3
    signed = RIGHT - 2 * SIGNED_WIDTH - 8
    below = paragraph(page, LEFT, y, signed - LEFT - 8, front.valid)
    for number, (name, title) in enumerate((("released_by", "released by"), ("accepted_by", "accepted by"))):
        at = signed + number * (SIGNED_WIDTH + 8)
        page.text(at, y + 7.5, title)
        box(page, at, y + 10, SIGNED_WIDTH, f"card.{name}", title)
    y = max(below, y + 10 + BOX_HEIGHT) + 3
    if front.changed:
        y = page.run_in(LEFT, y, WIDTH, "Changed for this plan:", "; ".join(front.changed), 11.0) + 2
    return y + 1


def _decision(page: Page, front: Front, y: float) -> float:
    """Who has accepted what, in words over the whole card."""
    if not front.decision:
        return y
    page.text(LEFT, y + 21, front.verdict, size=24, face="wide", room=WIDTH)
    y += 27
    for text in front.decision:
        y = paragraph(page, LEFT, y, WIDTH, text, "bold")
    page.across(y + 2, 2.4)
    return y + 5


def _cylinders(flow: Flow, front: Front) -> None:
    if front.cylinders:
        flow.need(HEAD + ROW)
        _cylinders_head(flow)
    for row in front.cylinders:
        name, when = _cylinder_lines(row), lines_of(row.when, WIDTH - C_WHEN)
        high = max(ROW if row.field else 0.0, LINE * max(len(name), len(when), 1) + 1.5)
        if flow.need(high):
            _cylinders_head(flow)
        page, y = flow.page, flow.y + _first(high, max(len(name), len(when), 1))
        for number, (label, detail) in enumerate(name):
            wide = say(page, LEFT, y + number * LINE, label, face="bold") + NEXT if label else 0.0
            say(page, LEFT + wide, y + number * LINE, detail)
        middle = flow.y + _first(high, 1)
        figure(page, LEFT + C_LEAST, middle, row.least)
        if row.field:
            top = flow.y + (high - BOX_HEIGHT) / 2
            box(page, LEFT + C_BOX, top, BOX_WIDTH, row.field, f"{row.name} reads before departure")
        figure(page, LEFT + C_CHANGE, middle, row.change_at)
        for number, text in enumerate(when):
            say(page, LEFT + C_WHEN, flow.y + _first(high, len(when)) + number * LINE, text)
        flow.y += high
        flow.page.across(flow.y, 0.4)
    for note in front.notes:
        flow.need(LINE * len(lines_of(note, WIDTH)))
        flow.y = paragraph(flow.page, LEFT, flow.y + 1, WIDTH, note)
    flow.y += GAP


def _cylinder_lines(row: CylinderRow) -> list[tuple[str, str]]:
    """Lines of the label in full (bold) and of supply and size: behind it where they fit, else below."""
    names, detail = lines_of(row.name, C_NAME, "bold"), lines_of(row.detail, C_NAME)
    wide = measure(names[-1], "bold") + NEXT + measure(row.detail, "regular")
    if wide <= C_NAME:
        return [*((name, "") for name in names[:-1]), (names[-1], row.detail)]
    return [*((name, "") for name in names), *(("", text) for text in detail)]


def _first(high: float, lines: int) -> float:
    """From the top of a row to the baseline of the first of its lines."""
    return (high - LINE * lines) / 2 + 0.8 * LINE


def _cylinders_head(flow: Flow) -> None:
    page, y = flow.page, flow.y + 0.8 * LINE
    say(page, LEFT, y, "Cylinders", face="bold")
    say(page, LEFT + C_LEAST, y, "START AT LEAST", face="bold", align="right")
    say(page, LEFT + C_BOX + 4, y, "reads")
    say(page, LEFT + C_CHANGE, y, "change at", face="bold", align="right")
    say(page, LEFT + C_WHEN, y, "or after")
    page.across(flow.y + HEAD - 1.5, 1.4)
    flow.y += HEAD


def _legs(flow: Flow, front: Front) -> None:
    flow.need(HEAD + ROW)
    leak = any(row.leak for row in front.legs)
    _legs_head(flow, leak=leak)
    for row in front.legs:
        texts = _leg_lines(row)
        high = max(ROW if row.field else 0.0, LINE * max(len(texts), 2 if row.leak_a_minute else 1) + 1.5)
        if flow.need(high):
            _legs_head(flow, leak=leak)
        _leg(flow.page, flow.y, row, texts, high)
        flow.y += high
        flow.page.across(flow.y, 0.6)
    flow.y += 2


def _legs_head(flow: Flow, *, leak: bool) -> None:
    page, y = flow.page, flow.y + 0.8 * LINE
    say(page, LEFT, y, "At the end of each leg", face="bold")
    say(page, LEFT + L_EXPECTED, y, "should read", face="bold", align="right")
    say(page, LEFT + L_BOX + 4, y, "reads")
    if leak:
        say(page, LEFT + L_LEAK, y, "leak below", face="bold", align="right")
    say(page, LEFT + L_ACT, y, "act below", face="bold", align="right")
    say(page, LEFT + L_TIME + 2, y, "time")
    page.across(flow.y + HEAD - 1.5, 1.4)
    flow.y += HEAD


def _leg_lines(row: LegRow) -> list[tuple[str, fonts.Face]]:
    name = f"{row.number} {row.name}" if row.name else ""
    if row.no_change:
        name = f"{name}: NO CHANGE"
    when = f"{row.when} · {row.cylinder}"
    found: list[tuple[str, fonts.Face]] = [(text, "bold") for text in lines_of(name, L_NAME, "bold")]
    found += [(text, "bold") for warning in row.warnings for text in lines_of(warning, L_NAME, "bold")]
    return [*found, *((text, "regular") for text in lines_of(when, L_NAME))]


def _leg(page: Page, top: float, row: LegRow, texts: list[tuple[str, fonts.Face]], high: float) -> None:
    y = top + _first(high, len(texts))
    for number, (text, face) in enumerate(texts):
        say(page, LEFT, y + number * LINE, text, face=face)
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
        say(page, LEFT + L_LEAK, top + _first(high, lines) + LINE, row.leak_a_minute, align="right")
    figure(page, LEFT + L_ACT, line, _shown(row.act))


def _shown(text: str) -> str:
    """Nothing in place of a dash: where a figure does not apply, its column stays empty."""
    return "" if text == figures.NONE else text


def _actions(flow: Flow, front: Front) -> None:
    flow.need(LINE * len(lines_of(RULES, WIDTH)))
    flow.y = paragraph(flow.page, LEFT, flow.y, WIDTH, RULES)
    for text in front.actions:
        verb, _, rest = text.partition(" ")
        flow.need(LINE * len(lines_of(text, WIDTH - 8)))
        flow.y = flow.page.run_in(LEFT, flow.y, WIDTH, verb, rest, SIZE)
