"""Files of readings: YAML, tables and the filled-in form; times; and what cannot be, with its place."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from planner.afterwards.compare import compare
from planner.afterwards.in_use import gauged
from planner.afterwards.logbook import Logbook
from planner.constants import KPA_PER_PSI
from planner.planning import plan
from planner.problems import ProblemsError
from planner.profile.read import parse_trip
from planner.readings.book import logbook
from planner.readings.form import Filled, form_tree
from planner.readings.read import parse_readings, read_readings
from planner.report.card.card import card
from planner.report.compare.compare import compare_text
from planner.report.compare.steps import steps
from planner.report.log.log import log
from planner.results import Plan

pytestmark = pytest.mark.usefixtures("read_here")

TRIP = """\
profile: 1
trip: Ward to scanner
reference: T-1
setting: in_house
departs: 2026-12-03 23:40
timezone: Europe/Oslo
supplies:
  cart:
    cylinders:
      - {label: A, size: US-E, gauge: 1900 psi, gauge_scale: 3000 psi}
      - {label: B, size: US-E, gauge: 2000 psi}
  bed:
    cylinders:
      - {label: D, size: US-D, gauge: 2000 psi}
  wall: {pipeline: true}
devices:
  mask: {type: simple_mask, flow: 6 L/min}
  vent: {type: ventilator, drive: electric, tidal_volume: 450 mL, rate: 16/min, fio2: 45 %, bias_flow: 2 L/min,
    leak: 0 L/min, if_it_fails: mask}
legs:
  - {name: To the lift, duration: 30 min, supply: cart, devices: [mask]}
  - {name: To the scanner, duration: 30 min, supply: cart, devices: [mask]}
