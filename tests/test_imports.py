"""The order of imports in DEVELOPERS.md, and which module may load which library."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
import tomllib
from functools import cache
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
STAND_INS = "planner/browser/standins/"
"""Files that take a library's place in a browser: not part of the program's own order."""

MODULES = sorted(
    name
    for path in (ROOT / "planner").rglob("*.py")
    if not (name := path.relative_to(ROOT).as_posix()).startswith(STAND_INS)
)

ONLY_IN = {
    "click": ("planner/command/",),
    "jsonschema": ("planner/profile/",),
    "pint": ("planner/text/quantities.py",),
    "reportlab": ("planner/pages/",),
    "pypdf": ("planner/readings/",),
    "yaml": ("planner/text/", "planner/store/store_text.py"),
    "highspy": ("planner/store/program.py",),
    "numpy": (),
}
"""Where each library may be imported, by the beginning of the module's path; numpy nowhere."""

DISTRIBUTIONS = {"yaml": "pyyaml"}
"""Names that differ between the import and the package index."""

OWN_RECKONING = ("planner/report/bedside/",)

NOT_IMPORTED = {"tzdata"}
"""Data that the standard library finds by itself."""


@cache
def order() -> tuple[str, ...]:
    """The list in DEVELOPERS.md, top first. A package stands there with a slash at its end."""
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    block = re.search(r"^## Order of imports\n.*?^```text\n(.*?)^```$", guide, re.MULTILINE | re.DOTALL)
    assert block, "DEVELOPERS.md has no list under the heading 'Order of imports'"
    return tuple(line.split()[0] for line in block[1].splitlines())


def rank(module: str) -> int:
    """Place of a module in the list: of its own line, else of its package's."""
    for index, entry in enumerate(order()):
        if module == entry or (entry.endswith("/") and module.startswith(entry)):
            return index
    raise AssertionError(f"{module} is not in the list under 'Order of imports' in DEVELOPERS.md: give it a line there")


@cache
def imported(module: str) -> tuple[tuple[int, str], ...]:
    """Line and dotted name of everything that a module imports, inside functions and type checks too."""
    tree = ast.parse((ROOT / module).read_text(encoding="utf-8"))
    found: list[tuple[int, str]] = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [(node.lineno, alias.name) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module}:{node.lineno}: a relative import hides where it points"
            assert node.module is not None
            found += [(node.lineno, f"{node.module}.{alias.name}") for alias in node.names]
    return tuple(found)


def own(dotted: str) -> str | None:
    """Path of the module of this program that a dotted name means, None for a library."""
    parts = dotted.split(".")
    if parts[0] != "planner":
        return None
    for length in range(len(parts), 0, -1):
        stem = "/".join(parts[:length])
        for path in (f"{stem}.py", f"{stem}/__init__.py"):
            if path in MODULES:
                return path
    raise AssertionError(f"no module of the program is named {dotted}")


def third_party() -> set[str]:
    """The top name of every library that the program imports."""
    names = {dotted.split(".")[0] for module in MODULES for _, dotted in imported(module)}
    return names - sys.stdlib_module_names - {"planner"}


def test_the_list_names_what_exists() -> None:
    missing = [entry for entry in order() if not (ROOT / entry).exists()]
    assert missing == []
    assert len(set(order())) == len(order())


@pytest.mark.parametrize("module", MODULES)
def test_imports_point_upward(module: str) -> None:
    place = rank(module)
    for line, dotted in imported(module):
        target = own(dotted)
        if target is None or target == "planner/__init__.py":
            continue
        assert rank(target) <= place, f"{module}:{line}: {target} stands below {module} in the list"


def test_no_circle_inside_a_package() -> None:
    graph = {
        module: {target for _, dotted in imported(module) if (target := own(dotted)) is not None and target != module}
        for module in MODULES
    }
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        pytest.fail(f"circle: {' -> '.join(error.args[1])}")


@pytest.mark.parametrize("library", sorted(ONLY_IN))
def test_library_stays_in_its_place(library: str) -> None:
    for module in MODULES:
        for line, dotted in imported(module):
            if dotted.split(".")[0] == library:
                assert module.startswith(ONLY_IN[library]), f"{module}:{line} imports {library}"


def test_dependencies_are_those_imported() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    declared = {re.split(r"[^A-Za-z0-9_.-]", line)[0].lower() for line in project["dependencies"]}
    assert {DISTRIBUTIONS.get(name, name) for name in third_party()} == declared - NOT_IMPORTED


def loaded_by(*arguments: str, codes: tuple[int, ...] = (0,)) -> set[str]:
    """Top names of the modules that a new Python loads for a command line, as it reports them itself."""
    command = [sys.executable, "-X", "importtime", *arguments]
    ran = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert ran.returncode in codes, ran.stderr
    lines = [line for line in ran.stderr.splitlines() if line.startswith("import time:")]
    return {line.split("|")[-1].strip().split(".")[0] for line in lines}


def test_the_command_starts_without_heavy_libraries() -> None:
    loaded = loaded_by("-c", "import planner.command.cli")
    assert {"planner", "click"} <= loaded
    assert loaded & {"numpy", "highspy", "pint", "jsonschema", "reportlab", "pypdf"} == set()


def test_a_plan_loads_no_numpy(tmp_path: Path) -> None:
    trip = min((ROOT / "demo").glob("*.yaml"))
    loaded = loaded_by("-m", "planner", "plan", str(trip), "--output", str(tmp_path), codes=(0, 3))
    assert "reportlab" in loaded
    assert loaded & {"numpy", "highspy"} == set()


def test_what_is_told_is_not_worked_out_again() -> None:
    """No gas is reckoned in what puts a plan into words: it asks the engine, whose figures are fields of the result.

    Excepted: the bedside answers, which are types of `planner.cylinders`, and the scale of a vessel of liquid.
    """
    found = [
        f"{name}: {module}"
        for name in MODULES
        if name.startswith(("planner/report/", "planner/pages/")) and not name.startswith(OWN_RECKONING)
        for node in ast.walk(ast.parse((ROOT / name).read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom)
        and (module := node.module or "").startswith(("planner.gas", "planner.cylinders"))
    ]
    assert found == []
