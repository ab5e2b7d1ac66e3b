"""Cylinder sizes against published figures, each with its source, and against CoolProp's density of oxygen."""

from __future__ import annotations

import CoolProp
import pytest
from CoolProp import AbstractState

from planner.constants import KPA_PER_PSI
from planner.trade.catalog import find_size, sizes

LITRES_PER_CUBIC_FOOT = 28.316846592  # exact, from the international foot of 0.3048 m


def coolprop_litres_per_litre(gauge_kpa: float, temperature_degc: float) -> float:
    """Litres at 21.1 degC and 101.325 kPa that leave 1 L of water capacity down to zero gauge.

    Density by Schmidt and Wagner, Fluid Phase Equilibria 1985;19:175-200, as CoolProp carries it.
    """

    def density(absolute_kpa: float, degc: float) -> float:
        state = AbstractState("HEOS", "Oxygen")
        state.update(CoolProp.PT_INPUTS, absolute_kpa * 1000.0, degc + 273.15)
        return float(state.rhomass())

    left = density(101.325, temperature_degc)
    return (density(gauge_kpa + 101.325, temperature_degc) - left) / density(101.325, 21.1)


@pytest.mark.parametrize(
    ("code", "factor_l_per_psi"),
    [("US-D", 0.16), ("US-E", 0.28), ("US-M", 1.56), ("US-G", 2.41), ("US-H", 3.14), ("US-K", 3.14)],
)
def test_factor_of_the_textbooks(code: str, factor_l_per_psi: float) -> None:
    """Respiratory care textbooks; seen as a table on a public health page, first print from memory.

    The hand method and the real gas agree on a full cylinder: K x 2200 psi at 21.1 degC. CoolProp's own
    density has to give the same litres from the water capacity, within 0.1 %.
    """
    size = find_size(code)
    assert size is not None
    assert size.known_by == "factor"
    assert size.factor_l_per_psi == factor_l_per_psi
    assert size.filling_degc == 21.1
    assert size.filling_gauge_kpa == pytest.approx(15168.466, abs=0.001)  # 2200 x 6.894757293 kPa
    assert size.contents_l == pytest.approx(factor_l_per_psi * 2200.0, rel=1e-9)
    by_coolprop = size.water_capacity_l * coolprop_litres_per_litre(2200.0 * KPA_PER_PSI, 21.1)
    assert by_coolprop == pytest.approx(factor_l_per_psi * 2200.0, rel=1e-3)


@pytest.mark.parametrize(("code", "cubic_feet"), [("US-E", 22.0), ("US-H", 244.0), ("US-K", 244.0)])
def test_factor_from_cubic_feet(code: str, cubic_feet: float) -> None:
    """Textbooks of respiratory care derive K so: cubic feet x 28.3 / 2200 psi (cubic feet from memory).

    E: 22 x 28.3168 / 2200 = 0.2832; H and K: 244 x 28.3168 / 2200 = 3.1406. Printed with two decimals, so
    half the last digit is allowed.
    """
    size = find_size(code)
    assert size is not None
    assert size.factor_l_per_psi == pytest.approx(cubic_feet * LITRES_PER_CUBIC_FOOT / 2200.0, abs=0.005)


def test_e_cylinder_lasts_308_minutes() -> None:
    """E at 2200 psi, 2 L/min, to empty: 308 min. Seen: ehow.co.uk, how to calculate oxygen cylinder duration."""
    size = find_size("US-E")
    assert size is not None
    assert size.contents_l / 2.0 == pytest.approx(308.0, abs=0.5)


def test_e_label_of_the_anaesthesia_table() -> None:
    """660 L at 1900 psi: table of ASTM F1161-88 and NFPA 99 (1990), quoted in Nagelhout and Zaglaniczny, 2001.

    By the hand method that label is 660 / 1900 = 0.3474 L/psi, 24 % above the factor of 0.28. The real gas of
    CoolProp has to give 660 L from the largest water capacity, within 0.1 %.
    """
    size = find_size("US-E")
    assert size is not None
    assert size.largest_label_contents_l == 660.0
    assert size.largest_label_gauge_kpa == pytest.approx(1900.0 * 6.894757293168361)
    by_coolprop = size.largest_water_capacity_l * coolprop_litres_per_litre(1900.0 * KPA_PER_PSI, 21.1)
    assert by_coolprop == pytest.approx(660.0, rel=1e-3)
    assert size.largest_water_capacity_l / size.water_capacity_l == pytest.approx(0.3474 / 0.28, abs=0.01)


@pytest.mark.parametrize(
    ("code", "contents_l", "filling_gauge_kpa"),
    [("UK-D", 340.0, 13_700.0), ("UK-F", 1360.0, 13_700.0), ("UK-CD", 460.0, 23_000.0)],
)
def test_uk_sizes_of_lutman_and_petros(code: str, contents_l: float, filling_gauge_kpa: float) -> None:
    """Lutman and Petros, Emerg Med J 2006;23:703: contents at 15 degC at the filling pressure."""
    size = find_size(code)
    assert size is not None
    assert (size.contents_l, size.filling_gauge_kpa, size.filling_degc) == (contents_l, filling_gauge_kpa, 15.0)
    assert "basis" not in size.recalled
    by_coolprop = size.water_capacity_l * coolprop_litres_per_litre(filling_gauge_kpa, 15.0)
    assert by_coolprop == pytest.approx(contents_l, rel=1e-3)
    assert size.factor_l_per_psi == pytest.approx(contents_l / (filling_gauge_kpa / 6.894757293168361), rel=1e-9)


def test_uk_d_factor_by_hand() -> None:
    """340 L at 13 700 kPa: 13 700 / 6.894757 = 1987.02 psi; 340 / 1987.02 = 0.17111 L/psi."""
    size = find_size("UK-D")
    assert size is not None
    assert size.factor_l_per_psi == pytest.approx(0.17111, abs=0.000005)


@pytest.mark.parametrize("code", [code for code, size in sizes().items() if size.system == "ISO"])
def test_iso_sizes_hold_what_coolprop_says(code: str) -> None:
    """By definition the number is the water capacity in litres; contents at 200 bar and 15 degC by CoolProp."""
    size = find_size(code)
    assert size is not None
    water_capacity_l = float(code.removeprefix("ISO-"))
    assert size.water_capacity_l == water_capacity_l
    assert size.filling_gauge_kpa == 20_000.0
    assert size.contents_l == pytest.approx(water_capacity_l * coolprop_litres_per_litre(20_000.0, 15.0), rel=1e-3)


def test_mass_of_the_gas_by_molar_mass() -> None:
    """Mass of oxygen by its molar mass, 31.9988 g/mol (CIAAW), and the ideal gas law.

    At 21.1 degC and 101.325 kPa a mole fills 8.314463 x 294.25 / 101.325 = 24.1455 L, so a litre is 1.32525 g.
    A full H by its largest label of 7050 L at 2200 psi: 9.343 kg. Oxygen is 0.07 % denser than the ideal gas.
    """
    size = find_size("US-H")
    assert size is not None
    assert size.tare_kg is not None
    assert size.full_mass_kg is not None
    assert size.full_mass_kg - size.tare_kg == pytest.approx(9.343, rel=2e-3)
