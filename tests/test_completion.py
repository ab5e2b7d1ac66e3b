"""What the Tab key offers for values."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.shell_completion import ShellComplete

from planner.command.cli import main
from planner.planning import plan
from planner.profile.read import read_trip

WARD = str(Path(__file__).resolve().parents[1] / "profiles" / "ward-to-scan.yaml")


def offered(*words: str) -> list[str]:
    """What is offered for the last word; those before it stand on the command line."""
    *before, begun = words
    return [item.value for item in ShellComplete(main, {}, "transport-oxygen", "_").get_completions(before, begun)]


def test_sizes_of_a_system() -> None:
    assert {"US-D", "US-E", "US-M"} <= set(offered("lasts", "--size", "us-"))
    assert set(offered("measured-flow", "--size", "UK-C")) == {"UK-C", "UK-CD"}


def test_formats_one_behind_the_other() -> None:
    assert offered("plan", "--format", "") == ["text", "pdf", "json", "csv"]
    assert offered("plan", "--format", "text,") == ["text,pdf", "text,json", "text,csv"]
    assert offered("lasts", "--format", "j") == ["json"]


@pytest.mark.parametrize("before", [["plan", WARD], ["compare", WARD, "log.yaml"], ["new", "--from", WARD]])
def test_paths_of_the_profile_on_the_command_line(before: list[str]) -> None:
    assert "trolley.A.gauge=" in offered(*before, "--set", "tro")
    assert "legs[2].duration=" in offered(*before, "--set", "legs[2]")


def test_every_path_that_is_offered_can_be_set() -> None:
    paths = offered("plan", WARD, "--set", "")
    assert len(paths) > 10
    assert plan(read_trip(WARD, ["trolley.A.gauge=1600 psi"])).go
    for path in paths:
        if path.endswith(("gauge=", "duration=", "flow=")):
            value = {"gauge": "1600 psi", "duration": "5 min", "flow": "2 L/min"}[path.rpartition(".")[2][:-1]]
            read_trip(WARD, [path + value])


def test_a_profile_that_cannot_be_read_offers_nothing(tmp_path: Path) -> None:
    assert offered("plan", str(tmp_path / "gone.yaml"), "--set", "") == []
    assert offered("plan", "--set", "") == []
