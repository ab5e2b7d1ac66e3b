"""Quantities as people write them: what is read, what is refused, and how the refusal helps."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pint
import pytest

from planner.constants import KPA_PER_PSI
from planner.text.label_contents import LabelContents, label_contents
from planner.text.quantities import QuantityError, parse
from planner.text.unit_table import KINDS

pytestmark = pytest.mark.hazard(4)

ROOT = Path(__file__).resolve().parent.parent
REFUSED = ROOT / "tests" / "refused_quantities.txt"

READ = [
    ("2 L/min", "flow", 2.0),
    ("2.5 l/min", "flow", 2.5),
    ("15 LPM", "flow", 15.0),
    ("15lpm", "flow", 15.0),
    ("250 mL/min", "flow", 0.25),
    ("2 L / min", "flow", 2.0),
    ("0 L/min", "flow", 0.0),
    ("3000 L", "volume", 3000.0),
    ("3000 l", "volume", 3000.0),
    ("450 mL", "volume", 0.45),
    ("450ml", "volume", 0.45),
    ("12 min", "duration", 12.0),
    ("90 s", "duration", 1.5),
    ("2 h", "duration", 120.0),
    ("1.5 h", "duration", 90.0),
    ("1 h 20 min", "duration", 80.0),
    ("1h20min", "duration", 80.0),
    ("1 h 05 min", "duration", 65.0),
    ("1 h 20 min 30 s", "duration", 80.5),
    ("1 h 30 s", "duration", 60.5),
    ("100 bar", "gauge", 10_000.0),
    ("13700 kPa", "gauge", 13_700.0),
    ("13.7 MPa", "gauge", 13_700.0),
    ("565 mmHg", "cabin_pressure", 565 * 0.133322387415),  # NIST SP 811 (2008), B.9, from memory: 1.333 224 E+02 Pa
    ("29.92 inHg", "cabin_pressure", 29.92 * 25.4 * 0.133322387415),
    ("1013.25 hPa", "cabin_pressure", 101.325),
    ("75.3 kPa", "cabin_pressure", 75.3),
    ("8000 ft", "altitude", 2438.4),  # the foot is 0.3048 m
    ("-400 m", "altitude", -400.0),
    ("+120 m", "altitude", 120.0),
    ("15 degC", "temperature", 15.0),
    ("-5 °C", "temperature", -5.0),
    ("32 degF", "temperature", 0.0),
    ("212 °F", "temperature", 100.0),
    ("-40 degF", "temperature", -40.0),
    ("16/min", "rate", 16.0),
    ("16 /min", "rate", 16.0),
    ("60 %", "fraction", 0.6),
    ("60%", "fraction", 0.6),
    ("0.60", "fraction", 0.6),
    ("1.00", "fraction", 1.0),
    ("100 %", "fraction", 1.0),
    ("1.5", "number", 1.5),
    ("2", "count", 2.0),
    ("6.4 kg", "mass", 6.4),
    ("10 lb", "mass", 4.5359237),  # the pound is 0.45359237 kg
    (" 12 min ", "duration", 12.0),
]


@pytest.mark.parametrize(("text", "kind", "value"), READ, ids=[row[0] for row in READ])
def test_read(text: str, kind: str, value: float) -> None:
    assert parse(text, kind) == pytest.approx(value, rel=1e-15, abs=1e-15)


@pytest.mark.parametrize("unit", ["psi", "psig", "PSI", "PSIG"])
def test_pounds_per_square_inch(unit: str) -> None:
    # NIST SP 811 (2008), B.9, from memory: 1 psi = 6.894 757 E+03 Pa.
    assert parse(f"2200 {unit}", "gauge") == pytest.approx(2200 * 6.894757, rel=1e-7)


def test_a_typed_pressure_equals_the_same_default() -> None:
    # A policy that repeats a default must not look like an override for the sake of one bit.
    assert [parse(f"{psi} psi", "gauge") for psi in (200, 500, 2000, 2015)] == [
        psi * KPA_PER_PSI for psi in (200, 500, 2000, 2015)
    ]


def test_decimals_come_out_as_python_reads_them() -> None:
    assert [parse(f"{number} L", "volume") for number in ("0.1", "0.3", "7.2", "123456.789012")] == [
        0.1,
        0.3,
        7.2,
        123456.789012,
    ]


# The names that the independent library gives to the units of the table. It knows no gauge pressure: psig is psi there.
PINT_NAMES = {
    "L/min": "liter / minute",
    "l/min": "liter / minute",
    "LPM": "liter / minute",
    "lpm": "liter / minute",
    "mL/min": "milliliter / minute",
    "ml/min": "milliliter / minute",
    "L": "liter",
    "l": "liter",
    "mL": "milliliter",
    "ml": "milliliter",
    "min": "minute",
    "s": "second",
    "h": "hour",
    "psi": "pound_force_per_square_inch",
    "psig": "pound_force_per_square_inch",
    "PSI": "pound_force_per_square_inch",
    "PSIG": "pound_force_per_square_inch",
    "bar": "bar",
    "kPa": "kilopascal",
    "MPa": "megapascal",
    "mmHg": "millimeter_Hg",
    "hPa": "hectopascal",
    "inHg": "inch_Hg",
    "ft": "foot",
    "m": "meter",
    "degC": "degree_Celsius",
    "°C": "degree_Celsius",
    "degF": "degree_Fahrenheit",
    "°F": "degree_Fahrenheit",
    "/min": "1 / minute",
    "%": "percent",
    "kg": "kilogram",
    "lb": "pound",
    "kg/day": "kilogram / day",
    "lb/day": "pound / day",
}
PINT_BASES = {
    "flow": "liter / minute",
    "volume": "liter",
    "duration": "minute",
    "gauge": "kilopascal",
    "cabin_pressure": "kilopascal",
    "altitude": "meter",
    "temperature": "degree_Celsius",
    "rate": "1 / minute",
    "fraction": "dimensionless",
    "mass": "kilogram",
    "liquid": "kilogram",
    "liquid_loss": "kilogram / day",
}
OF_LIQUID = {("liquid", "L"), ("liquid", "l"), ("liquid_loss", "L/day"), ("liquid_loss", "l/day")}
"""Litres of liquid are weighed: 860 L of gas in `test_liquid.py`."""
EVERY_UNIT = [(kind, unit) for kind in KINDS for unit in tuple(KINDS[kind].units) if (kind, unit) not in OF_LIQUID]


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry[float]:
    return pint.UnitRegistry(cache_folder=None)


@pytest.mark.parametrize(("kind", "unit"), EVERY_UNIT)
@pytest.mark.parametrize("number", ["0", "0.37", "48"])
def test_every_factor_against_pint(registry: pint.UnitRegistry[float], kind: str, unit: str, number: str) -> None:
    outside = registry.Quantity(float(number), PINT_NAMES[unit]).to(PINT_BASES[kind]).magnitude
    # pint takes 13 595.1 kg/m3 and 9.80665 m/s2 for mercury, as here; nine digits are more than any gauge shows.
    assert parse(f"{number} {unit}", kind) == pytest.approx(outside, rel=1e-9, abs=1e-12)


def test_the_base_unit_of_each_kind_has_factor_one() -> None:
    for name, spec in KINDS.items():
        if spec.base:
            assert spec.units[spec.base] == 1, name


def refused() -> list[tuple[str, str, str]]:
    """Kind, text and the whole message of each case in refused_quantities.txt."""
    cases = re.findall(r"^== (\w+): ?(.*)\n(.+)$", REFUSED.read_text(encoding="utf-8"), re.MULTILINE)
    shown = re.compile(r"<U\+([0-9A-F]{4,6})>")
    return [(kind, shown.sub(lambda code: chr(int(code[1], 16)), text), message) for kind, text, message in cases]


@pytest.mark.parametrize(("kind", "text", "message"), refused(), ids=lambda part: ascii(part)[1:-1][:40])
def test_refused(kind: str, text: str, message: str) -> None:
    read: Callable[[], object] = partial(label_contents, text) if kind == "label" else partial(parse, text, kind)
    with pytest.raises(QuantityError) as caught:
        read()
    error = caught.value
    assert f"{error.code}  {error}" == message
    assert str(error) == f"{error.found}; allowed: {error.allowed}. Fix: {error.fix}."


def test_what_a_refusal_proposes_can_be_read() -> None:
    # `write 2.5 L/min`, `write 10 L, or 0.10 L if ...`, but not `write 12 with its unit: ...`
    proposals = [
        (kind, match[1])
        for kind, _, message in refused()
        if kind != "label"
        and (match := re.search(r"Fix: write (-?[0-9](?:[^.,]|[.][0-9])*?)(?: alone|, or .*| or .*)?[.]$", message))
        and "with its unit" not in message
    ]
    assert len(proposals) > 30
    for kind, proposal in proposals:
        parse(proposal, kind)


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_the_example_of_each_kind_can_be_read(kind: str) -> None:
    for example in KINDS[kind].example.split(" or "):
        parse(example, kind)
    assert KINDS[kind].example in KINDS[kind].allowed


def test_an_unknown_kind_is_a_fault_of_the_caller() -> None:
    with pytest.raises(KeyError, match="colour"):
        parse("12", "colour")


# text, kind, limits, allowed, fix
LIMITS = [
    (
        "0.2",
        "fraction",
        {"low": 0.21, "high": 1.0},
        "a fraction or a percentage, from 0.21 (21 %) to 1 (100 %)",
        "write a value within these limits",
    ),
    (
        "0.6 %",
        "fraction",
        {"low": 0.21, "high": 1.0},
        "a fraction or a percentage, from 0.21 (21 %) to 1 (100 %)",
        "write 60 % or 0.60",
    ),
    (
        "101 %",
        "fraction",
        {},
        "a fraction or a percentage, 1 (100 %) or less",
        "write a value within these limits",
    ),
    ("0 min", "duration", {"above": 0.0}, "a time, above 0 min", "write a value within these limits"),
    (
        "0 s",
        "duration",
        {"above": 0.0, "high": 60.0},
        "a time, above 0 s and 3600 s or less",
        "write a value within these limits",
    ),
    (
        "7000 psi",
        "gauge",
        {"high": 40_000.0},
        "a gauge pressure, 5801.5 psi or less",
        "write a value within these limits",
    ),
    ("-1000 m", "altitude", {"low": -600.0}, "an altitude, -600 m or more", "write a value within these limits"),
    (
        "-274 degC",
        "temperature",
        {},
        "a temperature, -273.15 degC or more",
        "write a value within these limits",
    ),
    (
        "200 degF",
        "temperature",
        {"low": -60.0, "high": 80.0},
        "a temperature, from -76 degF to 176 degF",
        "write a value within these limits",
    ),
]


@pytest.mark.parametrize(("text", "kind", "limits", "may", "fix"), LIMITS, ids=[row[0] for row in LIMITS])
def test_limits(text: str, kind: str, limits: dict[str, float], may: str, fix: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse(text, kind, low=limits.get("low"), high=limits.get("high"), above=limits.get("above"))
    error = caught.value
    assert (error.code, error.found, error.allowed, error.fix) == ("out_of_range", f"`{text}`", may, fix)


def test_limits_are_inclusive_but_for_above() -> None:
    assert parse("0.21", "fraction", low=0.21, high=1.0) == 0.21
    assert parse("100 %", "fraction", low=0.21, high=1.0) == 1.0
    assert parse("1 s", "duration", above=0.0) > 0.0


# Lutman and Petros, Emerg Med J 2006;23:703: UK D 340 L at 13 700 kPa, CD 460 L at 23 000 kPa, contents at 15 degC.
LABELS = [
    ("680 L at 2015 psi", LabelContents(680.0, 2015 * KPA_PER_PSI, 21.1)),
    ("680 L at 2015 psi at 15 degC", LabelContents(680.0, 2015 * KPA_PER_PSI, 15.0)),
    ("680 L  at  2015 PSIG", LabelContents(680.0, 2015 * KPA_PER_PSI, 21.1)),
    ("340 L at 13700 kPa", LabelContents(340.0, 13_700.0, 15.0)),
    ("460 L at 230 bar", LabelContents(460.0, 23_000.0, 15.0)),
    ("460 L at 23 MPa at 59 degF", LabelContents(460.0, 23_000.0, 15.0)),
]


@pytest.mark.parametrize(("text", "contents"), LABELS, ids=[row[0] for row in LABELS])
def test_label(text: str, contents: LabelContents) -> None:
    assert label_contents(text) == contents


def test_a_long_text_is_cut_in_the_message() -> None:
    with pytest.raises(QuantityError) as caught:
        parse("9" * 5000 + "\x1b[31m", "flow")
    assert caught.value.found == f"`{'9' * 57}...` with more than 12 digits"


def test_pint_is_loaded_for_a_unit_outside_the_table_only() -> None:
    script = (
        "import sys\n"
        "from planner.text.quantities import QuantityError, parse\n"
        "parse('2 L/min', 'flow'); parse('1 h 20 min', 'duration')\n"
        "for text in ('2 L/Min', '2,5 L/min', '2', 'nan L'):\n"
        "    try: parse(text, 'flow')\n"
        "    except QuantityError: pass\n"
        "before = 'pint' in sys.modules\n"
        "try: parse('2 gal', 'flow')\n"
        "except QuantityError: pass\n"
        "print(before, 'pint' in sys.modules)\n"
    )
    ran = subprocess.run([sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True)
    assert ran.stdout.split() == ["False", "True"]
