"""Blocks placed one below the other, page after page under the same head."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from planner.pages.drawing.layout import BODY_BOTTOM, LEFT, RIGHT, TOP, Page

Head = Callable[[Page, bool], float]
"""Draws the head of a page and returns the y below it; the flag is False on the first page."""


@dataclass(slots=True)
class Flow:
    """The pages of one document, and where the next block goes."""

    title: str
    head: Head
    pages: list[Page] = field(default_factory=list)
    y: float = TOP
    bottom: float = BODY_BOTTOM

    def __post_init__(self) -> None:
        self._open(self.title)

    @property
    def page(self) -> Page:
        """The page being filled."""
        return self.pages[-1]

    @property
    def left(self) -> float:
        """Height left on this page, points."""
        return self.bottom - self.y

    def need(self, height: float) -> bool:
        """Make sure of `height` points; True where that opened a new page."""
        if height <= self.left + 0.01:
            return False
        self._open(None)
        return True

    def title_bar(self, text: str, keep: float = 0.0, note: str = "") -> None:
        """Draw the title of a section, kept together with the next `keep` points."""
        self.need(TITLE_HEIGHT + keep)
        self.y = title_bar(self.page, self.y, text, note)

    def _open(self, bookmark: str | None) -> None:
        page = Page(self.title, bookmark)
        again = bool(self.pages)
        self.pages.append(page)
        self.y = self.head(page, again)


TITLE_HEIGHT = 16.0


def title_bar(page: Page, y: float, text: str, note: str = "", x: float = LEFT, room: float | None = None) -> float:
    """A section title over a heavy rule, with a note at the right; returns the y below it."""
    right = RIGHT if room is None else x + room
    wide = page.text(x, y + 10.5, text, size=10.0, face="bold", room=right - x)
    if note:
        page.text(right, y + 10.5, note, align="right", room=right - x - wide - 8)
    page.rule(x, y + 13.5, right, y + 13.5, 1.4)
    return y + TITLE_HEIGHT
