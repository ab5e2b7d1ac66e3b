"""Whose readings a form, a table or a file holds: another trip is refused, an older print goes with its own plan."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any, Literal

import pytest
from click.testing import CliRunner, Result
from pypdf import PdfReader, PdfWriter
from pypdf.generic import NameObject, TextStringObject

from planner.afterwards.compare import compare
from planner.command.cli import main
from planner.pages.pack import pack_bytes
from planner.planning import plan
from planner.problems import ProblemsError
from planner.profile.read import parse_trip, read_trip
from planner.readings.read import onward_trip, parse_readings, read_readings
from planner.report.compare.compare import compare_text
from planner.results import Plan
from planner.store.noted import Note, note_all, with_why

pytestmark = pytest.mark.usefixtures("read_here")

STORE = """\
cylinders:
  - {label: E-01, size: US-E, gauge: 1900 psi, checked: 2026-12-03 08:00}
  - {label: E-02, size: US-E, gauge: 2000 psi, checked: 2026-12-03 08:00}
"""
TRIP = """\
profile: 1
trip: Ward to scanner
reference: T-1
setting: in_house
departs: 2026-12-03 14:00
timezone: Europe/Oslo
supplies:
  cart: {store: room.yaml}
devices:
  mask: {type: simple_mask, flow: 6 L/min}
legs:
  - {name: To the scanner, duration: 20 min, supply: cart, devices: [mask]}
