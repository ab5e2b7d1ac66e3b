"""The two sheets that a crew carries: how many pages, how large the letters, nothing cut, no figure in another."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from functools import cache
from itertools import combinations
from pathlib import Path

import pytest

from planner.gas.contents import contents_l
from planner.pages.drawing import fonts, move
from planner.pages.pack import PAPERS, Paper, pack_bytes
from planner.planning import plan
from planner.profile.read import parse_trip, read_trip
from planner.report.card.card import card
from planner.report.minutes_table import minutes_table
from planner.results import Plan
from tests.pages.printed import ISSUED, SHORTEST, TRIPS, Ink, pages
from tests.test_accepted import ROLE, WHY, reserve, stated

ROOT = Path(__file__).parents[2]
FLIGHT = "profiles/fixed-wing"
NO_GO = ("profiles/high-flow-on-e-cylinders", "demo/night-transfer")
"""Meant to be refused."""
TWO_SHEETS = tuple(
    name
    for path in sorted((*(ROOT / "profiles").glob("*.yaml"), *(ROOT / "demo").glob("*.yaml")))
    if (name := f"{path.parent.name}/{path.stem}") not in (FLIGHT, *NO_GO)
)
"""Every shipped trip, but for the flight with six changes and those meant to be refused: of two patients too."""
LONGER = ("profiles/two-patients", FLIGHT, "demo/valley-to-coast")
CAPTIONS = ("left", "at", "released", "accepted", "by", "filled to")
"""Of boxes that are filled in before leaving or after return."""
UNITS = ("psi", "bar", "kPa", "MPa")
FOOT_MM = 15.0

LARGE = """
profile: 1
trip: From the rehabilitation clinic at the northern harbour to the university hospital
reference: 2026-12-03/NORTHERN-HARBOUR/TRANSFER-OF-AN-ADULT/0000417
departs: 2026-12-03T14:20:00+01:00
supplies:
  ambulance north:
    fixed: true
    cylinders:
      - {label: ambulance main number one, size: US-M, gauge: GAUGE, outlets: [high_pressure, {flowmeter: 15 L/min}]}
  cart:
    cylinders:
CARRIED
policy: {pressure_unit: UNIT}
devices:
  vent: {type: reservoir_mask, flow: 10 L/min}
setting: road
legs:
LEGS
"""


def large(unit: str, *, long: bool = True) -> Plan:
    """Six cylinders and eight legs in one unit, the most that two sheets are to hold; with `long` labels more."""
    gauge = {"psi": "2200 psi", "bar": "151 bar", "kPa": "15100 kPa", "MPa": "15.1 MPa"}[unit]
    called = "cart cylinder " if long else ""
    carried = "\n".join(
        f"      - {{label: {called}{number}, size: US-E, gauge: GAUGE}}" for number in ("I", "II", "III", "IV", "V")
    )
    names = ("Ward to lift", "Lift", "Ramp", "Road to the port", "Ferry", "Road", "Bay", "To intensive care")
    legs = "\n".join(
        f"  - {{name: {name}, duration: 5 min, supply: {'ambulance north' if 3 <= index <= 5 else 'cart'}, "
        "devices: [vent]}"
        for index, name in enumerate(names)
    )
    text = LARGE.replace("CARRIED", carried).replace("LEGS", legs).replace("GAUGE", gauge).replace("UNIT", unit)
    if not long:
        text = text.replace("ambulance main number one", "main").replace("ambulance north", "ambulance")
        text = text.replace("/NORTHERN-HARBOUR/TRANSFER-OF-AN-ADULT/", "-")
    return plan(parse_trip(text))


@cache
def crew(name: str, paper: Paper = "a4") -> bytes:
    """The crew's pages of a trip of the tests, of the large one in a unit, or of a profile."""
    if name in TRIPS:
        made = TRIPS[name]()
    elif name.startswith("large "):
        made = large(name.removeprefix("large "))
    else:
        made = plan(read_trip(ROOT / f"{name}.yaml"))
    assert made.go, name
    return pack_bytes(made, paper=paper, issued=ISSUED, pages="crew")


