"""Amounts of liquid oxygen as words, in the unit in which the vessel was read."""

from __future__ import annotations

from collections.abc import Callable

from planner import figures
from planner.go.vessel import KG_PER_UNIT, unit_of
from planner.model import Liquid
from planner.results import SupplyPlan

OWN_GAUGE = "its own gauge"


def shows(liquid: Liquid, kg: float | None) -> str:
    """What its gauge should show, `10.9 lb`, down; nothing where that is not known."""
    return "" if kg is None else _words(liquid, kg, figures.liquid_down)


def at_least(liquid: Liquid, kg: float | None) -> str:
    """What its gauge must show, `6.2 lb`, up; nothing where that is not known."""
    return "" if kg is None else _words(liquid, kg, figures.liquid_up)


def departing(supply: SupplyPlan) -> str:
    """The least that a vessel may show before leaving; nothing for what is none, and for a no-go."""
    liquid = supply.supply.liquid
    return "" if liquid is None else at_least(liquid, supply.start_at_least_kg)


def _words(liquid: Liquid, kg: float, rounded: Callable[[float], str]) -> str:
    unit = unit_of(liquid)
    return f"{rounded(max(0.0, kg) / KG_PER_UNIT[unit])} {unit}{' of liquid' if unit == 'L' else ''}"