"""


def made(text: str = TRIP) -> Plan:
    """The plan of a profile."""
    return plan(parse_trip(text))


def read(text: str, trip: str = TRIP) -> Logbook:
    """The logbook of the entries of a log."""
    return parse_readings(f"readings: 1\n{text}", made(trip))


def logged(*entries: str, trip: str = TRIP) -> Logbook:
    """The logbook of entries in braces."""
    return read("log:\n" + "".join(f"  - {{{entry}}}\n" for entry in entries), trip)


def refused(text: str, trip: str = TRIP) -> str:
    """The problems of a text, one a line."""
    with pytest.raises(ProblemsError) as caught:
        read(text, trip)
    return str(caught.value)


def refused_log(*entries: str, trip: str = TRIP) -> str:
    """The problems of entries in braces."""
    return refused("log:\n" + "".join(f"  - {{{entry}}}\n" for entry in entries), trip)


# Times


@pytest.mark.hazard(24)
def test_clock_times_go_on_over_midnight() -> None:
    book = logged(
        "time: 23:40, cylinder: A, gauge: 1900 psi",
        "time: 23:58, cylinder: A, gauge: 1700 psi",
        "time: 00:10, cylinder: A, gauge: 1500 psi",
        "time: 40 min, cylinder: A, gauge: 1400 psi",
    )
    assert [entry.minute for entry in book.entries] == [0.0, 18.0, 30.0, 40.0]
    assert book.entries[2].moment == datetime(2026, 12, 4, 0, 10, tzinfo=ZoneInfo("Europe/Oslo"))


@pytest.mark.hazard(24)
def test_a_clock_time_before_departure_is_not_a_day_late() -> None:
    book = logged("time: 23:30, cylinder: A, gauge: 1900 psi", "time: 23:50, cylinder: A, gauge: 1800 psi")
    assert [entry.minute for entry in book.entries] == [-10.0, 10.0]


@pytest.mark.hazard(24)
def test_minutes_are_counted_through_a_change_of_the_clocks() -> None:
    # In Oslo clocks go from 03:00 back to 02:00 on 25 October 2026 (the last Sunday; EU directive 2000/84/EC): from
    # 01:50 to 03:10 it is 2 h 20 min. In spring, on 29 March, they go from 02:00 to 03:00: 20 min.
    autumn = TRIP.replace("2026-12-03 23:40", "2026-10-25 01:50").replace("duration: 30 min", "duration: 90 min")
    book = logged("time: 03:10, cylinder: A, gauge: 1500 psi", trip=autumn)
    assert book.entries[0].minute == 140.0
    spring = TRIP.replace("2026-12-03 23:40", "2026-03-29 01:50")
    book = logged("time: 03:10, cylinder: A, gauge: 1500 psi", trip=spring)
    assert book.entries[0].minute == 20.0


@pytest.mark.hazard(24)
def test_a_clock_time_that_comes_twice_or_never_is_refused() -> None:
    autumn = TRIP.replace("2026-12-03 23:40", "2026-10-25 01:50").replace("duration: 30 min", "duration: 90 min")
    text = refused_log("time: 02:30, cylinder: A, gauge: 1500 psi", trip=autumn)
    assert text == (
        "readings.yaml:3:12  time_comes_twice  time `02:30`, which clocks show twice; allowed: a time since departure, "
        "as in 18 min, or a clock time, as in 14:38. Fix: write 2026-10-25 02:30+02:00 or 2026-10-25 02:30+01:00."
    )
    book = logged('time: "2026-10-25 02:30+01:00", cylinder: A, gauge: 1500 psi', trip=autumn)
    assert book.entries[0].minute == 100.0
    spring = TRIP.replace("2026-12-03 23:40", "2026-03-29 01:50")
    text = refused_log("time: 02:30, cylinder: A, gauge: 1500 psi", trip=spring)
    assert "no_such_time  time `02:30`, which clocks skip that night" in text


def test_a_clock_time_needs_a_departure() -> None:
    silent = TRIP.replace("departs: 2026-12-03 23:40\n", "").replace("timezone: Europe/Oslo\n", "")
    text = refused_log("time: 14:38, cylinder: A, gauge: 1500 psi", trip=silent)
    assert "no_departure  time `14:38`, and the trip does not say when it departs" in text
    assert 'Fix: write the time since departure, as in 18 min, or give the departure: --set departs="2026' in text


def test_seconds_make_a_time_sharper_than_a_minute() -> None:
    book = logged(
        "time: 23:50, cylinder: A, gauge: 1800 psi",
        "time: 23:55:30, cylinder: A, gauge: 1700 psi",
        "time: 20.5 min, cylinder: A, gauge: 1600 psi",
    )
    assert [entry.to_the_minute for entry in book.entries] == [True, False, False]
    assert book.entries[1].minute == 15.5


def test_times_that_are_none_are_refused() -> None:
    assert "unit_missing  time `18` without a unit" in refused_log("time: 18, cylinder: A, gauge: 1800 psi")
    assert "not_a_time  time `25:10`" in refused_log("time: 25:10, cylinder: A, gauge: 1800 psi")


# What cannot be


def test_times_out_of_order_are_told_with_their_line() -> None:
    text = refused_log(
        "time: 18 min, cylinder: A, gauge: 1800 psi",
        "time: 14 min, cylinder: A, gauge: 1700 psi",
        "time: 30 min, cylinder: A, gauge: 1600 psi",
    )
    assert text == (
        "readings.yaml:4:12  times_out_of_order  time `14 min`, 14 min after departure, below one at 18 min; allowed: "
        "readings in the order of time. Fix: check the time, or move the reading to its place."
    )


def test_a_gauge_that_rises_without_a_change_of_cylinder_is_told_with_its_line() -> None:
    text = refused_log("time: 10 min, cylinder: A, gauge: 1500 psi", "time: 20 min, cylinder: A, gauge: 1800 psi")
    assert text == (
        "readings.yaml:4:5  gauge_rises  1800 psi on cart A after 1500 psi on line 3; allowed: a gauge that falls, or "
        "stays, but for what it can be read to. Fix: check the reading and the label; another cylinder has a label of "
        "its own, and one that was filled in between says so with `refilled: true`."
    )


def test_a_gauge_may_rise_by_what_it_can_be_read_to_and_by_warming() -> None:
    # Two readings to 50 psi each are up to 100 psi apart; 5 degC more are 5/294 of 1500 psi, some 25 psi.
    logged("time: 10 min, cylinder: A, gauge: 1500 psi", "time: 20 min, cylinder: A, gauge: 1600 psi")
    text = refused(
        "gauge_read_to: 10 psi\nlog:\n  - {time: 10 min, cylinder: A, gauge: 1500 psi}\n"
        "  - {time: 20 min, cylinder: A, gauge: 1600 psi}\n"
    )
    assert "gauge_rises" in text


def test_a_gauge_above_that_of_the_profile_asks_for_a_reading_at_departure() -> None:
    text = refused_log("time: 10 min, cylinder: A, gauge: 2200 psi")
    assert "gauge_rises  2200 psi on cart A after 1900 psi in the profile" in text
    assert "Fix: add its reading at departure, `time: 0 min`, or correct the profile with --set." in text
    logged("time: 0 min, cylinder: A, gauge: 2200 psi", "time: 10 min, cylinder: A, gauge: 2100 psi")


def test_a_last_gauge_that_rises_is_told() -> None:
    text = refused(
        "log:\n  - {time: 10 min, cylinder: A, gauge: 1000 psi}\n"
        "closed:\n  last:\n    - {cylinder: A, gauge: 1500 psi}\n"
    )
    assert "readings.yaml:6:7  gauge_rises  1500 psi on cart A after 1000 psi on line 3" in text


def test_a_cylinder_that_the_plan_does_not_know_is_told_with_those_it_has() -> None:
    text = refused_log("time: 10 min, cylinder: AA, gauge: 1500 psi")
    assert text == (
        "readings.yaml:3:30  cylinder_unknown  cylinder `AA`, which the trip does not have; allowed: one of its "
        "cylinders: A, B, D. Fix: read its label again; one that joined on the way goes into the profile first."
    )
    # The same letters can be no other cylinder; the label is still written as the profile has it.
    assert "Fix: write `A`, or add the cylinder to the profile." in refused_log(
        "time: 10 min, cylinder: a, gauge: 1500 psi"
    )
    assert "supply_unknown  supply `trolley`" in refused_log(
        "time: 10 min, supply: trolley, cylinder: A, gauge: 1500 psi"
    )
    assert "no_gauge  supply `wall`, which has no cylinders with gauges" in refused_log(
        "time: 10 min, supply: wall, flow: 6 L/min"
    )


def test_the_only_cylinder_of_a_supply_needs_no_label() -> None:
    book = logged("time: 10 min, supply: bed, gauge: 1500 psi")
    assert (book.entries[0].supply, book.entries[0].cylinder) == ("bed", "D")


def test_a_gauge_above_filling_or_scale_is_told() -> None:
    text = refused_log("time: 10 min, cylinder: A, gauge: 300 bar")
    assert "gauge_above_filling  gauge `300 bar` on cylinder `A`" in text
    assert "gauge_above_scale  gauge `300 bar` on cylinder `A`" in text


def test_a_time_after_the_end_is_told_with_its_line() -> None:
    text = refused_log("time: 30 min, cylinder: A, gauge: 1400 psi", "time: 75 min, cylinder: A, gauge: 800 psi")
    assert text == (
        "readings.yaml:4:5  time_after_end  a reading at 75 min, where the trip ends at 60 min; allowed: readings up "
        "to the end of the trip, and the last gauges under `closed`. Fix: check the time; if the trip took longer, "
        "write in which leg it was read, as in `leg: 2`, or when the patient came off, as `ended:` under `closed`."
    )
    logged("time: 75 min, cylinder: A, gauge: 800 psi, leg: 2")


def test_a_trip_that_ended_late_takes_readings_until_then() -> None:
    book = read(
        "log:\n  - {time: 75 min, cylinder: A, gauge: 800 psi}\n"
        "closed: {ended: 80 min, last: [{cylinder: A, gauge: 790 psi}]}\n"
    )
    assert book.closing is not None
    assert (book.closing.minute, book.closing.ended_min) == (80.0, 80.0)


def test_legs_out_of_order_and_unknown_ones_are_told() -> None:
    text = refused_log(
        "time: 10 min, cylinder: A, gauge: 1800 psi, leg: To the scanner",
        "time: 20 min, cylinder: A, gauge: 1700 psi, leg: 1",
    )
    assert "readings.yaml:4:55  legs_out_of_order  leg `1` after a reading in leg 2" in text
    assert "leg_unknown  leg `9`" in refused_log("time: 10 min, leg: 9")
    assert "key_missing  reading without `leg`" in refused_log("time: 10 min, cylinder: A, gauge: 1800 psi, at: start")
    assert "add `gauge:` with what it reads, in a form such as 1150 psi" in refused_log("time: 10 min, cylinder: A")


def test_every_problem_is_told_at_once() -> None:
    text = refused(
        "trip: T-9\nlog:\n  - {time: 10 min, cylinder: A, guage: 1500 psi}\n"
        "  - {time: 20 min, cylinder: A, gauge: 1400}\n"
        "  - {cylinder: A, gauge: 1300 psi}\n  - {time: 30 min}\n"
    )
    codes = [line.split("  ")[1] for line in text.splitlines()]
    assert codes == ["other_trip", "key_unknown", "unit_missing", "key_missing", "key_missing"]


def test_a_file_of_readings_says_its_format() -> None:
    with pytest.raises(ProblemsError, match="format_unknown  readings format 2"):
        parse_readings("readings: 2\nlog: []\n", made())
    with pytest.raises(ProblemsError, match="key_missing  readings file without `readings`"):
        parse_readings("trip: T-1\n", made())
    with pytest.raises(ProblemsError, match="key_missing  readings file without `log`"):
        parse_readings("readings: 1\n", made())


# What is read


def test_an_entry_with_everything() -> None:
    book = read(
        "trip: T-1\nfingerprint: 1a2b\ngauge_read_to: 25 psi\nlog:\n"
        "  - time: 18 min\n    supply: cart\n    cylinder: A\n    gauge: 1500 psi\n    temperature: 15 degC\n"
        "    flow: 6 L/min\n    settings: {vent: {fio2: 60 %, minute_volume: 8 L/min}}\n    leg: 1\n    at: end\n"
        "    change_to: B\n    note: on the stretcher\n"
    )
    entry = book.entries[0]
    assert entry.gauge_kpa == pytest.approx(1500 * KPA_PER_PSI)
    assert entry.read_to_kpa == pytest.approx(25 * KPA_PER_PSI)
    assert (entry.temperature_degc, entry.flow_l_per_min) == (15.0, 6.0)
    assert (entry.leg, entry.at, entry.change_to, entry.note) == (0, "end", "B", "on the stretcher")
    # A minute volume takes the place of tidal volume and rate, as in a `use` of a profile.
    assert dict(entry.settings[0].values) == {
        "minute_volume_l_per_min": 8.0,
        "fio2": 0.6,
        "tidal_volume_l": None,
        "rate_per_min": None,
    }
    assert (book.trip, book.fingerprint) == ("T-1", "1a2b")


def test_settings_are_read_as_in_a_profile() -> None:
    text = refused_log("time: 10 min, settings: {vent: {fio2: 60, flow: 2 L/min}, bag: {flow: 2 L/min}}")
    assert "unit_missing  fio2 `60`" in text
    assert "not_of_this_type  flow on a ventilator" in text
    assert "device_unknown  device `bag`" in text
    assert "key_unknown  unknown setting `fio`" in refused_log("time: 10 min, settings: {vent: {fio: 60 %}}")


def test_half_a_division_is_taken_unless_it_is_said_how_closely_a_gauge_was_read() -> None:
    book = logged("time: 10 min, cylinder: A, gauge: 1800 psi", "time: 20 min, cylinder: A, gauge: 110 bar")
    # Half of 100 psi and half of 10 bar; common practice, no source.
    assert [entry.read_to_kpa for entry in book.entries] == pytest.approx([50 * KPA_PER_PSI, 500.0])


def test_shut_and_bled_once_for_all_or_for_each() -> None:
    book = read(
        "closed:\n  time: 00:50\n  shut_and_bled: true\n  last:\n    - {cylinder: A, gauge: 700 psi}\n"
        "    - {supply: cart, cylinder: B, gauge: 2000 psi, shut_and_bled: false}\n"
    )
    assert book.closing is not None
    assert [each.shut_and_bled for each in book.closing.last] == [True, False]
    assert book.closing.minute == 70.0
    assert "named_twice" in refused(
        "closed:\n  last:\n    - {cylinder: A, gauge: 700 psi}\n    - {cylinder: A, gauge: 600 psi}\n"
    )
    assert "times_out_of_order" in refused(
        "log:\n  - {time: 50 min, cylinder: A, gauge: 900 psi}\nclosed: {time: 40 min}\n"
    )


# Tables


def table(tmp_path: Path, text: str, name: str = "log.csv") -> Logbook:
    """The logbook of a table."""
    path = tmp_path / name
    path.write_bytes(text.encode())
    return read_readings(path, made())


def test_a_table_says_the_same_as_a_file(tmp_path: Path) -> None:
    book = table(
        tmp_path,
        "\ufefftime;supply;cylinder;gauge;flow;note;vent.fio2;last;shut_and_bled\r\n"
        '10 min;;A;1800 psi;6 L/min;"said ""fine""; warm";60 %;;\r\n'
        ";;;;;;;;\r\n"
        "20 min;cart;B;2000 psi;;;;false;\r\n"
        "70 min;cart;B;1500 psi;;;;true;true\r\n",
    )
    same = read(
        "log:\n  - {time: 10 min, cylinder: A, gauge: 1800 psi, flow: 6 L/min, note: 'said \"fine\"; warm',\n"
        "     settings: {vent: {fio2: 60 %}}}\n  - {time: 20 min, supply: cart, cylinder: B, gauge: 2000 psi}\n"
        "closed:\n  time: 70 min\n  last: [{supply: cart, cylinder: B, gauge: 1500 psi, shut_and_bled: true}]\n"
    )

    def plain(one: Logbook) -> list[object]:
        closing = one.closing
        assert closing is not None
        kept = ("minute", "supply", "cylinder", "gauge_kpa", "flow_l_per_min", "note", "settings")
        rows = [[getattr(entry, key) for key in kept] for entry in one.entries]
        return [*rows, closing.minute, [(each.cylinder, each.gauge_kpa, each.shut_and_bled) for each in closing.last]]

    assert plain(book) == plain(same)


@pytest.mark.parametrize("parted_by", [",", ";", "\t"])
def test_columns_may_be_parted_in_three_ways(tmp_path: Path, parted_by: str) -> None:
    text = "time,cylinder,gauge\n10 min,A,1800 psi\n".replace(",", parted_by)
    assert table(tmp_path, text, "log.tsv").entries[0].minute == 10.0


def test_problems_of_a_table_have_row_and_column(tmp_path: Path) -> None:
    with pytest.raises(ProblemsError) as caught:
        table(tmp_path, 'time,cylinder,gauge,gage\n10 min,A,1800\n20 min,"A",1700 psi,x\n')
    lines = [line.partition("log.csv")[2] for line in str(caught.value).splitlines()]
    assert lines[0].startswith(":1:21  key_unknown  unknown key `gage`")
    assert lines[1].startswith(":2:10  unit_missing  gauge `1800` without a unit")
    for text, code in (
        ("", "empty"),
        ("cylinder,gauge\nA,1800 psi\n", "no_head"),
        ("time,time\n1 min,2 min\n", "column_twice"),
        ('time,note\n1 min,"open\n', "bad_quotes"),
        ("time,note\n1 min,a,b\n", "too_many_cells"),
        ("time,last\n1 min,yes\n", "not_allowed"),
        ("time,cylinder\n", "key_missing"),
        ("time,note\n" + "1 min,a\n" * 2000, "2001:1  too_many_rows  too many rows; allowed: at most 2000"),
    ):
        with pytest.raises(ProblemsError, match=code):
            table(tmp_path, text)


def test_a_file_that_is_not_there_is_told(tmp_path: Path) -> None:
    for name in ("gone.yaml", "gone.csv"):
        with pytest.raises(
            ProblemsError, match=r"no_such_file  no file of this name; allowed: a file of readings: YAML"
        ):
            read_readings(tmp_path / name, made())
    with pytest.raises(ProblemsError, match=r"not_readable  a file that cannot be read \(no such file or directory\)"):
        read_readings(tmp_path / "gone.pdf", made())
    (tmp_path / "form.yaml").write_bytes(b"%PDF-1.4")
    with pytest.raises(ProblemsError, match=r"Fix: give it an ending that says what it is: \.pdf, \.csv or \.yaml"):
        read_readings(tmp_path / "form.yaml", made())


# The filled-in form


def filled(tmp_path: Path, values: dict[str, str], plan_: Plan) -> Path:
    """The pack of a plan as a form, filled in and saved as a reader of PDF does it."""
    from pypdf import PdfReader, PdfWriter
    from pypdf.generic import NameObject

    from planner.pages.pack import pack_bytes

    path = tmp_path / "pack.pdf"
    path.write_bytes(pack_bytes(plan_, issued=datetime(2026, 12, 3, 23, 0), fillable=True))
    writer = PdfWriter(clone_from=PdfReader(path))
    known = PdfReader(path).get_fields() or {}
    assert set(values) <= set(known), sorted(set(values) - set(known))
    for page in writer.pages:
        writer.update_page_form_field_values(page, dict(values), auto_regenerate=False)
    for name in ("return.shut", "return.bleed"):
        if values.get(name):
            for page in writer.pages:
                for annotation in page.get("/Annots", []):
                    field = annotation.get_object()
                    if field.get("/T") == name.rpartition(".")[2] and field["/Parent"].get_object()["/T"] == "return":
                        field[NameObject("/V")] = NameObject("/Yes")
    done = tmp_path / "filled.pdf"
    writer.write(done)
    return done


def test_the_form_of_the_pack_is_read_back(tmp_path: Path) -> None:
    made_ = made()
    values = {
        "log.cart.A.1.gauge": "1900",
        "log.cart.A.2.gauge": "1350",
        "log.cart.A.2.time": "00:15",
        "log.cart.A.2.flow": "6",
        "log.free.1.cylinder": "A",
        "log.free.1.gauge": "1700 psi",
        "log.free.1.time": "23:52",
    }
    rows = [row.key for part in log(made_) for row in part.rows]
    end = [row.key for part in log(made_) for row in part.rows if row.what.startswith("after return")]
    assert {"cart.A.1", "cart.A.2", "free.1"} <= set(rows)
    assert len(end) == 1
    values |= {
        f"log.{end[0]}.gauge": "800",
        f"log.{end[0]}.time": "00:45",
        "return.shut": "/Yes",
        "return.bleed": "/Yes",
    }
    book = read_readings(filled(tmp_path, values, made_), made_)
    assert [(entry.minute, entry.cylinder, round((entry.gauge_kpa or 0) / KPA_PER_PSI)) for entry in book.entries] == [
        (0.0, "A", 1900),
        (12.0, "A", 1700),
        (35.0, "A", 1350),
    ]
    arrived = book.entries[2]
    # The second reading of A is that on arriving in the first leg: it took 35 min, not 30.
    assert (arrived.leg, arrived.at, arrived.flow_l_per_min) == (0, "end", 6.0)
    assert book.closing is not None
    assert [(each.cylinder, each.shut_and_bled) for each in book.closing.last] == [("A", True)]
    assert book.closing.minute == 65.0


def test_a_reading_inside_a_long_leg_is_read_back_from_the_form(tmp_path: Path) -> None:
    """The second leg takes 60 min, from 30 to 90: one reading between, at 60 min."""
    made_ = made(TRIP.replace("To the scanner, duration: 30 min", "To the scanner, duration: 60 min"))
    values = {
        "log.between.2.1.cart.gauge": "650",
        "log.between.2.1.cart.time": "00:45",
        "log.between.2.1.cart.flow": "6",
    }
    (entry,) = read_readings(filled(tmp_path, values, made_), made_).entries
    assert (entry.minute, entry.supply, entry.cylinder, entry.flow_l_per_min) == (65.0, "cart", "A", 6.0)
    assert round((entry.gauge_kpa or 0.0) / KPA_PER_PSI) == 650
    # It tells that the second leg was under way, and neither that it began nor that it ended.
    assert (entry.leg, entry.at) == (1, None)


def test_a_gauge_that_was_typed_on_the_card_is_that_of_the_log(tmp_path: Path) -> None:
    made_ = made()
    values = {"log.cart.A.2.gauge": "1350", "log.cart.A.2.time": "30 min"}
    front = [row for row in card(made_).front.legs if row.number == 1]
    assert (front[0].field, front[0].time_field) == tuple(values)
    book = read_readings(filled(tmp_path, values, made_), made_)
    assert [(entry.minute, round((entry.gauge_kpa or 0.0) / KPA_PER_PSI)) for entry in book.entries] == [(30.0, 1350)]


def test_problems_of_the_form_name_their_field(tmp_path: Path) -> None:
    made_ = made()
    path = filled(tmp_path, {"log.cart.A.2.gauge": "13oo", "log.cart.A.2.time": "0015"}, made_)
    with pytest.raises(ProblemsError) as caught:
        read_readings(path, made_)
    text = str(caught.value)
    assert "filled.pdf (log.cart.A.2.gauge):1:1  unit_unknown  gauge `13oo" in text
    assert "filled.pdf (log.cart.A.2.time):1:1  " in text
    assert "Fix: write 00:15 if a clock time is meant; else" in text


LONG = """\
profile: 1
trip: Ward to scanner
setting: in_house
departs: 2026-12-03 23:40
supplies:
  cart:
    cylinders: [{label: A, size: US-E, gauge: 1900 psi}, {label: B, size: US-E, gauge: 2000 psi}]
