"""A table of readings (CSV) as the tree of a readings file.

The first row names the columns, with the words of the format: time, supply, cylinder, gauge, flow, note and the others;
a column `vent.fio2` holds a setting of a device. The columns trip, revision and fingerprint say whose readings these
are, the same in every row that fills them. A row with true under `last` is a last gauge, and belongs to the closing of
the trip; `shut_and_bled` stands beside it. Columns are parted by commas, semicolons or tabs. A blank cell says nothing.
"""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from typing import Final

from planner.text.node import Node
from planner.text.text_file import BREAK, ProblemList, check_letters, read_text, shown
from planner.text.yaml_tree import MOST_NODES

_WHOSE: Final = ("trip", "revision", "fingerprint")
_PARTED_BY: Final = (",", ";", "\t")
_OF_CLOSING: Final = ("time", "ended", "ran_out")
"""Columns that, in a row with a last gauge, are of the whole closing."""

_MOST_ROWS: Final = 2000
"""A logger at one a minute fills so many in 33 hours."""
_MOST_CELLS: Final = 2 * MOST_NODES
_NO_SPACE = re.compile(r"[^ ]")


@dataclass(frozen=True, slots=True)
class TableCell:
    """The text of one cell and its place."""

    text: str
    line: int
    column: int

    @property
    def node(self) -> Node:
        """The cell as a value."""
        return Node("scalar", self.text, line=self.line, column=self.column)


def table_tree(path: str | os.PathLike[str]) -> Node:
    """The tree of a table. Raises `ProblemsError` with every problem found."""
    file = os.fspath(path)
    problems = ProblemList(file)
    text = read_text(file, problems)
    check_letters(text.replace("\t", " "), problems)
    problems.check()
    return tree_of_table(text, problems)


def tree_of_table(text: str, problems: ProblemList) -> Node:
    """The tree of the text of a table; `problems` gathers what is wrong with its form, and is raised if any is."""
    lines = [(number, line) for number, line in enumerate(BREAK.split(text), 1) if line.strip(" ,;\t")]
    if not lines:
        fix = "write a first row with time,cylinder,gauge and a row for each reading"
        problems.add(1, 1, "empty", "a table without rows", "a row with the names of the columns, and readings", fix)
    if len(lines) > _MOST_ROWS:
        fix = "check that this is the right file"
        problems.add(lines[_MOST_ROWS][0], 1, "too_many_rows", "too many rows", f"at most {_MOST_ROWS}", fix)
    problems.check()
    parted_by = max(_PARTED_BY, key=lines[0][1].count)
    many = 0
    for number, line in lines:
        many += line.count(parted_by) + 1
        if many > _MOST_CELLS:
            fix = "check that this is the right file"
            problems.add(number, 1, "too_many_cells", "too many cells", f"at most {_MOST_CELLS} in all rows", fix)
            break
    problems.check()
    rows = [cells(line, number, parted_by, problems) for number, line in lines]
    head = rows[0]
    _check_head(head, problems)
    entries, last = [], []
    closing: dict[str, tuple[TableCell, TableCell]] = {}
    whose: dict[str, tuple[TableCell, TableCell]] = {}
    for (number, _), row in zip(lines[1:], rows[1:], strict=True):
        if len(row) > len(head) and any(cell.text for cell in row[len(head) :]):
            cell = next(cell for cell in row[len(head) :] if cell.text)
            found = f"a cell `{shown(cell.text)}` beyond the last column"
            fix = "put a text that holds the sign between columns in double quotes"
            problems.add(cell.line, cell.column, "too_many_cells", found, f"{len(head)} cells in a row", fix)
            continue
        values = {name.text: (name, cell) for name, cell in zip(head, row, strict=False) if cell.text}
        _take_whose(whose, values, problems)
        if not values:
            continue
        is_last = values.pop("last", None)
        if is_last is not None and is_last[1].text not in ("true", "false"):
            cell = is_last[1]
            problems.add(
                cell.line, cell.column, "not_allowed", f"last `{shown(cell.text)}`", "true or false", "write true"
            )
        if is_last is not None and is_last[1].text == "true":
            last.append(_map({key: pair for key, pair in values.items() if key not in _OF_CLOSING}, number))
            closing.update({key: values[key] for key in _OF_CLOSING if key in values})
        else:
            entries.append(_map(values, number))
    problems.check()
    pairs = [(_word("readings"), Node("scalar", "1", line=1, column=1))]
    pairs += [(name.node, cell.node) for name, cell in whose.values()]
    if entries:
        pairs.append((_word("log"), Node("list", items=tuple(entries), line=lines[0][0], column=1)))
    if last:
        closed = [(_word("last"), Node("list", items=tuple(last), line=last[0].line, column=1))]
        closed += [(name.node, cell.node) for name, cell in closing.values()]
        pairs.append((_word("closed"), Node("map", pairs=tuple(closed), line=last[0].line, column=1)))
    return Node("map", pairs=tuple(pairs), line=1, column=1)


