"""The calculation sheet: every figure with formula, numbers and source."""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import pairwise

import pytest

from planner.model import Outlet
from planner.planning import plan
from planner.profile.read import parse_trip
from planner.report.blocks import Figure, Section, Table, Text
from planner.report.sheet.gas import hand_difference
from planner.report.sheet.sheet import sheet
from planner.results import BreakingDelay, Plan
from tests.make_plan import example, longest, no_go


def section(plan: Plan, title: str) -> Section:
    return next(part for part in sheet(plan) if part.title == title)


def figures_of(part: Section) -> list[Figure]:
    return [block for block in part.blocks if isinstance(block, Figure)]


@pytest.mark.parametrize("make", [example, no_go, longest])
def test_every_part_is_there_in_reading_order(make: Callable[[], Plan]) -> None:
    titles = [part.title for part in sheet(make())]
    wanted = [
        "Result",
        "Legs",
        "Devices and settings",
        "Supplies as read",
        "Ledger by leg and supply",
        "Need, with each reserve layer",
        "Litres in each cylinder",
        "Have, against required",
        "How many full cylinders",
        "Order of use and change-over",
        "Checkpoints",
        "What-ifs",
        "Policy",
    ]
    assert [title for title in titles if title != "Findings"] == wanted


@pytest.mark.hazard(8)
def test_each_reserve_layer_stands_once_on_its_own_line() -> None:
    labels = [figure.label for figure in figures_of(section(example(), "Need, with each reserve layer"))]
    for supply in (labels[:7], labels[7:14]):
        assert supply == [
            "Planned",
            "Peak flow",
            "Reserve by factor",
            "Reserve by time",
            "Reserve",
            "Required",
            "For a second look",
        ]


def test_need_with_the_numbers_put_in() -> None:
    # Worked by hand: k = 0.39 / 0.79, flow = 7.2 x k + 0.5 = 4.054; x 48 min = 194.61 L; half of it is 97.31 L;
    # 30 min x 4.054 = 121.63 L, the larger; together 316.25 L.
    cart = figures_of(section(example(), "Need, with each reserve layer"))[:7]
    assert cart[0].numbers == "4.054 x 18 + 4.054 x 5 + 4.054 x 25"
    assert cart[0].result == "194.61 L"
    assert (cart[2].numbers, cart[2].result) == ("(1.5 - 1) x 194.61", "97.31 L")
    assert (cart[3].numbers, cart[3].result) == ("30 x 4.054", "121.63 L")
    assert cart[4].result == "121.63 L"
    assert (cart[5].numbers, cart[5].result) == ("194.61 + 121.63 = 316.25", "317 L")


def test_contents_can_be_worked_from_the_printed_numbers() -> None:
    """The printed V x (rho - rho) / rho, worked again from its text, gives the contents of the equation of state."""
    from planner.gas.contents import contents_l

    for figure in figures_of(section(example(), "Litres in each cylinder")):
        if not figure.label.startswith("Contents at 2100 psi"):
            continue
        capacity, full, empty, reference = map(float, re.findall(r"[\d.]+", figure.numbers))
        by_hand = capacity * (full - empty) / reference
        assert by_hand == pytest.approx(contents_l(2100 * 6.894757293168361, 21.1, capacity), rel=1e-3)
        break
    else:
        pytest.fail("no figure for the contents at 2100 psi")


def test_the_hand_method_stands_beside_with_its_difference() -> None:
    part = section(example(), "Litres in each cylinder")
    hand = [figure for figure in figures_of(part) if figure.label == "By the hand method"]
    assert hand[0].numbers == "(2100 - 500) psi x 0.28 L/psi"
    item = example().supplies["cart"].cylinders[0]
    # make_plan gives 448 L usable and 443.52 L by hand: 4.48 L less, 1 %
    assert hand_difference(item) == "The hand method gives 4.48 L less (1 % of the planner's figure)."
    assert hand[0].note == hand_difference(item)
    why = [block.text for block in part.blocks if isinstance(block, Text) and "differs" in block.text]
    assert len(why) == 1
    assert "because oxygen is not an ideal gas" in why[0]
    assert [figure.check for figure in hand] == ["hand.cart.A", "hand.cart.B", "hand.cart.C", "hand.ambulance.main"]


def test_what_cylinders_share_is_worked_once() -> None:
    part = section(example(), "Litres in each cylinder")
    capacities = [figure.numbers for figure in figures_of(part) if figure.label == "Water capacity V"]
    assert capacities == ["0.28 x 2200 = 616.0 L", "680 L at 2015 psi", "1.56 x 2200 = 3432.0 L"]
    headings = [block.text for block in part.blocks if isinstance(block, Text) and block.strong]
    assert headings[0] == "Supply cart, cylinder A"
    assert headings[1].startswith("Supply cart, cylinder B; water capacity 3.8590 L, as of cart A; what is left in it")
    assert headings[2] == "Supply cart, cylinder C"


def test_the_policy_gives_each_value_its_source_and_marks_what_is_changed() -> None:
    table = section(example(), "Policy").blocks[0]
    assert isinstance(table, Table)
    rows = {row[0]: row for row in table.rows}
    assert rows["reserve_time"][1:] == ("30 min", "", "common practice")
    assert table.note.endswith("changed: pressure_unit. What is not CHANGED is the planner's default.")
    assert rows["pressure_unit"][2] == "CHANGED by the service or this trip"
    assert {"change_over_at", "must_hold", "handover_time", "gauge_allowance"} <= set(rows)