"""
ISSUED = datetime(2026, 12, 3, 13, 0)
READ = {"log.cart.E-01.1.gauge": "1900", "log.cart.E-01.2.gauge": "1700", "log.cart.E-01.2.time": "20 min"}


def laid(folder: Path, trip: str = TRIP, store: str = STORE) -> Path:
    """A profile with its store in a folder."""
    (folder / "room.yaml").write_text(store, encoding="utf-8")
    (folder / "trip.yaml").write_text(trip, encoding="utf-8")
    return folder / "trip.yaml"


def printed(planned: Plan, pages: Literal["crew", "all"] = "crew") -> PdfWriter:
    """The form of a plan, to be filled in."""
    from io import BytesIO

    data = pack_bytes(planned, issued=ISSUED, fillable=True, pages=pages)
    return PdfWriter(clone_from=PdfReader(BytesIO(data)))


def typed(form: PdfWriter, path: Path, values: dict[str, str] | None = None) -> Path:
    """The form with readings typed in, saved."""
    for page in form.pages:
        form.update_page_form_field_values(page, dict(READ if values is None else values), auto_regenerate=False)
    form.write(path)
    return path


def hidden(form: PdfWriter, name: str, value: str, pages: Callable[[int], bool] = lambda _: True) -> None:
    """Another value in a hidden field, on some pages."""
    for number, page in enumerate(form.pages):
        for reference in page["/Annots"]:  # type: ignore[attr-defined]
            widget: Any = reference.get_object()
            field = widget.get("/Parent", widget).get_object()
            if field.get("/T") == name and field["/Parent"].get_object()["/T"] == "plan" and pages(number):
                widget[NameObject("/V")] = TextStringObject(value)


def held(*texts: list[object], steps: Sequence[str] = ()) -> str:
    """What is attached to a form that was planned from some texts."""
    return json.dumps({"format": 1, "texts": texts, "changes": [], "steps": steps})


def refused(path: Path, planned: Plan) -> str:
    """What is said of a file that is refused, in one line."""
    with pytest.raises(ProblemsError) as caught:
        read_readings(path, planned)
    (problem,) = caught.value.problems
    return str(problem)


@pytest.mark.hazard(37)
def test_a_form_of_another_trip_is_refused_and_closes_nothing(tmp_path: Path) -> None:
    """Both trips have a cylinder E-01 on a cart, so that every box of the one is a box of the other."""
    other = plan(read_trip(laid(tmp_path, TRIP.replace("T-1", "T-2"))))
    values = READ | {"log.cart.E-01.3.gauge": "1700"}
    form = typed(printed(other), tmp_path / "form.pdf", values)
    trip = laid(tmp_path)
    told = refused(form, plan(read_trip(trip)))
    number = other.trip.fingerprint[:12]
    assert told == (
        f"{form}:1:1  other_trip  a form of `T-2` (card {number}), held against `T-1`; allowed: `T-1`, `Ward to "
        "scanner`. Fix: give the profile of that trip, or the form of this one."
    )
    ran = CliRunner().invoke(main, ["compare", str(trip), str(form), "--close"])
    assert ran.exit_code == 1
    assert (tmp_path / "room.yaml").read_text(encoding="utf-8") == STORE
    assert not (tmp_path / "room.yaml.before").exists()


@pytest.mark.hazard(37)
def test_an_older_print_is_compared_with_the_plan_that_it_was_printed_from(tmp_path: Path) -> None:
    """Printed with 6 L/min and 1900 psi in E-01; then the flow, and what is in the store, were changed.

    20 min x 6 L/min = 120 L were planned, and are 60 L now.
    """
    older = plan(read_trip(laid(tmp_path)))
    form = typed(printed(older), tmp_path / "form.pdf")
    now = plan(read_trip(laid(tmp_path, TRIP.replace("6 L/min", "3 L/min"), STORE.replace("1900", "600"))))
    log = read_readings(form, now)
    assert log.printed_from is not None
    assert log.printed_from.trip == older.trip._replace(file=log.printed_from.trip.file)
    found = compare(now, log)
    assert found.plan.trip.fingerprint == older.trip.fingerprint
    assert [stretch.planned_l for stretch in found.stretches] == [120.0]
    text = " ".join(compare_text(found).split())
    was, is_ = older.trip.fingerprint[:12], now.trip.fingerprint[:12]
    assert was != is_
    assert f"The form is of an older print: card {was}, and the profile is now card {is_}." in text


def test_what_the_older_print_chose_from_is_the_store_as_it_was(tmp_path: Path) -> None:
    """E-01 was taken; since then it is empty, and a plan of now takes E-02."""
    form = typed(printed(plan(read_trip(laid(tmp_path)))), tmp_path / "form.pdf")
    now = plan(read_trip(laid(tmp_path, store=STORE.replace("1900 psi", "300 psi"))))
    assert [one.cylinder.label for one in now.supplies["cart"].cylinders] == ["E-02"]
    found = compare(now, read_readings(form, now))
    assert [one.cylinder.label for one in found.plan.supplies["cart"].cylinders] == ["E-01"]
    assert found.plan.trip.supplies["cart"].store_file == str(tmp_path / "room.yaml")


def test_values_set_at_the_bedside_are_part_of_the_older_print(tmp_path: Path) -> None:
    older = plan(read_trip(laid(tmp_path), ["devices.mask.flow=5 L/min"]))
    form = typed(printed(older), tmp_path / "form.pdf")
    log = read_readings(form, plan(read_trip(tmp_path / "trip.yaml")))
    assert log.printed_from is not None
    assert log.printed_from.trip.devices["mask"].flow_l_per_min == 5.0
    assert log.printed_from.trip.changes == ("devices.mask.flow=5 L/min",)


def test_the_print_of_now_needs_no_word(tmp_path: Path) -> None:
    planned = plan(read_trip(laid(tmp_path)))
    log = read_readings(typed(printed(planned), tmp_path / "form.pdf"), planned)
    assert (log.printed_from, log.asked) == (None, None)
    assert "older print" not in compare_text(compare(planned, log))


@pytest.mark.parametrize("day", ["2026-12-04 14:00", "2026-12-02 14:00"])
def test_a_trip_without_a_reference_is_another_one_on_another_day(tmp_path: Path, day: str) -> None:
    without = TRIP.replace("reference: T-1\n", "")
    form = typed(printed(plan(read_trip(laid(tmp_path, without)))), tmp_path / "form.pdf")
    other = plan(read_trip(laid(tmp_path, without.replace("2026-12-03 14:00", day))))
    assert f"other_trip  a form of the trip that departed 2026-12-03 14:00; allowed: the one that departs {day}" in (
        refused(form, other)
    )
    later = plan(read_trip(laid(tmp_path, without.replace("14:00", "16:30"))))
    assert read_readings(form, later).printed_from is not None


@pytest.mark.hazard(37)
def test_pages_of_two_prints_are_no_form(tmp_path: Path) -> None:
    planned = plan(read_trip(laid(tmp_path)))
    form = printed(planned)
    hidden(form, "fingerprint", "f" * 64, lambda page: page == 1)
    number = planned.trip.fingerprint[:12]
    assert (
        f"two_prints  pages of more than one print: card {number} of `T-1`, revision 1 and card ffffffffffff of `T-1`, "
        "revision 1; allowed: the pages of one."
    ) in refused(typed(form, tmp_path / "form.pdf"), planned)


def test_a_page_that_does_not_say_whose_it_is_goes_with_no_other(tmp_path: Path) -> None:
    planned = plan(read_trip(laid(tmp_path)))
    for pages, told in (
        (lambda page: page == 1, "two_prints  pages of more than one print: card "),
        (lambda _: True, "not_this_form  a form that does not say of which trip it is"),
    ):
        form = printed(planned)
        hidden(form, "revision", "none", pages)
        assert told in refused(typed(form, tmp_path / "form.pdf"), planned)


def test_one_reading_is_one_value_wherever_it_was_typed(tmp_path: Path) -> None:
    """Some readers keep what is typed with each box, and not with the field: two that differ are no reading."""
    planned = plan(read_trip(laid(tmp_path)))
    form = printed(planned, "all")
    typed(form, tmp_path / "first.pdf")
    boxes = [
        reference.get_object()
        for page in form.pages
        for reference in page["/Annots"]  # type: ignore[attr-defined]
        if "/Parent" in reference.get_object() and reference.get_object()["/Parent"].get("/T") == "gauge"
    ]
    two = [box for box in boxes if box["/Parent"].get("/V") == "1700"]
    assert len(two) >= 2
    for box, value in zip(two, ("1700", "1300"), strict=False):
        box[NameObject("/V")] = TextStringObject(value)
    form.write(tmp_path / "form.pdf")
    assert "two_values  two values in the boxes of log.cart.E-01.2.gauge; allowed: one reading in all of them." in (
        refused(tmp_path / "form.pdf", planned)
    )


@pytest.mark.parametrize(
    ("attached", "told"),
    [
        (None, "the form does not hold what it was planned from"),
        ("no json", "the form does not hold what it was planned from"),
        ('{"format": 9}', "the form does not hold what it was planned from"),
        (
            '{"format": 1, "texts": [["trip.yaml", 5]], "changes": [], "steps": []}',
            "does not hold what it was planned from",
        ),
        ('{"format": 1, "texts": [["trip.yaml", "profile: 1"]], "changes": [], "steps": []}', "can no longer be read"),
        (
            json.dumps({"format": 1, "texts": [["trip.yaml", TRIP]], "changes": [], "steps": []}),
            "can no longer be read (store file",
        ),
        (
            json.dumps(
                {"format": 1, "texts": [["t", TRIP], ["room.yaml", STORE + "# more\n"]], "changes": [], "steps": []}
            ),
            "what it holds is not what it was planned from",
        ),
        (" " * 1_000_001, "the form does not hold what it was planned from"),
    ],
)
def test_an_older_print_without_its_plan_is_refused(tmp_path: Path, attached: str | None, told: str) -> None:
    form = printed(plan(read_trip(laid(tmp_path))))
    del form._root_object[NameObject("/Names")]
    if attached is not None:
        form.add_attachment("planned-from.json", attached.encode())
    path = typed(form, tmp_path / "form.pdf")
    said = refused(path, plan(read_trip(laid(tmp_path, TRIP + "# changed\n"))))
    assert "older_print" in said
    assert told in said
    assert "Fix: give the profile as it was when the form was printed" in said


# Files and tables


@pytest.mark.hazard(37)
def test_readings_of_another_revision_are_refused() -> None:
    planned = plan(
        parse_trip(TRIP.replace("{store: room.yaml}", "{cylinders: [{label: A, size: US-E, gauge: 2000 psi}]}"))
    )
    log = "log: [{time: 10 min, cylinder: A, gauge: 1900 psi}]\n"
    assert parse_readings(f"readings: 1\nrevision: 1\n{log}", planned).entries
    with pytest.raises(ProblemsError) as caught:
        parse_readings(f"readings: 1\nrevision: 2\n{log}", planned)
    assert str(caught.value) == (
        "readings.yaml:2:11  other_revision  readings of revision `2`, held against revision 1; allowed: revision 1, "
        "with times since the first departure. Fix: give the filled-in form of that revision, which holds its plan, or "
        "write the readings of all cards into one log."
    )


def table(tmp_path: Path, *rows: str) -> Path:
    """A table of readings."""
    path = tmp_path / "readings.csv"
    path.write_text("\n".join(("trip,revision,fingerprint,time,cylinder,gauge", *rows)), encoding="utf-8")
    return path


@pytest.mark.hazard(37)
def test_a_table_says_whose_readings_it_holds(tmp_path: Path) -> None:
    planned = plan(read_trip(laid(tmp_path)))
    book = read_readings(table(tmp_path, "T-1,1,abcd,0 min,E-02,2000 psi", ",,,20 min,E-02,1800 psi"), planned)
    assert (book.trip, book.fingerprint, len(book.entries)) == ("T-1", "abcd", 2)
    assert "2:1  other_trip  readings of `T-2`, held against `T-1`" in (
        refused(table(tmp_path, "T-2,1,,0 min,E-02,2000 psi"), planned)
    )
    assert "2:5  other_revision  readings of revision `3`" in (
        refused(table(tmp_path, "T-1,3,,0 min,E-02,2000 psi"), planned)
    )


def test_a_table_holds_the_readings_of_one_trip(tmp_path: Path) -> None:
    planned = plan(read_trip(laid(tmp_path)))
    assert "3:1  other_trip  trip `T-2`, where line 2 has `T-1`; allowed: one trip in all rows." in (
        refused(table(tmp_path, "T-1,,,0 min,E-02,2000 psi", "T-2,,,20 min,E-02,1800 psi"), planned)
    )


def test_the_command_says_that_a_print_is_older(tmp_path: Path) -> None:
    form = typed(printed(plan(read_trip(laid(tmp_path)))), tmp_path / "form.pdf")
    trip = laid(tmp_path, TRIP + "# changed\n")
    ran: Result = CliRunner().invoke(main, ["compare", str(trip), str(form), "--format", "json"])
    codes = [each["code"] for each in json.loads(ran.stdout)["findings"]]
    assert "older_print" in codes


def test_a_form_tells_of_what_was_put_out_of_use_since_it_was_printed(tmp_path: Path) -> None:
    """The form holds the store as it was: E-01 goes on, as printed, and the store of now says that it leaks."""
    legs = TRIP.replace("legs:\n", "legs:\n  - {name: Down, duration: 10 min, supply: cart, devices: [mask]}\n")
    path = laid(tmp_path, trip=legs)
    form = typed(printed(plan(read_trip(path))), tmp_path / "form.pdf", READ)
    note_all(tmp_path / "room.yaml", [Note("out_of_use", "E-01", "valve leaks")], ISSUED)
    made = plan(with_why(read_trip(path)))
    rest = plan(onward_trip(form, made, at="20 min", leg=2, to_go_min=10.0))
    assert [one.cylinder.label for one in rest.supplies["cart"].cylinders] == ["E-01", "E-02"]
    said = [each.message for each in rest.findings if each.code == "out_of_use_on_board"]
    assert said == ["cart: E-01 is out of use by its store (valve leaks), and was taken along: it is counted here."]
