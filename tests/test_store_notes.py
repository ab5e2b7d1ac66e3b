"""What is noted of cylinders between trips: in the journal, then in the store, and told by `review --cylinder`."""

from __future__ import annotations

import json
from datetime import datetime
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from planner.command.cli import main
from planner.planning import plan
from planner.problems import ProblemsError
from planner.profile.read import parse_trip, read_trip
from planner.profile.store import read_store
from planner.store import journal
from planner.store.closing import LastReading, write_back
from planner.store.journal import ByTrip

STORE = """\
# An invented room.
cylinders:
  - {label: E-01, size: US-E, gauge: 700 psi, checked: 2026-12-03 08:00}   # by the door
  - {label: E-02, size: US-E, gauge: 2000 psi, checked: 2026-12-03 08:00}
  - {label: E-03, size: US-E, gauge: 2050 psi, checked: 2026-12-03 08:00}
"""
TRIP = """\
profile: 1
trip: Ward to scan
setting: in_house
departs: 2026-12-04 14:20
supplies: {cart: {store: store.yaml, places: 2}}
devices: {mask: {type: simple_mask, flow: 6 L/min}}
legs: [{name: There, duration: 30 min, supply: cart, devices: [mask]}]
"""
NIGHT = ByTrip("Night", None, datetime(2026, 12, 3, 20))


@pytest.fixture
def store(tmp_path: Path) -> Path:
    path = tmp_path / "store.yaml"
    path.write_text(STORE, encoding="utf-8")
    (tmp_path / "trip.yaml").write_text(TRIP, encoding="utf-8")
    return path


def run(store: Path, *noted: str, at: str = "2026-12-04 09:00") -> Result:
    now = {"SOURCE_DATE_EPOCH": "1796374800"}  # 2026-12-04 09:00 in UTC
    return CliRunner().invoke(main, ["store", str(store), *noted, "--at", at], env=now)


def told(store: Path, label: str) -> str:
    return " ".join(CliRunner().invoke(main, ["review", "--cylinder", label, str(store)]).stdout.split())


def taken(store: Path) -> list[str]:
    return [each.label for each in plan(read_trip(store.with_name("trip.yaml"))).trip.supplies["cart"].cylinders]


def test_who_refills_types_the_new_gauge_and_the_history_says_refilled(store: Path) -> None:
    said = run(store, "--refilled", "E-01=2000 psi")
    assert (said.exit_code, said.stdout) == (0, "NOTED. E-01 refilled: 700 psi to 2000 psi.\n")
    assert store.read_text(encoding="utf-8") == STORE.replace(
        "700 psi, checked: 2026-12-03 08:00", "2000 psi, checked: 2026-12-04 09:00"
    )
    assert "2026-12-04 09:00 refilled - 2000 psi -" in told(store, "E-01")
    line, written = journal.lines(store)
    assert (line["what"], written["what"], line["id"]) == ("refilled", "written", written["id"])
    assert "at" in line


def test_a_gauge_that_was_read_again_shows_a_leak_in_the_rack(store: Path) -> None:
    """2000 psi on one morning and 1800 on the next: 200 psi gone, more than the 100 that readings may differ by."""
    said = " ".join(run(store, "--read", "E-02=1800 psi").stdout.split())
    assert said.startswith(
        "NOTED. E-02 read: 2000 psi to 1800 psi. CAUTION: E-02 read 2000 psi before, and no trip was"
    )
    history = told(store, "E-02")
    assert "2026-12-04 09:00 read - 1800 psi 200 psi" in history
    assert "CAUTION: E-02 lost 200 psi in the rack" in history


@pytest.mark.hazard(38)
@pytest.mark.parametrize(
    ("noted", "why"),
    [
        (("--read", "E-01=2000 psi"), 'if it was refilled, give --refilled E-01="2000 psi"'),  # 1300 psi more
        (("--read", "E-09=2000 psi"), "no cylinder `E-09` in the store; allowed: E-01, E-02, E-03"),
        (("--refilled", "E-01=20000 psi"), "out of range"),
        (("--read", "E-01=20000 psi"), "out of range"),
        (("--refilled", "E-01=2000"), "2000"),
        (("--out-of-use", "E-09=bent"), "no cylinder `E-09`"),
    ],
)
def test_what_cannot_be_is_told_and_nothing_of_it_is_noted(store: Path, noted: tuple[str, str], why: str) -> None:
    said = run(store, "--out-of-use", "E-03=valve leaks", *noted)
    assert said.exit_code == 1
    assert why in said.stderr
    assert "nothing noted" in said.stderr
    assert store.read_text(encoding="utf-8") == STORE
    assert journal.lines(store) == []


