"""The policy that stands where a service says nothing. Every value is common practice, no source, unless said."""

from __future__ import annotations

from typing import cast

import pytest

from planner.model import Policy, Setting
from planner.trade.policy_table import SETTINGS, policy_defaults, policy_sources

ALWAYS = {
    "air_lost",
    "ventilator_fails",
    "conserver_fails",
    "concentrator_fails",
    "device_fails",
    "deterioration",
    "battery_ends",
    "no_wall_on_arrival",
}


@pytest.mark.parametrize(
    ("setting", "spare_cylinders", "handover_time_min", "must_hold"),
    [
        ("in_house", 0, 10.0, ALWAYS),
        ("road", 1, 20.0, {*ALWAYS, "cylinder_lost"}),
        ("air", 1, 20.0, {*ALWAYS, "cylinder_lost", "inspired_oxygen_kept"}),
    ],
)
def test_defaults_of_a_setting(
    setting: Setting, spare_cylinders: int, handover_time_min: float, must_hold: set[str]
) -> None:
    policy = policy_defaults(setting)
    assert policy.spare_cylinders == spare_cylinders
    assert policy.handover_time_min == handover_time_min
    assert set(policy.must_hold) == must_hold
    assert policy.reserve_factor == 1.5
    assert policy.reserve_time_min == 30.0
    # 500 psi and 2000 psi by the conversion of NIST Special Publication 811: 1 psi = 6.894757 kPa.
    assert policy.change_over_at_kpa == pytest.approx(3447.3785, abs=0.001)
    assert policy.full_at_kpa == pytest.approx(13789.514, abs=0.001)
    assert policy.gauge_allowance_kpa == 0.0
    assert policy.gauge_scale_kpa is None
    assert policy.reading_valid_for_min == 720.0
    assert policy.pressure_unit == "psi"
    assert policy.name is None
    assert policy.overrides == ()


def test_every_value_has_its_source() -> None:
    """Every field but those that hold no value of a policy has a key of its own, with a source."""
    without_unit = {
        name.removesuffix("_kpa").removesuffix("_min")
        for name in Policy._fields
        if name not in ("name", "overrides", "sources", "own_lines", "history", "form")
    }
    assert set(policy_sources()) == without_unit
    assert all(policy_sources().values())
    for setting in SETTINGS:
        assert policy_defaults(setting).sources == policy_sources()


def test_another_setting_is_refused() -> None:
    with pytest.raises(ValueError, match=r"^setting 'sea' is none of in_house, road, air$"):
        policy_defaults(cast(Setting, "sea"))
