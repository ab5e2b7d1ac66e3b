"""The nomogram, measured on the printed page and held against the equation of state, worked by another library."""

from __future__ import annotations

import math
import random
import re
from itertools import pairwise
from typing import NamedTuple

import pytest
from CoolProp.CoolProp import PropsSI

from planner.constants import KPA_PER_PSI
from planner.pages.pack import Paper, pack_bytes
from planner.planning import plan
from planner.profile.read import parse_trip
from planner.report.chart.graduation import CLOSEST_FIGURES_PT, CLOSEST_MARKS_PT, Scale, graduate
from planner.report.chart.nomogram import flow_range, nomograms
from tests.pages.printed import ISSUED, PAPERS, SHORTEST, TRIPS, Ink, page_numbers, pages, printed, strokes

TITLE = "Nomogram"
HELD = 0.02
"""How exactly the printed scales must give the minutes: 2 %."""


def density(gauge_psi: float, degc: float = 21.1) -> float:
    """Density of oxygen by CoolProp (Schmidt and Wagner 1985), kg/m3, at a gauge pressure."""
    pascal = gauge_psi * KPA_PER_PSI * 1000 + 101325
    return float(PropsSI("D", "T", degc + 273.15, "P", pascal, "Oxygen"))


def minutes(full_l: float, full_psi: float, gauge_psi: float, flow: float, cold_degc: float = 21.1) -> float:
    """Minutes to 500 psi from a gauge, for a cylinder that holds so many litres at a full gauge, 21.1 degC."""
    per_litre = (density(full_psi) - density(0.0)) / full_l
    left_behind = density(500.0, cold_degc) - density(0.0, cold_degc)
    return (density(gauge_psi) - density(0.0) - left_behind) / per_litre / flow


FULL = {"US-E": (0.28 * 2200, 2200.0), "680 L at 2015 psi": (680.0, 2015.0), "US-H": (3.14 * 2200, 2200.0)}
"""Litres at a gauge: factor x 2200 psi (respiratory care textbooks: 0.28 for E, 3.14 for H), or the label."""


class Measured(NamedTuple):
    """One scale as it lies on the page: where it stands, its marks, and the places of its figures."""

    x: float
    marks: list[float]
    figures: dict[float, float]


class Diagram(NamedTuple):
    """Three measured scales under one heading."""

    size: str
    gauge: Measured
    minutes: Measured
    flow: Measured


def measured(data: bytes, number: int) -> list[Diagram]:
    """The diagrams of a page: upright lines are scales, level strokes that begin on one its marks."""
    lines, texts = strokes(data, number), pages(data)[number]
    upright = sorted(line.x1 for line in lines if abs(line.x1 - line.x2) < 0.01 and abs(line.y1 - line.y2) > 300)
    scales = []
    for place, x in enumerate(upright):
        side = -1 if place % 3 == 0 else 1
        ends = [line for line in lines if abs(line.x1 - x) < 0.01 and 2 < side * (line.x2 - x) < 12]
        marks = sorted(line.y1 for line in ends if line.y1 == line.y2)
        figures = {}
        for mark in marks:
            beside = [text for text in texts if _level_with(text, mark) and _beside(text, x, side)]
            if beside:
                assert len(beside) == 1
                figures[float(beside[0].text)] = mark
        scales.append(Measured(x, marks, figures))
    heads = sorted((ink for ink in texts if 13.0 < ink.size < 13.5), key=lambda ink: ink.left)
    return [Diagram(head.text.strip(), *scales[3 * place : 3 * place + 3]) for place, head in enumerate(heads)]


def _level_with(text: Ink, y: float) -> bool:
    return abs((text.bottom + text.top) / 2 - y) < 0.8 and bool(re.fullmatch(r"[\d.]+ *", text.text))


def _beside(text: Ink, x: float, side: int) -> bool:
    return 0 < (text.left - x if side > 0 else x - text.right) < 16


def crossing(one: tuple[float, float], other: tuple[float, float], x: float) -> float:
    """Height at which a straight edge through two points crosses an upright line."""
    return one[1] + (other[1] - one[1]) * (x - one[0]) / (other[0] - one[0])