LOOKED_AT = (
    "example",
    "six legs",
    "longest",
    "shortest",
    "unbroken",
    "large psi",
    "large bar",
    "large kPa",
    "large MPa",
)
every = pytest.mark.parametrize("name", [*LOOKED_AT, *LONGER, "profiles/magnet-scan", "profiles/newborn-on-a-blend"])


@pytest.mark.parametrize("name", [*TWO_SHEETS, "example", "shortest"])
@pytest.mark.longer("paper", ["letter"], list(PAPERS))
def test_a_shipped_trip_is_two_sheets_both_sides(name: str, paper: Paper) -> None:
    assert len(pages(crew(name, paper))) <= 4


def test_the_shipped_trips_are_looked_at() -> None:
    """By count of the folders: a trip that is added is looked at too."""
    assert len(TWO_SHEETS) >= 13
    assert {"profiles/two-patients", "demo/valley-to-coast", "profiles/long-flight-on-liquid"} <= set(TWO_SHEETS)


@pytest.mark.parametrize("paper", PAPERS)
def test_a_flight_with_six_changes_is_three_sheets(paper: Paper) -> None:
    assert len(pages(crew(FLIGHT, paper))) <= 6


@pytest.mark.parametrize("name", NO_GO)
@pytest.mark.parametrize("paper", PAPERS)
def test_a_no_go_is_one_page_of_reasons_and_its_sheet(name: str, paper: Paper) -> None:
    made = plan(read_trip(ROOT / f"{name}.yaml"))
    assert not made.go
    first, *rest = pages(pack_bytes(made, paper=paper, issued=ISSUED, pages="crew"))
    assert "DO NOT DEPART ON THIS PLAN" in _words(first)
    assert rest
    assert all("Calculation sheet" in _words(page) for page in rest)


@pytest.mark.hazard(13)
def test_a_front_that_goes_on_says_where_its_actions_are() -> None:
    """Seven cylinders and seven legs of the flight leave no room: the front says that what to do is on the next."""
    first, second, *_ = pages(crew(FLIGHT))
    assert _words(first).rpartition(" page 1 of ")[0].endswith(" If it fails: see the next page.")
    assert "BAG by hand at 15 L/min if the ventilator fails" in _words(second)


@pytest.mark.hazard(21)
@pytest.mark.parametrize("unit", UNITS)
def test_six_cylinders_and_eight_legs_are_two_sheets(unit: str) -> None:
    """Cylinders, legs and what to do when something fails stand on one front, the rest on three more sides."""
    data = pack_bytes(large(unit, long=False), paper="letter", issued=ISSUED, pages="crew")
    front, *rest = pages(data)
    words = _words(front)
    for text in ("V cart, US-E", "8 To intensive care", "MOVE to cart if ambulance fails"):
        assert text in words
    assert len(rest) == 3


@pytest.mark.hazard(20, 21)
def test_a_longer_front_goes_on_under_its_verdict_and_trip() -> None:
    """Twenty-four legs: the second page repeats verdict, trip and the heads of its columns, and no leg is lost."""
    leg = next(line for line in SHORTEST.splitlines() if "name: Lift" in line)
    many = "\n".join(
        leg.replace("Lift", f"Lift {letter}").replace("10 min", "1 min") for letter in "ABCDEFGHIJKLMNOPQRSTUVWX"
    )
    data = pack_bytes(plan(parse_trip(SHORTEST.replace(leg, many))), issued=ISSUED, pages="crew")
    first, second, *_ = pages(data)
    words = _words(second)
    assert "More legs, and what to do if it fails: see the next page." in _words(first)
    assert words.startswith("GO Card, continued: Ward to scanner")
    assert "At the end of each leg should read reads leak below act below time" in words
    assert re.findall(r"Lift ([A-X])\b", f"{_words(first)} {words}")[:24] == list("ABCDEFGHIJKLMNOPQRSTUVWX")
    assert "HEAD for the nearest outlet" in words


