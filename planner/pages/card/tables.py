"""The two tables that a crew travels by: cylinders in their order, and legs with checkpoints."""

from __future__ import annotations

from planner.pages.drawing import fonts
from planner.pages.drawing.flow import Flow
from planner.pages.drawing.layout import LEFT, RIGHT, WIDTH, Page
from planner.pages.drawing.lines import SMALL, cut, leading, wrap
from planner.pages.drawing.spacing import Spacing
from planner.report.card.data import Card, LegBlock, OrderRow, Point

HEAD = 14.5
LEG_LEADING = 1.18
"""Line spacing of the names in a leg, as a share of their size."""


def _base(row: float) -> float:
    """From the top of a row to its baseline."""
    return row / 2 + 4.6


# Cylinders: x of each column from the left margin; right edges of the figures.
O_LABEL, O_SIZE, O_LITRES, O_BOX, O_LEAST, O_STARTS, O_GAUGE, O_ELAPSED, O_CLOCK = (
    28.0, 120.0, 237.0, 242.0, 306.0, 358.0, 416.0, 466.0, 472.0,
)  # fmt: skip
LABEL_ROOM = O_SIZE - O_LABEL - 6
SUPPLY_ROOM = 30.0

WHICHEVER = "Change at the gauge or at the time, whichever comes first. Below ACT BELOW: find why, plan again."


def draw_order(flow: Flow, card: Card) -> None:
    """Cylinders in their order, a heavy rule between supplies: least gauge to leave with, and when to change."""
    row_high = flow.spacing.row
    if card.order:
        flow.need(HEAD + row_high)
        top = _order_head(flow)
        told = _told_first(card.order)
        before = card.order[0].supply
        for row in card.order:
            if flow.need(row_high):
                top = _order_head(flow)
            elif row.supply != before:
                flow.page.across(flow.y, 1.4)
            _order_row(flow.page, flow.y, row, row_high, told=row.supply in told and row.number == 1)
            before = row.supply
            flow.y += row_high
            if row is card.order[-1]:
                flow.page.box(LEFT + O_BOX, top, O_LEAST - O_BOX + 4, flow.y - top, 1.6)
        flow.y += 1
    notes = " ".join(((WHICHEVER,) if card.order else ()) + card.order_notes)
    if notes:
        flow.need(len(wrap(notes, "bold", SMALL, WIDTH)) * leading(SMALL) + 2)
        flow.y = flow.page.paragraph(LEFT, flow.y + 1, WIDTH, notes, face="bold")
    flow.y += flow.spacing.gap


def _order_head(flow: Flow) -> float:
    """The head of the table; returns the y below it."""
    page, y = flow.page, flow.y + 10
    page.text(LEFT, y, "Cylinders, in order", size=10, face="bold")
    page.text(LEFT + O_LITRES, y, "usable", align="right")
    page.text(LEFT + O_LEAST, y, "LEAVE AT ≥", face="bold", align="right")
    page.text(LEFT + O_STARTS, y, "starts at", align="right")
    page.text(LEFT + O_GAUGE, y, "CHANGE AT", face="bold", align="right")
    page.text(LEFT + O_ELAPSED, y, "OR AFTER", face="bold", align="right")
    page.text(LEFT + O_CLOCK, y, "clock")
    page.across(flow.y + HEAD - 1.5, 1.4)
    flow.y += HEAD
    return flow.y - 1.5


def _leaves_room(wide: float) -> bool:
    """True where the name of the supply fits behind a label so wide, if need be cut."""
    return LABEL_ROOM - wide >= SUPPLY_ROOM


def _told_first(rows: tuple[OrderRow, ...]) -> set[str]:
    """Supplies behind none of whose labels their name fits: the first row makes room, or numbers would look alike."""
    fits = {row.supply for row in rows if _leaves_room(fonts.width(fonts.clean(row.label), "bold", 13.2))}
    supplies = {row.supply for row in rows}
    return supplies - fits if len(supplies) > 1 else set()


def _order_row(page: Page, top: float, row: OrderRow, high: float, *, told: bool) -> None:
    """One cylinder. Where `told`, its label makes room for the name of its supply."""
    y = top + _base(high)
    if row.least:
        page.tick(LEFT + 1, y, f"card.least.{row.supply}.{row.label}", f"{row.label} reads at least {row.least}", 10)
    page.text(LEFT + O_LABEL - 4, y, str(row.number), size=10, align="right")
    room = LABEL_ROOM - (SUPPLY_ROOM if told else 0.0)
    wide = page.text(LEFT + O_LABEL, y, row.label, size=13.2, face="bold", room=room)
    if _leaves_room(wide):
        page.text(LEFT + O_LABEL + wide + 5, y, row.supply, room=LABEL_ROOM - wide - 2)
    page.text(LEFT + O_SIZE, y, row.size, room=O_LITRES - O_SIZE - 41)
    page.figure(LEFT + O_LITRES, y, row.usable, face="regular", align="right")
    page.figure(LEFT + O_LEAST, y, row.least, size=14.5, align="right")
    page.figure(LEFT + O_STARTS, y, row.starts, face="regular", align="right")
    page.figure(LEFT + O_GAUGE, y, row.change_gauge, align="right")
    page.figure(LEFT + O_ELAPSED, y, row.elapsed, align="right")
    if row.clock:
        page.figure(LEFT + O_CLOCK, y, row.clock)
    if row.then:
        page.text(RIGHT, y, row.then, align="right", size=10, room=RIGHT - LEFT - O_GAUGE - 6)
    page.across(top + high, 0.4)


