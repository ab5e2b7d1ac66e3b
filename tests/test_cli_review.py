"""The verb `review`: what it prints of the invented service's history, and what it does with files that are broken."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

from click.testing import CliRunner, Result

from planner.command.cli import main

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
    assert "10 trips were made and not closed" in words
    assert "not enough yet: 51 of 59" in words
    assert "CHANGED: wait: scanner has become larger, as it seems since the trip closed on 2026-09-1" in words
    assert "transport ventilator" in words
    assert "For a proposal on the reserve: not enough yet, 140 of 299 trips." in words


def test_the_document_has_the_names_that_other_programs_rely_on() -> None:
    result = run(str(HISTORY), "--format", "json")
    found = json.loads(result.stdout)
    assert found["format"] == 1
    assert found["trips"] == 140
    assert set(found["covered"]) == {"share", "lower_95"}
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
    assert "history.jsonl:2  line skipped: not JSON" in " ".join(result.output.split()).replace(" line", "  line", 1)
    assert "\x1b" not in result.output


def test_a_file_that_is_missing_or_no_history_ends_in_words(tmp_path: Path) -> None:
    missing = run(str(tmp_path / "none.jsonl"))
    assert missing.return_value == 1
    assert "cannot be read: no such file" in missing.stderr
    binary = tmp_path / "noise.bin"
    binary.write_bytes(bytes(range(256)) * 400)
    assert "No closed trip was read" in run(str(binary)).stdout
