"""The head of every page behind the card: title, trip and verdict."""

from __future__ import annotations

from datetime import datetime

from planner.pages.drawing.layout import LEFT, RIGHT, TOP, WIDTH, Page
from planner.pages.drawing.lines import leading
from planner.report import words
from planner.results import Plan

HIGH = 22.0
"""Height of a head whose trip stands on one line, points."""


def draw_head(page: Page, plan: Plan, title: str, again: bool, issued: datetime | None) -> float:
    """Title, trip and verdict over a heavy rule; `again` on a page that continues. Returns the y below.

    By `issued` the verdict knows whether readings are too old by now.
    """
    title = f"{title}{', continued' if again else ''}"
    right = page.text(RIGHT, TOP + 13, words.short_verdict(plan, issued), size=14, face="wide", align="right")
    wide = page.text(LEFT, TOP + 13, title, size=14, face="bold", role="H1")
    x = LEFT + wide + 14
    below = page.paragraph(x, TOP + HIGH - leading(10.0) - 4.5, WIDTH - wide - right - 28, plan.trip.name, size=10.0)
    y = max(TOP + HIGH, below + 4.5)
    page.across(y - 4, 2.0)
    return y
