"""The same input gives the same bytes, whatever the process, hash seed, time zone, locale and folder."""

from __future__ import annotations

import csv
import io
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pypdf
import pytest

ROOT = Path(__file__).resolve().parent.parent
ISSUED = "1764770400"  # by hand: 2025-12-03 14:00:00 UTC is 20 425 days of 86 400 s and 14 h of 3600 s after 1970
PROFILES = ("from-the-store", "magnet-scan")
# Letters beyond ASCII, and a departure without a zone: both could be read in the light of the machine.
OWN = """\
profile: 1
trip: Übergabe bei −20 °C
setting: in_house
departs: 2026-12-03 14:20
supplies:
  cart:
    cylinders:
      - {label: Ä, size: US-E, gauge: 2000 psi}
      - {label: B, size: US-E, gauge: 2000 psi}
devices:
  cannula: {type: nasal_cannula, flow: 2 L/min}
legs:
  - {name: Gang, duration: 30 min, supply: cart, devices: [cannula]}
"""
SURROUNDINGS = {
    "hash seed 1, far east, Turkish": {
        "PYTHONHASHSEED": "1",
        "TZ": "Pacific/Kiritimati",
        "LC_ALL": "tr_TR.UTF-8",
        "LANG": "tr_TR.UTF-8",
    },
    "hash seed 4242, half-hour zone, German": {
        "PYTHONHASHSEED": "4242",
        "TZ": "America/St_Johns",
        "LC_ALL": "de_DE.UTF-8",
        "LANG": "de_DE.UTF-8",
    },
    "no locale": {"TZ": "Asia/Kathmandu", "LC_ALL": "C", "LANG": "C"},
    "ASCII alone": {"LC_ALL": "C", "PYTHONCOERCECLOCALE": "0", "PYTHONUTF8": "0"},
}

Said = dict[str, bytes]


def run(folder: Path, surroundings: dict[str, str], *arguments: str) -> tuple[bytes, bytes]:
    kept = {key: value for key, value in os.environ.items() if not key.startswith(("LC_", "LANG", "PYTHON", "TZ"))}
    ran = subprocess.run(
        [sys.executable, "-m", "planner", *arguments],
        cwd=folder,
        env={**kept, "PYTHONPATH": str(ROOT), "SOURCE_DATE_EPOCH": ISSUED, **surroundings},
        capture_output=True,
        check=False,
    )
    assert ran.returncode in {0, 3}, ran.stderr
    return ran.stdout, ran.stderr


def everything(folder: Path, surroundings: dict[str, str]) -> Said:
    """What the command says and writes for a few trips, by name."""
    shutil.copytree(ROOT / "profiles", folder / "profiles")
    (folder / "own.yaml").write_text(OWN, encoding="utf-8")
    trips = ["own.yaml", *(f"profiles/{name}.yaml" for name in PROFILES)]
    said: Said = {}
    said["plan, json"], said["plan, text"] = run(
        folder, surroundings, "plan", *trips, "--format", "text,json,csv,pdf", "--fillable", "--output", "out"
    )
    said["letter, text"], _ = run(folder, surroundings, "plan", trips[1], "--paper", "letter", "--output", "letter")
    said["compare, json"], said["compare, text"] = run(
        folder,
        surroundings,
        *("compare", "profiles/from-the-store.yaml", "profiles/readings/from-the-store.yaml"),
        *("--format", "text,json"),
    )
    said["lasts, json"], _ = run(
        folder,
        surroundings,
        *("lasts", "--size", "US-E", "--gauge", "1500 psi", "--flow", "4 L/min", "--at", "14:20"),
        *("--format", "json"),
    )
    files = sorted(path for where in ("out", "letter") for path in (folder / where).iterdir())
    return said | {str(path.relative_to(folder)): path.read_bytes() for path in files}


@pytest.fixture(scope="module")
def expected(tmp_path_factory: pytest.TempPathFactory) -> Said:
    said = everything(tmp_path_factory.mktemp("first"), {"PYTHONHASHSEED": "0", "TZ": "UTC", "LC_ALL": "C.UTF-8"})
    assert len(said) == 6 + (1 + len(PROFILES)) * 5 + 1  # 4 tables and a PDF for each trip, and one on other paper
    assert all(said.values())
    return said


@pytest.mark.longer("name", ["hash seed 1, far east, Turkish"], list(SURROUNDINGS))
def test_the_same_bytes_whatever_the_surroundings(name: str, expected: Said, tmp_path: Path) -> None:
    said = everything(tmp_path, SURROUNDINGS[name])
    assert said.keys() == expected.keys()
    assert [name for name in said if said[name] != expected[name]] == []


def test_json_and_files_stay_the_same_where_the_screen_knows_few_letters(expected: Said, tmp_path: Path) -> None:
    """There the screen shows `?` for a minus sign; what other programs read stays whole."""
    said = everything(tmp_path, {"PYTHONIOENCODING": "latin-1"})
    assert [name for name in said if said[name] != expected[name] and not name.endswith(", text")] == []
    assert "Übergabe bei −20 °C".encode() in expected["plan, text"]
    assert "Übergabe bei ?20 °C".encode("latin-1") in said["plan, text"]


def test_the_time_of_issue_is_the_one_given_in_utc_and_no_other(expected: Said) -> None:
    reader = pypdf.PdfReader(io.BytesIO(expected[str(Path("out", "own.pdf"))]))
    assert reader.metadata is not None
    assert {str(reader.metadata[name]) for name in ("/CreationDate", "/ModDate")} == {"D:20251203140000+00'00'"}
    assert "issued 3 Dec 2025 14:00 UTC" in reader.pages[0].extract_text()


def test_json_and_tables_know_no_clock(expected: Said, tmp_path: Path) -> None:
    """Without a given time of issue only the pages differ."""
    (tmp_path / "own.yaml").write_text(OWN, encoding="utf-8")
    document, _ = run(
        tmp_path, {"SOURCE_DATE_EPOCH": ""}, "plan", "own.yaml", "--format", "json,csv", "--output", "out"
    )
    assert document == expected["plan, json"].splitlines(keepends=True)[0]
    assert json.loads(document)["trip"] == "Übergabe bei −20 °C"
    for path in (tmp_path / "out").iterdir():
        assert path.read_bytes() == expected[str(Path("out", path.name))]
        assert list(csv.reader(io.StringIO(path.read_text(encoding="utf-8"))))


def test_a_trip_gives_the_same_after_other_trips(expected: Said, tmp_path: Path) -> None:
    """Nothing that a trip leaves behind in the process reaches the next one."""
    shutil.copytree(ROOT / "profiles", tmp_path / "profiles")
    (tmp_path / "own.yaml").write_text(OWN, encoding="utf-8")
    trips = [*(f"profiles/{name}.yaml" for name in reversed(PROFILES)), "own.yaml"]
    document, _ = run(tmp_path, {}, "plan", *trips, "--format", "json,csv,pdf", "--fillable", "--output", "out")
    assert document.splitlines()[::-1] == expected["plan, json"].splitlines()
    for path in (tmp_path / "out").iterdir():
        assert path.read_bytes() == expected[str(Path("out", path.name))], path.name
