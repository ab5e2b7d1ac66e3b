"""Remarks and messages that a tired reader must not take the wrong way: what they say, and when they are made.

Litres by hand: a US-E gives 0.28 L/psi, so 280 L from 1500 down to 500 psi; the real gas, 282 L. Times follow.
"""

from __future__ import annotations

import pytest

from planner.go.whatifs.registry import kind
from planner.model import Device, Leg, Supply, Trip, Use
from planner.planning import plan
from planner.problems import Finding, ProblemsError
from planner.profile.read import parse_trip
from planner.report.card.card import card
from planner.report.checklist.checklist import checklists
from planner.report.minutes_table import minutes_table
from planner.report.sheet.needs import ledger_section
from planner.report.summary import summary
from planner.report.words import change_sentence
from planner.results import Plan
from planner.trade.catalog import find_size, same_code
from planner.trade.policy_table import policy_defaults, what_if_names
from tests.build import CANNULA, HIGH_PRESSURE, VENTILATOR, cylinder, flowmeter, leg, trip

MASK = Device("mask", "reservoir_mask", flow_l_per_min=10.0)

TRIP = """\
profile: 1
trip: Ward to scanner
setting: in_house
supplies:
  cart:
    cylinders:
      - {label: A, size: US-E, gauge: 1500 psi}
devices:
  cannula: {type: nasal_cannula, flow: 4 L/min}
legs:
  - {name: Ward to scanner, duration: 10 min, supply: cart, devices: [cannula]}
"""


def problems(text: str, changes: tuple[str, ...] = ()) -> str:
    """Every problem of a trip as it is printed, without the file name."""
    with pytest.raises(ProblemsError) as caught:
        parse_trip(text, "trip.yaml", changes=changes)
    return str(caught.value).replace("trip.yaml:", "")


def of(found: Plan, code: str) -> list[Finding]:
    """The findings with a code."""
    return [finding for finding in found.findings if finding.code == code]


def cart(*gauges_psi: float) -> Supply:
    """US-E cylinders A, B, ... with these readings."""
    return Supply("cart", "cylinders", cylinders=tuple(map(cylinder, "ABCD", gauges_psi)))


# Problems of the text


@pytest.mark.hazard(25)
def test_a_decimal_comma_between_braces_is_one_problem_and_never_a_smaller_flow() -> None:
    """Between braces YAML takes the comma for the end of the value; `2 L/min` must not be what is offered."""
    assert problems(TRIP.replace("4 L/min", "2,5 L/min")) == (
        "9:40  not_a_number  flow `2,5 L/min` with a comma, which begins a new key here; allowed: a flow in L/min, "
        "LPM or mL/min, as in 2 L/min. Fix: write 2.5 L/min."
    )
    outlets = problems(TRIP.replace("1500 psi", "1500 psi, outlets: [{flowmeter: 7,5 L/min}]"))
    assert "write 7.5 L/min" in outlets
    assert "7 with its unit" not in outlets


def test_an_unknown_key_after_a_number_that_is_whole_stays_an_unknown_key() -> None:
    assert "key_unknown  unknown key `colour`" in problems(TRIP.replace("4 L/min", "4 L/min, colour: green"))


@pytest.mark.hazard(3)
def test_a_size_in_small_letters_is_that_size_and_no_other() -> None:
    """A UK-E holds 680 L and a US-E 616 L (planner/trade/data/cylinder_sizes.csv): to take one for the other would
    promise 64 L that are not there."""
    size = find_size("us-e")
    assert size is not None
    assert size.code == "US-E"
    assert same_code("us e") == "US-E"
    assert same_code("e us") is None  # not a code: the label has to say


def test_a_missing_reading_is_asked_for_without_a_number_to_copy() -> None:
    message = problems(TRIP.replace(", gauge: 1500 psi", ""))
    assert "key_missing  cylinder `A` without `gauge`" in message
    assert "psi" not in message.split("Fix: ")[1]


def test_a_misspelt_path_on_the_command_line_names_the_key_that_was_meant() -> None:
    message = problems(TRIP, ("cart.A.gage=1900 psi",))
    assert message.endswith("Fix: write `gauge`.")


