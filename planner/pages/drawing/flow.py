"""Blocks placed one below the other, page after page under the same head."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from planner.pages.drawing import fonts
from planner.pages.drawing.fonts import Face
from planner.pages.drawing.layout import BODY_BOTTOM, LEFT, RIGHT, TOP, WIDTH, Page
from planner.pages.drawing.lines import SMALL, leading, wrap

Head = Callable[[Page, bool], float]
"""Draws the head of a page and returns the y below it; the flag is False on the first page."""


@dataclass(slots=True)
class PageFlow:
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
        self.need(title_height(text, note) + keep)
        self.y = title_bar(self.page, self.y, text, note)

    def lines(self, texts: Iterable[str], *, x: float = LEFT, size: float = SMALL, face: Face = "regular") -> None:
        """Draw lines, each of which may open a new page."""
        for text in texts:
            self.need(leading(size))
            self.page.text(x, self.y + 0.8 * leading(size), text, size=size, face=face)
            self.y += leading(size)

    def _open(self, bookmark: str | None) -> None:
        page = Page(self.title, bookmark)
        again = bool(self.pages)
        self.pages.append(page)
        self.y = self.head(page, again)


TITLE_HEIGHT = 16.0
"""Height of a section title on one line, points."""
TITLE_SIZE = 10.0


def title_height(text: str, note: str = "") -> float:
    """Height of what `title_bar` draws, points."""
    lines, notes, beside = _title_lines(text, note)
    return TITLE_HEIGHT + (len(lines) - 1) * leading(TITLE_SIZE) + (0 if beside else len(notes)) * leading(SMALL)


def _title_lines(text: str, note: str) -> tuple[list[str], list[str], bool]:
    """Lines of the title and of the note, and whether the note fits beside the last line of the title."""
    lines = wrap(text, "bold", TITLE_SIZE, WIDTH)
    notes = wrap(note, "regular", SMALL, WIDTH) if note else []
    beside = WIDTH - 8 - fonts.width(lines[-1], "bold", TITLE_SIZE)
    return lines, notes, len(notes) <= 1 and (not notes or fonts.width(notes[0], "regular", SMALL) <= beside)


def title_bar(page: Page, y: float, text: str, note: str = "") -> float:
    """A section title over a heavy rule, a note at its right, or below it where it is long; returns the y below."""
    lines, notes, beside = _title_lines(text, note)
    for number, line in enumerate(lines):
        page.text(LEFT, y + 10.5 + number * leading(TITLE_SIZE), line, size=TITLE_SIZE, face="bold", role="H2")
    last = y + 10.5 + (len(lines) - 1) * leading(TITLE_SIZE)
    for number, line in enumerate(notes):
        page.text(RIGHT, last + (0 if beside else number + 1) * leading(SMALL), line, align="right")
    y += title_height(text, note)
    page.across(y - 2.5, 1.4)
    return y
