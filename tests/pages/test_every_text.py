"""Every word on the crew's pages is expected by some hand-written line here: a text that is left out is missed.

The words of a card are counted. They must be those that the lines below ask for, no more and no fewer, so that one text
taken from a page, a head, a caption or a figure without its unit changes the count. What each figure must be is held
elsewhere; here only that it is drawn, as often as it must be read.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from planner.pages.card.card import card_pages
from planner.pages.drawing.layout import Page, TextRun
from planner.planning import plan
from planner.profile.read import parse_trip, read_trip
from planner.report.card.card import Card, card
from planner.report.card.front import Front
from planner.report.card.pauses import Back
from planner.report.card.second import Second
from planner.report.checklist.data import ChangeList, Side
from planner.report.gases import for_paper
from planner.report.minutes_table import MinutesTable
from planner.results import Plan
from tests.pages.printed import SHORTEST, TRIPS
from tests.pages.test_actions import DEVICES, TRIP
from tests.pages.test_crew import NO_GO, large
from tests.test_accepted import reserve, stated

ROOT = Path(__file__).parents[2]
GOOD = ROOT / "tests" / "profiles" / "good"
SHIPPED = (*sorted((ROOT / "profiles").glob("*.yaml")), *sorted((ROOT / "demo").glob("*.yaml")))
NAMES = (
    *(name for name in TRIPS if name not in ("unbroken", "no_go")),
    *(name for path in SHIPPED if (name := f"{path.parent.name}/{path.stem}") not in NO_GO),
    "newborn_on_two_gases",
    "manifold_carried",
    "large",
    "by decision",
    "five actions",
    "own lines",
    "changed",
)
DASH = "-"


@cache
def made(name: str) -> Plan:
    if name in TRIPS:
        return TRIPS[name]()
    if name == "large":
        return large("kPa", long=False)
    if name == "by decision":
        return stated(330.0, reserve(30.0))
    if name == "five actions":
        text = TRIP.replace("DEVICES", DEVICES).replace("USED", "vent, conserver").replace("FLOWN", "vent")
        return plan(parse_trip(text))
    if name == "own lines":
        return plan(read_trip(ROOT / "profiles" / "emergency-to-theatre.yaml"))
    if name == "changed":
        trip = parse_trip(SHORTEST)
        return plan(trip._replace(changes=("cart.A.gauge: 1900 psi to 2000 psi",)))
    path = GOOD / f"{name}.yaml"
    return plan(read_trip(path if path.exists() else ROOT / f"{name}.yaml"))


@cache
def drawn(name: str) -> tuple[Card, tuple[Page, ...]]:
    content = card(for_paper(made(name)))
    return content, tuple(card_pages(content))


def words(texts: Iterator[str]) -> Counter[str]:
    """Every word that is asked for, but for a colon at its end; an empty text and a dash ask for none."""
    return Counter(word.rstrip(":") for text in texts if text != DASH for word in text.split())


def on_pages(pages: tuple[Page, ...]) -> Counter[str]:
    return words(item.text for page in pages for item in page.items if isinstance(item, TextRun))


# What each side must say.


def front_says(front: Front) -> Iterator[str]:
    yield from (
        f"{front.verdict} - {front.not_valid}" if front.not_valid else front.verdict,
        front.route,
        " · ".join(front.facts),
        front.valid,
    )
    yield from (*front.onward, *front.decision, *front.notes)
    yield from ("left at", "released by", "accepted by")
    if front.changed:
        yield from ("Changed for this plan:", "; ".join(front.changed))
    if front.cylinders:
        yield "Cylinders START AT LEAST reads change at or after, if sooner"
    for row in front.cylinders:
        yield from (row.name, row.detail, row.least, row.change_at, row.when)
    yield "At the end of each leg should read reads act below time"
    if any(leg.leak for leg in front.legs):
        yield "leak below Below LEAK: seek a leak or changed setting."
    if any(leg.act not in ("", DASH) for leg in front.legs if "battery of" not in leg.cylinder):
        yield f"Below ACT: make for {'that gas' if front.two_gases else 'oxygen'}, plan again."
    if front.battery_act:
        yield "BATTERY below ACT: plug in; no mains: do as if its device failed, before it is flat."
    for leg in front.legs:
        if leg.name:
            yield f"{leg.number} {leg.name}{': NO CHANGE' if leg.no_change else ''}"
        yield from (*leg.warnings, f"{leg.when} · {leg.cylinder}", leg.expected, leg.leak, leg.leak_a_minute, leg.act)
    yield from actions_say("If it fails", front.actions)
    if front.overleaf:
        yield f"OVERLEAF, what to do {' and '.join(front.overleaf)}."


def actions_say(title: str, actions: tuple[object, ...]) -> Iterator[str]:
    if actions:
        yield from (title, "oxygen lasts beyond the end")
    for action in actions:
        yield from (action.do, action.buys)  # type: ignore[attr-defined]


def back_says(back: Back, trip: str, verdict: str) -> Iterator[str]:
    yield from ("Before leaving", trip, verdict)
    yield from actions_say("If it fails, more", back.actions)
    yield "One reads, the other looks and says what is seen; both initial. A line open: stop."
    for pause in back.pauses:
        yield pause.title
        for line in pause.lines:
            yield f"{line.ask}: {line.answer}" if line.answer else line.ask
    yield from ("Planned flow and settings", "Settings changed: plan again.")
    for setting in back.settings:
        yield from (f"{setting.name}:", setting.set, f"{setting.text}; {setting.draws}")
    if back.cautions:
        yield "Cautions"
    yield from (f"{number}. {text}" for number, text in enumerate(back.cautions, start=1))


def second_says(second: Second, trip: str, verdict: str) -> Iterator[str]:
    yield from ("Changes, arrival, readings", trip, verdict)
    told: dict[tuple[str, ...], int] = {}
    for change in second.changes:
        yield from change_says(change)
        steps = tuple(f"{item.number} {item.ask}: {item.answer}".removesuffix(": ") for item in change.items)
        yield from (f"Steps as in change {told[steps]}.",) if steps in told else steps
        told.setdefault(steps, change.number)
    for each in second.after:
        yield f"{each.title}. {each.note}"
        yield from (f"{item.number} {item.ask}: {item.answer}".removesuffix(": ") for item in each.items)
        yield from (f"{i.ask}: {i.answer}" for i in each.items if each.key == "return" and i.key in ("shut", "bleed"))
    yield second.turn_back
    yield "Other readings should read act below gauge time flow"
    if any(row.leak for row in second.rows):
        yield "leak below"
    for row in second.rows:
        yield from (f"{row.where}, {row.what}", row.expected, row.leak, row.leak_a_minute, row.least)
        yield "filled to" if row.last else ""
    yield from ("cylinder gauge time flow",) * 2


def change_says(change: ChangeList) -> Iterator[str]:
    yield f"{change.number}. {' '.join(filter(None, (change.elapsed, change.clock)))}, {change.leg}"
    yield from (f"{word} {side_says(side)}" for word, side in (("OFF", change.old), ("ON", change.new)) if side)
    yield from change.notes
    if change.by_gauge:
        yield "At this gauge or this time, whichever comes first."
    yield from (blank.title for blank in change.blanks)


def side_says(side: Side) -> str:
    where = f" ({side.supply})" if side.supply not in ("", side.name) else ""
    return f"{side.name}{where}{f' at {side.gauge}' if side.gauge else ''}"


def minutes_say(table: MinutesTable) -> Iterator[str]:
    yield from (table.title, *table.gauges)
    for row in table.rows:
        yield from (row.size, row.supply, row.flow, row.what, *row.minutes)


def card_says(content: Card) -> Iterator[str]:
    assert content.back is not None
    assert content.second is not None
    yield from front_says(content.front)
    yield from back_says(content.back, content.trip, content.verdict)
    yield from second_says(content.second, content.trip, content.verdict)
    if content.minutes is not None:
        yield from minutes_say(content.minutes)


GASES = ("oxygen", "that gas")
AGAIN = (
    "If it fails: see the next page.",
    "More legs, and what to do if it fails: see the next page.",
    *(f"Below LEAK: seek a leak or changed setting. Below ACT: make for {gas}, plan again." for gas in GASES),
    "BATTERY below ACT: plug in; no mains: do as if its device failed, before it is flat.",
    "Cylinders START AT LEAST reads change at or after, if sooner",
    "At the end of each leg should read reads leak below act below time",
    "Other readings should read leak below act below gauge time flow",
    "Before valves are opened, continued",
    "Gas flowing, continued",
    "Before wheels move, continued",
    "Service's own, continued",
    "Planned flow and settings Settings changed: plan again.",
    "Card, continued: Before leaving, continued Changes, arrival, readings, continued",
)
"""What is said again on a further page, or only where one follows."""


@pytest.mark.hazard(21)
@pytest.mark.parametrize("name", NAMES)
def test_the_crews_pages_say_what_they_must_and_every_word_is_asked_for(name: str) -> None:
    content, pages = drawn(name)
    wanted, found = words(card_says(content)), on_pages(pages)
    assert dict(wanted - found) == {}, "asked for and not drawn"
    supplies = Counter(word for leg in content.front.legs if leg.supply for word in f"({leg.supply})".split())
    over = found - wanted - supplies
    if len({page.title for page in pages}) < len(pages):
        again = words(iter((*AGAIN, content.trip, content.verdict, *content.front.onward[:1], *content.front.decision)))
        assert set(over) <= set(again), "drawn and not asked for"
    else:
        assert not over, "drawn and not asked for"


@pytest.mark.hazard(21)
@pytest.mark.parametrize("name", NAMES)
def test_any_one_text_taken_from_a_page_is_missed(name: str) -> None:
    """Each is taken out in turn; on a further page what is said again may go unmissed, and nothing else."""
    content, pages = drawn(name)
    wanted, found = words(card_says(content)), on_pages(pages)
    texts = [item.text for page in pages for item in page.items if isinstance(item, TextRun)]
    unmissed = [text for text in texts if not wanted - (found - words(iter((text,))))]
    again = " ".join((*AGAIN, f"Card, continued: {content.trip}", content.verdict, *content.front.decision))
    assert [text for text in unmissed if text not in again] == []
    if len({page.title for page in pages}) == len(pages):
        assert unmissed == []
