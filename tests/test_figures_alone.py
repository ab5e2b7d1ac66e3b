"""Every number that a person reads is written by `planner/figures.py`, where the direction of its rounding is a name.

So no other module holds a numeric format, a `%` format, `round(`, or a `ceil(` or `floor(` inside a text; none puts a
quantity, known by the unit in its name, or a product or a quotient into a text as it is; and none loads a library that
writes numbers. What is drawn or filed is excepted, where digits are coordinates that nobody reads; so are the examples
in docstrings.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

import pytest

PLANNER = Path(__file__).resolve().parent.parent / "planner"
WRITES = PLANNER / "figures.py"
COORDINATES = ("pages/drawing/ink.py", "pages/form.py")
"""Operators of a page and boxes of a form: points, to as many digits as a printer can tell apart."""
DIGESTED = ("shift/shift.py",)
"""What goes into a fingerprint, which tells one shift from another: all digits of it."""

NUMERIC = re.compile(r"[^%]*[deEfFgGn]|%|.*\.[0-9{]|[-+ #,_=]")
"""A format of numbers: not that of a date (`%H:%M`), of the code of a letter (`04X`) or the width of a column."""
WITH_UNIT = re.compile(
    r".*_(?:l|ml|min|s|h|kpa|psi|bar|mmhg|kg|lb|degc|m|ft|pt|l_per_\w+|\w+_per_min|\w+_per_day|kg_per_\w+)"
)
FIELD = re.compile(r"(?:.*_)?(?:fio2|litres|minutes|fraction|ratio)")
"""Names of numbers: by their unit, and without one as fields of a result. Each has a function of `planner.figures`."""

AS_IT_IS = ("str", "repr", "ascii", "format")
WRITERS = ("decimal", "locale", "numbers", "babel")


@lru_cache(maxsize=1)
def walked(source: str) -> tuple[ast.AST, ...]:
    """Every part of a source."""
    return tuple(ast.walk(ast.parse(source)))


def quantity(node: ast.expr) -> bool:
    """True for a number as it is: a quantity by its name, or what comes of reckoning with it."""
    if isinstance(node, ast.Name):
        return WITH_UNIT.fullmatch(node.id) is not None
    if isinstance(node, ast.Attribute):
        return (WITH_UNIT.fullmatch(node.attr) or FIELD.fullmatch(node.attr)) is not None
    if isinstance(node, ast.BinOp):
        digits = isinstance(node.op, ast.Mult | ast.Div | ast.Pow) and any(map(numeral, (node.left, node.right)))
        return digits or quantity(node.left) or quantity(node.right)
    if called(node) == "float":
        return True
    reckons = called(node) in ("abs", "min", "max", "sum", "fsum")
    return (reckons or isinstance(node, ast.UnaryOp | ast.IfExp | ast.BoolOp)) and any(
        quantity(part) for part in ast.iter_child_nodes(node) if isinstance(part, ast.expr)
    )


def called(node: ast.AST | None) -> str | None:
    """The name of the function that is called; None for what is no call of a plain name."""
    return node.func.id if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) else None


def numeral(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, int | float)


def numbers_as_they_are(source: str) -> Iterator[str]:
    """Line and piece of each place where a number goes into a text unrounded; not in what only a programmer sees."""
    nodes = walked(source)
    raised = [node for node in nodes if isinstance(node, ast.Raise) and called(node.exc) == "ValueError"]
    unseen = {inner for node in raised for inner in ast.walk(node)}
    for node in (node for node in nodes if node not in unseen):
        if isinstance(node, ast.FormattedValue) and quantity(node.value):
            yield f"{node.lineno}: {ast.unparse(node.value)} in a text"
        if isinstance(node, ast.Call) and node.args:
            first, last = node.args[0], node.args[-1]
            mapped = called(node) == "map" and isinstance(first, ast.Name) and first.id in AS_IT_IS
            if (mapped and quantity(last)) or (called(node) in AS_IT_IS and quantity(first)):
                yield f"{node.lineno}: {ast.unparse(node)}"
        if isinstance(node, ast.Import | ast.ImportFrom):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else [node.module or ""]
            yield from (f"{node.lineno}: import {name}" for name in names if name.partition(".")[0] in WRITERS)


def numbers_written(source: str) -> Iterator[str]:
    """Line and piece of each place where a number is made into text, or rounded for it."""
    for node in walked(source):
        if isinstance(node, ast.FormattedValue) and node.format_spec is not None:
            spec = ast.unparse(node.format_spec)[2:-1]
            if NUMERIC.fullmatch(spec):
                yield f"{node.lineno}: the format {spec}"
        if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Mod) and isinstance(node.left, ast.Constant):
            yield f"{node.lineno}: a % format" if isinstance(node.left.value, str) else ""
        if isinstance(node, ast.Call) and called(node) in ("round", "format"):
            yield f"{node.lineno}: {called(node)}()"
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
        for source in [path.read_text(encoding="utf-8")]
        for place in (*numbers_written(source), *(() if str(path).endswith(DIGESTED) else numbers_as_they_are(source)))
        if place
    ]
    assert found == []


@pytest.mark.parametrize(
    "source",
    [
        *('f"{litres:.0f} L"', 'f"{litres:g} L"', 'f"{hour:02d}"', 'f"{share:%}"', 'f"{litres:>8.1f}"', 'f"{x:.{n}f}"'),
        *('"%d L" % litres', '"{:.1f}".format(litres)', 'format(litres, ".1f")', "round(litres)"),
        *('f"{math.ceil(litres)} L"', 'f"about {floor(litres)} L"'),
        *('f"{need.planned_l} L"', "str(gauge_kpa)", "repr(trip.total_min)", 'f"{flow_l_per_min!r} L/min"'),
        *('f"{2 * count} x"', 'f"{held / 3}"', '", ".join(map(str, readings_kpa))', 'f"{min(one_l, other_l)} L"'),
        *("from decimal import Decimal", "import locale", 'f"{float(text)} L"', 'f"{-lost_kpa} kPa"'),
    ],
)
def test_each_way_to_write_a_number_is_found(source: str) -> None:
    assert [place for place in (*numbers_written(source), *numbers_as_they_are(source)) if place]


@pytest.mark.parametrize(
    "source",
    [
        'f"{number + 1}. {name}"',
        'f"{figures.need_l(planned_l)}"',
        'f"{name:<12}"',
        'f"{moment:%H:%M}"',
        "count % 2",
        "steps = floor(value)",
        '"""\n>>> round(2.5)\n"""',
    ],
)
def test_what_writes_no_number_is_let_pass(source: str) -> None:
    assert not [place for place in (*numbers_written(source), *numbers_as_they_are(source)) if place]
