"""Fifteen kinds of trip as people type them, each with two slips: two rounds of mends lead to the plan that was meant.

A person who follows the program takes a mend that is the only one, chooses the one meant where there are two, and
writes the line by hand where the program asks for what only they know. `says` is what it has to say of each slip.
Litres and verdicts are worked by hand: k = (FiO2 - 0.21) / 0.79; required = planned + the larger of half of it (factor
1.5) and 30 min at the peak flow.
"""

# ruff: noqa: E501  (a profile in braces is written as people write it, in long lines)

from __future__ import annotations

from typing import NamedTuple

import pytest

from planner.planning import plan
from planner.problems import Problem, ProblemsError
from planner.profile.read import parse_trip
from planner.text.mended import mended
from tests.test_mends import same

MOST_ROUNDS = 2


class Typed(NamedTuple):
    """One slip: what stands where `right` was meant, and what the program must say of it."""

    right: str
    wrong: str
    says: str


class Kind(NamedTuple):
    """A kind of trip: the profile as meant below its head, its slips, and by hand the litres of a supply and verdict."""

    name: str
    setting: str
    body: str
    slips: tuple[Typed, Typed]
    supply: str
    required_l: float
    verdict: str
    usable_l: float | None = None
    """By hand, where it does not follow from a gauge."""

    @property
    def meant(self) -> str:
        return f"profile: 1\ntrip: {self.name}\nsetting: {self.setting}\n{self.body}"

    @property
    def typed(self) -> str:
        text = self.meant
        for slip in self.slips:
            assert slip.right in text, slip.right
            text = text.replace(slip.right, slip.wrong, 1)
        return text


TWO_E = "{label: A, size: US-E, gauge: 2000 psi}, {label: B, size: US-E, gauge: 2000 psi}"
BOTH = "outlets: [{flowmeter: 15 L/min}, high_pressure]"

