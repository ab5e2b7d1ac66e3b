"""No card of a plan that is refused or no go lies in the folder: VOID takes the place of an older one."""

from __future__ import annotations

from datetime import datetime
from io import BytesIO
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from pypdf import PdfReader

from planner.command.cli import main
from planner.pages.void import void_bytes
from planner.report.old_card import OldCard, old_card

TRIP = """\
profile: 1
trip: Ward to scanner
reference: T-1
setting: in_house
supplies:
  cart: {cylinders: [{label: A, size: US-E, gauge: 2000 psi}]}
devices:
  mask: {type: simple_mask, flow: 6 L/min}
legs:
  - {name: To the scanner, duration: 20 min, supply: cart, devices: [mask]}
"""
EMPTY = TRIP.replace("2000 psi", "700 psi")
WRONG = TRIP.replace("6 L/min", "6")


def run(folder: Path, *words: str, text: str | None = TRIP, name: str = "trip.yaml") -> Result:
    """`plan` of a profile in a folder, printed into `out`."""
    if text is not None:
        (folder / name).write_text(text, encoding="utf-8")
    return CliRunner().invoke(main, ["plan", str(folder / name), "--output", str(folder / "out"), *words])


def said(folder: Path, name: str = "trip.pdf") -> str:
    """What stands on the pages that lie in the folder."""
    reader = PdfReader(folder / "out" / name)
    return " ".join(" ".join(page.extract_text() for page in reader.pages).split())


def printed(folder: Path) -> str:
    """A go printed into the folder: its number."""
    assert run(folder, "--format", "pdf").exit_code == 0
    card = old_card(folder / "out" / "trip.pdf")
    assert card is not None
    assert card.revision == 1
    assert card.number in said(folder)
    return card.number


@pytest.mark.hazard(43)
@pytest.mark.parametrize("form", ["pdf", "text", "json", "csv", "text,pdf"])
def test_a_refused_plan_leaves_no_go_behind(tmp_path: Path, form: str) -> None:
    number = printed(tmp_path)
    ran = run(tmp_path, "--format", form, text=WRONG)
    assert ran.exit_code == 1
    text = said(tmp_path)
    assert text.startswith(f"VOID Card {number}, revision 1, is not valid any more. Take every copy of it away.")
    assert "unit_missing flow `6` without a unit" in text
    assert "GO " not in text
    assert f"VOID: {tmp_path / 'out' / 'trip.pdf'} held card {number}, which is not valid any more." in ran.stderr


@pytest.mark.hazard(43)
@pytest.mark.parametrize("form", ["text", "json", "csv"])
def test_a_no_go_without_pages_leaves_no_go_behind(tmp_path: Path, form: str) -> None:
    number = printed(tmp_path)
    ran = run(tmp_path, "--format", form, text=EMPTY)
    assert ran.exit_code == 3
    text = said(tmp_path)
    assert text.startswith(f"VOID Card {number}, revision 1, is not valid any more.")
    assert "NO-GO: cart needs 300 L" in text  # 20 min x 6 L/min, and 30 min x 6 L/min kept


@pytest.mark.hazard(43)
def test_a_no_go_with_pages_takes_the_place_of_the_card(tmp_path: Path) -> None:
    printed(tmp_path)
    ran = run(tmp_path, "--format", "pdf", text=EMPTY)
    assert ran.exit_code == 3
    assert "VOID" not in ran.stderr
    assert said(tmp_path).startswith("NO-GO DO NOT DEPART ON THIS PLAN")


@pytest.mark.hazard(43)
def test_a_value_that_cannot_be_set_is_a_refusal(tmp_path: Path) -> None:
    printed(tmp_path)
    assert run(tmp_path, "--set", "cart.A.gauge=19oo psi").exit_code == 1
    assert said(tmp_path).startswith("VOID")


@pytest.mark.hazard(43)
def test_a_refusal_on_the_way_voids_the_card_too(tmp_path: Path) -> None:
    printed(tmp_path)
    (tmp_path / "log.yaml").write_text("readings: 1\nlog:\n  - {time: 20.5 min, cylinder: A, gauge: 1500 psi}\n")
    ran = run(tmp_path, "--from", str(tmp_path / "log.yaml"))
    assert ran.exit_code == 1
    assert "where_unknown" in said(tmp_path)
    assert said(tmp_path).startswith("VOID")


