"""The verb `shift`: exit codes, what goes to which stream, files, and the same answer for any number of processes."""

from __future__ import annotations

import csv
import io
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from pypdf import PdfReader

import planner.planning
from planner.command.cli import main
from planner.model import Trip
from planner.results import Plan
from tests.test_cli import BAD, GO

ROOT = Path(__file__).resolve().parent.parent
# By hand, as in test_cli.py: 120 L required; the cylinder gives about 420 L, at 600 psi about 28 L. Out from 14:20 to
# 14:50, and 30 min of turnaround.
# Each trip has a cylinder of its own: A, B and C.
LATER = GO.replace("14:20", "15:00").replace("trip: Ward", "trip: Lift").replace("label: A", "label: B")
NO_GO = LATER.replace("label: B", "label: C").replace("2000 psi", "600 psi").replace("trip: Lift", "trip: Night")
STORE = "name: Cart room\ncylinders:\n  - {label: S1, size: US-E, gauge: 2050 psi, checked: 2026-12-03 07:00}\n"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    for name, text in (("go", GO), ("later", LATER), ("no_go", NO_GO), ("bad", BAD), ("store", STORE)):
        (tmp_path / f"{name}.yaml").write_text(text, encoding="utf-8")
    return tmp_path


def run(*arguments: str) -> Result:
    return CliRunner().invoke(main, ["shift", *arguments])


def test_all_go_prints_the_sheet_writes_the_page_and_exits_0(folder: Path) -> None:
    result = run("later.yaml", "go.yaml")
    assert result.exit_code == 0, result.output
    assert result.stdout.startswith(
        "ALL GO - 2 trips, each of them a go.\nShift: 3 Dec 2026 14:20 to 16:00, 2 trips, 2 go, turnaround by default\n"
    )
    assert "  Portable: US-E     2          -            2  15:00  15:20  trips 1, 2\n" in result.stdout
    assert "     1  14:20   15:20  Ward to scanner  1 x US-E   GO\n" in result.stdout
    assert result.stderr == f"Written: {Path('output', 'shift.pdf')}\n"
    assert [path.name for path in (folder / "output").iterdir()] == ["shift.pdf"]
    assert "Lift to scanner" in PdfReader(folder / "output" / "shift.pdf").pages[0].extract_text()


@pytest.mark.usefixtures("folder")
def test_no_go_trips_come_first_with_their_reasons_and_exit_3() -> None:
    result = run("go.yaml", "no_go.yaml", "--format", "text")
    assert result.exit_code == 3
    lines = result.stdout.splitlines()
    assert lines[0] == "NOT ALL GO - 1 trip NO-GO."
    assert lines[3] == "NO-GO 2: Night to scanner, leaves 15:00"
    assert lines[4].startswith("  1. cart needs 120 L")
    assert any(line.startswith("     Fix: ") for line in lines[5:7])


def test_one_bad_profile_spoils_only_itself_and_exits_1(folder: Path) -> None:
    result = run("bad.yaml", "go.yaml", "no_go.yaml")
    assert result.exit_code == 1
    assert result.stderr.startswith("bad.yaml:13:39  unit_missing  ")
    assert "bad.yaml: 1 problem, not in the shift.\n" in result.stderr
    assert "NOT READ, NOT COUNTED: bad.yaml: 1 problem, the first at 13:39" in result.stdout
    assert "Portable: US-E     2 " in result.stdout
    assert (folder / "output" / "shift.pdf").exists()


def test_without_any_trip_nothing_is_written(folder: Path) -> None:
    result = run("bad.yaml", "gone.yaml")
    assert result.exit_code == 1
    assert result.stdout == ""
    assert result.stderr.endswith("No trip of 2 could be planned; no shift.\n")
    assert not (folder / "output").exists()


@pytest.mark.usefixtures("folder")
def test_turnaround_and_what_is_wrong_with_one() -> None:
    # 14:50 + 9 min: back at 14:59, before 15:00.
    assert "  Portable: US-E     2          -            1  14:20  14:59  trip 1\n" in run(
        "go.yaml", "later.yaml", "--turnaround", "9 min", "--format", "text"
    ).stdout  # fmt: skip
    for value, code in (("9", "unit_missing"), ("-9 min", "out_of_range"), ("15 d", "")):
        result = run("go.yaml", "--turnaround", value)
        assert result.exit_code == 2
        assert (result.stdout, "--turnaround" in result.stderr, code in result.stderr) == ("", True, True)


