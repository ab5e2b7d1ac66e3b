"""A mend that is offered ready to type never makes a trip easier than it was meant.

The slips and their meanings come from `slips.py`. Every mend offered is put into the text, and what is then read is
held against the meaning. Two mends ask the person: the meaning has to be among them. One alone is a claim.
"""

from __future__ import annotations

import random
import re

import pytest

from planner.model import Trip
from planner.planning import plan
from planner.problems import Problem, ProblemsError
from planner.profile.limits import LIMITS
from planner.profile.read import parse_trip
from planner.readings.read import parse_readings
from planner.text import quantities
from planner.text.mended import mended
from tests.slips import FLOW_STYLE, Slip, block_style, slips

ALL = tuple(slips())
SAMPLE = 100
MOST_ROUNDS = 3


def same(trip: Trip) -> str:
    """A trip without its text, places in it and reasons of waits: two that are equal plan equal."""
    text = repr(trip._replace(texts=()))
    return re.sub(r"Position\(line=\d+, column=\d+\)|fingerprint='\w*'|reason='\w*'", "", text)


def problems(text: str) -> tuple[Problem, ...]:
    """What is wrong with a profile; nothing where it can be read."""
    try:
        parse_trip(text)
    except ProblemsError as error:
        return error.problems
    return ()


def outcomes(text: str, rounds: int = MOST_ROUNDS) -> list[tuple[bool, Trip]]:
    """Every trip that following the mends leads to, and whether a person had to choose on the way."""
    found = problems(text)
    if not found:
        return [(False, parse_trip(text))]
    ends: list[tuple[bool, Trip]] = []
    for problem in found if rounds else ():
        for mend in problem.mends:
            after = mended(text, problem.line, problem.column, mend)
            if after is not None:
                chosen = len(problem.mends) > 1
                ends += [(chosen or also, trip) for also, trip in outcomes(after, rounds - 1)]
    return ends


def easier(trip: Trip, meant: Trip) -> str:
    """In what a trip is easier than the one meant; empty where it is not."""
    got, want = plan(trip), plan(meant)
    for name, supply in want.supplies.items():
        other = got.supplies.get(name)
        if other is None:
            return f"{name} is gone"
        if other.need.required_l < supply.need.required_l - 1e-9:
            return f"{name} needs {other.need.required_l} L in place of {supply.need.required_l} L"
        if (other.usable_l or 0.0) > (supply.usable_l or 0.0) + 1e-9:
            return f"{name} holds {other.usable_l} L in place of {supply.usable_l} L"
    return "a go where a no-go is meant" if got.verdict == "go" != want.verdict else ""


def faults_of(slip: Slip, meant: Trip) -> str:
    """What is wrong with the mends of one slip; empty where nothing is."""
    if not problems(slip.typed):
        return easier(parse_trip(slip.typed), meant)
    ends = outcomes(slip.typed)
    for chosen, trip in ends:
        if not chosen and same(trip) != same(meant):
            return f"another trip than meant{': ' + words if (words := easier(trip, meant)) else ''}"
    if any(chosen for chosen, _ in ends) and not any(same(trip) == same(meant) for _, trip in ends):
        return "the meaning is not among the mends to choose from"
    return ""


def test_the_corpus_is_large_and_its_meanings_can_be_read() -> None:
    assert len(set(ALL)) >= 400
    assert same(parse_trip(FLOW_STYLE)) == same(parse_trip(block_style(FLOW_STYLE)))
    assert all(slip.typed != slip.meant for slip in ALL)


@pytest.mark.hazard(35)
def test_no_mend_makes_a_trip_easier_than_meant(request: pytest.FixtureRequest) -> None:
    chosen = ALL if request.config.getoption("--long", default=False) else random.Random(7).sample(ALL, SAMPLE)  # noqa: S311
    meant = parse_trip(FLOW_STYLE)
    wrong = [f"{slip.field}, {slip.kind}: {found}" for slip in chosen if (found := faults_of(slip, meant))]
    assert wrong == []


# What was seen to be wrong, each by itself


PIECE = """\
profile: 1
trip: Ward to scan
setting: in_house
supplies:
  cart: {cylinders: [{label: A, size: US-E, gauge: 1900 psi}]}
devices:
  cannula: {type: nasal_cannula, flow: 2 L/min}
legs:
  - {name: there, duration: 12 min, supply: cart, devices: [cannula]}
"""


