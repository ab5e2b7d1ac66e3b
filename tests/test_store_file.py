"""Last gauges written back into a store: nothing else changes, nothing is lost, and a kill leaves a whole file."""

from __future__ import annotations

import json
import os
import random
import signal
import stat
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from planner.files.file_lock import locked
from planner.files.output import OutputError
from planner.problems import ProblemsError
from planner.store import journal
from planner.store.closing import LastReading, check_back, undo, write_back
from planner.store.journal import ByTrip
from planner.store.store_text import with_values
from planner.text import source

ROOT = Path(__file__).resolve().parent.parent
STORE = """\
# Cylinders of an invented cart room.
name: "Cart room"       # on the second floor

cylinders:
  - {label: E-01,  size: US-E, gauge: 2050 psi, outlets: [{flowmeter: 15 L/min}, high_pressure]}   # by the door
  - {label: 'E-02', size: US-E, gauge: "1150 psi", checked: 2026-12-03 07:10}
  # the next one is on loan
  - label: D-01
    size: US-D
    gauge: 2000 psi     # read on the morning round
    outlets:
        - flowmeter: 15 L/min

  - gauge: 1800 psi
    label: M-01
    size: US-M
    checked: 2026-12-03 07:00   # early
"""
AT = datetime(2026, 12, 3, 16, 5)  # a store without zones


def changed_lines(before: str, after: str) -> list[tuple[str, str]]:
    """Lines that differ, where no line was added."""
    pairs = zip(before.splitlines(), after.splitlines(), strict=True)
    return [(old, new) for old, new in pairs if old != new]


def reads(gauge: str, checked: str) -> dict[str, str]:
    """A reading as the store is to have it."""
    return {"gauge": gauge, "checked": checked}


# The text


def test_only_the_gauge_and_the_time_of_one_cylinder_change_to_the_last_space() -> None:
    after = with_values(STORE, {"M-01": reads("1150 psi", "2026-12-03 16:05")})
    assert changed_lines(STORE, after) == [
        ("  - gauge: 1800 psi", "  - gauge: 1150 psi"),
        ("    checked: 2026-12-03 07:00   # early", "    checked: 2026-12-03 16:05   # early"),
    ]


def test_a_time_is_added_in_braces_or_on_a_line_of_its_own() -> None:
    after = with_values(STORE, {"E-01": reads("480 psi", "2026-12-03 16:05")})
    old = "gauge: 2050 psi, outlets"
    assert after == STORE.replace(old, "gauge: 480 psi, checked: 2026-12-03 16:05, outlets")
    after = with_values(STORE, {"D-01": reads("900 psi", "2026-12-03 16:05")})
    old = "    gauge: 2000 psi     # read on the morning round\n"
    new = "    gauge: 900 psi     # read on the morning round\n    checked: 2026-12-03 16:05\n"
    assert after == STORE.replace(old, new)


def test_a_value_in_quotes_is_replaced_whole() -> None:
    after = with_values(STORE, {"E-02": reads("500 psi", "2026-12-03 16:05+01:00")})
    line = next(line for line in after.splitlines() if "E-02" in line)
    assert line == "  - {label: 'E-02', size: US-E, gauge: 500 psi, checked: 2026-12-03 16:05+01:00}"


def test_line_breaks_of_windows_and_a_byte_order_mark_stay() -> None:
    text = "\ufeff" + STORE.replace("\n", "\r\n")
    after = with_values(text, {"D-01": reads("900 psi", "2026-12-03 16:05")})
    assert after.startswith("\ufeff# Cylinders")
    assert "\r\n    checked: 2026-12-03 16:05\r\n" in after
    assert after.count("\n") == after.count("\r\n")


def test_a_file_without_a_line_break_at_its_end() -> None:
    text = "cylinders:\n  - label: A\n    size: US-E\n    gauge: 2000 psi"
    after = with_values(text, {"A": reads("900 psi", "2026-12-03 16:05")})
    assert after == "cylinders:\n  - label: A\n    size: US-E\n    gauge: 900 psi\n    checked: 2026-12-03 16:05"


