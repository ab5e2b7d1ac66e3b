"""Amounts of liquid oxygen as words, in the unit in which the vessel was read."""

from __future__ import annotations

from collections.abc import Callable

from planner import figures
from planner.constants import KG_PER_LB, KG_PER_LIQUID_L
from planner.model import Liquid
from planner.results import SupplyPlan

_KG_PER_UNIT = {"lb": KG_PER_LB, "kg": 1.0, "L": KG_PER_LIQUID_L}
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
    return f"{rounded(max(0.0, kg) / _KG_PER_UNIT[unit])} {unit}{' of liquid' if unit == 'L' else ''}"


def unit_of(liquid: Liquid) -> str:
    """The unit in which the amount was typed."""
    text = liquid.text.strip()
    return "lb" if text.endswith("lb") else "L" if text.endswith(("L", "l")) else "kg"
