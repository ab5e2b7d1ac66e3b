"""Request forms made to break their reader, and forms of another kind: a word, no error, and within the limits."""

from __future__ import annotations

import contextlib
import re
import shutil
import subprocess
import zlib
from io import BytesIO
from pathlib import Path
from random import Random

import pytest
from click.testing import CliRunner
from pypdf import PdfReader, PdfWriter

from planner.command.cli import main
from planner.pages.request import request_bytes
from planner.problems import ProblemsError
from planner.readings.read import read_readings
from planner.request.read import read_request
from tests.fuzz import forms
from tests.fuzz.hostile_forms import FILTERS, SAMPLES, page_with, squeezed, stream
from tests.request.filling import by_pdfium, by_pypdf
from tests.request.test_request import WARD, Fill

DEAR = ("nested filters", "7.5 MB of boxes", "object streams", "the same page many times")
"""These want a gigabyte or minutes, or once did."""
LIGHT = [name for name in SAMPLES if name not in (*DEAR, "an attachment of 150 MB", "one box many times")]


def told(data: bytes, tmp_path: Path) -> str:
    """The code of what is said of a file that is no request form; one line, fit for a terminal."""
    path = tmp_path / "request.pdf"
    path.write_bytes(data)
    with pytest.raises(ProblemsError) as caught:
        read_request(path)
    (problem,) = caught.value.problems
    assert str(problem).isprintable()
    return problem.code


@pytest.mark.longer("name", [DEAR[0], DEAR[-1]], DEAR)
def test_what_asks_for_too_much_is_ended(name: str, tmp_path: Path) -> None:
    """Of some a request needs nothing that is packed, so that nothing is unpacked."""
    wanted = {"7.5 MB of boxes": "too_large", "object streams": "not_a_request", "nested filters": "not_a_request"}
    assert told(SAMPLES[name](), tmp_path) in ("too_much", wanted.get(name))


@pytest.mark.longer("name", LIGHT[::4], LIGHT)
def test_hostile_files_give_a_word_and_no_error(name: str, tmp_path: Path) -> None:
    assert told(SAMPLES[name](), tmp_path) in ("locked", "too_much", "not_a_pdf", "not_a_request")


def test_boxes_of_a_request_by_the_hundred_thousand_are_too_much(tmp_path: Path) -> None:
    """Under the five megabytes of a file, over the twenty thousand boxes of a form."""
    box = b"<</Subtype /Widget /T (request.leg.1.name) /V (1)>> "
    assert told(page_with(box * 90_000), tmp_path) == "too_much"


def test_a_page_packed_three_times_over_is_not_unpacked(tmp_path: Path) -> None:
    """A stream of 150 MB in a few bytes, where a viewer draws the page: the reader of boxes has no use for it."""
    body = stream(squeezed(b"\0" * 150_000_000, 3), FILTERS)
    data = page_with(b"<</Subtype /Widget /T (request.form) /V (9)>>", {4: body})
    assert told(data, tmp_path) == "not_a_request"


def test_a_locked_request_is_told_in_plain_words(tmp_path: Path) -> None:
    writer = PdfWriter(clone_from=PdfReader(BytesIO(by_pypdf(request_bytes("psi"), WARD))))
    writer.encrypt("secret", algorithm="RC4-128")
    out = BytesIO()
    writer.write(out)
    assert told(out.getvalue(), tmp_path) == "locked"


@pytest.mark.hazard(37)
def test_a_form_of_readings_is_no_request_and_a_request_no_form_of_readings(tmp_path: Path) -> None:
    assert told(forms.form(), tmp_path) == "not_a_request"
    path = tmp_path / "request.pdf"
    path.write_bytes(by_pypdf(request_bytes("psi"), WARD))
    with pytest.raises(ProblemsError) as caught:
        read_readings(path, forms.planned())
    assert [problem.code for problem in caught.value.problems] == ["not_this_form"]


@pytest.mark.usefixtures("read_here")
@pytest.mark.parametrize(
    "hostile", ["\x1b[2J", "\x1b]0;x\x07", "\u202e1900", "a\nb: c", "{{7*7}}", "*x", "- a\r\n  b", "\0"]
)
def test_what_is_typed_into_a_box_reaches_neither_terminal_nor_yaml_as_code(hostile: str, tmp_path: Path) -> None:
    """In every box: a problem of that box or its own text in the profile, and nothing of it moves a terminal."""
    path = tmp_path / "request.pdf"
    names = ("head.from", "head.reference", "leg.1.name", "leg.1.minutes", "cylinder.1.label", "cylinder.1.gauge")
    path.write_bytes(by_pypdf(request_bytes("psi"), {**WARD, **dict.fromkeys(names, hostile)}))
    ran = CliRunner().invoke(main, ["check", str(path)])
    assert ran.exit_code == 1, ran.output
    assert "fault of the program" not in ran.output
    assert "leg 1: Minutes" in ran.output
    request = read_request(path)
    for said in (ran.output, request.text):
        assert not re.search(r"[\x00-\x08\x0b-\x1f\x7f\u202a-\u202e]", said), said


def test_two_lines_in_a_box_are_one_and_faults_keep_their_places(tmp_path: Path) -> None:
    """A line more in the profile would put every fault below it to another box."""
    path = tmp_path / "request.pdf"
    typed = {"leg.1.name": "Ward\r\nto scanner", "leg.1.minutes": "7 minuts"}
    path.write_bytes(by_pypdf(request_bytes("psi"), {**WARD, **typed}))
    request = read_request(path)
    assert request.values["leg.1.name"] == "Ward to scanner"
    assert [remark.cell for remark in request.remarks] == ["leg.1.minutes"]


def test_forms_changed_at_random_break_nothing(tmp_path: Path) -> None:
    chance = Random(1)  # noqa: S311 - to be repeated, not to be secret
    filled = by_pypdf(request_bytes("psi"), WARD)
    path = tmp_path / "request.pdf"
    for _ in range(3):
        path.write_bytes(forms.changed(filled, chance))
        with contextlib.suppress(ProblemsError):
            read_request(path)


# A third reader


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="poppler is not installed here")
@pytest.mark.parametrize("fill", [by_pypdf, by_pdfium])
def test_poppler_shows_what_two_engines_filled_in(fill: Fill, tmp_path: Path) -> None:
    """What a ward typed stands on the page for any viewer: text by `pdftotext`, ink by `pdftoppm`."""
    blank, filled = tmp_path / "blank.pdf", tmp_path / "filled.pdf"
    blank.write_bytes(request_bytes("psi"))
    filled.write_bytes(fill(blank.read_bytes(), WARD))
    text = poppler("pdftotext", "-layout", str(filled), "-").decode()
    for name, value in WARD.items():
        if value != "Yes" and not name.endswith("type"):
            assert value in text, name
    assert text.count("extension 4711") == 1  # each box shows its own words, whatever a viewer writes into it
    assert "extension 4711" not in poppler("pdftotext", "-layout", str(blank), "-").decode()
    assert b"AcroForm" in poppler("pdfinfo", str(filled))
    ink = [
        len(zlib.compress(poppler("pdftoppm", "-r", "40", "-gray", "-f", "1", "-l", "1", str(path))))
        for path in (blank, filled)
    ]
    assert ink[1] > ink[0] * 1.01


def poppler(*command: str) -> bytes:
    return subprocess.run(command, capture_output=True, check=True).stdout
