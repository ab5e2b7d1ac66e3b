"""The back of the first sheet: three pauses before leaving, with two boxes for initials each, settings and cautions."""

from __future__ import annotations

from planner.pages.card.actions import MORE, draw_actions
from planner.pages.drawing.flow import TITLE_HEIGHT, PageFlow
from planner.pages.drawing.layout import LEFT, RIGHT, TOP, WIDTH, Page
from planner.pages.drawing.lines import LONGEST_LINE, leading, wrap
from planner.pages.drawing.move import LINE, SIZE, TICK, lines_of, paragraph, text_line, text_width
from planner.report.card.pauses import Back, Pause, PauseLine
from planner.report.card.settings import SetDevice

TITLE = "Before leaving"
HOW = "One reads, the other looks and says what is seen; both initial. A line open: stop."
ROW = TICK + 1.0
BOX_GAP = 3.0
ROOM = WIDTH - 2 * TICK - BOX_GAP - 6
NOTE = 11.0
"""Type size of what is read at rest, points."""
PROSE = LONGEST_LINE * NOTE
"""Length of its lines, points."""


def draw_back(back: Back, verdict: str, route: str) -> PageFlow:
    """The back, on one page unless settings are many."""
    flow = PageFlow(TITLE, lambda page, again: _head(page, verdict, route, again))
    draw_actions(flow, MORE, back.actions)
    flow.y = paragraph(flow.page, LEFT, flow.y, WIDTH, HOW)
    for pause in back.pauses:
        _pause(flow, pause)
    draw_settings(flow, back.settings)
    return flow


def _head(page: Page, verdict: str, route: str, again: bool) -> float:
    return draw_card_head(page, f"{TITLE}{', continued' if again else ''}", verdict, route)


def draw_card_head(page: Page, title: str, verdict: str, route: str) -> float:
    """Title, trip and verdict over a heavy rule, the trip wrapped below where it is long; returns the y below."""
    wide = text_line(page, LEFT, TOP + 0.8 * LINE, title, face="bold", role="H1") + 12
    right = page.text(RIGHT, TOP + 0.8 * LINE, verdict, size=13.2, face="wide", align="right") + 12
    y = max(TOP + LINE, page.paragraph(LEFT + wide, TOP + 1, WIDTH - wide - right, route, size=NOTE))
    page.across(y + 1, 2.0)
    return y + 4


def _pause(flow: PageFlow, pause: Pause) -> None:
    flow.need(LINE + 4 + ROW)
    _pause_head(flow, pause.title)
    for line in pause.lines:
        texts = lines_of(_text(line), ROOM)
        high = max(ROW, LINE * len(texts) + 3)
        if flow.need(high):
            _pause_head(flow, f"{pause.title}, continued")
        page = flow.page
        y = flow.y + (high - LINE * len(texts)) / 2 + 0.8 * LINE
        _line(page, y, line, texts)
        for place, who in enumerate(("first", "second")):
            x = RIGHT - TICK - (1 - place) * (TICK + BOX_GAP)
            page.write(x, flow.y + 0.5, TICK, TICK, f"{line.key}.{who}", f"{_text(line)}: initials, {who}")
        flow.y += high
        page.rule(LEFT, flow.y, LEFT + ROOM, flow.y, 0.3)


def _text(line: PauseLine) -> str:
    return f"{line.ask}: {line.answer}" if line.answer else line.ask


def _line(page: Page, y: float, line: PauseLine, texts: list[str]) -> None:
    """Challenge in the normal weight, response in bold; a line that wraps stays normal."""
    if len(texts) == 1 and line.answer:
        wide = text_line(page, LEFT, y, f"{line.ask}: ") + 4
        fits = wide + text_width(line.answer, "bold") <= ROOM
        text_line(page, LEFT + wide, y, line.answer, face="bold" if fits else "regular")
        return
    page.lines(LEFT, y, texts, size=SIZE)


def _pause_head(flow: PageFlow, title: str) -> None:
    text_line(flow.page, LEFT, flow.y + 0.8 * LINE + 1, title, face="bold", role="H2")
    flow.page.across(flow.y + LINE + 2, 1.4)
    flow.y += LINE + 4


def draw_settings(flow: PageFlow, settings: tuple[SetDevice, ...]) -> None:
    """Name and what is set on one line where both fit; below them the rest and what is drawn."""
    for number, setting in enumerate(settings):
        note = f"{setting.text}; {setting.draws}"
        wide = text_width(f"{setting.name}: ", "bold") + text_width(setting.set, "bold")
        titles = [*lines_of(f"{setting.name}:", WIDTH, "bold"), *lines_of(setting.set, WIDTH, "bold")]
        high = LINE * ((1 if wide <= WIDTH else len(titles)) + len(lines_of(note, WIDTH)))
        if flow.need(high + 1 + (0.0 if number else LINE + 4)) or not number:
            _settings_head(flow)
        page, y = flow.page, flow.y
        if wide <= WIDTH:
            x = text_line(page, LEFT, y + 0.8 * LINE, f"{setting.name}:", face="bold") + 4
            text_line(page, LEFT + x, y + 0.8 * LINE, setting.set, face="bold")
            y += LINE
        else:
            y = paragraph(page, LEFT, y, WIDTH, f"{setting.name}:", "bold")
            y = paragraph(page, LEFT, y, WIDTH, setting.set, "bold")
        flow.y = paragraph(page, LEFT, y, WIDTH, note) + 1


def _settings_head(flow: PageFlow) -> None:
    text_line(flow.page, RIGHT, flow.y + 0.8 * LINE + 1, "Settings changed: plan again.", align="right")
    _pause_head(flow, "Planned flow and settings")


def draw_cautions(flows: tuple[PageFlow, ...], cautions: tuple[str, ...]) -> None:
    """Every caution in full, on the first of the sides that has room for all of them; else on the last, and on."""
    if not cautions:
        return
    texts = [f"{number}. {text}" for number, text in enumerate(cautions, start=1)]
    high = TITLE_HEIGHT + 6 + sum(_height(text) for text in texts)
    flow = next((flow for flow in flows if high <= flow.left), flows[-1])
    flow.y += 4
    flow.title_bar("Cautions", keep=2 * leading(NOTE))
    for text in texts:
        flow.need(_height(text))
        flow.y = flow.page.paragraph(LEFT, flow.y, PROSE, text, size=NOTE) + 1


def _height(text: str) -> float:
    return len(wrap(text, "regular", NOTE, PROSE)) * leading(NOTE) + 1
