"""Nomograms on paper: upright scales with their marks, and an example drawn lightly."""

from __future__ import annotations

from datetime import datetime

from planner.pages.drawing import fonts
from planner.pages.drawing.head import draw_head
from planner.pages.drawing.layout import BODY_BOTTOM, LEFT, WIDTH, Align, Page
from planner.pages.drawing.lines import LONGEST_LINE, SMALL, leading, wrap
from planner.report.chart.graduation import Mark
from planner.report.chart.nomogram import Nomogram
from planner.results import Plan

TITLE = "Nomogram: gauge, flow, minutes"
SCALE = 518.0
"""Length of the scales, points."""
NOTE = (
    "Lay a straight edge from the gauge to the flow that really runs; read the minutes where it crosses the middle "
    "scale, down to the next mark. They last to change-over and keep no reserve. Of a blend, take the oxygen that the "
    "device draws from the cylinder, not the flow to the patient. Flow or setting changed: plan again."
)
MANY = "every one of this size, named on the sheet"
MOST_ON_A_PAGE = 3
GAP = 18.0
WIDEST = 330.0
LEFT_FIGURES, RIGHT_FIGURES = 34.0, 26.0
TICKS = (9.0, 6.0, 4.0, 2.5)
WEIGHTS = (0.9, 0.6, 0.5, 0.4)
HALF_FIGURE = 0.729 / 2
"""Half the height of a figure, as a share of its size: a figure stands level with its mark."""


def nomogram_pages(plan: Plan, diagrams: tuple[Nomogram, ...], issued: datetime | None = None) -> list[Page]:
    """The pages of the nomograms, up to three diagrams on each."""
    pages = []
    sheets = -(-len(diagrams) // MOST_ON_A_PAGE)
    each = -(-len(diagrams) // sheets) if sheets else 0
    for number in range(sheets):
        page = Page(TITLE, None if number else TITLE)
        y = draw_head(page, plan, TITLE, bool(number), issued)
        y = page.paragraph(LEFT, y, LONGEST_LINE * SMALL, NOTE) + 6
        here = diagrams[number * each : (number + 1) * each]
        wide = (WIDTH - (len(here) - 1) * GAP) / len(here)
        for place, diagram in enumerate(here):
            _draw(page, diagram, LEFT + place * (wide + GAP), y, wide)
        pages.append(page)
    return pages


def _draw(page: Page, diagram: Nomogram, x: float, y: float, wide: float) -> None:
    page.rule(x, y, x + wide, y, 1.4)
    used = page.text(x, y + 15, diagram.size, size=fonts.critical_size_pt(), face="bold", room=wide)
    foot = BODY_BOTTOM - 18
    room = int((foot - SCALE - 18 - y - 6.5) / leading(SMALL)) - len(wrap(diagram.assumes, "regular", SMALL, wide))
    named = len(wrap(diagram.cylinders, "regular", SMALL, wide - used - 6)) <= room
    below = page.paragraph(x + used + 6, y + 6.5, wide - used - 6, diagram.cylinders if named else MANY)
    page.paragraph(x, max(y + 18, below), wide, diagram.assumes)
    across = min(WIDEST, wide - LEFT_FIGURES - RIGHT_FIGURES)
    left = x + LEFT_FIGURES + (wide - LEFT_FIGURES - RIGHT_FIGURES - across) / 2
    middle, right = left + across * diagram.middle, left + across
    head = foot - SCALE - 8
    page.text(left, head, f"gauge, {diagram.unit}", face="bold", align="centre")
    page.text(middle, head, "minutes", face="bold", align="centre")
    page.text(right, head, "flow, L/min", face="bold", align="centre")
    example = diagram.example
    page.rule(left, foot - SCALE * example.gauge_place, right, foot - SCALE * example.flow_place, 0.5, dashed=True)
    _example(
        page, left, foot - SCALE * example.gauge_place, (example.gauge_place - example.flow_place) * SCALE / across
    )
    _scale(page, left, foot, diagram.gauge, -1)
    _scale(page, middle, foot, diagram.minutes, 1)
    _scale(page, right, foot, diagram.flow, 1)
    page.paragraph(x, foot + 6, wide, f"Example: {example.text}")


def _example(page: Page, left: float, y: float, fall: float) -> None:
    """The word beside the line of the example, on the side from which it turns away; `fall` is its slope."""
    page.text(left + 7, y + fall * 4 - 3 if fall >= 0 else y + fall * 4 + 9.5, "example")


def _scale(page: Page, x: float, foot: float, marks: tuple[Mark, ...], side: int) -> None:
    """One scale: marks and figures to the left (-1) or right (1) of an upright line."""
    page.rule(x, foot, x, foot - SCALE, 1.1)
    align: Align = "right" if side < 0 else "left"
    for mark in sorted(marks, key=_level):  # neighbours of one weight are drawn as one
        tick, weight = TICKS[_level(mark)], WEIGHTS[_level(mark)]
        y = foot - SCALE * mark.place
        page.rule(x, y, x + side * tick, y, weight)
    for mark in marks:
        if mark.text:
            y = foot - SCALE * mark.place + HALF_FIGURE * SMALL
            page.text(x + side * (TICKS[0] + 2.5), y, mark.text, align=align)


def _level(mark: Mark) -> int:
    """A mark with a figure is one of the longest."""
    return 0 if mark.text else min(max(mark.level, 1), len(TICKS) - 1)
