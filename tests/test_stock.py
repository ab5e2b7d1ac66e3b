"""What a cylinder holds and gives, against the published equation of state, and what a supply has on hand.

Contents are worked here from densities of CoolProp (Schmidt and Wagner 1985), so that the planner's own density is not
tested against itself: litres = V x (rho(p, T) - rho(101.325 kPa, T)) / rho(101.325 kPa, 21.1 degC).
"""

from __future__ import annotations

import pytest
from CoolProp.CoolProp import PropsSI

from planner.constants import KPA_PER_PSI
from planner.cylinders.onhand import on_hand
from planner.cylinders.stock import cold_degc, full, hand_usable_l, held, read_degc
from planner.flow.outlets import Asks, OutletNeed
from planner.model import Outlet, SizeAsked, Supply
from planner.trade.policy_table import policy_defaults
from tests.build import HIGH_PRESSURE, cylinder, flowmeter

POLICY = policy_defaults("road")
CHANGE_OVER = POLICY.change_over_at_kpa
CART = Supply("cart", "cylinders")
E = cylinder("a", 1900)


def rho(gauge_kpa: float, temperature_degc: float) -> float:
    """Density of oxygen, kg/m3."""
    return float(PropsSI("D", "P", (gauge_kpa + 101.325) * 1000.0, "T", temperature_degc + 273.15, "Oxygen"))


def litres(gauge_psi: float, temperature_degc: float = 21.1) -> float:
    """Contents of an E cylinder by CoolProp; 0.28 L/psi x 2200 psi = 616 L at 21.1 degC make its water capacity."""
    full_density = rho(2200.0 * KPA_PER_PSI, 21.1) - rho(0.0, 21.1)
    density = rho(gauge_psi * KPA_PER_PSI, temperature_degc) - rho(0.0, temperature_degc)
    return 616.0 * density / full_density


def test_usable_is_what_is_above_change_over() -> None:
    found = held(E, CART, POLICY)
    assert found.contents_l == pytest.approx(litres(1900), rel=1e-3)
    assert found.residual_l == pytest.approx(litres(500), rel=1e-3)
    assert found.usable_l == pytest.approx(litres(1900) - litres(500), rel=1e-3)


@pytest.mark.hazard(2)
def test_below_change_over_nothing_is_usable() -> None:
    assert held(cylinder("a", 400), CART, POLICY).usable_l == 0.0
    assert held(cylinder("a", 0), CART, POLICY._replace(gauge_allowance_kpa=50.0)).usable_l == 0.0


@pytest.mark.hazard(17)
def test_warmth_is_taken_off_and_cold_is_not_counted() -> None:
    warm = held(E._replace(temperature_degc=45.0), CART, POLICY)
    assert (warm.read_degc, warm.cold_degc) == (45.0, 21.1)
    assert warm.usable_l == pytest.approx(litres(1900, 45.0) - litres(500), rel=1e-3)
    cold = held(E._replace(temperature_degc=-20.0), CART, POLICY)
    assert (cold.read_degc, cold.cold_degc) == (21.1, -20.0)
    assert cold.usable_l == pytest.approx(litres(1900) - litres(500, -20.0), rel=1e-3)
    plain = held(E, CART, POLICY).usable_l
    assert warm.usable_l < plain
    assert cold.usable_l < plain


def test_whose_temperature_counts() -> None:
    supply = CART._replace(temperature_degc=30.0, coldest_degc=-5.0)
    assert (held(E, supply, POLICY).read_degc, held(E, supply, POLICY).cold_degc) == (30.0, -5.0)
    own = held(E._replace(temperature_degc=-10.0), supply, POLICY)
    assert (own.read_degc, own.cold_degc) == (21.1, -10.0)
    assert read_degc(None) == 21.1
    assert cold_degc(None, 35.0) == 21.1


def test_the_allowance_is_taken_off_the_reading() -> None:
    allowing = POLICY._replace(gauge_allowance_kpa=100.0 * KPA_PER_PSI)
    found = held(E, CART, allowing)
    assert found.usable_l == pytest.approx(litres(1800) - litres(500), rel=1e-3)
    # After all that is usable is drawn it shows change-over, and 100 psi more as it reads too high.
    assert found.gauge_after(found.usable_l) == pytest.approx(600.0 * KPA_PER_PSI, rel=1e-6)
    assert held(E, CART, allowing, allowance_kpa=0.0).usable_l == held(E, CART, POLICY).usable_l
    assert held(E, CART, POLICY, gauge_kpa=800.0 * KPA_PER_PSI).gauge_kpa == 800.0 * KPA_PER_PSI


