"""The contents on a cylinder's label: `680 L at 2015 psi`, `460 L at 230 bar at 15 degC`."""

from __future__ import annotations

import re
from typing import NamedTuple

from planner.constants import METRIC_FILLING_TEMPERATURE_DEGC, REFERENCE_TEMPERATURE_DEGC
from planner.text.quantities import QuantityError, parse
from planner.text.text_file import one_line, show


class LabelContents(NamedTuple):
    """What a label promises: litres of oxygen at a gauge pressure and a gas temperature."""

    contents_l: float
    gauge_kpa: float
    temperature_degc: float


def label_contents(text: str) -> LabelContents:
    """What a label such as `680 L at 2015 psi` or `460 L at 230 bar at 15 degC` promises.

    Contents [L] and pressure [gauge, stored in kPa] must be above zero. Without a temperature it is 21.1 degC for
    psi, and 15 degC for bar, kPa and MPa. Raises `QuantityError`.

    >>> label_contents("680 L at 2015 psi").temperature_degc
    21.1
    """
    may = "contents at a gauge pressure, as in 680 L at 2015 psi or 460 L at 230 bar at 15 degC"
    parts = re.split(r" +at +", text.strip(" "))
    if len(parts) not in (2, 3):
        raise _no_label(text, may)
    try:
        contents_l = parse(parts[0], "volume", above=0, holds=_on_a_label)
        gauge_kpa = parse(parts[1], "gauge", above=0, holds=_filled_to)
        by_psi = "psi" in parts[1].casefold()
        usual_degc = REFERENCE_TEMPERATURE_DEGC if by_psi else METRIC_FILLING_TEMPERATURE_DEGC
        temperature_degc = parse(parts[2], "temperature") if len(parts) == 3 else usual_degc
    except QuantityError as error:
        raise _of_label(error, text, parts, may) from None
    return LabelContents(contents_l, gauge_kpa, temperature_degc)


def _on_a_label(contents_l: float) -> bool:
    """True for litres that a cylinder's label can name: the largest hold some 11,000 L (common practice, no source)."""
    return 10.0 <= contents_l <= 50_000.0


def _filled_to(gauge_kpa: float) -> bool:
    """True for a pressure to which a cylinder can be filled: 50 to 400 bar."""
    return 5000.0 <= gauge_kpa <= 40_000.0


def _no_label(text: str, may: str) -> QuantityError:
    """The error for what is no label: `680 L @ 2015 psi` and `680 L / 2015 psi` have a mend."""
    anew = re.sub(r" *[@/] *(?=[0-9])", " at ", text.strip())
    if len(re.split(r" +at +", anew)) in (2, 3):
        try:
            label_contents(anew)
        except QuantityError as error:
            return error
        return QuantityError(show(text), may, f"write {one_line(anew)}", mends=(anew,))
    return QuantityError(show(text), may, "write the litres, the word at, and the pressure on the label")


def _of_label(error: QuantityError, text: str, parts: list[str], may: str) -> QuantityError:
    """What is wrong with one part of a label as a problem of the whole, each mend with the other parts around it."""
    found = f"{error.found}, in {show(text)}"
    wrong = [part for part in parts if one_line(part) in error.found]
    if len(wrong) != 1 or not error.mends:
        return QuantityError(found, may, error.fix, error.code)
    mends = tuple(text.strip().replace(wrong[0], mend, 1) for mend in error.mends)
    fix = error.fix
    for part, whole in zip(error.mends, mends, strict=True):
        fix = fix.replace(one_line(part), one_line(whole), 1)
    return QuantityError(found, may, fix, error.code, mends)
