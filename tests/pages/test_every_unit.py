"""Every page in every unit: long names, large figures, and nothing meets, is cut or leaves the paper."""

from __future__ import annotations

import re
from functools import cache
from itertools import pairwise

import pytest

from planner.pages.drawing.layout import CLIP
from planner.pages.pack import PAPERS, Paper, pack_bytes
from planner.planning import plan
from planner.profile.read import parse_trip
from tests.pages.printed import ISSUED, MM, Ink, pages
from tests.pages.test_crew import UNITS, large
from tests.pages.test_geometry import _near as near
from tests.pages.test_geometry import _overlap as overlap

LARGEST = """
profile: 1
trip: From the rehabilitation clinic at the northern harbour to the university hospital, and back the next day
reference: 2026-12-03/NORTHERN-HARBOUR/TRANSFER-OF-AN-ADULT/0000417
departs: 2026-12-03T14:20:00+01:00
supplies:
  the large trolley of the northern harbour:
    cylinders:
      - {label: first cylinder of the northern harbour, size: ISO-40, gauge: FULL, outlets: [high_pressure, {flowmeter: 15 L/min}]}
      - {label: second cylinder of the northern harbour, size: ISO-40, gauge: FULL, outlets: [high_pressure, {flowmeter: 15 L/min}]}
      - {label: third cylinder of the northern harbour, size: ISO-40, gauge: FULL, outlets: [high_pressure, {flowmeter: 15 L/min}]}
policy: {pressure_unit: UNIT, reading_valid_for: 48 h}
devices:
  high flow with a heated humidifier: {type: high_flow_nasal, flow: 60 L/min, fio2: 0.9, if_it_fails: resuscitator with reservoir}
  resuscitator with reservoir: {type: manual_resuscitator, flow: 15 L/min}
setting: road
legs:
  - {name: From the ward on the eleventh floor down to the ambulance bay, duration: 12 min, supply: the large trolley of the northern harbour, devices: [high flow with a heated humidifier]}
  - {name: By road along the coast to the university hospital in the south, duration: 105 min, longest: 150 min, supply: the large trolley of the northern harbour, devices: [high flow with a heated humidifier]}
"""  # noqa: E501


@cache
def packed(name: str, unit: str, paper: Paper) -> bytes:
    """All pages: six cylinders and eight legs with long labels, or three of 40 L at 200 bar and 60 L/min."""
    if name == "large":
        return pack_bytes(large(unit), paper=paper, issued=ISSUED, fillable=True)
    full = {"psi": "2900 psi", "bar": "200 bar", "kPa": "20000 kPa", "MPa": "20.0 MPa"}[unit]
    made = plan(parse_trip(LARGEST.replace("FULL", full).replace("UNIT", unit)))
    if name == "no-go":
        made = plan(
            parse_trip(
                LARGEST.replace("FULL", full).replace("UNIT", unit).replace("105 min, longest: 150 min", "1050 min")
            )
        )
    assert made.go is (name != "no-go")
    return pack_bytes(made, paper=paper, issued=ISSUED, fillable=True)


EVERY = [
    (name, unit, paper)
    for name in ("large", "largest", "no-go")
    for unit in UNITS
    for paper in PAPERS
    if unit == "kPa" or paper == "letter"
]
every = pytest.mark.longer(("name", "unit", "paper"), EVERY[::2], EVERY)


@pytest.mark.hazard(21)
@every
def test_nothing_overlaps_and_nothing_is_cut(name: str, unit: str, paper: Paper) -> None:
    for number, page in enumerate(pages(packed(name, unit, paper)), start=1):
        told = [ink for ink in page if ink.text.strip()]
        assert not [ink.text for ink in told if "…" in ink.text], number
        for one, other in near(tuple(told)):
            assert not overlap(one, other), (number, one.text, other.text)
            if abs(one.bottom - other.bottom) < 3:
                gap = max(one.left, other.left) - min(one.right, other.right)
                assert gap > 1.5, (number, one.text, other.text)


@every
def test_nothing_leaves_the_paper(name: str, unit: str, paper: Paper) -> None:
    wide, high = PAPERS[paper]
    for page in pages(packed(name, unit, paper)):
        told = [ink for ink in page if ink.text.strip()]
        assert min(ink.left for ink in told) >= 6 * MM
        assert max(ink.right for ink in told) <= wide - 6 * MM
        assert min(ink.bottom for ink in told) >= 6 * MM
        assert max(ink.top for ink in told) <= high - CLIP


@pytest.mark.hazard(21)
@every
def test_lines_of_one_column_stand_a_quarter_of_their_size_apart(name: str, unit: str, paper: Paper) -> None:
    """25 to 33 % beyond the type size (NASA CR-177605, 1992, from memory), on every kind of page.

    Neighbouring lines of one paragraph begin at one x, in one size; nothing that begins there stands nearer.
    """
    for number, page in enumerate(pages(packed(name, unit, paper)), start=1):
        columns: dict[tuple[float, float], list[Ink]] = {}
        for ink in page:
            if re.search(r"[^0-9. ]", ink.text):  # the figures of a scale stand where their marks are
                columns.setdefault((round(ink.x, 1), round(ink.size, 2)), []).append(ink)
        for found in columns.values():
            found.sort(key=lambda ink: -ink.y)
            for upper, lower in pairwise(found):
                if 0.5 < upper.y - lower.y < 2 * upper.size:
                    assert upper.y - lower.y >= 1.24 * upper.size, (number, upper.text, lower.text)