def test_values_set_on_the_command_line_are_printed() -> None:
    table = next(block for block in section(no_go(), "Result").blocks if isinstance(block, Table))
    assert ("Changed for this plan", 'cart.A.gauge="1400 psi"') in table.rows


def test_the_fingerprint_is_printed() -> None:
    table = next(block for block in section(example(), "Result").blocks if isinstance(block, Table))
    assert ("Fingerprint of the profile", "3f" * 32) in table.rows


def test_tables_are_whole() -> None:
    for make in (example, no_go, longest):
        for part in sheet(make()):
            for block in part.blocks:
                if isinstance(block, Table):
                    assert {len(row) for row in block.rows} <= {len(block.head)}
                    assert all(0 <= column < len(block.head) for column in block.right)


def test_legs_in_which_as_much_delay_uses_up_the_same_supply_share_a_sentence() -> None:
    delays = (
        BreakingDelay("Ward to bay", 0, "cart", 41.9),
        BreakingDelay("Road", 1, "ambulance", 60.0),
        BreakingDelay("Bay", 2, "cart", 41.2),
        BreakingDelay("Lift", 3, "cart", 41.0),
    )
    made = example()._replace(breaking_delays=delays, turn_backs=())
    made = made._replace(checkpoints=())
    texts = [block.text for block in section(made, "Delay and turning back").blocks if isinstance(block, Text)]
    assert texts[:2] == [
        "A further delay in leg 1 (Ward to bay), 3 (Bay) or 4 (Lift): cart EMPTY after 41 min more.",
        "A further delay in leg 2 (Road): ambulance EMPTY after 60 min more.",
    ]


def test_a_checkpoint_that_ends_a_leg_and_begins_the_next_is_told_once() -> None:
    """Cart over legs 1 and 2, ambulance over leg 3, cart over leg 4: only the end of 1 and the start of 2 are alike."""
    table = section(example(), "Checkpoints").blocks[0]
    assert isinstance(table, Table)
    assert [row[2] for row in table.rows] == [
        *("start of 1", "end of 1, start of 2", "end of 2", "start of 3", "end of 3", "start of 4", "end of 4"),
    ]


def test_a_condition_that_holds_for_several_supplies_is_told_once() -> None:
    table = section(example(), "What-ifs").blocks[0]
    assert isinstance(table, Table)
    told = [row[0] for row in table.rows]
    assert told[0] != "as above"
    assert len({cell for cell in told if cell != "as above"}) == len([cell for cell in told if cell != "as above"])
    assert {row[2] for row in table.rows} == {whatif.supply for whatif in example().whatifs}
    assert len(table.rows) == len(example().whatifs)
    assert {row[3].split()[0].rstrip(":") for row in table.rows} <= {"holds", "FAILS"}
    fails = [row for row in table.rows if row[3].startswith("FAILS")]
    assert len(fails) == sum(not whatif.holds for whatif in example().whatifs)


def test_a_long_cell_like_the_one_above_is_not_told_again() -> None:
    table = section(example(), "Supplies as read").blocks[1]
    assert isinstance(table, Table)
    outlets = [row[6] for row in table.rows]
    assert outlets[0] == "flowmeter to 15 L/min, 50-psi outlet"
    assert outlets.count("as above") == sum(one == other for one, other in pairwise(_outlets()))


def _outlets() -> list[tuple[Outlet, ...]]:
    return [supply.outlets_of(item) for supply in example().trip.supplies.values() for item in supply.cylinders]


def test_the_notes_of_a_cylinder_say_all_that_is_known_of_it() -> None:
    """What is missing here is missing from the paper: each word stands in the row of its cylinder, and in no other."""
    text = """\
profile: 1
trip: Ward to scanner
setting: in_house
supplies:
  cart:
    cylinders:
      - {label: A, size: US-E, gauge: 2000 psi, verified: false, magnet_safe: true, mass: 8 kg, temperature: 12 degC}
      - {label: B, size: US-E, gauge: 1900 psi, verified: true, checked: 2026-12-03 08:00}
      - {label: C, size: US-E, gauge: 1800 psi}
      - {label: D, size: US-E, gauge: 1800 psi, gas: air}
devices:
  mask: {type: simple_mask, flow: 6 L/min}
legs:
  - {name: Lift, duration: 10 min, supply: cart, devices: [mask]}
"""
    part = section(plan(parse_trip(text)), "Supplies as read")
    yoke = ", pin index 2-5 (yoke, CGA 870)"  # of every small cylinder of oxygen (CGA V-1, from memory)
    rows = {
        row[1]: row[-1].removesuffix(yoke) for block in part.blocks if isinstance(block, Table) for row in block.rows
    }
    assert rows.pop("D").startswith("gas: AIR")
    assert {label: rows[label] for label in "ABC"} == {
        "A": "gas at 12 °C when read, reading NOT verified, safe in a magnet room, 8.0 kg",
        "B": "reading verified, read 3 Dec 2026 08:00, 7.9 kg",
        "C": "7.9 kg",
    }
