"""What the pages of a trip hold, as plain tuples that the floor draws, and trips to draw."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from planner.pages import pack
from planner.pages.drawing import fonts
from planner.pages.drawing.layout import FormField, Page
from planner.results import Plan
from tests.bench.timing import ROOT

TRIP = ROOT / "tests" / "profiles" / "good" / "hill_to_harbour.yaml"
ISSUED = datetime(2027, 2, 11, 18, 0, tzinfo=UTC)
FONTS = tuple(str(ROOT / "planner" / "fonts" / name) for name in fonts.FILES.values())


def pages_of(made: Plan) -> list[Page]:
    """The pages of a plan with their feet, not drawn yet."""
    return pack.pack_pages(made, issued=ISSUED)


def plain(pages: Iterable[Page]) -> list[list[tuple[Any, ...]]]:
    """Each page as tuples that begin with the kind of their item; fields to fill in are drawn by nobody."""
    return [[(type(item).__name__, *item) for item in page.items if not isinstance(item, FormField)] for page in pages]


def many_trips(count: int, folder: Path) -> Iterator[Path]:
    """Files of trips that differ in their names, gauges and times."""
    text = TRIP.read_text(encoding="utf-8")
    for number in range(count):
        made = _raised(text, r"gauge: (\d+) psi", -7 * (number % 23))
        made = _raised(made, r"duration: (\d+) min", number % 11)
        made = re.sub(r"- name: (\w+)", rf"- name: \1 {number}", made).replace("T-0902", f"T-{number:04}")
        path = folder / f"trip-{number:04}.yaml"
        path.write_text(made, encoding="utf-8")
        yield path


def _raised(text: str, pattern: str, by: int) -> str:
    """The text with the number in each match raised."""
    return re.sub(pattern, lambda found: found[0].replace(found[1], str(int(found[1]) + by)), text)
