"""What the contents gauge of a vessel of liquid oxygen should show, in the unit in which it was read.

left = amount - loss over the time since it was read - litres drawn / litres of gas to a kg
"""

from __future__ import annotations

from planner import figures
from planner.constants import KG_PER_LB, KG_PER_LIQUID_L
from planner.flow.flows import flows, litres, until
from planner.gas.liquid import GAS_L_PER_KG, MIN_PER_DAY
from planner.model import Liquid
from planner.results import Plan

_KG_PER_UNIT = {"lb": KG_PER_LB, "kg": 1.0, "L": KG_PER_LIQUID_L}
OWN_GAUGE = "its own gauge"


def should_show(plan: Plan, supply: str, minute: float) -> str:
    """The amount at an elapsed minute as planned, `10.9 lb`, down; empty for what is no vessel of liquid."""
    liquid = plan.trip.supplies[supply].liquid
    if liquid is None:
        return ""
    drawn_kg = litres(until(flows(plan.trip.legs).get(supply, ()), minute)) / GAS_L_PER_KG
    return amount(liquid, liquid.amount_kg - drawn_kg - boiled_kg(plan, liquid, minute))


def least(plan: Plan, supply: str, required_l: float) -> str:
    """The least amount with which so many litres can still be drawn at the end, `6.2 lb`, up."""
    liquid = plan.trip.supplies[supply].liquid
    if liquid is None:
        return ""
    unit = unit_of(liquid)
    kg = liquid.keep_kg + required_l / GAS_L_PER_KG + boiled_kg(plan, liquid, plan.trip.total_min)
    return f"{figures.liquid_up(kg / _KG_PER_UNIT[unit])} {unit}"


def amount(liquid: Liquid, kg: float) -> str:
    """A weight in the unit of the vessel's own reading, down."""
    unit = unit_of(liquid)
    return f"{figures.liquid_down(max(0.0, kg) / _KG_PER_UNIT[unit])} {unit}{' of liquid' if unit == 'L' else ''}"


def unit_of(liquid: Liquid) -> str:
    """The unit in which the amount was typed."""
    text = liquid.text.strip()
    return "lb" if text.endswith("lb") else "L" if text.endswith(("L", "l")) else "kg"


def boiled_kg(plan: Plan, liquid: Liquid, minute: float) -> float:
    """What boils away from the reading to an elapsed minute."""
    before = 0.0
    if liquid.read_at is not None and plan.trip.departs is not None:
        before = (plan.trip.departs - liquid.read_at).total_seconds() / 60.0
    return liquid.loss_kg_per_day * (before + minute) / MIN_PER_DAY
