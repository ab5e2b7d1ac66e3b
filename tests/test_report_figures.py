"""How numbers become text: the direction of every rounding, units, and the clock."""

from __future__ import annotations

import math
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner import figures
from planner.constants import KPA_PER_PSI

AMOUNTS = st.floats(0.0, 100_000.0)
UNITS = st.sampled_from(["psi", "bar", "kPa", "MPa"])


def number(text: str) -> float:
    return float(text.partition(" ")[0])


@pytest.mark.parametrize(
    ("value_l", "need", "supply"),
    [
        (316.25, "317 L", "316 L"),
        (316.0, "316 L", "316 L"),
        (316.0000000001, "316 L", "316 L"),  # floating-point noise is neither a litre more
        (315.9999999999, "316 L", "316 L"),  # nor a litre less
        (0.0, "0 L", "0 L"),
        (0.4, "1 L", "0 L"),
        (1805.999, "1806 L", "1805 L"),
    ],
)
def test_litres(value_l: float, need: str, supply: str) -> None:
    assert figures.need_l(value_l) == need
    assert figures.supply_l(value_l) == supply


def test_floating_point_noise_adds_no_step() -> None:
    assert math.ceil(0.1 * 3 / 0.1) == 4  # what the plain library call gives
    assert figures.steps_up(0.1 * 3, 0.1) == 3
    assert figures.flow_up(0.1 * 3) == "0.3 L/min"


@pytest.mark.parametrize(
    ("flow_l_per_min", "text"),
    [
        (4.054430379746835, "4.1 L/min"),
        (15.0, "15 L/min"),
        (12.054, "12.1 L/min"),
        (0.0, "0 L/min"),
        (2.5, "2.5 L/min"),
    ],
)
def test_flow_goes_up_to_a_tenth(flow_l_per_min: float, text: str) -> None:
    assert figures.flow_up(flow_l_per_min) == text


@pytest.mark.parametrize(
    ("minutes", "down", "up", "hours"),
    [
        (88.99, "88 min", "89 min", "1 h 28 min"),
        (59.9, "59 min", "60 min", "59 min"),
        (60.0, "60 min", "60 min", "1 h 00 min"),
        (125.0, "125 min", "125 min", "2 h 05 min"),
        (0.5, "0 min", "1 min", "0 min"),
    ],
)
def test_time_left_goes_down_and_time_needed_up(minutes: float, down: str, up: str, hours: str) -> None:
    assert figures.minutes_down(minutes) == down
    assert figures.minutes_up(minutes) == up
    assert figures.hours_down(minutes) == hours


@pytest.mark.parametrize(
    ("gauge_kpa", "unit", "nearest", "up"),
    [
        (2100 * KPA_PER_PSI, "psi", "2100 psi", "2100 psi"),
        (1834 * KPA_PER_PSI, "psi", "1830 psi", "1840 psi"),
        (1836 * KPA_PER_PSI, "psi", "1840 psi", "1840 psi"),
        (500 * KPA_PER_PSI, "psi", "500 psi", "500 psi"),
        # 500 psi = 3447.38 kPa = 34.47 bar = 3.447 MPa, by 1 psi = 6.894757 kPa (NIST SP 811)
        (500 * KPA_PER_PSI, "bar", "34 bar", "35 bar"),
        (500 * KPA_PER_PSI, "kPa", "3400 kPa", "3500 kPa"),
        (500 * KPA_PER_PSI, "MPa", "3.4 MPa", "3.5 MPa"),
    ],
)
def test_expected_gauge_is_nearest_and_least_gauge_up(gauge_kpa: float, unit: str, nearest: str, up: str) -> None:
    assert figures.gauge_nearest(gauge_kpa, unit) == nearest
    assert figures.gauge_up(gauge_kpa, unit) == up


@pytest.mark.parametrize(
    ("gauge_kpa", "unit", "text"),
    [
        (1955 * KPA_PER_PSI, "psi", "1955 psi"),
        (14500.0, "bar", "145 bar"),
        (13700.0, "kPa", "13700 kPa"),
        (13700.0, "MPa", "13.7 MPa"),
        (2100 * KPA_PER_PSI, "bar", "144.7 bar"),  # 144.79: a reading is never shown higher than it was
        (0.0, "psi", "0 psi"),
        (100 * KPA_PER_PSI, "psi", "100 psi"),
    ],
)
def test_a_reading_stands_as_it_was_read(gauge_kpa: float, unit: str, text: str) -> None:
    assert figures.gauge_read(gauge_kpa, unit) == text


@pytest.mark.hazard(23)
@given(AMOUNTS)
def test_need_is_never_below_and_supply_never_above(value: float) -> None:
    noise = 1e-8 * max(1.0, value)
    assert value - noise <= number(figures.need_l(value)) <= value + 1
    assert value - 1 <= number(figures.supply_l(value)) <= value + noise
    assert value - 1 <= number(figures.minutes_down(value)) <= value + noise
    assert value - noise <= number(figures.flow_up(value)) <= value + 0.1 + noise


