"""A page that says VOID, in the place of an older card: so that none lies there that a later plan has overtaken."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Final

from planner import figures
from planner.package_file import edition
from planner.pages.drawing import fonts
from planner.pages.drawing.flow import PageFlow
from planner.pages.drawing.layout import BODY_BOTTOM, LEFT, TOP, WIDTH, Page
from planner.pages.drawing.lines import leading, wrap
from planner.pages.pack import Paper, render
from planner.report.old_card import VOID, OldCard

_MOST_REASONS: Final = 12
SIZE: Final = 12.0


def void_bytes(old: OldCard, reasons: Sequence[str], *, issued: datetime, paper: Paper) -> bytes:
    """The page, as the bytes of a PDF. `reasons`: why the card must not be used any more."""
    flow = PageFlow("Void", lambda page, again: _head(page, old, again=again))
    for text in (*reasons[:_MOST_REASONS], *([f"And {len(reasons) - _MOST_REASONS} more."] * (len(reasons) > 12))):
        shown = fonts.showable(text)
        flow.need(leading(SIZE) * len(wrap(shown, "regular", SIZE, WIDTH - 8)) + 4)
        flow.y = flow.page.paragraph(LEFT + 4, flow.y, WIDTH - 8, shown, size=SIZE) + 4
    for number, page in enumerate(flow.pages, start=1):
        page.foot(number, len(flow.pages), f"VOID since {figures.date_time(issued)} · {edition()}")
    return render(flow.pages, paper, f"VOID: card {old.number}", keywords=VOID)


def _head(page: Page, old: OldCard, *, again: bool) -> float:
    page.box(LEFT - 5, TOP + 1.5, WIDTH + 10, BODY_BOTTOM - TOP - 6.0, 4.0)
    page.text(LEFT + WIDTH / 2, TOP + 70, "VOID", size=80, face="wide", align="centre")
    y = TOP + 84
    told = f"Card {old.number}, revision {old.revision}, is not valid any more. Take every copy of it away."
    y = page.paragraph(LEFT + 4, y, WIDTH - 8, told, size=16, face="bold") + 8
    if again:
        return y
    text = "The trip was planned again and there is no card that holds: do not go by an older one. Why:"
    return page.paragraph(LEFT + 4, y, WIDTH - 8, text, size=SIZE, face="bold") + 6