@pytest.mark.hazard(21)
@pytest.mark.parametrize("paper", PAPERS)
def test_a_go_by_decision_is_said_in_words_over_every_page(paper: Paper) -> None:
    """20 L of the reserve are missing and accepted (tests/test_accepted.py): never a plain GO in a box."""
    made = stated(330.0, reserve(30.0))
    found = pages(pack_bytes(made, paper=paper, issued=ISSUED, pages="crew"))
    for page in found:
        assert "GO BY DECISION" in _words(page)
        assert "GO" not in [ink.text.strip() for ink in page]
    assert "Contents of cart: number said, 330 L or more" in _words(found[1]), (
        "not the 350 L that were accepted as missing"
    )
    band = [ink for ink in found[0] if ink.text.strip() == "GO BY DECISION"]
    assert band[0].size >= 24.0
    told = _words(found[0])
    for text in (ROLE, WHY, "30 L"):
        assert text in told
    below = [ink for ink in found[0] if ink.text.strip() in ("left", "Cylinders", "If it fails")]
    assert all(ink.y < band[0].y for ink in below)
    for text in (ROLE, WHY):
        assert max(ink.size for ink in found[0] if text in ink.text) >= move.SIZE - 1e-3


@pytest.mark.hazard(21)
@every
def test_nothing_that_is_read_on_the_move_is_smaller_than_a_tenth_of_an_inch(name: str) -> None:
    """NASA CR-177605, 1992, from memory: x-height 0.10 inch; captions of boxes and what is read at rest stand apart."""
    assert fonts.critical_size_pt() == move.SIZE
    for page in pages(crew(name)):
        rest = _at_rest(name)
        small = [
            ink.text
            for ink in page
            if ink.size < move.SIZE - 1e-3
            and ink.y > FOOT_MM * 72 / 25.4 + _foot_of(page)
            and ink.text.strip() not in CAPTIONS
            and not any(ink.text.strip() in text or text in ink.text for text in rest)
        ]
        assert small == []


def _foot_of(page: tuple[Ink, ...]) -> float:
    return min(ink.y for ink in page) - 20.0


def _at_rest(name: str) -> tuple[str, ...]:
    """What may be smaller: the list on return, cautions, the trip beside the title of a page, changed values."""
    made = TRIPS[name]() if name in TRIPS else None
    if made is None:
        made = (
            large(name.removeprefix("large ")) if name.startswith("large ") else plan(read_trip(ROOT / f"{name}.yaml"))
        )
    content = card(made)
    assert content.back is not None
    assert content.second is not None
    steps = [
        f"{item.number} {item.ask}: {item.answer}"
        for each in content.second.after
        if each.key == "return"
        for item in each.items
    ]
    cautions = [f"{number}. {text}" for number, text in enumerate(content.back.cautions, start=1)]
    return (*steps, *cautions, content.trip, "Cautions")


@pytest.mark.hazard(21)
@every
def test_lines_stand_a_quarter_of_their_size_apart(name: str) -> None:
    """Two lines of one size in one column never stand nearer than that (NASA CR-177605, from memory)."""
    for page in pages(crew(name)):
        rows = sorted(
            (ink for ink in page if abs(ink.size - move.SIZE) < 1e-3 and ink.text.strip()), key=lambda ink: ink.y
        )
        for one, other in combinations(rows, 2):
            if 1.0 < other.y - one.y < 1.2 * move.SIZE:
                assert min(one.right, other.right) <= max(one.left, other.left) + 0.1, (one.text, other.text)


