"""Settings and what to do on failure, as a no-go shows them."""

from __future__ import annotations

from planner.pages.drawing import fonts
from planner.pages.drawing.flow import PageFlow, title_bar
from planner.pages.drawing.layout import LEFT, WIDTH, Page
from planner.pages.drawing.lines import LONGEST_LINE, SMALL, run_in_height
from planner.report.card.card import Card
from planner.report.card.data import SetDevice


def draw_failures(flow: PageFlow, card: Card) -> None:
    """Settings and what to do on failure across the whole page, each kept whole."""
    for block in (_settings, _failures):
        flow.need(block(Page(""), card, LEFT, 0.0, WIDTH))
        flow.y = block(flow.page, card, LEFT, flow.y, WIDTH)


def _settings(page: Page, card: Card, x: float, y: float, room: float) -> float:
    """Draw the settings; returns the y below."""
    y = title_bar(page, y, "Settings", "Settings changed: plan again.", x, room)
    for setting in card.settings:
        y = _setting(page, setting, x, y, room)
    return y + 3


def _setting(page: Page, setting: SetDevice, x: float, y: float, room: float) -> float:
    """Name and what is set, large, on one line where both fit; below them, small, the rest and what is drawn."""
    large = fonts.critical_size_pt()
    beside = room - fonts.width(fonts.clean(setting.name), "bold", 11) - 8
    one_line = fonts.width(fonts.clean(setting.set), "bold", large) <= beside
    if one_line:
        page.text(x + room, y + 11.5, setting.set, size=large, face="bold", align="right")
    y = page.paragraph(x, y + 0.5, room, setting.name, size=11.0, face="bold")
    if not one_line:
        y = page.paragraph(x, y, room, setting.set, size=large, face="bold")
    return page.paragraph(x, y, room, f"{setting.text}; {setting.draws}", size=SMALL) + 1.5


def _failures(page: Page, card: Card, x: float, y: float, room: float) -> float:
    """Draw what to do on failure; returns the y below."""
    y = title_bar(page, y, "If it fails", "", x, room)
    room = min(room, LONGEST_LINE * SMALL)
    for failure in card.failures:
        page.run_in(x, y, room, failure.title, failure.text)
        y += run_in_height(failure.title, failure.text, room) + 2.0
    return y