def test_units_are_named_in_british_spelling() -> None:
    assert "L/h stands for litre / hour (a flow)" in problems(TRIP.replace("4 L/min", "240 L/h"))


# Counts and what would mend

SUCTION = (
    TRIP.replace("{type: nasal_cannula, flow: 4 L/min}", "{type: oxygen_powered_suction, flow: 6 L/min}")
    .replace("10 min", "20 min")
    .replace("1500 psi}", "1900 psi, outlets: [{flowmeter: 15 L/min}, {flowmeter: 15 L/min}]}\n      - " + "{B}")
    .replace("{B}", "{label: B, size: US-E, gauge: 900 psi, outlets: [{flowmeter: 15 L/min}, high_pressure]}")
)
"""6 L/min on a 50-psi outlet for 20 min: 120 L, reserve 30 x 6 = 180 L, 300 L in all. A has two flowmeters alone."""


def counts(text: str) -> list[int | None]:
    """How many full cylinders of each size would do on the cart."""
    return [count.count for count in plan(parse_trip(text)).supplies["cart"].full_cylinders]


@pytest.mark.hazard(12)
def test_full_cylinders_of_a_size_in_use_are_counted_with_outlets_that_are_on_hand() -> None:
    """A full US-E gives 0.28 x (2000 - 500) = 420 L, enough for the 300 L, if fitted as B is."""
    assert counts(SUCTION) == [1]
    nobody = SUCTION.replace(", high_pressure]", "]")
    assert counts(nobody) == [None]


def test_a_size_asked_for_with_its_outlets_is_counted_with_these() -> None:
    asked = "cart:\n    sizes: [{size: US-E, outlets: [{flowmeter: 15 L/min}, {flowmeter: 15 L/min}]}]"
    assert counts(SUCTION.replace("cart:", asked)) == [None]


def test_a_no_go_says_from_which_reading_a_cylinder_is_full() -> None:
    """100 L of need above 0: a US-E at 510 psi has 3 L. Full is 2000 psi by policy, 138 bar (2000 / 14.504 = 137.9)."""
    low = TRIP.replace("1500 psi", "510 psi")
    (stop,) = of(plan(parse_trip(low)), "not_enough")
    assert stop.fix.startswith("Draw 1 full US-E (2000 psi or more) in all; ")
    (stop,) = of(plan(parse_trip(low.replace("supplies:", "policy: {pressure_unit: bar}\nsupplies:"))), "not_enough")
    assert stop.fix.startswith("Draw 1 full US-E (138 bar or more) in all; ")


@pytest.mark.hazard(1)
def test_a_no_go_that_runs_out_as_planned_says_when() -> None:
    """600 psi leave 27.9 L (0.28 x 100 = 28): at 4 L/min they end after 6.97 min; 1500 psi last through the 10 min."""
    (stop,) = of(plan(parse_trip(TRIP.replace("1500 psi", "600 psi"))), "not_enough")
    assert stop.message == ("cart needs 160 L, COUNTED 27 L; it runs out 6 min after departure, in Ward to scanner.")
    short = TRIP.replace("1500 psi", "800 psi")
    (stop,) = of(plan(parse_trip(short)), "not_enough")
    assert stop.message == (
        "cart needs 160 L, COUNTED 83 L; 120 L of the need are the reserve of 30 min at 4 L/min."  # 30 x 4
    )


def test_no_count_is_printed_where_nothing_is_needed() -> None:
    van = "van:\n    fixed: true\n    cylinders: [{label: V, size: US-M, gauge: 1900 psi}]\n  cart:"
    text = TRIP.replace("cart:", van, 1)
    printed = summary(plan(parse_trip(text)))
    assert "cart 1 x US-E" in printed
    assert "0 x US-M" not in printed


