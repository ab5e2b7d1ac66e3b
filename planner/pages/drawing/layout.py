"""A page as a list of things to draw, and a few measured helpers.

Distances are points from the top left of the frame, downwards; a text stands on its baseline. The frame is
what A4 and US Letter have in common, 210 mm wide and 279.4 mm high, and lies in the middle of the paper, so
that one layout fits both. The top 24 mm stay free for the clip of a board.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from planner.pages.drawing import fonts
from planner.pages.drawing.fonts import Face
from planner.pages.drawing.lines import (
    RUN_IN_GAP,
    SMALL,
    UNIT_GAP,
    figure_width,
    fit,
    leading,
    split_unit,
    wrap,
    wrap_after,
)

MM = 72 / 25.4
FRAME_WIDTH = 210 * MM
FRAME_HEIGHT = 279.4 * MM
CLIP = 24 * MM
LEFT = 10 * MM
RIGHT = FRAME_WIDTH - 10 * MM
TOP = CLIP + 1.0
BOTTOM = FRAME_HEIGHT - 7 * MM
FOOT = 15.0
BODY_BOTTOM = BOTTOM - FOOT
WIDTH = RIGHT - LEFT

Align = Literal["left", "right", "centre"]
Role = Literal["H1", "H2", "P"]
"""What a text is: the title of a page, the title of a part of it, or all else."""


class TextRun(NamedTuple):
    """A text in one face and size; `white` on a black ground, `role` as it is tagged."""

    x: float
    y: float
    text: str
    face: Face
    size: float
    white: bool = False
    role: Role = "P"


class Line(NamedTuple):
    """A straight line."""

    x1: float
    y1: float
    x2: float
    y2: float
    weight: float
    dashed: bool = False


class Box(NamedTuple):
    """A rectangle: outlined, or filled black where `solid`."""

    x: float
    y: float
    width: float
    height: float
    weight: float = 0.6
    solid: bool = False


class Polyline(NamedTuple):
    """A line through points, with round joints."""

    points: tuple[tuple[float, float], ...]
    weight: float
    dashed: bool = False


class Blank(NamedTuple):
    """A white rectangle: what was drawn under it is wiped out."""

    x: float
    y: float
    width: float
    height: float


class FormField(NamedTuple):
    """A place to write, tick or choose one of `words`, with a stable name for the fillable form and what stands in it.

    Or, hidden, a `value` of the print. A tick has the value `Yes`.
    """

    name: str
    kind: Literal["tick", "write", "choice", "hidden"]
    x: float
    y: float
    width: float
    height: float
    tip: str
    value: str = ""
    words: tuple[str, ...] = ()


PageItem = TextRun | Line | Box | Polyline | Blank | FormField


@dataclass(slots=True)
class Page:
    """One page: what is drawn on it, and its name in the bookmarks (None: no bookmark)."""

    title: str
    bookmark: str | None = None
    items: list[PageItem] = field(default_factory=list)

    def text(
        self,
        x: float,
        y: float,
        text: str,
        *,
        size: float = SMALL,
        face: Face = "regular",
        align: Align = "left",
        room: float | None = None,
        white: bool = False,
        role: Role = "P",
    ) -> float:
        """Draw one line of text, shrunk towards `room` where given, to 9 pt at the least; returns its width."""
        text = fonts.clean(text)
        if room is not None:
            size = fit(text, face, size, room)
        wide = fonts.width(text, face, size)
        x -= {"left": 0.0, "centre": wide / 2, "right": wide}[align]
        if text:
            self.items.append(TextRun(x, y, text, face, size, white, role))
        return wide

    def figure(
        self,
        x: float,
        y: float,
        text: str,
        *,
        size: float | None = None,
        face: Face = "bold",
        align: Align = "left",
        unit_size: float = SMALL,
    ) -> float:
        """Draw a number large with its unit, small unless told, beside it: `1650 psi`; returns the width."""
        large = fonts.critical_size_pt() if size is None else size
        number, unit = split_unit(fonts.clean(text))
        wide = figure_width(text, large, face, unit_size)
        x -= {"left": 0.0, "centre": wide / 2, "right": wide}[align]
        if not number:
            return 0.0
        self.items.append(TextRun(x, y, number, face, large))
        if unit:
            self.items.append(TextRun(x + fonts.width(number, face, large) + UNIT_GAP, y, unit, "regular", unit_size))
        return wide

    def paragraph(
        self,
        x: float,
        y: float,
        room: float,
        text: str,
        *,
        size: float = SMALL,
        face: Face = "regular",
    ) -> float:
        """Draw wrapped text whose first line has its top at `y`; returns the y below the last line."""
        for line in wrap(text, face, size, room):
            self.text(x, y + 0.8 * leading(size), line, size=size, face=face)
            y += leading(size)
        return y

    def lines(self, x: float, y: float, texts: Iterable[str], *, size: float = SMALL, face: Face = "regular") -> None:
        """Draw lines below each other, the first on the baseline `y`."""
        for number, text in enumerate(texts):
            self.text(x, y + number * leading(size), text, size=size, face=face)

    def run_in(self, x: float, y: float, room: float, title: str, text: str, size: float = SMALL) -> float:
        """Draw wrapped text that opens with a bold title on its first line; returns the y below."""
        title = fonts.clean(title)
        indent = fonts.width(title, "bold", size) + RUN_IN_GAP
        self.text(x, y + 0.8 * leading(size), title, size=size, face="bold", room=room)
        for number, line in enumerate(wrap_after(indent, text, "regular", size, room)):
            self.text(x + (0.0 if number else indent), y + 0.8 * leading(size), line, size=size)
            y += leading(size)
        return y

    def rule(self, x1: float, y1: float, x2: float, y2: float, weight: float = 0.6, *, dashed: bool = False) -> None:
        """Draw a line."""
        self.items.append(Line(x1, y1, x2, y2, weight, dashed))

    def across(self, y: float, weight: float = 0.6) -> None:
        """Draw a rule across the whole page."""
        self.rule(LEFT, y, RIGHT, y, weight)

    def box(self, x: float, y: float, wide: float, high: float, weight: float = 0.6, *, solid: bool = False) -> None:
        """Draw a rectangle from its top left."""
        self.items.append(Box(x, y, wide, high, weight, solid))

    def path(self, points: Sequence[tuple[float, float]], weight: float, *, dashed: bool = False) -> None:
        """Draw a line through points."""
        self.items.append(Polyline(tuple(points), weight, dashed))

    def blank(self, x: float, y: float, wide: float, high: float) -> None:
        """Wipe out a rectangle, from its top left."""
        self.items.append(Blank(x, y, wide, high))

    def tick(self, x: float, y: float, name: str, tip: str, side: float = 9.5, value: str = "") -> None:
        """Draw a square to tick, its foot on the baseline `y`."""
        self.box(x, y - side + 1, side, side, 0.8)
        self.items.append(FormField(name, "tick", x, y - side + 1, side, side, tip, value))

    def hide(self, x: float, y: float, name: str, value: str, tip: str) -> None:
        """Lay a field at a place that nobody sees; it draws nothing."""
        self.items.append(FormField(name, "hidden", x, y, 1.0, 1.0, tip, value))

    def write(self, x: float, y: float, wide: float, high: float, name: str, tip: str, value: str = "") -> None:
        """Draw a box to write in, from its top left."""
        self.box(x, y, wide, high, 0.8)
        self.items.append(FormField(name, "write", x, y, wide, high, tip, value))

    def choose(
        self, x: float, y: float, wide: float, high: float, name: str, tip: str, words: tuple[str, ...], value: str = ""
    ) -> None:
        """Draw a box in which one of the words is chosen, from its top left."""
        self.box(x, y, wide, high, 0.8)
        self.items.append(FormField(name, "choice", x, y, wide, high, tip, value, words))

    def foot(self, number: int, total: int, text: str, title: str = "") -> None:
        """Draw the foot: a rule, `page 2 of 5`, and a text behind a bold title."""
        self.across(BOTTOM - 11.5)
        y = BOTTOM - 2
        self.text(RIGHT, y, f"page {number} of {total}", face="bold", align="right")
        used = self.text(LEFT, y, title, face="bold") + 8 if title else 0.0
        self.text(LEFT + used, y, text)
