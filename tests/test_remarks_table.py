"""The table of remarks: each row is used, and each use gives just what the sentences of its row name."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path
from string import Formatter

from planner.findings.common import remarks

FINDINGS = Path(__file__).parents[1] / "planner" / "findings"


def uses() -> Iterator[tuple[str, set[str], bool]]:
    """Every call of `remark`: a row that it may ask for, what is put in, and whether something has the name."""
    for path in sorted(FINDINGS.glob("*.py")):
        for function in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not isinstance(function, ast.FunctionDef):
                continue
            said = {
                target.id: assigned.value
                for assigned in ast.walk(function)
                if isinstance(assigned, ast.Assign)
                for target in assigned.targets
                if isinstance(target, ast.Name)
            }
            for call in ast.walk(function):
                if isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id == "remark":
                    for row in rows_named(call.args[0], said):
                        yield row, {str(word.arg) for word in call.keywords}, len(call.args) == 2


def rows_named(asked: ast.expr, said: dict[str, ast.expr]) -> Iterator[str]:
    """The rows that an argument may name: a string, one of two, or a name that was given such a value before."""
    if isinstance(asked, ast.IfExp):
        yield from rows_named(asked.body, said)
        yield from rows_named(asked.orelse, said)
    elif isinstance(asked, ast.Name):
        yield from rows_named(said[asked.id], said)
    else:
        assert isinstance(asked, ast.Constant)
        yield str(asked.value)


def test_every_use_gives_what_its_row_names() -> None:
    """A part that is missing would end the planning of a trip that happens to need the sentence."""
    tried = set()
    for row, given, about in uses():
        told = remarks()[row]
        parts = [part for key in ("message", "fix") for part in Formatter().parse(told[key])]
        named = {name for _, name, _, _ in parts if name is not None}
        assert not any(spec or conversion for _, _, spec, conversion in parts), row
        assert given <= named, row
        assert named <= given | ({"name"} if about else set()), row
        tried.add(row)
    assert tried == remarks().keys()


def test_every_row_is_whole() -> None:
    for name, row in remarks().items():
        assert row["level"] in {"stop", "caution", "note"}, name
        assert row["message"].rstrip("}").endswith((".", "meant", "?")), name
        assert row["fix"].endswith("."), name
        assert row["code"] != name, name
