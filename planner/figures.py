"""Numbers into text: the one place where a figure loses digits.

The rule is never to be optimistic, and the direction of each rounding stands in the name of its function
or in its first line: need, flows and least gauges go up; supply and time left go down. Only the gauge that
the crew should expect is rounded to the nearest step, because it is compared with a reading and not
spent. Values within one part in a thousand million of a step count as being on it, so that the noise of
floating point never adds or takes a step (3 x 0.1 / 0.1 is 3, not 4).

Units of the arguments stand in their names; every text carries its unit. A figure that is not finite
raises ValueError: it must not reach paper.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import datetime
from typing import Literal

from planner.constants import KPA_PER_PSI, NOISE
from planner.moments import later

PressureUnit = Literal["psi", "bar", "kPa", "MPa"]

NONE = "-"
"""What stands in a table where a figure does not apply."""

KPA_PER_UNIT: dict[str, float] = {"psi": KPA_PER_PSI, "bar": 100.0, "kPa": 1.0, "MPa": 1000.0}
GAUGE_STEP: dict[str, float] = {"psi": 10.0, "bar": 1.0, "kPa": 100.0, "MPa": 0.1}
"""What a crew can tell apart on a cylinder gauge, in each unit (common practice, no source)."""
READING_STEP: dict[str, float] = {"psi": 1.0, "bar": 0.1, "kPa": 1.0, "MPa": 0.01}

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def steps_up(value: float, step: float) -> int:
    """The least whole number of steps that is not below `value`, but for floating-point noise."""
    ratio = _finite(value) / step
    return math.ceil(ratio - NOISE * max(1.0, abs(ratio)))


def steps_down(value: float, step: float) -> int:
    """The greatest whole number of steps that is not above `value`, but for floating-point noise."""
    ratio = _finite(value) / step
    return math.floor(ratio + NOISE * max(1.0, abs(ratio)))


def steps_nearest(value: float, step: float) -> int:
    """The nearest whole number of steps; a half goes up."""
    return math.floor(_finite(value) / step + 0.5)


def _finite(value: float) -> float:
    if not math.isfinite(value):
        raise ValueError(f"not a finite figure: {value!r}")
    return value


def _steps_text(steps: int, step: float) -> str:
    return f"{steps * step:.{_decimals(step)}f}"


def _decimals(step: float) -> int:
    return max(0, -math.floor(math.log10(step) + NOISE))


def plain(value: float, decimals: int = 4) -> str:
    """A value as it was put in: nearest, to at most `decimals` places, without trailing zeros."""
    text = f"{_finite(value):.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def significant(value: float, digits: int) -> str:
    """Nearest, to so many significant digits, without trailing zeros and without powers of ten: `0.0165`, `1230`."""
    if _finite(value) == 0.0:
        return "0"
    places = digits - 1 - math.floor(math.log10(abs(value)))
    return plain(round(value, places), max(0, places))


def noiseless(value: float, decimals: int = 6) -> float:
    """The value itself without the noise of floating point, to be compared or written to a file."""
    return round(value, decimals)


def limit_up(value: float) -> str:
    """A lowest value that is allowed, up to six significant digits: what is written so is within the limit."""
    return _limit(value, steps_up)


def limit_down(value: float) -> str:
    """A highest value that is allowed, down to six significant digits: what is written so is within the limit."""
    return _limit(value, steps_down)


def _limit(value: float, steps: Callable[[float, float], int]) -> str:
    if _finite(value) == 0.0:
        return "0"
    places = 5 - math.floor(math.log10(abs(value)))
    return plain(round(steps(value, 10.0**-places) * 10.0**-places, places), max(0, places))


def two_digits(number: int) -> str:
    """An hour or a minute as a clock shows it: `07`."""
    return f"{number:02d}"


def as_given(value: float, digits: int = 6) -> str:
    """A number of an error message, as a person writes it: `40200`, `-0.001`, also `nan` and `inf`."""
    return f"{value:.{digits}g}"


def worked(value: float, decimals: int = 2) -> str:
    """A figure inside a written-out calculation: nearest, always with `decimals` places."""
    text = f"{_finite(value):.{decimals}f}"
    return text.lstrip("-") if float(text) == 0 else text


# Litres


def need_l(value_l: float) -> str:
    """Litres needed, up to a whole litre: 316.25 becomes `317 L`."""
    return f"{steps_up(value_l, 1.0)} L"


def supply_l(value_l: float) -> str:
    """Litres on hand, down to a whole litre: 1388.1 becomes `1388 L`."""
    return f"{steps_down(value_l, 1.0)} L"


def supply_l_or_none(value_l: float | None) -> str:
    """Litres on hand, down, or a dash where the figure does not apply."""
    return NONE if value_l is None else supply_l(value_l)


def spare_l(usable_l: float, without_spare_l: float) -> str:
    """Litres held back as spare: the difference of the two figures as they are printed, so that a line adds up."""
    return f"{steps_down(usable_l, 1.0) - steps_down(without_spare_l, 1.0)} L"


# Flow


def flow_up(flow_l_per_min: float) -> str:
    """A flow, up to 0.1 L/min: 4.054 becomes `4.1 L/min`, 15.0 becomes `15 L/min`."""
    text = _steps_text(steps_up(flow_l_per_min, 0.1), 0.1)
    return f"{text.removesuffix('.0')} L/min"


def flow_as_printed(flow_l_per_min: float) -> float:
    """The number that `flow_up` prints, L/min: minutes that stand beside it are counted with it."""
    return steps_up(flow_l_per_min, 0.1) / 10.0


def flow_down(flow_l_per_min: float) -> str:
    """The lowest that a flow may be, down to 0.1 L/min: 3.18 becomes `3.1 L/min`."""
    text = _steps_text(steps_down(flow_l_per_min, 0.1), 0.1)
    return f"{text.removesuffix('.0')} L/min"


def flow_set(flow_l_per_min: float) -> str:
    """A flow that somebody sets or has set, as put in: `2.5 L/min`."""
    return f"{plain(flow_l_per_min)} L/min"


def breath_set(volume_l: float) -> str:
    """The volume of a breath or a pulse that somebody sets, as put in: `450 mL`."""
    return f"{plain(1000.0 * volume_l, 1)} mL"


def rate_set(rate_per_min: float) -> str:
    """Breaths or pulses in a minute, as put in: `16 /min`."""
    return f"{plain(rate_per_min)} /min"


# Time


def minutes_down(minutes: float) -> str:
    """Time left or to spare, down to a whole minute: `88 min`."""
    return f"{steps_down(minutes, 1.0)} min"


def minutes_at(litres: float, flow_l_per_min: float) -> str:
    """Time that litres last at a flow as `flow_up` prints it, down to a whole minute: 226 L at 1.13 L/min, 188 min.

    Minutes beside a flow are those of the flow that is read there, which is what a crew would set or reckon with.
    """
    return minutes_down(litres / flow_as_printed(flow_l_per_min))


def minutes_down_or_none(minutes: float | None) -> str:
    """Time left, down, or a dash where the figure does not apply."""
    return NONE if minutes is None else minutes_down(minutes)


def minutes_up(minutes: float) -> str:
    """Time needed, up to a whole minute: 47.2 becomes `48 min`."""
    return f"{steps_up(minutes, 1.0)} min"


def hours_down(minutes: float) -> str:
    """Time left, down, in hours and minutes from one hour on: `1 h 28 min`, `45 min`, `2 h 05 min`."""
    return _hours(steps_down(minutes, 1.0))


def hours_up(minutes: float) -> str:
    """Time needed, up, in hours and minutes from one hour on."""
    return _hours(steps_up(minutes, 1.0))


def _hours(whole: int) -> str:
    if abs(whole) < 60:
        return f"{whole} min"
    sign = "-" if whole < 0 else ""
    hours, rest = divmod(abs(whole), 60)
    return f"{sign}{hours} h {rest:02d} min"


def hours_set(minutes: float) -> str:
    """A time that somebody gave, in hours and minutes from one hour on: `12 h`, `12 h 30 min`, `45 min`."""
    hours, rest = divmod(minutes, 60.0)
    return " ".join([f"{plain(hours)} h"] * (hours > 0) + [minutes_set(rest)] * (rest > 0 or hours == 0))


def minutes_set(minutes: float, decimals: int = 2) -> str:
    """A time that somebody gave, as put in: `12 min`, `2.5 min`."""
    return f"{plain(minutes, decimals)} min"


def clock_time(moment: datetime, seen_from: datetime, *, narrow: bool = False) -> str:
    """The clock time of a moment, down to the minute, as seen from an earlier one: `14:38`.

    On another date that date is added: `00:12 on 4 Dec`, or `00:12 +1d` in a narrow column. The zone's short name or
    offset stands with it where the clock has been changed since: `02:30 CET`. There is no other way to write one.
    """
    text = f"{moment:%H:%M}"
    if moment.utcoffset() != seen_from.utcoffset():
        text += f" {_zone(moment)}"
    days = (moment.date() - seen_from.date()).days
    if not days:
        return text
    if narrow:
        return f"{text} +{days}d"
    year = f" {moment.year}" if moment.year != seen_from.year else ""
    return f"{text} on {moment.day} {MONTHS[moment.month - 1]}{year}"


def clock_down(departs: datetime | None, minute: float | None, *, narrow: bool = False) -> str:
    """The clock time so many minutes after departure, down, as `clock_time`; empty where either is unknown.

    Elapsed time is added on the absolute time scale, so that a change to or from summer time is right.
    """
    if departs is None or minute is None:
        return ""
    return clock_time(later(departs, steps_down(minute, 1.0)), departs, narrow=narrow)


def date_time(moment: datetime) -> str:
    """A date with clock time: `3 Dec 2026 14:20`, with the zone where one is known."""
    text = f"{moment.day} {MONTHS[moment.month - 1]} {moment.year} {moment:%H:%M}"
    return text if moment.tzinfo is None else f"{text} {_zone(moment)}"


def _zone(moment: datetime) -> str:
    return moment.tzname() or f"{moment:%z}"


# Pressure


def gauge_nearest(gauge_kpa: float, unit: str) -> str:
    """The gauge that the crew should see, to the nearest 10 psi, 1 bar, 100 kPa or 0.1 MPa."""
    return _gauge(steps_nearest(gauge_kpa / KPA_PER_UNIT[unit], GAUGE_STEP[unit]), GAUGE_STEP[unit], unit)


def gauge_up(gauge_kpa: float, unit: str) -> str:
    """A least gauge, or the gauge to change at: up to the next 10 psi, 1 bar, 100 kPa or 0.1 MPa."""
    return _gauge(steps_up(gauge_kpa / KPA_PER_UNIT[unit], GAUGE_STEP[unit]), GAUGE_STEP[unit], unit)


def gauge_to_start(gauge_kpa: float | None, unit: str) -> str:
    """The least gauge to depart with: up, `any` where none is asked, a dash where none would do."""
    if gauge_kpa is None:
        return NONE
    return gauge_up(gauge_kpa, unit) if gauge_kpa > 0.0 else "any"


def gauge_down(gauge_kpa: float, unit: str) -> str:
    """A gauge below which something is wrong, so that no doubt becomes an alarm: down to 10 psi, 1 bar and so on."""
    return _gauge(steps_down(gauge_kpa / KPA_PER_UNIT[unit], GAUGE_STEP[unit]), GAUGE_STEP[unit], unit)


def gauge_fall_up(fall_kpa_per_min: float, unit: str) -> str:
    """How much a gauge falls in a minute, up to 1 psi, 0.1 bar, 1 kPa or 0.01 MPa: `12 psi`."""
    return _read(steps_up(fall_kpa_per_min / KPA_PER_UNIT[unit], READING_STEP[unit]), unit)


def gauge_step_up_kpa(gauge_kpa: float, unit: str) -> float:
    """The reading that `gauge_up` prints, as a number, kPa gauge."""
    return steps_up(gauge_kpa / KPA_PER_UNIT[unit], GAUGE_STEP[unit]) * GAUGE_STEP[unit] * KPA_PER_UNIT[unit]


def gauge_read(gauge_kpa: float, unit: str) -> str:
    """A gauge that somebody read, in the unit of the policy: down to 1 psi, 0.1 bar, 1 kPa or 0.01 MPa."""
    return _read(steps_down(gauge_kpa / KPA_PER_UNIT[unit], READING_STEP[unit]), unit)


def _read(steps: int, unit: str) -> str:
    """A reading to its own fine step, with the places of the gauge's step at least: `17.0 MPa`, `17.05 MPa`."""
    text = _steps_text(steps, READING_STEP[unit])
    whole, _, places = text.partition(".")
    kept = places.rstrip("0").ljust(_decimals(GAUGE_STEP[unit]), "0")
    return f"{whole}.{kept} {unit}" if kept else f"{whole} {unit}"