@pytest.mark.hazard(23)
@given(AMOUNTS, UNITS)
def test_a_least_gauge_is_never_below(gauge_kpa: float, unit: str) -> None:
    in_unit = gauge_kpa / figures.KPA_PER_UNIT[unit]
    noise = 1e-8 * max(figures.GAUGE_STEP[unit], in_unit)
    assert number(figures.gauge_up(gauge_kpa, unit)) >= in_unit - noise
    assert number(figures.gauge_read(gauge_kpa, unit)) <= in_unit + noise
    assert abs(number(figures.gauge_nearest(gauge_kpa, unit)) - in_unit) <= figures.GAUGE_STEP[unit] / 2 + noise


@pytest.mark.hazard(21)
@given(AMOUNTS, UNITS)
def test_every_figure_carries_its_unit(value: float, unit: str) -> None:
    assert figures.need_l(value).endswith(" L")
    assert figures.flow_up(value).endswith(" L/min")
    assert figures.minutes_down(value).endswith(" min")
    assert figures.gauge_nearest(value, unit).endswith(f" {unit}")
    assert figures.gauge_up(value, unit).endswith(f" {unit}")


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_not_finite_never_reaches_paper(value: float) -> None:
    for write in (figures.need_l, figures.supply_l, figures.flow_up, figures.minutes_down, figures.plain):
        with pytest.raises(ValueError, match="not a finite figure"):
            write(value)


NAIVE = datetime(2026, 12, 3, 14, 20)


@pytest.mark.hazard(24)
@pytest.mark.parametrize(
    ("departs", "minute", "text"),
    [
        (NAIVE, 0.0, "14:20"),
        (NAIVE, 18.0, "14:38"),
        (NAIVE, 18.9, "14:38"),
        (NAIVE, 579.0, "23:59"),
        (NAIVE, 580.0, "00:00 on 4 Dec"),
        (datetime(2026, 12, 31, 23, 50), 15.0, "00:05 on 1 Jan 2027"),
        # Clocks in Berlin go from 03:00 CEST back to 02:00 CET on 25 October 2026 at 01:00 UTC, and from
        # 02:00 CET to 03:00 CEST on 29 March 2026 at 01:00 UTC (European Union directive 2000/84/EC).
        (datetime(2026, 10, 25, 1, 30, tzinfo=ZoneInfo("Europe/Berlin")), 60.0, "02:30"),
        (datetime(2026, 10, 25, 1, 30, tzinfo=ZoneInfo("Europe/Berlin")), 120.0, "02:30 CET"),
        (datetime(2026, 3, 29, 1, 30, tzinfo=ZoneInfo("Europe/Berlin")), 45.0, "03:15 CEST"),
    ],
)
def test_clock(departs: datetime, minute: float, text: str) -> None:
    assert figures.clock_down(departs, minute) == text


def test_clock_for_a_narrow_column() -> None:
    assert figures.clock_down(NAIVE, 580.0, narrow=True) == "00:00 +1d"
    assert figures.clock_down(NAIVE, 1.0, narrow=True) == "14:21"
    assert figures.clock_down(None, 1.0, narrow=True) == ""
    assert figures.clock_down(NAIVE, None) == ""


def test_date_and_time() -> None:
    assert figures.date_time(NAIVE) == "3 Dec 2026 14:20"
    zoned = datetime(2026, 7, 1, 9, 5, tzinfo=ZoneInfo("Europe/Berlin"))
    assert figures.date_time(zoned) == "1 Jul 2026 09:05 CEST"


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        (figures.plain(12.0), "12"),
        (figures.plain(12.5), "12.5"),
        (figures.plain(100.0), "100"),
        (figures.plain(-0.0), "0"),
        (figures.worked(194.6127), "194.61"),
        (figures.worked(-0.001), "0.00"),
        (figures.percent(0.6), "60 %"),
        (figures.limit_up(1.0000001), "1.00001"),
        (figures.limit_down(5801.5098), "5801.5"),
        (figures.limit_down(1240.0), "1240"),
        (figures.significant(0.016549, 3), "0.0165"),
        (figures.significant(12345.0, 3), "12300"),
        (figures.hours_set(720.0), "12 h"),
        (figures.hours_set(90.0), "1 h 30 min"),
        (figures.hours_set(45.0), "45 min"),
        (figures.hours_set(0.0), "0 min"),
        (figures.hours_up(744.0), "12 h 24 min"),
        (figures.fio2_set(0.6), "0.60"),
        (figures.fio2_set(0.605), "0.605"),
        (figures.fio2_set(1.0), "1.00"),
        (figures.fio2_up(1.003), "1.01"),
        (figures.fio2_up(0.55), "0.55"),
        (figures.mass_set(12.5), "12.5 kg"),
        (figures.gauge_both_down(22752.7), "3300 psi (227 bar)"),
        (figures.need_l(30.132), "31 L"),
        (figures.gauge_read(2495 * 6.894757293168361, "psi"), "2495 psi"),
        (figures.percent_down(0.7261), "72 %"),
        (figures.temperature(-5.0), "-5 °C"),
        (figures.mass_up(15.61), "15.7 kg"),
        (figures.factor(0.28), "0.28 L/psi"),
    ],
)
def test_other_texts(text: str, meant: str) -> None:
    assert text == meant


def test_a_line_of_usable_spare_and_rest_adds_up() -> None:
    # 453.3 L usable of which all is spare: 453 - 453 = 0 as printed.
    assert figures.spare_l(453.3, 0.0) == "453 L"
    assert figures.spare_l(1388.1, 892.4) == "496 L"