def test_where_nothing_could_be_chosen_from_a_store_the_one_stop_says_so() -> None:
    """25 min more on no cylinder would run out at once: no use to anybody beside the reason that none was chosen."""
    store = "places: 1\n    store:\n      - {label: A, size: US-D, gauge: 700 psi}"
    found = plan(parse_trip(TRIP.replace("cylinders:\n      - {label: A, size: US-E, gauge: 1500 psi}", store)))
    assert [finding.code for finding in found.findings if finding.level == "stop"] == ["no_choice"]
    assert not of(found, "what_if_fails")
    assert found.whatifs
    assert not any(row.holds for row in found.whatifs)


# What-ifs


def test_every_what_if_has_its_condition_in_words() -> None:
    for name in what_if_names():
        assert kind(name).title
        assert kind(name).condition.startswith("If ")


@pytest.mark.hazard(12)
def test_a_what_if_that_fails_for_want_of_an_outlet_does_not_say_that_oxygen_runs_out() -> None:
    """One flowmeter, taken by the mask: when the ventilator fails the resuscitator has none, with 3000 L left."""
    plane = Supply("plane", "litres", stated_l=3000.0, outlets=(flowmeter(), HIGH_PRESSURE))
    found = plan(trip([plane], leg(20.0, VENTILATOR, MASK, supply="plane", name="Flight")))
    (stop,) = of(found, "what_if_fails")
    assert stop.message == (
        "If the ventilator fails (worst at departure): 0 min after departure, in Flight, nothing left on plane fits: "
        "bag, mask needs 2 x flowmeter and it has 1."
    )
    printed = " ".join(summary(found).split())
    assert "NOTHING LEFT THAT" in printed
    assert "RUNS OUT" not in printed


@pytest.mark.hazard(27)
def test_a_cylinder_that_stays_outside_the_magnet_room_is_not_asked_for_an_outlet() -> None:
    """The safe one is lost: the steel one has oxygen left, and must not go in."""
    safe = cylinder("safe", 2000)._replace(magnet_safe=True)
    supply = Supply("trolley", "cylinders", cylinders=(cylinder("steel", 1500), safe))
    found = plan(trip([supply], leg(20.0, CANNULA, supply="trolley", magnet=True, name="Scan")))
    (left_out,) = of(found, "outlets")
    assert left_out.message == "trolley steel is left out of leg 1 (Scan), as it is not marked magnet_safe."
    assert left_out.fix == "Leave it outside, or take a cylinder that is marked."
    assert "NOTHING LEFT THAT" in " ".join(summary(found).split())


@pytest.mark.hazard(9)
def test_a_what_if_that_fails_says_at_which_minute_things_go_wrong() -> None:
    """Cannula for 10 min, then the ventilator: it can fail from minute 10 on, and the worst is then."""
    legs = (leg(10.0, CANNULA, name="Ward"), leg(20.0, VENTILATOR, name="Road"))
    found = plan(trip([cart(1000)], *legs))
    (stop,) = of(found, "what_if_fails")[:1]
    # 0.28 x 500 = 140 L, by the real gas 139: 40 L in the ward leave 99, at 15 L/min 6.6 min: minute 16.
    assert stop.message == (
        "If the ventilator fails (worst at departure): cart runs out 16 min after departure, in Road."
    )


# Change-overs and no-change stretches


@pytest.mark.hazard(13)
def test_another_cylinder_that_goes_first_because_of_a_stretch_is_said() -> None:
    """A has 55 L from 700 psi (0.28 x 200 = 56), the lift takes 15 min x 10 = 150 L: B goes first."""
    found = plan(trip([cart(700, 1900, 1900)], leg(15.0, MASK, name="Lift", no_change=True), leg(20.0, MASK)))
    (note,) = of(found, "other_first")
    assert (note.level, note.message) == (
        "note",
        "cart: B goes first in place of A, so that no change falls inside the no-change stretch at Lift.",
    )
    assert not of(plan(trip([cart(400, 1900)], leg(15.0, MASK, no_change=True))), "other_first")  # A has nothing usable
    assert not of(plan(trip([cart(1900, 1900)], leg(15.0, MASK, no_change=True))), "other_first")


