"""What a page holds, drawn on a canvas of reportlab: lines and boxes first, the text over them.

Style is written only where it changes, and neighbouring lines of one style are one path, so that a file stays
small and quick to write.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby
from typing import Any

from planner.pages import fonts
from planner.pages.layout import Blank, Box, Item, Line, Path, Run

DASHES = {False: "[] 0 d", True: "[3 2] 0 d"}

Shape = Line | Box | Path | Blank


def draw(canvas: Any, items: Iterable[Item]) -> None:
    """Draw the items of a page, y downwards from the origin of the canvas."""
    found = list(items)
    canvas.addLiteral("\n".join(_shapes([item for item in found if isinstance(item, Shape)])))
    _text(canvas, [item for item in found if isinstance(item, Run)])


def _shapes(shapes: list[Shape]) -> Iterator[str]:
    """The operators of PDF that draw the shapes, with round joints; places to a hundredth of a point."""
    yield "1 j"
    weight, dashed = 0.0, False
    for (kind, heavy, dash), group in groupby(shapes, key=_style):
        if heavy and heavy != weight:
            yield f"{heavy:.2f} w"
            weight = heavy
        if dash != dashed:
            yield DASHES[dash]
            dashed = dash
        yield from (_operators(shape) for shape in group)
        if kind is Line:
            yield "S"


def _style(shape: Shape) -> tuple[type, float, bool]:
    """What neighbours must share to be drawn together: kind, weight, dashes."""
    if isinstance(shape, Box | Blank):
        return type(shape), 0.0 if isinstance(shape, Blank) else shape.weight, False
    return type(shape), shape.weight, shape.dashed


def _operators(shape: Shape) -> str:
    if isinstance(shape, Line):
        return f"{shape.x1:.2f} {-shape.y1:.2f} m {shape.x2:.2f} {-shape.y2:.2f} l"
    if isinstance(shape, Path):
        (x, y), *rest = shape.points
        return " ".join([f"{x:.2f} {-y:.2f} m", *(f"{x:.2f} {-y:.2f} l" for x, y in rest), "S"])
    box = f"{shape.x:.2f} {-shape.y - shape.height:.2f} {shape.width:.2f} {shape.height:.2f} re"
    if isinstance(shape, Blank):
        return f"1 g {box} f 0 g"
    return f"{box} {'f' if shape.solid else 'S'}"


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
