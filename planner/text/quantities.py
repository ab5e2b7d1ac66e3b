"""Text to float: the closed grammar of quantities.

A quantity is a decimal number and a unit from the table of its kind (`planner.text.unit_table`). The number is read
first, by a grammar of its own that knows no exponent, no comma and no sign where none makes sense; the unit must
then stand in the table as written. Whatever is left over is refused, with a way to mend it. Values are worked out
as exact fractions and rounded to a float once, at the end.

The units library pint is asked only about a unit that is not in the table, and only to name it in the error. It
reads too much into too little to be trusted with a value: `2,5 L/min` as 25, `2 L/Min` as litres per megainch.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Callable
from fractions import Fraction
from typing import TYPE_CHECKING, Any, Final

from planner import figures
from planner.text.quantity_mends import (
    CURLY,
    QuantityError,
    after_point,
    decimal,
    negative,
    not_a_number,
    ready,
    unit_missing,
    wrong_unit,
)
from planner.text.text_file import one_line, show
from planner.text.unit_table import KINDS

if TYPE_CHECKING:
    import pint

__all__ = ["QuantityError", "parse"]

MOST_DIGITS: Final = 12
_MOST_MENDS: Final = 4
LEAST_DEGC: Final = -273.15

_NUMBER = re.compile(r"([+-]?)([0-9]+)(?:\.([0-9]+))? *")
_POINT_OF_THREE = re.compile(r"([+-]?)([1-9][0-9]{0,2})\.([0-9]{3})(?![0-9])")
_PART = re.compile(r"([0-9]+)(?:\.([0-9]+))? *([A-Za-z]+) *")
_PART_OF_TIME = re.compile(r"([0-9]) *(h|min|s) *")
_NO_UNIT = re.compile(r"/ *[0-9]|[\u00bc-\u00be]|['\u2019][0-9]|[0-9.,:;_+~<>=\-\u2013\u2212]|[eE][+-]?[0-9]|to\b")
_ODD_SPACE = re.compile(r"[^\S ]|\u200b")
_LETTERS = re.compile(r"[A-Za-z]+(?:/[A-Za-z]+)?")


def parse(
    text: str,
    kind: str,
    *,
    low: float | None = None,
    high: float | None = None,
    above: float | None = None,
    holds: Callable[[float], bool] | None = None,
) -> float:
    """The value of a quantity in the base unit of its kind.

    Kinds and base units: flow [L/min], volume [L], duration [min], gauge [kPa gauge], cabin_pressure [kPa
    absolute], altitude [m], temperature [degC], rate [/min], fraction [1, at most 1], number [1], count [1, whole],
    mass [kg].

    `low` and `high` are inclusive limits and `above` is an exclusive one, all in the base unit. Only temperature
    and altitude may carry a sign; no temperature is below -273.15 degC. At most 12 digits are read. `holds` says
    whether a value can be one of its key: a number such as `8.000 ft` is asked about where eight thousand can be.

    Raises `QuantityError` for a text that is no such quantity, `KeyError` for an unknown kind.

    >>> parse("450 mL", "volume")
    0.45
    >>> parse("1 h 20 min", "duration")
    80.0
    >>> parse("60 %", "fraction") == parse("0.60", "fraction") == 0.6
    True
    """
    try:
        exact, unit = _read(text, kind)
    except QuantityError as error:
        raise _readable(error, kind) from None
    value = float(exact)
    if holds is not None:
        _ask_thousands(text, kind, value, holds)
    if kind == "fraction":
        high = 1.0 if high is None else min(high, 1.0)
    if kind == "temperature":
        low = LEAST_DEGC if low is None else max(low, LEAST_DEGC)
    _check_range(text, kind, unit, value, low, high, above)
    return value


def _ask_thousands(text: str, kind: str, value: float, holds: Callable[[float], bool]) -> None:
    """Raises where a point before exactly three digits can part thousands: `8.000 ft` is 8000 ft to many hands."""
    plain = text.strip(" ")
    match = _POINT_OF_THREE.match(plain)
    if match is None:
        return
    sign, whole, decimals = match.groups()
    rest = plain[match.end() :]
    thousands = f"{sign}{whole}{decimals}{rest}"
    if not holds(float(_read(thousands, kind)[0])):
        return
    found = f"{show(plain)}, where the point may part thousands"
    if not holds(value):
        raise ready(found, kind, (thousands,), code="thousands_or_point")
    point = f"{sign}{after_point(whole, decimals)}{rest}"
    raise ready(found, kind, (thousands, point), " if it is a decimal point", code="thousands_or_point")


def _readable(error: QuantityError, kind: str) -> QuantityError:
    """The same error, every mend of it one that can be read: `1hr30` becomes `1 h 30` and then `1 h 30 min`."""
    fix, mends = error.fix, []
    for mend in error.mends:
        sound, last = _sound(mend, kind)
        if last is not None:
            words = f"write it as in {KINDS[kind].example}"
            if last.code == "unit_missing":
                words = f"{error.fix}, with its unit: {KINDS[kind].units_in_words}"
            return QuantityError(error.found, error.allowed, words, error.code)
        fix = fix.replace(one_line(mend), one_line(sound), 1)
        mends.append(sound)
    return QuantityError(error.found, error.allowed, fix, error.code, tuple(mends))


def _sound(mend: str, kind: str) -> tuple[str, QuantityError | None]:
    """A mend after as many mends of its own as it takes to be read, and what is wrong where that leads nowhere."""
    last: QuantityError | None = None
    for _ in range(_MOST_MENDS):
        try:
            _read(mend, kind)
        except QuantityError as error:
            last = error
            if len(error.mends) != 1:
                break
            mend = error.mends[0]
        else:
            return mend, None
    return mend, last


def _read(text: str, kind: str) -> tuple[Fraction, str]:
    """The exact value in the base unit, and the unit as written."""
    spec = KINDS[kind]
    plain = text.strip(" ")
    if _ODD_SPACE.search(plain):
        anew = " ".join(_ODD_SPACE.sub(" ", plain).split())
        raise ready(f"{show(plain)} with a space that is not a plain one", kind, (anew,))
    if plain[-1:] in CURLY and plain:
        raise not_a_number(plain, kind)
    match = _NUMBER.match(plain)
    if match is None:
        raise not_a_number(plain, kind)
    sign, whole, decimals = match.groups()
    number_text = match.group().rstrip(" ")
    unit = re.sub(r" */ *", "/", plain[match.end() :])
    if kind == "duration" and " and " in unit:
        raise not_a_number(plain, kind)
    if _NO_UNIT.match(unit):
        raise not_a_number(plain, kind)
    number = _number(plain, kind, whole, decimals)
    if sign and not spec.signed:
        raise negative(plain, kind)
    if sign == "-":
        number = -number
    if not unit:
        return _bare(plain, kind, number, decimals), ""
    if unit in spec.units:
        return number * spec.units[unit] + spec.offsets.get(unit, 0), unit
    if kind == "duration" and any(char.isdigit() for char in unit):
        return _hours_minutes_seconds(plain), "min"
    raise wrong_unit(plain, kind, number_text, unit, "", _name_of_unit)


def _number(plain: str, kind: str, whole: str, decimals: str | None, begins: bool = True) -> Fraction:
    """The number, if it has few enough digits and does not begin with a needless zero."""
    if len(whole) + len(decimals or "") > MOST_DIGITS:
        found = f"{show(plain)} with more than {MOST_DIGITS} digits"
        raise QuantityError(found, KINDS[kind].allowed, "write fewer digits")
    if begins and len(whole) > 1 and whole[0] == "0":
        sign = plain[0] if plain[0] in "+-" else ""
        rest = plain[len(sign) + len(whole) :]
        meant = (sign + (whole.lstrip("0") or "0") + rest,)
        found = f"{show(plain)} begins with a zero"
        if decimals is None and whole.strip("0"):
            raise ready(found, kind, (*meant, f"{sign}0.{whole[1:]}{rest}"), " if a decimal point is missing")
        raise ready(found, kind, meant)
    return Fraction(f"{whole}.{decimals or 0}")


def _bare(plain: str, kind: str, number: Fraction, decimals: str | None) -> Fraction:
    """A number without a unit, where its kind allows one."""
    spec = KINDS[kind]
    if not spec.bare:
        raise unit_missing(plain, kind)
    if kind == "count" and decimals is not None:
        raise QuantityError(f"{show(plain)} with a decimal point", spec.allowed, "write it without the point")
    if kind == "fraction" and number > 1:
        found = f"{show(plain)}, above 1 and without %"
        if number <= 100:
            raise ready(found, kind, (f"{plain} %", decimal(number / 100, 2)), code="unit_missing")
        fix = "write a number from 0 to 1, or a percentage"
        raise QuantityError(found, spec.allowed, fix, "unit_missing")
    return number


def _hours_minutes_seconds(plain: str) -> Fraction:
    """Minutes of `1 h 20 min`: hours, minutes and seconds, each at most once and in this order.

    Every part but the first is below 60 and only whole numbers stand in it.
    """
    spec = KINDS["duration"]
    order = ("h", "min", "s")
    total, last, place = Fraction(0), -1, 0
    while place < len(plain):
        match = _PART.match(plain, place)
        if match is None:
            rest = plain[place:]
            if rest.isdigit() and last == 0:
                raise ready(
                    f"{show(plain)}, where {rest} has no unit",
                    "duration",
                    (_PART_OF_TIME.sub(r"\1 \2 ", plain) + " min",),
                )
            raise QuantityError(show(plain), spec.allowed, "write hours and minutes as in 1 h 20 min")
        whole, decimals, unit = match.groups()
        number = _number(plain, "duration", whole, decimals, begins=place == 0 or len(whole) > 2)
        if unit not in order:
            raise wrong_unit(
                plain, "duration", plain[: match.end(2 if decimals else 1)], unit, plain[match.end() :], _name_of_unit
            )
        rank = order.index(unit)
        if rank <= last:
            raise QuantityError(show(plain), spec.allowed, "write hours first, then minutes, as in 1 h 20 min")
        if decimals is not None or (last >= 0 and number >= 60):
            fix = "write one unit alone, as in 80 min, or whole parts below 60, as in 1 h 20 min"
            raise QuantityError(show(plain), spec.allowed, fix)
        total += number * spec.units[unit]
        last, place = rank, match.end()
    return total


def _check_range(
    text: str, kind: str, unit: str, value: float, low: float | None, high: float | None, above: float | None
) -> None:
    if (low is None or value >= low) and (high is None or value <= high) and (above is None or value > above):
        return
    parts = []
    if above is not None:
        parts.append(f"above {_limit(above, kind, unit, figures.limit_up)}")
    if low is not None and high is not None:
        parts.append(
            f"from {_limit(low, kind, unit, figures.limit_up)} to {_limit(high, kind, unit, figures.limit_down)}"
        )
    elif low is not None:
        parts.append(f"{_limit(low, kind, unit, figures.limit_up)} or more")
    elif high is not None:
        parts.append(f"{_limit(high, kind, unit, figures.limit_down)} or less")
    fix = "write a value within these limits"
    mends: tuple[str, ...] = ()
    if unit == "%" and value < (low or 0.0) <= 100 * value <= (high or 1.0):
        # A share with a percent sign after it: `0.6 %`.
        number = Fraction(text.partition("%")[0].strip())
        mends = (f"{decimal(number * 100)} %", decimal(number, 2))
        fix = f"write {mends[0]} or {mends[1]}"
    limits = f"{KINDS[kind].title}, {' and '.join(parts)}"
    raise QuantityError(show(text.strip()), limits, fix, "out_of_range", mends)


def _limit(bound: float, kind: str, unit: str, written: Callable[[float], str]) -> str:
    """A limit in the unit that was typed."""
    spec = KINDS[kind]
    if kind == "fraction":
        return f"{figures.plain(bound, 10)} ({figures.plain(bound * 100, 10)} %)"
    if unit not in spec.units:
        return f"{figures.plain(bound, 10)} {spec.base}".strip()
    return f"{written((bound - float(spec.offsets.get(unit, 0))) / float(spec.units[unit]))} {unit}"


_DIMENSIONS: Final = {
    "[length]": "a length",
    "[time]": "a time",
    "[mass]": "a mass",
    "[temperature]": "a temperature",
    "[length] ** 2": "an area",
    "[length] ** 3": "a volume",
    "[length] ** 3 / [time]": "a flow",
    "[mass] / [length] / [time] ** 2": "a pressure",
    "1 / [time]": "a rate",
}


@functools.cache
def _registry() -> pint.UnitRegistry[Any]:
    """The one private unit registry, built on the first unit outside the table."""
    import pint  # takes half a second, and is needed for rare faults only

    return pint.UnitRegistry(cache_folder=None)


@functools.lru_cache(maxsize=256)
def _name_of_unit(unit: str) -> str | None:
    """What a unit outside the table would be, in words, or None where nobody knows."""
    if _LETTERS.fullmatch(unit) is None:
        return None
    try:
        known = _registry().parse_units(unit)
        dimension = _DIMENSIONS.get(str(known.dimensionality))
    except Exception:  # noqa: BLE001  (pint raises errors of many kinds on foreign text, and none of them matters here)
        return None
    name = str(known).replace("_", " ").replace("liter", "litre").replace("meter", "metre")
    return f"{name} ({dimension})" if dimension else name