def test_a_value_that_others_point_to_is_written_out_for_them() -> None:
    text = (
        "cylinders:\n  - {label: A, size: US-E, gauge: &full 2000 psi}\n  - {label: B, size: US-E, gauge: *full}\n"
        "  - {label: C, size: US-E, gauge: *full}\n"
    )
    after = with_values(text, {"A": reads("900 psi", "2026-12-03 16:05")})
    gauges = [node.get("gauge") for node in source.loads(after).root.pick("cylinders").items]  # type: ignore[union-attr]
    assert [node.text for node in gauges if node is not None] == ["900 psi", "2000 psi", "2000 psi"]
    after = with_values(text, {"B": reads("900 psi", "2026-12-03 16:05")})
    assert after == text.replace(
        "label: B, size: US-E, gauge: *full", "label: B, size: US-E, gauge: 900 psi, checked: 2026-12-03 16:05"
    )


def test_a_label_that_is_not_there_changes_nothing() -> None:
    with pytest.raises(KeyError):
        with_values(STORE, {"E-99": reads("900 psi", "2026-12-03 16:05")})


# The file


@pytest.fixture
def store(tmp_path: Path) -> Path:
    path = tmp_path / "store.yaml"
    path.write_text(STORE, encoding="utf-8", newline="\n")
    return path


def test_the_earlier_file_is_kept(store: Path) -> None:
    written = write_back(store, {"E-01": LastReading("480 psi", AT), "M-01": LastReading("1500 psi", AT)})
    assert written.gauges == {"E-01": ("2050 psi", "480 psi"), "M-01": ("1800 psi", "1500 psi")}
    assert written.kept == store.with_name("store.yaml.before")
    assert store.with_name("store.yaml.before").read_text(encoding="utf-8") == STORE
    text = store.read_text(encoding="utf-8")
    assert "gauge: 480 psi, checked: 2026-12-03 16:05" in text
    assert sorted(path.name for path in store.parent.iterdir()) == [
        ".store.yaml.lock",
        "store.yaml",
        "store.yaml.before",
        "store.yaml.journal",
    ]


def test_the_same_readings_again_change_nothing(store: Path) -> None:
    write_back(store, {"E-01": LastReading("480 psi", AT)})
    text = store.read_bytes()
    assert write_back(store, {"E-01": LastReading("480 psi", AT)}).kept is None
    assert store.read_bytes() == text
    assert store.with_name("store.yaml.before").read_text(encoding="utf-8") == STORE


def test_a_later_reading_in_the_store_is_left(store: Path) -> None:
    early = AT - timedelta(hours=9, minutes=10)  # 06:55, before the reading of 07:00
    written = write_back(store, {"M-01": LastReading("900 psi", early), "E-01": LastReading("480 psi", early)})
    assert written.newer == ("M-01",)
    assert list(written.gauges) == ["E-01"]
    assert "gauge: 1800 psi" in store.read_text(encoding="utf-8")


def test_a_cylinder_that_is_gone_from_the_store_is_told_and_nothing_written(store: Path) -> None:
    with pytest.raises(ProblemsError, match="cylinder_unknown  no cylinder `E-99`"):
        write_back(store, {"E-99": LastReading("480 psi", AT), "E-01": LastReading("480 psi", AT)})
    assert store.read_text(encoding="utf-8") == STORE


