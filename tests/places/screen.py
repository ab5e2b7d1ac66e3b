"""The figures of the screen."""

from __future__ import annotations

import re
from collections.abc import Iterator

from planner import figures
from tests.places.printed import Said, screen_table
from tests.places.sentences import change_sentences, turning_back, what_if_said
from tests.places.truth import Document, Trip, by_weight, checkpoint_keys

NEEDS = ("Supply", "Planned", "+|reserve", "=|REQUIRED", "Usable", "-|spare", "=|COUNTED", "Margin")
CYLINDERS = ("Supply", "Order", "Size|or label", "Usable", "Gauge", "Start|at least", "In use,|min", "Then")
CHECKPOINTS = ("Leg", "Ends,|min", "Clock", "Source", "Start", "End", "Least", "Left,|min")
WHATIFS = ("What if", "(! must hold)", "Supply", "Lasts past the end,|reserve and spare spent")
"""Heads of the tables, a bar where one goes on below."""


def screen(trip: Trip) -> Iterator[Said]:
    text, document = trip.printed.screen, trip.printed.document
    place = "screen"
    supplies = [name for name, supply in document["supplies"].items() if supply["gas"] and name not in pipelines(text)]
    rows = screen_table(text, NEEDS, "Planned")
    columns = {"planned": "Planned", "reserve": "+|reserve", "required": "=|REQUIRED", "usable": "Usable"}
    for name, row in zip(supplies, rows, strict=True):
        yield from (Said(figure, (name,), place, row[head]) for figure, head in columns.items())
        yield Said("have", (name,), place, row["=|COUNTED"])
        if row["Margin"] != figures.NONE:
            yield Said("margin", (name,), place, row["Margin"])
    yield from _screen_cylinders(text, document, place)
    yield from _screen_checkpoints(trip, place)
    told = screen_table(text, WHATIFS, "What if")
    for number, (row, truth) in enumerate(zip(told, by_weight(document["whatifs"]), strict=True), start=1):
        yield Said("must hold", (number,), place, "yes" if row["What if"].startswith("!") else "no")
        yield Said("holds", (number,), place, "yes" if row["What if"].endswith("ok") else "no")
        for said in what_if_said(number, truth, row[WHATIFS[-1]], place):
            yield said._replace(figure=said.figure.replace("clock", "narrow clock"))
    yield from turning_back(" ".join(text.split()), place)
    yield from change_sentences(document, " ".join(text.split()), place)
    flat = " ".join(text.split())
    counts = re.search(r"Full cylinders that would do \(with spare\): (.*?)\. ", flat)
    for part in counts[1].split("; ") if counts else ():
        if found := re.fullmatch(r"(\S+) (\d+) x (\S+)(?: \((.*)\))?", part):
            yield Said("count", (found[1], found[3]), place, found[2])
            mass = [piece for piece in (found[4] or "").split(", ") if piece.endswith(" kg")]
            yield Said("mass", (found[1], found[3]), place, mass[0] if mass else figures.NONE)


def pipelines(text: str) -> list[str]:
    return re.findall(r"^  (\S+): pipeline,", text, re.MULTILINE)


def _screen_cylinders(text: str, document: Document, place: str) -> Iterator[Said]:
    rows = iter(screen_table(text, CYLINDERS, "Usable"))
    for name, supply in document["supplies"].items():
        labels = supply["start_at_least_psi"]
        if not labels:
            continue
        turns = supply["order"]
        left = [label for label in labels if label not in {turn["cylinder"] for turn in turns}]
        for number in range(1, len(turns) + len(left) + 1):
            row = next(rows)
            label = row["Order"].partition(". ")[2]
            assert row["Order"].startswith(f"{number}. ")
            yield Said("start at least", (name, label), place, row["Start|at least"])
            yield Said("cylinder usable", (name, label), place, row["Usable"])
            if number > len(turns):
                continue
            yield Said("gauge at the start of a turn", (name, number), place, row["Gauge"])
            if not any(turn["cylinder"] == label for turn in turns[: number - 1]):
                yield Said("gauge before departure", (name, label), place, row["Gauge"])
            if use := re.fullmatch(r"(\d+) to (\d+)", row["In use,|min"]):
                yield Said("turn begins", (name, number), place, f"{use[1]} min")
                yield Said("turn ends", (name, number), place, f"{use[2]} min")
                yield Said("gauge at the end of a turn", (name, number), place, row["Then"])


def _screen_checkpoints(trip: Trip, place: str) -> Iterator[Said]:
    titles = CHECKPOINTS if trip.departs else tuple(title for title in CHECKPOINTS if title != "Clock")
    rows = iter(screen_table(trip.printed.screen, titles, "Ends,|min"))
    for leg, at, supply in checkpoint_keys(trip.printed.document):
        if at == "end":
            row = next(rows)
            key = (leg, "end", supply)
            yield Said("elapsed", key, place, row["Ends,|min"])
            yield Said("clock", key, place, row.get("Clock", ""))
            yield Said("expected gauge", (leg, "start", supply), place, row["Start"])
            yield Said("expected gauge", key, place, row["End"])
            yield Said("least gauge", key, place, row["Least"])
            left = row["Left,|min"]
            yield Said("minutes left", key, place, left if left == figures.NONE else f"{left} min")
