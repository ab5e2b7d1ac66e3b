"""The examples in DEVELOPERS.md of how to add something: each applies, and does what it is there to show."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
EXAMPLES = re.findall(r"^```diff\n(.*?)^```$", GUIDE, re.MULTILINE | re.DOTALL)
NAMES = ("cylinder size", "device type", "what-if", "reserve layer", "checklist line")

TENT = """
profile: 1
trip: Face tent to the ward
setting: in_house
policy: {must_hold: [joint_leaks]}
supplies:
  cart: {cylinders: [{label: A, size: US-E, gauge: 2000 psi, outlets: [{flowmeter: 15 L/min}]}]}
devices:
  tent: {type: face_tent, flow: 6 L/min}
legs: [{name: Corridor, duration: 10 min, supply: cart, devices: [tent]}]
"""

GIT = shutil.which("git")


def touched(name: str) -> list[str]:
    """The files that an example touches."""
    example = EXAMPLES[NAMES.index(name)]
    return [line[6:] for line in example.splitlines() if line.startswith("+++ b/")]


pytestmark = pytest.mark.skipif(GIT is None, reason="needs git")


@pytest.fixture(scope="module")
def changed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the program with every example applied."""
    folder = tmp_path_factory.mktemp("guide")
    shutil.copytree(ROOT / "planner", folder / "planner", ignore=shutil.ignore_patterns("__pycache__"))
    (folder / "tests").mkdir()
    shutil.copy(ROOT / "tests" / "build.py", folder / "tests")
    for name, example in zip(NAMES, EXAMPLES, strict=True):
        found = subprocess.run(
            [GIT or "git", "apply", "-"], input=example, cwd=folder, text=True, capture_output=True, check=False
        )
        assert found.returncode == 0, f"the example of a {name} does not apply: {found.stderr}"
    (folder / "tent.yaml").write_text(TENT, encoding="utf-8")
    return folder


def said(folder: Path, *arguments: str) -> str:
    """What the changed program prints."""
    found = subprocess.run(
        [sys.executable, *arguments],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(folder), "PYTHONDONTWRITEBYTECODE": "1"},
        text=True,
        capture_output=True,
        check=False,
    )
    assert found.returncode in (0, 3), found.stderr
    return found.stdout


@pytest.fixture(scope="module")
def passed(changed: Path) -> list[str]:
    """The files of tests that the examples brought, in which every test passes."""
    files = [f"tests/{path.name}" for path in sorted((changed / "tests").glob("test_*.py"))]
    told = said(changed, "-m", "pytest", "-q", "-rA", "-p", "no:cacheprovider", *files)
    assert f"{len(files)} passed" in told
    return [file for file in files if f"PASSED {file}::" in told]


def test_the_size_is_in_the_catalogue(changed: Path) -> None:
    assert re.search(r"^\s*ISO-30\b", said(changed, "-m", "planner", "catalog"), re.MULTILINE)


def test_the_device_is_read_and_the_what_if_decides(changed: Path) -> None:
    result = json.loads(said(changed, "-m", "planner", "plan", "tent.yaml", "--format", "json"))
    assert result["supplies"]["cart"]["planned_l"] == 60.0  # 6 L/min for 10 min
    assert any("6 L/min" in finding["message"] for finding in result["findings"])  # below the 8 L/min of the example
    (leak,) = (whatif for whatif in result["whatifs"] if whatif["name"] == "joint_leaks")
    assert leak["must_hold"] is True
    usable_l = result["supplies"]["cart"]["usable_l"]
    assert leak["minutes_to_spare"] == pytest.approx((usable_l - 70.0) / 7.0)  # 1 L/min more


def test_the_what_if_is_one_file_one_row_and_its_test(changed: Path, passed: list[str]) -> None:
    """Its words are found, the schema knows its name, and the test of the example passes where it was applied."""
    assert "joint_leaks" in said(changed, "-m", "planner", "schema", "policy")
    assert "A joint leaks 1 L/min" in said(changed, "-m", "planner", "plan", "tent.yaml", "--format", "text")
    assert "tests/test_joint_leaks.py" in passed
    assert touched("what-if") == [
        "planner/go/whatifs/joint_leaks.py",
        "planner/trade/data/what_ifs.csv",
        "tests/test_joint_leaks.py",
    ]


def test_the_device_type_is_rows_and_its_test(passed: list[str]) -> None:
    """Its demand follows from the formula of its row; no code knows its name."""
    assert "tests/test_face_tent.py" in passed
    assert touched("device type") == [
        "planner/trade/data/devices.csv",
        "planner/trade/data/device_ranges.csv",
        "planner/trade/data/usual_devices.yaml",
        "planner/trade/schema/profile.schema.json",
        "tests/test_face_tent.py",
    ]


def test_the_reserve_layer_is_one_line_and_its_test(changed: Path, passed: list[str]) -> None:
    """It counts, stands on the sheet with its rule, and in the result; by hand 60 L, 30 min x 6 L/min, and 25 L."""
    assert "tests/test_reserve_for_purging.py" in passed
    assert touched("reserve layer") == ["planner/go/sizing.py", "tests/test_reserve_for_purging.py"]
    result = json.loads(said(changed, "-m", "planner", "plan", "tent.yaml", "--format", "json"))
    cart = result["supplies"]["cart"]
    assert cart["reserve_layers_l"] == {"factor": 30.0, "time": 180.0, "purging": 25.0}
    assert (cart["reserve_l"], cart["required_l"]) == (205.0, 265.0)
    code = (
        "from planner.planning import plan\nfrom planner.profile.read import read_trip\n"
        "from planner.report.sheet.needs import need_section\n"
        "blocks = need_section(plan(read_trip('tent.yaml'))).blocks\n"
        "rows = [' | '.join((b.label, b.formula, b.numbers, b.result)) for b in blocks if hasattr(b, 'label')]\n"
        "print(*rows, sep='\\n')"
    )
    sheet = said(changed, "-c", code)
    assert "Reserve for purging hoses | 25 L, by decision |  | 25.00 L" in sheet
    assert (
        "Reserve | the larger of the two, once, and what stands on top | max(30.00, 180.00) + 25.00 | 205.00 L" in sheet
    )


def test_the_line_is_on_the_checklist(changed: Path) -> None:
    code = (
        "from planner.planning import plan\nfrom planner.profile.read import read_trip\n"
        "from planner.report.checklist.checklist import checklists\n"
        f"found = checklists(plan(read_trip({str(ROOT / 'profiles' / 'two-patients.yaml')!r})))\n"
        "print(*(item.ask for item in found.before[0].items), sep='\\n')\n"
    )
    assert "Tape on the tubing" in said(changed, "-c", code)
