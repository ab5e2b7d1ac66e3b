"""Settings and what to do on failure, as a no-go shows them."""

from __future__ import annotations

from planner.pages.drawing import fonts
from planner.pages.drawing.flow import TITLE_HEIGHT, Flow, title_bar
from planner.pages.drawing.layout import LEFT, WIDTH, Page
from planner.pages.drawing.lines import LONGEST_LINE, SMALL, leading, run_in_height, wrap
from planner.report.card.card import Card
from planner.report.card.data import SetDevice


def draw_failures(flow: Flow, card: Card) -> None:
    """Settings and what to do on failure across the whole page."""
    flow.need(_settings(None, card, LEFT, 0, WIDTH))
    flow.y = _settings(flow.page, card, LEFT, flow.y, WIDTH)
    flow.need(_failures(None, card, LEFT, 0, WIDTH))
    flow.y = _failures(flow.page, card, LEFT, flow.y, WIDTH)


def _settings(page: Page | None, card: Card, x: float, y: float, room: float) -> float:
    """Draw the settings, or only measure them without a page; returns the y below."""
    if page is not None:
        title_bar(page, y, "Settings", "Settings changed: plan again.", x, room)
    y += TITLE_HEIGHT
    for setting in card.settings:
        y = _setting(page, setting, x, y, room)
    return y + 3


def _setting(page: Page | None, setting: SetDevice, x: float, y: float, room: float) -> float:
    """Name and what is set, large, on one line where both fit; below them, small, the rest and what is drawn."""
    large = fonts.critical_size_pt()
    beside = room - fonts.width(fonts.clean(setting.name), "bold", 11) - 8
    one_line = fonts.width(fonts.clean(setting.set), "bold", large) <= beside
    if page is not None and one_line:
        page.text(x + room, y + 11.5, setting.set, size=large, face="bold", align="right")
    y = _paragraph(page, x, y + 0.5, room, setting.name, bold=True, size=11.0)
    if not one_line:
        y = _paragraph(page, x, y, room, setting.set, bold=True, size=large)
    return _paragraph(page, x, y, room, f"{setting.text}; {setting.draws}") + 1.5


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
    room = min(room, LONGEST_LINE * SMALL)
    for failure in card.failures:
        if page is not None:
            page.run_in(x, y, room, failure.title, failure.text)
        y += run_in_height(failure.title, failure.text, room) + 2.0
    return y