@pytest.mark.hazard(13)
def test_a_supply_that_comes_into_use_within_a_stretch_is_changed_before_it() -> None:
    """A of the van has 110 L and gives 50 before the cart takes over; then 200 are asked: B, while it is idle."""
    van = cart(900, 1900)._replace(name="van", fixed=True, backup="cart")
    legs = (
        leg(5.0, MASK, supply="van", name="Road"),
        leg(5.0, MASK, name="Load", no_change=True),
        leg(20.0, MASK, supply="van", name="Lift off", no_change=True),
    )
    found = plan(trip([van, cart(1900, 1900)], *legs))
    (change,) = found.supplies["van"].change_overs
    assert (change.from_cylinder, change.to_cylinder, change.early, change.inside_no_change) == ("A", "B", True, False)
    assert not of(found, "change_in_no_change")
    assert of(found, "early_change")


# Turning back, policy, checklists, sheet


@pytest.mark.hazard(1)
def test_nobody_turns_back_on_cylinders_that_are_still_to_be_drawn() -> None:
    """The undrawn cart is in use from departure and would be on the way back, whatever the plane holds."""
    plane = Supply("plane", "litres", stated_l=3000.0, fixed=True, backup="cart")
    undrawn = Supply("cart", "sizes")
    legs = (leg(20.0, MASK), leg(40.0, MASK, supply="plane"), leg(10.0, MASK))
    found = plan(trip([undrawn, plane], *legs))
    assert found.turn_backs == ()


@pytest.mark.hazard(16)
@pytest.mark.parametrize(
    ("setting", "by", "said"),
    [
        ("road", "air", "Flight goes by air, and the policy taken is that of setting road."),
        ("in_house", "air", "Flight goes by air, and the policy taken is that of setting in_house."),
        ("in_house", "road", "Flight goes by road, and the policy taken is that of setting in_house."),
        ("air", "air", None),
        ("air", "road", None),
        ("road", "water", None),
        ("in_house", "foot", None),
        ("in_house", None, None),
    ],
)
def test_a_leg_that_goes_farther_than_the_policy_is_a_caution(setting: str, by: str | None, said: str | None) -> None:
    kept: Leg = leg(10.0, MASK, name="Flight")._replace(by=by)
    whole: Trip = trip([cart(1900, 1900)], kept)._replace(setting=setting, policy=policy_defaults("road"))  # type: ignore[arg-type]
    assert [finding.message for finding in of(plan(whole), "setting_and_leg")] == ([] if said is None else [said])


@pytest.mark.hazard(18)
def test_a_supply_that_two_patients_leave_is_shut_when_the_second_has_left() -> None:
    """Two patients leave the van at one minute for a supply of their own each: shut by the second list alone."""
    van = Supply("van", "litres", stated_l=3000.0, fixed=True, backup="cart")
    chair = cart(1900, 1900)._replace(name="chair")
    both = Leg("Road", 20.0, (Use(MASK, "van"), Use(CANNULA, "van")), "van")
    apart = Leg("Ward", 5.0, (Use(MASK, "cart"), Use(CANNULA, "chair")), "cart")
    metered = tuple(one._replace(outlets=(flowmeter(), flowmeter())) for one in cart(1900, 1900).cylinders)
    lists = checklists(plan(trip([cart()._replace(cylinders=metered), chair, van], both, apart)))
    keys = [[item.key for item in change.items] for change in lists.changes]
    assert len(keys) == 2
    assert "shut" not in keys[0]
    assert "bedding" not in keys[0]
    assert {"shut", "bedding"} <= set(keys[1])


def order_rows_of(text: str) -> list[tuple[str, str, str]]:
    """Label, change gauge, and when it is changed or what it is there for, of each row of the card."""
    return [(row.name, row.change_at, row.when) for row in card(plan(parse_trip(text))).front.cylinders]


