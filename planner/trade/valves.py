"""The kind of valve of a cylinder, which decides what a regulator needs to go on it."""

from __future__ import annotations

from typing import Literal

from planner.model import Cylinder, SizeAsked
from planner.trade.catalog import find_size

Valve = Literal["pin_index", "threaded", "integral", "unknown_valve"]
VALVES: tuple[Valve, ...] = ("pin_index", "threaded", "integral", "unknown_valve")


def valve_of(item: Cylinder | SizeAsked) -> Valve:
    """The kind of valve: by the catalogue where the size is known there, else by the words of its connection."""
    size = find_size(item.size, item.gas) if item.size else None
    if size is not None and size.valve is not None:
        return size.valve
    text = (item.connection or "").lower()
    for valve, signs in (
        ("integral", ("integral",)),
        ("pin_index", ("pin index", "pin-index", "pin_index")),
        ("threaded", ("thread", "bull nose")),
    ):
        if any(sign in text for sign in signs):
            return valve  # type: ignore[return-value]
    return "unknown_valve"
