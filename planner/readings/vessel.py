"""A reading of a vessel of liquid oxygen: which one, and its amount."""

from __future__ import annotations

from typing import NamedTuple

from planner.model import Trip
from planner.profile.faults import listed_names
from planner.profile.fields import Fields, read_quantity
from planner.profile.limits import LIMITS
from planner.text.text_file import show


class VesselRead(NamedTuple):
    """The supply and what it holds, kg."""

    supply: str
    amount_kg: float


def read_vessel(trip: Trip, fields: Fields) -> VesselRead | None:
    """The vessel of a mapping with an `amount`; None where anything is wrong, which is told."""
    node, name = fields.get("amount"), fields.text("supply")
    vessels = [each.name for each in trip.supplies.values() if each.liquid is not None]
    amount = None if node is None else read_quantity(fields.faults, node, "amount", LIMITS["keep"])
    for key in ("gauge", "cylinder", "change_to"):
        if fields.given(key):
            fix = "write a line of its own for each"
            fields.add(key, "two_ways", f"{key} beside amount", "a cylinder with its gauge, or a vessel", fix)
    if not vessels:
        fix = "write `gauge:` with the reading of a cylinder"
        fields.add("amount", "of_no_use", "an amount, and no vessel of liquid on the trip", "a gauge reading", fix)
        return None
    if name is None and len(vessels) > 1:
        fields.missing("supply", f"which vessel it is: {listed_names(vessels)}", "add `supply:` with its name")
        return None
    if name is not None and name not in vessels:
        found = f"amount of {show(name)}, which is no vessel of liquid"
        fields.add(
            "supply", "supply_unknown", found, listed_names(vessels), f"name the vessel: {listed_names(vessels)}"
        )
        return None
    return None if amount is None else VesselRead(name or vessels[0], amount)
