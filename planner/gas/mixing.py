"""Blends of oxygen and air, and what altitude does to them.

Source: standard respiratory physiology. Oxygen in air is taken as 0.21, water vapour in the airway as
47 mmHg (saturated at 37 degC).
"""

from __future__ import annotations

from typing import Final

from planner.constants import AIR_OXYGEN_FRACTION, KPA_PER_MMHG, WATER_VAPOUR_MMHG
from planner.figures import as_given as given

LOWEST_PRESSURE_KPA: Final = 10.0
HIGHEST_PRESSURE_KPA: Final = 120.0

_WATER_VAPOUR_KPA: Final = WATER_VAPOUR_MMHG * KPA_PER_MMHG


def _check_fio2(fio2: float) -> None:
    if not AIR_OXYGEN_FRACTION <= fio2 <= 1.0:
        raise ValueError(f"FiO2 {given(fio2)} is outside {given(AIR_OXYGEN_FRACTION)} to 1")


def _dry_pressure_kpa(name: str, pressure_kpa: float) -> float:
    """Pressure of the dry gas in the airway: the air's pressure less that of water vapour."""
    if not LOWEST_PRESSURE_KPA <= pressure_kpa <= HIGHEST_PRESSURE_KPA:
        raise ValueError(
            f"{name} pressure {given(pressure_kpa)} kPa is outside {given(LOWEST_PRESSURE_KPA)} to "
            f"{given(HIGHEST_PRESSURE_KPA)} kPa"
        )
    return pressure_kpa - _WATER_VAPOUR_KPA


def oxygen_share(fio2: float) -> float:
    """Share of pure oxygen in a blend of oxygen and air: k = (FiO2 - 0.21) / 0.79.

    `fio2`: fraction of oxygen in the blend, from 0.21 to 1. Raises `ValueError` outside.

    >>> round(oxygen_share(0.60), 4)
    0.4937
    """
    _check_fio2(fio2)
    return (fio2 - AIR_OXYGEN_FRACTION) / (1.0 - AIR_OXYGEN_FRACTION)


def fio2_at_cabin(fio2: float, home_kpa: float, cabin_kpa: float) -> float:
    """Fraction of oxygen that keeps the inspired oxygen pressure of home in the cabin.

    FiO2' = FiO2 x (P_home - 47 mmHg) / (P_cabin - 47 mmHg)

    `fio2`: fraction set at home, from 0.21 to 1. `home_kpa`, `cabin_kpa`: absolute pressure of the air, kPa,
    from 10 to 120. The result exceeds 1 where no blend can keep it: a clinician decides what then. Raises
    `ValueError` outside the ranges.

    >>> round(fio2_at_cabin(0.40, 101.325, 75.262), 2)  # 8000 ft
    0.55
    """
    _check_fio2(fio2)
    return fio2 * _dry_pressure_kpa("home", home_kpa) / _dry_pressure_kpa("cabin", cabin_kpa)


def inspired_fraction_kept(home_kpa: float, cabin_kpa: float) -> float:
    """Fraction of the home inspired oxygen pressure that is left in the cabin at an unchanged setting.

    kept = (P_cabin - 47 mmHg) / (P_home - 47 mmHg)

    `home_kpa`, `cabin_kpa`: absolute pressure of the air, kPa, from 10 to 120. Raises `ValueError` outside.

    >>> round(inspired_fraction_kept(101.325, 75.262), 3)  # 8000 ft
    0.726
    """
    return _dry_pressure_kpa("cabin", cabin_kpa) / _dry_pressure_kpa("home", home_kpa)
