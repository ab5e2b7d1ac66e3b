"""Charts of gauge against time: on a grid, planned line, leak line, least line with teeth, and change line.

The lines differ in weight and dashes, each has its name beside it, and nothing depends on grey.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise

from planner import figures
from planner.pages.drawing import fonts
from planner.pages.drawing.flow import TITLE_HEIGHT, PageFlow
from planner.pages.drawing.labels import Labels
from planner.pages.drawing.layout import BODY_BOTTOM, LEFT, RIGHT, TOP, WIDTH, Page
from planner.pages.drawing.lines import LONGEST_LINE, SMALL, leading, wrap
from planner.report.chart.chart import Chart, TurnLines

NOTE = "Mark each real reading with a cross. "
TOO_FAST = "Below the falling dashed line: too fast for the plan, seek a leak or a changed setting. "
ACT = "Below the heavy line with teeth: act. If you leave late, go by the minutes after departure and not by the clock."
NO_CHANGE = " A bar under a leg: change no cylinder in it."
AXIS_LEFT = 52.0
AXIS_FOOT = 27.0
LEG_BAND, LEG_BASE = 17.0, 8.0
"""Height of the band of legs above a plot, and how far above it they are written: clear of a gauge at its top."""
TALLEST, LOWEST = 330.0, 145.0
FRAME = TITLE_HEIGHT + LEG_BAND + AXIS_FOOT + 12
"""What a chart needs above and below its plot."""
PLANNED, LEAST, CHANGE, LEAK = 1.5, 2.8, 1.3, 1.1
TEETH_APART, TOOTH = 9.0, 5.0
LONGEST_NAME = 60.0
BLANK_TIME = 13.0
CLOSEST_LINES = 6.5


def draw_charts(flow: PageFlow, charts: tuple[Chart, ...]) -> None:
    """Draw the charts below what stands on the page, or on pages of their own."""
    if not charts:
        return
    leak = any(line.leak for chart in charts for line in chart.lines)
    note = NOTE + (TOO_FAST if leak else "") + ACT + (NO_CHANGE if any(leg.no_change for leg in charts[0].legs) else "")
    if flow.left < len(wrap(note, "regular", SMALL, LONGEST_LINE * SMALL)) * leading(SMALL) + 4 + FRAME + LOWEST:
        flow.need(BODY_BOTTOM - TOP)
    flow.y = flow.page.paragraph(LEFT, flow.y, LONGEST_LINE * SMALL, note) + 4
    here, high = 0, 0.0
    for number, chart in enumerate(charts):
        if here == 0:
            flow.need(FRAME + LOWEST)
            here = min(len(charts) - number, int(flow.left // (FRAME + LOWEST)))
            high = min(TALLEST, flow.left / here - FRAME)
        flow.title_bar(f"Gauge against time: {chart.supply}")
        _Plot(flow.page, chart, flow.y + LEG_BAND, high).draw()
        flow.y += high + FRAME - TITLE_HEIGHT
        here -= 1


class _Plot:
    """One chart, its plot from the top `top` and `high` points high."""

    def __init__(self, page: Page, chart: Chart, top: float, high: float) -> None:
        self.page, self.chart, self.top, self.high = page, chart, top, high
        self.left, self.wide = LEFT + AXIS_LEFT, WIDTH - AXIS_LEFT - 8
        self.bottom = top + high

    def x(self, minute: float) -> float:
        return self.left + self.wide * minute / self.chart.minutes.top

    def y(self, gauge: float) -> float:
        return self.bottom - self.high * gauge / self.chart.gauge.top

    def _apart(self, step: float) -> bool:
        """True where lines of the grid so far apart in gauge can be told apart on a copy."""
        return self.high * step / self.chart.gauge.top >= CLOSEST_LINES

    def draw(self) -> None:
        self._grid()
        self._legs()
        self._lines()

    def _grid(self) -> None:
        page, chart = self.page, self.chart
        right = self.left + self.wide
        fine = next((step for step in (chart.gauge.minor, chart.gauge.major / 2) if self._apart(step)), None)
        for axis, step, weight in (
            (chart.minutes, chart.minutes.minor, 0.25),
            (chart.gauge, fine or chart.gauge.major, 0.25),
            (chart.minutes, chart.minutes.major, 0.6),
            (chart.gauge, chart.gauge.major, 0.6),
        ):
            for mark in axis.marks(step):
                if axis is chart.minutes:
                    page.rule(self.x(mark), self.top, self.x(mark), self.bottom, weight)
                else:
                    page.rule(self.left, self.y(mark), right, self.y(mark), weight)
        page.box(self.left, self.top, self.wide, self.high, 1.0)
        *below, highest = chart.gauge.marks(chart.gauge.major)
        for mark in below:
            page.text(self.left - 4, self.y(mark) + 3.2, figures.plain(mark, 3), align="right")
        page.text(self.left - 4, self.y(highest) + 3.2, f"{figures.plain(highest, 3)} {chart.unit}", align="right")
        clocks = dict(chart.clocks)
        for mark in chart.minutes.marks(chart.minutes.major):
            page.text(self.x(mark), self.bottom + 10.5, figures.plain(mark), align="centre")
            text = clocks.get(mark, "")
            half = max(fonts.width(text, "regular", SMALL) / 2, BLANK_TIME)
            middle = min(self.x(mark), RIGHT - half)
            if text:
                page.text(middle, self.bottom + 22, text, align="centre")
            else:
                page.rule(middle - half, self.bottom + 23, middle + half, self.bottom + 23, 0.5)
        page.text(LEFT, self.bottom + 10.5, "min", face="bold")
        page.text(LEFT, self.bottom + 22, "clock", face="bold")

    def _legs(self) -> None:
        page = self.page
        page.text(LEFT, self.top - LEG_BASE, "leg", face="bold")
        for leg in self.chart.legs:
            start, end = self.x(leg.from_min), self.x(leg.to_min)
            page.rule(start, self.top - LEG_BAND + 1, start, self.top, 1.0)
            page.rule(end, self.top - LEG_BAND + 1, end, self.top, 1.0)
            text = f"{leg.number} no change" if leg.no_change else f"{leg.number}"
            if fonts.width(text, "bold", SMALL) > end - start - 4:
                text = f"{leg.number}"
            if fonts.width(text, "bold", SMALL) <= end - start - 2:
                page.text((start + end) / 2, self.top - LEG_BASE, text, face="bold", align="centre")
            if leg.no_change:
                page.rule(start, self.top - 1.2, end, self.top - 1.2, 2.4)

    def _lines(self) -> None:
        page, chart = self.page, self.chart
        right = self.left + self.wide
        planned = self._placed(line.planned for line in chart.lines)
        least = self._placed(piece for line in chart.lines for piece in line.least)
        leak = self._placed(piece for line in chart.lines for piece in line.leak)
        change = [(self.left, self.y(chart.change)), (right, self.y(chart.change))]
        labels = Labels((self.left + 2, self.top + 2, right - 2, self.bottom - 2), [*planned, *least, *leak, change])
        for line, points in zip(chart.lines, planned, strict=True):
            labels.place(f"{_name(line)}: planned", points, above=True)
        if least:
            labels.place("least gauge: below it, ACT", max(least, key=_long), above=False)
        if leak:
            labels.place("below it: LEAK?", max(leak, key=_long), above=False)
        labels.place(chart.change_text, change, above=True, from_right=True)
        for label in labels.placed:
            page.blank(label.left - 1, label.top, label.right - label.left + 2, label.bottom - label.top)
        page.path(change, CHANGE, dashed=True)
        for piece in leak:
            page.path(piece, LEAK, dashed=True)
        for points in planned:
            page.path(points, PLANNED)
        for piece in least:
            page.path(piece, LEAST)
            _teeth(page, piece)
        for label in labels.placed:
            page.text(label.left, label.bottom - 2.4, label.text, face="bold")

    def _placed(self, lines: Iterable[Sequence[tuple[float, float]]]) -> list[list[tuple[float, float]]]:
        return [[(self.x(minute), self.y(gauge)) for minute, gauge in line] for line in lines]


def _long(points: Sequence[tuple[float, float]]) -> float:
    return points[-1][0] - points[0][0]


def _name(line: TurnLines) -> str:
    label = fonts.clean(line.label)
    if fonts.width(label, "bold", SMALL) <= LONGEST_NAME:
        return label
    return "all" if line.number is None else f"no. {line.number}"


def _teeth(page: Page, points: list[tuple[float, float]]) -> None:
    """Short strokes below a line, on the side where to act."""
    x = points[0][0] + TEETH_APART / 2
    for (x1, y1), (x2, y2) in pairwise(points):
        while x1 < x2 and x <= x2:
            if x >= x1:
                y = y1 + (y2 - y1) * (x - x1) / (x2 - x1)
                page.rule(x, y, x - TOOTH * 0.7, y + TOOTH, 0.9)
            x += TEETH_APART