def fixes(old: str, new: str) -> list[tuple[str, list[str]]]:
    """How each problem of the piece is to be mended, once one part is typed otherwise, and what is ready to type."""
    assert old in PIECE
    return [(problem.fix, [mend.new for mend in problem.mends]) for problem in problems(PIECE.replace(old, new))]


@pytest.mark.hazard(35)
@pytest.mark.parametrize(
    ("old", "new", "ready"),
    [
        ("12 min,", "12 min, cabin_altitude: 8,000 ft,", ["8000 ft", "8 ft"]),
        ("12 min,", "12 min, cabin_altitude: 8.000 ft,", ["8000 ft", "8 ft"]),
        ("12 min,", "12 min, cabin_altitude: 8'000 ft,", ["8000 ft"]),
        ("2 L/min", "1,500 mL/min", ["1500 mL/min", "1.5 mL/min"]),
        ("2 L/min", "1.500 mL/min", ["1500 mL/min", "1.5 mL/min"]),
        ("1900 psi", "1.900 psi", ["1900 psi", "1.9 psi"]),
        ("size: US-E", "contents: 2.300 L at 230 bar", ["2300 L at 230 bar"]),
        ("size: US-E", "contents: 2300 L @ 230 bar", ["2300 L at 230 bar"]),
        ("12 min,", "12 min, wait: 15 min,", ["delays: [{reason: wait, time: 15 min}]"]),
        ("12 min,", "12 min, MRI: true,", ["magnet"]),
        ("nasal_cannula", "face mask", []),
        ("US-E", "UK-AZ", []),
        ("US-E", "US-M22", []),
        ("US-E", "ISO-4", []),
        ("1900 psi}", "1900 psi, outlets: [50 psi]}", ["high_pressure"]),
        ("1900 psi", "\u201c1900 psi\u201d", ["1900 psi"]),
        ("12 min,", "1hr30,", ["1 h 30 min"]),
        ("2 L/min", "2 L/min, peep: 8", []),
        ("[cannula]", "[cannula2]", []),
    ],
)
def test_what_is_offered_ready_to_type(old: str, new: str, ready: list[str]) -> None:
    ((fix, offered),) = fixes(old, new)
    assert offered == ready
    assert all(text in fix for text in ready)
    assert "line out" not in fix
    assert "take" not in fix


def test_an_unknown_size_lists_what_the_catalogue_has_with_litres_and_asks_for_the_label() -> None:
    (problem,) = problems(PIECE.replace("US-E", "UK-AZ"))
    assert "UK-ZX 3040 L" in problem.allowed
    assert "UK-CD 460 L" in problem.allowed
    assert "US-" not in problem.allowed
    assert problem.fix.startswith("read its label")


@pytest.mark.hazard(27)
def test_a_leg_called_after_a_magnet_room_that_says_nothing_of_it_is_asked_about() -> None:
    text = PIECE.replace("name: there", "name: In the MRI room")
    asked = [finding for finding in plan(parse_trip(text)).findings if finding.code == "magnet_not_said"]
    assert [finding.level for finding in asked] == ["caution"]
    for said in ("true", "false"):
        told = plan(parse_trip(text.replace("12 min,", f"12 min, magnet: {said},"))).findings
        assert not [finding for finding in told if finding.code == "magnet_not_said"]


@pytest.mark.hazard(35)
@pytest.mark.parametrize(
    ("key", "text", "value"),
    [
        ("flow", "2.500 L/min", 2.5),  # 2500 L/min is above what any device takes
        ("tidal_volume", "0.450 L", 0.45),  # nobody begins thousands with a zero
        ("gauge", "207.500 bar", 20_750.0),  # 207500 bar is above every cylinder
        ("fio2", "0.600", 0.6),
        ("mass", "6.800 kg", 6.8),
        ("cabin_altitude", "8000.000 ft", 2438.4),  # by definition 0.3048 m a foot
    ],
)
def test_a_point_that_can_only_be_a_decimal_point_is_read(key: str, text: str, value: float) -> None:
    limit = LIMITS[key]
    assert quantities.parse(text, limit.kind, holds=limit.holds) == pytest.approx(value)


