"""A vessel of liquid oxygen on the way: compared by weight, and planned again from its last reading.

By hand: 1 lb is 342.03 L (CoolProp: 0.45359237 kg / 1.3262 kg/m3); a vessel of 40 lb is read to 1 lb (by decision).
"""

from __future__ import annotations

import pytest

from planner.afterwards.compare import Comparison, compare
from planner.afterwards.onward import Now, onward
from planner.planning import plan
from planner.problems import ProblemsError
from planner.profile.read import parse_trip
from planner.readings.read import parse_readings
from planner.report.compare.compare import compare_text
from planner.report.compare.headline import headline
from tests.test_liquid import TRIP

MADE = plan(parse_trip(TRIP))
"""40 lb read 8 h before a flight of 300 min at 6 L/min, 2 lb kept, 1.5 lb/day lost: 39.5 lb at departure."""


def held(*lines: str) -> Comparison:
    log = parse_readings("readings: 1\nlog:\n" + "".join(f"  - {{{line}}}\n" for line in lines), MADE)
    return compare(MADE, log)


@pytest.mark.hazard(41)
def test_a_vessel_that_empties_too_fast_is_told_by_its_weight() -> None:
    """120 min: 720 L planned. 12 lb are gone, give or take 2; 0 to 0.25 lb boiled away: 9.75 lb at least."""
    found = held("time: 0 min, amount: 39.5 lb", "time: 120 min, amount: 27.5 lb, leg: 1")
    (one,) = found.weighed
    assert one.planned_l == pytest.approx(720.0)
    assert one.lowest_l == pytest.approx(9.75 * 342.03, rel=1e-3)
    assert one.highest_l == pytest.approx(14.0 * 342.03, rel=1e-3)
    assert one.verdict == "faster"
    assert headline(found) == (
        "LOOK FOR A LEAK OR A RAISED SETTING - more oxygen is used than planned. The rest of the trip holds even so."
    )
    text = compare_text(found)
    assert "FASTER: vessel by weight" in text
    assert "39.5 lb to 27.5 lb" in text
    # the most that it may be above plan is (4788 - 720) / 120 = 33.9 L/min: 25.5 lb above what is kept last 219 min
    (answer,) = [each for each in found.answers if each.supply == "vessel"]
    (measured,) = [rest for rest in found.rests if rest.basis == "measured"]
    usable_l = (27.5 - 2.0 - 1.5 * (360.0 - 120.0) / 1440.0) * 342.03
    assert measured.lasts_min["vessel"] == pytest.approx(120.0 + usable_l / (4788.4 / 120.0), rel=0.01)
    assert answer.verdict == "holds"


@pytest.mark.hazard(22)
def test_a_vessel_that_hardly_empties_says_to_look_at_the_patient_first() -> None:
    """270 min: 1620 L planned, 4.7 lb. 0.2 lb are gone, give or take 2: at most 752 L."""
    found = held("time: 0 min, amount: 39.5 lb", "time: 270 min, amount: 39.3 lb, leg: 1")
    assert found.weighed[0].verdict == "slower"
    assert headline(found).startswith("LOOK AT THE PATIENT FIRST")


def test_a_vessel_as_planned_holds_and_one_that_nobody_read_is_asked_for() -> None:
    holds = held("time: 0 min, amount: 39.5 lb", "time: 270 min, amount: 34.6 lb, leg: 1")
    assert holds.weighed[0].verdict in ("as_planned", "cannot_tell")
    assert [each.verdict for each in holds.answers if each.supply == "vessel"] == ["holds"]
    unread = held("time: 120 min, cylinder: A, gauge: 2000 psi, leg: 1, in_use: false")
    (answer,) = [each for each in unread.answers if each.supply == "vessel"]
    assert (answer.verdict, answer.unread) == ("cannot-tell", True)


@pytest.mark.hazard(41)
def test_a_trip_planned_again_counts_the_loss_from_the_last_reading_on() -> None:
    """At 120 min 36 lb: 180 min as planned and 240 at the longest are left. 36 - 2 - 1.5 x 240 / 1440 = 33.75 lb."""
    log = parse_readings("readings: 1\nlog:\n  - {time: 120 min, amount: 36 lb, leg: 1}\n", MADE)
    again = plan(onward(MADE, log, Now(), 2, "card"))
    assert again.supplies["vessel"].usable_l == pytest.approx(33.75 * 342.03, rel=1e-3)
    assert again.supplies["vessel"].departs_with_kg == pytest.approx(36.0 * 0.45359237)
    # 30 min later by the clock: 180 L drawn, 0.526 lb, and 0.031 lb boiled away
    later = plan(onward(MADE, log, Now(at_min=150.0), 2, "card"))
    assert later.supplies["vessel"].departs_with_kg == pytest.approx((36.0 - 0.5263 - 0.0313) * 0.45359237, rel=1e-4)


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("time: 10 min, amount: 3/4, leg: 1", "amount"),
        ("time: 10 min, amount: 36 psi, leg: 1", "36 psi"),
        ("time: 10 min, amount: 36 lb, cylinder: A", "beside amount"),
        ("time: 10 min, amount: 36 lb, supply: cart", "no vessel of liquid"),
        ("time: 10 min, amount: 52 lb, leg: 1", "amount_rises"),
    ],
)
def test_what_a_reading_of_a_vessel_must_say(line: str, told: str) -> None:
    with pytest.raises(ProblemsError) as caught:
        held(line)
    assert told in str(caught.value)
