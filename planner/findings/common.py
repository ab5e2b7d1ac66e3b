"""The mark that a magnet room asks for."""

from __future__ import annotations

from planner.model import Trip

MAGNET_MARK = "marked safe for the magnet"


def magnet_mark(trip: Trip, supply: str) -> str:
    """What cylinders must be marked with to be drawn for a supply: nothing but where it goes into a magnet room."""
    inside = any(leg.magnet and supply in leg.supplies for leg in trip.legs)
    return MAGNET_MARK if inside else ""