KINDS = (
    # 25 min x 4 = 100 L; 30 min x 4 = 120 L.
    Kind(
        "Ward to scan",
        "in_house",
        """\
supplies:
  trolley: {cylinders: [{label: A, size: US-E, gauge: 1500 psi}]}
devices:
  cannula: {type: nasal_cannula, flow: 4 L/min}
legs:
  - {name: There, duration: 7 min, delays: [{reason: lift, time: 3 min}], supply: trolley, devices: [cannula]}
  - {name: Scan and back, duration: 15 min, supply: trolley, devices: [cannula]}
""",
        (Typed("duration: 7 min", "duration: 7", "without a unit"), Typed("gauge:", "guage:", "write `gauge`")),
        "trolley",
        220.0,
        "go",
    ),
    # 15 min x 12 = 180 L; 30 min x 12 = 360 L.
    Kind(
        "Mask with a resuscitator behind it",
        "in_house",
        f"""\
supplies:
  bed: {{cylinders: [{TWO_E}]}}
devices:
  mask: {{type: reservoir_mask, flow: 12 L/min, if_it_fails: bag}}
  bag: {{type: manual_resuscitator, flow: 15 L/min}}
legs:
  - {{name: To theatre, duration: 15 min, supply: bed, devices: [mask]}}
""",
        (
            Typed("type: reservoir_mask", "type: NRB", "write `reservoir_mask`"),
            Typed("12 L/min", "12 l", "write 12 L/min"),
        ),
        "bed",
        540.0,
        "go",
    ),
    # 0.5 L x 14 = 7 L/min, x 0.39 / 0.79 = 3.4557; x 90 min = 311.01 L; half of it more.
    Kind(
        "Ninety minutes ventilated by road",
        "road",
        f"""\
supplies:
  main: {{fixed: true, backup: cart, {BOTH}, cylinders: [{{label: M, size: US-M, gauge: 2000 psi}}]}}
  cart: {{{BOTH}, cylinders: [{TWO_E}]}}
devices:
  vent: {{type: ventilator, tidal_volume: 500 mL, rate: 14 /min, fio2: 60 %, bias_flow: 0 L/min, leak: 0 L/min, drive: electric, battery: 4 h, if_it_fails: bag}}
  bag: {{type: manual_resuscitator, flow: 15 L/min}}
legs:
  - {{name: Road, duration: 1 h 30 min, supply: main, devices: [vent]}}
""",
        (
            Typed("1 h 30 min", "1hr30", "write 1 h 30 min"),
            Typed("tidal_volume: 500", "tv: 500", "write `tidal_volume`"),
        ),
        "main",
        1.5 * 90.0 * 7.0 * 0.39 / 0.79,
        "go",
    ),
    # 6 L/min x 0.09 / 0.79 = 0.68354; x 40 min = 27.34 L; 30 min x 0.68354 = 20.51 L.
    Kind(
        "Newborn on a blend",
        "in_house",
        f"""\
supplies:
  oxygen: {{{BOTH}, cylinders: [{{label: O, size: US-E, gauge: 2000 psi}}]}}
  air: {{gas: air, outlets: [high_pressure], cylinders: [{{label: L, size: US-E, gauge: 2000 psi}}]}}
devices:
  blend: {{type: blended_flow, flow: 6 L/min, bleed: 0 L/min, fio2: 30 %, air: air, if_it_fails: bag}}
  bag: {{type: manual_resuscitator, flow: 5 L/min}}
legs:
  - {{name: To surgery, duration: 40 min, supply: oxygen, devices: [blend]}}
""",
        (Typed("fio2: 30 %", "fio2: 30", "write 30 %"), Typed("6 L/min", "6,0 L/min", "write 6.0 L/min")),
        "oxygen",
        70.0 * 6.0 * 0.09 / 0.79,
        "go",  # air_lost: 6 L/min x 40 min are 240 L, an E holds 424
    ),
    # 50 x 0.59 / 0.79 = 37.342 L/min; x 12 min = 448.1 L; 30 min x 37.342 = 1120.3 L; two E hold 848 L.
    Kind(
        "High flow on two small cylinders",
        "in_house",
        f"""\
supplies:
  bed: {{outlets: [high_pressure], cylinders: [{TWO_E}]}}
devices:
  high: {{type: high_flow_nasal, flow: 50 L/min, fio2: 80 %}}
legs:
  - {{name: To scan, duration: 12 min, supply: bed, devices: [high]}}
""",
        (
            Typed("type: high_flow_nasal", "type: HFNC", "write `high_flow_nasal`"),
            Typed("fio2: 80 %", "fio2: 80", "write 80 % or 0.80"),
        ),
        "bed",
        42.0 * 50.0 * 0.59 / 0.79,
        "no-go",
    ),
    # 45 min x 3 = 135 L; 30 min x 3 = 90 L of two thirds of an hour: half of 135 is 67.5, so that 90 L count.
    Kind(
        "Helicopter at 6000 ft",
        "air",
        f"""\
supplies:
  pack: {{cylinders: [{TWO_E}]}}
devices:
  cannula: {{type: nasal_cannula, flow: 3 L/min}}
legs:
  - {{name: Flight, duration: 45 min, by: air, cabin_altitude: 6000 ft, supply: pack, devices: [cannula]}}
""",
        (
            Typed("altitude: 6000 ft", "altitude: 6,000 ft", "write 6000 ft, or 6 ft if the comma is a decimal point"),
            Typed("by: air", "by: helicopter", "write `air`"),
        ),
        "pack",
        225.0,
        "go",
    ),
    # 300 min x 10 = 3000 L; half of it more. Of 20 lb read at 06:30, 1 lb is kept, and until 08:00 + 5 h, 6.5 h later,
    # 1.5 lb x 6.5 / 24 = 0.40625 lb boil away: 18.59375 lb x 342.0 L/lb (1 lb at 1.3263 g/L) = 6359 L.
    Kind(
        "Fixed-wing, five hours with liquid",
        "air",
        f"""\
departs: 2026-12-03 08:00
supplies:
  vessel:
    liquid: {{amount: 20 lb, keep: 1 lb, loss: 1.5 lb/day, read_at: 2026-12-03 06:30}}
    fixed: true
    backup: pack
  pack: {{cylinders: [{TWO_E}]}}
devices:
  mask: {{type: simple_mask, flow: 10 L/min}}
legs:
  - {{name: Flight, duration: 5 h, by: air, cabin_altitude: 8000 ft, supply: vessel, devices: [mask]}}
""",
        (
            Typed(", loss: 1.5 lb/day", "", "`loss`, what boils away, from the vessel's manual"),
            Typed("duration: 5 h", "duration: 5:00", "write 5 h, or 5 min if that is meant"),
        ),
        "vessel",
        4500.0,
        "go",
        6359.0,
    ),
    # (9 + 0 + 20) L/min x 0.19 / 0.79 = 6.9747; x 30 min = 209.24 L; 30 min of it are 209.24 L again.
    Kind(
        "Noninvasive ventilation",
        "in_house",
        f"""\
supplies:
  bed: {{{BOTH}, cylinders: [{TWO_E}]}}
devices:
  vent: {{type: ventilator, minute_volume: 9 L/min, fio2: 40 %, bias_flow: 0 L/min, leak: 20 L/min, drive: electric, battery: 3 h, if_it_fails: mask}}
  mask: {{type: reservoir_mask, flow: 15 L/min}}
legs:
  - {{name: To intensive care, duration: 30 min, supply: bed, devices: [vent]}}
""",
        (
            Typed("type: ventilator", "type: NIV", "write `ventilator`"),
            Typed(", leak: 20 L/min", "", "add the leak that the ventilator shows"),
        ),
        "bed",
        60.0 * 29.0 * 0.19 / 0.79,
        "go",
    ),
    # 60 min on the conserver, 16 mL x 20 = 0.32 L/min, 19.2 L; 30 min of it are 9.6 L; the concentrator takes none.
    Kind(
        "Home on a concentrator and a conserver",
        "road",
        f"""\
supplies:
  bag: {{cylinders: [{TWO_E}]}}
devices:
  plugged: {{type: concentrator, battery: 4 h, if_it_fails: cannula}}
  pulse: {{type: pulse_conserver, pulse_volume: 16 mL, rate: 20 /min, if_it_fails: cannula}}
  cannula: {{type: nasal_cannula, flow: 2 L/min}}
legs:
  - {{name: In the car, duration: 1 h, mains: true, supply: bag, devices: [plugged]}}
  - {{name: On foot, duration: 1 h, supply: bag, devices: [pulse]}}
""",
        (
            Typed("type: concentrator", "type: POC", "write `concentrator`"),
            Typed("rate: 20 /min", "rate: 20 bpm", "write 20 /min"),
        ),
        "bag",
        28.8,
        "go",
    ),
    # 18 min x 10 = 180 L; 30 min x 10 = 300 L.
    Kind(
        "A lift in which nothing is changed",
        "in_house",
        f"""\
supplies:
  bed: {{cylinders: [{TWO_E}]}}
devices:
  mask: {{type: simple_mask, flow: 10 L/min}}
legs:
  - {{name: Corridor, duration: 14 min, supply: bed, devices: [mask]}}
  - {{name: Lift, duration: 4 min, no_change: true, supply: bed, devices: [mask]}}
""",
        (
            Typed("no_change: true", "no-change: yes", "write `no_change`"),
            Typed("duration: 4 min", "duration: 4 mins", "write 4 min"),
        ),
        "bed",
        480.0,
        "go",
    ),
    # Each patient on one E: 20 min x 2 = 40 L and 60 L; the other 20 min x 3 = 60 L and 90 L.
    Kind(
        "Two patients",
        "in_house",
        """\
supplies:
  first: {cylinders: [{label: A, size: US-E, gauge: 2000 psi}]}
  second: {cylinders: [{label: B, size: US-E, gauge: 2000 psi}]}
devices:
  one: {type: nasal_cannula, flow: 2 L/min, patient: one}
  two: {type: nasal_cannula, flow: 3 L/min, patient: two}
legs:
  - {name: To scan, duration: 20 min, supply: first, devices: [one, {use: two, supply: second}]}
""",
        (
            Typed("gauge: 2000 psi}]}\n  second", "gauge: \u201c2000 psi\u201d}]}\n  second", "in curly quotes"),
            Typed("supply: first", "supply: frist", "write `first`, or add `frist` under `supplies`"),
        ),
        "second",
        150.0,
        "go",
    ),
    # The only cylinder is not marked: nothing may go in, whatever it holds. 30 min x 2 = 60 L, twice.
    Kind(
        "Magnet room",
        "in_house",
        """\
supplies:
  bed: {cylinders: [{label: A, size: US-E, gauge: 2000 psi, magnet_safe: false}]}
devices:
  cannula: {type: nasal_cannula, flow: 2 L/min}
legs:
  - {name: In the MRI room, duration: 30 min, magnet: true, supply: bed, devices: [cannula]}
""",
        (
            Typed("magnet: true", "MRI: true", "write `magnet`"),
            Typed("magnet_safe: false", "mri safe: no", "write `magnet_safe`"),
        ),
        "bed",
        120.0,
        "no-go",
    ),
    # 10 + 15 + 10 = 35 min x 2 = 70 L; 30 min x 2 = 60 L. At dialysis the wall feeds.
    Kind(
        "Dialysis with wall oxygen there",
        "in_house",
        """\
supplies:
  chair: {cylinders: [{label: A, size: US-D, gauge: 1800 psi}]}
  wall: {pipeline: true}
devices:
  cannula: {type: nasal_cannula, flow: 2 L/min}
legs:
  - {name: There, duration: 10 min, delays: [{reason: wait, time: 15 min}], supply: chair, devices: [cannula]}
  - {name: Dialysis, duration: 4 h, supply: wall, devices: [cannula]}
  - {name: Back, duration: 10 min, supply: chair, devices: [cannula]}
""",
        (
            Typed(
                "delays: [{reason: wait, time: 15 min}]",
                "wait: 15 min",
                "write `delays: [{reason: wait, time: 15 min}]`",
            ),
            Typed("pipeline: true", "pipeline: yes", "write `true`"),
        ),
        "chair",
        130.0,
        "go",
    ),
    # 90 min x 5 = 450 L; half of it more: 675 L. Three E of 424 L, one of them the spare.
    Kind(
        "Ferry with a wall at both ends",
        "road",
        f"""\
supplies:
  cart: {{cylinders: [{TWO_E}, {{label: C, size: US-E, gauge: 2000 psi}}]}}
devices:
  mask: {{type: simple_mask, flow: 5 L/min}}
legs:
  - {{name: Crossing, duration: 90 min, by: water, supply: cart, devices: [mask]}}
""",
        (
            Typed("by: water", "by: ferry", "write `water`"),
            Typed("duration: 90 min", "duration: 1:30", "write 1 h 30 min, or 1 min 30 s if that is meant"),
        ),
        "cart",
        675.0,
        "go",
    ),
    # Nothing is planned: the risen 10 L/min for 15 min are the reserve, and 80 psi above 500 hold some 22 L.
    Kind(
        "An escort just in case",
        "in_house",
        """\
supplies:
  bag: {cylinders: [{label: A, size: US-E, gauge: 580 psi}]}
devices:
  ready: {type: simple_mask, flow: 0 L/min, may_rise_to: mask}
  mask: {type: simple_mask, flow: 10 L/min}
legs:
  - {name: Stairs, duration: 20 min, supply: bag, devices: [ready]}
""",
        (
            Typed("flow: 0 L/min", "flow: 0", "without a unit"),
            Typed("may_rise_to: mask", "may need: mask", "write `may_rise_to`"),
        ),
        "bag",
        150.0,
        "no-go",
    ),
)


