"""The floor that the benchmark measures against draws the pages that the program draws."""

from __future__ import annotations

import io

import pypdfium2  # type: ignore[import-untyped]
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from planner.pages.pack import pack_bytes
from planner.planning import plan
from planner.profile.read import read_trip
from tests.bench.floor import FACES, draw
from tests.bench.items import FONTS, ISSUED, TRIP, pages_of, plain


def test_the_floor_draws_every_text_of_the_pages() -> None:
    made = plan(read_trip(TRIP))
    fonts = {}
    for face, file in zip(FACES, FONTS, strict=True):
        pdfmetrics.registerFont(TTFont(f"floor-{face}", file))
        fonts[face] = f"floor-{face}"
    out = io.BytesIO()
    draw(out, plain(pages_of(made)), fonts)
    floor, ours = (pypdfium2.PdfDocument(data) for data in (out.getvalue(), pack_bytes(made, issued=ISSUED)))
    assert len(floor) == len(ours)
    for mine, theirs in zip(floor, ours, strict=True):
        assert mine.get_textpage().get_text_range().split() == theirs.get_textpage().get_text_range().split()
