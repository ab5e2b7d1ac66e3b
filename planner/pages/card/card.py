"""The card on paper: two sheets for a go, or a no-go's page of reasons.

A no-go has another face altogether: a framed page without the tables to travel by.
"""

from __future__ import annotations

from planner.pages.card.actions import TITLE as TITLE_FAILS
from planner.pages.card.actions import draw_actions
from planner.pages.card.back import draw_back, draw_cautions, draw_settings
from planner.pages.card.front import draw_front
from planner.pages.card.minutes import draw_minutes, minutes_height
from planner.pages.card.second import draw_second
from planner.pages.drawing import fonts
from planner.pages.drawing.flow import PageFlow
from planner.pages.drawing.layout import BODY_BOTTOM, LEFT, RIGHT, TOP, WIDTH, Page
from planner.pages.drawing.lines import LONGEST_LINE, SMALL, leading, wrap
from planner.report.card.card import Card

TITLE = "Card"
AFTERWARDS = "When mended: plan again, print a new card, destroy this one."


def card_pages(card: Card) -> list[Page]:
    """The pages that a crew carries: two sheets, both sides; of a no-go its reasons alone."""
    if card.back is None or card.second is None:
        return _no_go_pages(card)
    front = draw_front(card.front)
    back = draw_back(card.back, card.verdict, card.trip)
    table = card.minutes
    if table is not None and minutes_height(table) <= front.left:
        draw_minutes(front, table)
        table = None
    second = draw_second(card.second, table, card.verdict, card.trip)
    draw_cautions((front, back, second), card.back.cautions)
    return [*front.pages, *back.pages, *second.pages]


def _facts(card: Card) -> str:
    return " · ".join(filter(None, (card.reference, *card.facts)))


def _changes(page: Page, card: Card, y: float) -> float:
    """The values that were set on the command line, in full."""
    if not card.changes:
        return y
    return page.run_in(LEFT, y, WIDTH, "Changed for this plan:", "; ".join(card.changes)) + 3


def _no_go_pages(card: Card) -> list[Page]:
    flow = PageFlow(TITLE, lambda page, again: _no_go_head(page, card, again), bottom=BODY_BOTTOM - 22)
    _reasons(flow, card)
    _balance(flow, card)
    draw_settings(flow, card.settings)
    draw_actions(flow, TITLE_FAILS, card.actions)
    flow.need(28)
    y = flow.bottom - 8
    flow.page.text(LEFT + WIDTH / 2, y, AFTERWARDS, size=13.2, face="bold", align="centre", room=WIDTH)
    return flow.pages


def _no_go_head(page: Page, card: Card, again: bool) -> float:
    """A heavy frame round the page, hatched bands, and NO-GO across its whole width."""
    page.box(LEFT - 5, TOP + 1.5, WIDTH + 10, BODY_BOTTOM - TOP - 6.0, 4.0)
    hatch(page, BODY_BOTTOM - 18.5, 11)
    hatch(page, TOP + 4.5, 11)
    size = 46.0 if not again else 24.0
    y = TOP + 19 + 0.76 * size
    wide = page.text(LEFT + 4, y, "NO-GO", size=size, face="wide", role="H1")
    told = "DO NOT GO ON AS PLANNED" if card.onward else "DO NOT DEPART ON THIS PLAN"
    page.text(LEFT + wide + 20, TOP + 34, told, size=17, face="bold", room=WIDTH - wide - 24)
    below = TOP + 25 + 0.8 * size
    if not again:
        x = LEFT + wide + 20
        y = page.paragraph(x, TOP + 40, RIGHT - x - 4, card.trip, size=11.0, face="bold")
        below = max(TOP + 69, page.paragraph(x, y, RIGHT - x - 4, _facts(card)) + 2)
    hatch(page, below, 11)
    return below + 18 if again else _changes(page, card, _onward(page, card, below + 18))


def _onward(page: Page, card: Card, y: float) -> float:
    """Which revision this is, what it rests on, and until when the crew can go on, turn back or divert."""
    for number, text in enumerate(card.onward):
        y = page.paragraph(LEFT, y, WIDTH, text, size=11, face="regular" if number else "bold") + 2
    return y


def hatch(page: Page, y: float, high: float) -> None:
    """A band of slanting strokes across the page: no-go, whatever the copier does to the rest."""
    strokes = int((WIDTH - high) / 9.0)
    for number in range(strokes + 1):
        x = LEFT + number * (WIDTH - high) / strokes
        page.rule(x, y + high, x + high, y, 2.6)


def _reasons(flow: PageFlow, card: Card) -> None:
    flow.title_bar("Why, and what would mend it", keep=40)
    room = WIDTH - 26
    size = fonts.critical_size_pt()
    for number, reason in enumerate(card.reasons, start=1):
        why = wrap(reason.text, "bold", size, room)
        mend = wrap(f"Mend: {reason.fix}", "regular", size, room) if reason.fix else []
        flow.need((len(why) + len(mend)) * leading(size) + 6)
        page, y = flow.page, flow.y
        page.text(LEFT + 16, y + 0.85 * leading(size), f"{number}", size=size, face="bold", align="right")
        y = page.paragraph(LEFT + 24, y, room, reason.text, size=size, face="bold")
        if mend:
            y = page.paragraph(LEFT + 24, y, room, f"Mend: {reason.fix}", size=size)
        flow.y = y + 6


BALANCE_NOTE = (
    "* usable above change-over, of what the outlets can give, spare left out. "
    "Full cylinders: so many, all of one size."
)
B_REQUIRED, B_HAVE, B_MARGIN = 250.0, 330.0, 344.0


def _balance(flow: PageFlow, card: Card) -> None:
    flow.title_bar("Need and means", keep=50)
    page, y = flow.page, flow.y + 8
    page.text(LEFT, y, "supply")
    page.text(LEFT + B_REQUIRED, y, "required", align="right")
    page.text(LEFT + B_HAVE, y, "counted *", align="right")
    page.text(LEFT + B_MARGIN, y, "short or to spare")
    flow.y += 11
    for row in card.balance:
        full = f"Full cylinders for a go: {row.full}."
        name, margin = wrap(row.supply, "bold", 11, 180), wrap(row.margin, "bold", 11, WIDTH - B_MARGIN)
        high = 17 + (max(len(name), len(margin)) - 1) * leading(11)
        flow.need(high + 2 + (leading(11) * len(wrap(full, "regular", 11, WIDTH)) if row.full else 0.0))
        page, y = flow.page, flow.y + 14
        for x, lines in ((LEFT, name), (LEFT + B_MARGIN, margin)):
            page.lines(x, y, lines, size=11, face="bold")
        page.figure(LEFT + B_REQUIRED, y, row.required, align="right")
        page.figure(LEFT + B_HAVE, y, row.have, align="right")
        flow.y += high
        if row.full:
            flow.y = page.paragraph(LEFT, flow.y, WIDTH, full, size=11)
        page.across(flow.y + 1, 0.4)
        flow.y += 2
    flow.y = flow.page.paragraph(LEFT, flow.y, LONGEST_LINE * SMALL, BALANCE_NOTE) + 6
