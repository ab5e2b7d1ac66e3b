"""Forms made to break their reader: it ends within its limits, and says in plain words what it was given."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from random import Random
from types import ModuleType
from typing import Any

import pytest
from click.testing import CliRunner

from planner.command.cli import main
from planner.files import apart as limited
from planner.problems import ProblemsError
from planner.readings import pdf_fields
from planner.readings.read import read_readings
from tests.fuzz import forms
from tests.fuzz.hostile_forms import SAMPLES

DEAR = ("nested filters", "an attachment of 150 MB", "7.5 MB of boxes", "the same page many times", "object streams")
"""These want a gigabyte or minutes, or once did: they are read as the command reads them, with its limits."""

LIGHT = [name for name in SAMPLES if name not in (*DEAR, "one box many times")]


def told(path: Path) -> str:
    """What is said of a file that is no form, in one line."""
    with pytest.raises(ProblemsError) as caught:
        read_readings(path, forms.planned())
    (problem,) = caught.value.problems
    assert str(problem).isprintable()
    return f"{problem.code}  {problem.found}. Fix: {problem.fix}."


@pytest.mark.longer("name", [DEAR[0], DEAR[-1]], DEAR)
def test_what_asks_for_too_much_is_ended(tmp_path: Path, name: str) -> None:
    path = tmp_path / "form.pdf"
    path.write_bytes(SAMPLES[name]())
    said = told(path)
    wanted = ("too_much  more in it than a form holds, or more than reading it may take of memory and time. Fix: give",)
    assert said.startswith((*wanted, "not_this_form  a form that does not say") if name == DEAR[-1] else wanted), said


@pytest.mark.parametrize("name", LIGHT)
def test_hostile_files_give_a_word_and_no_error(tmp_path: Path, name: str) -> None:
    said = forms.read_bytes(SAMPLES[name](), tmp_path)
    assert said in ("locked", "read", "too_much", "not_a_pdf")
    assert (said == "locked") is name.startswith("locked")


def test_a_form_that_is_locked_is_told_in_plain_words(tmp_path: Path) -> None:
    path = tmp_path / "form.pdf"
    path.write_bytes(SAMPLES["locked with a key of 256 bits"]())
    assert told(path) == (
        "locked  a PDF that is locked. Fix: save a copy that asks for no password and is not encrypted."
    )


def test_a_form_locked_with_a_password_is_told_too(tmp_path: Path) -> None:
    from io import BytesIO

    from pypdf import PdfReader, PdfWriter

    writer = PdfWriter(clone_from=PdfReader(BytesIO(forms.form())))
    writer.encrypt("secret", algorithm="RC4-128")
    writer.write(tmp_path / "form.pdf")
    assert told(tmp_path / "form.pdf").startswith("locked  ")


def test_nothing_of_a_file_reaches_the_terminal(tmp_path: Path) -> None:
    """The library that reads a PDF writes what it finds odd, with the bytes of the file: here, to clear the screen."""
    (tmp_path / "trip.yaml").write_text(forms.TRIP, encoding="utf-8")
    (tmp_path / "form.pdf").write_bytes(SAMPLES["words for a terminal"]())
    ran = subprocess.run(
        [sys.executable, "-m", "planner", "compare", "trip.yaml", "form.pdf"],
        cwd=tmp_path,
        capture_output=True,
        env={"PYTHONPATH": str(Path(__file__).parents[1])},
        check=False,
    )
    assert ran.returncode == 1
    assert b"\x1b" not in ran.stdout + ran.stderr
    assert ran.stderr.startswith(b"form.pdf:1:1  not_a_pdf  no PDF that can be read; allowed: the pages of this trip")


def test_a_file_that_is_too_large_is_not_opened(tmp_path: Path) -> None:
    with (tmp_path / "form.pdf").open("wb") as file:
        file.truncate(20_000_001)
    assert told(tmp_path / "form.pdf").startswith("too_large  more than 20 MB. Fix: give the filled-in pages")


def test_forms_changed_at_random_break_nothing(tmp_path: Path) -> None:
    random = Random(1)  # noqa: S311 - to be repeated, not to be secret
    said = {forms.read_bytes(forms.changed(forms.form(), random), tmp_path) for _ in range(40)}
    assert {"read", "not_a_pdf"} <= said


def test_anything_typed_into_the_boxes_is_read_or_told() -> None:
    random = Random(1)  # noqa: S311 - to be repeated, not to be secret
    said = [forms.compared(forms.values(random)) for _ in range(150)]
    assert "read" in said
    assert len(set(said)) > 20


@pytest.mark.longer("seed", [2], range(2, 300))
def test_more_of_both(tmp_path: Path, seed: int) -> None:
    random = Random(seed)  # noqa: S311 - to be repeated, not to be secret
    for _ in range(5):
        forms.read_bytes(forms.changed(forms.form(), random), tmp_path)
        forms.compared(forms.values(random))


# The process apart


def module(tmp_path: Path, text: str) -> ModuleType:
    """A module whose `answer` is to be given apart."""
    path = tmp_path / "work.py"
    path.write_text(f"def load():\n    pass\n\ndef answer(text):\n    {text}\n", encoding="utf-8")
    made = ModuleType("work")
    made.__file__ = str(path)
    exec(path.read_text(encoding="utf-8"), made.__dict__)  # noqa: S102 - the text above
    return made


def test_work_apart_gives_its_answer(tmp_path: Path) -> None:
    work = module(tmp_path, "print('aside', file=__import__('sys').stderr); return [text, 1]")
    assert limited.apart(work, "-é") == ["-é", 1]


@pytest.mark.skipif(sys.platform != "linux", reason="the system has no such limits")
@pytest.mark.parametrize("work", ["return len(bytearray(300_000_000))", "while True: pass"])
def test_work_apart_is_ended_where_it_takes_too_much(tmp_path: Path, work: str) -> None:
    with pytest.raises(limited.TooMuchError):
        limited.apart(module(tmp_path, work), "x")


def test_work_apart_is_ended_by_the_clock(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(limited, "MOST_S", 0.5)
    with pytest.raises(limited.TooMuchError):
        limited.apart(module(tmp_path, "import time; time.sleep(60)"), "x")


def test_where_there_are_no_processes_the_work_is_done_here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_processes(*_: Any, **__: Any) -> None:
        raise OSError("this system has no processes")

    monkeypatch.setattr(subprocess, "run", no_processes)
    for name in limited.WITHOUT_PROCESSES:
        monkeypatch.setattr(sys, "platform", name)
        assert limited.apart(module(tmp_path, "return text"), "x") == "x"
        with pytest.raises(limited.TooMuchError):
            limited.apart(module(tmp_path, "raise MemoryError"), "x")
    monkeypatch.setattr(sys, "platform", "emscripten")
    (tmp_path / "form.pdf").write_bytes(forms.form())
    (entry,) = read_readings(tmp_path / "form.pdf", forms.planned()).entries
    assert (entry.minute, entry.gauge_text) == (0.0, "1900 psi")


def test_the_library_for_pictures_is_left_as_it_was(monkeypatch: pytest.MonkeyPatch) -> None:
    pictures = ModuleType("PIL")
    for known in (pictures, None):
        monkeypatch.delitem(sys.modules, "PIL", raising=False)
        if known is not None:
            monkeypatch.setitem(sys.modules, "PIL", known)
        pdf_fields.load()
        assert sys.modules.get("PIL") is known


def test_the_command_ends_with_problems_and_no_fault_of_its_own(tmp_path: Path) -> None:
    (tmp_path / "trip.yaml").write_text(forms.TRIP, encoding="utf-8")
    for name in ("nothing", "7.5 MB of boxes"):
        (tmp_path / "form.pdf").write_bytes(SAMPLES[name]())
        ran = CliRunner().invoke(main, ["compare", str(tmp_path / "trip.yaml"), str(tmp_path / "form.pdf")])
        assert ran.exit_code == 1
        assert "fault of the program" not in ran.output
