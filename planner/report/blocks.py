"""Titled sections of lines, figures and tables: plain data that the text, the pages and the tests share."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph. `strong` marks what must not be missed."""

    text: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure: what it is, the formula, the formula with the numbers put in, the result, and its source.

    `formula`, `numbers` or `source` may be empty.
    """

    label: str
    formula: str
    numbers: str
    result: str
    source: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """A table. `right` holds the numbers of the columns that hold figures and stand flush right."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[int, ...] = ()
    note: str = ""


Block = Text | Figure | Table


@dataclass(frozen=True, slots=True)
class Section:
    """A titled part of a sheet."""

    title: str
    blocks: tuple[Block, ...]


def strings(sections: tuple[Section, ...]) -> Iterator[str]:
    """Every text of the sections in reading order."""
    for section in sections:
        yield section.title
        for block in section.blocks:
            if isinstance(block, Text):
                yield block.text
            elif isinstance(block, Figure):
                yield from (part for part in (block.label, block.formula, block.numbers, block.result, block.source))
            else:
                yield from block.head
                for row in block.rows:
                    yield from row
                yield block.note
