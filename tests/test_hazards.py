"""Hold HAZARDS.md and the marks `@pytest.mark.hazard(number)` together.

`python tests/test_hazards.py` writes the last two columns anew.
"""

from __future__ import annotations

import ast
from collections import defaultdict
from pathlib import Path

HERE = Path(__file__).resolve().parent
TABLE = HERE / "HAZARDS.md"


def rows() -> dict[int, list[str]]:
    """The rows by number: hazard, cause, control, state, tests."""
    found: dict[int, list[str]] = {}
    for line in TABLE.read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if cells[0].isdigit():
            assert len(cells) == 6, f"row {cells[0]} has {len(cells)} cells"
            assert int(cells[0]) not in found, f"row {cells[0]} stands twice"
            found[int(cells[0])] = cells[1:]
    return found


def numbers(node: ast.AST) -> list[int]:
    """The arguments of every `pytest.mark.hazard(...)` inside a piece of code."""
    found: list[int] = []
    for part in ast.walk(node):
        if isinstance(part, ast.Call) and ast.unparse(part.func) == "pytest.mark.hazard":
            values = [ast.literal_eval(argument) for argument in part.args]
            assert values, "a mark of a hazard needs its number"
            assert all(isinstance(value, int) for value in values), f"{values} are no numbers of hazards"
            found += values
    return found


def marked() -> dict[int, list[str]]:
    """The tests that carry each number: functions with a mark, or whole files with it in `pytestmark`."""
    found: dict[int, set[str]] = defaultdict(set)
    for path in sorted(HERE.rglob("test_*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"))
        file = path.relative_to(HERE).as_posix()
        for node in ast.walk(tree):
            if isinstance(node, ast.FunctionDef):
                for number in (number for decorator in node.decorator_list for number in numbers(decorator)):
                    found[number].add(f"{file}::{node.name}")
            elif isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "pytestmark":
                for number in numbers(node.value):
                    found[number].add(file)
    return {number: sorted(names) for number, names in found.items()}


def state(control: str, tests: list[str]) -> str:
    """The state of a row. Square brackets hold what is planned."""
    if control.startswith("[") and control.endswith("]"):
        return "partly" if tests else "planned"
    if not tests:
        return "untested"
    return "partly" if "[" in control else "covered"


def column(tests: list[str]) -> str:
    """The tests of a row as they stand in the last column."""
    return "<br>".join(f"`{test}`" for test in tests)


def test_every_mark_names_a_row() -> None:
    assert sorted(set(marked()) - set(rows())) == []


def test_every_row_tells_its_state_and_tests() -> None:
    marks = marked()
    for number, (_, _, control, stated, listed) in rows().items():
        tests = marks.get(number, [])
        assert stated == state(control, tests), f"row {number} says {stated}, but its tests are: {tests or 'none'}"
        assert listed == column(tests), f"row {number} lists other tests than those marked: {tests or 'none'}"


def write() -> None:
    """Write the last two columns from the marks and the controls."""
    marks = marked()
    lines = TABLE.read_text(encoding="utf-8").splitlines()
    for place, line in enumerate(lines):
        number = line.strip("|").split("|")[0].strip()
        if number.isdigit():
            hazard, cause, control, _, _ = rows()[int(number)]
            tests = marks.get(int(number), [])
            cells = (number, hazard, cause, control, state(control, tests), column(tests))
            lines[place] = f"| {' | '.join(cells)} |"
    TABLE.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")


if __name__ == "__main__":
    write()
