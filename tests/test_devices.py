"""Demand of each device type, worked by hand, and the outlet that it needs.

The share of oxygen in a blend of FiO2 0.60 is (0.60 - 0.21) / 0.79 = 0.39 / 0.79 = 0.493671.
"""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from planner.flow.devices import (
    ASSUMED_RESUSCITATOR,
    at_fio2,
    demand_l_per_min,
    formula,
    guideline_demand_l_per_min,
    is_blend,
    minute_volume_l_per_min,
    outlet_kind,
    total_flow_l_per_min,
)
from planner.model import Device, OutletKind
from planner.trade.catalog import device_types

VENT = Device(
    "vent",
    "ventilator",
    tidal_volume_l=0.45,
    rate_per_min=16.0,
    fio2=0.6,
    bias_flow_l_per_min=0.0,
    leak_l_per_min=0.0,
    drive="pneumatic",
    drive_gas_l_per_min=0.5,
)
LEAKY = VENT._replace(bias_flow_l_per_min=2.0, leak_l_per_min=5.0, drive="electric", drive_gas_l_per_min=None)
BY_RULE = Device(
    "vent",
    "ventilator",
    minute_volume_l_per_min=6.0,
    fio2=0.6,
    rule="minute_volume_times_fio2",
    drive="pneumatic",
    drive_gas_l_per_min=0.5,
)
CPAP = Device("mask", "cpap", total_flow_l_per_min=60.0, fio2=0.3)

SET_FLOW = (
    "nasal_cannula",
    "simple_mask",
    "reservoir_mask",
    "tracheostomy_mask",
    "nebulizer",
    "manual_resuscitator",
    "fixed_flow",
    "oxygen_powered_suction",
    "air_entrainment_mask",
)


@pytest.mark.parametrize("kind", SET_FLOW)
def test_a_set_flow_is_the_demand(kind: str) -> None:
    device = Device("it", kind, flow_l_per_min=6.0)
    assert demand_l_per_min(device) == 6.0
    assert formula(device) == "set flow = 6 L/min"
    assert not is_blend(device)


@pytest.mark.parametrize(
    ("device", "by_hand", "text"),
    [
        # 50 x 0.39 / 0.79 = 19.5 / 0.79
        (
            Device("it", "high_flow_nasal", flow_l_per_min=50.0, fio2=0.6),
            24.68354,
            "50 x (0.6 - 0.21) / 0.79 = 24.68 L/min",
        ),
        # 40 x 0.79 / 0.79
        (
            Device("it", "blended_flow", flow_l_per_min=40.0, fio2=1.0, bleed_l_per_min=0.0, air="room"),
            40.0,
            "(40 + 0) x (1 - 0.21) / 0.79 = 40 L/min",
        ),
        # 60 x 0.09 / 0.79 = 5.4 / 0.79
        (CPAP, 6.83544, "60 x (0.3 - 0.21) / 0.79 = 6.835 L/min"),
        (Device("it", "cpap", oxygen_flow_l_per_min=10.0), 10.0, "set oxygen flow = 10 L/min"),
        # 0.45 x 16 = 7.2; 7.2 x 0.39 / 0.79 = 2.808 / 0.79 = 3.55443; + 0.5
        (VENT, 4.05443, "(0.45 x 16 + 0 + 0) x (0.6 - 0.21) / 0.79 + 0.5 = 4.054 L/min"),
        # (7.2 + 2 + 5) x 0.39 / 0.79 = 5.538 / 0.79
        (LEAKY, 7.01013, "(0.45 x 16 + 2 + 5) x (0.6 - 0.21) / 0.79 + 0 = 7.01 L/min"),
        # 6 x 0.6 + 0.5
        (BY_RULE, 4.1, "6 x 0.6 + 0.5 = 4.1 L/min"),
        # 16 mL x 20 a minute
        (Device("it", "pulse_conserver", pulse_volume_l=0.016, rate_per_min=20.0), 0.32, "0.016 x 20 = 0.32 L/min"),
        (Device("it", "concentrator"), 0.0, "draws from no cylinder = 0 L/min"),
    ],
    ids=lambda value: value.type if isinstance(value, Device) else "",
)
def test_demand_by_hand(device: Device, by_hand: float, text: str) -> None:
    assert demand_l_per_min(device) == pytest.approx(by_hand, abs=5e-6)
    assert formula(device) == text


def test_every_device_type_has_a_demand() -> None:
    everything = Device(
        "it",
        "",
        flow_l_per_min=1.0,
        fio2=1.0,
        oxygen_flow_l_per_min=1.0,
        minute_volume_l_per_min=1.0,
        bias_flow_l_per_min=0.0,
        leak_l_per_min=0.0,
        bleed_l_per_min=0.0,
        air="room",
        pulse_volume_l=0.1,
        rate_per_min=10.0,
    )
    demands = {kind: demand_l_per_min(everything._replace(type=kind)) for kind in device_types()}
    assert demands.pop("concentrator") == 0.0
    assert demands == dict.fromkeys(demands, pytest.approx(1.0))