def test_a_go_leaves_the_card_as_it_is(tmp_path: Path) -> None:
    printed(tmp_path)
    before = (tmp_path / "out" / "trip.pdf").read_bytes()
    assert run(tmp_path, "--format", "text").exit_code == 0
    assert (tmp_path / "out" / "trip.pdf").read_bytes() == before


def test_without_an_older_card_nothing_is_written(tmp_path: Path) -> None:
    assert run(tmp_path, text=WRONG).exit_code == 1
    assert not (tmp_path / "out").exists()


def test_a_slip_of_the_name_says_nothing_of_any_card(tmp_path: Path) -> None:
    number = printed(tmp_path)
    (tmp_path / "trip.yaml").unlink()
    ran = run(tmp_path, text=None)
    assert ran.exit_code == 1
    assert "VOID" not in ran.output
    assert number in said(tmp_path)


@pytest.mark.parametrize("data", [b"%PDF-1.4 somebody's", b"", b"transport-oxygen card ABCDEF revision one"])
def test_a_file_that_is_no_card_is_left_alone(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "trip.pdf").write_bytes(data)
    assert run(tmp_path, text=WRONG).exit_code == 1
    assert (tmp_path / "out" / "trip.pdf").read_bytes() == data


def test_a_void_page_is_no_card_and_stays(tmp_path: Path) -> None:
    printed(tmp_path)
    run(tmp_path, text=WRONG)
    before = (tmp_path / "out" / "trip.pdf").read_bytes()
    ran = run(tmp_path, "--format", "text", text=EMPTY)
    assert ran.exit_code == 3
    assert (tmp_path / "out" / "trip.pdf").read_bytes() == before


def test_each_of_several_trips_has_its_own_card(tmp_path: Path) -> None:
    for name in ("a.yaml", "b.yaml"):
        (tmp_path / name).write_text(TRIP, encoding="utf-8")
    words = ["plan", str(tmp_path / "a.yaml"), str(tmp_path / "b.yaml"), "--output", str(tmp_path / "out")]
    assert CliRunner().invoke(main, words).exit_code == 0
    (tmp_path / "a.yaml").write_text(WRONG, encoding="utf-8")
    assert CliRunner().invoke(main, words).exit_code == 1
    assert said(tmp_path, "a.pdf").startswith("VOID")
    assert "VOID" not in said(tmp_path, "b.pdf")


def test_the_page_holds_any_reason() -> None:
    reasons = [f"trip.yaml:{number}:1  a reason in letters that no face has: 火 {'x' * 300}" for number in range(40)]
    data = void_bytes(OldCard("abcdefabcdef", 2), reasons, issued=datetime(2026, 12, 3, 14, 0), paper="letter")
    text = " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(data)).pages).split())
    assert "Card abcdefabcdef, revision 2," in text
    assert "letters that no face has: ?" in text
    assert "And 28 more." in text
    assert "VOID since 3 Dec 2026 14:00" in text


def test_a_trip_that_no_crew_could_carry_has_no_pages(tmp_path: Path) -> None:
    """2,000 cylinders would take a quarter of a minute to print, and nobody to read."""
    many = ", ".join(f"{{label: A{number}, size: US-E, gauge: 2000 psi}}" for number in range(300))
    printed(tmp_path)
    ran = run(tmp_path, "--format", "pdf", text=TRIP.replace("{label: A, size: US-E, gauge: 2000 psi}", many))
    assert ran.exit_code == 1
    told = "301 cylinders and legs are more than the 300 that pages are made for. Fix: split the trip"
    assert told in ran.stderr
    assert said(tmp_path).startswith("VOID")
    fewer = TRIP.replace("{label: A, size: US-E, gauge: 2000 psi}", many.rpartition(", {")[0])
    assert run(tmp_path, "--format", "text", text=fewer).exit_code == 0