def problems(text: str) -> tuple[Problem, ...]:
    """What is wrong with a profile; nothing where it can be read."""
    try:
        parse_trip(text)
    except ProblemsError as error:
        return error.problems
    return ()


def one_round(kind: Kind, text: str) -> str:
    """The profile after a person went through every problem once, from the last to the first so that places stay."""
    for problem in reversed(problems(text)):
        chosen = (
            problem.mends if len(problem.mends) == 1 else [mend for mend in problem.mends if mend.new in kind.meant]
        )
        chosen = chosen or [mend for mend in problem.mends if mend.new == "1 h 30 min"]
        after = mended(text, problem.line, problem.column, chosen[0]) if chosen else None
        if after is None:  # the program asks for what only the person knows: they write the line as they meant it
            (slip,) = [one for one in kind.slips if one.says in str(problem)]
            lines = text.splitlines(keepends=True)
            right = [line for line in kind.meant.splitlines(keepends=True) if slip.right in line]
            lines[problem.line - 1] = right[0]
            after = "".join(lines)
        text = after
    return text


@pytest.mark.hazard(35)
@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_two_slips_are_told_and_two_rounds_lead_to_what_was_meant(kind: Kind) -> None:
    told = "\n".join(map(str, problems(kind.typed)))
    for slip in kind.slips:
        assert slip.says in told
    text = kind.typed
    for _ in range(MOST_ROUNDS):
        text = one_round(kind, text)
    assert problems(text) == ()
    made = plan(parse_trip(text))
    assert same(parse_trip(text)) == same(parse_trip(kind.meant))
    assert made.verdict == kind.verdict, [finding.message for finding in made.findings if finding.level == "stop"]
    assert made.supplies[kind.supply].need.required_l == pytest.approx(kind.required_l, rel=1e-9)
    if kind.usable_l is not None:
        assert made.supplies[kind.supply].usable_l == pytest.approx(kind.usable_l, abs=1.0)


@pytest.mark.hazard(35)
@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind.verdict == "no-go"], ids=lambda kind: kind.name)
def test_no_choice_of_mends_makes_a_go_of_a_trip_that_is_meant_as_a_no_go(kind: Kind) -> None:
    """Every way through the mends, also the wrong choice where there are two."""
    waiting, ends = [kind.typed], 0
    while waiting:
        text = waiting.pop()
        found = problems(text)
        if not found:
            assert plan(parse_trip(text)).verdict == "no-go"
            ends += 1
        for mend in found[-1].mends if found else ():
            after = mended(text, found[-1].line, found[-1].column, mend)
            waiting += [] if after is None else [after]
    assert ends or any(not problem.mends for problem in problems(kind.typed))
