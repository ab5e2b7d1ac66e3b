"""Oxygen density against the published equation of state, and the laws that contents must keep.

Source: R. Schmidt and W. Wagner, Fluid Phase Equilibria 1985;19:175-200, as computed by CoolProp 8, a
package that only the tests use.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from contextlib import AbstractContextManager

import pytest

from planner.constants import KPA_PER_PSI, REFERENCE_TEMPERATURE_DEGC, STANDARD_PRESSURE_KPA
from planner.gas import compact, contents
from planner.gas.oxygen import OXYGEN
from tests.published.fit_gas import fit, published_density_kg_per_m3, specific_gas_constant_kpa_m3_per_kg_k

# 0 to 300 bar gauge: the low end closely, where the difference form is most delicate, then every 2.5 bar.
GAUGES_KPA = [1.0, 10.0, 50.0, 100.0, 150.0, 200.0] + [250.0 * step for step in range(1, 121)]
TEMPERATURES_DEGC = [-40.0 + 2.5 * step for step in range(41)]

# The rest of the range that the program allows: to 400 bar gauge, and from -60 to 80 degC.
WIDE_GAUGES_KPA = [1.0, 100.0] + [1000.0 * step for step in range(1, 41)]
WIDE_TEMPERATURES_DEGC = [-60.0 + 5.0 * step for step in range(29)]

PROMISED = 1e-3  # 0.1 %, the accuracy that the planner promises from -40 to 60 degC and 0 to 300 bar gauge
DOCUMENTED = 1e-4  # 0.01 %, what the module says of itself for its whole range


def published(pressure_kpa: float, temperature_degc: float) -> float:
    return float(published_density_kg_per_m3(pressure_kpa, temperature_degc))


def refusal(message: str) -> AbstractContextManager[object]:
    """Expects a `ValueError` with exactly this text."""
    return pytest.raises(ValueError, match=f"^{re.escape(message)}$")


@pytest.mark.parametrize("temperature_degc", TEMPERATURES_DEGC, ids=lambda t: f"Schmidt-Wagner-1985 {t:g} degC")
def test_density_is_within_0_1_percent_of_the_published_equation(temperature_degc: float) -> None:
    for gauge_kpa in [0.0, *GAUGES_KPA]:
        expected = published(gauge_kpa + STANDARD_PRESSURE_KPA, temperature_degc)
        found = OXYGEN.density_kg_per_m3(gauge_kpa + STANDARD_PRESSURE_KPA, temperature_degc)
        assert found == pytest.approx(expected, rel=PROMISED), f"{gauge_kpa:g} kPa gauge"


@pytest.mark.parametrize("temperature_degc", TEMPERATURES_DEGC, ids=lambda t: f"Schmidt-Wagner-1985 {t:g} degC")
def test_density_above_the_atmosphere_is_within_0_1_percent(temperature_degc: float) -> None:
    """Contents rest on the difference of two densities; its relative error counts, from 1 bar gauge up."""
    left = published(STANDARD_PRESSURE_KPA, temperature_degc)
    left_found = OXYGEN.density_kg_per_m3(STANDARD_PRESSURE_KPA, temperature_degc)
    for gauge_kpa in (gauge for gauge in GAUGES_KPA if gauge >= 100.0):
        expected = published(gauge_kpa + STANDARD_PRESSURE_KPA, temperature_degc) - left
        found = OXYGEN.density_kg_per_m3(gauge_kpa + STANDARD_PRESSURE_KPA, temperature_degc) - left_found
        assert found == pytest.approx(expected, rel=PROMISED), f"{gauge_kpa:g} kPa gauge"


@pytest.mark.parametrize("temperature_degc", WIDE_TEMPERATURES_DEGC, ids=lambda t: f"Schmidt-Wagner-1985 {t:g} degC")
def test_density_over_the_whole_allowed_range_is_as_documented(temperature_degc: float) -> None:
    for gauge_kpa in WIDE_GAUGES_KPA:
        expected = published(gauge_kpa + STANDARD_PRESSURE_KPA, temperature_degc)
        found = OXYGEN.density_kg_per_m3(gauge_kpa + STANDARD_PRESSURE_KPA, temperature_degc)
        assert found == pytest.approx(expected, rel=DOCUMENTED), f"{gauge_kpa:g} kPa gauge"


@pytest.mark.parametrize("temperature_degc", WIDE_TEMPERATURES_DEGC, ids=lambda t: f"Schmidt-Wagner-1985 {t:g} degC")
def test_pressure_from_the_published_density(temperature_degc: float) -> None:
    """The other direction: the published density put in, the pressure must come out.

    Tolerance 0.02 %: of dense cold gas the pressure rises up to twice as steeply as the density, so the
    documented 0.01 % of density is up to 0.02 % of pressure.
    """
    for gauge_kpa in WIDE_GAUGES_KPA:
        pressure_kpa = gauge_kpa + STANDARD_PRESSURE_KPA
        found = OXYGEN.pressure_kpa(published(pressure_kpa, temperature_degc), temperature_degc)
        assert found == pytest.approx(pressure_kpa, rel=2.0 * DOCUMENTED)


# A gas table prints 1.429 g/L at 0 degC and 0.0828 lb/ft3 at 70 degF, both at one atmosphere; from memory.
# 1 lb/ft3 = 16.018463 kg/m3. Tolerance: half the last printed digit.
@pytest.mark.parametrize(
    ("temperature_degc", "kg_per_m3", "half_digit"),
    [
        pytest.param(0.0, 1.429, 0.0005, id="gas table, from memory: 1.429 g/L at 0 degC"),
        pytest.param(
            REFERENCE_TEMPERATURE_DEGC,
            0.0828 * 16.018463,
            0.00005 * 16.018463,
            id="gas table, from memory: 0.0828 lb/ft3 at 70 degF",
        ),
    ],
)
def test_density_at_one_atmosphere(temperature_degc: float, kg_per_m3: float, half_digit: float) -> None:
    found = OXYGEN.density_kg_per_m3(STANDARD_PRESSURE_KPA, temperature_degc)
    assert found == pytest.approx(kg_per_m3, abs=half_digit)


def test_the_fit_script_gives_the_coefficients_in_the_program() -> None:
    """Run anew, the script must give the same table. Tolerance 1e-5 on coefficients of the order of 1: least
    squares of another build of the linear algebra may differ in the last of seven decimals."""
    fitted = fit()
    assert len(fitted) == len(OXYGEN.coefficients)
    for found, expected in zip(OXYGEN.coefficients, fitted, strict=True):
        assert list(found) == pytest.approx(expected, abs=1e-5)
    assert pytest.approx(specific_gas_constant_kpa_m3_per_kg_k(), rel=1e-9) == OXYGEN.gas_constant_kpa_m3_per_kg_k


@pytest.mark.parametrize("temperature_degc", WIDE_TEMPERATURES_DEGC, ids=lambda t: f"{t:g} degC")
def test_pressure_rises_strictly_with_density_and_the_two_are_inverse(temperature_degc: float) -> None:
    """Every 40 kPa over the whole range; exact to 1e-12, a few of the last binary digits."""
    assert OXYGEN.density_kg_per_m3(0.0, temperature_degc) == 0.0
    assert OXYGEN.pressure_kpa(0.0, temperature_degc) == 0.0
    before = 0.0
    for step in range(1, 1006):
        density = OXYGEN.density_kg_per_m3(40.0 * step, temperature_degc)
        assert density > before
        assert OXYGEN.pressure_kpa(density, temperature_degc) == pytest.approx(40.0 * step, rel=1e-12)
        before = density


@pytest.mark.parametrize("temperature_degc", [-60.0, -20.0, 21.1, 80.0])
@pytest.mark.parametrize("water_capacity_l", [0.5, 3.859, 50.0])
def test_gauge_is_the_exact_inverse_of_contents(temperature_degc: float, water_capacity_l: float) -> None:
    """Tolerance 1e-9 kPa absolute beside 1e-12: at a low gauge the atmosphere is subtracted from nearly itself."""
    for gauge_kpa in [0.0, 1.0, 10.0, *(500.0 * step for step in range(1, 81))]:
        litres = contents.contents_l(gauge_kpa, temperature_degc, water_capacity_l)
        back = contents.gauge_kpa(litres, temperature_degc, water_capacity_l)
        assert back == pytest.approx(gauge_kpa, rel=1e-12, abs=1e-9)
        assert contents.contents_l(back, temperature_degc, water_capacity_l) == pytest.approx(
            litres, rel=1e-12, abs=1e-9
        )
        if gauge_kpa:
            found = contents.water_capacity_l(litres, gauge_kpa, temperature_degc)
            assert found == pytest.approx(water_capacity_l, rel=1e-12)


def test_contents_are_those_of_the_published_equation() -> None:
    """V (rho - rho_atm) / rho_ref with every density from the published equation: 10 L at 200 bar and 15 degC."""
    reference = published(STANDARD_PRESSURE_KPA, 21.1)
    expected = 10.0 * (published(20_101.325, 15.0) - published(101.325, 15.0)) / reference
    assert contents.contents_l(20_000.0, 15.0, 10.0) == pytest.approx(expected, rel=PROMISED)


def test_contents_follow_the_water_capacity() -> None:
    assert contents.contents_l(9000.0, 10.0, 8.0) == pytest.approx(
        4.0 * contents.contents_l(9000.0, 10.0, 2.0), rel=1e-14
    )


@pytest.mark.hazard(17)
def test_warmer_gas_at_the_same_gauge_is_never_more_gas() -> None:
    """A reading taken warm must not count for more than the same reading taken cold."""
    for gauge_kpa in (1.0, 100.0, 3447.0, 15168.0, 30_000.0, 40_000.0):
        litres = [contents.contents_l(gauge_kpa, degc, 5.0) for degc in WIDE_TEMPERATURES_DEGC]
        assert litres == sorted(litres, reverse=True)
        assert litres[0] > litres[-1]


TEMPERATURE_TEXT = "is outside -60 to 80 degC, where the density of oxygen is known to this program"
PRESSURE_TEXT = "is outside 0 to 40200 kPa, where the density of oxygen is known to this program"


@pytest.mark.parametrize("degc", [-60.001, 80.001, math.nan, math.inf, -math.inf])
def test_a_temperature_outside_the_range_is_refused(degc: float) -> None:
    message = f"gas temperature {degc:g} degC {TEMPERATURE_TEXT}"
    calls: tuple[Callable[[], float], ...] = (
        lambda: OXYGEN.density_kg_per_m3(1000.0, degc),
        lambda: OXYGEN.pressure_kpa(1.0, degc),
        lambda: contents.contents_l(1000.0, degc, 1.0),
        lambda: contents.gauge_kpa(1.0, degc, 1.0),
        lambda: contents.water_capacity_l(1.0, 1000.0, degc),
    )
    for call in calls:
        with refusal(message):
            call()


@pytest.mark.parametrize("pressure_kpa", [-0.001, 40_201.0, math.nan, math.inf])
def test_a_pressure_outside_the_range_is_refused(pressure_kpa: float) -> None:
    message = f"absolute pressure {pressure_kpa:g} kPa {PRESSURE_TEXT}"
    with refusal(message):
        OXYGEN.density_kg_per_m3(pressure_kpa, 20.0)


@pytest.mark.parametrize("density", [-0.001, 1.001, 1000.0, math.nan, math.inf])
def test_a_density_outside_the_range_is_refused(density: float) -> None:
    """1.001 stands for 0.1 % above the highest; the number in the message is the density at 40 200 kPa."""
    highest = OXYGEN.density_kg_per_m3(compact.HIGHEST_PRESSURE_KPA, 20.0)
    tried = highest * density if density == 1.001 else density
    message = (
        f"density {tried:g} kg/m3 is outside 0 to {highest:g} kg/m3, "
        "the density of oxygen at 40200 kPa absolute and 20 degC"
    )
    with refusal(message):
        OXYGEN.pressure_kpa(tried, 20.0)


@pytest.mark.parametrize("gauge_kpa", [-0.001, 40_001.0, math.nan, math.inf])
def test_a_gauge_outside_the_range_is_refused(gauge_kpa: float) -> None:
    message = f"gauge pressure {gauge_kpa:g} kPa is outside 0 to 40000 kPa (400 bar)"
    calls: tuple[Callable[[], float], ...] = (
        lambda: contents.contents_l(gauge_kpa, 20.0, 1.0),
        lambda: contents.water_capacity_l(1.0, gauge_kpa, 20.0),
    )
    for call in calls:
        with refusal(message):
            call()


@pytest.mark.parametrize("water_capacity_l", [0.0, -1.0, math.nan, math.inf])
def test_a_water_capacity_that_is_none_is_refused(water_capacity_l: float) -> None:
    message = f"water capacity {water_capacity_l:g} L is not a number above 0 L"
    calls: tuple[Callable[[], float], ...] = (
        lambda: contents.contents_l(100.0, 20.0, water_capacity_l),
        lambda: contents.gauge_kpa(100.0, 20.0, water_capacity_l),
    )
    for call in calls:
        with refusal(message):
            call()


@pytest.mark.parametrize("litres", [-0.001, 2000.0, math.nan, math.inf])
def test_contents_that_the_cylinder_cannot_hold_are_refused(litres: float) -> None:
    most = contents.contents_l(40_000.0, 20.0, 2.0)
    message = (
        f"contents of {litres:g} L are outside 0 to {most:g} L, what a cylinder of 2 L water capacity holds "
        "at 40000 kPa (400 bar) and 20 degC"
    )
    with refusal(message):
        contents.gauge_kpa(litres, 20.0, 2.0)


@pytest.mark.parametrize("litres", [0.0, -1.0, math.nan, math.inf])
def test_label_contents_that_are_none_are_refused(litres: float) -> None:
    message = f"contents of {litres:g} L are not a number above 0 L"
    with refusal(message):
        contents.water_capacity_l(litres, 13_700.0, 15.0)


def test_a_label_at_zero_gauge_is_refused() -> None:
    message = "a gauge pressure of 0 kPa tells nothing of the water capacity; it must be above 0 kPa"
    with refusal(message):
        contents.water_capacity_l(600.0, 0.0, 21.1)


def test_a_brimful_and_an_empty_cylinder_stay_in_the_range() -> None:
    """Rounding of the last binary digit must not turn a reading that was accepted into one that is refused."""
    for degc in WIDE_TEMPERATURES_DEGC:
        for capacity in (0.3, 1.0, 3.859, 7.7):
            for gauge in (0.0, 40_000.0):
                back = contents.gauge_kpa(contents.contents_l(gauge, degc, capacity), degc, capacity)
                assert 0.0 <= back <= 40_000.0
                contents.contents_l(back, degc, capacity)


def test_psi_is_that_of_the_inch_and_pound() -> None:
    """NIST SP 811: 1 psi = 6.894 757 kPa; 0.45359237 kg x 9.80665 m/s2 over (0.0254 m)^2."""
    assert pytest.approx(0.45359237 * 9.80665 / 0.0254**2 / 1000.0, rel=1e-14) == KPA_PER_PSI
