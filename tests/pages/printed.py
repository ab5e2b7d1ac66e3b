"""Trips that the tests of the pages print, and a reader of the PDFs that looks at positions and ink."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cache
from typing import Any

import pypdfium2  # type: ignore[import-untyped]
from pypdfium2 import raw

from planner.pages.pack import Paper, pack_bytes
from planner.plan import plan
from planner.profile import parse_trip
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
    second = replace(road, name="Road to the second hospital")
    legs = (bay, road, loading, replace(road, name="Ferry crossing, vehicle deck"), ward, second)
    return plan(replace(trip, legs=legs))


TRIPS: dict[str, Callable[[], Plan]] = {
    "example": make_plan.example,
    "no_go": make_plan.no_go,
    "longest": make_plan.longest,
    "six legs": six_legs,
    "shortest": lambda: plan(parse_trip(SHORTEST)),
}
PAPERS: tuple[Paper, ...] = ("a4", "letter")


@cache
def printed(name: str, paper: Paper = "a4") -> bytes:
    """The pack of one of the trips."""
    return pack_bytes(TRIPS[name](), paper=paper, issued=ISSUED)


@dataclass(frozen=True)
class Ink:
    """A piece of text as it stands on a page: points from the bottom left of the paper."""

    text: str
    size: float
    left: float
    bottom: float
    right: float
    top: float


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
    return Ink(item.extract(), item.get_font_size(), left, bottom, right, top)


def bitmap(data: bytes, page: int, dots_per_inch: int = 72) -> Any:
    """A page as a picture in grey."""
    document = pypdfium2.PdfDocument(data)
    return document[page].render(scale=dots_per_inch / 72, grayscale=True).to_pil()