@pytest.mark.hazard(21)
@every
@pytest.mark.parametrize("paper", PAPERS)
def test_no_figure_runs_into_another_and_nothing_is_cut(name: str, paper: Paper) -> None:
    for page in pages(crew(name, paper)):
        found = [ink for ink in page if ink.text.strip()]
        assert "…" not in _words(page)
        for one, other in combinations(found, 2):
            across = min(one.right, other.right) - max(one.left, other.left)
            up = min(one.top, other.top) - max(one.bottom, other.bottom)
            assert not (across > 0.05 and up > 0.05), (one.text, other.text)
            if abs(one.y - other.y) < 0.5:
                assert across < -1.5, (one.text, other.text)


@pytest.mark.hazard(21)
def test_five_figures_of_a_kilopascal_stand_apart_from_their_unit_and_box() -> None:
    """15100 kPa: the number ends before its unit, and the unit before the box beside it."""
    page = next(page for page in pages(crew("large kPa")) if "At the end of each leg" in _words(page))
    numbers = [ink for ink in page if ink.text.strip().isdigit() and len(ink.text.strip()) == 5]
    assert numbers
    for number in numbers:
        unit = min((ink for ink in page if ink.y == number.y and ink.left > number.left), key=lambda ink: ink.left)
        assert unit.text.strip() == "kPa"
        assert unit.left > number.right + 1.0


@pytest.mark.parametrize("name", [*TWO_SHEETS, FLIGHT, "example", "shortest", "longest"])
def test_every_line_of_the_pauses_is_at_most_seventy_characters(name: str) -> None:
    made = TRIPS[name]() if name in TRIPS else plan(read_trip(ROOT / f"{name}.yaml"))
    back = card(made).back
    assert back is not None
    pauses = back.pauses[:3]
    assert [pause.title for pause in pauses] == ["Before valves are opened", "Gas flowing", "Before wheels move"]
    for pause in pauses:
        assert 4 <= len(pause.lines) <= 6
        for line in pause.lines:
            assert len(f"{line.ask}: {line.answer}") <= 70, line
            assert "checked" not in line.answer
            assert line.answer.count(":") == 0, "one colon a line, or it is not read as asked and answered"


@pytest.mark.parametrize("name", [*TWO_SHEETS, FLIGHT, "longest"])
def test_a_pause_takes_less_than_a_minute_and_a_half_aloud(name: str) -> None:
    """Slowly read, two words a second, and five seconds a line to look: common practice, no source."""
    made = TRIPS[name]() if name in TRIPS else plan(read_trip(ROOT / f"{name}.yaml"))
    back = card(made).back
    assert back is not None
    assert 12 <= sum(len(pause.lines) for pause in back.pauses[:3]) <= 18
    for pause in back.pauses[:3]:
        words = " ".join(f"{line.ask} {line.answer}" for line in pause.lines).split()
        assert len(words) / 2.0 + 5.0 * len(pause.lines) < 90.0


@pytest.mark.hazard(5, 11, 19)
def test_the_published_incidents_have_their_lines_in_the_order_of_doing() -> None:
    """Empty at the point of use, never turned on (cap, valve, dial: three steps), not secured, not carried safely.

    National safety alerts of 2018 and 2023, as tests/HAZARDS.md and the table of lines name them.
    """
    back = card(TRIPS["example"]()).back
    assert back is not None
    lines = [f"{line.ask}: {line.answer}" for pause in back.pauses for line in pause.lines]
    told = ("strapped upright", "OXYGEN", "seal off", "opened SLOWLY", "seen on the dial", "number said", "chest rises")
    places = [next(number for number, line in enumerate(lines) if text in line) for text in told]
    assert places == sorted(places)


@pytest.mark.hazard(19, 27)
def test_a_magnet_room_takes_no_label_away() -> None:
    back = card(plan(read_trip(ROOT / "profiles" / "magnet-scan.yaml"))).back
    assert back is not None
    lines = [f"{line.ask}: {line.answer}" for line in back.pauses[0].lines]
    assert "Each label; what enters the magnet room: OXYGEN; marked safe for it" in lines


