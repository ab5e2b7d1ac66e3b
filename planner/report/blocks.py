"""Titled sections of lines, figures and tables: plain data that the text, the pages and the tests share."""

from __future__ import annotations

from typing import NamedTuple

AS_ABOVE = "as above"
"""In a cell: the same long text as in the row above, or as where it was worked out first."""


class Text(NamedTuple):
    """A paragraph. `strong` marks what must not be missed; what stands `apart` is joined with no other paragraph."""

    text: str
    strong: bool = False
    apart: bool = False


class Figure(NamedTuple):
    """One figure: what it is, the formula, the formula with the numbers put in, the result, and its source.

    `formula`, `numbers`, `source` or `note` may be empty. `check` is a stable key where a second person is to work
    it again and initial it, else empty.
    """

    label: str
    formula: str
    numbers: str
    result: str
    source: str = ""
    note: str = ""
    check: str = ""


class Table(NamedTuple):
    """A table. `right` holds the numbers of the columns that hold figures and stand flush right.

    `in_lines`: its rows read as well one behind the other, without head and columns, where paper is short.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[int, ...] = ()
    note: str = ""
    in_lines: bool = False


Block = Text | Figure | Table


class Section(NamedTuple):
    """A titled part of a sheet."""

    title: str
    blocks: tuple[Block, ...]
