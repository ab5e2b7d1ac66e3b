"""What to do when something fails, on the front and what has no room there overleaf."""

from __future__ import annotations

from planner.pages.drawing.flow import PageFlow
from planner.pages.drawing.layout import LEFT, RIGHT, WIDTH
from planner.pages.drawing.lines import RUN_IN_GAP, run_in_height
from planner.pages.drawing.move import LINE, SIZE, text_line, text_width
from planner.report.card.actions import Action

NEXT = 12.0
"""Between an action and its minutes, points."""
TITLE, MORE = "If it fails", "If it fails, more"
BEYOND = "oxygen lasts beyond the end"


def actions_height(actions: tuple[Action, ...]) -> float:
    """Height of title and actions, points; nothing for none."""
    return LINE + sum(_height(action) for action in actions) if actions else 0.0


def draw_actions(flow: PageFlow, title: str, actions: tuple[Action, ...]) -> None:
    """Each action with its minutes at the right margin, or run on where it is long."""
    if not actions:
        return
    flow.need(actions_height(actions))
    text_line(flow.page, LEFT, flow.y + 0.8 * LINE, title, face="bold", role="H2")
    text_line(flow.page, RIGHT, flow.y + 0.8 * LINE, BEYOND, face="bold", align="right")
    flow.y += LINE
    for action in actions:
        verb, _, rest = action.do.partition(" ")
        if _on_one_line(action):
            flow.page.run_in(LEFT, flow.y, WIDTH, verb, rest, SIZE)
            text_line(flow.page, RIGHT, flow.y + 0.8 * LINE, action.buys, face="bold", align="right")
            flow.y += LINE
        else:
            flow.y = flow.page.run_in(LEFT, flow.y, WIDTH, verb, _run_on(action), SIZE)


def _run_on(action: Action) -> str:
    """What stands behind the verb where the minutes have no place of their own."""
    return ": ".join(filter(None, (action.do.partition(" ")[2], action.buys)))


def _on_one_line(action: Action) -> bool:
    verb, _, rest = action.do.partition(" ")
    wide = text_width(verb, "bold") + RUN_IN_GAP + text_width(rest, "regular") + NEXT + text_width(action.buys, "bold")
    return wide <= WIDTH


def _height(action: Action) -> float:
    verb, _, _ = action.do.partition(" ")
    return LINE if _on_one_line(action) else run_in_height(verb, _run_on(action), WIDTH, SIZE)