def test_times_are_written_as_the_store_writes_them(store: Path) -> None:
    oslo = datetime(2026, 12, 3, 16, 5, tzinfo=ZoneInfo("Europe/Oslo"))
    write_back(store, {"E-02": LastReading("480 psi", oslo)})
    assert "gauge: 480 psi, checked: 2026-12-03 16:05}" in store.read_text(encoding="utf-8")
    # With an offset where the store has one ...
    store.write_text(STORE.replace("07:10}", "07:10+01:00}"), encoding="utf-8")
    write_back(store, {"E-02": LastReading("480 psi", oslo)})
    assert "checked: 2026-12-03 16:05+01:00}" in store.read_text(encoding="utf-8")
    # ... where it has no time at all, and in the hour that comes twice.
    store.write_text("cylinders:\n  - {label: A, size: US-E, gauge: 2000 psi}\n", encoding="utf-8")
    write_back(store, {"A": LastReading("480 psi", datetime(2026, 12, 3, 16, 5, tzinfo=timezone(timedelta(hours=2))))})
    assert "checked: 2026-12-03 16:05+02:00}" in store.read_text(encoding="utf-8")
    store.write_text(STORE.replace("2026-12-03", "2026-10-01"), encoding="utf-8")
    twice = datetime(2026, 10, 25, 2, 30, fold=1, tzinfo=ZoneInfo("Europe/Oslo"))
    write_back(store, {"E-02": LastReading("480 psi", twice)})
    assert "checked: 2026-10-25 02:30+01:00}" in store.read_text(encoding="utf-8")
    later = datetime(2026, 10, 25, 2, 0, tzinfo=UTC)  # half an hour after 02:30+01:00
    assert write_back(store, {"E-02": LastReading("470 psi", later)}).newer == ()


def test_a_file_that_is_gone_or_broken_is_told(tmp_path: Path) -> None:
    with pytest.raises(ProblemsError, match="no_such_file"):
        write_back(tmp_path / "gone.yaml", {"A": LastReading("480 psi", AT)})
    broken = tmp_path / "broken.yaml"
    broken.write_bytes(b"cylinders: [\xff]\n")
    with pytest.raises(ProblemsError, match="not_utf8"):
        write_back(broken, {"A": LastReading("480 psi", AT)})


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such links and permissions")
def test_a_link_is_followed_and_permissions_stay(store: Path, tmp_path: Path) -> None:
    store.chmod(0o640)
    link = tmp_path / "link.yaml"
    link.symlink_to(store)
    write_back(link, {"E-01": LastReading("480 psi", AT)})
    assert link.is_symlink()
    assert "gauge: 480 psi" in store.read_text(encoding="utf-8")
    assert stat.S_IMODE(store.stat().st_mode) == 0o640


# What a closing may not do, and its journal

NIGHT = ByTrip("Night transfer", "T-7", AT - timedelta(hours=2))
MORNING = ByTrip("Morning transfer", None, AT + timedelta(hours=12))


def gauge_of(store: Path, label: str) -> str:
    node = source.load(store).root.get("cylinders")
    assert node is not None
    return next(one.get("gauge").text for one in node.items if one.get("label").text == label)  # type: ignore[union-attr]


@pytest.mark.hazard(38)
def test_no_cylinder_gets_fuller_by_closing(store: Path) -> None:
    """The crew wrote E-02 (1150 psi before the trip) for another one that had 1600 psi left."""
    readings = {
        "E-01": LastReading("480 psi", AT),
        "E-02": LastReading("1600 psi", AT, place=("night-readings.yaml", 12, 7)),
    }
    with pytest.raises(ProblemsError) as caught:
        write_back(store, readings, NIGHT)
    (problem,) = caught.value.problems
    assert str(problem) == (
        "night-readings.yaml:12:7  gauge_rises  cylinder `E-02` with 1600 psi after the trip, where the store has "
        "1150 psi before it; allowed: a last gauge not above the one before the trip, unless the cylinder was "
        "refilled. Fix: read the label and the gauge once more; if it was refilled after the trip, add "
        "`refilled: true`."
    )
    assert store.read_text(encoding="utf-8") == STORE
    with pytest.raises(ProblemsError):
        check_back(store, readings, NIGHT)


