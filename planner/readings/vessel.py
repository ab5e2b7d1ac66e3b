"""A reading of a vessel of liquid oxygen: which one, and its amount."""

from __future__ import annotations

from typing import NamedTuple

from planner.model import Trip
from planner.profile.fields import Fields, read_quantity
from planner.profile.limits import LIMITS
from planner.readings.of_what import alone, of_which


class VesselRead(NamedTuple):
    """The supply and what it holds, kg."""

    supply: str
    amount_kg: float


def read_vessel(trip: Trip, fields: Fields) -> VesselRead | None:
    """The vessel of a mapping with an `amount`; None where anything is wrong, which is told."""
    node = fields.get("amount")
    vessels = [each.name for each in trip.supplies.values() if each.liquid is not None]
    amount = None if node is None else read_quantity(fields.faults, node, "amount", LIMITS["keep"])
    alone(fields, "amount", ("gauge", "cylinder", "change_to"), "a cylinder with its gauge, or a vessel")
    if not vessels:
        fix = "write `gauge:` with the reading of a cylinder"
        fields.add("amount", "of_no_use", "an amount, and no vessel of liquid on the trip", "a gauge reading", fix)
        return None
    name = of_which(fields, "supply", vessels, "amount", "vessel of liquid")
    return None if amount is None or name is None else VesselRead(name, amount)
