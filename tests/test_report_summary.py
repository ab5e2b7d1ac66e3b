"""The summary on the screen: its order, its width, and that nothing misleads."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from planner.planning import plan
from planner.profile.read import parse_trip, read_trip
from planner.report.card.settings import settings
from planner.report.screen import LEAST_WIDE, printable, short, table, wrap
from planner.report.summary import summary
from planner.results import FullCount, Plan, TurnBack
from tests.make_plan import example, longest, no_go

ROOT = Path(__file__).resolve().parents[1]
SCREEN_LINES = 60
"""At 80 columns, names of legs and supplies in full; beside these a line for what is set on each device."""


@pytest.mark.parametrize("make", [example, no_go, longest])
def test_no_line_is_wider_than_the_screen(make: Callable[[], Plan]) -> None:
    assert max(map(len, summary(make()).splitlines())) <= LEAST_WIDE


def test_the_example_fits_a_screen() -> None:
    assert len(summary(example()).splitlines()) <= SCREEN_LINES + len(settings(example()))


def test_the_verdict_comes_first() -> None:
    assert summary(example()).startswith("GO - ")
    assert summary(no_go()).startswith("NO-GO - 2 reasons")


def test_a_no_go_gives_each_reason_and_a_shared_fix_once() -> None:
    lines = summary(no_go()).splitlines()
    assert lines[1].startswith("  1. Supply cart has 0 L usable with the spare left out")
    assert lines[2].startswith("  2. If the ventilator fails")
    assert lines[3] == "     Fix for 1 to 2: Add 2 full US-E cylinders to cart."


def test_need_against_have() -> None:
    # planned 194.6 and reserve 121.6 go up, 448 + 434 + 488.6 L usable go down; the spare is the largest
    row = next(line for line in summary(example()).splitlines() if line.startswith("  cart "))
    assert " ".join(row.split()) == "cart 195 L 122 L 317 L 1370 L 488 L 882 L 565 L to spare"


def test_until_when_to_turn_back_or_divert_is_told() -> None:
    """One line for each window of the plan, as the pages and the JSON tell it; none on a no-go: nobody is to travel."""
    plan = example()
    windows = (
        TurnBack(None, None, 0.0, 41.5, None, "cart"),
        TurnBack("Hill clinic", "Road to coast hospital", 23.0, 60.0, 9.0, "cart"),
    )
    text = " ".join(summary(plan._replace(turn_backs=windows)).split())
    assert "Can turn back until minute 41 (15:01): cart then keeps the reserve time of 30 min." in text
    assert (
        "Can divert to Hill clinic, 9 min away in leg 3 (Road to coast hospital) from minute 23 until minute 60" in text
    )
    always = TurnBack(None, None, 0.0, plan.trip.total_min)
    assert "Can turn back at any minute: every supply then keeps the reserve time" in summary(
        plan._replace(turn_backs=(always,))
    )
    assert "turn back" not in summary(plan._replace(turn_backs=()))
    assert "turn back" not in summary(no_go()._replace(turn_backs=windows))


def test_values_changed_at_the_bedside_are_shown() -> None:
    assert 'Changed for this plan: cart.A.gauge="1400 psi"' in summary(no_go())


def test_an_assumed_setting_is_shown() -> None:
    plan = example()
    assumed = plan._replace(trip=plan.trip._replace(setting_given=False))
    assert "by road (assumed, no setting given)" in " ".join(summary(assumed).split())


def test_cylinders_that_are_not_used_are_listed_as_standby() -> None:
    plan = example()
    cart = plan.supplies["cart"]
    used = plan._replace(supplies={**plan.supplies, "cart": cart._replace(order=cart.order[:1])})
    lines = summary(used).splitlines()
    assert any(
        line.startswith("  cart ") and "2. B" in line and line.split()[-2:] == ["standby", "-"] for line in lines
    )


def test_without_a_departure_there_is_no_clock() -> None:
    plan = example()
    assert "Clock" in summary(plan)
    assert "Clock" not in summary(plan._replace(trip=plan.trip._replace(departs=None)))


def test_no_change_stretches_are_told() -> None:
    assert "No change of cylinder in leg 2." in " ".join(summary(example()).split())


@pytest.mark.hazard(26)
def test_the_last_words_are_the_caution() -> None:
    assert " ".join(summary(example()).split()).endswith(
        "A planning aid: local protocol and licensed practice govern. Read each gauge again with the valve open and "
        "gas flowing, and measure the flow at the bedside. Settings changed: plan again."
    )


def test_a_name_cannot_steer_the_screen() -> None:
    assert printable("a\x1b[31mb") == "a?[31mb"
    plan = example()
    assert "\x1b" not in summary(plan._replace(trip=plan.trip._replace(name="x\x1b[2J")))


def test_long_texts_are_cut_with_dots() -> None:
    assert short("Bedside to ambulance bay", 10) == "Bedside..."
    assert short("bay", 10) == "bay"


def test_the_widest_column_gives_way_and_its_texts_go_on_below() -> None:
    lines = table(("Name", "L"), [("words " * 20, "1 L"), ("m", "22 L")], frozenset({1}), shrink=(0,))
    assert max(map(len, lines)) <= LEAST_WIDE
    assert lines[1].endswith("words    1 L")
    assert " ".join(lines).count("words") == 20
    assert table(("Name", "L"), [("n" * 1000, "1 L")], shrink=(0,))[-1].endswith("...")


def test_a_wider_terminal_is_made_use_of_and_a_narrow_one_still_gets_80(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every table in 80 columns; in 120 the same names need fewer lines."""
    lines = {}
    for columns in ("40", "80", "120", "400"):
        monkeypatch.setenv("COLUMNS", columns)
        lines[columns] = summary(longest()).splitlines()
    assert lines["40"] == lines["80"]
    assert max(map(len, lines["80"])) <= 80
    assert len(lines["120"]) < len(lines["80"])
    assert 80 < max(map(len, lines["120"])) <= 120
    assert lines["400"] == lines["120"]


def test_a_number_and_its_unit_stay_on_one_line() -> None:
    """`18.4 L/min`, 10 letters, never ends a line with its number alone."""
    for lead in range(60, 80):
        text = "x" * lead + " at 18.4 L/min, then 1900 psi"
        assert all(not line.endswith(("18.4", "1900")) for line in wrap(text))


@pytest.mark.hazard(26)
def test_a_delay_says_when_it_is_empty_and_from_when_it_takes_of_the_reserve() -> None:
    """281 L - 100 L = 181 L, 45 min at 4 L/min; counted 281 L - required 220 L = 61 L, 15 min at 4 L/min."""
    shown = " ".join(summary(plan(read_trip(ROOT / "profiles" / "ward-to-scan.yaml"))).split())
    assert "leg 1 (Ward to scanner): trolley EMPTY after 45 min more; it takes of the reserve after 15 min." in shown


def test_a_spare_is_said_beside_what_is_counted_and_what_would_not_do_in_capitals() -> None:
    """One US-E with a spare asked: all of it is the spare. No number of another size stands in for it."""
    text = (ROOT / "profiles" / "ward-to-scan.yaml").read_text(encoding="utf-8").replace("in_house", "road")
    made = plan(parse_trip(text))
    (stop,) = [finding for finding in made.findings if finding.code == "not_enough"]
    assert stop.message.startswith("trolley needs 220 L, COUNTED 0 L (281 L kept as spare)")
    none = made.supplies["trolley"]._replace(full_cylinders=(FullCount("US-D", 150.0, None, None),))
    assert "trolley US-D: NONE WOULD DO." in summary(made._replace(supplies={"trolley": none}))
