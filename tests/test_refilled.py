"""A cylinder that is filled again: its last gauge stays that of the trip, and the store gets fuller by it alone.

Litres by hand are factor x fall, 0.28 L/psi for an E cylinder (respiratory care textbooks).
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Literal

import pytest
from click.testing import CliRunner, Result
from pypdf import PdfReader, PdfWriter
from pypdf.generic import NameObject

from planner.afterwards.compare import Comparison, compare
from planner.afterwards.onward import Now
from planner.command.cli import main
from planner.constants import KPA_PER_PSI
from planner.pages.pack import pack_bytes
from planner.planning import plan
from planner.problems import ProblemsError
from planner.profile.read import parse_trip, read_trip
from planner.readings.onward import again
from planner.readings.read import parse_readings, read_readings
from planner.results import Plan
from planner.text.source import loads
from tests import test_cli_compare
from tests.test_form_identity import ISSUED

TRIP = test_cli_compare.TRIP.replace("stores/room.yaml", "room.yaml")
STORE = """\
cylinders:
  - {label: A, contents: 616 L at 2200 psi, gauge: 2000 psi, checked: 2026-12-03 20:00}
  - {label: B, contents: 616 L at 2200 psi, gauge: 1100 psi, checked: 2026-12-03 20:00}
"""
LOG = """\
readings: 1
log:
  - {time: 23:50, cylinder: A, gauge: 2000 psi}
  - {time: 00:20, cylinder: A, gauge: 1360 psi, leg: 1, at: end}
"""
# 6 L/min x 60 min = 360 L = 1286 psi: A comes back at 714 psi.
CLOSED = (
    LOG
    + """\
closed:
  time: 00:55
  shut_and_bled: true
  last: [{cylinder: A, gauge: 710 psi}]
