"""A vessel of liquid oxygen on the way: what its own gauge should show, and the least with which the rest is covered.

    amount at a minute = amount read - loss since the reading - litres drawn / litres of gas to a kg
    least at a minute  = keep + loss to the end of the longest trip + litres required / litres of gas to a kg

Litres required are those of the rest of the trip with its reserve, as for a gauge (`planner.go.checkpoints`).
"""

from __future__ import annotations

from math import fsum
from typing import Final

from planner.constants import KG_PER_LB, KG_PER_LIQUID_L
from planner.flow.flows import Flow, litres, until
from planner.gas.liquid import GAS_L_PER_KG, MIN_PER_DAY
from planner.go.departure import start_at_least_l
from planner.go.gauges import Gauges
from planner.go.idle import idle_l
from planner.go.sizing import need_of
from planner.go.worked import Worked
from planner.model import Liquid, Trip
from planner.moments import minutes_between

LITRES_PER_KG: Final = GAS_L_PER_KG
"""Litres of gas from 1 kg of liquid, as a working shows it."""


def boils_away_kg(liquid: Liquid) -> float:
    """What boils away from the reading to the end of the longest trip, kg."""
    return liquid.loss_kg_per_day * liquid.waiting_min / MIN_PER_DAY


KG_PER_UNIT: Final = {"lb": KG_PER_LB, "kg": 1.0, "L": KG_PER_LIQUID_L}


def unit_of(liquid: Liquid) -> str:
    """The unit in which its amount was typed."""
    text = liquid.text.strip()
    return "lb" if text.endswith("lb") else "L" if text.endswith(("L", "l")) else "kg"


def longest_min(trip: Trip) -> float:
    """How long the trip takes with every leg at its longest, minutes."""
    return fsum(leg.total_min + max(0.0, (leg.longest_min or 0.0) - leg.duration_min) for leg in trip.legs)


def amount_kg(trip: Trip, liquid: Liquid, flow: Flow, minute: float) -> float:
    """What the vessel holds at an elapsed minute as planned, kg, never below 0."""
    before = 0.0
    if liquid.read_at is not None and trip.departs is not None:
        before = max(0.0, minutes_between(liquid.read_at, trip.departs))
    gone = litres(until(flow, minute)) / LITRES_PER_KG + liquid.loss_kg_per_day * (before + minute) / MIN_PER_DAY
    return max(0.0, liquid.amount_kg - gone)


def least_kg(trip: Trip, liquid: Liquid, flow: Flow, ahead: Flow, gauges: Gauges, minute: float) -> float:
    """What it must hold at an elapsed minute so that what is still to be drawn is covered with its reserve, kg.

    `flow` is what is planned, `ahead` what of it is still to come. It covers who draws nothing as planned besides, and
    while nothing is drawn it is what the vessel departs with, less what has boiled away.
    """
    required_l = need_of(ahead, gauges.policy).required_l if ahead else 0.0
    least = with_loss_kg(trip, liquid, max(required_l, idle_l(gauges.idle, minute)), minute)
    if gauges.start_kg is None or litres(until(flow, minute)) > 0.0:
        return least
    return max(least, gauges.start_kg - liquid.loss_kg_per_day * minute / MIN_PER_DAY)


def with_loss_kg(trip: Trip, liquid: Liquid, required_l: float, minute: float) -> float:
    """Litres of gas as what must be in the vessel at an elapsed minute: kept and lost to the end besides, kg."""
    loss = liquid.loss_kg_per_day * max(0.0, longest_min(trip) - minute) / MIN_PER_DAY
    return liquid.keep_kg + required_l / LITRES_PER_KG + loss


def start_at_least_kg(trip: Trip, one: Worked) -> float | None:
    """The least that the vessel may hold at departure, kg; None for what is none, and where the supply does not pass.

    With it everything passes that decides go: need with reserve, and every what-if that must hold.
    """
    liquid, required_l = one.task.supply.liquid, start_at_least_l(one)
    return None if liquid is None or required_l is None else with_loss_kg(trip, liquid, required_l, 0.0)
