"""What to say about a text that is no quantity: what was found, what is allowed, and the likeliest mend.

A mend is a proposal for a person to judge; nothing here ever becomes a value.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction
from typing import Final

from planner import figures
from planner.text.text_file import LONGEST_SHOWN, one_line, show
from planner.text.unit_table import KINDS

_LONGEST_JUDGED: Final = 200

CURLY: Final = "\u2018\u2019\u201a\u201b\u201c\u201d\u201e\u201f\u00ab\u00bb"
"""Quotes that a telephone or a word processor puts in place of the plain ones; to YAML they are letters."""


class QuantityError(ValueError):
    """A text that is not a quantity of the kind asked for.

    `found`, `allowed` and `fix` are phrases without a full stop, as in `planner.problems.Problem`. `code` is
    `not_a_number`, `thousands_or_point`, `unit_missing`, `unit_unknown`, `unit_not_wanted` or `out_of_range`.
    `mends` are the texts that `fix` offers ready to type; each of them can be read.
    """

    def __init__(
        self, found: str, allowed: str, fix: str, code: str = "not_a_number", mends: tuple[str, ...] = ()
    ) -> None:
        super().__init__(f"{found}; allowed: {allowed}. Fix: {fix}.")
        self.found = found
        self.allowed = allowed
        self.fix = fix
        self.code = code
        self.mends = mends


def decimal(value: Fraction, least_places: int = 0) -> str:
    """A fraction in plain decimal digits, with at least so many places."""
    text = figures.plain(float(value), 12)
    whole, _, places = text.partition(".")
    places = places.ljust(least_places, "0")
    return f"{whole}.{places}" if places else whole


def wrong_unit(
    plain: str, kind: str, number: str, unit: str, after: str, name_of_unit: Callable[[str], str | None]
) -> QuantityError:
    """The error for a unit outside the table of its kind; `after` is what follows it in the text.

    `name_of_unit` says what an unknown unit would be, in words, or None.
    """
    spec = KINDS[kind]
    if not spec.units:
        fix = f"write one number, as in {spec.example}"
        if unit.isalpha():
            fix = f"write the number alone if {one_line(number)} is meant without {one_line(unit)}"
        return QuantityError(show(plain), spec.allowed, fix, "unit_not_wanted")
    same_letters = {known.casefold(): known for known in reversed(tuple(spec.units))}
    spelt = {**same_letters, **spec.meant}
    word = unit if spec.stop_counts else unit.rstrip(".")
    meant = next((spelt[one] for one in (unit, unit.casefold(), word, word.casefold()) if one in spelt), None)
    reason = spec.reasons.get(unit)
    if reason is None and meant is None and len(unit) <= LONGEST_SHOWN:
        name = name_of_unit(unit)
        reason = f"{unit} stands for {name}" if name is not None else None
    found = show(plain) + (f", and {reason}" if reason else "")
    if meant is not None:
        return ready(found, kind, (f"{number} {meant} {after}".strip(),), code="unit_unknown")
    remark = re.match(r"([^(]*[^ (]) *\(", unit)
    if remark is not None and remark[1] in spec.units:
        fix = "put the remark behind # at the end of the line"
        return QuantityError(f"{show(plain)} with a remark", spec.allowed, fix, "unit_unknown")
    first = unit.partition(" ")[0]
    if first != unit and (first in spec.units or first in spelt or first.casefold() in spelt):
        fix = f"write the number and its unit alone, as in {spec.example}, and a remark behind # at the end of the line"
        return QuantityError(f"{show(plain)} with words beside it", spec.allowed, fix, "unit_unknown")
    return QuantityError(found, spec.allowed, _in_its_units(kind), "unit_unknown")


def unit_missing(plain: str, kind: str) -> QuantityError:
    """The error for a bare number where a unit is needed."""
    spec = KINDS[kind]
    units = spec.units_in_words
    return QuantityError(
        f"{show(plain)} without a unit",
        spec.allowed,
        f"write {one_line(plain)} with its unit: {units}",
        "unit_missing",
    )


def negative(plain: str, kind: str) -> QuantityError:
    """The error for a sign where none can stand."""
    spec = KINDS[kind]
    without = one_line(plain[1:].strip())
    if plain[0] == "+":
        return ready(f"{show(plain)} with a sign", kind, (plain[1:].strip(),))
    return QuantityError(
        f"{show(plain)} is negative",
        f"{spec.allowed}, zero or more",
        f"take the minus sign away if {without} is meant",
        "out_of_range",
    )


def not_a_number(plain: str, kind: str) -> QuantityError:
    """The error for a text that does not hold to the grammar of numbers."""
    spec = KINDS[kind]
    if not plain:
        return QuantityError("nothing", spec.allowed, f"write a value, as in {spec.example}")
    found = show(plain)
    if len(plain) <= _LONGEST_JUDGED:
        for trial in (_quotes, _clock, _part_of_hour, _thousands, _comma, _spaced, _exponent, _point, _share, _other):
            told = trial(plain, kind)
            if told is not None:
                what, meant = told
                if isinstance(meant, str):
                    return QuantityError(found + what, spec.allowed, meant)
                return ready(found + what, kind, *meant)
    both = "one number and its unit" if spec.units and not spec.bare else "one number"
    return QuantityError(found, spec.allowed, f"write {both}, as in {spec.example}")


_Ready = tuple[tuple[str, ...], str]
"""What may be meant, one or two texts, and the words after the second."""

_Told = tuple[str, str | _Ready] | None
"""What is said after the text that was found; and how to mend it, in words or as texts to write."""


def ready(
    found: str, kind: str, meant: tuple[str, ...], if_second: str = "", code: str = "not_a_number"
) -> QuantityError:
    """The error for a text that one text, or one of two, must have been meant by."""
    fix = " or ".join(
        f"write {one_line(meant[0])}" if not place else one_line(text) for place, text in enumerate(meant)
    )
    if if_second:
        fix = fix.replace(" or ", ", or ", 1) + if_second
    return QuantityError(found, KINDS[kind].allowed, fix, code, meant)


def _in_its_units(kind: str) -> str:
    spec = KINDS[kind]
    return f"write it in {spec.units_in_words}, as in {spec.example}"


def _quotes(plain: str, _kind: str) -> _Told:
    inner = plain.strip(CURLY)
    return None if inner == plain else (" in curly quotes", ((inner.strip(),), ""))


def _clock(plain: str, kind: str) -> _Told:
    match = re.fullmatch(r"([0-9]{1,3}):([0-5][0-9])(?: *(?:h|min))?", plain)
    if match is None or kind != "duration":
        return None
    large, small = int(match.group(1)), int(match.group(2))
    hours, minutes = _parts(large, "h", small, "min"), _parts(large, "min", small, "s")
    return ", which may be hours and minutes or minutes and seconds", ((hours, minutes), " if that is meant")


_PARTS_OF_HOUR: Final = (
    dict.fromkeys(("1/2", "\u00bd", "half", "a half"), 30)
    | dict.fromkeys(("1/4", "\u00bc", "quarter", "a quarter"), 15)
    | dict.fromkeys(("3/4", "\u00be", "three quarters"), 45)
    | {"1/3": 20, "2/3": 40}
)
_PART_OF_HOUR = "|".join(map(re.escape, sorted(_PARTS_OF_HOUR, key=len, reverse=True)))
_HOUR: Final = r"h(?:(?:ou)?rs?)?"
_HOURS = (
    re.compile(rf"(?:(?P<hours>[0-9]{{1,2}}) *(?:and )?)?(?P<part>{_PART_OF_HOUR}) *(?:of )?(?:an? )?{_HOUR}\.?"),
    re.compile(
        rf"(?P<hours>[0-9]{{1,2}}|an?|one) *{_HOUR}(?: and (?P<part>a half|half|a quarter|quarter|three quarters))?"
    ),
)


def _part_of_hour(plain: str, kind: str) -> _Told:
    """`half an hour`, `1 1/2 h` and their like, which can be meant in one way alone."""
    words = " ".join(plain.casefold().split())
    match = next((found for pattern in _HOURS if (found := pattern.fullmatch(words))), None)
    if kind != "duration":
        return None
    if match is None:
        joined = re.fullmatch(rf"([0-9]{{1,2}} *{_HOUR}) and ([0-9]{{1,2}} *[a-z]+\.?)", words)
        return None if joined is None else (" with a word between", ((f"{joined[1]} {joined[2]}",), ""))
    hours = match["hours"] or "0"
    minutes = _PARTS_OF_HOUR[match["part"]] if match["part"] else 0
    return " with a part of an hour in words", (
        (_parts(int(hours) if hours.isdigit() else 1, "h", minutes, "min"),),
        "",
    )


def _share(plain: str, kind: str) -> _Told:
    """A share of oxygen with its name before it, or room air by name."""
    if kind != "fraction":
        return None
    if plain.casefold() in ("ra", "room air", "air"):
        return ", which is 21 % of oxygen", (("21 %",), "")
    named = re.fullmatch(r"(?:fio2|o2) *[:=]? *([0-9]+(?:\.[0-9]+)?)( *%)?", plain, re.IGNORECASE)
    if named is None:
        return None
    number = named[1]
    if named[2] or Fraction(number) <= 1:
        return " with its name before it", ((number + (" %" if named[2] else ""),), "")
    return " with its name before it", ((f"{number} %", decimal(Fraction(number) / 100, 2)), "")


def _parts(large: int, large_unit: str, small: int, small_unit: str) -> str:
    parts = [f"{number} {unit}" for number, unit in ((large, large_unit), (small, small_unit)) if number]
    return " ".join(parts) or f"0 {small_unit}"


def _thousands(plain: str, kind: str) -> _Told:
    """Thousands parted by a comma, a point or an apostrophe, and the one case in which a comma can be either."""
    for mark, point, what in _MARKS:
        match = re.match(rf"([1-9][0-9]{{0,2}}(?:{mark}[0-9]{{3}})+)(?:{point}([0-9]+))?(?![0-9,.'\u2019])", plain)
        if match is None:
            continue
        head, decimals = match.groups()
        parts, rest = re.split(mark, head), plain[match.end() :]
        whole = "".join(parts) + (f".{decimals}" if decimals else "") + rest
        if what == "a comma" and len(parts) == 2 and not decimals and kind != "count":
            other = after_point(*parts) + rest
            return f" with {what}", ((whole, other), " if the comma is a decimal point")
        return f" with {what}", ((whole,), "")
    return None


_MARKS: Final = (
    (",", r"\.", "a comma"),
    (r"\.", ",", "points between thousands"),
    ("['\u2019]", "[.,]", "an apostrophe"),
)
"""What parts thousands, what then parts decimals, and how the first is called."""


def after_point(whole: str, decimals: str) -> str:
    """A decimal number that nobody takes for thousands: no zeros at its end, and never three digits after the point.

    >>> after_point("8", "000"), after_point("1", "500"), after_point("1", "234")
    ('8', '1.5', '1.2340')
    """
    kept = decimals.rstrip("0")
    return f"{whole}.{kept}{'0' if len(kept) == 3 else ''}" if kept else whole


def _comma(plain: str, _kind: str) -> _Told:
    match = re.match(r"[+-]?[0-9]+,[0-9]+(?![0-9,.])", plain)
    return None if match is None else (" with a comma", ((plain.replace(",", ".", 1),), ""))


def _spaced(plain: str, _kind: str) -> _Told:
    match = re.match(r"[0-9]{1,3}(?: [0-9]{3})+(?![0-9.,])", plain)
    if match is None:
        return None
    mended = match.group().replace(" ", "") + plain[match.end() :]
    return " with a space inside the number", ((mended,), "")


def _exponent(plain: str, _kind: str) -> _Told:
    match = re.match(r"([0-9]{1,6}(?:\.[0-9]{1,6})?)[eE]([+-]?[0-9]{1,2})(?![0-9.])", plain)
    if match is None:
        return None
    power = int(match.group(2))
    if abs(power) > 6:
        return " with an exponent", "write all digits of the number"
    value = decimal(Fraction(match.group(1)) * Fraction(10) ** power)
    return " with an exponent", ((value + plain[match.end() :],), "")


def _point(plain: str, _kind: str) -> _Told:
    if re.match(r"[+-]?\.[0-9]", plain):
        return " without a digit before the point", ((plain.replace(".", "0.", 1),), "")
    if re.match(r"[+-]?[0-9]+\.(?![0-9])", plain):
        return " without a digit after the point", ((plain.replace(".", "", 1),), "")
    if re.match(r"[0-9]+(?:_[0-9]+)+", plain):
        return " with an underscore", ((plain.replace("_", ""),), "")
    return None


def _other(plain: str, kind: str) -> _Told:
    spec = KINDS[kind]
    if plain[0] in "\u2010\u2011\u2012\u2013\u2014\u2212" and spec.signed:
        return " with a dash for a minus", ((f"-{plain[1:].strip()}",), "")
    if re.match(r"[+-]?\.?(?:nan|inf)", plain, re.IGNORECASE):
        return ", which is not a number", f"write a number, as in {spec.example}"
    if kind == "flow" and plain.casefold() in ("flush", "flush rate"):
        return ", which no number stands for", "write what the flowmeter gives at flush, from its manual or measured"
    if not any(letter.isdigit() for letter in plain):
        units = f" with its unit: {spec.units_in_words}" if spec.units and not spec.bare else ""
        return " without a number", f"write the number that is read or set{units}"
    first = re.fullmatch(r"([A-Za-z/%]+)[ :=]+([0-9]+(?:\.[0-9]+)?)", plain)
    if first is not None and first[1] in spec.units:
        return " with the unit first", ((f"{first[2]} {first[1]}",), "")
    if re.match(r"FL *[0-9]", plain, re.IGNORECASE) and kind == "altitude":
        return ", a flight level: that is the aircraft's", "write the highest altitude in the cabin, in ft or m"
    if re.match(r"(?:[~\u2248<>]|ca\.?|about|approx\.?)(?=[ 0-9])", plain, re.IGNORECASE):
        return ", which is not one number", "write the one number to plan with, on the safe side"
    if re.match(r"[0-9.]+ *(?:-|\u2013|to|\.\.) *[0-9]", plain):
        return ", which is a range", f"write one number, the one to plan with, as in {spec.example}"
    if not plain.isascii() and any(char.isdigit() and not char.isascii() for char in plain):
        return " with digits other than 0 to 9", f"write the digits 0 to 9, as in {spec.example}"
    return None
