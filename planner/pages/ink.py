"""What a page holds, drawn on a canvas of reportlab: lines and boxes first, the text over them.

Style is written only where it changes, and neighbouring lines of one style are one path, so that a file stays
small and quick to write.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby
from typing import Any

from planner.pages import fonts
from planner.pages.layout import Blank, Box, Item, Line, Path, Run

DASH = (3, 2)

Shape = Line | Box | Path | Blank


def draw(canvas: Any, items: Iterable[Item]) -> None:
    """Draw the items of a page, y downwards from the origin of the canvas."""
    found = list(items)
    _shapes(canvas, [item for item in found if isinstance(item, Shape)])
    _text(canvas, [item for item in found if isinstance(item, Run)])


def _style(shape: Shape) -> tuple[type, float, bool]:
    """What neighbours must share to be drawn together: kind, weight, dashes."""
    if isinstance(shape, Box | Blank):
        return type(shape), 0.0 if isinstance(shape, Blank) else shape.weight, False
    return type(shape), shape.weight, shape.dashed


def _shapes(canvas: Any, shapes: list[Shape]) -> None:
    canvas.setLineJoin(1)
    weight, dashed = 0.0, False
    for (_, heavy, dash), group in groupby(shapes, key=_style):
        if heavy and heavy != weight:
            canvas.setLineWidth(heavy)
            weight = heavy
        if dash != dashed:
            canvas.setDash(DASH if dash else [])
            dashed = dash
        _same_style(canvas, list(group))


def _same_style(canvas: Any, shapes: list[Shape]) -> None:
    lines = [(shape.x1, -shape.y1, shape.x2, -shape.y2) for shape in shapes if isinstance(shape, Line)]
    if lines:
        canvas.lines(lines)
    for shape in shapes:
        if isinstance(shape, Path):
            path = canvas.beginPath()
            (x, y), *rest = shape.points
            path.moveTo(x, -y)
            for x, y in rest:
                path.lineTo(x, -y)
            canvas.drawPath(path)
        elif isinstance(shape, Box):
            x, y = shape.x, -shape.y - shape.height
            canvas.rect(x, y, shape.width, shape.height, stroke=int(not shape.solid), fill=int(shape.solid))
        elif isinstance(shape, Blank):
            canvas.setFillGray(1.0)
            canvas.rect(shape.x, -shape.y - shape.height, shape.width, shape.height, stroke=0, fill=1)
            canvas.setFillGray(0.0)


def _text(canvas: Any, runs: list[Run]) -> None:
    text = canvas.beginText()
    style = None
    white = False
    for run in runs:
        if run.white != white:
            text.setFillGray(1.0 if run.white else 0.0)
            white = run.white
        if (run.face, run.size) != style:
            style = (run.face, run.size)
            text.setFont(fonts.register(run.face), run.size)
        text.setTextOrigin(run.x, -run.y)
        text.textLine(run.text)
    canvas.drawText(text)
