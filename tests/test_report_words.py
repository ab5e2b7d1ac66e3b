"""Sentences that must not be taken the wrong way."""

from __future__ import annotations

import pytest

from planner.constants import KPA_PER_PSI
from planner.model import Supply
from planner.planning import plan
from planner.problems import Finding
from planner.report import whatif_words, words
from planner.results import ChangeOver, WhatIf
from tests.build import CANNULA, HIGH_PRESSURE, cylinder, flowmeter, leg, trip
from tests.make_plan import example, no_go

HOLDS = WhatIf("ventilator_fails", "cart", True, True, 23.0, None, None, 57.9, 868.5, last_flow_l_per_min=15.0)
FAILS = WhatIf("ventilator_fails", "cart", True, False, 23.0, 61.9, "Road to coast hospital", None)


def test_a_what_if_that_holds_says_how_long_is_left_and_at_which_flow() -> None:
    # 868.5 L left at 57.9 min is 15 L/min; the minutes go down.
    assert whatif_words.whatif_sentence(example(), HOLDS) == (
        "Ventilator fails (at the worst minute, 23 min after departure (14:43)): "
        "oxygen on cart lasts 57 min past the end at 15 L/min, reserve and spare spent."
    )
    assert whatif_words.whatif_case(example(), HOLDS) == "Ventilator fails (worst at 23 min)"
    assert whatif_words.whatif_result(example(), HOLDS) == "57 min more at 15 L/min"


@pytest.mark.hazard(21)
def test_a_what_if_that_fails_says_so_in_capitals_with_minute_and_leg() -> None:
    assert whatif_words.whatif_sentence(example(), FAILS) == (
        "Ventilator fails (at the worst minute, 23 min after departure (14:43)): "
        "cart RUNS OUT 61 min after departure (15:21), in leg 3 (Road to coast hospital)."
    )
    assert whatif_words.whatif_result(example(), FAILS) == "RUNS OUT at 61 min (15:21), in leg 3"


def test_a_run_out_after_the_last_leg_is_told_as_such() -> None:
    # The trip takes 103 min; what runs out at 110 min runs out in the wait for a wall outlet.
    waiting = WhatIf(
        "no_wall_on_arrival", "cart", True, False, 0.0, 110.2, "Unloading and walk to intensive care", None
    )
    assert "while waiting for a wall outlet on arrival" in whatif_words.whatif_sentence(example(), waiting)
    assert whatif_words.whatif_result(example(), waiting) == "RUNS OUT at 110 min (16:10), after arrival"


def test_a_lost_vehicle_supply_names_what_carries_on() -> None:
    lost = WhatIf("vehicle_supply_lost", "cart", False, True, 23.0, None, None, 210.0, 851.0, "ambulance")
    assert whatif_words.whatif_condition(example(), lost).startswith("Vehicle supply ambulance lost, cart carries on")
    no_backup = lost._replace(supply="ambulance", holds=False, lost_supply="ambulance")
    assert whatif_words.whatif_condition(example(), no_backup) == (
        "Vehicle supply ambulance lost, and no backup is named"
    )


def test_what_lasts_without_a_flow_gives_no_minutes() -> None:
    idle = HOLDS._replace(minutes_to_spare=None)
    assert whatif_words.whatif_outcome(example(), idle) == "oxygen on cart lasts to the end"
    assert whatif_words.whatif_result(example(), idle) == "to the end"


def test_failing_what_ifs_come_first_and_must_hold_before_the_others() -> None:
    rows = [
        HOLDS._replace(name="settings_rise", must_hold=False),
        HOLDS,
        FAILS._replace(name="longest_times", must_hold=False),
        FAILS,
    ]
    assert [(row.holds, row.must_hold) for row in whatif_words.whatifs_by_weight(rows)] == [
        (False, True),
        (False, False),
        (True, True),
        (True, False),
    ]


def test_headlines() -> None:
    assert words.headline(example()).startswith("GO - ")
    assert words.headline(no_go()) == "NO-GO - 2 reasons, each with what would mend it:"
    assert words.reasons(example()) == ()


def test_every_reason_of_a_no_go_has_its_fix() -> None:
    assert [reason.fix for reason in words.reasons(no_go())] == ["Add 2 full US-E cylinders to cart."] * 2


@pytest.mark.parametrize(
    ("have_l", "required_l", "text"),
    [
        (892.4, 316.25, "576 L to spare"),
        (316.25, 316.25, "0 L to spare"),
        (316.0, 316.25, "SHORT by 1 L"),
        (0.0, 316.25, "SHORT by 317 L"),
    ],
)
def test_margin(have_l: float, required_l: float, text: str) -> None:
    assert words.margin(have_l, required_l) == text


@pytest.mark.hazard(26)
def test_a_change_is_by_gauge_or_clock_whichever_comes_first() -> None:
    change = ChangeOver(85.5, "Unloading and walk to intensive care", "A", "B", 500.1 * KPA_PER_PSI, leg_index=3)
    assert words.change_sentence(example(), change) == (
        "Change A to B when A shows 510 psi or 85 min after departure (15:45), whichever comes first, "
        "in leg 4 (Unloading and walk to intensive care)."
    )
    assert "INSIDE a no-change stretch" in words.change_sentence(example(), change._replace(inside_no_change=True))


def test_a_change_before_a_cylinder_is_used_up_says_before_which_leg() -> None:
    # Leg 2 begins at minute 18.
    early = ChangeOver(18.0, "Loading", "A", "B", 712 * KPA_PER_PSI, early=True, leg_index=1)
    assert words.change_sentence(example(), early) == (
        "Change A to B 18 min after departure (14:38), before leg 2 (Loading), while A should still show 710 psi: "
        "so that no change falls in a no-change stretch."
    )
    unfit = ChangeOver(30.0, "Road to coast hospital", "A", "B", 1000 * KPA_PER_PSI, leg_index=2)
    assert words.change_sentence(example(), unfit).endswith(
        "in leg 3 (Road to coast hospital), while A should still show 1000 psi: since A cannot serve on."
    )


def test_a_finding_gives_its_place_and_its_fix() -> None:
    finding = Finding("stop", "wrong_gas", "cart A holds air", "Take it off the cart", 20, 9)
    assert words.finding_sentence(finding) == ("STOP: cart A holds air. Fix: Take it off the cart. (line 20)")


def test_two_legs_of_one_name_get_no_number() -> None:
    plan = example()
    legs = (*plan.trip.legs, plan.trip.legs[0])
    twice = plan._replace(trip=plan.trip._replace(legs=legs))
    assert words.leg_text(twice, "Bedside to ambulance bay") == "leg Bedside to ambulance bay"
    assert words.leg_text(twice, "Loading") == "leg 2 (Loading)"


def test_a_planning_aid_says_that_practice_governs() -> None:
    text = " ".join(words.PLANNING_AID)
    for part in ("local protocol and licensed practice govern", "valve open and gas flowing", "plan again"):
        assert part in text


def test_the_cylinder_is_told_whose_loss_is_the_worst() -> None:
    both, meter = (flowmeter(), HIGH_PRESSURE), (flowmeter(),)
    for second, worst in ((both, "A"), (meter, "A")):
        cart = Supply(
            "cart", "cylinders", cylinders=(cylinder("A", 2000, outlets=both), cylinder("B", 2000, outlets=second))
        )
        made = plan(trip([cart], leg(20.0, CANNULA)))
        (lost,) = (row for row in made.whatifs if row.name == "cylinder_lost")
        assert f"the worst to lose is {worst}" in whatif_words.whatif_condition(made, lost)