def read(scale: Measured, y: float) -> float:
    """What a reader finds between two figures of a scale of logarithms."""
    ordered = sorted((place, value) for value, place in scale.figures.items())
    for (low, below), (high, above) in pairwise(ordered):
        if low <= y <= high:
            return float(below * (above / below) ** ((y - low) / (high - low)))
    raise AssertionError(f"{y} lies beyond the figures")


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.longer("name", ["six legs"], ["example", "six legs", "shortest"])
def test_a_straight_edge_gives_the_minutes_to_2_per_cent(name: str, paper: Paper) -> None:
    """At 300 random pairs of gauge and flow for each size, with positions measured on the page."""
    data = printed(name, paper)
    chance = random.Random(f"{name} {paper}")  # noqa: S311 - for a test, not a secret
    tried = 0
    for number in page_numbers(data, TITLE):
        for diagram in measured(data, number):
            if diagram.size not in FULL:
                continue
            cold = -5.0 if (name, diagram.size) == ("six legs", "US-H") else 21.1
            inside = (min(diagram.minutes.figures.values()), max(diagram.minutes.figures.values()))
            for _ in range(300):
                gauge, gauge_y = chance.choice(sorted(diagram.gauge.figures.items()))
                flow, flow_y = chance.choice(sorted(diagram.flow.figures.items()))
                y = crossing((diagram.gauge.x, gauge_y), (diagram.flow.x, flow_y), diagram.minutes.x)
                if inside[0] <= y <= inside[1]:
                    wanted = minutes(*FULL[diagram.size], gauge, flow, cold)
                    assert read(diagram.minutes, y) == pytest.approx(wanted, rel=HELD), (gauge, flow)
                    tried += 1
    assert tried > 250


def test_marks_without_figures_divide_their_space_evenly() -> None:
    """From one figure to the next the marks count up in equal steps: every mark stands where the formula has it."""
    data = printed("shortest")
    (diagram,) = measured(data, page_numbers(data, TITLE)[0])

    def gauge_height(gauge: float) -> float:
        return math.log(minutes(*FULL["US-E"], gauge, 1.0))

    tried = 0
    for scale, height in ((diagram.gauge, gauge_height), (diagram.minutes, math.log), (diagram.flow, math.log)):
        for (low, low_y), (high, high_y) in pairwise(sorted(scale.figures.items())):
            between = sorted(y for y in scale.marks if min(low_y, high_y) < y < max(low_y, high_y))
            between = between if low_y < high_y else between[::-1]
            for place, y in enumerate(between, start=1):
                value = low + (high - low) * place / (len(between) + 1)
                share = (height(value) - height(low)) / (height(high) - height(low))
                assert y == pytest.approx(low_y + share * (high_y - low_y), abs=0.05), value
                tried += 1
    assert tried > 150


def test_the_marks_can_be_told_apart() -> None:
    for name in ("example", "six legs", "shortest", "longest", "unbroken"):
        data = printed(name)
        for number in page_numbers(data, TITLE):
            for diagram in measured(data, number):
                for scale in diagram[1:]:
                    assert isinstance(scale, Measured)
                    assert min(b - a for a, b in pairwise(scale.marks)) > 1.8  # 0.6 mm; whole digits always stand
                    assert min(b - a for a, b in pairwise(sorted(scale.figures.values()))) >= CLOSEST_FIGURES_PT - 0.1


def test_the_example_lies_on_its_figures_and_says_the_minutes() -> None:
    """The dashed line of each diagram: its ends on the figures named below it, its crossing at the minutes named."""
    data = printed("example")
    number = page_numbers(data, TITLE)[0]
    examples = sorted(
        (ink for ink in pages(data)[number] if ink.text.startswith("Example: ")), key=lambda ink: ink.left
    )
    diagrams = measured(data, number)
    assert len(examples) == len(diagrams) == 3
    for text, diagram in zip(examples, diagrams, strict=True):
        found = re.fullmatch(r"Example: (\d+) psi, ([\d.]+) L/min: (\d+) min *", text.text)
        assert found
        gauge, flow, told = float(found[1]), float(found[2]), int(found[3])
        ends = (diagram.gauge.x, diagram.gauge.figures[gauge]), (diagram.flow.x, diagram.flow.figures[flow])
        assert any(
            (line.x1, line.y1, line.x2, line.y2) == pytest.approx((*ends[0], *ends[1]), abs=0.03)
            for line in strokes(data, number)
        )
        assert read(diagram.minutes, crossing(*ends, diagram.minutes.x)) == pytest.approx(told + 0.5, abs=1.0)
        if diagram.size == "US-E":
            assert told == math.floor(minutes(*FULL[diagram.size], gauge, flow))


def test_the_example_is_of_a_flow_near_that_of_the_trip_and_a_gauge_near_full() -> None:
    """2 L/min of the only device. Of 500, 1000, 1500 and 2000 psi, 1500 stands nearest to 0.8 of the scale: by the hand
    method 1000 / 1700 of the litres at 2200 psi and 20 times those at its foot, 1 + log(0.59) / log(20) = 0.82; 2000
    psi stands at 1 + log(0.88) / log(20) = 0.96."""
    (diagram,) = nomograms(plan(parse_trip(SHORTEST)), 500.0)
    assert diagram.example.text.startswith("1500 psi, 2 L/min: ")


