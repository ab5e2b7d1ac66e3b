"""Every word of the coordinator's pages is expected by some hand-written line here, as on the crew's.

No-go page, checklists, log, charts, nomogram, calculation sheet and the foot of a page: the words that they must say
are counted, so that one text taken from a page is missed.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from functools import cache

import pytest

from planner import __version__, figures
from planner.pages.card.card import card_pages
from planner.pages.chart import draw_charts
from planner.pages.checklist import checklist_pages
from planner.pages.drawing.flow import PageFlow
from planner.pages.drawing.layout import TOP, Page, TextRun
from planner.pages.log import log_pages
from planner.pages.nomogram import SCALE, nomogram_pages
from planner.pages.pack import foot
from planner.pages.sheet import sheet_pages
from planner.planning import plan
from planner.profile.read import parse_trip, read_trip
from planner.report import words as report_words
from planner.report.blocks import Figure, Section, Table, Text
from planner.report.card.card import Card, card
from planner.report.chart.chart import Chart, charts
from planner.report.chart.nomogram import Nomogram, nomograms
from planner.report.checklist.checklist import checklists
from planner.report.checklist.data import Checklist, Checklists
from planner.report.gases import for_paper
from planner.report.log.log import LogPart, log
from planner.report.sheet.sheet import sheet
from planner.results import Plan
from tests.make_plan import no_go
from tests.pages.printed import ISSUED, SHORTEST
from tests.pages.test_crew import NO_GO
from tests.pages.test_every_text import ROOT, actions_say, made, on_pages, words

NAMES = (
    "example",
    "shortest",
    "six legs",
    "large",
    "by decision",
    "manifold_carried",
    "newborn_on_two_gases",
    "profiles/magnet-scan",
    "profiles/long-flight-on-liquid",
    "profiles/home-by-train",
    "profiles/emergency-to-theatre",
    "demo/valley-to-coast",
)


@cache
def planned(name: str) -> Plan:
    if name == "no_go":
        return no_go()
    if name == "no change":
        return for_paper(plan(parse_trip(SHORTEST.replace("duration: 10 min", "duration: 10 min, no_change: true"))))
    return for_paper(plan(read_trip(ROOT / f"{name}.yaml")) if name in NO_GO else made(name))


def head_says(title: str, found: Plan, pages: int) -> Iterator[str]:
    for number in range(pages):
        yield from (f"{title}, continued" if number else title, found.trip.name, report_words.verdict(found))


def no_go_says(content: Card) -> Iterator[str]:
    yield from (
        "NO-GO DO NOT DEPART ON THIS PLAN",
        content.trip,
        " · ".join(filter(None, (content.reference, *content.facts))),
    )
    if content.changes:
        yield from ("Changed for this plan:", "; ".join(content.changes))
    yield "Why, and what would mend it"
    for number, reason in enumerate(content.reasons, start=1):
        yield from (f"{number} {reason.text}", f"Mend: {reason.fix}" if reason.fix else "")
    yield "Need and means supply required counted * short or to spare"
    for row in content.balance:
        yield from (row.supply, row.required, row.have, row.margin)
        yield f"Full cylinders for a go: {row.full}." if row.full else ""
    yield "* usable above change-over, of what the outlets can give, spare left out."
    yield "Full cylinders: so many, all of one size."
    yield "Planned flow and settings Settings changed: plan again."
    for setting in content.settings:
        yield from (f"{setting.name}:", setting.set, f"{setting.text}; {setting.draws}")
    yield from actions_say("If it fails", content.actions)
    yield "When mended: plan again, print a new card, destroy this one."


def checklists_say(found: Plan, lists: Checklists, pages: int) -> Iterator[str]:
    yield from head_says("Checklists", found, pages)
    yield "One reads the line, the other does it and answers; then tick. A line stays open: stop."
    yield "The service's own procedure comes first."
    for each in (*lists.before, *lists.after):
        yield from list_says(each)
    for change in lists.changes:
        yield from (f"Change {change.number} · {change.kind}", change.leg, "after", change.elapsed, change.clock)
        if any(side and side.gauge for side in (change.old, change.new)):
            yield "should read"
        for word, side in (("off", change.old), ("on", change.new)):
            if side:
                yield from (word, side.name, side.supply, side.gauge)
        yield from change.notes
        if change.by_gauge:
            yield "At this gauge off or at this time, whichever comes first."
        yield from (blank.title for blank in change.blanks)
        yield from (text for item in change.items for text in (item.ask, item.answer))


def list_says(each: Checklist) -> Iterator[str]:
    yield from (each.title, each.note)
    yield from dict.fromkeys(item.part for item in each.items)
    yield from (text for item in each.items for text in (str(item.number), item.ask, item.answer))
    yield from (blank.title for blank in (*each.readings, *each.signed))


def log_says(found: Plan, parts: tuple[LogPart, ...], pages: int) -> Iterator[str]:
    yield from head_says("Readings log", found, pages)
    leak = any(row.leak for part in parts for row in part.rows)
    yield "Write the reading, the time and the flow that really runs."
    if leak:
        yield "Below LEAK BELOW, less what each minute later takes off: too fast for the plan,"
        yield "look for a leak or a changed setting."
    air = any(supply.gas == "air" for supply in found.trip.supplies.values())
    more, flowing = ("of that gas", "gas") if air else ("oxygen", "oxygen")
    yield f"Below ACT BELOW before departure: do not leave, plan again. On the way: make for more {more}, plan again."
    yield f"Far above what it should read: look at the patient first; is {flowing} flowing, and from this cylinder?"
    if any("battery" in row.key for part in parts for row in part.rows):
        yield "Of a battery write what it shows: 60 %, 3 of 5, 110 min. Below ACT BELOW on the way: plug in; no mains:"
        yield "do as if its device failed, before the battery is flat, and plan again."
    unit = found.trip.policy.pressure_unit
    for _ in range(pages):
        yield f"after, clock when, where cyl. SHOULD READ ACT BELOW time gauge, {unit} initials"
        yield "LEAK BELOW" if leak else ""
    yield "L/min"
    for part in parts:
        yield part.title
        yield "filled to" if part.rows[0].last else ""
        for row in part.rows:
            yield "where, cyl. filled again" if row.free else ""
            yield from (row.elapsed, row.clock, row.what, row.where, row.cylinder, row.supply, row.expected, row.least)
            yield from (row.leak, row.leak_a_minute)


def nomograms_say(found: Plan, diagrams: tuple[Nomogram, ...], pages: int) -> Iterator[str]:
    yield from head_says("Nomogram: gauge, flow, minutes", found, pages)
    for _ in range(pages):
        yield "Lay a straight edge from the gauge to the flow that really runs; read the minutes where it crosses the"
        yield "middle scale, down to the next mark. They last to change-over and keep no reserve. Of a blend, take the"
        yield "oxygen that the device draws from the cylinder, not the flow to the patient."
        yield "Flow or setting changed: plan again."
    for diagram in diagrams:
        yield from (diagram.size, diagram.cylinders, diagram.assumes)
        yield f"gauge, {diagram.unit} minutes flow, L/min example Example: {diagram.example.text}"
        yield from (mark.text for scale in (diagram.gauge, diagram.minutes, diagram.flow) for mark in scale)


def charts_say(found: tuple[Chart, ...]) -> Iterator[str]:
    """The note, and of each chart its axes, its legs where there is room for a number, and the name of every line."""
    lines = [line for chart in found for line in chart.lines]
    yield "Mark each real reading with a cross."
    if any(line.leak for line in lines):
        yield "Below the falling dashed line: too fast for the plan, seek a leak or a changed setting."
    yield "Below the heavy line with teeth: act."
    yield "If you leave late, go by the minutes after departure and not by the clock."
    yield "A bar under a leg: change no cylinder in it." if any(leg.no_change for leg in found[0].legs) else ""
    for chart in found:
        yield from ("Gauge against time:", chart.supply, chart.unit, "min", "clock", "leg", chart.change_text)
        yield from (str(int(mark)) for axis in (chart.gauge, chart.minutes) for mark in axis.marks(axis.major))
        yield from (clock for minute, clock in chart.clocks if minute % chart.minutes.major == 0.0)
        for leg in chart.legs:
            wide = (leg.to_min - leg.from_min) / chart.minutes.top
            yield f"{leg.number}" if wide > 0.015 else ""
            yield "no change" if leg.no_change and wide > 0.13 else ""
        yield from (f"{line.label}: planned" for line in chart.lines)
        yield "least gauge: below it, ACT" if any(line.least for line in chart.lines) else ""
        yield "below it: LEAK?" if any(line.leak for line in chart.lines) else ""


class _Numbers:
    """The numbers that stand for sources, in the order of their first use."""

    def __init__(self) -> None:
        self.known: dict[str, int] = {}

    def of(self, source: str) -> str:
        if source in ("", "none stated"):
            return source
        return f"[{self.known.setdefault(source, len(self.known) + 1)}]"


def sheet_says(found: Plan, sections: tuple[Section, ...], pages: int) -> Iterator[str]:
    yield from head_says("Calculation sheet", found, pages)
    numbers = _Numbers()
    for section in sections:
        yield section.title
        for block in section.blocks:
            if isinstance(block, Text):
                yield block.text
            elif isinstance(block, Figure):
                yield from (block.label, block.formula, f"= {block.numbers}" if block.numbers else "", block.result)
                yield from (numbers.of(block.source), block.note, "initials" if block.check else "")
            else:
                yield from table_says(block, numbers)
    yield "Sources" if numbers.known else ""
    yield from (f"[{number}] {source};" for source, number in numbers.known.items())


def table_says(table: Table, numbers: _Numbers) -> Iterator[str]:
    if not table.in_lines:
        yield from table.head
    for row in table.rows:
        for title, cell in zip(table.head, row, strict=True):
            yield numbers.of(cell) if title == "Source" else cell
    yield table.note


def pages_of(kind: str, name: str) -> tuple[tuple[Page, ...], Iterator[str]]:
    found = planned(name)
    if kind == "no-go":
        pages = card_pages(card(found))
        return tuple(pages), no_go_says(card(found))
    if kind == "checklists":
        lists = checklists(found)
        pages = checklist_pages(found, lists)
        return tuple(pages), checklists_say(found, lists, len(pages))
    if kind == "log":
        parts = log(found)
        pages = log_pages(found, parts, ())
        return tuple(pages), log_says(found, parts, len(pages))
    if kind == "nomogram":
        diagrams = nomograms(found, SCALE)
        pages = nomogram_pages(found, diagrams)
        return tuple(pages), nomograms_say(found, diagrams, len(pages))
    if kind == "charts":
        flow = PageFlow("Charts", lambda _, __: TOP)
        draw_charts(flow, charts(found))
        return tuple(flow.pages), charts_say(charts(found))
    sections = sheet(found)
    pages = sheet_pages(found, sections)
    return tuple(pages), sheet_says(found, sections, len(pages))


KINDS = [
    *(("no-go", name) for name in ("no_go", *NO_GO)),
    *((kind, name) for kind in ("checklists", "log", "nomogram", "sheet") for name in NAMES),
    *(("sheet", name) for name in NO_GO),
    *(("charts", name) for name in ("example", "no change", "six legs", "profiles/magnet-scan")),
]


def plain(counted: Counter[str]) -> Counter[str]:
    """The same words without the stops at their ends, which lists and wrapped lines set anew; no dashes."""
    found: Counter[str] = Counter()
    for word, count in counted.items():
        found[word.strip(".,;:()")] += count
    return Counter(
        {word: count for word, count in found.items() if word not in ("", figures.NONE) and not PRINT.fullmatch(word)}
    )


PRINT = re.compile(r"[0-9a-f]{8,64}|(?=[a-f]*[0-9])(?=[0-9]*[a-f])[0-9a-f]+")
"""A fingerprint, or a part of one that wraps: looked for as a whole."""


def said_again(name: str) -> set[str]:
    """Heads that stand once more where a list or a table goes on over the page."""
    found = planned(name)
    lists = checklists(found)
    again = {text for each in (*lists.before, *lists.after) for text in (each.title, each.note)}
    again |= {f"{each.title}, continued" for each in (*lists.before, *lists.after)}
    tables = [block for section in sheet(found) for block in section.blocks if isinstance(block, Table)]
    return again | {head for table in tables for head in table.head} | {"L/min", "filled to"}


@pytest.mark.hazard(21)
@pytest.mark.parametrize(("kind", "name"), KINDS)
def test_any_one_text_taken_from_a_page_is_missed(kind: str, name: str) -> None:
    """What a page must say is there; and each text taken out leaves less than that.

    What stands once more where a list or a table goes on over the page may go unmissed there, and nothing else.
    """
    pages, says = pages_of(kind, name)
    wanted, found = plain(words(says)), plain(on_pages(pages))
    assert dict(wanted - found) == {}, "asked for and not drawn"
    texts = [item.text for page in pages for item in page.items if isinstance(item, TextRun)]
    counted = [(text, plain(words(iter((text,))))) for text in texts]
    again = plain(words(iter(said_again(name)))) if len(pages) > 1 else Counter[str]()
    unmissed = [each for _, each in counted if each and not wanted - (found - each)]
    assert [each for each in unmissed if not set(each) <= set(again)] == []
    if kind == "sheet" and planned(name).trip.fingerprint:
        assert planned(name).trip.fingerprint in "".join(texts)


@pytest.mark.hazard(20)
@pytest.mark.parametrize("name", ["example", "shortest"])
def test_any_one_text_taken_from_the_foot_is_missed(name: str) -> None:
    found = planned(name)
    page = Page("Card")
    foot(page, found, ISSUED, 2, 9)
    reference = found.trip.reference or found.trip.name
    said = (
        f"{reference} profile {found.trip.fingerprint[:12]} · issued 3 Dec 2026 13:05 · transport-oxygen {__version__}"
    )
    assert on_pages((page,)) == words(iter((said, "page 2 of 9")))
