"""Blends and altitude against standard respiratory physiology.

k = (FiO2 - 0.21) / 0.79 and FiO2' = FiO2 x (P_home - 47) / (P_cabin - 47) in mmHg; expected values are worked
by hand beside each row.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from contextlib import AbstractContextManager

import pytest

from planner.constants import KPA_PER_MMHG, M_PER_FT
from planner.gas import atmosphere, mixing


def refusal(message: str) -> AbstractContextManager[object]:
    """Expects a `ValueError` with exactly this text."""
    return pytest.raises(ValueError, match=f"^{re.escape(message)}$")


@pytest.mark.parametrize(
    ("fio2", "share"),
    [
        pytest.param(0.21, 0.0, id="by hand: 0.21 is air, 0 / 0.79"),
        pytest.param(0.40, 0.2405, id="by hand: 0.19 / 0.79"),
        pytest.param(0.60, 0.4937, id="by hand: 0.39 / 0.79"),
        pytest.param(0.80, 0.7468, id="by hand: 0.59 / 0.79"),
        pytest.param(1.00, 1.0, id="by hand: 1.00 is pure oxygen, 0.79 / 0.79"),
    ],
)
def test_oxygen_share(fio2: float, share: float) -> None:
    """Tolerance: half the last digit written."""
    assert mixing.oxygen_share(fio2) == pytest.approx(share, abs=0.00005)


@pytest.mark.parametrize(
    ("fio2", "ratio_to_one"),
    [
        pytest.param(0.24, 25.3, id="air-entrainment table: 0.24 is 25 parts of air to 1"),
        pytest.param(0.28, 10.3, id="air-entrainment table: 0.28 is 10 parts of air to 1"),
        pytest.param(0.40, 3.16, id="air-entrainment table: 0.40 is 3 parts of air to 1"),
        pytest.param(0.60, 1.03, id="air-entrainment table: 0.60 is 1 part of air to 1"),
    ],
)
def test_oxygen_share_agrees_with_the_air_entrainment_ratios(fio2: float, ratio_to_one: float) -> None:
    """Textbook ratios of air to oxygen (from memory) are whole numbers 25, 10, 3, 1; the fuller digits are
    (1 - FiO2) / (FiO2 - 0.21) by hand: 0.76/0.03, 0.72/0.07, 0.60/0.19, 0.40/0.39. Ratio = (1 - k) / k."""
    share = mixing.oxygen_share(fio2)
    found = (1.0 - share) / share
    assert found == pytest.approx(ratio_to_one, abs=0.05)
    assert round(found) == round(ratio_to_one)


@pytest.mark.parametrize(
    ("fio2", "home_mmhg", "cabin_mmhg", "expected"),
    [
        pytest.param(0.40, 760.0, 565.0, 0.551, id="physiology: 0.40 x 713 / 518"),
        pytest.param(0.21, 760.0, 526.0, 0.313, id="physiology: 0.21 x 713 / 479, air of sea level at 3000 m"),
        pytest.param(0.40, 674.0, 565.0, 0.484, id="physiology: 0.40 x 627 / 518, home at 1000 m"),
        pytest.param(0.50, 565.0, 760.0, 0.363, id="physiology: 0.50 x 518 / 713, down from 8000 ft"),
        pytest.param(0.80, 760.0, 565.0, 1.101, id="physiology: 0.80 x 713 / 518, more than any blend gives"),
    ],
)
def test_fio2_that_keeps_the_inspired_oxygen(fio2: float, home_mmhg: float, cabin_mmhg: float, expected: float) -> None:
    """Tolerance: half the last digit written."""
    found = mixing.fio2_at_cabin(fio2, home_mmhg * KPA_PER_MMHG, cabin_mmhg * KPA_PER_MMHG)
    assert found == pytest.approx(expected, abs=0.0005)


@pytest.mark.hazard(16)
def test_fio2_of_0_40_at_sea_level_becomes_0_55_at_8000_ft() -> None:
    """Both laws together; 0.55 is the published figure, half its last digit the tolerance."""
    cabin_kpa = atmosphere.pressure_kpa(8000.0 * M_PER_FT)
    assert mixing.fio2_at_cabin(0.40, atmosphere.pressure_kpa(0.0), cabin_kpa) == pytest.approx(0.55, abs=0.005)


@pytest.mark.parametrize(
    ("home_mmhg", "cabin_mmhg", "kept"),
    [
        pytest.param(760.0, 760.0, 1.0, id="physiology: nothing changes at home"),
        pytest.param(760.0, 565.0, 0.727, id="physiology: 518 / 713, 8000 ft"),
        pytest.param(760.0, 526.0, 0.672, id="physiology: 479 / 713, 3000 m"),
        pytest.param(674.0, 760.0, 1.137, id="physiology: 713 / 627, down from 1000 m"),
    ],
)
def test_fraction_of_the_home_inspired_oxygen_that_is_left(home_mmhg: float, cabin_mmhg: float, kept: float) -> None:
    """Tolerance: half the last digit written."""
    found = mixing.inspired_fraction_kept(home_mmhg * KPA_PER_MMHG, cabin_mmhg * KPA_PER_MMHG)
    assert found == pytest.approx(kept, abs=0.0005)


@pytest.mark.parametrize("fio2", [0.2099, 1.0001, 0.0, 60.0, -0.4, math.nan, math.inf])
def test_a_fraction_outside_the_range_is_refused(fio2: float) -> None:
    calls: tuple[Callable[[], float], ...] = (
        lambda: mixing.oxygen_share(fio2),
        lambda: mixing.fio2_at_cabin(fio2, 101.325, 75.0),
    )
    for call in calls:
        with refusal(f"FiO2 {fio2:g} is outside 0.21 to 1"):
            call()


@pytest.mark.hazard(4)
@pytest.mark.parametrize("pressure_kpa", [9.9, 121.0, 760.0, math.nan, math.inf])
def test_a_pressure_outside_the_range_is_refused(pressure_kpa: float) -> None:
    """760 is a pressure in mmHg given for one in kPa."""
    calls: tuple[tuple[str, Callable[[], float]], ...] = (
        ("home", lambda: mixing.fio2_at_cabin(0.4, pressure_kpa, 75.0)),
        ("cabin", lambda: mixing.fio2_at_cabin(0.4, 101.325, pressure_kpa)),
        ("home", lambda: mixing.inspired_fraction_kept(pressure_kpa, 75.0)),
        ("cabin", lambda: mixing.inspired_fraction_kept(101.325, pressure_kpa)),
    )
    for name, call in calls:
        with refusal(f"{name} pressure {pressure_kpa:g} kPa is outside 10 to 120 kPa"):
            call()
