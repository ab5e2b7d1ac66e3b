"""The head of every page behind the card: title, trip and verdict."""

from __future__ import annotations

from planner.pages.drawing.layout import LEFT, RIGHT, TOP, WIDTH, Page
from planner.report import words
from planner.results import Plan


def draw_head(page: Page, plan: Plan, title: str, again: bool) -> float:
    """Title, trip and verdict over a heavy rule; `again` on a page that continues. Returns the y below."""
    title = f"{title}{', continued' if again else ''}"
    right = page.text(RIGHT, TOP + 13, words.verdict(plan), size=14, face="wide", align="right")
    wide = page.text(LEFT, TOP + 13, title, size=14, face="bold")
    page.text(LEFT + wide + 14, TOP + 13, plan.trip.name, size=10, room=WIDTH - wide - right - 28)
    page.across(TOP + 18, 2.0)
    return TOP + 22
