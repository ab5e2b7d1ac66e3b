"""The lower part of the card: minutes left, settings, failures, no-change stretches and lines to tick."""

from __future__ import annotations

from planner.pages.drawing import fonts
from planner.pages.drawing.flow import TITLE_HEIGHT, Flow, title_bar
from planner.pages.drawing.layout import LEFT, RIGHT, WIDTH, Page
from planner.pages.drawing.lines import SMALL, leading, run_in_height, wrap
from planner.report.card.data import Card, Setting

GUTTER = 14.0
TURN_BACK = "Turn back or divert:"
HOLDS = 212.0
HEAD = 16.5
M_SIZE, M_FLOW, M_WHAT = 78.0, 140.0, 144.0
M_SIDE = 196.0


def draw_minutes(flow: Flow, card: Card) -> None:
    """Minutes left in one cylinder: gauges across, sizes and flows down the side."""
    table = card.minutes
    if table is None:
        return
    step = (WIDTH - M_SIDE) / len(table.gauges)

    def head() -> None:
        page, y = flow.page, flow.y + 11.5
        page.text(LEFT, y, table.title, size=10, face="bold", room=M_SIDE - 2)
        for column, gauge in enumerate(table.gauges, start=1):
            page.figure(LEFT + M_SIDE + column * step, y, gauge, align="right")
        page.across(flow.y + HEAD - 1.5, 1.4)
        flow.y += HEAD

    high = flow.spacing.minutes_row
    flow.need(HEAD + 2 * high)
    head()
    for row in table.rows:
        if flow.need(high):
            head()
        page, y = flow.page, flow.y + high / 2 + 4.4
        wide = page.text(LEFT, y, row.size, size=10, room=M_SIZE)
        flow_wide = page.figure(LEFT + M_FLOW, y, row.flow, align="right")
        if row.supply:
            page.text(LEFT + wide + 5, y, row.supply, room=M_FLOW - flow_wide - wide - 9)
        page.text(LEFT + M_WHAT, y, row.what, room=M_SIDE - M_WHAT)
        for column, minutes in enumerate(row.minutes, start=1):
            page.figure(LEFT + M_SIDE + column * step, y, minutes, face="regular", align="right")
        page.across(flow.y + high - 0.5, 0.4)
        flow.y += high
    flow.y += flow.spacing.gap


def draw_failures(flow: Flow, card: Card) -> None:
    """Settings and what to do on failure across the whole page."""
    flow.need(_settings(None, card, LEFT, 0, WIDTH))
    flow.y = _settings(flow.page, card, LEFT, flow.y, WIDTH)
    flow.need(_failures(None, card, LEFT, 0, WIDTH))
    flow.y = _failures(flow.page, card, LEFT, flow.y, WIDTH)


def draw_tail(flow: Flow, card: Card) -> None:
    """Settings and failures at the left; lines to tick at the right."""
    room, right = WIDTH - HOLDS - GUTTER, RIGHT - HOLDS

    def left_side(page: Page | None, y: float) -> float:
        return _failures(page, card, LEFT, _settings(page, card, LEFT, y, room), room)

    def right_side(page: Page | None, y: float) -> float:
        return _turn_back(page, card, right, _holds(page, card, right, y, HOLDS, flow.spacing.tick), HOLDS)

    flow.need(max(left_side(None, 0.0), right_side(None, 0.0)))
    flow.y = max(left_side(flow.page, flow.y), right_side(flow.page, flow.y)) + 2


def _settings(page: Page | None, card: Card, x: float, y: float, room: float) -> float:
    """Draw the settings, or only measure them without a page; returns the y below."""
    if page is not None:
        title_bar(page, y, "Settings", "Settings changed: plan again.", x, room)
    y += TITLE_HEIGHT
    for setting in card.settings:
        y = _setting(page, setting, x, y, room)
    return y + 3


def _setting(page: Page | None, setting: Setting, x: float, y: float, room: float) -> float:
    """Name and what is set, large, on one line where both fit; below them, small, the rest and what is drawn."""
    large = fonts.critical_size_pt()
    beside = room - fonts.width(fonts.clean(setting.name), "bold", 11) - 8
    one_line = fonts.width(fonts.clean(setting.set), "bold", large) <= beside
    if page is not None:
        page.text(x, y + 11.5, setting.name, size=11, face="bold", room=room)
        if one_line:
            page.text(x + room, y + 11.5, setting.set, size=large, face="bold", align="right")
    y += 13.5
    if not one_line:
        y = _paragraph(page, x, y, room, setting.set, bold=True, size=large)
    return _paragraph(page, x, y, room, f"{setting.text}; {setting.draws}") + 1.5


def _turn_back(page: Page | None, card: Card, x: float, y: float, room: float) -> float:
    """Until when turning back or diverting keeps the reserve time."""
    if page is not None:
        page.run_in(x, y, room, TURN_BACK, f"{card.turn_back}.")
    return y + run_in_height(TURN_BACK, f"{card.turn_back}.", room)


def _paragraph(
    page: Page | None, x: float, y: float, room: float, text: str, *, bold: bool = False, size: float = SMALL
) -> float:
    face: fonts.Face = "bold" if bold else "regular"
    if page is None:
        return y + len(wrap(text, face, size, room)) * leading(size)
    return page.paragraph(x, y, room, text, size=size, face=face)


def _failures(page: Page | None, card: Card, x: float, y: float, room: float) -> float:
    if page is not None:
        title_bar(page, y, "If it fails", "", x, room)
    y += TITLE_HEIGHT
    for failure in card.failures:
        if page is not None:
            page.run_in(x, y, room, failure.title, failure.text)
        y += run_in_height(failure.title, failure.text, room) + 2.0
    return y


def _holds(page: Page | None, card: Card, x: float, y: float, room: float, step: float) -> float:
    if page is not None:
        title_bar(page, y, "Hold: no departure with one open", "", x, room)
    y += TITLE_HEIGHT
    for hold in card.holds:
        lines = wrap(hold.text, "regular", SMALL, room - 15)
        if page is not None:
            page.tick(x + 0.5, y + 9.2, f"card.hold.{hold.key}", hold.text, 9.0)
            page.paragraph(x + 15, y, room - 15, hold.text)
        y += (len(lines) - 1) * leading(SMALL) + step
    return y + 2
