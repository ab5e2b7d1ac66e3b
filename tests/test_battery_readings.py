"""Batteries as they are read on the way: compared, and planned again from. Every figure by hand."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from planner.afterwards.batteries import BatteryAnswer
from planner.afterwards.compare import compare
from planner.afterwards.onward import Now, onward
from planner.command.cli import main
from planner.planning import plan
from planner.problems import ProblemsError
from planner.profile.read import parse_trip
from planner.readings.read import parse_readings, read_readings
from planner.report.compare.compare import compare_text
from planner.report.compare.headline import headline
from planner.report.compare.json import compare_result
from planner.report.compare.steps import steps
from tests.test_form_identity import printed, typed

TRIP = """\
profile: 1
trip: Home on a concentrator
setting: road
supplies:
  bag: {cylinders: [{label: A, size: US-E, gauge: 2000 psi}, {label: B, size: US-E, gauge: 2000 psi}]}
devices:
  maker: {type: concentrator, flow: 2 L/min, greatest_flow: 3 L/min, battery: 180 min, if_it_fails: prongs}
  prongs: {type: nasal_cannula, flow: 2 L/min}
legs:
  - {name: Road, duration: 40 min, supply: bag, devices: [maker]}
  - {name: Train, duration: 60 min, mains: true, supply: bag, devices: [maker]}
  - {name: Home, duration: 30 min, longest: 60 min, supply: bag, devices: [maker]}