def test_a_trip_that_lists_a_cylinder_out_of_use_is_refused() -> None:
    listed = TRIP.replace(
        "store: store.yaml, places: 2", "cylinders: [{label: A, size: US-E, gauge: 2000 psi, out_of_use: true}]"
    )
    with pytest.raises(ProblemsError, match="out_of_use  a cylinder out of use among those that the trip takes"):
        parse_trip(listed)


@pytest.mark.parametrize(
    ("cylinders", "why"),
    [
        ("[{label: A, size: US-E}]", "key_missing  cylinder `A` without `gauge`"),
        ("[{label: A, size: US-E, gauge: 900 psi}, {label: A, size: US-D, gauge: 900 psi}]", "label_twice"),
        ("[{label: A, size: US-E, gauge: nine}]", "nine"),
        ("3", "cylinders"),
    ],
)
def test_a_store_with_a_fault_is_told_with_its_place_before_anything_is_noted(
    store: Path, cylinders: str, why: str
) -> None:
    store.write_text(f"cylinders: {cylinders}\n", encoding="utf-8")
    said = run(store, "--read", "A=500 psi")
    assert said.exit_code == 1
    assert f"{store}:1:" in said.stderr
    assert why in said.stderr
    assert journal.lines(store) == []


def test_what_is_no_note_is_usage(store: Path) -> None:
    assert "nothing to note" in run(store).stderr
    assert "is not LABEL=VALUE" in run(store, "--read", "E-01").stderr
    assert "not_a_time" in run(store, "--read", "E-01=600 psi", at="noon").stderr


def test_a_reading_older_than_that_of_the_store_is_left(store: Path) -> None:
    said = run(store, "--read", "E-02=1900 psi", at="2026-12-03 07:00")
    assert said.exit_code == 1
    assert "NOT NOTED:" in said.stdout
    assert "has a later reading of E-02, 2000 psi: left." in " ".join(said.stdout.split())
    said = run(store, "--read", "E-02=-5 psi", at="2026-12-03 07:00")  # no gauge at all is told first
    assert (said.exit_code, "-5 psi" in said.stderr) == (1, True)
    assert store.read_text(encoding="utf-8") == STORE


@pytest.mark.hazard(38)
def test_no_trip_is_given_a_cylinder_that_is_out_of_use(store: Path) -> None:
    assert taken(store) == ["E-02"]
    said = " ".join(run(store, "--out-of-use", "E-02=valve leaks").stdout.split())
    assert said == "NOTED. E-02 is out of use (valve leaks): no trip is given it. Tag it, and keep it apart."
    assert taken(store) == ["E-03"]
    assert [each.label for each in read_store(store).in_use] == ["E-01", "E-03"]
    history = told(store, "E-02")
    assert "OUT OF USE valve leaks" in history
    assert history.endswith("E-02 is OUT OF USE: no trip is given it.")
    run(store, "--back-in-use", "E-02")
    assert taken(store) == ["E-02"]
    assert "back in use" in told(store, "E-02")
    assert "OUT OF USE:" not in told(store, "E-02")


def test_a_shift_neither_counts_nor_refills_what_is_out_of_use(store: Path) -> None:
    arguments = ["shift", str(store.with_name("trip.yaml")), "--store", str(store), "--format", "json"]
    before = json.loads(CliRunner().invoke(main, arguments).stdout)
    run(store, "--out-of-use", "E-01=valve leaks")
    after = json.loads(CliRunner().invoke(main, arguments).stdout)
    assert "E-01" in str(before["allotment"]["tomorrow"])
    assert "E-01" not in str(after["allotment"]["tomorrow"])


