"""The figures of the calculation sheet, the charts and the nomograms."""

from __future__ import annotations

import re
from collections.abc import Iterator

from planner import figures
from tests.places.printed import Said, Sheet, lines, page_table
from tests.places.sentences import change_sentences, turning_back, what_if_said
from tests.places.truth import Trip, by_weight

CHECKPOINTS = (
    *("Elapsed", "Clock", "Leg", "Supply", "Cylinder", "Flow", "Expected", "Least", "Litres", "Left"),
    "In cylinder",
)
ORDER = ("Supply", "Cylinder", "From", "To", "Gauge then", "Gauge at its end")
COUNTS = ("Supply", "Size", "Usable each", "Full cylinders", "Mass together")
WHATIFS = ("If", "Must hold", "Supply", "Result", "Working")


def sheet(trip: Trip) -> Iterator[Said]:
    pages, place = trip.printed.titled("Calculation"), "sheet"
    yield from _sheet_figures(pages, place)
    numbers: dict[str, int] = {}
    for row in page_table(pages, ORDER, "From"):
        name = row["Supply"]
        numbers[name] = number = numbers.get(name, 0) + 1
        yield Said("turn begins", (name, number), place, row["From"])
        yield Said("turn ends", (name, number), place, row["To"])
        yield Said("gauge at the start of a turn", (name, number), place, row["Gauge then"])
        yield Said("gauge at the end of a turn", (name, number), place, row["Gauge at its end"])
    heads = {
        "elapsed": "Elapsed",
        "clock": "Clock",
        "cylinder in use": "Cylinder",
        "expected gauge": "Expected",
        "least gauge": "Least",
        "litres left": "Litres",
        "minutes left": "Left",
        "minutes left in the cylinder": "In cylinder",
    }
    for row in page_table(pages, CHECKPOINTS, "Elapsed"):
        for at, leg in re.findall(r"(start|end) of (\d+)", row["Leg"]):
            key = (int(leg), at, row["Supply"])
            for figure, head in heads.items():
                text = row[head].removeprefix("AIR ")
                yield Said(figure, key, place, "" if figure == "clock" and text == figures.NONE else text)
            yield Said("flow, worked", key, place, row["Flow"].split(",")[0].removesuffix(" L/min") + " L/min")
    for row in page_table(pages, COUNTS, "Full cylinders"):
        size = (row["Supply"], row["Size"])
        yield Said("usable each", size, place, row["Usable each"])
        yield Said("count", size, place, row["Full cylinders"])
        yield Said("mass", size, place, row["Mass together"])
    truth = by_weight(trip.printed.document["whatifs"])
    for number, (row, one) in enumerate(zip(page_table(pages, WHATIFS, "Must hold"), truth, strict=True), start=1):
        yield Said("must hold", (number,), place, row["Must hold"])
        yield Said("holds", (number,), place, "yes" if row["Result"].startswith("holds") else "no")
        yield from what_if_said(number, one, row["Result"], place)
    text = " ".join(page.text for page in pages)
    yield from turning_back(text, place)
    yield from change_sentences(trip.printed.document, text, place)
    for name, lasts in re.findall(r"[Ss]upply (\S+) lasts (\d+ min) after departure", text):
        yield Said("lasts", (name,), place, lasts)


def charts(trip: Trip) -> Iterator[Said]:
    """The gauge to change at and the clock times, on the charts; the gauge over the nomograms."""
    for page in trip.printed.titled("Readings log"):
        yield from _clocks(page)
    text = " ".join(page.text for page in trip.printed.titled("Readings log"))
    for supply, chart in re.findall(r"Gauge against time: (\S+) (.*?)(?=Gauge against time|$)", text):
        if change := re.search(r"change at (\S+ (?:psi|bar|kPa|MPa))", chart):
            yield Said("change at, highest", (supply,), "chart", change[1])
    for page in trip.printed.titled("Nomogram"):
        told = [line for line in lines(page) if any(re.fullmatch(r"(?!Example)\S+: .+", piece) for piece in line)]
        downs = [line for line in lines(page) if line[0].startswith("Down to ")]
        for names, down in zip(told[-len(downs) :], downs, strict=True):
            cylinders = [piece for piece in names if re.fullmatch(r"(?!Example)\S+: .+", piece)]
            for cylinder, piece in zip(cylinders, down, strict=True):
                for part in cylinder.split("; "):
                    supply, _, labels = part.partition(": ")
                    for label in labels.split(", "):
                        down_to = piece.removeprefix("Down to ").partition(";")[0].strip(".")
                        yield Said("change at", (supply, label), "nomogram", down_to)


def _clocks(page: Sheet) -> Iterator[Said]:
    """Below the axis of each chart: the clock time that stands under a minute."""
    for head in (piece for piece in page.pieces if piece.text == "clock"):
        above = max((one for one in page.pieces if one.text == "min" and one.y > head.y), key=lambda one: -one.y)
        minutes = [one for one in page.pieces if abs(one.y - above.y) < 0.3 and one.text.isdigit()]
        assert minutes
        for one in minutes:
            middle = (one.left + one.right) / 2
            under = [each for each in page.pieces if abs(each.y - head.y) < 0.3 and each.left < middle < each.right]
            yield from (Said("clock of a minute", (f"{one.text} min",), "chart", each.text) for each in under)


def _sheet_figures(pages: tuple[Sheet, ...], place: str) -> Iterator[Said]:
    """The figures of the sections on need and means, under the supply or cylinder that heads them."""
    labels = {
        "Required": "required",
        "Usable": "usable",
        "Without the spare": "without spare",
        "Margin": "margin",
        "Planned": "planned, worked",
        "Reserve": "reserve, worked",
        "Peak flow": "peak flow, worked",
        "Reserve by factor": "reserve by factor",
        "Reserve by time": "reserve by time",
        "Reserve by rise": "reserve by rise",
    }
    supply, cylinder = "", ""
    for page in pages:
        for line in lines(page):
            if head := re.match(r"Supply (\S+?)(?:, cylinder (.+?))?(?:;.*)?$", line[0]):
                supply, cylinder = head[1], head[2] or ""
            figure = labels.get(line[0])
            if figure is None or len(line) < 2 or not supply:
                continue
            if cylinder:
                yield Said("cylinder usable", (supply, cylinder), place, line[-1])
            else:
                yield Said(figure, (supply,), place, line[-1])
