"""Trips that the tests of the pages print, and a reader of the PDFs that looks at positions and ink."""

from __future__ import annotations

import ctypes
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any

import pypdfium2  # type: ignore[import-untyped]
from pypdfium2 import raw

from planner.pages.pack import Paper, pack_bytes
from planner.planning import plan
from planner.profile.read import parse_trip
from planner.results import Plan
from tests import make_plan

MM = 72 / 25.4
ISSUED = datetime(2026, 12, 3, 13, 5)

SHORTEST = """
profile: 1
trip: Ward to scanner
supplies:
  cart:
    cylinders:
      - {label: A, size: US-E, gauge: 2000 psi}
devices:
  cannula: {type: nasal_cannula, flow: 2 L/min}
setting: in_house
legs:
  - {name: Lift, duration: 10 min, supply: cart, devices: [cannula]}
"""


def six_legs() -> Plan:
    """Six legs that change supply every time, four cylinders of three sizes: the fullest card of one page."""
    trip = make_plan.example_trip()
    bay, loading, road, ward = trip.legs
    second = road._replace(name="Road to the second hospital")
    legs = (bay, road, loading, road._replace(name="Ferry crossing, vehicle deck"), ward, second)
    large = make_plan.cylinder("main", 1900, 3.14, "US-H")._replace(outlets=make_plan.MAIN_OUTLETS)
    ambulance = trip.supplies["ambulance"]._replace(cylinders=(large,))
    made = plan(trip._replace(legs=legs, supplies={**trip.supplies, "ambulance": ambulance}))
    assert made.go
    return made


def unbroken() -> Plan:
    """Every name 60 characters without a space, of broad letters: what cannot be wrapped at a space."""

    def name(start: str) -> str:
        return (start + "WERKSTATT" * 7)[:60]

    text = SHORTEST.replace("Ward to scanner", name("TRIP")).replace("name: Lift", f"name: {name('LEG')}")
    text = text.replace("label: A", f"label: {name('CYLINDER')}").replace("cart", name("SUPPLY"))
    return plan(parse_trip(text.replace("cannula:", f"{name('DEVICE')}:").replace("[cannula]", f"[{name('DEVICE')}]")))


TRIPS: dict[str, Callable[[], Plan]] = {
    "example": cache(make_plan.example),
    "no_go": cache(make_plan.no_go),
    "longest": cache(make_plan.longest),
    "six legs": cache(six_legs),
    "shortest": cache(lambda: plan(parse_trip(SHORTEST))),
    "unbroken": cache(unbroken),
}
PAPERS: tuple[Paper, ...] = ("a4", "letter")


@cache
def printed(name: str, paper: Paper = "a4") -> bytes:
    """The pack of one of the trips."""
    return pack_bytes(TRIPS[name](), paper=paper, issued=ISSUED)


@dataclass(frozen=True)
class Ink:
    """A piece of text as it stands on a page: points from the bottom left of the paper. It begins at `x` on `y`.

    `font` is the name of its typeface, without the mark of a subset.
    """

    text: str
    size: float
    left: float
    bottom: float
    right: float
    top: float
    x: float
    y: float
    font: str


@cache
def pages(data: bytes) -> tuple[tuple[Ink, ...], ...]:
    """Every piece of text of every page, with its box of ink as the renderer sees it."""
    found = []
    document = pypdfium2.PdfDocument(data)
    for page in document:
        text_page = page.get_textpage()
        found.append(tuple(_ink(item) for item in page.get_objects([raw.FPDF_PAGEOBJ_TEXT], textpage=text_page)))
    return tuple(found)


def _ink(item: Any) -> Ink:
    left, bottom, right, top = item.get_bounds()
    matrix = item.get_matrix()
    font = item.get_font().get_base_name().rpartition("+")[2]
    return Ink(item.extract(), item.get_font_size(), left, bottom, right, top, matrix.e, matrix.f, font)


@cache
def texts_of(data: bytes) -> tuple[str, ...]:
    """What stands on each page, white space made single."""
    return tuple(" ".join(" ".join(ink.text for ink in page).split()) for page in pages(data))


@dataclass(frozen=True)
class Stroke:
    """A straight stroke as it stands on a page: points from the bottom left of the paper."""

    x1: float
    y1: float
    x2: float
    y2: float
    weight: float


def strokes(data: bytes, page: int) -> list[Stroke]:
    """Every straight stroke of a page, as the renderer reads it: sides of boxes too."""
    document = pypdfium2.PdfDocument(data)
    found = []
    for item in document[page].get_objects([raw.FPDF_PAGEOBJ_PATH]):
        weight, x, y = ctypes.c_float(), ctypes.c_float(), ctypes.c_float()
        raw.FPDFPageObj_GetStrokeWidth(item, weight)
        matrix = item.get_matrix()
        start: tuple[float, float] | None = None
        last: tuple[float, float] | None = None
        for number in range(raw.FPDFPath_CountSegments(item)):
            segment = raw.FPDFPath_GetPathSegment(item, number)
            raw.FPDFPathSegment_GetPoint(segment, x, y)
            point = matrix.on_point(x.value, y.value)
            if raw.FPDFPathSegment_GetType(segment) == raw.FPDF_SEGMENT_MOVETO:
                start = point
            elif last is not None:
                found.append(Stroke(last[0], last[1], point[0], point[1], weight.value))
            last = point
            if raw.FPDFPathSegment_GetClose(segment) and start is not None and start != point:
                found.append(Stroke(point[0], point[1], start[0], start[1], weight.value))
    return found


def page_numbers(data: bytes, title: str) -> list[int]:
    """The pages, from 0, whose head begins with a title."""
    return [
        number for number, page in enumerate(pages(data)) if any(ink.text.strip().startswith(title) for ink in page[:3])
    ]


def bitmap(data: bytes, page: int, dots_per_inch: int = 72) -> Any:
    """A page as a picture in grey."""
    document = pypdfium2.PdfDocument(data)
    return document[page].render(scale=dots_per_inch / 72, grayscale=True).to_pil()
