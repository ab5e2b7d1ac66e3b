"""The verb `compare`: exit codes, streams, closing a trip, and its store kept true."""

from __future__ import annotations

import json
import re
import shutil
import textwrap
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from planner.command.cli import main

ROOT = Path(__file__).resolve().parent.parent
TRIP = """\
profile: 1
trip: Ward to theatre
reference: T-7
setting: in_house
departs: 2026-12-03 23:50
supplies:
  cart: {store: stores/room.yaml, places: 2}
devices:
  mask: {type: simple_mask, flow: 6 L/min}
legs:
  - {name: Ward to theatre, duration: 30 min, supply: cart, devices: [mask]}
  - {name: In theatre, duration: 30 min, supply: cart, devices: [mask]}
"""
STORE = """\
# The room of an invented ward.
cylinders:
  - {label: A, contents: 616 L at 2200 psi, gauge: 2000 psi, checked: 2026-12-03 20:00}   # by the door
  - {label: B, contents: 616 L at 2200 psi, gauge: 1900 psi, checked: 2026-12-03 20:00}
"""
# By hand: 6 L/min x 60 min = 360 L = 1286 psi x 0.28 L/psi.
CLOSED = """\
readings: 1
trip: T-7
log:
  - {time: 23:50, cylinder: A, gauge: 2000 psi}
  - {time: 00:20, cylinder: A, gauge: 1360 psi, leg: 1, at: end}
closed:
  time: 00:55
  shut_and_bled: true
  last: [{cylinder: A, gauge: 710 psi}]
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "trips" / "stores").mkdir(parents=True)
    (tmp_path / "trips" / "trip.yaml").write_text(TRIP, encoding="utf-8")
    (tmp_path / "trips" / "stores" / "room.yaml").write_text(STORE, encoding="utf-8", newline="\n")
    (tmp_path / "closed.yaml").write_text(CLOSED, encoding="utf-8")
    return tmp_path


def run(*arguments: str) -> Result:
    return CliRunner().invoke(main, ["compare", "trips/trip.yaml", *arguments])


def written(folder: Path, text: str) -> str:
    """The name of a file of readings."""
    (folder / "readings.yaml").write_text(text, encoding="utf-8")
    return "readings.yaml"


def store_of(folder: Path) -> str:
    return (folder / "trips" / "stores" / "room.yaml").read_text(encoding="utf-8")


def test_a_trip_as_planned_exits_0_and_says_how_to_close_it(folder: Path) -> None:
    result = run("closed.yaml")
    assert result.exit_code == 0, result.output
    assert result.stdout.startswith("AS PLANNED - the trip used what was planned.\n")
    assert result.stdout.endswith("To write the last gauges into the store: compare again with --close.\n")
    assert store_of(folder) == STORE


def test_closing_writes_the_last_gauges_into_the_store_and_keeps_the_earlier_file(folder: Path) -> None:
    result = run("closed.yaml", "--close")
    assert result.exit_code == 0, result.output
    room = Path("trips", "stores", "room.yaml")
    assert f"CLOSED. Written to {room}: A 2000 psi to 710 psi." in " ".join(result.stdout.split())
    # The time of the store file has no zone, as the trip has none; 00:55 is on the next day.
    old = "gauge: 2000 psi, checked: 2026-12-03 20:00"
    assert store_of(folder) == STORE.replace(old, "gauge: 710 psi, checked: 2026-12-04 00:55")
    assert (folder / "trips" / "stores" / "room.yaml.before").read_text(encoding="utf-8") == STORE


@pytest.mark.usefixtures("folder")
def test_closing_twice_compares_the_same_and_changes_nothing_more() -> None:
    first = run("closed.yaml", "--close")
    again = run("closed.yaml", "--close")
    assert again.exit_code == first.exit_code == 0
    assert again.stdout.partition("CLOSED")[0] == first.stdout.partition("CLOSED")[0]
    assert again.stdout.endswith("CLOSED. trips/stores/room.yaml had the reading of A already.\n")


def test_closing_again_says_the_same_and_leaves_the_history_too(folder: Path) -> None:
    """Nobody read A at departure: its gauge in the store stands for it, also once the store has another."""
    path = written(folder, CLOSED.replace("  - {time: 23:50, cylinder: A, gauge: 2000 psi}\n", ""))
    told, kept = [], []
    for _ in range(2):
        told.append(run(path, "--close", "--history", "history.jsonl").stdout.partition("CLOSED")[0])
        kept.append((folder / "history.jsonl").read_text(encoding="utf-8"))
    assert told[0] == told[1]
    assert "2000 to 1360" in told[1]
    assert kept[0] == kept[1]


def test_what_was_breathed_before_the_first_reading_is_no_leak_in_the_rack(folder: Path) -> None:
    """30 min at 6 L/min before anybody read A: 640 psi less than in the store, and none of it lost in the rack."""
    path = written(folder, CLOSED.replace("  - {time: 23:50, cylinder: A, gauge: 2000 psi}\n", ""))
    assert "may leak" not in " ".join(run(path, "--close").stdout.split())
    history = CliRunner().invoke(main, ["review", "--cylinder", "A", "trips/stores/room.yaml", "--format", "json"])
    assert [step["lost_kpa"] for step in json.loads(history.stdout)["steps"]] == [None]


def test_a_cylinder_first_read_as_it_goes_on_tells_of_the_rack(folder: Path) -> None:
    """B stood at 1900 psi in the store, and reads 1700 when A comes off: nobody had drawn on it before."""
    closed = CLOSED.replace(
        "leg: 1, at: end}", "leg: 1, at: end, change_to: B}\n  - {time: 00:20, cylinder: B, gauge: 1700 psi}"
    )
    path = written(
        folder,
        closed.replace(
            "[{cylinder: A, gauge: 710 psi}]", "[{cylinder: A, gauge: 1360 psi}, {cylinder: B, gauge: 1050 psi}]"
        ),
    )
    told = " ".join(run(path, "--close").stdout.split())
    assert "CAUTION: B read 1700 psi when it was taken along, and 1900 psi in" in told
    assert "CAUTION: A read" not in told


def test_closing_after_a_later_trip_leaves_its_reading_and_does_not_say_that_it_had_this_one(folder: Path) -> None:
    run("closed.yaml", "--close")
    room = folder / "trips" / "stores" / "room.yaml"
    room.write_text(
        store_of(folder).replace("710 psi, checked: 2026-12-04 00:55", "650 psi, checked: 2026-12-04 09:00")
    )
    told = " ".join(run("closed.yaml", "--close").stdout.split())
    assert told.endswith(
        "CLOSED. trips/stores/room.yaml has a later reading of A: left. If its time in the store is wrong, correct "
        "`checked` there, and close again."
    )
    assert "650 psi" in store_of(folder)


@pytest.mark.hazard(29)
def test_a_trip_is_not_closed_without_a_last_gauge_for_every_cylinder_used(folder: Path) -> None:
    path = written(folder, CLOSED.replace("  last: [{cylinder: A, gauge: 710 psi}]\n", ""))
    result = run(path, "--close")
    assert result.exit_code == 1
    assert result.stdout.startswith("AS PLANNED")
    assert result.stderr == (
        "readings.yaml:7:3  not_closed  cart A without its last gauge and the word that it was shut and bled; allowed: "
        "a last gauge for every cylinder used, read before bleeding, and `shut_and_bled: true`. Fix: read the gauge, "
        "shut the valve, bleed the regulator, and write both under `closed`.\n"
        "readings.yaml: 1 problem, nothing closed.\n"
    )
    assert store_of(folder) == STORE


@pytest.mark.hazard(29)
def test_a_trip_is_not_closed_without_the_word_that_its_cylinders_are_shut_and_bled(folder: Path) -> None:
    path = written(folder, CLOSED.replace("  shut_and_bled: true\n", ""))
    result = run(path, "--close")
    assert result.exit_code == 1
    assert "not_closed  cart A without the word that it was shut and bled; allowed" in result.stderr
    assert store_of(folder) == STORE
    # Without --close the comparison is given, and says the same.
    result = run(path)
    assert result.exit_code == 0
    assert "NOT CLOSED. A cylinder that is left open is empty next time, and a fire hazard." in result.stdout
    assert "  - cart A without the word that it was shut and bled\n" in result.stdout


@pytest.mark.hazard(38)
def test_a_cylinder_that_the_log_has_in_the_place_of_the_planned_one_closes_nothing_before_both_are_read(
    folder: Path,
) -> None:
    """The crew wrote B for A from beginning to end: closed so, A, which holds 710 psi, stays in the store as full."""
    slip = CLOSED.replace("cylinder: A, gauge: 2000", "cylinder: B, gauge: 2000").replace("cylinder: A", "cylinder: B")
    result = run(written(folder, slip), "--close")
    assert result.exit_code == 1, result.output
    assert "not_closed  cart A without its last gauge; allowed" in result.stderr
    assert store_of(folder) == STORE
    both = slip.replace("last: [", "last: [{cylinder: A, gauge: 2000 psi}, ")
    result = run(written(folder, both), "--close")
    assert result.exit_code == 0, result.output
    assert "B 1900 psi to 710 psi" in " ".join(result.stdout.split())
    assert "gauge: 2000 psi, checked: 2026-12-03 20:00" in store_of(folder)
    assert run("readings.yaml", "--close").exit_code == 0  # again, with the store as it is now


@pytest.mark.hazard(29)
def test_a_trip_on_its_way_is_not_closed(folder: Path) -> None:
    path = written(folder, CLOSED.partition("closed:")[0])
    result = run(path, "--close")
    assert result.exit_code == 1
    assert "readings.yaml:0:0  not_closed  cart A without its last gauge and" in result.stderr


@pytest.mark.hazard(22)
def test_half_of_the_planned_use_exits_3_and_looks_at_the_patient_first(folder: Path) -> None:
    # 30 min plan 180 L; a fall of 320 psi is 90 L.
    path = written(folder, CLOSED.partition("closed:")[0].replace("1360 psi", "1680 psi"))
    result = run(path)
    assert result.exit_code == 3
    assert result.stdout.startswith("LOOK AT THE PATIENT FIRST - less oxygen is used than planned.\n")


def test_an_alert_does_not_keep_the_store_from_the_truth(folder: Path) -> None:
    path = written(folder, CLOSED.replace("710 psi", "1900 psi").replace("1360 psi", "1950 psi"))
    result = run(path, "--close")
    assert result.exit_code == 3
    assert result.stdout.startswith("LESS OXYGEN WAS USED THAN PLANNED.")
    assert "gauge: 1900 psi, checked: 2026-12-04 00:55}   # by the door" in store_of(folder)


def test_json_is_all_that_standard_output_holds(folder: Path) -> None:
    result = run("closed.yaml", "--close", "--format", "json,text")
    assert result.exit_code == 0
    document = json.loads(result.stdout)
    assert document["command"] == "compare"
    assert document["alert"] is False
    assert document["closed"]["complete"] is True
    assert document["closed"]["asked"] is True
    assert "CLOSED. Written to" in result.stderr
    assert "A 2000 psi to 710 psi" in " ".join(result.stderr.split())
    assert sum(stretch["planned_l"] for stretch in document["stretches"]) == pytest.approx(360.0)
    assert result.stderr.startswith("AS PLANNED")
    assert "710 psi" in store_of(folder)


def test_problems_of_readings_exit_1_with_their_place(folder: Path) -> None:
    result = run(written(folder, CLOSED.replace("1360 psi", "1360").replace("T-7", "T-8")), "--close")
    assert result.exit_code == 1
    assert result.stdout == ""
    assert "readings.yaml:2:7  other_trip  readings of `T-8`, held against `T-7`" in result.stderr
    assert "readings.yaml:5:39  unit_missing  gauge `1360` without a unit" in result.stderr
    assert result.stderr.endswith("readings.yaml: 2 problems, nothing compared or closed.\n")
    assert run("gone.yaml").exit_code == 1


def test_a_key_that_is_wrong_in_every_row_is_told_once_with_all_its_places(folder: Path) -> None:
    result = run(written(folder, CLOSED.replace("{time: ", "{min: ")))
    one, count = result.stderr.splitlines()
    assert one.startswith("readings.yaml:4:6  key_unknown  unknown key `min`, and no `time`; allowed: time, ")
    assert one.endswith(". Also at 5:6.")
    assert count == "readings.yaml: 1 problem in 2 places, nothing compared or closed."


@pytest.mark.usefixtures("folder")
def test_a_format_that_does_not_exist_is_usage() -> None:
    assert run("closed.yaml", "--format", "pdf").exit_code == 2


def test_a_store_that_cannot_be_written_is_told(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("tempfile.mkstemp", refuse)
    result = run("closed.yaml", "--close")
    assert result.exit_code == 2
    assert "cannot be written (permission denied). Fix: get leave to write in its folder" in result.stderr
    assert result.stdout.startswith("AS PLANNED")  # the comparison is told whatever becomes of the store
    for form in ("json", "json,text"):
        told = run("closed.yaml", "--close", "--format", form)
        assert told.exit_code == 2
        assert json.loads(told.stdout)["headline"].startswith("AS PLANNED")
        assert "cannot be written" in told.stderr
        assert "CLOSED" not in told.stderr
    assert store_of(folder) == STORE


@pytest.mark.parametrize("form", ["text", "json", "json,text"])
def test_the_comparison_is_out_before_anything_of_the_store_is_looked_at(
    folder: Path, monkeypatch: pytest.MonkeyPatch, form: str
) -> None:
    """Ended like a kill at the first step towards the store, the comparison has been told in full."""

    def killed(*_: object) -> None:
        raise SystemExit(9)

    monkeypatch.setattr("planner.command.compare.closing_problems", killed)
    result = run("closed.yaml", "--close", "--format", form)
    assert result.exit_code == 9
    told = result.stderr if form == "json,text" else result.stdout
    assert "AS PLANNED" in told
    if form != "json":
        assert told.rstrip().endswith("A planning aid: local protocol and licensed practice govern.")
    if form != "text":
        assert json.loads(result.stdout)["closed"]["asked"] is True
    assert store_of(folder) == STORE


def test_what_was_written_before_another_store_failed_is_told(folder: Path) -> None:
    """Two stores: the first is written and told; the disk of the second is full, and the exit code says so."""
    trip = folder / "trips" / "trip.yaml"
    trip.write_text(
        TRIP.replace(
            "devices:\n", "  van: {store: stores/van.yaml, places: 1, fixed: true, backup: cart}\ndevices:\n", 1
        )
        + "  - {name: Drive, duration: 20 min, supply: van, devices: [mask]}\n",
        encoding="utf-8",
    )
    van = folder / "trips" / "stores" / "van.yaml"
    van.write_text(STORE.replace("A,", "V,").replace("  - {label: B", "#"), encoding="utf-8")
    log = CLOSED.replace("cylinder: A", "supply: cart, cylinder: A").replace("00:55", "01:20")
    log = log.replace("710 psi}", "710 psi}, {supply: van, cylinder: V, gauge: 1570 psi}")
    log = log.replace(
        "closed:", "  - {time: 01:10, supply: van, cylinder: V, gauge: 1570 psi, leg: 3, at: end}\nclosed:"
    )
    (folder / "trips" / "stores" / "van.yaml.before").mkdir()  # the earlier file cannot be kept
    result = run(written(folder, log), "--close")
    assert result.exit_code == 2, result.output
    assert "CLOSED. Written to trips/stores/room.yaml: A 2000 psi to 710 psi." in " ".join(result.stdout.split())
    assert "van.yaml" not in result.stdout.partition("CLOSED")[2]
    assert "van.yaml" in result.stderr
    assert "gauge: 2000 psi" in van.read_text(encoding="utf-8")


def test_a_store_that_refuses_says_that_nothing_was_closed_and_not_that_nothing_was_compared(folder: Path) -> None:
    store = folder / "trips" / "stores" / "room.yaml"
    store.write_text(STORE.replace("gauge: 2000 psi, checked: 2026-12-03 20:00", "gauge: 600 psi"), encoding="utf-8")
    log = CLOSED.replace("  - {time: 00:20, cylinder: A, gauge: 1360 psi, leg: 1, at: end}\n", "")
    result = run(written(folder, log), "--close")
    assert result.exit_code == 1, result.output
    assert "gauge_rises  cylinder `A` with 710 psi after the trip" in result.stderr
    assert result.stderr.endswith("readings.yaml: 1 problem, nothing closed.\n")


def test_a_value_set_on_the_command_line_counts(folder: Path) -> None:
    path = written(folder, CLOSED.partition("closed:")[0])
    result = run(path, "--set", "devices.mask.flow=12 L/min")
    assert result.exit_code == 3
    assert result.stdout.startswith("LOOK AT THE PATIENT FIRST")


@pytest.mark.parametrize(
    ("trip", "readings", "code", "headline"),
    [
        ("ward-to-scan.yaml", "ward-to-scan.yaml", 3, "LOOK AT THE PATIENT FIRST - less oxygen is used than planned."),
        (
            "ventilated-by-road.yaml",
            "ventilated-by-road.csv",
            3,
            "LOOK FOR A LEAK OR A RAISED SETTING - more oxygen is used than planned. Then write",
        ),
        ("from-the-store.yaml", "from-the-store.yaml", 0, "AS PLANNED - the trip used what was planned."),
    ],
)
def test_the_examples_say_what_they_are_there_for(
    tmp_path: Path, trip: str, readings: str, code: int, headline: str
) -> None:
    folder = tmp_path / "profiles"
    shutil.copytree(ROOT / "profiles", folder)
    result = CliRunner().invoke(main, ["compare", str(folder / trip), str(folder / "readings" / readings)])
    assert result.exit_code == code, result.output
    assert " ".join(result.stdout.split()).startswith(headline)


def test_what_the_readme_of_the_examples_shows_is_real(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text = (ROOT / "profiles" / "readings" / "README.md").read_text(encoding="utf-8")
    shutil.copytree(ROOT / "profiles", tmp_path / "profiles")
    monkeypatch.chdir(tmp_path)
    commands = re.findall(r"^    transport-oxygen (compare .+)$", text, re.MULTILINE)
    assert len(commands) == 3
    for command in commands:
        shown = CliRunner().invoke(main, command.split())
        assert textwrap.indent(shown.stdout.rstrip(), "    ", lambda line: line.strip() != "") in text


def test_the_help_reads_as_a_sentence() -> None:
    result = CliRunner().invoke(main, ["compare", "--help"])
    assert result.exit_code == 0
    assert "Compares what the crew read on the way with the plan, and says whether to" in result.output
    assert "Exit codes: 0 nothing to act on" in result.output


def test_the_schema_of_readings_is_printed() -> None:
    result = CliRunner().invoke(main, ["schema", "readings"])
    assert json.loads(result.output)["title"] == "readings file"


def test_a_closing_is_taken_back_by_the_command(folder: Path) -> None:
    assert run("closed.yaml", "--close").exit_code == 0
    assert store_of(folder) != STORE
    undone = run("closed.yaml", "--undo-close")
    assert undone.exit_code == 0, undone.output
    text = " ".join(undone.stdout.split())
    assert "UNDONE. A 710 psi back to 2000 psi. Read each gauge again before it is used." in text
    assert "gauge: 2000 psi" in store_of(folder)
    again = run("closed.yaml", "--undo-close")
    assert again.exit_code == 0
    assert "no closing of this trip stands in its journal" in " ".join(again.stdout.split())
    both = run("closed.yaml", "--undo-close", "--close")
    assert both.exit_code == 2
    assert "--close and --undo-close at once." in both.stderr
