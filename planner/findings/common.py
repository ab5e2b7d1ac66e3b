"""Remarks by the table of their sentences, and the mark that a magnet room asks for."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import cast

from planner.model import Accepted, Cylinder, Device, Leg, Supply, Trip
from planner.problems import Finding, Level, finding
from planner.trade.catalog import rows

MAGNET_MARK = "marked safe for the magnet"


@cache
def remarks() -> Mapping[str, Mapping[str, str]]:
    """The rows of `planner/trade/data/remarks.csv` by name: level, message and mend, and the code where it is another.

    Sentences name what is put in as `{needed}`.
    """
    return {row["name"]: row for row in rows("remarks.csv")}


def remark(row: str, about: Leg | Device | Supply | Cylinder | Accepted | None = None, /, **parts: object) -> Finding:
    """A finding by its row, with what is put into its sentences; `{name}` is that of what it is about, unless given.

    Raises KeyError for what the sentences name and nobody gives.
    """
    told = remarks()[row]
    if isinstance(about, (Leg, Device, Supply)):
        parts = {"name": about.name, **parts}
    message, fix = (told[key].format_map(parts) for key in ("message", "fix"))
    return finding(cast(Level, told["level"]), told["code"] or row, message, fix, about and about.where)


def magnet_mark(trip: Trip, supply: str) -> str:
    """What cylinders must be marked with to be drawn for a supply: nothing but where it goes into a magnet room."""
    inside = any(leg.magnet and supply in leg.supplies for leg in trip.legs)
    return MAGNET_MARK if inside else ""
