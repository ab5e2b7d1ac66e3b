"""The policy that stands where a service says nothing: planner/trade/data/policies.csv and what_ifs.csv."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import Any, Final, NamedTuple

from planner.constants import KPA_PER_PSI
from planner.model import Policy, Setting
from planner.trade.catalog import rows

SETTINGS: Final[tuple[Setting, ...]] = ("in_house", "road", "air")
"""The columns of the table."""

_FACTOR_TO_MODEL: Final = {"": 1.0, "min": 1.0, "h": 60.0, "psi": KPA_PER_PSI}


class PolicyRow(NamedTuple):
    """One policy value: its key, its field in `planner.model.Policy`, its unit, its default by setting, and its source.

    Beside units there are `cylinders` (a whole number), `name` (a text as it stands) and `what-ifs` (those that must
    hold, by their own table).
    """

    key: str
    field: str
    unit: str
    in_house: str
    road: str
    air: str
    source: str

    def default(self, setting: Setting) -> float | str | tuple[str, ...] | None:
        """What stands where a service says nothing: kPa gauge, minutes, a factor; None where nothing is assumed."""
        text: str = getattr(self, setting)
        if self.unit == "what-ifs":
            return tuple(row["name"] for row in rows(text) if row[setting] == "yes")
        if self.unit == "name" or not text:
            return text or None
        return int(text) if self.unit == "cylinders" else float(text) * _FACTOR_TO_MODEL[self.unit]


@cache
def policy_rows() -> Mapping[str, PolicyRow]:
    """Every policy value by its key, in the order of the table."""
    return MappingProxyType({row["key"]: PolicyRow(**row) for row in rows("policies.csv")})


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


@cache
def policy_sources() -> Mapping[str, str]:
    """The source of each policy key, in words."""
    return MappingProxyType({key: row.source for key, row in policy_rows().items()})


@cache
def policy_defaults(setting: Setting) -> Policy:
    """The default policy of a setting: `in_house`, `road` or `air`, with the source of every key.

    Raises `ValueError` for another setting.
    """
    if setting not in SETTINGS:
        raise ValueError(f"setting {setting!r} is none of {', '.join(SETTINGS)}")
    values: dict[str, Any] = {row.field: row.default(setting) for row in policy_rows().values()}
    return Policy(**values, sources=policy_sources())
