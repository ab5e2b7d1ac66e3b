"""`check --fix`: what it shows, what it writes, and what it never touches."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from planner.command import mend
from planner.command.cli import main

FAULTY = """\
# a note that stays
profile: 1
trip: Ward to scan
setting: in_house
supplies:
  cart: {cylinders: [{label: A, size: US-E, gauge: 1900 psi}]}
devices:
  cannula: {type: cannula, flow: 1,500 mL/min}
legs:
  - {name: there, duration: 1hr30, supply: cart, devices: [cannula]}
"""
MENDED = FAULTY.replace("type: cannula", "type: nasal_cannula").replace("1,500", "1500").replace("1hr30", "1 h 30 min")


@pytest.fixture
def trip(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A profile with three slips, and somebody at the keyboard."""
    monkeypatch.setattr(mend, "at_a_terminal", lambda: True)
    path = tmp_path / "trip.yaml"
    path.write_bytes(FAULTY.encode())
    return path


def fix(path: Path, answers: str, *options: str) -> Result:
    """The command with what is typed."""
    return CliRunner().invoke(main, ["check", "--fix", *options, str(path)], input=answers)


def test_what_is_confirmed_is_written_and_nothing_else_changes(trip: Path) -> None:
    trip.chmod(0o640)
    result = fix(trip, "1\n1\n1\n")
    assert result.exit_code == 0
    assert trip.read_bytes().decode() == MENDED
    assert trip.stat().st_mode & 0o777 == 0o640 or os.name == "nt"
    assert [path.name for path in trip.parent.iterdir()] == ["trip.yaml"]


@pytest.mark.hazard(35)
def test_each_change_is_shown_with_its_litres(trip: Path) -> None:
    """1.5 L/min for 90 min is 135 L, and half as much again 202.5 L; 1.5 mL/min is 0.2 L."""
    shown = fix(trip, "1\n\n\n").stdout
    assert "1,500 mL/min  becomes  1500 mL/min\n     cart: needs 203 L" in shown
    assert "1,500 mL/min  becomes  1.5 mL/min\n     cart: needs 1 L" in shown
    assert "GO - " in shown


def test_what_is_not_confirmed_stays(trip: Path) -> None:
    result = fix(trip, "\n\n\n")
    assert result.exit_code == 1
    assert trip.read_bytes() == FAULTY.encode()
    assert "nothing planned" in result.stderr


@pytest.mark.parametrize("answers", ["1\n", ""])
def test_an_end_in_the_middle_writes_nothing(trip: Path, answers: str) -> None:
    fix(trip, answers)
    assert trip.read_bytes() == FAULTY.encode()


def test_a_file_that_changed_meanwhile_is_left_as_it_is(trip: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = mend._taken

    def meanwhile(*arguments: object, **given: object) -> object:
        found = real(*arguments, **given)  # type: ignore[arg-type]
        trip.write_bytes(b"another hand\n")
        return found

    monkeypatch.setattr(mend, "_taken", meanwhile)
    result = fix(trip, "1\n1\n1\n")
    assert result.exit_code == 2
    assert "has changed since it was read" in result.stderr
    assert trip.read_bytes() == b"another hand\n"


def test_line_ends_and_the_byte_order_mark_stay(trip: Path) -> None:
    trip.write_bytes(b"\xef\xbb\xbf" + FAULTY.replace("\n", "\r\n").encode())
    assert fix(trip, "1\n1\n1\n").exit_code == 0
    assert trip.read_bytes() == b"\xef\xbb\xbf" + MENDED.replace("\n", "\r\n").encode()


def test_a_link_stays_a_link(trip: Path) -> None:
    link = trip.with_name("link.yaml")
    try:
        link.symlink_to(trip)
    except OSError:
        pytest.skip("no links on this system")
    assert fix(link, "1\n1\n1\n").exit_code == 0
    assert link.is_symlink()
    assert trip.read_bytes() == MENDED.encode()


def test_without_a_terminal_it_refuses_unless_told(trip: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(mend, "at_a_terminal", lambda: False)
    result = fix(trip, "1\n1\n1\n")
    assert result.exit_code == 2
    assert "nobody sits at the keyboard" in result.stderr
    assert trip.read_bytes() == FAULTY.encode()


@pytest.mark.hazard(35)
def test_told_to_it_takes_only_what_leaves_no_choice(trip: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(mend, "at_a_terminal", lambda: False)
    result = fix(trip, "", "--yes")
    assert result.exit_code == 1
    assert trip.read_bytes().decode() == MENDED.replace("1500 mL/min", "1,500 mL/min")
    assert "Left: a person has to choose." in result.stdout


def test_a_profile_without_problems_is_left_as_it_is(trip: Path) -> None:
    trip.write_bytes(MENDED.encode())
    result = fix(trip, "")
    assert result.exit_code == 0
    assert "no problems, nothing to mend" in result.stdout
    assert CliRunner().invoke(main, ["check", "--yes", str(trip)]).exit_code == 2