@pytest.mark.hazard(5)
def test_gas_is_spoken_of_only_once_it_flows() -> None:
    """Cylinders are secured before a valve is opened; flow, gauge and what is felt come after it.

    A gauge is read while gas flows: behind a shut valve it shows what was trapped.
    """
    back = card(TRIPS["example"]()).back
    assert back is not None
    keys = [line.key.removeprefix("pause.") for pause in back.pauses for line in pause.lines]
    assert (
        keys.index("secured") < keys.index("open") < keys.index("flow") < keys.index("unverified") < keys.index("chest")
    )
    before = " ".join(f"{line.ask} {line.answer}" for line in back.pauses[0].lines)
    assert "flow" not in before.replace("flow selector", "")


@pytest.mark.hazard(8)
@pytest.mark.parametrize("name", ["example", "longest", "shortest"])
def test_printed_minutes_are_usable_litres_over_the_printed_flow(name: str) -> None:
    """minutes = (contents at the gauge - contents at change-over) / the flow as it stands in the column's head."""
    made = TRIPS[name]()
    table = minutes_table(made)
    assert table is not None
    words = [_words(page) for page in pages(crew(name))]
    change = made.trip.policy.change_over_at_kpa
    cylinders = {
        item.cylinder.size: item for supply in made.supplies.values() for item in supply.cylinders if item.cylinder.size
    }
    for row in table.rows:
        item = cylinders.get(row.size)
        if item is None:
            continue
        for gauge, minutes in zip(table.gauges, row.minutes, strict=True):
            if not minutes[0].isdigit():
                continue
            read, capacity = float(gauge.split()[0]) * 6.894757293168, item.cylinder.water_capacity_l
            usable = contents_l(read, item.read_degc, capacity) - contents_l(change, item.cold_degc, capacity)
            assert int(minutes.split()[0]) == int(usable / float(row.flow.split()[0]) + 1e-9)
            assert any(minutes.split()[0] in text for text in words)


@pytest.mark.hazard(20)
def test_the_time_of_issue_is_told_on_the_clock_of_the_trip() -> None:
    """13:05 UTC is 14:05 where the trip departs at +01:00."""
    issued = datetime(2026, 12, 3, 13, 5, tzinfo=UTC)
    text = SHORTEST.replace("setting: in_house", "setting: in_house\ndeparts: 2026-12-03T14:20:00+01:00")
    data = pack_bytes(plan(parse_trip(text)), issued=issued, pages="crew")
    for page in pages(data):
        assert "issued 3 Dec 2026 14:05 UTC+01:00" in _words(page)


@pytest.mark.hazard(20)
def test_a_card_is_valid_until_its_first_reading_is_too_old() -> None:
    """Read at 06:00 and valid for 12 h: until 18:00, whatever was read later."""
    text = SHORTEST.replace("gauge: 2000 psi", "gauge: 2000 psi, checked: 2026-12-03 06:00").replace(
        "setting: in_house", "setting: in_house\ndeparts: 2026-12-03 14:20"
    )
    made = card(plan(parse_trip(text)))
    assert made.front.valid == "Valid until 3 Dec 2026 18:00: the reading of A is then 12 h old."


def test_cautions_stand_in_full_on_the_sheets() -> None:
    made = TRIPS["example"]()
    words = " ".join(_words(page) for page in pages(crew("example")))
    for finding in made.findings:
        if finding.level == "caution":
            assert finding.message.rstrip(".") in words


@pytest.mark.hazard(13)
def test_a_box_for_a_reading_is_large_enough_for_a_glove() -> None:
    """25 x 10 mm for a reading on the front, 9 mm for initials."""
    assert round(move.BOX_WIDTH / 72 * 25.4, 6) == 25.0
    assert round(move.BOX_HEIGHT / 72 * 25.4, 6) == 10.0
    assert round(move.TICK / 72 * 25.4, 6) == 9.0


def _words(page: tuple[Ink, ...]) -> str:
    return " ".join(" ".join(ink.text for ink in page).split())