def test_the_gauge_after_litres_are_drawn() -> None:
    found = held(E, CART, POLICY)
    assert found.gauge_after(0.0) == found.gauge_kpa
    # From 1900 to 1200 psi.
    assert found.gauge_after(litres(1900) - litres(1200)) == pytest.approx(1200.0 * KPA_PER_PSI, rel=2e-3)
    assert found.gauge_after(9999.0) == 0.0
    # The first 0.4 of its 531 L at 1900 psi: by the hand method 0.4 / 0.28 = 1.4 psi.
    assert found.gauge_after(0.4) == pytest.approx((1900.0 - 0.4 / 0.28) * KPA_PER_PSI, abs=0.2 * KPA_PER_PSI)


def test_the_gauge_at_which_litres_are_usable() -> None:
    found = held(E, CART, POLICY)
    assert found.gauge_for(litres(1200) - litres(500), CHANGE_OVER) == pytest.approx(1200.0 * KPA_PER_PSI, rel=2e-3)
    assert found.gauge_for(0.0, CHANGE_OVER) == pytest.approx(CHANGE_OVER)
    # From 2200 psi, its filling pressure, there are 616 L less 143 below 500 psi. More it cannot hold.
    assert found.gauge_for(litres(2200) - litres(500) - 1.0, CHANGE_OVER) is not None
    assert found.gauge_for(litres(2200) - litres(500) + 1.0, CHANGE_OVER) is None
    # With an allowance the reading would have to be beyond the filling pressure.
    high = held(E, CART, POLICY, allowance_kpa=100.0 * KPA_PER_PSI)
    assert high.gauge_for(litres(2150) - litres(500), CHANGE_OVER) is None


def test_the_gauge_for_litres_in_the_cold_is_higher() -> None:
    cold = held(E, CART._replace(coldest_degc=-30.0), POLICY)
    least = cold.gauge_for(0.0, CHANGE_OVER)
    assert least is not None
    # What fills it to 500 psi at -30 degC fills it to more at 21.1.
    assert litres(least / KPA_PER_PSI) == pytest.approx(litres(500, -30.0), rel=1e-3)
    warm = held(E._replace(temperature_degc=21.1), CART, POLICY)
    assert warm.gauge_for(0.0, CHANGE_OVER) == pytest.approx(CHANGE_OVER)


def test_a_full_one_reads_what_the_policy_calls_full() -> None:
    size = SizeAsked("US-E", E.water_capacity_l, E.filling_gauge_kpa, 0.28, 2000.0 * KPA_PER_PSI)
    found = full(size, CART, POLICY)
    assert found.usable_l == pytest.approx(litres(2000) - litres(500), rel=1e-3)
    assert found.outlets is None
    asks = [Asks((OutletNeed("high_pressure", 1.0, "vent"),), magnet=True)]
    assert found.serves_all(asks)
    metered = full(size, CART._replace(outlets=(flowmeter(),)), POLICY)
    assert not metered.serves_all(asks)
    driven = full(size._replace(outlets=(HIGH_PRESSURE,)), CART._replace(outlets=(flowmeter(),)), POLICY)
    assert driven.serves_all(asks)
    high = full(size, CART, POLICY, allowance_kpa=100.0 * KPA_PER_PSI)
    assert high.usable_l == pytest.approx(litres(1900) - litres(500), rel=1e-3)


def test_a_reading_within_the_allowance_is_no_gas() -> None:
    assert held(cylinder("a", 90), CART, POLICY, allowance_kpa=100.0 * KPA_PER_PSI).contents_l == 0.0


def test_what_is_lost_is_not_there() -> None:
    stock = on_hand(CART._replace(cylinders=(E, E._replace(label="b"))), POLICY)
    assert stock is not None
    assert stock.empty().usable_l == [0.0, 0.0]
    assert [tank.usable_l for tank in stock.empty().tanks] == [0.0, 0.0]
    alone = on_hand(CART._replace(kind="manifold", cylinders=(E,)), POLICY)
    assert alone is not None
    assert [tank.usable_l for tank in alone.without(0).tanks] == [0.0]
    for nothing in (0.0, None):
        stated = on_hand(Supply("liquid", "litres", stated_l=nothing), POLICY)
        assert stated is not None
        assert stated.usable_l == [0.0]


def test_a_manifold_is_as_warm_as_its_warmest_as_cold_as_its_coldest_and_filled_as_its_lowest() -> None:
    warm = cylinder("a", 1900)._replace(temperature_degc=40.0, filling_gauge_kpa=14000.0)
    cold = cylinder("b", 1900)._replace(temperature_degc=-10.0)
    found = on_hand(CART._replace(kind="manifold", cylinders=(warm, cold)), POLICY)
    assert found is not None
    assert found.together is not None
    assert (found.together.read_degc, found.together.cold_degc) == (40.0, -10.0)
    assert found.together.filling_gauge_kpa == 14000.0


def test_the_allowance_is_taken_off_the_gauge_of_a_manifold() -> None:
    allowing = POLICY._replace(gauge_allowance_kpa=100.0 * KPA_PER_PSI)
    manifold = CART._replace(kind="manifold", cylinders=(E, E._replace(label="b")))
    found = on_hand(manifold, allowing)
    assert found is not None
    assert found.together is not None
    assert found.together.contents_l == pytest.approx(2.0 * litres(1800), rel=1e-3)
    low = on_hand(manifold._replace(cylinders=(cylinder("a", 90),)), allowing)
    assert low is not None
    assert low.together is not None
    assert low.together.contents_l == 0.0