"""
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "room.yaml").write_text(STORE, encoding="utf-8")
    (tmp_path / "trip.yaml").write_text(TRIP, encoding="utf-8")
    return tmp_path


def closed(folder: Path, readings: str | Path, *more: str) -> Result:
    """The trip closed with readings: the text of a file, or a file."""
    if isinstance(readings, str):
        (folder / "log.yaml").write_text(readings, encoding="utf-8")
        readings = folder / "log.yaml"
    return CliRunner().invoke(main, ["compare", str(folder / "trip.yaml"), str(readings), "--close", *more])


def in_store(folder: Path) -> str:
    """The gauge of A in the store."""
    (line,) = (line for line in (folder / "room.yaml").read_text(encoding="utf-8").splitlines() if "label: A" in line)
    return line.partition("gauge: ")[2].partition(",")[0]


# After the trip


@pytest.mark.hazard(38)
def test_filled_after_the_trip_the_store_has_the_new_gauge_and_the_comparison_the_old(folder: Path) -> None:
    result = closed(folder, CLOSED.replace("gauge: 710 psi}", "gauge: 710 psi, refilled_to: 2100 psi}"))
    assert result.exit_code == 0, result.output
    assert in_store(folder) == "2100 psi"
    text = " ".join(result.stdout.split())
    assert "cart A 30 to 65 00:20 +1d-00:55 +1d 1360 to 710" in text
    assert "A 2000 psi to 2100 psi" in text
    assert "NOTE: cart A was filled: a cylinder just filled is warm, and its gauge falls as it cools." in text


@pytest.mark.hazard(38)
def test_where_only_the_gauge_since_is_known_nothing_is_measured_by_it(folder: Path) -> None:
    """Taken as a gauge of the trip, 1900 psi after 1360 would be a rise, and 1300 next to no use."""
    for gauge in ("1900 psi", "1300 psi"):
        (folder / "room.yaml").write_text(STORE, encoding="utf-8")
        result = closed(folder, CLOSED.replace("710 psi}", f"{gauge}, refilled: true}}"), "--format", "json")
        assert result.exit_code == 0, result.output
        assert in_store(folder) == gauge
        found = json.loads(result.stdout)
        assert [(one["from_min"], one["to_min"]) for one in found["stretches"]] == [(0.0, 30.0)]
        assert [one["code"] for one in found["findings"]] == ["filled_since", "last_gauge_filled"]


@pytest.mark.hazard(38)
def test_a_gauge_that_rises_and_is_not_said_to_be_filled_closes_nothing(folder: Path) -> None:
    result = closed(folder, CLOSED.replace("710 psi}", "2100 psi}"))
    assert result.exit_code == 1
    assert "gauge_rises  2100 psi on cart A after 1360 psi on line 4" in result.stderr
    assert "one that was filled in between says so with `refilled: true`" in result.stderr
    assert in_store(folder) == "2000 psi"


@pytest.mark.parametrize(
    ("last", "told"),
    [
        (
            "gauge: 710 psi, refilled_to: 600 psi",
            "filled_to_less  refilled_to `600 psi`, below its last gauge `710 psi`",
        ),
        ("gauge: 710 psi, refilled_to: 2100 psi, refilled: false", "beside `refilled: false`; allowed: one of them"),
        ("gauge: 710 psi, refilled_to: 9000 psi", "refilled_to `9000 psi`"),
        ("refilled_to: 2100 psi", "gauge"),
    ],
)
def test_what_no_filling_gives_is_told_and_closes_nothing(folder: Path, last: str, told: str) -> None:
    result = closed(folder, CLOSED.replace("gauge: 710 psi", last))
    assert result.exit_code == 1
    assert told in result.stderr
    assert in_store(folder) == "2000 psi"


@pytest.mark.hazard(38)
def test_a_table_says_it_too(folder: Path) -> None:
    table = folder / "log.csv"
    table.write_text(
        "time,cylinder,gauge,last,shut_and_bled,refilled_to\n23:50,A,2000 psi,,,\n00:20,A,1360 psi,,,\n"
        "00:55,A,710 psi,true,true,2050 psi\n",
        encoding="utf-8",
    )
    assert closed(folder, table).exit_code == 0
    assert in_store(folder) == "2050 psi"


# In the form


def name_of(field: Any) -> str:
    """The whole name of a field."""
    parts: list[str] = []
    while field is not None:
        parts.insert(0, str(field.get("/T", "")))
        field = field["/Parent"].get_object() if "/Parent" in field else None
    return ".".join(filter(None, parts))


def filled_in(
    folder: Path,
    values: dict[str, str],
    ticks: tuple[str, ...] = ("return.shut", "return.bleed"),
    pages: Literal["crew", "all"] = "crew",
) -> Path:
    """The form of the trip, typed into and ticked as a reader of PDF does it."""
    made = plan(read_trip(folder / "trip.yaml"))
    (folder / "form.pdf").write_bytes(pack_bytes(made, issued=ISSUED, fillable=True, pages=pages))
    writer = PdfWriter(clone_from=PdfReader(folder / "form.pdf"))
    known = PdfReader(folder / "form.pdf").get_fields() or {}
    assert set(values) <= set(known), sorted(set(values) - set(known))
    for page in writer.pages:
        writer.update_page_form_field_values(page, dict(values), auto_regenerate=False)
        for annotation in page.get("/Annots", []):
            field = annotation.get_object()
            if name_of(field) in ticks:
                field[NameObject("/V")] = NameObject("/Yes")
    writer.write(folder / "typed.pdf")
    return folder / "typed.pdf"


READ = {
    "log.cart.A.1.gauge": "2000",
    "log.cart.A.2.gauge": "1360",
    "log.cart.A.2.time": "30 min",
    "log.cart.A.4.gauge": "710",
    "log.cart.A.4.time": "65 min",
}


@pytest.mark.hazard(38)
def test_a_form_that_says_filled_raises_the_gauge_and_one_that_does_not_never_does(folder: Path) -> None:
    assert closed(folder, filled_in(folder, READ)).exit_code == 0
    assert in_store(folder) == "710 psi"
    (folder / "room.yaml").write_text(STORE, encoding="utf-8")
    result = closed(folder, filled_in(folder, READ | {"log.cart.A.4.refilled_to": "2100"}))
    assert result.exit_code == 0, result.output
    assert in_store(folder) == "2100 psi"
    (folder / "room.yaml").write_text(STORE, encoding="utf-8")
    for gauge in ("2100", "1700"):
        result = closed(folder, filled_in(folder, READ | {"log.cart.A.4.gauge": gauge}))
        assert result.exit_code == 1
        assert f"gauge_rises  {gauge} psi on cart A after 1360 psi" in result.stderr
        assert in_store(folder) == "2000 psi"


@pytest.mark.hazard(38)
def test_a_form_with_the_gauge_since_alone_counts_and_measures_nothing_by_it(folder: Path) -> None:
    values = {name: value for name, value in READ.items() if name != "log.cart.A.4.gauge"}
    log = read_readings(
        filled_in(folder, values | {"log.cart.A.4.refilled_to": "2100"}), plan(read_trip(folder / "trip.yaml"))
    )
    assert log.closing is not None
    (last,) = log.closing.last
    assert (last.gauge_text, last.refilled, last.refilled_to) == ("2100 psi", True, "")


def test_a_free_row_may_say_that_a_cylinder_was_filled_on_the_way(folder: Path) -> None:
    """B stands at 1100 psi in the store; filled, it reads 1900 psi at 40 min."""
    values = {"log.cart.A.1.gauge": "2000", "log.free.1.cylinder": "B", "log.free.1.gauge": "1900"}
    values["log.free.1.time"] = "40 min"
    made = plan(read_trip(folder / "trip.yaml"))
    log = read_readings(filled_in(folder, values, ("log.free.1.refilled",), "all"), made)
    assert [(entry.cylinder, entry.refilled, entry.in_use) for entry in log.entries] == [
        ("A", False, True),
        ("B", True, False),
    ]
    with pytest.raises(ProblemsError, match="gauge_rises"):
        read_readings(filled_in(folder, values, (), "all"), made)
    with pytest.raises(ProblemsError) as caught:  # ticked, and nothing beside it
        read_readings(filled_in(folder, values, ("log.free.2.refilled",), "all"), made)
    assert "typed.pdf (log.free.2)" in str(caught.value)
    assert "the gauge after filling" in str(caught.value)


@pytest.mark.parametrize("pages", ["crew", "all"])
def test_the_boxes_say_what_goes_into_them(folder: Path, pages: Literal["crew", "all"]) -> None:
    """The place of the flow stays empty once the valve is shut: there stands what it was filled to."""
    text = "\n".join(page.extract_text() for page in PdfReader(filled_in(folder, READ, pages=pages)).pages)
    assert text.count("filled to") == (1 if pages == "crew" else 2)
    assert text.count("filled again") == (0 if pages == "crew" else 9)  # eight free rows, and the heading


# On the way

CART = TRIP.replace(
    "{store: room.yaml, places: 2}",
    "{cylinders: [{label: A, contents: 616 L at 2200 psi, gauge: 2000 psi},\n"
    "    {label: B, contents: 616 L at 2200 psi, gauge: 2000 psi}]}",
).replace("duration: 30 min", "duration: 60 min")


def first() -> Plan:
    return plan(parse_trip(CART))


def on_the_way(*entries: str) -> Comparison:
    text = "readings: 1\nlog:\n" + "".join(f"  - {{{entry}}}\n" for entry in entries)
    return compare(first(), parse_readings(text, first()))


FILLED = (
    "time: 0 min, cylinder: A, gauge: 2000 psi",
    "time: 40 min, cylinder: A, gauge: 1140 psi, change_to: B",
    "time: 55 min, cylinder: B, gauge: 1680 psi",
    "time: 60 min, cylinder: A, gauge: 2100 psi, refilled: true",
    "time: 70 min, cylinder: B, gauge: 1360 psi",
)


def test_a_cylinder_filled_on_the_way_is_read_as_it_is_since_and_not_taken_to_be_in_use() -> None:
    """A and B give 6 / 0.28 = 21.4 psi a minute; nothing is measured over the filling of A, which was off then."""
    found = on_the_way(*FILLED)
    assert [turn.label for turn in found.gauged["cart"].in_use] == ["A", "B"]
    assert {stretch.verdict for stretch in found.stretches} == {"as_planned", "cannot_tell"}
    now = {
        one.cylinder.label: one.cylinder.gauge_kpa / KPA_PER_PSI
        for one in found.rests[0].plan.supplies["cart"].cylinders
    }
    assert round(now["A"]) == 2100
    assert [each.verdict for each in found.answers] == ["holds"]
    assert [each.code for each in found.findings if each.code != "other_in_use"] == ["filled_since"]


def test_without_the_word_the_same_reading_is_refused() -> None:
    with pytest.raises(ProblemsError, match="gauge_rises"):
        on_the_way(*(entry.replace(", refilled: true", "") for entry in FILLED))


def test_filled_while_it_stays_in_use_both_gauges_at_one_minute() -> None:
    """2000 to 1360 psi in 30 min is 179 L, 180 planned; from 2000 again to 1570 in 20 min 120 L."""
    found = on_the_way(
        "time: 0 min, cylinder: A, gauge: 2000 psi",
        "time: 30 min, cylinder: A, gauge: 1360 psi",
        "time: 30 min, cylinder: A, gauge: 2000 psi, refilled: true",
        "time: 50 min, cylinder: A, gauge: 1570 psi",
    )
    assert [(one.from_min, one.to_min, one.verdict) for one in found.stretches] == [
        (0.0, 30.0, "as_planned"),
        (30.0, 50.0, "as_planned"),
    ]
    assert [round(one.used_l, -1) for one in found.stretches] == [180.0, 120.0]
    assert found.overall == ()


@pytest.mark.hazard(22)
def test_a_leak_that_showed_before_the_filling_is_not_forgotten_by_it() -> None:
    """16 L/min where 6 are planned: 2000 to 860 psi in 20 min. The gauge since the filling tells nothing yet."""
    found = on_the_way(
        "time: 0 min, cylinder: A, gauge: 2000 psi",
        "time: 20 min, cylinder: A, gauge: 860 psi",
        "time: 21 min, cylinder: A, gauge: 1000 psi, refilled: true",
    )
    assert [each.verdict for each in found.answers] == ["act"]


@pytest.mark.hazard(38)
def test_filled_on_the_way_it_may_come_back_with_more_than_the_store_had(folder: Path) -> None:
    text = CLOSED.replace(
        "closed:",
        "  - {time: 00:30, cylinder: A, gauge: 1100 psi}\n  - {time: 00:31, cylinder: A, gauge: 2200 psi, "
        "refilled: true}\nclosed:",
    )
    result = closed(folder, text.replace("gauge: 710 psi}", "gauge: 2150 psi}"))
    assert result.exit_code in (0, 3), result.output
    assert in_store(folder) == "2150 psi"


def test_what_is_left_is_planned_with_the_gauge_since() -> None:
    """B was read at 70 min, 1360 psi; A stands at 2100 psi since it was filled."""
    entries = [*FILLED[:-1], f"{FILLED[-1]}, leg: 2"]
    root = loads("readings: 1\nlog:\n" + "".join(f"  - {{{entry}}}\n" for entry in entries), "log.yaml").root
    trip = again(first(), root, "log.yaml", Now(None, 1, 50.0))
    gauges = {one.label: round(one.gauge_kpa / KPA_PER_PSI) for one in trip.supplies["cart"].cylinders}
    assert gauges == {"B": 1360, "A": 2100}
    assert trip.onward is not None
    read = {one.cylinder: (round(one.read_kpa / KPA_PER_PSI), one.read_min) for one in trip.onward.carried}
    assert read == {"A": (2100, 60.0), "B": (1360, 70.0)}