def gauge_both_down(gauge_kpa: float) -> str:
    """A gauge that must not be passed, down, in both units of the trade: `3300 psi (227 bar)`."""
    return _both(gauge_kpa, steps_down)


def gauge_both_nearest(gauge_kpa: float) -> str:
    """A gauge of a table, nearest, in both units of the trade: `2200 psi (152 bar)`."""
    return _both(gauge_kpa, steps_nearest)


def _both(gauge_kpa: float, steps: Callable[[float, float], int]) -> str:
    in_psi, in_bar = (steps(gauge_kpa / KPA_PER_UNIT[unit], 1.0) for unit in ("psi", "bar"))
    return f"{in_psi} psi ({in_bar} bar)"


def step_text(unit: str) -> str:
    """The step of printed gauges: `10 psi`, `1 bar`, `100 kPa`, `0.1 MPa`."""
    return f"{plain(GAUGE_STEP[unit])} {unit}"


def gauge_up_or_none(gauge_kpa: float | None, unit: str) -> str:
    """The least gauge, or a dash where none applies."""
    return NONE if gauge_kpa is None else gauge_up(gauge_kpa, unit)


def _gauge(steps: int, step: float, unit: str) -> str:
    return f"{_steps_text(steps, step)} {unit}"


# The rest


def liquid_down(amount: float) -> str:
    """An amount of liquid oxygen that should be there, down to 0.1 of its unit."""
    return _steps_text(steps_down(amount, 0.1), 0.1)