@pytest.mark.hazard(35)
@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("2 L/min", "1.5 mL/min", "1.5 L/min is a thousand times as much"),
        ("12 min,", "12 min, by: air, cabin_altitude: 8 ft,", "a cabin altitude of 2.4 m (8 ft) is next to the ground"),
    ],
)
def test_a_figure_a_thousand_times_too_small_is_asked_about(old: str, new: str, words: str) -> None:
    found = plan(parse_trip(PIECE.replace(old, new))).findings
    (asked,) = [finding for finding in found if finding.code == "thousand_times"]
    assert asked.level == "caution"
    assert words in asked.message
    right = plan(parse_trip(PIECE.replace(old, new.replace("1.5 mL", "15 mL").replace("8 ft", "0 ft")))).findings
    assert not [finding for finding in right if finding.code == "thousand_times"]


@pytest.mark.hazard(35)
@pytest.mark.parametrize(
    ("old", "new", "ready", "words"),
    [
        ("gauge: 1900 psi", "gauge: ", [], "read it with the valve open and gas flowing"),  # a form left blank
        ("1900 psi", "TBD", [], "write the number that is read or set"),
        ("US-E, gauge", "US-E, weight: 7.5 kg, gauge", ["mass"], "write `mass`"),
        ("flow: 2 L/min", "flow: 2 L/min, leak = 0 L/min", ["leak: 0 L/min"], "with a colon"),
        ("devices: [cannula]", "devices: cannula", ["[cannula]"], "write `[cannula]`"),
        ("12 min", "1h12", ["1 h 12 min"], "write 1 h 12 min"),
        ("12 min", "12 Min.", ["12 min"], "write 12 min"),
        ("2 L/min", "2 Liter/Min", ["2 L/min"], "write 2 L/min"),
        ("      - {label", "      \u2013 {label", [], "type a hyphen"),
        ("gauge: 1900 psi}", "gauge: 1900 psi} // at 14:00", [], "write # in place of //"),
    ],
)
def test_what_tired_hands_type(old: str, new: str, ready: list[str], words: str) -> None:
    """Of a form left half filled, a word processor, other keyboards; a figure is never put into anybody's mouth."""
    blocks = PIECE.replace(
        "  cart: {cylinders: [{label: A, size: US-E, gauge: 1900 psi}]}\n",
        "  cart:\n    cylinders:\n      - {label: A, size: US-E, gauge: 1900 psi}\n",
    )
    assert old in blocks
    told = problems(blocks.replace(old, new, 1))
    assert [mend.new for problem in told for mend in problem.mends] == ready
    assert any(words in problem.fix for problem in told)


@pytest.mark.parametrize("word", ["bilevel", "BPAP", "NIV"])
def test_ventilation_through_a_mask_is_a_ventilator_and_no_cpap(word: str) -> None:
    told = fixes("nasal_cannula, flow: 2 L/min", word)
    assert [mends for _, mends in told if mends] == [["ventilator"]]
    assert "add the leak that the ventilator shows, or `leak: 0 L/min` if there is none" in [fix for fix, _ in told]


def test_a_mend_is_put_in_only_where_what_was_found_stands() -> None:
    (problem,) = problems(PIECE.replace("2 L/min", "2,5 L/min"))
    (mend,) = problem.mends
    assert mended(PIECE, problem.line, problem.column, mend) is None
    after = mended(PIECE.replace("2 L/min", "2,5 L/min"), problem.line, problem.column, mend)
    assert after == PIECE.replace("2 L/min", "2.5 L/min")
    assert mended(PIECE, 99, 1, mend) is None


@pytest.mark.parametrize(
    ("gauge", "policy", "unit"),
    [
        ("130 bar", "", "bar"),
        ("13 MPa", "", "MPa"),
        ("1900 PSI", "", "psi"),
        ("130 bar", "policy: {pressure_unit: psi}\n", "psi"),
    ],
)
def test_paper_takes_the_unit_of_the_hand_unless_the_policy_says_otherwise(gauge: str, policy: str, unit: str) -> None:
    trip = parse_trip(policy + PIECE.replace("1900 psi", gauge))
    assert trip.policy.pressure_unit == unit
    assert trip.policy.overrides == (("pressure_unit",) if policy else ())


