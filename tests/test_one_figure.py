"""One figure, one value: whatever stands in two places is the field of the JSON result, rounded in one way.

Every shipped profile and the demo are planned and printed, and each place is read back (`tests.places`): screen, CSV,
both sheets of the card, checklists, log, charts, calculation sheet; of the shipped shift and the demo history screen
and page too. What stands there is compared with the figure of the JSON result through its one rounding of
`planner.figures`. What the page for browsers shows is what the command says (`tests/browser`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from planner import figures
from planner.planning import plan
from planner.profile.read import read_trip
from planner.results import Plan
from tests.places.crew import card, card_legs, lists, log_pages, second
from tests.places.others import review_said, shift_said
from tests.places.printed import Said, printed
from tests.places.screen import screen
from tests.places.sheet import charts, sheet
from tests.places.told import told
from tests.places.truth import Trip, Truth

ROOT = Path(__file__).resolve().parents[1]
PROFILES = sorted([*(ROOT / "profiles").glob("*.yaml"), *(ROOT / "demo").glob("*.yaml")])
OTHERS = [
    ROOT / "tests/profiles/good" / f"{name}.yaml"
    for name in (
        *("change_brought_forward", "cold_road", "manifold_carried", "trickle_that_may_rise", "three_low"),
        "escort_just_in_case",
    )
]
"""What the shipped trips have not: changes of cylinder, cold, bar, a manifold on foot, a flow that may rise."""


@cache
def trip_of(path: Path) -> Trip:
    return _trip(plan(read_trip(path)))


def _trip(found: Plan) -> Trip:
    return Trip(printed(found), found.trip, found.trip.policy.pressure_unit, found.trip.departs)


READERS: dict[str, Callable[[Trip], Iterator[Said]]] = {
    "screen": screen,
    "log": log_pages,
    "card": card,
    "card, legs": card_legs,
    "second sheet": second,
    "checklists": lists,
    "charts": charts,
    "sheet": sheet,
    "in words": told,
}


def said_of(trip: Trip) -> list[Said]:
    return [*Truth(trip).said(), *(_of_a_vessel(said) for read in READERS.values() for said in read(trip))]


@cache
def said_in(path: Path) -> list[Said]:
    return said_of(trip_of(path))


def _of_a_vessel(said: Said) -> Said:
    """A vessel of liquid shows a mass or litres and no pressure: a figure of its own, told on the pages alone."""
    shown = said.figure in ("expected gauge", "least gauge") and said.text.endswith((" lb", " kg", " L"))
    return said._replace(figure=said.figure.replace("gauge", "mark of a vessel")) if shown else said


def differing(said: list[Said]) -> list[str]:
    """Every figure that is not the same text wherever it stands, with its places."""
    places: dict[tuple[str, tuple[object, ...]], dict[str, set[str]]] = {}
    for one in said:
        places.setdefault((one.figure, one.of), {}).setdefault(one.text, set()).add(one.place)
    return [
        f"{figure} of {', '.join(map(str, of))}: "
        + " / ".join(f"{text!r} in {', '.join(sorted(names))}" for text, names in texts.items())
        for (figure, of), texts in places.items()
        if len(texts) > 1
    ]


STANDS = {
    "planned": "JSON, screen",
    "reserve": "JSON, screen",
    "required": "JSON, card, screen, sheet, stop",
    "planned, worked": "JSON, sheet",
    "reserve, worked": "JSON, sheet",
    "peak flow, worked": "JSON, sheet",
    "reserve by factor": "JSON, sheet",
    "reserve by time": "JSON, sheet",
    "reserve by rise": "JSON, sheet",
    "usable": "JSON, screen, sheet",
    "without spare": "JSON, sheet",
    "have": "JSON, card, screen, stop",
    "margin": "JSON, card, screen, sheet",
    "lasts": "JSON, sheet",
    "cylinder usable": "screen, sheet",
    "start at least": "JSON, card, log, screen",
    "change at": "JSON, card, nomogram",
    "change at, highest": "JSON, chart",
    "gauge before departure": "JSON, log, screen",
    "gauge after return": "JSON, log, second sheet",
    "gauge at the start of a turn": "JSON, changes, checklists, log, screen, sheet",
    "gauge at the end of a turn": "JSON, card, changes, checklists, log, screen, sheet",
    "turn begins": "JSON, screen, sheet",
    "turn ends": "JSON, card, screen, sheet",
    "turn ends, clock": "JSON, card",
    "count": "JSON, screen, sheet",
    "usable each": "JSON, sheet",
    "mass": "JSON, screen, sheet",
    "elapsed": "JSON, card, log, screen, second sheet, sheet",
    "clock": "JSON, card, log, screen, second sheet, sheet",
    "cylinder in use": "JSON, sheet",
    "expected gauge": "JSON, card, changes, checklists, log, screen, second sheet, sheet",
    "least gauge": "JSON, before leaving, card, checklists, log, screen, second sheet, sheet",
    "expected mark of a vessel": "card, log, screen, second sheet, sheet",
    "least mark of a vessel": "card, log, screen, second sheet, sheet",
    "leak gauge": "JSON, card, log, second sheet",
    "leak fall": "JSON, card, log, second sheet",
    "flow": "JSON, log",
    "flow, worked": "JSON, sheet",
    "litres left": "JSON, sheet",
    "minutes left": "JSON, screen, sheet",
    "minutes left in the cylinder": "JSON, sheet",
    "must hold": "JSON, screen, sheet",
    "holds": "JSON, screen, sentence, sheet",
    "to spare": "JSON, screen, sentence, sheet",
    "to spare at": "JSON, screen, sentence",
    "least to spare": "JSON, card",
    "runs out": "JSON, screen, sentence, sheet",
    "runs out, clock": "JSON, sentence, sheet",
    "runs out, narrow clock": "JSON, screen",
    "turn back until": "JSON, screen, second sheet, sheet",
    "turn back decided by": "JSON, screen, second sheet, sheet",
    "delay": "JSON, screen, sheet",
    "delay into the reserve": "JSON, screen, sheet",
    "go on until": "screen, sheet",
    "draws": "before leaving, profile, screen",
    "flow set": "before leaving, profile, screen, sheet",
    "minute volume set": "before leaving, profile, screen, sheet",
    "breath set": "before leaving, profile, screen, sheet",
    "rate set": "before leaving, profile, screen, sheet",
    "FiO2 set": "before leaving, profile, screen, sheet",
    "time of the trip": "card, profile, screen, sheet",
    "handover time": "checklists, profile, screen, second sheet, sheet",
    "reserve time": "profile, screen, sheet",
    "a reading counts for": "card, profile, sheet",
    "change": "JSON, checklists, second sheet",
    "change, clock": "JSON, checklists, second sheet",
    "batteries last": "JSON, screen",
    "off the mains": "JSON, screen",
    "minutes left at": "card, nomogram",
    "clock of a minute": "JSON, chart",
}
"""Where each figure is to be found on one trip or another: one that is no longer read anywhere is missed."""

EVERY = [*PROFILES, *OTHERS]


@pytest.mark.hazard(23)
@pytest.mark.parametrize("path", EVERY, ids=lambda path: path.stem)
def test_what_stands_in_two_places_is_one_figure(path: Path) -> None:
    assert differing(said_in(path)) == []


def test_every_figure_is_found_in_every_place_where_it_stands() -> None:
    found: dict[str, set[str]] = {}
    for path in EVERY:
        for one in said_in(path):
            found.setdefault(one.figure, set()).add(one.place)
    assert {figure: ", ".join(sorted(places)) for figure, places in found.items()} == STANDS


@pytest.mark.parametrize("path", PROFILES, ids=lambda path: path.stem)
def test_the_tables_for_a_spreadsheet_are_those_of_the_json_result(path: Path) -> None:
    document, tables = trip_of(path).printed.document, trip_of(path).printed.csv
    supplies = [{"supply": name, **supply} for name, supply in document["supplies"].items()]
    for table, rows in (
        ("supplies", supplies),
        ("checkpoints", document["checkpoints"]),
        ("whatifs", document["whatifs"]),
    ):
        assert len(tables[table]) == len(rows)
        for cells, row in zip(tables[table], rows, strict=True):
            for head, cell in cells.items():
                if isinstance(value := row.get(head), float):
                    assert float(cell) == value, (table, head)
                elif head in row and value is None:
                    assert cell == "", (table, head)


@pytest.mark.hazard(23)
def test_the_figures_of_a_shift_and_of_a_review_are_one_wherever_they_stand() -> None:
    said = [*shift_said(sorted((ROOT / "profiles/shift").glob("*.yaml"))), *review_said(ROOT / "demo/history.jsonl")]
    assert differing(said) == []
    found: dict[str, set[str]] = {}
    for one in said:
        found.setdefault(one.figure, set()).add(one.place)
    assert {figure: ", ".join(sorted(places)) for figure, places in found.items()} == {
        **dict.fromkeys(("draw", "part-used", "out at once"), "CSV, JSON, page, screen"),
        **dict.fromkeys(("out", "leaves", "back", "trips", "median", "limit"), "JSON, page, screen"),
    }


class Off:
    """`planner.figures` with one function that writes its figure a little too high."""

    def __init__(self, name: str) -> None:
        self._name = name

    def __getattr__(self, name: str) -> Any:
        real = getattr(figures, name)
        if name != self._name:
            return real

        def off(value: Any, *rest: Any, **more: Any) -> Any:
            higher = value + timedelta(minutes=1) if isinstance(value, datetime) else value and 1.2 * value + 1.0
            return real(higher, *rest, **more)

        return off


WARD, ROAD, FLIGHT = "ward-to-scan", "ventilated-by-road", "long-flight-on-liquid"
ALTERED = {
    WARD: (
        ("summary", "need_l", "planned of trolley"),
        ("summary", "gauge_to_start", "start at least of trolley, A"),
        ("card.order", "gauge_to_start", "start at least of trolley, A"),
        ("card.front", "gauge_up", "change at of trolley, A"),
        ("change_gauge", "gauge_up_or_none", "least gauge of 1, end, trolley"),
        ("log.log", "minutes_down", "elapsed of 1, end, trolley"),
        ("log.log", "gauge_down", "leak gauge of 1, end, trolley"),
        ("sheet.sheet", "supply_l_or_none", "litres left of 1, start, trolley"),
        ("sheet.needs", "need_l", "required of trolley"),
        ("words", "supply_l", "margin of trolley"),
        ("whatif_words", "minutes_at", "to spare of 2"),
        ("change_gauge", "gauge_nearest", "expected gauge of 1, end, trolley"),
        ("chart.nomogram", "gauge_up", "change at of trolley, A"),
        ("card.settings", "flow_set", "flow set of cannula"),
        ("card.settings", "flow_up", "draws of cannula"),
        ("sheet.inputs", "minutes_up", "time of the trip of "),
        ("checklist.facts", "minutes_set", "handover time of "),
        ("words", "minutes_set", "reserve time of "),
        ("validity", "hours_set", "a reading counts for of "),
        ("minutes_table", "minutes_down", "minutes left at of US-E, 1500 psi, 4 L/min"),
    ),
    FLIGHT: (("chart.chart", "clock_down", "clock of a minute of 60 min"),),
    ROAD: (
        ("card.settings", "fio2_set", "FiO2 set of vent"),
        ("checklist.changes", "minutes_down", "change of 1"),
        ("summary", "minutes_down", "batteries last of vent"),
        ("summary", "minutes_up", "off the mains of vent"),
        ("checklist.facts", "minutes_up", "least gauge of 0, battery, vent"),
    ),
}
"""For each profile the function of a module that is altered, and the figure that then differs."""


EVERY_ALTERED = [(profile, *row) for profile, rows in ALTERED.items() for row in rows]


@pytest.mark.parametrize(("profile", "module", "function", "missed"), EVERY_ALTERED)
def test_a_figure_that_differs_in_one_place_is_found(
    monkeypatch: pytest.MonkeyPatch, profile: str, module: str, function: str, missed: str
) -> None:
    monkeypatch.setattr(f"planner.report.{module}.figures", Off(function))
    found = differing(said_of(_trip(plan(read_trip(ROOT / "profiles" / f"{profile}.yaml")))))
    assert any(text.startswith(f"{missed}: ") for text in found), found
