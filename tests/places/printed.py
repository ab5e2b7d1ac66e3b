"""What a plan puts out, read back: screen, CSV, JSON, and every piece of text and box of the pages.

A place is read as a person reads it: by the heads of columns and the words beside a figure, not by what drew it. A
reader that finds fewer figures than there are raises, so that a figure taken out of a place is missed.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, NamedTuple

import pytest

from planner.pages.drawing import fonts
from planner.pages.drawing.layout import FRAME_HEIGHT, FormField, Page, TextRun
from planner.pages.pack import pack_pages
from planner.report.json_result import result
from planner.report.summary import summary
from planner.report.table_csv import tables
from planner.results import Plan
from tests.pages.printed import ISSUED


class Said(NamedTuple):
    """A figure (`least gauge`), what it is of (leg, start or end, supply), where it stands, and its text."""

    figure: str
    of: tuple[object, ...]
    place: str
    text: str


class Piece(NamedTuple):
    """A text on a page, a number with its unit beside it as one: points from the bottom left."""

    text: str
    left: float
    right: float
    y: float


class Box(NamedTuple):
    """A box of the fillable form: its name and where it stands."""

    name: str
    left: float
    bottom: float
    top: float


@dataclass(frozen=True)
class Sheet:
    """One page: its pieces from the top down, and its boxes."""

    title: str
    pieces: tuple[Piece, ...]
    boxes: tuple[Box, ...]

    def head(self, title: str) -> Piece | None:
        """The head of a column."""
        return next((piece for piece in self.pieces if piece.text == title), None)

    def column(self, title: str, box: Box) -> str:
        """What stands under a head, flush right with it, in the row of a box; empty where nothing does."""
        head = self.head(title)
        inside = [
            piece
            for piece in self.pieces
            if head is not None and abs(piece.right - head.right) < 1.5 and box.bottom <= piece.y <= box.top
        ]
        return " ".join(piece.text for piece in inside)

    def left_of(self, x: float, box: Box) -> str:
        """What stands in the row of a box before a place on the line, line by line."""
        return " ".join(piece.text for piece in self.pieces if piece.left < x and box.bottom <= piece.y <= box.top)

    @property
    def text(self) -> str:
        """All that stands on the page, from the top down, its foot left out."""
        return " ".join(piece.text for piece in self.pieces[:-1])


@dataclass(frozen=True)
class Printed:
    """A plan as it leaves the program."""

    document: dict[str, Any]
    screen: str
    csv: dict[str, list[dict[str, str]]]
    sheets: tuple[Sheet, ...]

    def titled(self, title: str) -> tuple[Sheet, ...]:
        """The pages under a title."""
        return tuple(sheet for sheet in self.sheets if sheet.title.startswith(title))


def printed(plan: Plan) -> Printed:
    """Everything that a plan puts out, read back; pages as the lists of what is drawn that a PDF is written from."""
    return Printed(
        document=result(plan),
        screen=_screen(plan),
        csv={name: list(csv.DictReader(io.StringIO(text))) for name, text in tables(plan).items()},
        sheets=tuple(map(read, pack_pages(plan, issued=ISSUED))),
    )


def _screen(plan: Plan) -> str:
    """The summary on a wide screen."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COLUMNS", "120")
        return summary(plan)


def read(page: Page) -> Sheet:
    """A page by its pieces and boxes; y goes up."""
    found: list[Piece] = []
    runs = [item for item in page.items if isinstance(item, TextRun)]
    for run in sorted(runs, key=lambda run: (run.y, run.x)):
        last, y = found[-1] if found else None, FRAME_HEIGHT - run.y
        right = run.x + fonts.width(run.text, run.face, run.size)
        if last is not None and abs(last.y - y) < 0.3 and 0 <= run.x - last.right < 3.5:
            found[-1] = last._replace(text=f"{last.text} {run.text}", right=right)
        else:
            found.append(Piece(run.text, run.x, right, y))
    title = " ".join(piece.text for piece in found[:5])
    known = ("Card", "Before leaving", "Changes, arrival", "Checklists", "Readings log", "Nomogram", "Calculation")
    title = next((name for name in known if re.search(rf"\b{name}", title)), "Card")
    fields = [(item, FRAME_HEIGHT - item.y) for item in page.items if isinstance(item, FormField)]
    boxes = tuple(Box(field.name, field.x, top - field.height, top) for field, top in fields)
    return Sheet(title, tuple(found), boxes)