def _take_whose(
    whose: dict[str, tuple[TableCell, TableCell]], values: dict[str, tuple[TableCell, TableCell]], problems: ProblemList
) -> None:
    """Take the cells that say whose readings these are out of a row; two that differ are told."""
    for name in _WHOSE:
        given = values.pop(name, None)
        if given is None:
            continue
        first, cell = whose.setdefault(name, given)[1], given[1]
        if cell.text != first.text:
            found = f"{name} `{shown(cell.text)}`, where line {first.line} has `{shown(first.text)}`"
            fix = "put the readings of each into a table of its own"
            problems.add(cell.line, cell.column, "other_trip", found, f"one {name} in all rows", fix)


def cells(line: str, number: int, parted_by: str, problems: ProblemList) -> list[TableCell]:
    """The cells of one row. One that begins with a double quote ends with one; a doubled one stands for itself."""
    found: list[TableCell] = []
    place = 0
    while place <= len(line):
        begin = _next(line, place)
        if line[begin : begin + 1] != '"':
            end = line.find(parted_by, place)
            end = len(line) if end < 0 else end
            found.append(TableCell(line[place:end].strip(), number, begin + 1))
            place = end + 1
            continue
        end = begin + 1
        while line[end : end + 1] and (line[end] != '"' or line[end + 1 : end + 2] == '"'):
            end += 2 if line[end] == '"' else 1
        after = _next(line, end + 1)
        if end >= len(line) or (after < len(line) and line[after] != parted_by):
            fix = "close the quotes in the same row, and put the sign between columns after them"
            problems.add(number, begin + 1, "bad_quotes", "a cell in quotes that does not end", "quotes in pairs", fix)
            return found
        found.append(TableCell(line[begin + 1 : end].replace('""', '"').strip(), number, begin + 1))
        place = after + 1
    return found


def _next(line: str, place: int) -> int:
    """The place of the next letter that is no space, from a place on; beyond the end where there is none."""
    letter = _NO_SPACE.search(line, place)
    return max(place, len(line)) if letter is None else letter.start()


def _check_head(head: list[TableCell], problems: ProblemList) -> None:
    seen: set[str] = set()
    for cell in head:
        if cell.text in seen and cell.text:
            fix = "take one of them out, or name it as what it holds"
            problems.add(
                cell.line, cell.column, "column_twice", f"column `{shown(cell.text)}` twice", "each column once", fix
            )
        seen.add(cell.text)
    if "time" not in seen:
        fix = "write the names of the columns into the first row"
        problems.add(head[0].line, 1, "no_head", "a first row without `time`", "a row with the names of columns", fix)


def _map(values: dict[str, tuple[TableCell, TableCell]], line: int) -> Node:
    """A row as a map; columns with a dot in their name are settings of a device."""
    pairs = [(name.node, cell.node) for key, (name, cell) in values.items() if "." not in key]
    devices: dict[str, list[tuple[Node, Node]]] = {}
    for key, (name, cell) in values.items():
        device, dot, setting = key.partition(".")
        if dot:
            word = Node("scalar", setting, line=name.line, column=name.column)
            devices.setdefault(device, []).append((word, cell.node))
    if devices:
        first = next(name for key, (name, _) in values.items() if "." in key)
        maps = tuple(
            (Node("scalar", device, line=first.line, column=first.column), Node("map", pairs=tuple(found), line=line))
            for device, found in devices.items()
        )
        pairs.append((_word("settings"), Node("map", pairs=maps, line=line, column=1)))
    return Node("map", pairs=tuple(pairs), line=line, column=1)


def _word(text: str) -> Node:
    return Node("scalar", text, line=1, column=1)
