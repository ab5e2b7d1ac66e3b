"""How long a vessel of liquid oxygen lasts, for the screen and as JSON (format 1): time down, JSON unrounded."""

from __future__ import annotations

from datetime import datetime
from typing import Any, NamedTuple

from planner import figures
from planner.bedside.liquid import HAND_L_PER_LB, LiquidLasts
from planner.constants import KG_PER_LB
from planner.gas.liquid import GAS_L_PER_KG
from planner.report import words
from planner.report.bedside.bedside import FORMAT
from planner.report.fields import fields, moment
from planner.report.screen import wrap


class LiquidAnswer(NamedTuple):
    """What was asked, as typed, and the answer for each flow with its end by the clock."""

    amount: str
    keep: str | None
    loss: str
    answers: tuple[tuple[LiquidLasts, datetime], ...]
    starts: datetime


def liquid_lines(asked: LiquidAnswer) -> list[str]:
    """The answers for the screen, one block a flow."""
    lines: list[str] = []
    for lasts, ends in asked.answers:
        lines += [*([""] if lines else []), *_one(asked, lasts, ends)]
    if asked.keep is None:
        lines += wrap(
            "CAUTION: counted down to empty. Give --keep: what the gauge of the vessel cannot tell from empty."
        )
    lines += [
        "",
        *wrap("Upright, uncovered, frosted parts not touched. A late reading has boiled away more: weigh again."),
    ]
    return [*lines, "", *wrap(" ".join(words.PLANNING_AID[:2]))]


def _one(asked: LiquidAnswer, lasts: LiquidLasts, ends: datetime) -> list[str]:
    flow = figures.flow_set(lasts.flow_l_per_min)
    start, until = (figures.clock_time(each, asked.starts) for each in (asked.starts, ends))
    if lasts.days is None:
        whole, hours = figures.minutes_down(lasts.minutes), figures.hours_down(lasts.minutes)
        lines = wrap(f"{whole} left{'' if hours == whole else f' ({hours})'}, until {until}, at {flow}.")
    else:
        each_day = figures.hours_set(lasts.day_min or 0.0)
        lines = wrap(f"{figures.steps_down(lasts.days, 1.0)} days left, at {flow} for {each_day} a day.")
    kept = "nothing kept" if asked.keep is None else f"{asked.keep} kept"
    litres = f"({figures.worked(lasts.amount_kg, 3)} - {figures.worked(lasts.keep_kg, 3)}) kg"
    rows = [
        ("Liquid", f"{asked.amount} read at {start}, {kept}, {asked.loss} boil away"),
        ("Usable", f"{litres} x {figures.worked(GAS_L_PER_KG, 1)} L/kg = {figures.supply_l(lasts.usable_l)}"),
        ("Drawn", _drawn(lasts, flow)),
        ("By hand", _hand(lasts, flow)),
    ]
    return [*lines, "", *(line for title, text in rows for line in wrap(text, f"  {title:<9}"))]


def _drawn(lasts: LiquidLasts, flow: str) -> str:
    loss = figures.worked(lasts.loss_l_per_min, 3)
    if lasts.day_min is None:
        return f"{flow} breathed + {loss} L/min boiling away"
    return f"{flow} x {figures.minutes_up(lasts.day_min)} breathed + {loss} L/min x 1440 min boiling away, a day"


def _hand(lasts: LiquidLasts, flow: str) -> str:
    pounds = figures.worked(max(0.0, lasts.amount_kg - lasts.keep_kg) / KG_PER_LB, 2)
    text = f"{pounds} lb x {figures.plain(HAND_L_PER_LB)} L/lb / {flow} = {figures.minutes_down(lasts.hand_minutes)}"
    if lasts.day_min is not None:
        text += f", {figures.steps_down(lasts.hand_minutes / lasts.day_min, 1.0)} days"
    pound = figures.worked(GAS_L_PER_KG * KG_PER_LB, 1)
    loss = " and no loss is counted" if lasts.loss_kg_per_day else ""
    return f"{text}; textbooks round {pound} L/lb up to {figures.plain(HAND_L_PER_LB)}{loss}"


def liquid_result(asked: LiquidAnswer) -> dict[str, Any]:
    """The answers as JSON, format 1. `minutes` is that of the one answer, null where there are several."""
    return {
        "format": FORMAT,
        "command": "lasts",
        "gas": "oxygen",
        "starts": moment(asked.starts),
        "minutes": asked.answers[0][0].minutes if len(asked.answers) == 1 else None,
        "liquid": [
            {
                **fields(lasts, "amount_kg", "keep_kg", "loss_kg_per_day", "flow_l_per_min"),
                "minutes_a_day": lasts.day_min,
                **fields(lasts, "usable_l", "loss_l_per_min", "minutes", "days"),
                "ends": moment(ends),
                "hand_minutes": lasts.hand_minutes,
            }
            for lasts, ends in asked.answers
        ],
    }