def test_what_was_changed_by_hand_is_told_as_such(store: Path) -> None:
    write_back(store, {"E-02": LastReading("900 psi", datetime(2026, 12, 3, 22), drawn="2000 psi")}, NIGHT)
    text = store.read_text(encoding="utf-8")
    store.write_text(text.replace("900 psi, checked: 2026-12-03 22:00", "2000 psi, checked: 2026-12-04 07:00"))
    assert "2026-12-04 07:00 changed by hand, FULLER - 2000 psi -" in told(store, "E-02")
    run(store, "--read", "E-02=1950 psi")
    history = told(store, "E-02")
    assert "changed by hand, FULLER - 2000 psi - 2026-12-04 09:00 read - 1950 psi 50 psi" in history
    assert "E-02 got fuller in the store without a line of the journal: refilled, or another cylinder" in history


@pytest.mark.hazard(38)
def test_a_correction_that_the_store_lacks_is_put_in_by_the_next_that_writes(store: Path) -> None:
    """Closed with 900, corrected to 400, and killed before the store had it: the store must not stay at 900."""
    for gauge in ("900 psi", "400 psi"):
        kept = store.read_bytes()
        write_back(store, {"E-02": LastReading(gauge, datetime(2026, 12, 3, 22))}, NIGHT)
    store.write_bytes(kept)
    path = journal.journal_path(store)
    path.write_bytes(b"".join(path.read_bytes().splitlines(keepends=True)[:-1]))
    run(store, "--read", "E-03=2000 psi")
    assert "label: E-02, size: US-E, gauge: 400 psi" in store.read_text(encoding="utf-8")


@pytest.mark.hazard(38)
@pytest.mark.parametrize("at", ["2026-12-04 09:01", "2027-12-04 09:00", "2026-12-04 09:30+00:00"])
def test_a_reading_of_a_time_that_has_not_come_is_refused(store: Path, at: str) -> None:
    """It would stand against every true reading until then: the plan would go by 1900 psi where 300 psi were read."""
    said = run(store, "--read", "E-02=1900 psi", at=at)
    assert said.exit_code == 1
    assert f"not_yet  {at}, which has not come yet; allowed: a time up to now, 2026-12-04 09:00" in said.stderr
    assert store.read_text(encoding="utf-8") == STORE
    assert run(store, "--read", "E-02=300 psi", at="2026-12-04 10:00+01:00").exit_code == 0


@pytest.mark.parametrize(
    "noted",
    [
        ("--out-of-use", "E-02=leaks", "--back-in-use", "E-02"),
        ("--read", "E-02=1900 psi", "--read", "E-02 =400 psi"),
        ("--read", "E-02=1900 psi", "--out-of-use", "E-02=leaks"),
    ],
)
def test_two_notes_of_one_cylinder_at_once_are_refused_whole(store: Path, noted: tuple[str, ...]) -> None:
    """The second one was called noted and written nowhere."""
    said = run(store, "--read", "E-03=2000 psi", *noted)
    assert said.exit_code == 2
    assert "more than one note of E-02:" in said.stderr
    assert store.read_text(encoding="utf-8") == STORE
    assert journal.lines(store) == []


@pytest.mark.parametrize(
    "line",
    [
        '{"what": "refilled", "id": "a"}',
        '{"what": "close", "id": "a", "cylinders": []}',
        '{"what": "close", "id": "a", "trip": "Night", "cylinders": []}',
        '{"what": "emptied", "id": "a", "cylinders": []}',
        '{"what": "read", "id": "a", "cylinders": [{"label": "E-02", "from": {}, "to": {"gauge": "1900 psi"}}]}',
        '{"what": "read", "id": "a", "cylinders": [], "at": "noon"}',
        '{"what": "undo", "id": "a", "cylinders": [{"label": "E-02"}]}',
        '{"what": "undo", "id": "a", "cylinders": 3}',
        '{"what": "undo", "id": "a", "trip": 3, "cylinders": []}',
        '["what", "id"]',
    ],
)
def test_a_line_of_the_journal_that_lacks_something_is_told_with_its_place(store: Path, line: str) -> None:
    journal.journal_path(store).write_text(f"{line}\n", encoding="utf-8")
    for said in (
        run(store, "--read", "E-02=1900 psi"),
        CliRunner().invoke(main, ["review", "--cylinder", "E-02", str(store)]),
    ):
        assert said.exit_code in (1, 2)
        assert "store.yaml.journal:1: no line of a journal. Fix: put the journal back" in said.stderr
    assert store.read_text(encoding="utf-8") == STORE


