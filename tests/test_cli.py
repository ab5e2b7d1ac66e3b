"""The command: exit codes, what goes to which stream, files, and that no fault ends in a traceback."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

import planner.planning
from planner.__main__ import ctrl_c_once_more
from planner.command import plan as cli_plan
from planner.command import telling
from planner.command.cli import main

GO = """\
profile: 1
trip: Ward to scanner
setting: in_house
departs: 2026-12-03 14:20
policy: {must_hold: []}
supplies:
  cart:
    cylinders:
      - {label: A, size: US-E, gauge: 2000 psi}
devices:
  cannula: {type: nasal_cannula, flow: 2 L/min}
legs:
  - {name: Ward to scanner, duration: 30 min, supply: cart, devices: [cannula]}
"""
# By hand: planned 2 x 30 = 60 L; reserve max(0.5 x 60, 30 x 2) = 60 L; required 120 L. At 0.28 L/psi the cylinder
# gives about (2000 - 500) x 0.28 = 420 L, at 600 psi about 28 L.
NO_GO = GO.replace("2000 psi", "600 psi")
BAD = GO.replace("duration: 30 min", "duration: 30")
ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    for name, text in (("go", GO), ("no_go", NO_GO), ("bad", BAD)):
        (tmp_path / f"{name}.yaml").write_text(text, encoding="utf-8")
    return tmp_path


def run(*arguments: str) -> Result:
    return CliRunner().invoke(main, list(arguments))


def test_a_go_prints_the_verdict_writes_the_pages_and_exits_0(folder: Path) -> None:
    result = run("plan", "go.yaml")
    assert result.exit_code == 0
    assert result.stdout.startswith("GO - ")
    assert result.stderr == f"Written: {Path('output', 'go.pdf')}\n"
    assert (folder / "output" / "go.pdf").read_bytes().startswith(b"%PDF-")
    assert [path.name for path in (folder / "output").iterdir()] == ["go.pdf"]


def test_a_no_go_exits_3_says_what_would_mend_it_and_still_prints_its_pages(folder: Path) -> None:
    result = run("plan", "no_go.yaml")
    assert result.exit_code == 3
    assert result.stdout.startswith("NO-GO - ")
    assert "Fix: " in result.stdout
    assert (folder / "output" / "no_go.pdf").exists()


def test_problems_exit_1_with_their_place_and_write_nothing(folder: Path) -> None:
    result = run("plan", "bad.yaml")
    assert result.exit_code == 1
    assert result.stdout == ""
    assert result.stderr.startswith("bad.yaml:13:39  unit_missing  ")
    assert result.stderr.endswith("bad.yaml: 1 problem, nothing planned.\n")
    assert not (folder / "output").exists()


@pytest.mark.usefixtures("folder")
def test_a_missing_file_is_a_problem() -> None:
    result = run("plan", "gone.yaml")
    assert result.exit_code == 1
    assert result.stderr.startswith("gone.yaml:")


@pytest.mark.usefixtures("folder")
def test_json_is_all_that_standard_output_holds() -> None:
    result = run("plan", "go.yaml", "no_go.yaml", "--format", "json,pdf")
    assert result.exit_code == 3
    lines = result.stdout.splitlines()
    assert [json.loads(line)["verdict"] for line in lines] == ["go", "no-go"]
    assert "Written: " in result.stderr
    first = json.loads(lines[0])
    assert first["supplies"]["cart"]["required_l"] == pytest.approx(120.0, rel=1e-12)


@pytest.mark.usefixtures("folder")
def test_with_json_the_text_goes_to_standard_error() -> None:
    result = run("plan", "go.yaml", "--format", "text,json")
    assert json.loads(result.stdout)["verdict"] == "go"
    assert result.stderr.startswith("GO - ")


@pytest.mark.usefixtures("folder")
def test_with_json_a_profile_with_problems_gives_no_document() -> None:
    result = run("plan", "bad.yaml", "go.yaml", "--format", "json")
    assert result.exit_code == 1
    assert len(result.stdout.splitlines()) == 1


def test_csv_files(folder: Path) -> None:
    assert run("plan", "go.yaml", "--format", "csv", "--output", "sheets").exit_code == 0
    names = sorted(path.name for path in (folder / "sheets").iterdir())
    assert names == ["go-checkpoints.csv", "go-ledger.csv", "go-supplies.csv", "go-whatifs.csv"]
    assert "cart,60.0,60.0,120.0," in (folder / "sheets" / "go-supplies.csv").read_text(encoding="utf-8")


@pytest.mark.usefixtures("folder")
def test_a_value_set_at_the_bedside_changes_the_plan_and_is_shown() -> None:
    result = run("plan", "go.yaml", "--format", "text", "--set", "cart.A.gauge=600 psi")
    assert result.exit_code == 3
    assert "Changed for this plan: cart.A.gauge=600 psi" in result.stdout


@pytest.mark.usefixtures("folder")
def test_a_value_set_without_its_unit_is_a_problem() -> None:
    result = run("plan", "go.yaml", "--set", "cart.A.gauge=600")
    assert result.exit_code == 1
    assert result.stderr.startswith("--set cart.A.gauge:1:1  unit_missing  ")


@pytest.mark.parametrize(
    ("arguments", "text"),
    [
        (["plan"], "Missing argument 'TRIP...'"),
        (["plan", "go.yaml", "--format", "tex"], "tex is not known; give one or more of text, pdf, json, csv"),
        (["plan", "go.yaml", "--format", ","], "an empty list is not known; give one or more of text, pdf, json, csv"),
        (["plan", "go.yaml", "--paper", "a5"], "'a5' is not one of 'a4', 'letter'"),
        (["plan", "go.yaml", "--set", "cart.A.gauge"], "has no path or no value; write PATH=VALUE"),
        (["plan", "go.yaml", "--set", "=600 psi"], "has no path or no value; write PATH=VALUE"),
        (["plan", "go.yaml", "--wrong"], "No such option"),
        (["fly"], "No such command 'fly'"),
        (["schema", "card"], "'card' is not one of 'profile', 'policy'"),
    ],
)
def test_usage_exits_2(folder: Path, arguments: list[str], text: str) -> None:
    result = run(*arguments)
    assert result.exit_code == 2
    assert text in result.stderr
    assert result.stdout == ""
    assert not (folder / "output").exists()


def test_an_output_folder_that_is_a_file_exits_2_and_the_verdict_is_still_told(folder: Path) -> None:
    result = run("plan", "go.yaml", "--output", "no_go.yaml")
    assert result.exit_code == 2
    assert result.stdout.startswith("GO - ")
    assert result.stderr == "no_go.yaml: is a file, not a folder. Fix: give another folder with --output.\n"
    assert (folder / "no_go.yaml").read_text(encoding="utf-8") == NO_GO


@pytest.mark.skipif(sys.platform == "win32" or os.geteuid() == 0, reason="needs a folder that refuses its owner")
def test_an_output_folder_without_permission_exits_2(folder: Path) -> None:
    (folder / "locked").mkdir(mode=0o500)
    result = run("plan", "go.yaml", "--output", "locked")
    assert result.exit_code == 2
    assert "cannot be written (permission denied)" in result.stderr


@pytest.mark.parametrize(
    ("codes", "worst"),
    [([0, 3], 3), ([3, 1, 0], 1), ([1, 2, 3], 2), ([2, 4, 1], 4), ([0, 0], 0), ([], 0)],
)
def test_the_worst_exit_code_of_several_trips(codes: list[int], worst: int) -> None:
    assert telling.worst_code(codes) == worst


def test_one_bad_trip_does_not_stop_the_others(folder: Path) -> None:
    result = run("plan", "bad.yaml", "no_go.yaml", "go.yaml")
    assert result.exit_code == 1
    assert "--- no_go.yaml ---" in result.stdout
    assert sorted(path.name for path in (folder / "output").iterdir()) == ["go.pdf", "no_go.pdf"]


def test_two_trips_of_one_name_do_not_overwrite_each_other(folder: Path) -> None:
    (folder / "other").mkdir()
    (folder / "other" / "GO.yaml").write_text(GO, encoding="utf-8")
    assert run("plan", "go.yaml", "other/GO.yaml", "--format", "pdf").exit_code == 0
    assert sorted(path.name for path in (folder / "output").iterdir()) == ["GO-2.pdf", "go.pdf"]


def test_file_names_stay_inside_the_output_folder() -> None:
    assert cli_plan.file_names(["../../a b.yaml", "..", ".yaml", "x/..yaml"]) == ["a_b", "trip", "yaml", "trip-2"]


@pytest.mark.usefixtures("folder")
def test_an_internal_error_is_one_line_and_exits_4(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(_: object) -> None:
        raise ZeroDivisionError("float division\nby zero")

    monkeypatch.setattr(planner.planning, "plan", fail)
    result = run("plan", "go.yaml", "bad.yaml")
    assert result.exit_code == 4
    line = result.stderr.splitlines()[0]
    assert line.startswith("go.yaml: internal error at test_cli.py:")
    assert "ZeroDivisionError: float division by zero. " in line
    assert "Traceback" not in result.output


def test_a_name_that_the_pages_cannot_show_is_a_problem_with_its_place(folder: Path) -> None:
    (folder / "go.yaml").write_text(GO.replace("trip: Ward", "trip: Ward 🚑"), encoding="utf-8")
    line = GO.splitlines().index("trip: Ward to scanner") + 1
    for verb in ("check", "plan"):
        result = run(verb, "go.yaml")
        assert result.exit_code == 1
        assert f"go.yaml:{line}:7  not_printable  `Ward 🚑 to scanner` with 🚑 (U+1F691); allowed: " in result.stderr
    assert not list(folder.rglob("*.pdf"))


def test_what_gets_past_the_reader_is_still_refused_in_drawing(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("planner.profile.read.tell_letters", lambda *_: None)
    (folder / "go.yaml").write_text(GO.replace("trip: Ward", "trip: Ward 🚑"), encoding="utf-8")
    result = run("plan", "go.yaml")
    assert result.exit_code == 1
    assert "U+1F691" in result.stderr
    assert "No PDF was written." in result.stderr
    assert not list(folder.rglob("*.pdf"))


@pytest.mark.usefixtures("folder")
def test_check() -> None:
    good = run("check", "go.yaml", "no_go.yaml")
    assert (good.exit_code, good.stdout) == (0, "go.yaml: no problems\nno_go.yaml: no problems\n")
    mixed = run("check", "go.yaml", "bad.yaml")
    assert (mixed.exit_code, mixed.stdout) == (1, "go.yaml: no problems\n")
    assert "bad.yaml:13:39  unit_missing" in mixed.stderr


def test_catalog_names_sizes_and_devices_with_sources() -> None:
    result = run("catalog")
    assert result.exit_code == 0
    assert max(map(len, result.stdout.splitlines())) <= 100
    row = next(line for line in result.stdout.splitlines() if line.startswith("  US-E "))
    assert "0.28 L/psi" in row  # factor of an E cylinder: respiratory care textbooks
    for part in ("ventilator: ", "nasal_cannula: ", "Source: ", "From memory: "):
        assert part in result.stdout


@pytest.mark.parametrize("name", ["profile", "policy"])
def test_schema_is_json_schema(name: str) -> None:
    result = run("schema", name)
    assert result.exit_code == 0
    assert json.loads(result.stdout)["$schema"] == "https://json-schema.org/draft/2020-12/schema"


def test_the_time_of_issue_can_be_fixed_so_that_the_bytes_repeat(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1790000000")
    assert run("plan", "go.yaml", "--format", "pdf", "--output", "one").exit_code == 0
    assert run("plan", "go.yaml", "--format", "pdf", "--output", "two").exit_code == 0
    assert (folder / "one" / "go.pdf").read_bytes() == (folder / "two" / "go.pdf").read_bytes()
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "yesterday")
    result = run("plan", "go.yaml")
    assert result.exit_code == 2
    assert "SOURCE_DATE_EPOCH is 'yesterday'" in result.stderr


def command(*arguments: str) -> list[str]:
    return [sys.executable, "-m", "planner", *arguments]


def environment(**more: str) -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": str(ROOT), **more}


def test_the_list_of_verbs_is_told_whole_on_80_columns() -> None:
    result = CliRunner().invoke(main, ["--help"], terminal_width=80, max_content_width=80)
    listed = result.stdout.partition("Commands:\n")[2].partition("\n\n")[0].splitlines()
    assert [line.split()[0] for line in listed] == sorted(main.commands)
    assert all(line.endswith(".") and not line.endswith("...") and len(line) <= 80 for line in listed)


@pytest.mark.usefixtures("folder")
def test_version_and_help_name_the_command() -> None:
    ran = subprocess.run(command("--help"), capture_output=True, text=True, env=environment(), check=False)
    assert ran.returncode == 0
    assert ran.stdout.startswith("Usage: transport-oxygen ")


def test_a_console_without_the_letters_still_prints(folder: Path) -> None:
    (folder / "go.yaml").write_text(GO.replace("trip: Ward", "trip: Палата"), encoding="utf-8")
    ran = subprocess.run(
        command("plan", "go.yaml", "--format", "text"),
        capture_output=True,
        env=environment(PYTHONIOENCODING="cp1252"),
        check=False,
    )
    assert (ran.returncode, ran.stderr) == (0, b"")
    assert b"Trip: ?????? to scanner" in ran.stdout


@pytest.mark.skipif(sys.platform == "win32", reason="pipes and signals of Unix")
@pytest.mark.usefixtures("folder")
def test_a_reader_that_goes_away_ends_it_quietly() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    with os.fdopen(writing, "wb") as closed:
        ran = subprocess.run(
            command("plan", "go.yaml", "--format", "text"),
            stdout=closed,
            stderr=subprocess.PIPE,
            env=environment(),
            check=False,
        )
    assert (ran.returncode, ran.stderr) == (141, b"")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
@pytest.mark.usefixtures("folder")
@pytest.mark.parametrize("asked", [("plan", "go.yaml", "--format", "text"), ("--help",)])
def test_a_full_disk_behind_standard_output_is_told(asked: tuple[str, ...]) -> None:
    with Path("/dev/full").open("wb") as full:
        ran = subprocess.run(
            command(*asked),
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            env=environment(),
            check=False,
        )
    assert ran.returncode == 2
    assert re.fullmatch(r".* cannot be written.*no space left on device\)?\.\n", ran.stderr)


def test_ctrl_c_ends_it_cleanly(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("planner.pages.pack.pack_bytes", stop)
    result = run("plan", "go.yaml")
    assert result.exit_code == 130
    assert result.stderr.strip() == "Stopped. Nothing is half written."
    assert not list(folder.rglob("*.pdf"))


@pytest.mark.usefixtures("folder")
def test_many_trips_end_with_a_tally() -> None:
    result = run("plan", "go.yaml", "go.yaml", "missing.yaml", "--format", "text")
    assert result.stdout.splitlines()[-1] == "3 trips: 2 GO, 1 with problems in the profile."
    assert "trips:" not in run("plan", "go.yaml", "--format", "text").stdout


def test_schemas_are_written_for_an_editor_with_the_line_that_names_them(folder: Path) -> None:
    result = run("schema", "--write", "schemas")
    assert result.exit_code == 0
    assert "# yaml-language-server: $schema=schemas/profile.schema.json" in result.stdout.splitlines()
    written = json.loads((folder / "schemas" / "profile.schema.json").read_text(encoding="utf-8"))
    assert written == json.loads(run("schema").stdout)
    assert len(list((folder / "schemas").iterdir())) == 5
    assert run("schema", "--write", "go.yaml").exit_code == 2


@pytest.mark.skipif(sys.platform == "win32", reason="a shell's way to close a stream")
@pytest.mark.parametrize(("form", "code"), [("text", 2), ("json", 2), ("csv", 0)])
def test_a_closed_standard_output_is_told_in_plain_words(tmp_path: Path, form: str, code: int) -> None:
    """What goes to a file needs no screen."""
    trip = Path(__file__).parents[1] / "profiles" / "ward-to-scan.yaml"
    words = f"exec '{sys.executable}' -m planner plan '{trip}' --format {form} --output '{tmp_path}' >&-"
    ran = subprocess.run(["/bin/sh", "-c", words], cwd=trip.parents[1], capture_output=True, text=True, check=False)
    assert ran.returncode == code
    assert ("Standard output is closed: what was to be shown there is lost." in ran.stderr) is (code == 2)
    assert "fault of the program" not in ran.stderr


def test_ctrl_c_in_whatever_loads_is_no_fault_of_the_program(monkeypatch: pytest.MonkeyPatch) -> None:
    """A library that is loading may turn Ctrl-C into an error of its own."""
    from planner.command import lists

    def loading() -> str:
        raise ImportError("the library could not be loaded") from KeyboardInterrupt()

    monkeypatch.setattr(lists, "catalog_text", loading)
    ran = CliRunner().invoke(main, ["catalog"])
    assert ran.exit_code == 130
    assert ran.output == "Stopped. Nothing is half written.\n"


def test_ctrl_c_where_python_would_go_on_ends_it_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """In what is called as something is let go, an exception is told of and lost."""

    class LetGo:
        def __del__(self) -> None:
            raise KeyboardInterrupt

    def go_on() -> None:
        for _ in range(10_000):
            time.sleep(0.001)

    let_go = LetGo()
    monkeypatch.setattr(sys, "unraisablehook", ctrl_c_once_more)
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        del let_go
        with pytest.raises(KeyboardInterrupt):
            go_on()
    finally:
        signal.signal(signal.SIGINT, before)


@pytest.mark.parametrize(
    "verb", ["plan", "check", "new", "compare", "shift", "review", "lasts", "measured-flow", "schema"]
)
def test_the_help_names_no_file_that_an_installed_program_lacks(verb: str) -> None:
    """The profiles to start from are no part of what `pip install` lays down."""
    assert "profiles/" not in CliRunner().invoke(main, [verb, "--help"]).output