"""
"""40 min of road and at the longest 60 at home on battery: 100 min, times 1.5 is 150 of the 180."""
AT_TRAIN = "time: 40 min, leg: 1, at: end, device: maker, battery: "
"""Then 60 min are to come at the longest, and 90 are asked."""


def answer(*lines: str, trip: str = TRIP) -> BatteryAnswer:
    made = plan(parse_trip(trip))
    log = parse_readings("readings: 1\nlog:\n" + "".join(f"  - {{{line}}}\n" for line in lines), made)
    (one,) = compare(made, log).batteries
    return one


@pytest.mark.hazard(40)
@pytest.mark.parametrize(
    ("shown", "by_reading", "verdict"),
    [
        ("80 %", 144.0, "holds"),  # 0.8 x 180 = 144; a fall of 0.2 in 40 min leaves 160; by the plan 140
        ("65 %", 40 * 0.65 / 0.35, "act"),  # 0.65 x 180 = 117, but by its fall 74.3: below the 90 that are asked
        ("70 %", 40 * 0.7 / 0.3, "holds"),  # 93.3 by its fall
        ("4 of 5", 60.0, "cannot-tell"),  # 0.6 to 0.8: 144 down to 108 min, and by its fall 160 down to 40 x 0.6 / 0.4
        ("3 of 5", 40 * 0.4 / 0.6, "act"),  # 0.4 to 0.6: by its fall 40 x 0.6 / 0.4 = 60 at most
        ("100 min", 100.0, "holds"),
        ("89 min", 89.0, "act"),
    ],
)
def test_the_least_of_plan_share_and_fall_counts(shown: str, by_reading: float, verdict: str) -> None:
    one = answer(AT_TRAIN + shown)
    assert one.so_far_min == 40.0
    assert one.by_plan_min == 140.0
    assert (one.ahead_min, one.asked_min) == (60.0, 90.0)
    assert one.by_reading_min == pytest.approx(by_reading)
    assert one.verdict == verdict
    assert one.left_min == pytest.approx(min(140.0, by_reading))


@pytest.mark.hazard(40)
@pytest.mark.parametrize(
    ("shown", "asked", "verdict"),
    [
        ("50 min", (40.0, 60.0), "act"),  # too little even if leg 3 began at 100 min, as planned: 60 - 20 min to come
        ("80 min", (60.0, 90.0), "cannot-tell"),  # it may have begun just now: the whole 60 min to come
        ("95 min", (60.0, 90.0), "holds"),
    ],
)
def test_what_is_asked_of_it_is_the_most_that_the_log_allows(
    shown: str, asked: tuple[float, float], verdict: str
) -> None:
    one = answer(f"time: 120 min, leg: 3, device: maker, battery: {shown}")
    assert ((one.ahead_min, one.asked_min), one.verdict) == (asked, verdict)


@pytest.mark.hazard(40)
def test_readings_of_its_own_tell_how_fast_it_falls_where_nobody_says_how_long_it_lasts() -> None:
    """A ventilator that says nothing of its battery: 90 % and 60 % with 30 min between leave 60 min; 30 are to come."""
    trip = (
        TRIP.replace("battery: 180 min, ", "")
        .replace(", mains: true", "")
        .replace("duration: 60 min,", "duration: 30 min,")
    )
    silent = (
        trip.replace(
            "type: concentrator, flow: 2 L/min, greatest_flow: 3 L/min,",
            (
                "type: ventilator, drive: electric, minute_volume: 6 L/min, fio2: 40 %, bias_flow: 0 L/min, leak: "
                "0 L/min,"
            ),
        )
        .replace("longest: 60 min", "longest: 45 min")
        .replace("type: nasal_cannula", "type: manual_resuscitator")
    )
    first = "time: 40 min, leg: 1, at: end, device: maker, battery: 90 %"
    assert answer(first, trip=silent).verdict == "cannot-tell"
    assert answer(first, trip=silent).left_min is None
    one = answer(first, "time: 70 min, leg: 2, at: end, device: maker, battery: 60 %", trip=silent)
    assert one.left_min == pytest.approx(60.0)
    assert (one.asked_min, one.verdict) == (45.0, "holds")
    assert one.lasts_min == pytest.approx(130.0)


@pytest.mark.hazard(40)
def test_a_battery_that_nobody_read_cannot_be_told_and_one_on_mains_is_not_asked_for() -> None:
    one = answer("time: 40 min, leg: 1, at: end, cylinder: A, gauge: 2000 psi")
    assert (one.verdict, one.unread, one.left_min) == ("cannot-tell", True, 140.0)
    made = plan(parse_trip(TRIP))
    log = "readings: 1\nlog:\n  - {time: 40 min, leg: 1, at: end, cylinder: A, gauge: 2000 psi}\n"
    unread = compare(made, parse_readings(log, made))
    assert not unread.as_planned  # as for gas that cannot be told: somebody has to read it again
    told = headline(unread)
    assert told.endswith(" Read the battery of maker NOW: whether it lasts is not known.")
    before = answer("time: 0 min, leg: 1, at: start, device: maker, battery: 100 %")
    assert (before.verdict, before.unread) == ("holds", False)
    # 180 min, 40 gone: mains on the train takes nothing off, and 10 min at home do. 130 left from minute 110 on.
    late = answer(AT_TRAIN + "80 %", "time: 110 min, leg: 3, cylinder: A, gauge: 2000 psi")
    assert (late.so_far_min, late.by_plan_min) == (50.0, 130.0)
    assert late.lasts_min == pytest.approx(240.0)


@pytest.mark.hazard(40)
def test_what_is_said_and_done_about_a_battery_that_is_too_low() -> None:
    made = plan(parse_trip(TRIP))
    found = compare(made, parse_readings(f"readings: 1\nlog:\n  - {{{AT_TRAIN}65 %}}\n", made))
    assert headline(found) == "ACT - the battery of maker is too low."
    assert not found.as_planned
    (step,) = steps(found)
    assert step == (
        "The battery of maker is too low: 74 min left, and 90 min asked. Plug it in, put on a charged battery, shorten "
        "the way, or go over to what stands by in its place: act NOW."
    )
    said = " ".join(compare_text(found).split())
    assert (
        "Battery of maker: 40 min on it so far; left by what is said of it 140 min and by 65 % read at 40 min 74 min "
        "(a share is no time: the least counts); up to 60 min are to come, for which 90 min are asked: TOO LOW; it "
        "ends at 174 min."
    ) in said
    assert "as planned: GO on oxygen alone, NO-GO by the battery of maker." in said
    rest = compare_result(found)["rest_planned"][0]
    assert (rest["verdict"], rest["batteries_too_low"]) == ("no-go", ["maker"])
    (row,) = compare_result(found)["batteries"]
    assert (row["verdict"], row["asked_min"], row["read"]) == ("act", 90.0, "65 %")
    calm = compare(made, parse_readings(f"readings: 1\nlog:\n  - {{{AT_TRAIN}80 %}}\n", made))
    assert "ACT" not in headline(calm)
    assert "as planned: GO." in compare_text(calm)
    assert steps(calm) == []


@pytest.mark.hazard(40)
def test_planned_again_a_battery_that_was_read_has_what_it_showed() -> None:
    """By 65 % 74 min are left, and 60 min to come ask for 90; by 70 % 93. Ten minutes later they are less."""
    made = plan(parse_trip(TRIP))
    for shown, left, go in (("65 %", 74.0, False), ("70 %", 93.0, True), ("80 %", 140.0, True)):
        log = parse_readings(f"readings: 1\nlog:\n  - {{{AT_TRAIN}{shown}}}\n", made)
        again = plan(onward(made, log, Now(), 2, "first"))
        device = again.trip.devices["maker"]
        assert (device.battery_min, device.battery_used_min) == (left, 0.0)
        assert again.batteries["maker"].on_battery_min == 60.0
        assert ("battery_short" not in [one.code for one in again.findings]) is go
        (_, checked) = again.battery_checks[:2]
        assert checked.least_min == 90.0
    later = onward(made, log, Now(at_min=110.0, leg=2, to_go_min=20.0), 2, "first")
    assert later.devices["maker"].battery_used_min == pytest.approx(10.0)
    # Not read: of 180 min 40 are gone.
    log = parse_readings("readings: 1\nlog:\n  - {time: 40 min, leg: 1, at: end, cylinder: A, gauge: 2000 psi}\n", made)
    silent = onward(made, log, Now(), 2, "first").devices["maker"]
    assert (silent.battery_min, silent.battery_used_min) == (180.0, 40.0)


@pytest.mark.hazard(40)
def test_a_battery_that_was_not_full_at_departure_is_not_planned_again_as_a_full_one() -> None:
    """60 % of 180 min at departure are 108; 40 min later 68 are left, and 60 to come ask for 90."""
    made = plan(parse_trip(TRIP))
    read = "time: 40 min, leg: 1, at: end, cylinder: A, gauge: 2000 psi"
    lines = f"  - {{time: 0 min, device: maker, battery: 60 %}}\n  - {{{read}}}"
    log = parse_readings(f"readings: 1\nlog:\n{lines}\n", made)
    again = plan(onward(made, log, Now(), 2, "first"))
    assert again.trip.devices["maker"].battery_min == 68.0
    assert not again.go


@pytest.mark.hazard(40)
def test_a_battery_that_shows_more_than_before_with_nothing_to_charge_it_is_not_believed() -> None:
    """60 % at departure leaves 68 min after 40 on it; 80 % then would leave 144. After a train with a socket it may."""
    one = answer("time: 0 min, device: maker, battery: 60 %", AT_TRAIN + "80 %")
    assert (one.left_min, one.read, one.verdict) == (68.0, "60 %", "cannot-tell")
    made = plan(parse_trip(TRIP))
    lines = f"  - {{time: 0 min, device: maker, battery: 60 %}}\n  - {{{AT_TRAIN}80 %}}\n"
    (step,) = steps(compare(made, parse_readings(f"readings: 1\nlog:\n{lines}", made)))
    assert "nothing charged it since: if a charged one was put on, leave out of the log what was read before." in step
    charged = "time: 100 min, leg: 2, at: end, device: maker, battery: 80 %"
    assert answer("time: 0 min, device: maker, battery: 60 %", charged).read == "80 %"


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("time: 5 min, device: maker, battery: 60", "not_a_charge"),
        ("time: 5 min, device: maker, battery: 160 %", "not_a_charge"),
        ("time: 5 min, device: maker, battery: 6 of 5", "not_a_charge"),
        ("time: 5 min, device: maker", "key_missing"),
        ("time: 5 min, device: prongs, battery: 60 %", "device_unknown"),
        ("time: 5 min, cylinder: A, battery: 60 %", "two_ways"),
    ],
)
def test_what_is_no_charge_is_asked_for(line: str, told: str) -> None:
    made = plan(parse_trip(TRIP))
    with pytest.raises(ProblemsError) as caught:
        parse_readings(f"readings: 1\nlog:\n  - {{{line}}}\n", made)
    assert [problem.code for problem in caught.value.problems] == [told]


def test_a_table_and_the_command_take_it_too(tmp_path: Path) -> None:
    trip, log = tmp_path / "trip.yaml", tmp_path / "log.csv"
    trip.write_text(TRIP)
    log.write_text("time,leg,at,device,battery\n40 min,1,end,maker,65 %\n")
    ran = CliRunner().invoke(main, ["compare", str(trip), str(log), "--format", "json"])
    assert ran.exit_code == 3
    assert json.loads(ran.stdout)["headline"] == "ACT - the battery of maker is too low."


@pytest.mark.usefixtures("read_here")
def test_what_is_typed_into_the_box_of_a_battery_is_its_reading(tmp_path: Path) -> None:
    made = plan(parse_trip(TRIP))
    boxes = {"log.battery.maker.1.gauge": "65 %", "log.battery.maker.1.time": "40 min"}
    (entry,) = read_readings(typed(printed(made), tmp_path / "form.pdf", boxes), made).entries
    assert (entry.minute, entry.device, entry.leg, entry.at) == (40.0, "maker", 0, "end")
    assert entry.battery is not None
    assert entry.battery.text == "65 %"
    with pytest.raises(ProblemsError, match="not_a_charge"):  # 3 lamps or 3 %: nobody can tell
        read_readings(typed(printed(made), tmp_path / "bare.pdf", boxes | {"log.battery.maker.1.gauge": "3"}), made)


@pytest.mark.hazard(40)
def test_a_battery_that_was_read_is_planned_again_with_the_leg_as_said() -> None:
    """80 % at 30 min: by its fall 30 x 0.8 / 0.2 = 120 min were left. In leg 1 still at 50 min 20 of them are gone.

    By the plan leg 1 was over at 40, and the train has mains: that would leave 110.
    """
    made = plan(parse_trip(TRIP))
    lines = ("time: 30 min, device: maker, battery: 80 %", "time: 50 min, cylinder: A, gauge: 2000 psi")
    log = parse_readings("readings: 1\nlog:\n" + "".join(f"  - {{{line}}}\n" for line in lines), made)
    for now, left in ((Now(50.0, 0, 10.0), 100.0), (Now(50.0, 1, 50.0), 110.0)):
        assert onward(made, log, now, 2, "1").devices["maker"].battery_min == left