# Legs: x of each column from the left margin.
L_NAME, L_AT, L_ELAPSED, L_CLOCK, L_CYLINDER, L_GAUGE, L_BLANK, L_LEAST = (
    17.0, 186.0, 262.0, 268.0, 334.0, 424.0, 430.0, WIDTH,
)  # fmt: skip
NAME_ROOM = L_AT - L_NAME - 8
BLANK = 50.0


def draw_legs(flow: Flow, card: Card) -> None:
    """Each leg with source and outlets, and at each checkpoint the gauge expected and a blank for the real one."""
    flow.need(HEAD + 40)
    _legs_head(flow)
    for block in card.legs:
        high = _leg_height(block, flow.spacing)
        if flow.need(high):
            _legs_head(flow)
        _leg(flow.page, flow.y, block, high, flow.spacing)
        flow.y += high
    flow.y += flow.spacing.gap


def _leg_height(block: LegBlock, spacing: Spacing) -> float:
    lines = 1.5 + sum(LEG_LEADING * size for _, size, _ in _leg_lines(block, spacing))
    return max(spacing.row * len(block.points), lines) + 1.0


def _leg_lines(block: LegBlock, spacing: Spacing) -> list[tuple[str, float, fonts.Face]]:
    name = wrap(block.name, "bold", 10, NAME_ROOM, 2)
    source = wrap(block.source, "regular", SMALL, NAME_ROOM, spacing.source)
    lines: list[tuple[str, float, fonts.Face]] = [(line, 10.0, "bold") for line in name]
    if block.magnet:
        lines += [(line, SMALL, "bold") for line in wrap(block.magnet, "bold", SMALL, NAME_ROOM)]
    if block.no_change:
        lines.append(("NO CHANGE of cylinder", SMALL, "bold"))
    lines += [(line, SMALL, "regular") for line in source]
    return lines


def _legs_head(flow: Flow) -> None:
    page, y = flow.page, flow.y + 10
    page.text(LEFT, y, "Legs, source, outlet", size=10, face="bold")
    page.text(LEFT + L_ELAPSED, y, "after", align="right")
    page.text(LEFT + L_CYLINDER, y, "cyl.")
    page.text(LEFT + L_GAUGE, y, "SHOULD READ", face="bold", align="right")
    page.text(LEFT + L_BLANK, y, "reads")
    page.text(LEFT + L_LEAST, y, "ACT BELOW", face="bold", align="right")
    page.across(flow.y + HEAD - 1.5, 1.4)
    flow.y += HEAD


def _leg(page: Page, top: float, block: LegBlock, high: float, spacing: Spacing) -> None:
    page.text(LEFT + 13.5, top + 11, str(block.number), size=11, face="bold", align="right")
    y = top + 0.8
    for text, size, face in _leg_lines(block, spacing):
        page.text(LEFT + L_NAME, y + 0.97 * size, text, size=size, face=face)
        y += LEG_LEADING * size
    row_high = spacing.row
    first = top + max(0.0, high - 1.0 - row_high * len(block.points))
    if block.no_change:
        page.rule(LEFT + L_AT - 4, top + 1.5, LEFT + L_AT - 4, top + high - 1.5, 3.0)
    for row, point in enumerate(block.points):
        _point(page, first + row * row_high + 0.5, point, row_high)
    page.across(top + high, 0.6)


def _short(point: Point, room: float) -> str:
    """The label, or where it is too long its number, behind the name of the supply where there are several."""
    if not point.short or fonts.width(fonts.clean(point.cylinder), "bold", SMALL) <= room:
        return point.cylinder
    if not point.supply or not point.short.startswith("no."):
        return point.short
    number = point.short.removeprefix("no.")
    supply = cut(fonts.clean(point.supply), "bold", SMALL, room - fonts.width(number, "bold", SMALL))
    return f"{supply}{number}"


def _point(page: Page, top: float, point: Point, high: float) -> None:
    y = top + _base(high)
    page.text(LEFT + L_AT, y, point.at)
    page.figure(LEFT + L_ELAPSED, y, point.elapsed, face="regular", align="right")
    if point.clock:
        page.figure(LEFT + L_CLOCK, y, point.clock)
    if point.gauge == "-":
        page.text(LEFT + L_CYLINDER, y, point.cylinder, size=11, face="bold", room=WIDTH - L_CYLINDER)
        return
    room = L_GAUGE - L_CYLINDER - 58
    page.text(LEFT + L_CYLINDER, y, _short(point, room), size=11, face="bold", room=room)
    page.figure(LEFT + L_GAUGE, y, point.gauge, align="right")
    page.write(LEFT + L_BLANK, top + 1.0, BLANK, high - 2.4, f"card.{point.key}", f"{point.cylinder} reads")
    page.figure(LEFT + L_LEAST, y, point.least, align="right")
