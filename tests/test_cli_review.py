"""The verb `review`: what it prints of the invented service's history, and what it does with files that are broken."""

from __future__ import annotations

import io
import json
import subprocess
import sys
from datetime import datetime
from pathlib import Path

from click.testing import CliRunner, Result

from planner.afterwards.review.history import LONGEST_LINE, lines_of, read
from planner.command.cli import main
from planner.store.closing import LastReading, undo, write_back
from planner.store.journal import ByTrip

ROOT = Path(__file__).resolve().parent.parent
HISTORY = ROOT / "demo" / "history.jsonl"


def run(*arguments: str) -> Result:
    return CliRunner().invoke(main, ["review", *arguments], standalone_mode=False)


def test_the_demo_history_is_what_its_script_writes() -> None:
    ran = subprocess.run([sys.executable, "demo/make_history.py"], cwd=ROOT, capture_output=True, text=True, check=True)
    assert ran.stdout == HISTORY.read_text(encoding="utf-8")


def test_what_the_demo_history_teaches() -> None:
    """140 trips are written; a scanner's wait grew by 1.57 (e to the 0.45) with trip 96, on 2026-09-10 (2 March + 192
    d)."""
    result = run(str(HISTORY), "--made", "150")
    assert result.return_value == 0
    words = " ".join(result.output.split())
    assert "140 closed trips" in words
    assert "10 trips made and not closed" in words
    assert "not enough yet: 51 of 59" in words
    assert "CHANGED: wait: scanner has become larger, as it seems since the trip closed on 2026-09-1" in words
    assert "transport ventilator" in words
    assert "for a reserve that covers 99 of 100 trips not enough yet, 140 of 299 trips." in words
    assert "No reserve factor is proposed; the default is 1.5." in words
    # One of 140 was not covered, and were none of the 10 others, 139 of 150 would be: 92.7 %.
    assert "Were none of them covered, the share would be 92 %" in words
    # Five series: mask, ventilator, leg and two waits (the named ventilator's trips are those of its type).
    assert (
        "no more often than once in 5000 of its trips, and all 5 series together no more often than once in 1000"
        in words
    )


def test_the_document_has_the_names_that_other_programs_rely_on() -> None:
    result = run(str(HISTORY), "--format", "json")
    found = json.loads(result.stdout)
    assert found["format"] == 1
    assert found["trips"] == 140
    assert set(found["covered"]) == {"share", "lower_95", "trips"}
    first = found["flows"][0]
    assert (first["type"], first["setting"], first["settings"], first["needed"]) == (
        "simple_mask",
        "in_house",
        None,
        59,
    )
    assert (first["upper_95_95"], first["reason"]) == (None, "not_enough")
    assert {"wait": "lift"}.items() <= found["times"][0].items()
    assert found["implied"][0]["device"] == "transport ventilator"
    assert found["changed"][0]["what"] == {"wait": "scanner"}
    assert (found["blurred"], found["ran_out"], found["missing"]) == (0, 0, None)


def test_a_broken_line_is_told_with_file_and_number(tmp_path: Path) -> None:
    file = tmp_path / "history.jsonl"
    file.write_text('{"history": 1, "kind": "void", "trip": "x"}\n{"broken\x1b[2J\n', encoding="utf-8")
    result = run(str(file))
    assert result.return_value == 0
    assert "history.jsonl:2  line skipped: not JSON" in result.output
    assert "\x1b" not in result.output


def test_a_line_without_end_is_told_and_never_held_whole() -> None:
    class Counted(io.StringIO):
        most = 0

        def readline(self, size: int = -1, /) -> str:  # type: ignore[override]
            self.most = max(self.most, size)
            assert size > 0
            return super().readline(size)

    file = Counted("[" * (2 * LONGEST_LINE + 7) + '\n{"history": 1, "kind": "void", "trip": "x"}\n')
    lines = [*lines_of(file)]
    assert [len(line) for line in lines] == [LONGEST_LINE + 1, 44]
    assert file.most == LONGEST_LINE + 1
    found = read([("history.jsonl", lines)])
    (broken,) = found.broken
    assert (broken.line, broken.why[:28]) == (1, "longer than 1000000 letters:")
    assert found.number == {"x": 0}


def test_a_file_that_is_missing_or_no_history_ends_in_words(tmp_path: Path) -> None:
    missing = run(str(tmp_path / "none.jsonl"))
    assert missing.return_value == 1
    assert "cannot be read: no such file" in missing.stderr
    binary = tmp_path / "noise.bin"
    binary.write_bytes(bytes(range(256)) * 400)
    assert "No closed trip was read" in run(str(binary)).stdout


STORE = """name: Cart room
cylinders:
  - {label: E-01, size: US-E, gauge: 2000 psi}
  - {label: E-02, size: US-E, gauge: 900 psi}
"""


def closed(store: Path, drawn: str, left: str, day: int, *, refilled: bool = False) -> None:
    at = datetime(2026, 12, day, 16)
    reading = LastReading(left, at, refilled=refilled, drawn=drawn)
    write_back(store, {"E-01": reading}, ByTrip(f"trip {day}", None, datetime(2026, 12, day, 14)))


def test_the_history_of_a_cylinder_shows_what_it_lost_in_the_rack(tmp_path: Path) -> None:
    """Left at 1500, taken at 1350: 150 psi gone in the rack, more than the 100 psi that two readings may differ by."""
    store = tmp_path / "store.yaml"
    store.write_text(STORE, encoding="utf-8")
    closed(store, "2000 psi", "1500 psi", 1)
    sound = run("--cylinder", "E-01", str(store)).stdout
    assert "nothing" in sound
    assert "CAUTION" not in sound
    closed(store, "1350 psi", "1000 psi", 4)
    told = " ".join(run("--cylinder", "E-01", str(store)).stdout.split())
    assert "2026-12-04 16:00 closed trip 4 1350 psi 1000 psi 150 psi" in told
    assert "CAUTION: E-01 lost 150 psi in the rack" in told
    undo(store, ByTrip("trip 4", None, datetime(2026, 12, 4, 14)))
    assert "UNDONE" in run("--cylinder", "E-01", str(store)).stdout


def test_a_slow_leak_adds_up_and_readings_that_err_both_ways_do_not(tmp_path: Path) -> None:
    """40 psi at a time are within what readings differ by; three times are 120 psi. 40 more and 40 less are nothing."""
    for falls, leaks in (((40, 40, 40), True), ((40, -40, 40), False)):
        store = tmp_path / f"{leaks}.yaml"
        store.write_text(STORE, encoding="utf-8")
        gauge = 2000
        for day, fall in enumerate(falls, start=1):
            closed(store, f"{gauge - fall} psi", f"{gauge - fall - 200} psi", day)
            gauge += -fall - 200
        result = json.loads(run("--cylinder", "E-01", str(store), "--format", "json").stdout)
        assert (result["leaks"], len(result["steps"])) == (leaks, 3)


def test_a_cylinder_that_was_refilled_is_said_to_be_so_and_one_without_a_closing_too(tmp_path: Path) -> None:
    store = tmp_path / "store.yaml"
    store.write_text(STORE, encoding="utf-8")
    closed(store, "2000 psi", "2100 psi", 1, refilled=True)
    assert "closed, refilled" in run("--cylinder", "E-01", str(store)).stdout
    never = " ".join(run("--cylinder", "E-02", str(store)).stdout.split())
    assert "no closing of a trip has named it yet" in never
    unknown = run("--cylinder", "E-09", str(store))
    assert (unknown.return_value, "no cylinder E-09; there are E-01, E-02" in unknown.stderr) == (1, True)
