"""Pressure of the air at an altitude, by the standard atmosphere of 1976.

In the troposphere, from below sea level to 11 km:

    p = 101.325 kPa x (1 - 0.0065 K/m x h / 288.15 K) ^ 5.25588

The exponent is g M / (R L) = 9.80665 x 0.0289644 / (8.31432 x 0.0065). h is the geopotential altitude, which
is what an altimeter and a cabin altitude gauge show. A height measured with a tape is a little more: 1 m more
at 2500 m, 19 m more at 11 km.

Source: U.S. Standard Atmosphere, 1976 (NOAA, NASA, USAF; Washington, 1976), equation 33a.
"""

from __future__ import annotations

from typing import Final

from planner.constants import STANDARD_PRESSURE_KPA
from planner.figures import as_given as given

LOWEST_ALTITUDE_M: Final = -600.0
HIGHEST_ALTITUDE_M: Final = 11_000.0

SEA_LEVEL_TEMPERATURE_K: Final = 288.15
LAPSE_RATE_K_PER_M: Final = 0.0065
EXPONENT: Final = 9.80665 * 0.0289644 / (8.31432 * LAPSE_RATE_K_PER_M)


def pressure_kpa(altitude_m: float) -> float:
    """Absolute pressure of the standard atmosphere, kPa.

    `altitude_m`: geopotential (pressure) altitude, m, from -600 to 11 000. Raises `ValueError` outside.

    >>> round(pressure_kpa(1000.0), 2)
    89.87
    """
    if not LOWEST_ALTITUDE_M <= altitude_m <= HIGHEST_ALTITUDE_M:
        raise ValueError(
            f"altitude {given(altitude_m)} m is outside {given(LOWEST_ALTITUDE_M)} to {given(HIGHEST_ALTITUDE_M)} m, "
            "where the pressure of the air is known to this program"
        )
    ratio: float = (1.0 - LAPSE_RATE_K_PER_M * altitude_m / SEA_LEVEL_TEMPERATURE_K) ** EXPONENT
    return STANDARD_PRESSURE_KPA * ratio


LOWEST_PRESSURE_KPA: Final = pressure_kpa(HIGHEST_ALTITUDE_M)
HIGHEST_PRESSURE_KPA: Final = pressure_kpa(LOWEST_ALTITUDE_M)


def altitude_m(pressure_kpa: float) -> float:
    """Altitude in the standard atmosphere, m, at which the air has a pressure: the inverse of `pressure_kpa()`.

    `pressure_kpa`: absolute pressure, kPa, from 22.632 (11 000 m) to 108.74 (-600 m). Raises `ValueError`
    outside.

    >>> round(altitude_m(75.262))  # 8000 ft
    2438
    """
    if not LOWEST_PRESSURE_KPA <= pressure_kpa <= HIGHEST_PRESSURE_KPA:
        raise ValueError(
            f"air pressure {given(pressure_kpa)} kPa is outside {given(LOWEST_PRESSURE_KPA, 5)} to "
            f"{given(HIGHEST_PRESSURE_KPA, 5)} kPa, "
            f"the pressures from {given(HIGHEST_ALTITUDE_M)} m down to {given(LOWEST_ALTITUDE_M)} m"
        )
    ratio: float = (pressure_kpa / STANDARD_PRESSURE_KPA) ** (1.0 / EXPONENT)
    altitude = (1.0 - ratio) * SEA_LEVEL_TEMPERATURE_K / LAPSE_RATE_K_PER_M
    # The last binary digit must not carry the result out of the range of `pressure_kpa()`.
    return min(max(altitude, LOWEST_ALTITUDE_M), HIGHEST_ALTITUDE_M)
