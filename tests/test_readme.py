"""What the README shows is what the program prints."""

from __future__ import annotations

import textwrap
from pathlib import Path

import pytest
from click.testing import CliRunner

from planner.cli import main

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_job_stands_at_the_top() -> None:
    title, paragraph = README.split("\n\n")[:2]
    assert title.startswith("# ")
    assert paragraph.startswith("People who move a patient on oxygen must never run out of it.")


def test_the_worked_example_is_real_output(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    shown = CliRunner().invoke(main, ["plan", "profiles/ward-to-scan.yaml", "--format", "text"])
    assert shown.exit_code == 0
    assert textwrap.indent(shown.stdout.rstrip(), "    ", lambda line: line.strip() != "") in README


def test_the_worked_example_by_hand() -> None:
    planned_l = 25 * 4.0
    reserve_l = max(0.5 * planned_l, 30 * 4.0)
    assert planned_l + reserve_l == 220
    assert (1500 - 500) * 0.28 == pytest.approx(280)
    for figure in ("**220 L**", "280 L", "**281 L**", "| 70 min |", "about 1140 psi"):
        assert figure in README
    assert 281 // 4 == 70
    assert 1500 - planned_l / 0.28 == pytest.approx(1140, abs=5)


@pytest.mark.parametrize("link", ["demo/card.png", "profiles/ward-to-scan.yaml", "planner/data/policies.md"])
def test_links_lead_somewhere(link: str) -> None:
    assert f"]({link})" in README
    assert (ROOT / link).is_file()


def test_the_profile_in_the_readme_reads(tmp_path: Path) -> None:
    block = README.split("    profile: 1\n", 1)[1].split("\n\n", 1)[0]
    trip = tmp_path / "trip.yaml"
    trip.write_text(textwrap.dedent("    profile: 1\n" + block), encoding="utf-8")
    checked = CliRunner().invoke(main, ["check", str(trip)])
    assert checked.exit_code == 0, checked.output
