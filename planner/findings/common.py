"""How a finding is made, and the rounding of their few numbers: against the crew."""

from __future__ import annotations

from math import ceil, floor

from planner.constants import KPA_PER_BAR, KPA_PER_PSI
from planner.model import Policy, Trip
from planner.problems import Finding, Level, Position

MAGNET_MARK = "marked safe for the magnet"


def finding(level: Level, code: str, message: str, fix: str, where: Position | None = None) -> Finding:
    """A finding, with its place in the profile where there is one."""
    placed = where if where is not None and where.line > 0 else None
    return Finding(level, code, message, fix, placed.line if placed else None, placed.column if placed else None)


def magnet_mark(trip: Trip, supply: str) -> str:
    """What cylinders must be marked with to be drawn for a supply: nothing but where it goes into a magnet room."""
    inside = any(leg.magnet and use.supply == supply for leg in trip.legs for use in leg.uses)
    return MAGNET_MARK if inside else ""


def gauge_text(gauge_kpa: float, policy: Policy) -> str:
    """A gauge reading in the policy's unit, rounded up to what a gauge shows."""
    per_unit, step = {"psi": (KPA_PER_PSI, 10.0), "bar": (KPA_PER_BAR, 1.0), "kPa": (1.0, 100.0), "MPa": (1000.0, 0.1)}[
        policy.pressure_unit
    ]
    return f"{ceil(round(gauge_kpa / per_unit / step, 6)) * step:g} {policy.pressure_unit}"


def litres_up(litres: float) -> str:
    """Litres of a need, rounded up."""
    return f"{ceil(round(litres, 6))} L"


def litres_down(litres: float) -> str:
    """Litres of a supply, rounded down."""
    return f"{floor(round(litres, 6))} L"