ON_THE_WAY = """\
readings: 1
log:
  - {time: 0 min, cylinder: E-02, gauge: 2000 psi}
  - {time: 15 min, cylinder: E-02, gauge: 1680 psi}
"""
CLOSED = "closed: {time: 30 min, shut_and_bled: true, last: [{cylinder: E-02, gauge: 1360 psi}]}\n"


def asked(store: Path, *words: str) -> Result:
    (store.parent / "way.yaml").write_text(ON_THE_WAY, encoding="utf-8")
    (store.parent / "end.yaml").write_text(ON_THE_WAY + CLOSED, encoding="utf-8")
    named = [str(store.parent / word) if word.endswith(".yaml") else word for word in words]
    return CliRunner().invoke(main, named)


@pytest.mark.hazard(38)
def test_what_a_log_names_was_on_board_though_it_was_put_out_of_use_since(store: Path) -> None:
    """6 L/min for 15 min are 90 L, 321 psi of a US-E at 0.28 L/psi: 2000 to 1680. The trip had taken E-02 alone."""
    onward = ("plan", "trip.yaml", "--from", "way.yaml", "--format", "text")
    before = asked(store, *onward)
    run(store, "--out-of-use", "E-02=valve  leaks")
    assert taken(store) == ["E-03"]  # a trip yet to leave is not given it
    after = asked(store, *onward)
    assert (before.exit_code, after.exit_code) == (0, 0)
    caution = "CAUTION: cart: E-02 is out of use by its store (valve leaks), and was taken along: it is counted"
    assert caution in " ".join(after.stdout.split())
    assert "out of use" not in before.stdout
    counted = [line for line in before.stdout.splitlines() if "E-02" in line or line.startswith("  cart ")]
    assert counted
    assert set(counted) <= set(after.stdout.splitlines())
    said = asked(store, "compare", "trip.yaml", "end.yaml", "--close")
    assert said.exit_code == 0
    assert "CLOSED." in said.stdout
    assert "E-03" not in said.stdout
    assert "CAUTION" not in said.stdout
    assert "E-02, size: US-E, gauge: 1360 psi" in store.read_text(encoding="utf-8")
    assert "out_of_use: true" in store.read_text(encoding="utf-8")


def test_why_it_is_out_of_use_stands_on_no_card_in_letters_that_the_pages_cannot_show(store: Path) -> None:
    run(store, "--out-of-use", "E-02=\u6f0f\u6c14")
    said = " ".join(asked(store, "plan", "trip.yaml", "--from", "way.yaml", "--format", "text").stdout.split())
    assert "CAUTION: cart: E-02 is out of use by its store, and was taken along" in said


def test_what_is_chosen_in_the_place_of_a_cylinder_out_of_use_may_not_be_on_board(store: Path) -> None:
    """For 90 min the trip took two, and only one was read: the other is out of use now, and a third is chosen."""
    trip = store.with_name("trip.yaml")
    trip.write_text(TRIP.replace("30 min", "90 min"), encoding="utf-8")
    store.write_text(STORE.replace("700 psi", "1900 psi"), encoding="utf-8")
    first, standby = taken(store)
    way = ON_THE_WAY.replace("E-02", first).replace("1680", "1640")
    if first == "E-03":
        way = way.replace("2000 psi", "2050 psi")
    (store.parent / "now.yaml").write_text(way, encoding="utf-8")
    onward = ("plan", "trip.yaml", "--from", "now.yaml", "--format", "text")
    assert "may not be on board" not in asked(store, *onward).stdout
    assert "may not be on board" not in asked(store, "compare", "trip.yaml", "now.yaml").stdout
    run(store, "--out-of-use", f"{standby}=valve leaks")
    (third,) = {*taken(store)} - {first}
    said = " ".join(asked(store, *onward).stdout.split())
    assert f"cart: {third} is counted, and may not be on board: the log does not name it" in said
    said = " ".join(asked(store, "compare", "trip.yaml", "now.yaml").stdout.split())
    assert f"CAUTION: cart: {third} is counted for the rest, and may not be on board" in said
    line = f"  - {{time: 15 min, cylinder: {standby}, gauge: 2000 psi, in_use: false}}\n"
    (store.parent / "now.yaml").write_text(way + line, encoding="utf-8")
    assert "may not be on board" not in asked(store, *onward).stdout
