"""Many trips in several processes: what is printed and written is the same as in one."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from planner.command import telling
from planner.command.cli import main
from planner.files.many import Lost

TRIPS = ["tests/profiles/good/hill_to_harbour.yaml", "tests/profiles/bad/no_flow.yaml"]
TRIPS += ["tests/profiles/good/three_low.yaml", "tests/profiles/good/hill_to_harbour.yaml"]


def planned(folder: Path, jobs: int, formats: str = "text,pdf,csv") -> Result:
    arguments = ["plan", *TRIPS, "--jobs", str(jobs), "--format", formats, "--output", str(folder)]
    return CliRunner().invoke(main, arguments)


def test_trips_in_two_processes_give_what_one_gives(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1764771600")
    folders = [tmp_path / "one", tmp_path / "two"]
    one, two = (planned(folder, jobs) for folder, jobs in zip(folders, (1, 2), strict=True))
    assert two.exit_code == one.exit_code == 1
    assert two.stdout == one.stdout
    assert two.stderr.replace(str(folders[1]), str(folders[0])) == one.stderr
    assert "no_flow.yaml: 1 problem, nothing planned." in two.stderr
    files = [{path.name: path.read_bytes() for path in folder.iterdir()} for folder in folders]
    assert files[0] == files[1]
    assert {"hill_to_harbour.pdf", "hill_to_harbour-2.pdf", "three_low.pdf"} <= set(files[0])


def test_json_of_two_processes_is_one_document_a_line_in_the_order_of_the_trips(tmp_path: Path) -> None:
    found = planned(tmp_path, 2, "json")
    assert found.stdout == planned(tmp_path, 1, "json").stdout
    assert len(found.stdout.splitlines()) == 3


def test_a_process_that_ends_costs_its_own_trip(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def first_is_lost(_work: object, items: list[tuple[str, str]], **_: object) -> list[object]:
        return [Lost(items[0]), *((0, []) for _ in items[1:])]

    monkeypatch.setattr("planner.files.many.spread", first_is_lost)
    found = planned(tmp_path, 2)
    assert found.exit_code == telling.INTERNAL
    assert found.stderr == f"{TRIPS[0]}: internal error: the process that planned it ended; work it out by hand.\n"