@pytest.mark.hazard(38)
def test_a_refilled_cylinder_gets_fuller(store: Path) -> None:
    write_back(store, {"E-02": LastReading("2000 psi", AT, refilled=True)}, NIGHT)
    assert gauge_of(store, "E-02") == "2000 psi"
    assert journal.history(store, "E-02")[0]["cylinders"][0]["refilled"] is True


@pytest.mark.hazard(38)
def test_a_little_more_in_a_warm_room_keeps_the_lower_gauge(store: Path) -> None:
    write_back(store, {"E-02": LastReading("1200 psi", AT)}, NIGHT)  # 50 psi more
    assert gauge_of(store, "E-02") == "1150 psi"


@pytest.mark.hazard(38)
def test_an_old_closing_without_a_time_never_goes_over_a_lower_reading(store: Path) -> None:
    write_back(store, {"D-01": LastReading("560 psi", AT)}, NIGHT)
    late = AT + timedelta(days=2)
    written = write_back(store, {"D-01": LastReading("800 psi", late, dated=False)}, ByTrip("Ward to scanner"))
    assert written.newer == ("D-01",)
    assert gauge_of(store, "D-01") == "560 psi"


@pytest.mark.hazard(38)
def test_a_second_closing_changes_nothing_and_the_first_file_stays_kept(store: Path) -> None:
    first = {"E-01": LastReading("480 psi", AT), "D-01": LastReading("900 psi", AT)}
    write_back(store, first, NIGHT)
    after, journalled = store.read_bytes(), journal.journal_path(store).read_bytes()
    later = {label: LastReading(one.gauge_text, AT + timedelta(hours=1)) for label, one in first.items()}
    assert write_back(store, later, NIGHT).kept is None
    assert store.read_bytes() == after
    assert journal.journal_path(store).read_bytes() == journalled
    assert store.with_name("store.yaml.before").read_text(encoding="utf-8") == STORE


def test_closing_again_corrects_and_keeps_the_id_and_the_file_before_the_trip(store: Path) -> None:
    write_back(store, {"E-01": LastReading("480 psi", AT)}, NIGHT)
    write_back(store, {"E-01": LastReading("840 psi", AT)}, NIGHT)  # a slip of the pen, below the 2050 psi before
    assert gauge_of(store, "E-01") == "840 psi"
    assert store.with_name("store.yaml.before").read_text(encoding="utf-8") == STORE
    closings = [line for line in journal.lines(store) if line["what"] == "close"]
    assert len({line["id"] for line in closings}) == 1
    assert [line["cylinders"][0]["from"]["gauge"] for line in closings] == ["2050 psi", "2050 psi"]


def test_another_trip_with_the_same_profile_is_no_correction(store: Path) -> None:
    write_back(store, {"E-01": LastReading("480 psi", AT)}, ByTrip("Ward to scanner"))
    with pytest.raises(ProblemsError, match="gauge_rises"):
        write_back(store, {"E-01": LastReading("840 psi", AT)}, ByTrip("Ward to scanner"))


@pytest.mark.hazard(38)
def test_a_closing_can_be_undone(store: Path) -> None:
    write_back(store, {"E-02": LastReading("480 psi", AT), "M-01": LastReading("900 psi", AT)}, NIGHT)
    write_back(store, {"M-01": LastReading("700 psi", AT + timedelta(hours=14))}, MORNING)
    assert undo(store, NIGHT) == {"E-02": ("480 psi", "1150 psi")}  # M-01 was read again since
    assert gauge_of(store, "E-02") == "1150 psi"
    assert gauge_of(store, "M-01") == "700 psi"
    assert undo(store, NIGHT) is None
    first = journal.lines(store)[0]["id"]
    write_back(store, {"E-02": LastReading("500 psi", AT + timedelta(hours=15))}, NIGHT)
    assert list(journal.standing(journal.lines(store)))[-1] != first


