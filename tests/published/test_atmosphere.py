"""Pressure at altitude against the published standard atmosphere.

Sources: U.S. Standard Atmosphere, 1976, as computed by the package `fluids` (which only the tests use); a
table in Arch Dis Child for 1000 m in mmHg; the printed tables of the same atmosphere, from memory.
"""

from __future__ import annotations

import math
import re
from contextlib import AbstractContextManager

import pytest
from fluids.atmosphere import ATMOSPHERE_1976

from planner.constants import KPA_PER_INHG, KPA_PER_MMHG, M_PER_FT
from planner.gas import atmosphere

EARTH_RADIUS_M = 6_356_766.0  # U.S. Standard Atmosphere, 1976, page 4; between the two kinds of altitude


def published_kpa(geopotential_m: float) -> float:
    """`fluids` takes the geometric height Z, the planner the geopotential one H: Z = R H / (R - H)."""
    geometric_m = EARTH_RADIUS_M * geopotential_m / (EARTH_RADIUS_M - geopotential_m)
    return float(ATMOSPHERE_1976(geometric_m).P) / 1000.0


def refusal(message: str) -> AbstractContextManager[object]:
    """Expects a `ValueError` with exactly this text."""
    return pytest.raises(ValueError, match=f"^{re.escape(message)}$")


@pytest.mark.parametrize("altitude_m", range(-600, 11_001, 200), ids=lambda h: f"US-1976 {h} m")
def test_pressure_is_that_of_the_1976_atmosphere(altitude_m: int) -> None:
    """Tolerance 1e-9: the same formula on both sides, so only rounding may differ."""
    assert atmosphere.pressure_kpa(float(altitude_m)) == pytest.approx(published_kpa(float(altitude_m)), rel=1e-9)


@pytest.mark.parametrize(
    ("altitude_m", "published", "unit_kpa", "half_digit"),
    [
        pytest.param(0.0, 760.0, KPA_PER_MMHG, 0.5, id="US-1976: sea level 760 mmHg"),
        pytest.param(1000.0, 674.0, KPA_PER_MMHG, 0.5, id="Arch Dis Child table: 1000 m 674 mmHg"),
        pytest.param(1000.0, 89.9, 1.0, 0.05, id="Arch Dis Child table: 1000 m 89.9 kPa"),
        pytest.param(3000.0, 526.0, KPA_PER_MMHG, 0.5, id="US-1976 table: 3000 m 526 mmHg"),
        pytest.param(8000.0 * M_PER_FT, 565.0, KPA_PER_MMHG, 0.5, id="US-1976 table: 8000 ft 565 mmHg"),
        pytest.param(
            8000.0 * M_PER_FT, 22.22, KPA_PER_INHG, 0.005, id="US-1976 table, from memory: 8000 ft 22.22 inHg"
        ),
        pytest.param(
            5000.0 * M_PER_FT, 24.90, KPA_PER_INHG, 0.005, id="US-1976 table, from memory: 5000 ft 24.90 inHg"
        ),
        pytest.param(
            10_000.0 * M_PER_FT, 20.58, KPA_PER_INHG, 0.005, id="US-1976 table, from memory: 10 000 ft 20.58 inHg"
        ),
        pytest.param(11_000.0, 22.632, 1.0, 0.0005, id="US-1976 table, from memory: 11 000 m 226.32 hPa"),
    ],
)
def test_pressure_is_the_printed_one(altitude_m: float, published: float, unit_kpa: float, half_digit: float) -> None:
    """Tolerance: half the last printed digit."""
    assert atmosphere.pressure_kpa(altitude_m) / unit_kpa == pytest.approx(published, abs=half_digit)


def test_a_cabin_altitude_errs_to_the_safe_side_if_it_was_a_height() -> None:
    """Read as a height in metres, the same number means a little more air: 0.02 % at 3000 m, 0.3 % at 11 km."""
    for altitude_m in (500.0, 1000.0, 2438.4, 3000.0, 11_000.0):
        by_height_kpa = float(ATMOSPHERE_1976(altitude_m).P) / 1000.0
        assert by_height_kpa * (1.0 - 0.0031) < atmosphere.pressure_kpa(altitude_m) < by_height_kpa


@pytest.mark.parametrize("altitude_m", [-600.0, -430.0, 0.0, 1.0, 1655.0, 2438.4, 5000.0, 10_999.0, 11_000.0])
def test_altitude_is_the_inverse(altitude_m: float) -> None:
    """Tolerance 1e-8 m: rounding only."""
    back = atmosphere.altitude_m(atmosphere.pressure_kpa(altitude_m))
    assert back == pytest.approx(altitude_m, abs=1e-8)
    assert atmosphere.pressure_kpa(back) == pytest.approx(atmosphere.pressure_kpa(altitude_m), rel=1e-12)


@pytest.mark.parametrize("altitude_m", [-600.1, 11_000.1, math.nan, math.inf])
def test_an_altitude_outside_the_range_is_refused(altitude_m: float) -> None:
    message = (
        f"altitude {altitude_m:g} m is outside -600 to 11000 m, where the pressure of the air is known to this program"
    )
    with refusal(message):
        atmosphere.pressure_kpa(altitude_m)


@pytest.mark.parametrize("pressure_kpa", [22.6, 108.8, 0.0, math.nan, math.inf])
def test_an_air_pressure_outside_the_range_is_refused(pressure_kpa: float) -> None:
    """22.632 kPa at 11 000 m is printed in the tables; 108.74 kPa at -600 m is worked out:
    101.325 x (1 + 0.0065 x 600 / 288.15) ^ 5.25588 = 101.325 x 1.0135346 ^ 5.25588 = 108.74."""
    message = (
        f"air pressure {pressure_kpa:g} kPa is outside 22.632 to 108.74 kPa, the pressures from 11000 m down to -600 m"
    )
    with refusal(message):
        atmosphere.altitude_m(pressure_kpa)