def liquid_up(amount: float) -> str:
    """An amount of liquid oxygen that must be there, up to 0.1 of its unit."""
    return _steps_text(steps_up(amount, 0.1), 0.1)


def mass_up(mass_kg: float) -> str:
    """A mass to carry, up to 0.1 kg."""
    return f"{_steps_text(steps_up(mass_kg, 0.1), 0.1)} kg"


def mass_set(mass_kg: float) -> str:
    """A mass that somebody gave, as put in: `12 kg`."""
    return f"{plain(mass_kg)} kg"


def fio2_set(fraction: float) -> str:
    """An inspired oxygen fraction that somebody sets, as put in, with two places at least: `0.40`, `0.605`."""
    return _two_places(plain(fraction))


def fio2_down(fraction: float) -> str:
    """An inspired oxygen fraction that can be had, down to 0.01: 0.629 becomes `0.62`."""
    return _steps_text(steps_down(fraction, 0.01), 0.01)


def fio2_up(fraction: float) -> str:
    """An inspired oxygen fraction that is needed, up to 0.01: 0.551 becomes `0.56`, 1.003 becomes `1.01`."""
    return _steps_text(steps_up(fraction, 0.01), 0.01)


def _two_places(text: str) -> str:
    whole, _, places = text.partition(".")
    return f"{whole}.{places.ljust(2, '0')}"


def percent(fraction: float, decimals: int = 1) -> str:
    """A fraction as a percentage, nearest: 0.6 becomes `60 %`."""
    return f"{plain(100.0 * fraction, decimals)} %"


def ratio_up(ratio: float) -> str:
    """How many times as much, up to 0.01: 1.1102 becomes `1.12`."""
    return _steps_text(steps_up(ratio, 0.01), 0.01)


def ratio_as_printed(ratio: float) -> float:
    """The number that `ratio_up` prints."""
    return steps_up(ratio, 0.01) / 100.0


def factor_set(factor: float) -> str:
    """A factor as a policy sets it: `1.5`."""
    return plain(factor)


def percent_down(fraction: float) -> str:
    """A fraction that is left, down to a whole per cent."""
    return f"{steps_down(100.0 * fraction, 1.0)} %"


def temperature(degc: float) -> str:
    """A temperature as put in: `-5 °C`."""
    return f"{plain(degc, 1)} °C"


def factor(factor_l_per_psi: float) -> str:
    """A cylinder's factor: `0.28 L/psi`, to three significant places beyond what tables print."""
    return f"{plain(factor_l_per_psi)} L/psi"