@pytest.mark.hazard(35)
@pytest.mark.parametrize(
    ("kind", "typed", "meant"),
    [
        ("duration", "1/2 h", 30.0),
        ("duration", "half an hour", 30.0),
        ("duration", "a quarter of an hour", 15.0),
        ("duration", "1 1/2 h", 90.0),
        ("duration", "1\u00bd h", 90.0),
        ("duration", "an hour and a half", 90.0),
        ("duration", "1 h and a quarter", 75.0),
        ("duration", "three quarters of an hour", 45.0),
        ("duration", "90 mins.", 90.0),
        ("duration", "20'", 20.0),
        ("flow", "4l", 4.0),
        ("flow", "15L", 15.0),
        ("flow", "2 liters", 2.0),
        ("flow", "2 litres per minute.", 2.0),
        ("fraction", "room air", 0.21),
        ("fraction", "FiO2 0.6", 0.6),
        ("fraction", "60%.", 0.6),
        ("gauge", "1900 psi.", 13100.0),  # 1900 x 6.8948
        ("altitude", "8000'", 2438.4),
        ("volume", "480 mls", 0.48),
    ],
)
def test_what_can_be_meant_in_one_way_alone_is_offered_in_that_way(kind: str, typed: str, meant: float) -> None:
    with pytest.raises(quantities.QuantityError) as told:
        quantities.parse(typed, kind)
    (mend,) = told.value.mends
    assert quantities.parse(mend, kind) == pytest.approx(meant, rel=1e-4)


@pytest.mark.hazard(35)
@pytest.mark.parametrize(
    ("kind", "typed"),
    [
        ("flow", "2L NC"),
        ("flow", "NC 2 L"),
        ("flow", "O2 2L NC"),
        ("flow", "flush"),
        ("flow", "15+"),
        ("flow", "10-15"),
        ("gauge", "half"),
        ("gauge", "3/4"),
        ("gauge", "1900"),
        ("gauge", "1900#"),
        ("duration", "15-20 min"),
        ("duration", "half a day"),
        ("duration", "2/2 h"),
        ("rate", "RR 18"),
    ],
)
def test_what_can_be_meant_in_more_than_one_way_is_asked(kind: str, typed: str) -> None:
    with pytest.raises(quantities.QuantityError) as told:
        quantities.parse(typed, kind)
    assert told.value.mends == ()


@pytest.mark.hazard(35)
@pytest.mark.parametrize("typed", ["E", "E-size", "E size", "size E", "e cylinder"])
def test_a_letter_that_two_systems_share_is_asked_about_whatever_stands_beside_it(typed: str) -> None:
    (problem,) = problems(PIECE.replace("US-E", typed))
    assert problem.code == "size_without_system"
    assert problem.fix == "write `US-E` or `UK-E`, as the cylinder is marked"
    assert problem.mends == ()


LABELLED = PIECE.replace(
    "{label: A, size: US-E, gauge: 1900 psi}",
    "{label: E-02, size: US-E, gauge: 1900 psi}, {label: E-20, size: US-E, gauge: 1900 psi}, {label: B, size: US-D, "
    "gauge: 1900 psi}",
)


@pytest.mark.hazard(35)
@pytest.mark.parametrize(
    ("typed", "meant"),
    [("e-02", "E-02"), ("E02", "E-02"), ("e 20", "E-20"), ("E-2", None), ("E-03", None), ("F-02", None), ("BB", None)],
)
def test_another_cylinder_is_never_proposed_by_spelling(typed: str, meant: str | None) -> None:
    """Letters and digits alone say which it is: `E-2` may be E-02 or E-20, and `BB` one that is not in the trip."""
    for path in (f"cart.{typed}.gauge", f"supplies.cart.cylinders.{typed}.gauge"):
        with pytest.raises(ProblemsError) as told:
            parse_trip(LABELLED, changes=[f"{path}=1500 psi"])
        (problem,) = told.value.problems
        assert "E-02, E-20, B" in problem.allowed, path
        assert problem.fix == (f"write {meant}" if meant else problem.fix)
        assert meant or not any(f"write {label}" in problem.fix for label in ("E-02", "E-20", "B"))
    with pytest.raises(ProblemsError) as told:
        parse_readings(f"log:\n  - {{time: 5 min, cylinder: {typed}, gauge: 1500 psi}}\n", plan(parse_trip(LABELLED)))
    (problem,) = [one for one in told.value.problems if one.code == "cylinder_unknown"]
    assert problem.allowed == "one of its cylinders: E-02, E-20, B"
    assert problem.fix.startswith(f"write `{meant}`" if meant else "read its label again")
