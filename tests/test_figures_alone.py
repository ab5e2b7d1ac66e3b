"""Every number that a person reads is written by `planner/figures.py`, where the direction of its rounding is a name.

So no other module holds a numeric format, a `%` format, `round(`, or a `ceil(` or `floor(` inside a text. What is drawn
or filed is excepted, where digits are coordinates that nobody reads; so are the examples in docstrings.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

PLANNER = Path(__file__).resolve().parent.parent / "planner"
WRITES = PLANNER / "figures.py"
COORDINATES = ("pages/drawing/ink.py", "pages/form.py")
"""Operators of a page and boxes of a form: points, to as many digits as a printer can tell apart."""

NUMERIC = re.compile(r"[^%]*[deEfFgGn]|%|.*\.[0-9{]|[-+ #,_=]")
"""A format of numbers: not that of a date (`%H:%M`), of the code of a letter (`04X`) or the width of a column."""


def numbers_written(source: str) -> Iterator[str]:
    """Line and piece of each place where a number is made into text, or rounded for it."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FormattedValue) and node.format_spec is not None:
            spec = ast.unparse(node.format_spec)[2:-1]
            if NUMERIC.fullmatch(spec):
                yield f"{node.lineno}: the format {spec}"
        if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Mod) and isinstance(node.left, ast.Constant):
            yield f"{node.lineno}: a % format" if isinstance(node.left.value, str) else ""
        if isinstance(node, ast.Call) and ast.unparse(node.func) in ("round", "format"):
            yield f"{node.lineno}: {ast.unparse(node.func)}()"
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "format":
            yield f"{node.lineno}: .format()"
        if isinstance(node, ast.JoinedStr):
            for inner in ast.walk(node):
                if isinstance(inner, ast.Call) and ast.unparse(inner.func).rpartition(".")[2] in ("ceil", "floor"):
                    yield f"{node.lineno}: {ast.unparse(inner.func)}() in a text"


def test_no_number_is_written_outside_figures() -> None:
    found = [
        f"{path.relative_to(PLANNER)}:{place}"
        for path in sorted(PLANNER.rglob("*.py"))
        if path != WRITES and not path.as_posix().endswith(COORDINATES)
        for place in numbers_written(path.read_text(encoding="utf-8"))
        if place
    ]
    assert found == []


@pytest.mark.parametrize(
    "source",
    [
        *('f"{litres:.0f} L"', 'f"{litres:g} L"', 'f"{hour:02d}"', 'f"{share:%}"', 'f"{litres:>8.1f}"', 'f"{x:.{n}f}"'),
        *('"%d L" % litres', '"{:.1f}".format(litres)', 'format(litres, ".1f")', "round(litres)"),
        *('f"{math.ceil(litres)} L"', 'f"about {floor(litres)} L"'),
    ],
)
def test_each_way_to_write_a_number_is_found(source: str) -> None:
    assert [place for place in numbers_written(source) if place]


@pytest.mark.parametrize(
    "source", ['f"{name:<12}"', 'f"{moment:%H:%M}"', "count % 2", "steps = floor(value)", '"""\n>>> round(2.5)\n"""']
)
def test_what_writes_no_number_is_let_pass(source: str) -> None:
    assert not [place for place in numbers_written(source) if place]
