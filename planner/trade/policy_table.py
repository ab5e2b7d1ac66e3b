"""The policy that stands where a service says nothing: planner/trade/data/policies.csv and what_ifs.csv."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import Final, Literal, cast

from planner.constants import KPA_PER_PSI
from planner.model import Policy, Setting
from planner.trade.catalog import rows

SETTINGS: Final[tuple[Setting, ...]] = ("in_house", "road", "air")
"""The columns of the table."""

MUST_HOLD_SOURCE: Final = "common practice, no source"

_FACTOR_TO_MODEL: Final = {"": 1.0, "min": 1.0, "psi": KPA_PER_PSI}


@cache
def _table() -> Mapping[str, Mapping[str, str]]:
    """Rows of the table by key, as text."""
    return MappingProxyType({row["key"]: row for row in rows("policies.csv")})


@cache
def what_if_names() -> tuple[str, ...]:
    """The name of every what-if, in the order of the table."""
    return tuple(row["name"] for row in rows("what_ifs.csv"))


def must_hold_names() -> tuple[str, ...]:
    """What `must_hold` may name: every what-if, and the failure of a device with a cylinder lost as well."""
    names = what_if_names()
    return (*names, *(f"{name}+cylinder_lost" for name in names if name.endswith("_fails")))


OTHER_ACCEPTABLE: Final = ("reserve", "spare", "fio2_above_1")
"""What a clinician may accept beside what-ifs."""

_NEVER_ACCEPTED: Final = frozenset({"battery_ends"})
"""When a battery ends is no matter of judgement."""


def acceptable_names() -> tuple[str, ...]:
    """What `accepted` may name: the what-ifs that may have to hold, and `OTHER_ACCEPTABLE`."""
    return (*(name for name in must_hold_names() if name not in _NEVER_ACCEPTED), *OTHER_ACCEPTABLE)


def _must_hold(setting: Setting) -> tuple[str, ...]:
    return tuple(row["name"] for row in rows("what_ifs.csv") if row[setting] == "yes")


@cache
def policy_sources() -> Mapping[str, str]:
    """The source of each policy key, in words."""
    return MappingProxyType({**{key: row["source"] for key, row in _table().items()}, "must_hold": MUST_HOLD_SOURCE})


@cache
def policy_defaults(setting: Setting) -> Policy:
    """The default policy of a setting: `in_house`, `road` or `air`, with the source of every key.

    Pressures are converted from the psi of the table to kPa gauge; times are in minutes. Raises `ValueError`
    for another setting.
    """
    if setting not in SETTINGS:
        raise ValueError(f"setting {setting!r} is none of {', '.join(SETTINGS)}")

    def text(key: str) -> str:
        return _table()[key][setting]

    def number(key: str) -> float:
        return float(text(key)) * _FACTOR_TO_MODEL[_table()[key]["unit"]]

    return Policy(
        reserve_factor=number("reserve_factor"),
        reserve_time_min=number("reserve_time"),
        spare_cylinders=int(text("spare_cylinders")),
        change_over_at_kpa=number("change_over_at"),
        full_at_kpa=number("full_at"),
        gauge_allowance_kpa=number("gauge_allowance"),
        handover_time_min=number("handover_time"),
        must_hold=_must_hold(setting),
        rise_for_min=number("rise_for"),
        battery_factor=number("battery_factor"),
        help_within_min=number("help_within") if text("help_within") else None,
        gauge_scale_kpa=number("gauge_scale") if text("gauge_scale") else None,
        reading_valid_for_min=number("reading_valid_for"),
        pressure_unit=cast(Literal["psi", "bar", "kPa", "MPa"], text("pressure_unit")),
        sources=policy_sources(),
    )