@pytest.mark.hazard(2)
def test_the_card_never_calls_a_cylinder_with_nothing_usable_a_reserve() -> None:
    """450 psi is below the change-over at 500 psi."""
    low = TRIP.replace("- {label: A", "- {label: low, size: US-E, gauge: 450 psi}\n      - {label: A")
    assert [(label, when) for label, _, when in order_rows_of(low)] == [
        ("low", "NOTHING USABLE"),
        ("A", "ends at 1360 psi"),  # 40 L / 0.28 L/psi = 143 psi less, by the real gas 140
    ]
    full = TRIP.replace("1500 psi}", "1500 psi}\n      - {label: B, size: US-E, gauge: 490 psi}")
    assert order_rows_of(full)[1][2] == "NOTHING USABLE"


@pytest.mark.hazard(5)
def test_the_gauge_to_change_at_counts_the_allowance_on_every_row() -> None:
    """Change-over 500 psi and a gauge that may read 50 psi high: 550 psi, for those in reserve too."""
    text = TRIP.replace("supplies:", "policy: {gauge_allowance: 50 psi}\nsupplies:")
    text = text.replace("1500 psi}", "1500 psi}\n      - {label: B, size: US-E, gauge: 1500 psi}")
    found = plan(parse_trip(text))
    assert [row.change_at for row in card(found).front.cylinders] == ["550 psi", "550 psi"]
    table = minutes_table(found)
    assert table is not None
    assert table.until == "550 psi"


@pytest.mark.hazard(17)
def test_the_gauge_to_change_at_counts_the_cold() -> None:
    """What 500 psi at -20 degC hold stands at 592.8 psi at 21.1 degC, by densities of CoolProp 8.0.0, in kg/m3:

    56.481 - 1.542 (-20 degC, less what stays) + 1.326 = 56.265 at 21.1 degC. Rounded up to what a gauge shows: 600.
    """
    rows = order_rows_of(TRIP.replace("    cylinders:", "    coldest: -20 degC\n    cylinders:"))
    assert rows[0][1] == "600 psi"


@pytest.mark.hazard(17)
def test_a_change_in_the_cold_goes_by_the_gauge_too() -> None:
    """The same 600 psi: the cylinder is used up there, it does not come off with gas left."""
    text = TRIP.replace("    cylinders:", "    coldest: -20 degC\n    cylinders:").replace("4 L/min", "10 L/min")
    text = text.replace("1500 psi}", "900 psi}\n      - {label: B, size: US-E, gauge: 1900 psi}")
    found = plan(parse_trip(text))
    (change,) = found.supplies["cart"].change_overs
    assert "when A shows 600 psi or" in change_sentence(found, change)
    assert "whichever comes first" in change_sentence(found, change)
    assert [(one.by_gauge, one.notes) for one in checklists(found).changes] == [(True, ())]


@pytest.mark.hazard(13)
def test_a_cylinder_that_comes_off_by_the_clock_keeps_its_gauge_to_change_at() -> None:
    """A has 139 L from 1000 psi, 50 go before the lift, which asks for 150: it comes off at minute 5, or at 500 psi."""
    whole = trip([cart(1000, 1900)], leg(5.0, MASK), leg(15.0, MASK, no_change=True, name="Lift"))
    first = card(plan(whole)).front.cylinders[0]
    assert (first.name, first.change_at, first.when) == ("A", "500 psi", "5 min leg 1")


def test_the_sum_of_the_ledger_adds_litres_and_not_the_minutes_of_devices_side_by_side() -> None:
    """Two devices for 20 min at 10 and 4 L/min: 280 L, and no 40 min that a leg of 20 min does not have."""
    section = ledger_section(plan(trip([cart(1900, 1900)], leg(20.0, MASK, CANNULA))))
    assert section.blocks[0].rows[-1] == ("cart", "Sum", "", "", "", "", "280.00 L")  # type: ignore[union-attr]


def test_a_stated_amount_without_the_outlet_is_told_and_not_an_internal_error() -> None:
    blend = Device("blend", "blended_flow", flow_l_per_min=10.0, fio2=1.0, bleed_l_per_min=0.0, air="room")
    tank = Supply("tank", "litres", stated_l=2000.0, outlets=(flowmeter(),))
    (told,) = of(plan(trip([tank], leg(20.0, blend, supply="tank"))), "outlet_missing")
    assert told.message.startswith("An outlet is missing on tank: ")
    assert "No outlets are written" not in told.message