def test_the_hand_method() -> None:
    # (1900 - 500) x 0.28 = 392 L; with 100 psi of allowance 364.
    assert hand_usable_l(E, POLICY) == pytest.approx(392.0)
    assert hand_usable_l(E, POLICY._replace(gauge_allowance_kpa=100.0 * KPA_PER_PSI)) == pytest.approx(364.0)
    assert hand_usable_l(cylinder("a", 300), POLICY) == 0.0


def test_what_is_on_hand_one_after_another() -> None:
    supply = CART._replace(cylinders=(cylinder("a", 1900), cylinder("b", 400), cylinder("air", 1900, gas="air")))
    found = on_hand(supply, POLICY)
    assert found is not None
    assert found.usable_l == pytest.approx([litres(1900) - litres(500), 0.0, 0.0], rel=1e-3)
    assert [found.label_of(tank) for tank in range(3)] == ["a", "b", "air"]
    assert found.held_of(1) is found.helds[1]
    assert found.each == found.tanks
    assert [tank.usable_l for tank in found.empty().tanks] == [0.0, 0.0, 0.0]


def test_nothing_is_on_hand_on_the_wall_or_before_it_is_drawn() -> None:
    assert on_hand(Supply("wall", "pipeline"), POLICY) is None
    assert on_hand(Supply("drawn", "sizes"), POLICY) is None


def test_a_stated_amount() -> None:
    liquid = Supply("liquid", "litres", stated_l=3000.0, outlets=(flowmeter(),))
    found = on_hand(liquid, POLICY)
    assert found is not None
    assert found.usable_l == [3000.0]
    assert (found.held_of(0), found.label_of(0)) == (None, None)
    assert not found.tanks[0].magnet_safe
    fixed = on_hand(liquid._replace(fixed=True, outlets=None), POLICY)
    assert fixed is not None
    assert fixed.tanks[0].magnet_safe
    assert fixed.tanks[0].outlets is None


def test_a_manifold_is_one_tank_with_one_gauge() -> None:
    one, other = cylinder("a", 1900), cylinder("b", 1500)._replace(magnet_safe=True)
    found = on_hand(CART._replace(kind="manifold", cylinders=(one, other)), POLICY)
    assert found is not None
    # Two E cylinders at the lower of both readings.
    assert found.usable_l == pytest.approx([litres(1500) - litres(500)] * 2, rel=1e-3)
    assert [tank.usable_l for tank in found.tanks] == pytest.approx([2.0 * (litres(1500) - litres(500))], rel=1e-3)
    assert found.label_of(0) == "a+b"
    assert found.together is not None
    assert found.together.gauge_kpa == 1500.0 * KPA_PER_PSI
    assert found.together.water_capacity_l == pytest.approx(2.0 * E.water_capacity_l)
    assert found.together.usable_l == pytest.approx(found.tanks[0].usable_l)
    assert not found.tanks[0].magnet_safe


def test_the_outlets_of_a_manifold_are_all_of_them() -> None:
    one, other = cylinder("a", 1900, outlets=(flowmeter(),)), cylinder("b", 1900, outlets=(HIGH_PRESSURE,))
    manifold = CART._replace(kind="manifold", cylinders=(one, other))
    own = on_hand(manifold, POLICY)
    assert own is not None
    assert own.tanks[0].outlets == (flowmeter(), HIGH_PRESSURE)
    shared = on_hand(manifold._replace(outlets=(HIGH_PRESSURE,)), POLICY)
    assert shared is not None
    assert shared.tanks[0].outlets == (HIGH_PRESSURE,)
    bare = on_hand(manifold._replace(cylinders=(cylinder("a", 1900, outlets=None),)), POLICY)
    assert bare is not None
    assert bare.tanks[0].outlets == (Outlet("flowmeter", 15.0),)


def test_an_allowance_for_each_gauge() -> None:
    supply = CART._replace(cylinders=(cylinder("a", 1900), cylinder("b", 1900)))
    found = on_hand(supply, POLICY, allowance=lambda one: 100.0 * KPA_PER_PSI if one.label == "b" else 0.0)
    assert found is not None
    usable = [litres(1900) - litres(500), litres(1800) - litres(500)]
    assert found.usable_l == pytest.approx(usable, rel=1e-3)
    # A manifold has one gauge: it is taken to read as high as any.
    manifold = on_hand(
        supply._replace(kind="manifold"), POLICY, allowance=lambda one: 100.0 * KPA_PER_PSI if one.label == "b" else 0.0
    )
    assert manifold is not None
    assert manifold.usable_l == pytest.approx([usable[1]] * 2, rel=1e-3)
