"""The kinds of quantity and the units that are read for each.

A unit has to be written as it stands here, capitals included. Factors come from `planner.constants`; the tests hold
every one of them against an independent units library.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from types import MappingProxyType
from typing import Any, Final, NamedTuple

from planner.constants import (
    KG_PER_LB,
    KG_PER_LIQUID_L,
    KPA_PER_BAR,
    KPA_PER_INHG,
    KPA_PER_MMHG,
    KPA_PER_MPA,
    KPA_PER_PSI,
    M_PER_FT,
)

_NOTHING: Final[Mapping[str, Any]] = MappingProxyType({})


class QuantityKind(NamedTuple):
    """How one kind of quantity is written.

    A unit stands for `factor x number + offset` in the base unit. `shown` are the units that messages list.
    `signed` allows a sign, `bare` a number without a unit. `meant` gives, for spellings that are not read, the unit
    most likely meant; `reasons` says of units why they are not read. Where `stop_counts`, a stop behind a unit, as in
    `lb.`, is not taken for the end of its abbreviation, for it leaves open which unit was meant.
    """

    title: str
    base: str
    units: Mapping[str, Fraction]
    shown: tuple[str, ...]
    example: str
    signed: bool = False
    bare: bool = False
    offsets: Mapping[str, Fraction] = _NOTHING
    meant: Mapping[str, str] = _NOTHING
    reasons: Mapping[str, str] = _NOTHING
    stop_counts: bool = False

    @property
    def units_in_words(self) -> str:
        """`psi, bar, kPa or MPa`; empty for a kind without units."""
        if len(self.shown) < 2:
            return "".join(self.shown)
        return f"{', '.join(self.shown[:-1])} or {self.shown[-1]}"

    @property
    def allowed(self) -> str:
        """What may stand for this kind, as a phrase: `a time in min, s or h, as in 12 min`."""
        if self.bare:
            return f"{self.title}, such as {self.example}"
        return f"{self.title} in {self.units_in_words}, as in {self.example}"


def _one(*names: str, factor: Fraction | float = 1) -> dict[str, Fraction]:
    return dict.fromkeys(names, Fraction(factor))


def _spelt(unit: str, *spellings: str) -> dict[str, str]:
    return dict.fromkeys(spellings, unit)


_LITRES: Final = ("litre", "litres", "liter", "liters")
_THOUSANDTH: Final = Fraction(1, 1000)
_NOT_GAUGE: Final = "is read only for cabin pressures"
_NOT_CABIN: Final = "is read only for gauges on cylinders; a cabin pressure is absolute"
_ABSOLUTE: Final = "is an absolute pressure; cylinders are read by their gauge"

KINDS: Final[Mapping[str, QuantityKind]] = {
    "flow": QuantityKind(
        "a flow",
        "L/min",
        _one("L/min", "l/min", "LPM", "lpm") | _one("mL/min", "ml/min", factor=_THOUSANDTH),
        ("L/min", "LPM", "mL/min"),
        "2 L/min",
        meant=_spelt("L/min", "L", "l", "L/m", "l/m", "litres/min", "liters/min", "L per min", "L min")
        | _spelt("L/min", "l/mn", "l/minute", "litres/minute", "liters/minute", "liter/min", "litre/min", "lt", "ltr")
        | _spelt("L/min", *(f"{litre} {each} minute" for litre in _LITRES for each in ("a", "per")), *_LITRES),
        reasons={unit: f"{unit} is a volume" for unit in ("L", "l", "mL", "ml", *_LITRES)}
        | dict.fromkeys(("L/m", "l/m"), "m stands for metres"),
    ),
    "volume": QuantityKind(
        "a volume",
        "L",
        _one("L", "l") | _one("mL", "ml", factor=_THOUSANDTH),
        ("L", "mL"),
        "450 mL",
        meant=_spelt("L", "litre", "litres", "liter", "liters")
        | _spelt("mL", "cc", "mls", "millilitre", "millilitres", "milliliter", "milliliters"),
    ),
    "duration": QuantityKind(
        "a time",
        "min",
        _one("min") | _one("s", factor=Fraction(1, 60)) | _one("h", factor=60),
        ("min", "s", "h"),
        "12 min",
        meant=_spelt("min", "m", "mins", "minute", "minutes", "mn", "minuten", "'", "\u2019")
        | _spelt("s", "sec", "secs", "second", "seconds", "sek", "sekunden", "secondes")
        | _spelt("h", "hr", "hrs", "hour", "hours", "heure", "heures", "std", "stunde", "stunden"),
        reasons={"m": "m stands for metres"},
    ),
    "gauge": QuantityKind(
        "a gauge pressure",
        "kPa",
        _one("psi", "psig", "PSI", "PSIG", factor=KPA_PER_PSI)
        | _one("bar", factor=KPA_PER_BAR)
        | _one("kPa")
        | _one("MPa", factor=KPA_PER_MPA),
        ("psi", "bar", "kPa", "MPa"),
        "1900 psi",
        meant=_spelt("bar", "bars", "barg") | _spelt("psi", "lb/in2", "psi gauge"),
        reasons={unit: f"{unit} {_NOT_GAUGE}" for unit in ("mmHg", "hPa", "inHg")}
        | {unit: f"{unit} {_ABSOLUTE}" for unit in ("psia", "bara")}
        | {"mPa": "mPa stands for a thousandth of a pascal", "mbar": "mbar stands for a thousandth of a bar"},
    ),
    "cabin_pressure": QuantityKind(
        "an absolute cabin pressure",
        "kPa",
        _one("mmHg", factor=KPA_PER_MMHG)
        | _one("kPa")
        | _one("hPa", factor=Fraction(1, 10))
        | _one("inHg", factor=KPA_PER_INHG),
        ("mmHg", "kPa", "hPa", "inHg"),
        "565 mmHg",
        meant=_spelt("hPa", "mbar", "mb"),
        reasons={unit: f"{unit} {_NOT_CABIN}" for unit in ("psi", "psig", "PSI", "PSIG", "bar", "MPa")},
    ),
    "altitude": QuantityKind(
        "an altitude",
        "m",
        _one("ft", factor=M_PER_FT) | _one("m"),
        ("ft", "m"),
        "8000 ft",
        signed=True,
        meant=_spelt("ft", "feet", "foot", "'", "\u2019") | _spelt("m", "metre", "metres", "meter", "meters"),
    ),
    "temperature": QuantityKind(
        "a temperature",
        "degC",
        _one("degC", "°C") | _one("degF", "°F", factor=Fraction(5, 9)),
        ("degC", "degF"),
        "15 degC",
        signed=True,
        offsets=_one("degF", "°F", factor=Fraction(-160, 9)),
        meant=_spelt("degC", "C", "° C", "ºC", "℃", "deg C", "celsius", "degrees C")
        | _spelt("degF", "F", "° F", "ºF", "℉", "deg F", "fahrenheit", "degrees F"),
    ),
    "rate": QuantityKind(
        "a rate",
        "/min",
        _one("/min"),
        ("/min",),
        "16 /min",
        meant=_spelt("/min", "bpm", "breaths/min", "breaths per minute", "per min", "per minute", "1/min", "min", "/m"),
    ),
    "fraction": QuantityKind(
        "a fraction or a percentage",
        "",
        _one("%", factor=Fraction(1, 100)),
        ("%",),
        "0.60 or 60 %",
        bare=True,
        meant=_spelt("%", "percent", "per cent", "pct"),
    ),
    "number": QuantityKind("a number without a unit", "", {}, (), "1.5", bare=True),
    "count": QuantityKind("a whole number without a unit", "", {}, (), "2", bare=True),
    "liquid": QuantityKind(
        "an amount of liquid oxygen",
        "kg",
        _one("kg") | _one("lb", factor=KG_PER_LB) | _one("L", "l", factor=KG_PER_LIQUID_L),
        ("lb", "kg", "L"),
        "12 lb",
        meant=_spelt("lb", "lbs", "pounds", "pound") | _spelt("L", "litre", "litres", "liter", "liters"),
    ),
    "liquid_loss": QuantityKind(
        "a loss of liquid oxygen",
        "kg/day",
        _one("kg/day") | _one("lb/day", factor=KG_PER_LB) | _one("L/day", "l/day", factor=KG_PER_LIQUID_L),
        ("lb/day", "kg/day", "L/day"),
        "1.5 lb/day",
        meant=_spelt("lb/day", "lb/d", "lbs/day", "lb a day", "lb per day") | _spelt("kg/day", "kg/d", "kg a day"),
    ),
    "mass": QuantityKind(
        "a mass",
        "kg",
        _one("kg") | _one("lb", factor=KG_PER_LB),
        ("kg", "lb"),
        "6 kg",
        meant=_spelt("lb", "lbs", "pound", "pounds") | _spelt("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms"),
        stop_counts=True,
    ),
}
