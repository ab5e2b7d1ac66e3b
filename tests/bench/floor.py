"""The least that any program for this job does, as a script: the libraries, the fonts, the strings and the lines.

    python tests/bench/floor.py ITEMS FONT FONT FONT OUT

ITEMS is a file of `tests.bench.items`: pages of texts and shapes as plain tuples. Nothing is read from a profile,
worked out, measured or broken into lines here; style is set only where it changes.
"""

from __future__ import annotations

import marshal
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import click  # noqa: F401 - part of the floor: any command line loads it
import yaml  # noqa: F401 - part of the floor: any reader of profiles loads it
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

FACES = ("regular", "bold", "wide")
A4 = (595.276, 841.89)


def draw_page(canvas: Any, items: Iterable[tuple[Any, ...]], font_of: dict[str, str]) -> None:
    """Draws one page by the calls of the canvas alone."""
    weight, style, dashed = 0.0, ("", 0.0), False
    for kind, *values in items:
        if kind == "TextRun":
            x, y, text, face, size, white, _ = values
            if (face, size) != style:
                style = (face, size)
                canvas.setFont(font_of[face], size)
            if white:
                canvas.setFillGray(1)
            canvas.drawString(x, -y, text)
            if white:
                canvas.setFillGray(0)
            continue
        if kind == "Blank":
            x, y, wide, high = values
            canvas.setFillGray(1)
            canvas.rect(x, -y - high, wide, high, stroke=0, fill=1)
            canvas.setFillGray(0)
            continue
        heavy = values[4] if kind in ("Line", "Box") else values[1]
        if heavy != weight:
            weight = heavy
            canvas.setLineWidth(heavy)
        dash = values[-1] if kind in ("Line", "Polyline") else False
        if dash != dashed:
            dashed = dash
            canvas.setDash(*((3, 2) if dash else ()))
        if kind == "Line":
            canvas.line(values[0], -values[1], values[2], -values[3])
        elif kind == "Box":
            x, y, wide, high, _, solid = values
            canvas.rect(x, -y - high, wide, high, stroke=not solid, fill=solid)
        else:
            path = canvas.beginPath()
            path.moveTo(values[0][0][0], -values[0][0][1])
            for x, y in values[0][1:]:
                path.lineTo(x, -y)
            canvas.drawPath(path)


def draw(out: Any, pages: Iterable[Sequence[tuple[Any, ...]]], font_of: dict[str, str]) -> None:
    """Draws the pages to a file or a buffer."""
    canvas = Canvas(out, pagesize=A4, invariant=1, pageCompression=1)
    for items in pages:
        canvas.translate(0, A4[1] - 24.9)
        draw_page(canvas, items, font_of)
        canvas.showPage()
    canvas.save()


def main(items: str, fonts: Sequence[str], out: str) -> None:
    """Loads the fonts and draws the pages of a file."""
    font_of = {}
    for face, file in zip(FACES, fonts, strict=True):
        pdfmetrics.registerFont(TTFont(Path(file).stem, file))
        font_of[face] = Path(file).stem
    draw(out, marshal.loads(Path(items).read_bytes()), font_of)  # noqa: S302 - this benchmark wrote it


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2:-1], sys.argv[-1])
