"""A trip that left later or earlier than planned: the minutes of its log are counted from when it left."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from planner.afterwards.compare import Comparison, compare
from planner.command.cli import main
from planner.planning import plan
from planner.problems import ProblemsError
from planner.profile.read import parse_trip, read_trip
from planner.readings.read import onward_trip, parse_readings, read_readings
from planner.report.compare.compare import compare_text
from tests.test_form_identity import laid, printed, typed

pytestmark = pytest.mark.usefixtures("read_here")

TRIP = """\
profile: 1
trip: Road
reference: T-8
setting: road
departs: 2026-11-27 03:00
supplies:
  cart:
    cylinders: [{label: A, size: US-E, gauge: 1900 psi}, {label: B, size: US-E, gauge: 2000 psi}]
devices:
  mask: {type: simple_mask, flow: 6 L/min}
legs:
  - {name: Ward to car, duration: 15 min, supply: cart, devices: [mask]}
  - {name: Road, duration: 60 min, supply: cart, devices: [mask]}
"""


def compared(log: str, trip: str = TRIP, folder: Path | None = None) -> Comparison:
    assert folder is not None
    (folder / "log.yaml").write_text(log, encoding="utf-8")
    made = plan(parse_trip(trip))
    return compare(made, read_readings(folder / "log.yaml", made))


def log(gauge: int, more: str = "", first: str = "{time: 03:20, cylinder: A, gauge: 1900 psi}") -> str:
    return f"readings: 1\n{more}log:\n  - {first}\n  - {{time: 03:35, cylinder: A, gauge: {gauge} psi}}\n"


def verdicts(found: Comparison) -> list[str]:
    return [stretch.verdict for stretch in found.stretches]


@pytest.mark.hazard(32)
@pytest.mark.parametrize(
    ("more", "first"),
    [
        ("left_at: 03:20\n", "{time: 03:20, cylinder: A, gauge: 1900 psi}"),
        ("left_at: 20 min\n", "{time: 02:50, cylinder: A, gauge: 1900 psi}"),
        ("", "{time: 03:20, cylinder: A, gauge: 1900 psi, leg: 1, at: start}"),
        ("", "{time: 2026-11-27 03:20, cylinder: A, gauge: 1900 psi, leg: 1, at: start}"),
    ],
)
def test_twice_the_flow_is_seen_though_the_trip_left_late(tmp_path: Path, more: str, first: str) -> None:
    """650 psi x 0.28 L/psi in 15 min are 12.1 L/min, twice the plan; over the 35 min since 03:00 they would be 5.2."""
    found = compared(log(1250, more, first), folder=tmp_path)
    assert verdicts(found) == ["faster"]
    assert "The trip left at 03:20, 20 min later than planned" in compare_text(found)
    fair = compared(log(1580, more, first), folder=tmp_path)  # 15 x 6 / 0.28 = 321 psi
    assert "slower" not in verdicts(fair)
    assert "faster" not in verdicts(fair)


def test_without_a_word_of_leaving_the_profile_counts(tmp_path: Path) -> None:
    found = compared(log(1250, first="{time: 0 min, cylinder: A, gauge: 1900 psi}"), folder=tmp_path)
    assert verdicts(found) != ["faster"]
    assert "The trip left at" not in compare_text(found)


def test_the_form_says_when_it_left(tmp_path: Path) -> None:
    """The trip of the form departs at 14:00: ten minutes of it are gone at 14:30. What was taken along is on board."""
    made = plan(read_trip(laid(tmp_path)))
    values = {"log.cart.E-02.1.gauge": "2000", "log.cart.E-02.2.gauge": "1500", "log.cart.E-02.2.time": "14:30"}
    chosen = made.supplies["cart"].cylinders[0].cylinder.label
    values = {name.replace("E-02", chosen): value for name, value in values.items()}
    late = typed(printed(made), tmp_path / "late.pdf", {**values, "card.left_at": "14:20"})
    found = compare(made, read_readings(late, made))
    assert found.log.planned_departs == made.trip.departs
    assert found.log.last_min == 10.0
    assert found.log.asked is None
    assert found.plan.supplies["cart"].supply == made.supplies["cart"].supply
    silent = typed(printed(made), tmp_path / "silent.pdf", values)
    assert read_readings(silent, made).last_min == 30.0


def test_planned_on_from_when_it_left(tmp_path: Path) -> None:
    (tmp_path / "log.yaml").write_text(
        log(1580, "left_at: 03:20\n").replace("1580 psi", "1580 psi, leg: 2, at: start"), encoding="utf-8"
    )
    rest = onward_trip(tmp_path / "log.yaml", plan(parse_trip(TRIP)))
    assert rest.departs is not None
    assert f"{rest.departs:%H:%M}" == "03:35"
    assert rest.total_min == 60.0


def test_what_boils_away_goes_on_until_it_leaves(tmp_path: Path) -> None:
    """24 lb/day are 1 lb an hour: a vessel of 10 lb at 03:00 holds 9 lb as the trip leaves at 04:00."""
    trip = TRIP.replace(
        "    cylinders: [{label: A, size: US-E, gauge: 1900 psi}, {label: B, size: US-E, gauge: 2000 psi}]\n",
        "    liquid: {amount: 10 lb, keep: 1 lb, loss: 24 lb/day, read_at: 2026-11-27 03:00}\n",
    )
    found = compared("readings: 1\nleft_at: 04:00\nlog:\n  - {time: 04:10, leg: 1}\n", trip, tmp_path)
    usable_l = found.plan.supplies["cart"].usable_l
    assert usable_l is not None
    assert usable_l == pytest.approx((10.0 - 1.0 - 1.0 - 75.0 / 60.0) * 342.0, rel=2e-3)


def test_what_is_no_time_is_told_with_its_place(tmp_path: Path) -> None:
    with pytest.raises(ProblemsError) as raised:
        compared(log(1580, "left_at: late\n"), folder=tmp_path)
    (problem,) = raised.value.problems
    assert (problem.line, problem.column) == (2, 10)
    assert "left_at" in problem.found


def test_a_log_of_minutes_needs_no_clock() -> None:
    made = plan(parse_trip(TRIP))
    text = (
        "readings: 1\nlog:\n  - {time: 20 min, leg: 1, at: start}\n  - {time: 35 min, cylinder: A, gauge: 1600 psi}\n"
    )
    assert parse_readings(text, made).planned_departs is None
    silent = plan(parse_trip(TRIP.replace("departs: 2026-11-27 03:00\n", "")))
    in_minutes = "log:\n  - {time: 15 min, cylinder: A, gauge: 1600 psi}\n"
    assert parse_readings("readings: 1\nleft_at: 03:20\n" + in_minutes, silent).last_min == 15.0


def test_a_closing_is_undone_as_of_the_trip_that_was_planned(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Closed with the time of leaving or without, it is one trip to the store and to the history."""
    monkeypatch.chdir(tmp_path)
    laid(tmp_path)
    log_of = "log:\n  - {time: 14:20, cylinder: E-01, gauge: 1900 psi}\n"
    closed = "closed: {time: 14:45, shut_and_bled: true, last: [{cylinder: E-01, gauge: 1400 psi}]}\n"
    (tmp_path / "late.yaml").write_text("readings: 1\nleft_at: 14:20\n" + log_of + closed, encoding="utf-8")
    before = (tmp_path / "room.yaml").read_text(encoding="utf-8")

    def compare_with(*words: str) -> Result:
        return CliRunner().invoke(main, ["compare", "trip.yaml", "late.yaml", "--history", "service.jsonl", *words])

    first = compare_with("--close")
    assert "1900 psi to 1400 psi" in first.stdout
    again = compare_with("--close")
    assert first.stdout.split("\n\n")[0] == again.stdout.split("\n\n")[0]
    undone = compare_with("--undo-close")
    assert "UNDONE. E-01 1400 psi back to 1900 psi" in " ".join(undone.stdout.split())
    assert "1900 psi" in (tmp_path / "room.yaml").read_text(encoding="utf-8")
    assert before.count("1400") == (tmp_path / "room.yaml").read_text(encoding="utf-8").count("1400") == 0