@pytest.mark.usefixtures("folder")
def test_the_store_is_held_against_the_need() -> None:
    result = run("go.yaml", "later.yaml", "--store", "store.yaml", "--format", "text", "--turnaround", "0 min")
    assert result.exit_code == 3
    # One cylinder at 2000 psi; trip 1 is back at 14:50, trip 2 leaves at 15:00 and counts on a full one again.
    assert result.stdout.startswith("NOT ALL GO - 1 cylinder to be REFILLED on the way.\n")
    assert "  US-E             1          0        2        1       1      0\n" in result.stdout
    # Out one after the other: filled again in between, one cylinder is enough.
    again = ("--store", "store.yaml", "--format", "text", "--turnaround", "0 min", "--refilled")
    assert run("go.yaml", "later.yaml", *again).exit_code == 0


@pytest.mark.usefixtures("folder")
def test_a_store_with_problems_is_told_and_the_shift_still_given() -> None:
    result = run("go.yaml", "--store", "bad.yaml", "--format", "text")
    assert result.exit_code == 1
    assert result.stdout.startswith("ALL GO - 1 trip")
    assert "In the store" not in result.stdout
    assert "bad.yaml:1:1  key_unknown  " in result.stderr
    assert "no store is held against the need.\n" in result.stderr


@pytest.mark.usefixtures("folder")
def test_json_is_one_document_and_nothing_else() -> None:
    result = run("go.yaml", "bad.yaml", "no_go.yaml", "--format", "json,text", "--store", "store.yaml")
    assert result.exit_code == 1
    found = json.loads(result.stdout)
    assert len(result.stdout.splitlines()) == 1
    assert (found["format"], found["verdict"], found["first_departure"]) == (1, "no-go", "2026-12-03T14:20:00")
    assert [(item["file"], item["problems"][0]["line"]) for item in found["not_read"]] == [("bad.yaml", 13)]
    first, second = found["trips"]
    assert (first["verdict"], first["leaves_min"], first["back_min"], first["turnaround_min"]) == ("go", 0, 60, 30)
    assert first["cylinders"] == [{"size": "US-E", "fixed": False, "supply": "cart", "count": 1, "full": True}]
    assert (second["verdict"], second["stops"][0]["line"]) == ("no-go", 7)
    assert found["cylinders"] == [
        {
            "fixed": False,
            "size": "US-E",
            "gas": "oxygen",
            "to_draw": 2,
            "part_used": 1,
            "most_out_at_once": 2,
            "from_min": 40,
            "until_min": 60,
            "trips": [1, 2],
        }
    ]
    assert found["store"]["sizes"][0]["short"] == found["store"]["short"] == 1
    assert result.stderr.count("NOT ALL GO") == 1


def test_csv_files(folder: Path) -> None:
    result = run("go.yaml", "bad.yaml", "later.yaml", "--format", "csv", "--store", "store.yaml", "--output", "sheets")
    assert (result.exit_code, result.stdout) == (1, "")
    names = sorted(path.name for path in (folder / "sheets").iterdir())
    assert names == ["shift-cylinders.csv", "shift-store.csv", "shift-trips.csv"]

    def rows(name: str) -> list[dict[str, str]]:
        return list(csv.DictReader(io.StringIO((folder / "sheets" / name).read_text(encoding="utf-8"))))

    trips = rows("shift-trips.csv")
    assert [(row["trip"], row["verdict"], row["leaves_min"], row["back_min"]) for row in trips] == [
        ("Ward to scanner", "go", "0.0", "60.0"),
        ("Lift to scanner", "go", "40.0", "100.0"),
        ("", "not read", "", ""),
    ]
    assert trips[2]["file"] == "bad.yaml"
    assert [(row["size"], row["to_draw"], row["most_out_at_once"]) for row in rows("shift-cylinders.csv")] == [
        ("US-E", "2", "2")
    ]
    assert rows("shift-store.csv")[0]["short"] == "1"


@pytest.mark.parametrize(
    ("arguments", "text"),
    [
        ([], "Missing argument 'TRIP...'"),
        (["go.yaml", "--jobs", "0"], "0 is not in the range"),
        (["go.yaml", "--jobs", "many"], "is not a valid integer"),
        (["go.yaml", "--format", "tex"], "tex is not known"),
        (["go.yaml", "--paper", "a5"], "'a5' is not one of"),
    ],
)
def test_usage_exits_2(folder: Path, arguments: list[str], text: str) -> None:
    result = run(*arguments)
    assert (result.exit_code, text in result.stderr, result.stdout) == (2, True, "")
    assert not (folder / "output").exists()


@pytest.mark.usefixtures("folder")
def test_an_output_folder_that_is_a_file_exits_2_and_the_sheet_is_still_told() -> None:
    result = run("go.yaml", "--output", "no_go.yaml")
    assert result.exit_code == 2
    assert result.stdout.startswith("ALL GO - ")
    assert "no_go.yaml: is a file, not a folder." in result.stderr


