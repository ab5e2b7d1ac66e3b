"""What is read on the move: one type size, never smaller, and boxes that a gloved hand can write in."""

from __future__ import annotations

from planner.pages.drawing import fonts
from planner.pages.drawing.fonts import Face
from planner.pages.drawing.layout import MM, Align, Page, Role
from planner.pages.drawing.lines import leading, wrap

SIZE = 13.2
"""Type size at which the x-height is 0.10 inch, points (NASA CR-177605, 1992, from memory)."""
LINE = leading(SIZE)
BOX_WIDTH, BOX_HEIGHT = 25 * MM, 10 * MM
"""Of a box for a reading."""
TICK = 9 * MM
"""Side of a box for initials or a tick."""


def lines_of(text: str, room: float, face: Face = "regular") -> list[str]:
    """A text in lines of that size; none for an empty one."""
    return wrap(text, face, SIZE, room) if text else []


def text_width(text: str, face: Face) -> float:
    """Width of a text of that size, points."""
    return fonts.width(fonts.clean(text), face, SIZE)


def text_line(
    page: Page, x: float, y: float, text: str, *, face: Face = "regular", align: Align = "left", role: Role = "P"
) -> float:
    """Draw one line on its baseline; returns its width."""
    return page.text(x, y, text, size=SIZE, face=face, align=align, role=role)


def figure(page: Page, right: float, y: float, text: str, *, face: Face = "bold") -> None:
    """Draw a number with its unit, both of that size, flush right."""
    page.figure(right, y, text, size=SIZE, face=face, align="right", unit_size=SIZE)


def paragraph(page: Page, x: float, y: float, room: float, text: str, face: Face = "regular") -> float:
    """Draw wrapped text whose first line has its top at `y`; returns the y below."""
    return page.paragraph(x, y, room, text, size=SIZE, face=face) if text else y


def box(page: Page, x: float, y: float, wide: float, name: str, tip: str, high: float = BOX_HEIGHT) -> None:
    """Draw a box to write in, from its top left."""
    page.write(x, y, wide, high, name, tip)