devices:
  mask: {type: simple_mask, flow: 6 L/min}
legs:
  - {name: To the lift, duration: 90 min, supply: cart, devices: [mask]}
"""
"""By hand: A gives 0.28 x 1400 = 392 L, which last 65 min; then B goes on."""


def typed(plan_: Plan, **boxes: str) -> Logbook:
    """The logbook of a form with these boxes filled in; `__` stands for a stop in their names."""
    values = {f"log.{name.replace('__', '.')}": text for name, text in boxes.items()}
    return logbook(form_tree(Filled("form.pdf", values, plan_)), "form.pdf", plan_)


def form_refused(plan_: Plan, **boxes: str) -> list[str]:
    with pytest.raises(ProblemsError) as caught:
        typed(plan_, **boxes)
    return [str(problem) for problem in caught.value.problems]


def test_the_time_of_a_change_holds_for_both_gauges_and_is_asked_for_once_by_the_box_that_there_is() -> None:
    made_ = made(LONG)
    off = next(row for part in log(made_) for row in part.rows if row.what == "change: comes off")
    assert off.key == "cart.A.2"
    both = {"cart__A__2__gauge": "520", "cart__B__2__gauge": "2000"}
    assert [(entry.minute, entry.cylinder) for entry in typed(made_, **both, cart__B__2__time="00:44").entries] == [
        (64.0, "A"),
        (64.0, "B"),
    ]
    own = typed(made_, **both, cart__A__2__time="00:43", cart__B__2__time="00:44").entries
    assert [(entry.minute, entry.cylinder) for entry in own] == [(63.0, "A"), (64.0, "B")]
    (told,) = form_refused(made_, **both)
    assert told.startswith("form.pdf (log.cart.B.2.time):1:1  value_missing  ")
    (told,) = form_refused(made_, cart__B__3__gauge="1400")
    assert told.startswith("form.pdf (log.cart.B.3.time):1:1  value_missing  ")


@pytest.mark.hazard(4)
@pytest.mark.parametrize(
    ("unit", "text", "said"),
    [
        ("psi", "131", "131 bar is 1900 psi"),  # 131 x 14.504 = 1900
        ("psi", "110", "110 bar is 1600 psi"),  # 110 x 14.504 = 1595.4, as a gauge of psi is read
        ("psi", "13.1", "13.1 MPa is 1900 psi"),
        ("bar", "13.1", "13.1 MPa is 131 bar"),
        ("kPa", "1900", "1900 psi is 13100 kPa"),  # 1900 x 6.8948
        ("kPa", "131", "131 bar is 13100 kPa"),
    ],
)
def test_a_gauge_that_fits_the_plan_in_another_unit_alone_is_asked_for_with_its_unit(
    unit: str, text: str, said: str
) -> None:
    """The departure reading is 1900 psi; 500 psi, to which A is planned to fall, are the lowest that is foreseen."""
    made_ = made(LONG.replace("departs:", f"policy: {{pressure_unit: {unit}}}\ndeparts:"))
    boxes = {"cart__A__2__gauge": text, "cart__A__2__time": "00:10"}
    (told,) = form_refused(made_, **boxes)
    assert told.startswith("form.pdf (log.cart.A.2.gauge):1:1  unit_in_doubt  ")
    assert said in told
    assert f"Fix: write {said.split(' is ', maxsplit=1)[0]} or {text} {unit}, as the gauge says." in told
    # With its unit it is taken as it stands, whichever it is.
    for one in (said.split(" is ", maxsplit=1)[0], f"{text} {unit}"):
        assert typed(made_, **{**boxes, "cart__A__2__gauge": one}).entries[0].gauge_text == one
    free = {"free__1__cylinder": "A", "free__1__gauge": text, "free__1__time": "00:10"}
    assert form_refused(made_, **free)[0].startswith("form.pdf (log.free.1.gauge):1:1  unit_in_doubt  ")


@pytest.mark.hazard(4)
def test_a_gauge_written_with_its_unit_that_fits_the_plan_in_another_alone_is_told_before_all_else() -> None:
    """A file of readings has units: the reading counts as it is written, and the first step is to read it again."""
    rows = ("{time: 0 min, cylinder: A, gauge: 131 psi}", "{time: 30 min, cylinder: A, gauge: 110 psi}")
    text, plan_ = f"readings: 1\nlog: [{', '.join(rows)}]\n", made(LONG)
    found = compare(plan_, parse_readings(text, plan_))
    first, second, *_ = steps(found)
    assert first == (
        "cart A: 110 psi was written, and 110 bar is 1600 psi, as planned. Read it again NOW, with its unit. "
        "Until then it counts as 110 psi."
    )
    assert "Look at the patient" in second
    assert found.findings[0].code == "unit_in_doubt"
    assert compare_text(found).count("110 bar") == 1
    capitals = parse_readings(text.replace("110 psi", "110 PSIG"), plan_)  # 110 bar is 1595 psi
    assert steps(compare(plan_, capitals))[0].startswith("cart A: 110 PSIG was written, and 110 bar is 1600 psi,")
    usual = parse_readings(text.replace("131", "1900").replace("110", "1600"), plan_)
    assert not any("Read it again" in step for step in steps(compare(plan_, usual)))


@pytest.mark.hazard(4)
@pytest.mark.parametrize("text", ["1300", "520", "300", "0", "25", "60", "160"])
def test_a_gauge_that_fits_in_no_other_unit_is_taken_as_it_stands(text: str) -> None:
    """60 bar would be 870 psi and 160 bar 2321; 25 bar 363. Of these only 60 may be bar: 450 to 1938 psi fit."""
    boxes = {"cart__A__2__gauge": text, "cart__A__2__time": "00:10"}
    if text == "60":
        assert "60 bar is 870 psi" in form_refused(made(LONG), **boxes)[0]
    else:
        assert typed(made(LONG), **boxes).entries[0].gauge_text == f"{text} psi"


def test_an_empty_form_and_other_pdf_files_are_refused(tmp_path: Path) -> None:
    made_ = made()
    with pytest.raises(ProblemsError, match="nothing_filled_in"):
        read_readings(filled(tmp_path, {}, made_), made_)
    other = tmp_path / "other.pdf"
    other.write_bytes(b"%PDF-1.4 and no more")
    with pytest.raises(ProblemsError, match=r"not_a_pdf|not_this_form"):
        read_readings(other, made_)


def test_a_box_that_the_plan_does_not_have_is_told(tmp_path: Path) -> None:
    """A form whose pages say that they are of this very plan, with a box of another cylinder put into it."""
    from pypdf import PdfReader, PdfWriter
    from pypdf.generic import NameObject, TextStringObject

    path = filled(tmp_path, {"log.cart.A.1.gauge": "1900"}, made())
    writer = PdfWriter(clone_from=PdfReader(path))
    (cart,) = (kid for kid in writer._root_object["/AcroForm"]["/Fields"] if kid.get_object()["/T"] == "log")  # type: ignore[index]
    for supply in cart.get_object()["/Kids"]:
        for cylinder in supply.get_object().get("/Kids", []):
            if cylinder.get_object().get("/T") == "A":
                cylinder.get_object()[NameObject("/T")] = TextStringObject("Q")
    writer.write(path)
    with pytest.raises(ProblemsError, match=r"not_this_form  something in log\.cart\.Q\.1\.gauge"):
        read_readings(path, made())


def test_a_cylinder_may_be_read_without_being_in_use() -> None:
    """`in_use: false` beside a reading means just that; anything else leaves the cylinder that is read in use."""
    book = logged(
        "time: 10 min, cylinder: A, gauge: 1800 psi",
        "time: 10 min, cylinder: B, gauge: 2000 psi, in_use: false",
        "time: 20 min, cylinder: A, gauge: 1600 psi, in_use: true",
    )
    assert [(entry.cylinder, entry.in_use) for entry in book.entries] == [("A", True), ("B", False), ("A", True)]
    found = gauged(made(), book)["cart"]
    assert [turn.label for turn in found.in_use] == ["A"]
    other = logged("time: 10 min, cylinder: A, gauge: 1800 psi", "time: 20 min, cylinder: B, gauge: 1950 psi")
    assert [turn.label for turn in gauged(made(), other)["cart"].in_use] == ["A", "B"]


def test_the_temperature_of_a_cylinder_holds_until_the_log_gives_another() -> None:
    """It stood at -20 degC before departure and stands there still: the same gauge is the same gas, and no leak."""
    cold = TRIP.replace("gauge: 2000 psi}\n  bed", "gauge: 2000 psi, temperature: -20 degC}\n  bed")
    assert cold != TRIP
    book = logged("time: 20 min, cylinder: B, gauge: 2000 psi, in_use: false", trip=cold)
    found = gauged(made(cold), book)["cart"].readings["B"]
    assert [reading.temperature_degc for reading in found] == [-20.0, -20.0]
    warmer = logged("time: 20 min, cylinder: B, gauge: 2000 psi, in_use: false, temperature: 15 degC", trip=cold)
    assert [reading.temperature_degc for reading in gauged(made(cold), warmer)["cart"].readings["B"]] == [-20.0, 15.0]
