"""The calculation sheet as it stands on paper."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.pages.drawing.layout import LEFT, MM
from planner.pages.pack import pack_bytes
from planner.planning import plan
from planner.profile.read import read_trip
from tests.pages.printed import ISSUED, page_numbers, pages

GOOD = Path(__file__).parents[1] / "profiles" / "good"


@pytest.mark.parametrize("name", ["flow_over_outlet", "three_low", "conserver_short"])
def test_each_finding_begins_a_line_of_its_own_stops_first(name: str) -> None:
    found = plan(read_trip(GOOD / f"{name}.yaml"))
    data = pack_bytes(found, issued=ISSUED)
    starts = [
        ink.text.split(":")[0]
        for number in page_numbers(data, "Calculation sheet")
        for ink in sorted(pages(data)[number], key=lambda ink: -ink.y)
        if ink.text.startswith(("STOP:", "CAUTION:", "NOTE:")) and ink.x == pytest.approx(LEFT, abs=0.01)
    ]
    levels = {"stop": "STOP", "caution": "CAUTION", "note": "NOTE"}
    wanted = [word for level, word in levels.items() for finding in found.findings if finding.level == level]
    assert wanted
    assert starts == wanted


def test_a_long_finding_hangs_below_its_first_line() -> None:
    """So that the next finding is seen to begin: the lines between stand further in."""
    data = pack_bytes(plan(read_trip(GOOD / "three_low.yaml")), issued=ISSUED)
    sheet = [ink for number in page_numbers(data, "Calculation sheet") for ink in pages(data)[number]]
    texts = [ink.text.strip() for ink in sheet]
    section = sheet[texts.index("Findings") + 1 : texts.index("Policy")]
    section = [ink for ink in section if ink.size == pytest.approx(9.0)]
    begun = [ink for ink in section if ink.text.startswith(("STOP:", "CAUTION:", "NOTE:"))]
    hanging = [ink for ink in section if ink not in begun]
    assert len(hanging) >= 3
    assert {round(ink.x - 10 * MM, 1) for ink in begun} == {0.0}
    assert {round(ink.x - 10 * MM, 1) for ink in hanging} == {12.0}
