"""The verb `new` as a command: what it writes and when it writes nothing, in a pipe and at a terminal."""

from __future__ import annotations

import os
import re
import select
import signal
import sys
import textwrap
import time
from collections.abc import Sequence
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from planner.command.cli import main
from planner.command.conversation import free_name
from planner.command.kept import keep
from planner.command.keyboard import wait_for_line
from planner.planning import plan
from planner.profile.read import read_trip
from tests.conversation import BY_ROAD, ROUTINE, held
from tests.terminal import at_a_terminal

ROOT = Path(__file__).resolve().parents[1]
PROFILES = ROOT / "profiles"
CTRL_C = "\x03"


class TestCommand:
    @pytest.fixture(autouse=True)
    def folder(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
        monkeypatch.chdir(tmp_path)
        return tmp_path

    def run(self, *arguments: str, answers: Sequence[str] = ()) -> Result:
        return CliRunner().invoke(main, ["new", *arguments], input="".join(f"{answer}\n" for answer in answers))

    def test_it_writes_what_plan_takes(self, folder: Path) -> None:
        result = self.run(answers=[*ROUTINE, ""])
        assert result.exit_code == 0
        assert result.stderr == (
            "Written: ward-to-scanner-and-back.yaml\nNext: transport-oxygen plan ward-to-scanner-and-back.yaml\n"
        )
        assert [path.name for path in folder.iterdir()] == ["ward-to-scanner-and-back.yaml"]
        planned = CliRunner().invoke(main, ["plan", "ward-to-scanner-and-back.yaml", "--format", "text"])
        assert planned.exit_code == 0
        assert "100 L" in planned.stdout

    def test_what_it_writes_names_the_schema_to_an_editor(self, folder: Path) -> None:
        """The one beside it or above it; else where `schema --write schema` puts it."""
        assert self.run("--output", "one.yaml", answers=ROUTINE).exit_code == 0
        first = (folder / "one.yaml").read_text(encoding="utf-8").splitlines()[0]
        assert first == "# yaml-language-server: $schema=schema/profile.schema.json"
        assert CliRunner().invoke(main, ["schema", "--write", "schema"]).exit_code == 0
        (folder / "night").mkdir()
        assert self.run("--output", "night/two.yaml", answers=ROUTINE).exit_code == 0
        first = (folder / "night" / "two.yaml").read_text(encoding="utf-8").splitlines()[0]
        assert first == "# yaml-language-server: $schema=../schema/profile.schema.json"
        assert (folder / "night" / first.partition("=")[2]).is_file()
        assert self.run("--from", "one.yaml", "--output", "night/three.yaml").exit_code == 0
        assert (folder / "night" / "three.yaml").read_text(encoding="utf-8").splitlines()[0] == first

    def test_a_second_one_takes_another_name(self, folder: Path) -> None:
        (folder / "ward-to-scanner-and-back.yaml").write_text("x", encoding="utf-8")
        assert self.run(answers=[*ROUTINE, ""]).exit_code == 0
        assert (folder / "ward-to-scanner-and-back.yaml").read_text(encoding="utf-8") == "x"
        assert (folder / "ward-to-scanner-and-back-2.yaml").exists()

    @pytest.mark.parametrize("name", ["", "...", "a/b c", "Ärzte Haus", "x" * 300, ".."])
    def test_a_file_name_stays_in_the_folder(self, name: str) -> None:
        assert re.fullmatch(r"[\w-]{1,60}\.yaml", free_name(name))

    @pytest.mark.parametrize("typed", [":", "40 %", "trip", "2 L/min.txt", ".yaml"])
    def test_an_answer_to_another_question_is_no_file_name(self, folder: Path, typed: str) -> None:
        result = self.run(answers=[*ROUTINE, typed, "t.yaml"])
        assert result.exit_code == 0
        assert "is no name for a profile" in result.stdout or "is no folder" in result.stdout
        assert [path.name for path in folder.iterdir()] == ["t.yaml"]

    def test_it_never_writes_over_a_file_without_force(self, folder: Path) -> None:
        (folder / "t.yaml").write_text("x", encoding="utf-8")
        result = self.run("--output", "t.yaml", answers=ROUTINE)
        assert result.exit_code == 2
        assert "t.yaml: exists already. Fix: give another name, or --force to write over it." in result.stderr
        assert (folder / "t.yaml").read_text(encoding="utf-8") == "x"
        assert self.run("--output", "t.yaml", "--force", answers=ROUTINE).exit_code == 0
        assert read_trip(folder / "t.yaml").name == "Ward to scanner and back"

    @pytest.mark.parametrize("given", range(len(ROUTINE) + 1))
    def test_an_end_in_the_middle_writes_nothing(self, folder: Path, given: int) -> None:
        result = self.run(answers=ROUTINE[:given])
        assert result.exit_code == 130
        assert list(folder.iterdir()) == []

    @pytest.mark.parametrize("given", range(1, len(ROUTINE) + 1))
    def test_answers_that_were_kept_are_gone_on_from(self, folder: Path, given: int) -> None:
        kept = folder / "kept.txt"
        said = keep(held(ROUTINE[:given]), kept)
        assert f"{given} answer{'s' * (given > 1)} kept. Go on: transport-oxygen new --resume {kept}" in said
        result = self.run("--resume", str(kept), answers=[*ROUTINE[given:], ""])
        assert result.exit_code == 0, result.output
        assert f"{given} answers taken up" in result.stdout
        assert self.run("--output", "whole.yaml", answers=ROUTINE).exit_code == 0
        assert (folder / "ward-to-scanner-and-back.yaml").read_bytes() == (folder / "whole.yaml").read_bytes()
        assert not kept.exists()

    def test_what_is_no_file_of_answers_is_refused_and_stays(self, folder: Path) -> None:
        other = folder / "other.txt"
        other.write_text("gauge: 1\n", encoding="utf-8")
        result = self.run("--resume", "other.txt", answers=ROUTINE)
        assert result.exit_code == 1
        assert "no answers to `new`" in result.stderr
        assert self.run("--resume", "gone.txt").exit_code == 1
        assert self.run("--resume", "other.txt", "--from", "x.yaml").exit_code == 2
        assert other.read_text(encoding="utf-8") == "gauge: 1\n"

    def test_an_answer_that_is_no_longer_taken_is_asked_again(self, folder: Path) -> None:
        kept = folder / "kept.txt"
        keep(held(ROUTINE[:4]), kept)
        kept.write_text(kept.read_text(encoding="utf-8").replace("cannula 4", "gone 4"), encoding="utf-8")
        result = self.run("--resume", str(kept), answers=ROUTINE[2:])
        assert "2 of 4 answers taken up; the next is no longer taken: `gone`" in " ".join(result.stdout.split())

    def test_no_question_is_wider_than_80_columns(self) -> None:
        for answers in (ROUTINE, BY_ROAD):
            assert max(map(len, self.run(answers=[*answers, "t.yaml"]).stdout.splitlines())) <= 80

    def test_a_refused_answer_in_a_pipe_writes_nothing(self, folder: Path) -> None:
        result = self.run(answers=[*ROUTINE[:7], "E 1500 psi", *ROUTINE[7:], ""])
        assert result.exit_code == 1
        assert "write `US-E` or `UK-E`" in result.stderr
        assert result.stderr.endswith("Nothing is written.\n")
        assert list(folder.iterdir()) == []

    def test_help_is_printed_on_a_question_mark_and_back_goes_back(self) -> None:
        result = self.run(answers=["?", "back", "2", "back", *ROUTINE, "?", "back", "", "t.yaml"])
        assert result.exit_code == 0
        assert "This is the first question." in result.stdout
        assert "it chooses reserve, spare and the what-ifs that must hold" in " ".join(result.stdout.split())
        assert read_trip("t.yaml").setting == "in_house"

    def test_a_policy_is_named_as_seen_from_the_profile(self, folder: Path) -> None:
        (folder / "service").mkdir()
        (folder / "trips").mkdir()
        policy = folder / "service" / "p.yaml"
        policy.write_text("reserve_time: 45 min\npressure_unit: bar\n", encoding="utf-8")
        result = self.run("--policy", "service/p.yaml", "--output", "trips/t.yaml", answers=ROUTINE)
        assert result.exit_code == 0
        assert "policy: ../service/p.yaml" in (folder / "trips" / "t.yaml").read_text(encoding="utf-8")
        # 45 min x 4 L/min = 180 L
        assert "planned 100 L + reserve 180 L = required 280 L" in result.stdout
        assert "as in ISO-5 150 bar" in result.stdout

    def test_a_policy_with_faults_is_told_before_anything_is_asked(self, folder: Path) -> None:
        (folder / "p.yaml").write_text("reserve_time: 45\n", encoding="utf-8")
        result = self.run("--policy", "p.yaml")
        assert result.exit_code == 1
        assert "p.yaml:1:15  unit_missing" in result.stderr
        assert "How does" not in result.stdout

    def test_values_may_be_set_besides(self) -> None:
        result = self.run("--set", "reference=T-7", "--set", "departs=2026-12-03 14:20", answers=[*ROUTINE, "t.yaml"])
        assert result.exit_code == 0
        trip = read_trip("t.yaml")
        assert trip.reference == "T-7"
        assert trip.departs is not None

    def test_a_wrong_value_is_told_before_anything_is_asked(self) -> None:
        result = self.run("--set", "departs=14:20", answers=ROUTINE)
        assert result.exit_code == 1
        assert result.stderr.startswith("--set departs:1:1  ")
        assert "How does" not in result.stdout

    def test_the_conversation_in_the_readme_of_the_profiles_is_real(self) -> None:
        result = self.run(answers=[*ROUTINE, ""])
        shown = textwrap.indent("\n".join(line.rstrip() for line in result.stdout.splitlines()).strip(), "    ")
        readme = (PROFILES / "README.md").read_text(encoding="utf-8")
        assert "\n".join(line.rstrip() for line in shown.splitlines()) in readme

    def test_usage(self) -> None:
        assert self.run("--from", "x.yaml", "--devices", "y.yaml").exit_code == 2
        assert "is no folder" in self.run("--output", "gone/t.yaml").stderr
        assert "is a folder" in self.run("--output", ".").stderr

    def test_help_begins_with_what_it_does(self) -> None:
        shown = self.run("--help").stdout
        assert "Asks for a trip and writes its profile for `plan`" in shown
        assert "  transport-oxygen new --from ward-to-scan.yaml" in shown


WARD = (PROFILES / "ward-to-scan.yaml").read_text(encoding="utf-8")


class TestFrom:
    @pytest.fixture(autouse=True)
    def folder(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
        monkeypatch.chdir(tmp_path)
        return tmp_path

    def run(self, *arguments: str) -> Result:
        return CliRunner().invoke(main, ["new", "--from", *arguments])

    def test_the_example_of_the_help(self, folder: Path) -> None:
        result = self.run(
            str(PROFILES / "ward-to-scan.yaml"), "--set", "legs[2].duration=40 min", "--output", "trip.yaml"
        )
        assert result.exit_code == 0
        # (7 + 3 + 40 + 7) min x 4 L/min = 228 L; half of it is 114 L, 30 min are 120 L: 348 L.
        assert "required 348 L" in result.stdout
        assert "NO-GO" in result.stdout
        assert result.stderr.splitlines()[0] == "Written: trip.yaml"
        assert (folder / "trip.yaml").read_text(encoding="utf-8") == WARD.replace("duration: 8 min", "duration: 40 min")

    @pytest.mark.parametrize("path", sorted(PROFILES.glob("*.yaml")), ids=lambda path: path.stem)
    def test_every_profile_to_start_from_can_be_started_from(self, folder: Path, path: Path) -> None:
        assert self.run(str(path)).exit_code == 0
        mine, theirs = plan(read_trip(folder / path.name)), plan(read_trip(path))
        assert mine.verdict == theirs.verdict
        assert [supply.need.planned_l for supply in mine.supplies.values()] == [
            supply.need.planned_l for supply in theirs.supplies.values()
        ]

    def test_a_change_that_plan_would_refuse_writes_nothing(self, folder: Path) -> None:
        result = self.run(
            str(PROFILES / "ward-to-scan.yaml"), "--set", "legs[2].duration=40", "--set", "trolley.A.gauge=9"
        )
        assert result.exit_code == 1
        assert "--set legs[2].duration:1:1  unit_missing" in result.stderr
        assert "--set trolley.A.gauge:1:1  unit_missing" in result.stderr
        assert list(folder.iterdir()) == []

    def test_a_template_with_faults_is_told_at_its_own_lines(self, folder: Path) -> None:
        (folder / "bad.yaml").write_text(WARD.replace("8 min", "8"), encoding="utf-8")
        result = self.run("bad.yaml", "--output", "t.yaml")
        assert result.exit_code == 1
        assert result.stderr.startswith("bad.yaml:25:15  unit_missing")
        assert not (folder / "t.yaml").exists()

    def test_in_the_folder_of_the_template_it_is_not_written_over(self, folder: Path) -> None:
        (folder / "t.yaml").write_text(WARD, encoding="utf-8")
        assert self.run("t.yaml").exit_code == 2
        assert (folder / "t.yaml").read_text(encoding="utf-8") == WARD
        assert self.run("t.yaml", "--force", "--set", "trip=Another").exit_code == 0
        assert "trip: Another\n" in (folder / "t.yaml").read_text(encoding="utf-8")

    def test_a_missing_template(self) -> None:
        result = self.run("gone.yaml")
        assert result.exit_code == 1
        assert result.stderr.startswith("gone.yaml:")


@pytest.mark.skipif(sys.platform == "win32", reason="terminals of Unix")
class TestTerminal:
    """At a real terminal a refused answer is asked again, and Ctrl-C leaves no profile and every answer."""

    def test_a_slip_is_mended_on_the_spot(self, tmp_path: Path) -> None:
        answers = [*ROUTINE[:7], "E 1500 psi", "?", "back", "7", *ROUTINE[7:], ""]
        said, code = at_a_terminal(tmp_path, [], [f"{answer}\n" for answer in answers])
        assert code == 0, said
        assert "write `US-E` or `UK-E`" in " ".join(said.split())
        assert "Traceback" not in said
        assert [path.name for path in tmp_path.iterdir()] == ["ward-to-scanner-and-back.yaml"]

    def test_ctrl_c_leaves_nothing(self, tmp_path: Path) -> None:
        said, code = at_a_terminal(tmp_path, [], [*(f"{answer}\n" for answer in ROUTINE), CTRL_C])
        assert code == 130, said
        assert "Nothing is half written." in said
        (kept,) = tmp_path.iterdir()
        assert f"10 answers kept. Go on: transport-oxygen new --resume {kept.name}" in " ".join(said.split())
        assert kept.read_text(encoding="utf-8").splitlines()[2:5] == ["ward, scanner, back", "cannula 4", "no"]

    def test_ctrl_c_before_the_first_answer_leaves_nothing(self, tmp_path: Path) -> None:
        said, code = at_a_terminal(tmp_path, [], [CTRL_C])
        assert code == 130, said
        assert list(tmp_path.iterdir()) == []

    def test_one_press_of_ctrl_c_is_never_lost(self, tmp_path: Path, request: pytest.FixtureRequest) -> None:
        """At every question, and as soon after it as fingers and buffers allow; 200 times in the long search."""
        tries = 200 if request.config.getoption("--long", default=False) else 6
        for number in range(tries):
            folder = tmp_path / str(number)
            folder.mkdir()
            given = number * 7 % len(ROUTINE)
            pressed = [*(f"{answer}\n" for answer in ROUTINE[:given]), CTRL_C]
            said, code = at_a_terminal(folder, [], pressed, number % 5 / 1000)
            assert code == 130, said
            kept = [path.read_text(encoding="utf-8").splitlines()[1:] for path in folder.iterdir()]
            assert [len(lines) for lines in kept] == ([given] if given else [])


@pytest.mark.skipif(sys.platform == "win32", reason="terminals of Unix")
def test_a_signal_that_came_just_before_the_wait_ends_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its handler has run already when the wait begins: a plain read would now wait for the next key."""
    begin = select.select

    def signal_and_select(reading: Sequence[int], *_: Sequence[int]) -> object:
        os.kill(os.getpid(), signal.SIGUSR1)
        return begin(reading, [], [], 20.0)

    ran: list[int] = []
    monkeypatch.setattr(select, "select", signal_and_select)
    here, there = os.pipe()
    before = signal.signal(signal.SIGUSR1, lambda number, _: ran.append(number))
    started = time.monotonic()
    try:
        wait_for_line(here)
    finally:
        signal.signal(signal.SIGUSR1, before)
        os.close(here)
        os.close(there)
    assert ran == [signal.SIGUSR1]
    assert time.monotonic() - started < 10.0
    assert signal.set_wakeup_fd(-1) == -1  # as it was