BEFORE = """\
readings: 1
log:
  - {{time: 03:00, cylinder: A, gauge: 1900 psi}}
  - {{time: 03:30, cylinder: A, gauge: {left} psi, leg: 1, at: start}}
  - {{time: 03:40, cylinder: A, gauge: {later} psi}}
"""


def before(folder: Path, left: int) -> list[str]:
    found = compared(BEFORE.format(left=left, later=left - 200), folder=folder)
    assert [(each.from_min, each.to_min) for each in found.stretches] == [(0.0, 10.0)]
    assert found.stretches[0].parts[0].measured.readings.from_gauge_kpa == pytest.approx(left * 6.894757)
    return [each.message for each in found.findings if each.level == "caution"]


@pytest.mark.hazard(29)
def test_what_a_cylinder_lost_before_the_trip_left_is_told_and_stands_in_no_figure(tmp_path: Path) -> None:
    """The trip left at 03:30: 350 psi of A were gone by then. Two readings may differ by 100 psi and nothing lost."""
    differs, fell = before(tmp_path, 1550)
    assert differs.startswith("cart A read 1550 psi at departure, and the plan counted on 1900 psi")
    assert fell == (
        "cart A fell from 1900 psi to 1550 psi within 30 min, before the trip left: a leak in the rack, a valve left "
        "open, or somebody breathed from it. What it lost then stands in none of the figures."
    )
    assert before(tmp_path, 1800) == []
    assert len(before(tmp_path, 1790)) == 2


def test_over_a_filling_before_the_trip_left_nothing_fell(tmp_path: Path) -> None:
    """Part-used it read 900 psi at 02:00, then 500; filled to 1900 it left with 1890: the fall before is told alone."""
    steps = ("02:00, cylinder: A, gauge: 900 psi", "02:30, cylinder: A, gauge: 500 psi")
    every = "}\n  - {time: ".join((*steps, "03:00, cylinder: A, gauge: 1900 psi, refilled: true"))
    text = BEFORE.format(left=1890, later=1700).replace("03:00, cylinder: A, gauge: 1900 psi", every)
    told = [each.message for each in compared(text, folder=tmp_path).findings if each.level == "caution"]
    assert [each.partition(",")[0] for each in told] == ["cart A fell from 900 psi to 500 psi within 30 min"]
