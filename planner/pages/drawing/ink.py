"""What a page holds, drawn on a canvas of reportlab: lines and boxes first, the text over them.

Style is written only where it changes, and neighbouring lines of one style are one path, so that a file stays
small and quick to write.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby
from typing import Any

from planner.pages.drawing import fonts
from planner.pages.drawing.layout import Blank, Box, Line, PageItem, Polyline, Role, TextRun

DASHES = {False: "[] 0 d", True: "[3 2] 0 d"}
ESCAPED = {code: f"\\{code:03o}" for code in (*range(32), *range(127, 256), *map(ord, "\\()"))}
"""How codes are written that a text of PDF cannot hold as they are."""

Shape = Line | Box | Polyline | Blank


def draw(canvas: Any, items: Iterable[PageItem]) -> list[Role]:
    """Draw the items of a page, y downwards from the origin of the canvas; returns the roles of its marked pieces."""
    found = list(items)
    canvas.addLiteral("\n".join(_shapes([item for item in found if isinstance(item, Shape)])))
    runs = [item for item in found if isinstance(item, TextRun)]
    canvas.addLiteral("\n".join(_text(canvas, runs)))
    return [role for role, _ in groupby(runs, key=_role)]


def _role(run: TextRun) -> Role:
    return run.role


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
    if isinstance(shape, Polyline):
        (x, y), *rest = shape.points
        return " ".join([f"{x:.2f} {-y:.2f} m", *(f"{x:.2f} {-y:.2f} l" for x, y in rest), "S"])
    box = f"{shape.x:.2f} {-shape.y - shape.height:.2f} {shape.width:.2f} {shape.height:.2f} re"
    if isinstance(shape, Blank):
        return f"1 g {box} f 0 g"
    return f"{box} {'f' if shape.solid else 'S'}"


def _text(canvas: Any, runs: list[TextRun]) -> Iterator[str]:
    """The operators of PDF that draw the texts, each in the codes that its font has in this document."""
    document = canvas._doc  # noqa: SLF001 - reportlab writes text with an embedded font through private names alone
    style, white = None, False
    yield "BT"
    role, piece = None, -1
    for run in runs:
        if run.role != role:
            role, piece = run.role, piece + 1
            yield f"{'EMC ' if piece else ''}/{role} <</MCID {piece}>> BDC"
        if run.white != white:
            yield "1 g" if run.white else "0 g"
            white = run.white
        yield f"1 0 0 1 {run.x:.2f} {-run.y:.2f} Tm"
        font = fonts.typeface(run.face)
        for subset, codes in font.splitString(run.text, document):
            if (run.face, subset, run.size) != style:
                style = (run.face, subset, run.size)
                yield f"{font.getSubsetInternalName(subset, document)} {run.size:.2f} Tf {run.size:.2f} TL"
            yield f"({codes.decode('latin-1').translate(ESCAPED)}) Tj"
        yield "T*"  # parts the texts for a reader that looks at nothing else
    yield "EMC ET" if runs else "ET"
