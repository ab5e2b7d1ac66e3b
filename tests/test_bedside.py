"""How long a cylinder lasts at a gauge and a flow, against the hand method, the published gas and the plan.

K = 0.28 L/psi for an E cylinder (respiratory care textbooks, from memory). The real gas is taken straight from CoolProp
(equation of state of Schmidt and Wagner, 1985), so that no figure here is the program's own.
"""

from __future__ import annotations

import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from planner.bedside.lasts import Lasting, lasting
from planner.constants import KPA_PER_PSI
from planner.model import Device, Policy, Supply
from planner.planning import plan
from planner.trade.policy_table import policy_defaults
from tests.build import cylinder, leg, trip


def policy(change_over_psi: float = 500.0) -> Policy:
    return policy_defaults("in_house")._replace(change_over_at_kpa=change_over_psi * KPA_PER_PSI)


def left(
    gauge_psi: float,
    flow_l_per_min: float,
    change_over_psi: float = 500.0,
    *,
    size: str = "US-E",
    temperature_degc: float | None = None,
    coldest_degc: float | None = None,
) -> Lasting:
    read = cylinder("A", gauge_psi, size)._replace(temperature_degc=temperature_degc)
    return lasting(read, flow_l_per_min, policy(change_over_psi), coldest_degc)


def published_kg_per_m3(gauge_psi: float, degc: float = 21.1) -> float:
    """Density above that at zero gauge, by the published equation."""
    kelvin = degc + 273.15
    full = PropsSI("D", "P", gauge_psi * 6894.757293168361 + 101325.0, "T", kelvin, "Oxygen")
    return float(full - PropsSI("D", "P", 101325.0, "T", kelvin, "Oxygen"))


def published_litres(gauge_psi: float, degc: float = 21.1) -> float:
    """Contents of an E cylinder: 0.28 x 2200 = 616 L at 2200 psi and 21.1 degC."""
    return 616.0 * published_kg_per_m3(gauge_psi, degc) / published_kg_per_m3(2200.0)


def test_e_cylinder_2200_psi_at_2_l_per_min_to_empty_is_308_min() -> None:
    """Worked example, ehow.co.uk, how to calculate oxygen cylinder duration: 2200 x 0.28 / 2 = 308 min."""
    found = left(2200.0, 2.0, change_over_psi=0.0)
    assert found.hand_minutes == pytest.approx(308.0, rel=1e-12)
    assert found.minutes == pytest.approx(308.0, abs=0.5)


@pytest.mark.parametrize(
    ("size", "gauge_psi", "flow_l_per_min", "by_hand_min"),
    [
        # The textbooks' residual of 200 psi, worked by hand with their factors: (gauge - 200) x K / flow.
        pytest.param("US-E", 2000.0, 2.0, 252.0, id="(2000 - 200) x 0.28 / 2"),
        pytest.param("US-E", 2200.0, 5.0, 112.0, id="(2200 - 200) x 0.28 / 5"),
        pytest.param("US-D", 1200.0, 2.0, 80.0, id="(1200 - 200) x 0.16 / 2"),
        pytest.param("US-H", 1000.0, 10.0, 251.2, id="(1000 - 200) x 3.14 / 10"),
    ],
)
def test_hand_method_with_the_textbooks_residual(
    size: str, gauge_psi: float, flow_l_per_min: float, by_hand_min: float
) -> None:
    found = left(gauge_psi, flow_l_per_min, 200.0, size=size)
    assert found.hand_minutes == pytest.approx(by_hand_min, rel=1e-9)


@pytest.mark.parametrize(("gauge_psi", "change_over_psi"), [(2000.0, 200.0), (1900.0, 500.0), (800.0, 500.0)])
def test_minutes_follow_the_published_gas(gauge_psi: float, change_over_psi: float) -> None:
    """Tolerance 0.1 %: five times what the compact form of the equation is off by in a difference."""
    expected = (published_litres(gauge_psi) - published_litres(change_over_psi)) / 4.0
    assert left(gauge_psi, 4.0, change_over_psi).minutes == pytest.approx(expected, rel=1e-3)


def test_warm_and_cold_follow_the_published_gas() -> None:
    """Read at 35 degC, and the coldest -5 degC: contents at 35, residual at -5. Tolerance as above."""
    expected = (published_litres(1900.0, 35.0) - published_litres(500.0, -5.0)) / 4.0
    found = left(1900.0, 4.0, temperature_degc=35.0, coldest_degc=-5.0)
    assert found.minutes == pytest.approx(expected, rel=1e-3)


@pytest.mark.hazard(17)
@given(
    gauge_psi=st.floats(0.0, 2300.0), degc=st.floats(-40.0, 60.0), coldest_degc=st.one_of(st.none(), st.floats(-40, 60))
)
def test_warmth_and_cold_never_add_a_minute(gauge_psi: float, degc: float, coldest_degc: float | None) -> None:
    temperate = left(gauge_psi, 4.0)
    found = left(gauge_psi, 4.0, temperature_degc=degc, coldest_degc=coldest_degc)
    assert found.minutes <= temperate.minutes
    assert found.by_temperature_l <= 0.0


@given(gauge_psi=st.floats(0.0, 2300.0), degc=st.floats(-40.0, 60.0), flow=st.floats(0.1, 60.0))
def test_the_parts_of_the_difference_add_up(gauge_psi: float, degc: float, flow: float) -> None:
    found = left(gauge_psi, flow, temperature_degc=degc)
    whole = found.hand_usable_l + found.by_real_gas_l + found.by_temperature_l
    assert whole == pytest.approx(found.usable_l, abs=1e-9)


@pytest.mark.hazard(2)
@pytest.mark.parametrize("gauge_psi", [0.0, 200.0, 499.9, 500.0])
def test_nothing_is_left_at_or_below_change_over(gauge_psi: float) -> None:
    found = left(gauge_psi, 2.0)
    assert found.minutes == 0.0
    assert found.hand_minutes == 0.0


@pytest.mark.parametrize("flow_l_per_min", [0.0, -2.0, float("nan"), float("inf")])
def test_a_flow_that_is_none_is_refused(flow_l_per_min: float) -> None:
    with pytest.raises(ValueError, match=r"^flow \S+ L/min is not a number above 0 L/min$"):
        left(1900.0, flow_l_per_min)


@given(
    gauge_psi=st.floats(550.0, 2300.0),
    degc=st.one_of(st.none(), st.floats(-40.0, 60.0)),
    coldest_degc=st.one_of(st.none(), st.floats(-40.0, 60.0)),
    flow=st.floats(0.5, 15.0),
)
def test_litres_and_minutes_are_those_of_a_plan(
    gauge_psi: float, degc: float | None, coldest_degc: float | None, flow: float
) -> None:
    """A trip of one leg with the same cylinder and flow: its usable litres, and the minute at which they end."""
    one = cylinder("A", gauge_psi)._replace(temperature_degc=degc)
    cart = Supply("cart", "cylinders", cylinders=(one,), coldest_degc=coldest_degc)
    planned = plan(trip([cart], leg(1.0, Device("d", "fixed_flow", flow_l_per_min=flow)))).supplies["cart"]
    found = lasting(one, flow, policy(), coldest_degc)
    assert found.usable_l == planned.usable_l
    assert found.hand_usable_l == planned.cylinders[0].hand_usable_l
    if found.usable_l > 0.0:
        assert found.minutes == pytest.approx(planned.lasts_min, rel=1e-9)