@pytest.mark.hazard(38)
def test_undone_it_stands_as_before_to_the_last_space_and_may_be_closed_at_an_earlier_time(store: Path) -> None:
    """E-01 and D-01 had no time: left with that of the closing, they would refuse one that is corrected downwards."""
    last = {"E-01": LastReading("800 psi", AT), "D-01": LastReading("900 psi", AT), "M-01": LastReading("700 psi", AT)}
    write_back(store, last, NIGHT)
    undo(store, NIGHT)
    assert store.read_text(encoding="utf-8") == STORE
    earlier = write_back(store, {"E-01": LastReading("800 psi", AT - timedelta(minutes=10))}, NIGHT)
    assert (earlier.newer, gauge_of(store, "E-01")) == ((), "800 psi")


@pytest.mark.parametrize(
    ("cylinder", "after"),
    [
        ("  - {label: A, gauge: 5 psi, checked: 2026-12-03 07:10}   # a\n", "  - {label: A, gauge: 5 psi}   # a\n"),
        ("  - {checked: 2026-12-03 07:10, label: A, gauge: 5 psi}\n", "  - {label: A, gauge: 5 psi}\n"),
        ("  - label: A\r\n    gauge: 5 psi\r\n    checked: 2026-12-03\r\n", "  - label: A\r\n    gauge: 5 psi\r\n"),
        ("  - label: A\n    gauge: 5 psi\n    checked: '2026-12-03'", "  - label: A\n    gauge: 5 psi\n"),
        ("  - checked: 2026-12-03 07:10  # b\n    label: A\n    gauge: 5 psi", "  - label: A\n    gauge: 5 psi"),
        ("  - label: A\n    checked: 2026-12-03\n    # c\n    gauge: 5 psi", "  - label: A\n    # c\n    gauge: 5 psi"),
        ("  - {label: A, gauge: 5 psi}", "  - {label: A, gauge: 5 psi}"),
    ],
)
def test_a_time_is_taken_out_again(cylinder: str, after: str) -> None:
    assert with_values("cylinders:\n" + cylinder, {"A": {"checked": None}}) == "cylinders:\n" + after


def test_every_cylinder_has_its_history(store: Path) -> None:
    write_back(store, {"M-01": LastReading("900 psi", AT)}, NIGHT)
    write_back(store, {"M-01": LastReading("700 psi", AT + timedelta(hours=14))}, MORNING)
    told = [(line["trip"]["name"], line["cylinders"][0]["to"]["gauge"]) for line in journal.history(store, "M-01")]
    assert told == [("Night transfer", "900 psi"), ("Morning transfer", "700 psi")]
    assert journal.history(store, "E-01") == []


def test_a_slow_leak_in_the_rack_shows(store: Path) -> None:
    readings = {
        "E-01": LastReading("900 psi", AT, drawn="1700 psi"),  # 2050 psi in the store: 350 psi less
        "D-01": LastReading("900 psi", AT, drawn="1950 psi"),  # 2000 psi: within what two readings differ
    }
    assert write_back(store, readings, NIGHT).lost == {"E-01": ("2050 psi", "1700 psi")}


def test_a_line_cut_by_a_power_cut_is_cut_off_and_no_line_is_lost(store: Path) -> None:
    write_back(store, {"E-01": LastReading("480 psi", AT)}, NIGHT)
    with journal.journal_path(store).open("ab") as file:
        file.write(b'{"what": "close", "id": "12')
    write_back(store, {"D-01": LastReading("900 psi", AT)}, MORNING)
    assert [line["what"] for line in journal.lines(store)] == ["close", "written", "close", "written"]