@pytest.mark.parametrize("fio2", [0.21, 0.4, 1.0])
def test_leak_and_bias_flow_are_blended_like_the_minute_volume(fio2: float) -> None:
    """From 0 to 40 L/min of leak, each litre takes (FiO2 - 0.21) / 0.79 of oxygen."""
    base = demand_l_per_min(at_fio2(LEAKY, fio2))
    for extra in (10.0, 35.0):
        more = at_fio2(LEAKY, fio2)._replace(leak_l_per_min=5.0 + extra)
        assert demand_l_per_min(more) - base == pytest.approx(extra * (fio2 - 0.21) / 0.79, abs=1e-9)


def test_air_takes_no_oxygen() -> None:
    assert demand_l_per_min(at_fio2(LEAKY, 0.21)) == 0.0


def test_drive_gas_of_an_electric_ventilator_counts_where_it_is_given() -> None:
    assert demand_l_per_min(LEAKY._replace(drive_gas_l_per_min=1.5)) == pytest.approx(7.01013 + 1.5, abs=5e-6)


@pytest.mark.hazard(6, 7)
@pytest.mark.parametrize(
    ("device", "missing"),
    [
        (VENT._replace(drive_gas_l_per_min=None), "drive_gas_l_per_min"),
        (BY_RULE._replace(drive_gas_l_per_min=None), "drive_gas_l_per_min"),
        (VENT._replace(bias_flow_l_per_min=None), "bias_flow_l_per_min"),
        (VENT._replace(leak_l_per_min=None), "leak_l_per_min"),
        (VENT._replace(rate_per_min=None), "rate_per_min"),
        (VENT._replace(fio2=None), "fio2"),
    ],
    ids=["drive gas", "drive gas by the rule", "bias flow", "leak", "rate", "FiO2"],
)
def test_what_is_not_given_is_never_zero(device: Device, missing: str) -> None:
    with pytest.raises(ValueError, match=rf"^device vent \(ventilator\) has no {missing}$"):
        demand_l_per_min(device)


def test_an_unknown_type_is_refused() -> None:
    with pytest.raises(ValueError, match=r"^device it is of the unknown type bellows$"):
        demand_l_per_min(Device("it", "bellows"))


@pytest.mark.parametrize(
    ("device", "outlet"),
    [
        (Device("it", "nasal_cannula"), "flowmeter"),
        (Device("it", "oxygen_powered_suction"), "high_pressure"),
        (VENT, "high_pressure"),
        (VENT._replace(outlet="flowmeter"), "flowmeter"),
        (CPAP, "high_pressure"),
        (Device("it", "cpap", oxygen_flow_l_per_min=10.0), "flowmeter"),
        (Device("it", "concentrator"), "none"),
        (ASSUMED_RESUSCITATOR, "flowmeter"),
    ],
)
@pytest.mark.hazard(12)
def test_the_outlet_that_a_device_needs(device: Device, outlet: OutletKind) -> None:
    assert outlet_kind(device) == outlet


@pytest.mark.parametrize(("fio2", "parts_of_air"), [(0.24, 25), (0.28, 10), (0.35, 5), (0.40, 3), (0.60, 1)], ids=str)
def test_air_to_oxygen_of_an_entrainment_mask(fio2: float, parts_of_air: int) -> None:
    """Parts of air to one of oxygen as respiratory care textbooks print them, in whole numbers (from memory)."""
    mask = Device("mask", "air_entrainment_mask", flow_l_per_min=8.0, fio2=fio2)
    total = total_flow_l_per_min(mask)
    assert total is not None
    assert round((total - 8.0) / 8.0) == parts_of_air


def test_no_total_flow_where_it_is_not_known_or_not_meant() -> None:
    assert total_flow_l_per_min(Device("mask", "air_entrainment_mask", flow_l_per_min=8.0)) is None
    assert total_flow_l_per_min(VENT) is None


def test_blends_are_what_follows_fio2() -> None:
    assert is_blend(VENT)
    assert is_blend(CPAP)
    assert is_blend(Device("it", "high_flow_nasal"))
    assert not is_blend(Device("it", "cpap", oxygen_flow_l_per_min=10.0))


def test_guideline_demand_of_ventilators_and_others() -> None:
    # 7.2 x 0.6 + 0.5, whatever bias and leak are; any other device as it is.
    assert guideline_demand_l_per_min(VENT._replace(leak_l_per_min=9.0)) == pytest.approx(4.82)
    assert guideline_demand_l_per_min(Device("it", "nasal_cannula", flow_l_per_min=3.0)) == 3.0


def test_a_minute_volume_that_is_given_wins() -> None:
    assert minute_volume_l_per_min(VENT) == pytest.approx(7.2)
    assert minute_volume_l_per_min(VENT._replace(minute_volume_l_per_min=9.0)) == 9.0


KNOWS_TYPES = ("planner/trade/", "planner/flow/devices.py", "planner/new_trip/", "planner/request/")
"""Where code may name a device type: the formulas, and questions that write a profile; all else is in the table."""


def test_what_is_known_of_a_type_stands_in_the_table() -> None:
    """No other code asks for a type by its name: it asks for a trait, a setting or the what-if of its failing.

    Excepted is what makes a device of its own: a flow that was measured, or is a reserve, is a `fixed_flow`.
    """
    root = Path(__file__).resolve().parents[1]
    found = [
        f"{name}:{node.lineno}: {node.value!r}"
        for path in sorted((root / "planner").rglob("*.py"))
        if not (name := path.relative_to(root).as_posix()).startswith(KNOWS_TYPES)
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and node.value in device_types() and node.value != "fixed_flow"
    ]
    assert found == []
