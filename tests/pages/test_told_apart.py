"""Things on the pages that could be taken for one another are told apart."""

from __future__ import annotations

from math import ceil
from pathlib import Path

import pytest

from planner.pages.pack import pack_bytes
from planner.planning import plan
from planner.profile.read import parse_trip, read_trip
from planner.report.card.actions import actions
from planner.report.minutes_table import minutes_table
from tests.pages.printed import ISSUED, SHORTEST, page_numbers, pages

ROOT = Path(__file__).parents[2]
MANIFOLD = ROOT / "tests" / "profiles" / "good" / "manifold_carried.yaml"
FIXED_WING = ROOT / "profiles" / "fixed-wing.yaml"


def words_of(data: bytes, page: int) -> list[str]:
    return [ink.text.strip() for ink in pages(data)[page]]


@pytest.mark.hazard(3)
def test_a_manifold_of_two_sizes_is_not_called_by_one() -> None:
    """L1 and L2 are US-E, L3 is US-D: three of US-E would promise 0.84 L/psi in place of 0.28 + 0.28 + 0.16."""
    found = plan(read_trip(MANIFOLD))
    table = minutes_table(found)
    assert table is not None
    assert {row.size for row in table.rows} == {"2 × US-E + US-D"}
    # 0.72 L/psi x (2000 - 500) psi / 8 L/min = 135 min by the hand method; 157 min for three of US-E
    assert table.rows[0].minutes[0] in ("135 min", "136 min", "137 min")
    data = pack_bytes(found, issued=ISSUED)
    assert any("2 × US-E + US-D" in " ".join(words_of(data, page)) for page in (0, 3))
    for title in ("Readings log", "Nomogram"):
        assert "2 × US-E + US-D" in words_of(data, page_numbers(data, title)[0])


@pytest.mark.hazard(21)
def test_a_manifold_is_named_by_all_its_labels() -> None:
    """`L1+L...` could be taken for the first cylinder alone."""
    data = pack_bytes(plan(read_trip(MANIFOLD)), issued=ISSUED)
    card = words_of(data, 0)
    assert any("L1+L2+L3" in text for text in card)
    assert not any("…" in text for text in card)


@pytest.mark.hazard(15)
def test_supplies_of_vehicles_with_one_backup_are_named_together_with_the_least_that_it_lasts() -> None:
    found = plan(read_trip(FIXED_WING))
    (move,) = (each for each in actions(found) if each.do.startswith("MOVE"))
    assert move.do == "MOVE to pack if ambulance_1, aircraft or ambulance_2 fails"
    lost = [row for row in found.whatifs if row.lost_supply]
    assert {row.lost_supply for row in lost} == {"ambulance_1", "aircraft", "ambulance_2"}
    least = min(lost, key=lambda row: row.minutes_to_spare or 0.0)
    # Litres left / the flow up to 0.1 L/min, as it is printed beside minutes.
    left_l, minutes = least.litres_left, least.minutes_to_spare
    assert left_l
    assert minutes
    printed = ceil(10.0 * left_l / minutes - 1e-6) / 10.0
    assert move.buys == f"{int(left_l / printed)} min, pack"


@pytest.mark.hazard(17)
def test_minutes_do_not_promise_a_gauge_below_the_one_to_change_at() -> None:
    """At -20 degC 500 psi hold what stands at 592.8 psi at 21.1 degC (CoolProp 8.0.0): rounded up, 600 psi."""
    cold = SHORTEST.replace("    cylinders:", "    coldest: -20 degC\n    cylinders:")
    table = minutes_table(plan(parse_trip(cold)))
    assert table is not None
    assert table.title == "Minutes left to 600 psi, one cylinder"
    warm = minutes_table(plan(parse_trip(SHORTEST)))
    assert warm is not None
    assert warm.title == "Minutes left to 500 psi, one cylinder"


@pytest.mark.hazard(1)
def test_a_device_that_runs_for_a_part_of_a_leg_says_so_before_leaving() -> None:
    """The nebulizer of the second patient runs for 10 min alone: left on, it draws 6 L/min more than planned."""
    data = pack_bytes(plan(read_trip(ROOT / "tests" / "profiles" / "good" / "two_patients.yaml")), issued=ISSUED)
    back = [word for number in page_numbers(data, "Before leaving") for word in words_of(data, number)]
    assert "nebulizer (P2); leg 1 (ONLY its first 10 min)" in " ".join(back)


TWO_SUPPLIES = """
profile: 1
trip: Two patients
supplies:
  trolley:
    cylinders:
      - {label: A, size: US-E, gauge: 2000 psi}
      - {label: B, size: US-E, gauge: 1950 psi}
  chair:
    cylinders:
      - {label: C, size: US-E, gauge: 1900 psi}
      - {label: D, size: US-E, gauge: 1850 psi}
devices:
  first: {type: nasal_cannula, flow: 2 L/min, patient: one}
  second: {type: nasal_cannula, flow: 2 L/min, patient: two}
setting: in_house
legs:
  - {name: Lift, duration: 10 min, supply: trolley, devices: [first, {use: second, supply: chair}]}
"""


def test_supplies_of_one_size_and_flow_share_their_minutes() -> None:
    """US-E at 2 and at 15 L/min, once each: the same figures twice would look like two things."""
    table = minutes_table(plan(parse_trip(TWO_SUPPLIES)))
    assert table is not None
    assert [(row.size, row.flow) for row in table.rows] == [("US-E", "2 L/min"), ("US-E", "15 L/min")]


@pytest.mark.hazard(21)
def test_long_labels_stand_in_full_with_their_supply() -> None:
    """On the card a label is wrapped; in the log too, with the supply below."""
    long = TWO_SUPPLIES
    for label in "ABCD":
        long = long.replace(f"label: {label},", f"label: {label} of the north store,")
    data = pack_bytes(plan(parse_trip(long)), issued=ISSUED)
    card = " ".join(words_of(data, 0))
    for label in "ABCD":
        assert f"{label} of the north store" in card
    assert card.count("trolley, US-E") == 2
    assert card.count("chair, US-E") == 2
    assert "…" not in card
    log = " ".join(words_of(data, page_numbers(data, "Readings log")[0]))
    assert log.count("A of the north store (trolley)") == 3  # before departure, on arrival, after return
    assert log.count("C of the north store (chair)") == 3
