"""Litres of gas from each vessel of liquid oxygen, by weight and by hand, for the calculation sheet."""

from __future__ import annotations

from planner import figures
from planner.constants import KG_PER_LB
from planner.go.vessel import LITRES_PER_KG, boils_away_kg
from planner.model import Liquid
from planner.report.blocks import Figure, Section, Text
from planner.report.sheet.gas import EQUATION_OF_STATE
from planner.results import Plan

TEXTBOOK_L_PER_LB = 344.0
TEXTBOOK = "344 L of gas from 1 lb, 860 L from 1 L of liquid: respiratory care examination questions"
RULE = "(amount - keep - boiled away) x litres of gas to a kg, never below 0"


def liquid_section(plan: Plan) -> Section:
    """What boils away, what is usable, and the hand method, for every vessel; nothing where there is none."""
    blocks: list[Text | Figure] = []
    for name, supply in plan.supplies.items():
        liquid = supply.supply.liquid
        if liquid is not None:
            blocks += _vessel(name, liquid, supply.usable_l or 0.0)
    if not blocks:
        return Section("Litres in each vessel of liquid", ())
    each = figures.worked(LITRES_PER_KG, 1)
    intro = (
        f"1 kg of liquid oxygen gives {each} L of gas at 21.1 °C and 101.325 kPa, 1 lb {_per_lb()} L. Source of the "
        f"density: {EQUATION_OF_STATE}."
    )
    return Section("Litres in each vessel of liquid", (Text(intro), *blocks))


def _per_lb() -> str:
    return figures.worked(LITRES_PER_KG * KG_PER_LB, 1)


def _vessel(name: str, liquid: Liquid, usable_l: float) -> list[Text | Figure]:
    boiled = boils_away_kg(liquid)
    loss, keep, amount = (figures.worked(kg, 3) for kg in (liquid.loss_kg_per_day, liquid.keep_kg, liquid.amount_kg))
    by_hand = max(0.0, liquid.amount_kg - liquid.keep_kg - boiled) / KG_PER_LB * TEXTBOOK_L_PER_LB
    left = f"({amount} - {keep} - {figures.worked(boiled, 3)}) kg"
    return [
        Text(f"Supply {name}, {liquid.text} read", strong=True),
        Figure(
            "Boils away",
            "loss x time from the reading to the end of the longest trip",
            f"{loss} kg/day x {figures.minutes_up(liquid.waiting_min)} / 1440 min",
            f"{figures.worked(boiled, 3)} kg",
            "loss: the vessel's manual",
        ),
        Figure("Gas to use", RULE, f"{left} x {figures.worked(LITRES_PER_KG, 1)} L/kg", figures.supply_l(usable_l)),
        Figure(
            "By the hand method",
            "the same in lb x 344 L/lb",
            f"{left} / {figures.worked(KG_PER_LB, 4)} x 344",
            f"{figures.worked(by_hand, 0)} L",
            TEXTBOOK,
            "Textbooks round up to 344 L: 0.6 % more than the planner counts.",
            f"hand.{name}.liquid",
        ),
    ]
