"""What the README shows is what the program prints."""

from __future__ import annotations

import re
import shlex
import textwrap
from datetime import datetime
from pathlib import Path

import pypdfium2  # type: ignore[import-untyped]
import pytest
from click.testing import CliRunner
from PIL import Image, ImageChops, ImageStat

from planner.afterwards.review.history import read
from planner.afterwards.review.review import review
from planner.command.cli import main
from planner.pages.pack import pack_bytes
from planner.pages.review.review import review_bytes
from planner.planning import plan
from planner.profile.read import read_trip
from planner.report.review.page import review_page

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def test_the_job_stands_at_the_top() -> None:
    title, paragraph = README.split("\n\n")[:2]
    assert title.startswith("# ")
    assert paragraph.startswith("People who move a patient on oxygen must never run out of it.")


def examples() -> list[tuple[str, str]]:
    """Each command that the README shows behind a $, with the output below it."""
    found = []
    for block in re.findall(r"^    \$ transport-oxygen (.*\n(?:(?:    .*)?\n)*)", README, re.MULTILINE):
        command, _, output = block.partition("\n")
        found.append((command, textwrap.dedent(output).strip()))
    return found


@pytest.mark.parametrize(("command", "output"), examples(), ids=lambda text: str(text)[:30])
def test_the_examples_are_real_output(command: str, output: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    words = [
        path
        for word in shlex.split(command)
        for path in (sorted(map(str, Path().glob(word))) if "*" in word else [word])
    ]
    shown = CliRunner().invoke(main, words)
    assert shown.stdout.strip() == output


def test_the_readme_shows_the_commands() -> None:
    shown = ["new", "plan", "lasts", "measured-flow", "shift", "review"]
    assert [command.split()[0] for command, _ in examples()] == shown
    for name in main.commands:
        assert f"| `{name}" in README


def test_the_worked_example_by_hand() -> None:
    planned_l = 25 * 4.0
    reserve_l = max(0.5 * planned_l, 30 * 4.0)
    assert planned_l + reserve_l == pytest.approx(220)
    by_hand_l = (1500 - 500) * 0.28
    assert by_hand_l == pytest.approx(280)
    for figure in ("**220 L**", "280 L", "**281 L**", "| 70 min |", "about 1140 psi"):
        assert figure in README
    minutes = 281 // 4
    assert minutes == 70
    assert 1500 - planned_l / 0.28 == pytest.approx(1140, abs=5)


@pytest.mark.parametrize("link", ["demo/card.png", "profiles/ward-to-scan.yaml", "planner/trade/data/policies.md"])
def test_links_lead_somewhere(link: str) -> None:
    assert f"]({link})" in README
    assert (ROOT / link).is_file()


def test_the_profile_in_the_readme_reads(tmp_path: Path) -> None:
    block = README.split("    profile: 1\n", 1)[1].split("\n\n", 1)[0]
    trip = tmp_path / "trip.yaml"
    trip.write_text(textwrap.dedent("    profile: 1\n" + block), encoding="utf-8")
    checked = CliRunner().invoke(main, ["check", str(trip)])
    assert checked.exit_code == 0, checked.output


def test_the_picture_of_the_card_is_the_card_as_it_is_printed() -> None:
    """An older layout differs by some 30 grey levels of 255 a dot; another figure or two by less than one."""
    data = pack_bytes(
        plan(read_trip(ROOT / "demo" / "valley-to-coast.yaml")), issued=datetime(2026, 12, 3, 13, 5), pages="crew"
    )
    shown = Image.open(ROOT / "demo" / "card.png").convert("L")
    front = pypdfium2.PdfDocument(data)[0].render(scale=shown.width / 595.3, grayscale=True).to_pil()
    assert front.size == shown.size
    assert ImageStat.Stat(ImageChops.difference(front, shown)).mean[0] < 5.0


def test_the_picture_of_the_review_is_the_page_as_it_is_printed() -> None:
    with (ROOT / "demo" / "history.jsonl").open(encoding="utf-8") as lines:
        found = review(read([("history.jsonl", lines)]), 150)
    data = review_bytes(review_page(found), issued=datetime(2026, 12, 7, 9, 0))
    shown = Image.open(ROOT / "demo" / "review.png").convert("L")
    first = pypdfium2.PdfDocument(data)[0].render(scale=shown.width / 595.3, grayscale=True).to_pil()
    assert first.size == shown.size
    assert ImageStat.Stat(ImageChops.difference(first, shown)).mean[0] < 2.0