@pytest.mark.hazard(38)
def test_what_stands_in_the_journal_alone_is_put_into_the_store(store: Path) -> None:
    """Killed between the two: the next one that writes puts it in; what a person put back by hand later stays."""
    write_back(store, {"E-01": LastReading("480 psi", AT)}, NIGHT)
    whole = journal.journal_path(store).read_bytes()
    journal.journal_path(store).write_bytes(whole.splitlines(keepends=True)[0])
    store.write_text(STORE, encoding="utf-8", newline="\n")
    write_back(store, {"D-01": LastReading("900 psi", AT)}, MORNING)
    assert gauge_of(store, "E-01") == "480 psi"
    store.write_text(STORE, encoding="utf-8", newline="\n")
    write_back(store, {"E-02": LastReading("900 psi", AT)}, MORNING)
    assert gauge_of(store, "E-01") == "2050 psi"


def test_a_file_that_is_no_journal_is_told_and_nothing_written(store: Path) -> None:
    journal.journal_path(store).write_text("gauges\n", encoding="utf-8")
    with pytest.raises(OutputError, match=r"store\.yaml\.journal:1: no line of a journal"):
        write_back(store, {"E-01": LastReading("480 psi", AT)}, NIGHT)
    assert store.read_text(encoding="utf-8") == STORE


# Two at once


def test_a_lock_that_another_holds_is_waited_for_and_then_told(store: Path) -> None:
    with (
        locked(store),
        pytest.raises(OutputError, match=r"another program has been writing it for 0\.1 s"),
        locked(store, wait_s=0.1),
    ):
        pass
    with locked(store, wait_s=0.1):
        pass


WRITER = """
import sys
from datetime import datetime, timedelta
from pathlib import Path
from planner.store.closing import LastReading, write_back
path, label, first, times = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]), int(sys.argv[4])
at = datetime(2026, 12, 3, 16, 5)
print("ready", flush=True)
sys.stdin.readline()
for number in range(first, first + times):
    write_back(path, {label: LastReading(f"{2000 - number} psi", at + timedelta(minutes=number), refilled=True)})
"""


def start(store: Path, label: str, times: int, first: int = 0) -> subprocess.Popen[str]:
    """A process that is ready to write one cylinder many times, each time a psi less and a minute later."""
    process = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(store), label, str(first), str(times)],
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "ready\n"
    return process


def let_go(process: subprocess.Popen[str]) -> None:
    """Let a process that is ready begin."""
    assert process.stdin is not None
    process.stdin.write("go\n")
    process.stdin.flush()


def test_two_processes_at_once_lose_nothing(store: Path) -> None:
    labels = ("E-01", "E-02", "D-01")
    processes = [start(store, label, 40) for label in labels]
    for process in processes:
        let_go(process)
    for process in processes:
        _, error = process.communicate(timeout=120)
        assert process.returncode == 0, error
    cylinders = source.load(store).root.get("cylinders")
    assert cylinders is not None
    gauges = {node.get("label").text: node.get("gauge").text for node in cylinders.items}  # type: ignore[union-attr]
    assert gauges == dict.fromkeys(labels, "1961 psi") | {"M-01": "1800 psi"}


def number_of(text: str) -> int:
    """Which write made this file; -1 for none. Fails for a text that no write made as a whole."""
    cylinders = source.loads(text).root.get("cylinders")
    assert cylinders is not None
    gauge, checked = cylinders.items[0].get("gauge"), cylinders.items[0].get("checked")
    assert gauge is not None
    if checked is None:
        assert text == STORE
        return -1
    assert text == STORE.replace("gauge: 2050 psi, outlets", f"gauge: {gauge.text}, checked: {checked.text}, outlets")
    number = 2000 - int(gauge.text.removesuffix(" psi"))
    assert checked.text == f"{AT + timedelta(minutes=number):%Y-%m-%d %H:%M}"
    return number