# Tables of the screen and of the calculation sheet, by the heads of their columns


def screen_table(text: str, titles: tuple[str, ...], key: str) -> list[dict[str, str]]:
    """The rows of a table of the screen, whose heads and cells may go on below; a row begins where `key` has a cell."""
    lines = text.splitlines()
    last = next((n for n, line in enumerate(lines) if _words(line) == _words(" ".join(map(_last, titles)))), None)
    if last is None:
        return []
    first = last
    while lines[first - 1].startswith("   ") and len(re.split(r" {2,}", lines[first - 1].strip())) < len(titles):
        first -= 1
    end = last + 1
    while end < len(lines) and lines[end].strip() and len(_columns(lines[first : end + 1])) == len(titles):
        end += 1
    columns = dict(zip(titles, _columns(lines[first:end]), strict=True))
    rows: list[dict[str, str]] = []
    for line in lines[last + 1 : end]:
        cells = {title: line[start:stop].strip() for title, (start, stop) in columns.items()}
        if cells[key]:
            rows.append(cells)
        else:
            rows[-1] = {title: f"{rows[-1][title]} {cell}".strip() for title, cell in cells.items()}
    return rows


def _last(title: str) -> str:
    return title.rpartition("|")[2]


def _words(line: str) -> list[str]:
    return line.split()


def _columns(block: list[str]) -> list[tuple[int, int]]:
    """From where to where each column goes: between them at least two places are blank on every line."""
    wide = max(map(len, block))
    blank = "".join(" " if all(line[at : at + 1] in ("", " ") for line in block) else "x" for at in range(wide))
    starts = [found.start() for found in re.finditer(r"(?:^|(?<=  ))x", blank)]
    return list(zip(starts, [*starts[1:], wide], strict=True))


def page_table(sheets: tuple[Sheet, ...], heads: tuple[str, ...], key: str) -> list[dict[str, str]]:
    """The rows of a table on pages: a row begins where the column `key` has a cell; cells may have several lines."""
    rows: list[dict[str, list[str]]] = []
    for sheet in sheets:
        tops = [piece.y for piece in sheet.pieces if piece.text == heads[-1]]
        for y in tops:
            line = [piece for piece in sheet.pieces if abs(piece.y - y) < 0.3]
            if tuple(piece.text for piece in line) != heads:
                continue
            rows += _rows([piece for piece in sheet.pieces if piece.y < y - 0.3], line, key)
    return [{head: " ".join(texts) for head, texts in row.items()} for row in rows if len(row) == len(heads)]


def _rows(below: list[Piece], heads: list[Piece], key: str) -> list[dict[str, list[str]]]:
    rows: list[dict[str, list[str]]] = []
    begins = None
    for piece in below:
        head = min(heads, key=lambda head: min(abs(head.left - piece.left), abs(head.right - piece.right)))
        after = [other.left for other in heads if other.left > head.left]
        off = min(abs(head.left - piece.left), abs(head.right - piece.right)) > 1.5
        if off or (head is heads[0] and piece.right > min(after)):
            break
        line = [other for other in below if abs(other.y - piece.y) < 0.3]
        starts = any(_under(other, heads, key) for other in line)
        if starts and piece.y != begins:
            rows.append({})
            begins = piece.y
        if rows:
            rows[-1].setdefault(head.text, []).append(piece.text)
    return rows


def _under(piece: Piece, heads: list[Piece], key: str) -> bool:
    head = next(head for head in heads if head.text == key)
    return min(abs(head.left - piece.left), abs(head.right - piece.right)) < 1.5


def lines(sheet: Sheet) -> Iterator[list[str]]:
    """The lines of a page, the pieces of each from left to right."""
    found: dict[float, list[str]] = {}
    for piece in sheet.pieces:
        y = next((y for y in found if abs(y - piece.y) < 0.3), piece.y)
        found.setdefault(y, []).append(piece.text)
    yield from found.values()