def test_it_says_what_it_assumes_and_that_it_keeps_no_reserve() -> None:
    """500 psi at -5 degC are 554.7 psi at 21.1 degC (densities of CoolProp 8.0.0), up to what a gauge shows: 560."""
    number = page_numbers(printed("six legs"), TITLE)[0]
    text = " ".join(ink.text.strip() for ink in pages(printed("six legs"))[number])
    assert "Down to 500 psi; gas at 21.1 °C." in text
    assert "Down to 560 psi; gas at 21.1 °C, at -5 °C when changed." in text
    assert "They last to change-over and keep no reserve." in text
    assert "cart: A, B" in text


def test_more_sizes_than_three_go_on_more_pages() -> None:
    sizes = ["US-D", "US-E", "US-M", "US-H"]
    cylinders = "\n".join(f"      - {{label: {size}, size: {size}, gauge: 2000 psi}}" for size in sizes)
    text = SHORTEST.replace("      - {label: A, size: US-E, gauge: 2000 psi}", cylinders)
    data = pack_bytes(plan(parse_trip(text)), issued=ISSUED)
    found = [[diagram.size for diagram in measured(data, number)] for number in page_numbers(data, TITLE)]
    assert found == [sizes[:2], sizes[2:]]


def test_cylinders_open_together_have_one_diagram() -> None:
    """Two E cylinders on one gauge last twice as long as one."""
    one = "    cylinders:\n      - {label: A, size: US-E, gauge: 2000 psi}"
    two = f"    manifold: true\n{one}\n      - {{label: B, size: US-E, gauge: 2000 psi}}"
    data = pack_bytes(plan(parse_trip(SHORTEST.replace(one, two))), issued=ISSUED)
    (diagram,) = measured(data, page_numbers(data, TITLE)[0])
    assert diagram.size == "2 × US-E"
    places = (diagram.gauge.x, diagram.gauge.figures[1500]), (diagram.flow.x, diagram.flow.figures[5])
    found = read(diagram.minutes, crossing(*places, diagram.minutes.x))
    assert found == pytest.approx(2 * minutes(*FULL["US-E"], 1500, 5), rel=HELD)


@pytest.mark.parametrize("unit", ["bar", "kPa", "MPa"])
def test_the_gauge_scale_is_in_the_unit_of_the_policy(unit: str) -> None:
    made = TRIPS["shortest"]()
    policy = made.trip.policy._replace(pressure_unit=unit)  # type: ignore[arg-type]
    (diagram,) = nomograms(made._replace(trip=made.trip._replace(policy=policy)), 500.0)
    per_unit = {"bar": 100.0, "kPa": 1.0, "MPa": 1000.0}[unit]
    top = {mark.text: mark for mark in diagram.gauge}[f"{10000 / per_unit:g}"]
    foot = {mark.text: mark for mark in diagram.gauge}[f"{5000 / per_unit:g}"]
    litres = [minutes(*FULL["US-E"], kpa / KPA_PER_PSI, 1.0) for kpa in (10000, 5000)]
    moduli = [math.log10(diagram.minutes[-1].value / diagram.minutes[0].value)]
    assert moduli[0] > 2
    decades = math.log10(20)  # the scale begins at a twentieth of its highest litres, to a round gauge
    assert top.place - foot.place == pytest.approx(math.log10(litres[0] / litres[1]) / decades, rel=0.03)
    assert diagram.unit == unit


@pytest.mark.parametrize(("flow", "wanted"), [("2 L/min", (1.0, 25.0)), ("0.13 L/min", (0.1, 25.0))])
def test_the_flows_of_the_plan_lie_on_the_scale(flow: str, wanted: tuple[float, float]) -> None:
    assert flow_range(plan(parse_trip(SHORTEST.replace("2 L/min", flow)))) == wanted


def test_a_no_go_has_no_nomogram() -> None:
    assert page_numbers(printed("no_go"), TITLE) == []


@pytest.mark.parametrize(("low", "high", "length"), [(1.0, 1000.0, 500.0), (0.1, 25.0, 500.0), (1.2, 480.0, 200.0)])
def test_a_scale_of_logarithms_holds_every_digit_of_each_decade(low: float, high: float, length: float) -> None:
    decades = math.log10(high / low)
    marks = graduate(Scale(lambda value: math.log10(value / low) / decades, low, high, length))
    values = [mark.value for mark in marks]
    whole = [float(f"{digit}e{power}") for power in range(-1, 4) for digit in range(1, 10)]
    assert [value for value in whole if low <= value <= high and value not in values] == []
    assert all(low <= value <= high for value in values)
    fine = [mark for mark in marks if mark.level > 0]
    places = sorted(mark.place * length for mark in marks)
    for mark in fine:
        nearest = sorted(abs(mark.place * length - place) for place in places)[1]
        assert nearest >= CLOSEST_MARKS_PT - 1e-6