@pytest.mark.skipif(sys.platform == "win32", reason="a process is killed by a signal here")
@pytest.mark.longer("drawn", [(5, 3)], [(seed, 25) for seed in range(20)])
def test_a_kill_while_it_writes_loses_nothing_that_was_closed(store: Path, drawn: tuple[int, int]) -> None:
    """Every kill falls among writes: it comes up to 30 ms after the journal was seen to grow, while another process
    writes the same store. What the journal says was written stands in the store, and no later write brings old back."""
    seed, kills = drawn
    chance = random.Random(seed)  # noqa: S311 - repeatable, not secret
    path = journal.journal_path(store)
    other = start(store, "D-01", 1_900)
    let_go(other)
    first, torn = 0, 0
    try:
        for _ in range(kills):
            process = start(store, "E-01", 1_900 - first, first)
            let_go(process)
            wait_until(lambda n=first: len(closings(path, "E-01")) > n)  # type: ignore[misc]
            time.sleep(chance.uniform(0.0, 0.03))
            os.kill(process.pid, signal.SIGKILL)
            process.communicate(timeout=60)
            with locked(store):
                mine = closings(path, "E-01")
                torn += gauge_of(store, "E-01") != mine[-1]
            assert mine == [f"{2000 - number} psi" for number in range(len(mine))]  # none lost, none twice
            first = len(mine)
    finally:
        other.kill()
        other.communicate(timeout=60)
    # What the last killed process held is free, and the next one that writes puts into the store what it lacked.
    write_back(store, {"M-01": LastReading("700 psi", AT)})
    assert (gauge_of(store, "M-01"), gauge_of(store, "E-01")) == ("700 psi", f"{2000 - first + 1} psi")
    assert first >= kills  # each began at least one closing
    assert torn < kills or kills < 10  # some fall after both are written; of three all may fall between the two


def closings(path: Path, label: str) -> list[str]:
    """The gauges that whole lines of a journal close a cylinder with, one after another."""
    data = path.read_bytes() if path.exists() else b""
    lines = [json.loads(line) for line in data[: data.rfind(b"\n") + 1].splitlines()]
    told = [one for line in lines if line["what"] == "close" for one in line["cylinders"]]
    return [one["to"]["gauge"] for one in told if one["label"] == label]


def wait_until(holds: Callable[[], bool]) -> None:
    """Wait until something holds, a minute at most."""
    for _ in range(60_000):
        if holds():
            return
        time.sleep(0.001)
    raise AssertionError("it did not come")


KILLED_AT = """
import os, signal, sys
from datetime import datetime
from pathlib import Path
from planner.store.closing import LastReading, write_back
left = int(sys.argv[2])
def count(event, arguments):
    global left
    if event == "open" or event.startswith(("os.", "fcntl.", "tempfile.")):
        left -= 1
        if left == 0:
            os.kill(os.getpid(), signal.SIGKILL)
readings = {"E-01": LastReading("2000 psi", datetime(2026, 12, 3, 16, 5))}
sys.addaudithook(count)
write_back(Path(sys.argv[1]), readings)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="a process is killed by a signal here")
def test_a_kill_at_each_step_of_a_write_leaves_the_old_or_the_new_file_whole(store: Path) -> None:
    numbers = []
    for step in range(1, 100):
        store.write_text(STORE, encoding="utf-8", newline="\n")
        for beside in (journal.journal_path(store), store.with_name("store.yaml.before")):
            beside.unlink(missing_ok=True)
        command = [sys.executable, "-c", KILLED_AT, str(store), str(step)]
        ran = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
        numbers.append(number_of(store.read_text(encoding="utf-8")))
        if ran.returncode == 0:
            break
        assert ran.returncode == -signal.SIGKILL, ran.stderr
        kept = store.with_name("store.yaml.before")
        assert not kept.exists() or kept.read_text(encoding="utf-8") == STORE
        # What is in the journal is not lost: the next one that writes puts it into the store.
        journalled = bool(journal.lines(store))
        write_back(store, {"M-01": LastReading("700 psi", AT)})
        assert gauge_of(store, "E-01") == ("2000 psi" if journalled else "2050 psi")
    assert numbers == sorted(numbers)
    assert set(numbers) == {-1, 0}
    assert len(numbers) > 8  # steps of a write: lock, read, two files made, flushed and moved