@pytest.mark.usefixtures("folder")
def test_an_internal_error_costs_one_trip_and_exits_4(monkeypatch: pytest.MonkeyPatch) -> None:
    sound = planner.planning.plan

    def fail(trip: Trip) -> Plan:
        if trip.name.startswith("Lift"):
            raise ZeroDivisionError("float division\nby zero")
        return sound(trip)

    monkeypatch.setattr(planner.planning, "plan", fail)
    result = run("later.yaml", "go.yaml", "bad.yaml", "--format", "text")
    assert result.exit_code == 4
    assert result.stderr.startswith("later.yaml: internal error at test_cli_shift.py:")
    assert "NOT READ, NOT COUNTED: later.yaml: internal error" in result.stdout
    assert "     1  14:20   15:20  Ward to scanner" in result.stdout
    assert "Traceback" not in result.output


def test_a_letter_that_the_page_cannot_show_costs_no_sheet(folder: Path) -> None:
    """The trip is told as not read, with its place; the others are counted, and the sheet says what is lost."""
    (folder / "go.yaml").write_text(GO.replace("trip: Ward", "trip: Ward 🚑"), encoding="utf-8")
    result = run("go.yaml", "later.yaml", "--format", "pdf")
    assert result.exit_code == 1
    assert "  not_printable  `Ward 🚑 to scanner` with 🚑 (U+1F691); allowed: " in result.stderr
    text = " ".join(PdfReader(folder / "output" / "shift.pdf").pages[0].extract_text().split())
    assert "NOT READ, NOT COUNTED go.yaml: 1 problem, the first at " in text
    assert "`Ward ? to scanner` with ? (U+1F691)" in text
    assert "Letters that the page cannot show stand as a question mark." in text


def test_help_reads_as_a_sentence() -> None:
    result = run("--help")
    assert result.exit_code == 0
    assert (
        "Adds up the cylinders to draw for a whole shift of TRIPs, and the most that\n  are out at once."
        in result.stdout
    )


@pytest.fixture(scope="module")
def many(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    """Twenty trips, with some that are no-go, and two that are none."""
    folder = tmp_path_factory.mktemp("many")
    for number in range(20):
        text = (GO, LATER, NO_GO)[number % 3].replace("2 L/min", f"{1 + number % 5} L/min")
        if number in (8, 17):
            text = BAD
        text = text.replace(" 15:00", f" {8 + number % 9:02d}:{number:02d}").replace("trip: ", f"trip: T{number % 7} ")
        (folder / f"{number:02d}.yaml").write_text(text, encoding="utf-8")
    return [str(path) for path in sorted(folder.iterdir())]


def command(*arguments: str) -> list[str]:
    return [sys.executable, "-m", "planner", "shift", *arguments]


def environment(**more: str) -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": str(ROOT), "SOURCE_DATE_EPOCH": "1790000000", **more}


def test_the_answer_is_the_same_for_any_number_of_processes(many: list[str], tmp_path: Path) -> None:
    said = []
    for jobs, seed in (("1", "1"), ("3", "2")):
        out = tmp_path / jobs
        ran = subprocess.run(
            command(*many, "--jobs", jobs, "--format", "text,pdf,csv", "--output", str(out)),
            capture_output=True,
            text=True,
            env=environment(PYTHONHASHSEED=seed),
            check=False,
        )
        assert ran.returncode == 1, ran.stderr
        # Where the machine is slow, the progress is told too; how far it was at which second is no part of the answer.
        problems = [line for line in ran.stderr.splitlines() if "Trips planned" not in line and str(out) not in line]
        said.append((ran.stdout, problems, [path.read_bytes() for path in sorted(out.iterdir())]))
    assert said[0] == said[1]
    assert "18 trips" in said[0][0]


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="needs a system that tells of child processes")
def test_ctrl_c_ends_every_process_cleanly(many: list[str], tmp_path: Path) -> None:
    ran = subprocess.Popen(
        command(*many * 300, "--jobs", "2", "--output", str(tmp_path / "out")),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment(),
        start_new_session=True,
    )
    children = Path(f"/proc/{ran.pid}/task/{ran.pid}/children")
    until = time.monotonic() + 30
    while len(children.read_text().split()) < 2 and time.monotonic() < until:  # the resource tracker and one process
        time.sleep(0.02)
    started = children.read_text().split()
    assert len(started) == 2
    os.killpg(ran.pid, signal.SIGINT)
    out, err = ran.communicate(timeout=30)
    assert (ran.returncode, out) == (130, "")
    assert err.strip() == "Stopped. Nothing is half written."
    assert not (tmp_path / "out").exists()
    while any(Path(f"/proc/{child}").exists() for child in started) and time.monotonic() < until:
        time.sleep(0.02)
    assert [child for child in started if Path(f"/proc/{child}").exists()] == []
