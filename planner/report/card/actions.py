"""What to do when something fails, for the card of a go and of a no-go: the verb first, then the minutes it buys.

The lines stand in `planner/trade/data/checklists.csv` under the list `action`; the service's own procedure comes first.
"""

from __future__ import annotations

from typing import NamedTuple

from planner import figures
from planner.flow.devices import demand_l_per_min
from planner.go.whatifs.registry import kind
from planner.report import whatif_words, words
from planner.report.checklist.facts import Facts, order_kind, trip_facts
from planner.report.checklist.items import backup_text, by_backup, items
from planner.report.minutes_table import resuscitator_flow_l_per_min
from planner.results import Plan, WhatIf
from planner.trade.policy_table import what_if_names

DEVICE_FAILS = tuple(name for name in what_if_names() if kind(name).device_fails)
"""What-ifs in which another device takes over, whose flow the line names."""
OUTCOMES = (*DEVICE_FAILS, "air_lost")
"""What-ifs whose outcome a line may name, beside those of cylinders and of vehicles."""
IN_FRONT = "front"
"""The part of lines that always stand on the front."""
STANDBY = ("conserver_fails", "concentrator_fails")
"""What-ifs that share one line."""


class Action(NamedTuple):
    """What to do, the verb first, and for how many minutes beyond the end of the trip oxygen then lasts.

    `in_front`: it always stands on the front, as for AIR whose gauges are read there, and for settings that may rise.
    """

    do: str
    buys: str
    in_front: bool = False

    @property
    def when(self) -> str:
        """What has failed: `if ambulance fails`."""
        return f"if {self.do.rpartition(' if ')[2].partition(':')[0]}"


def actions(plan: Plan) -> tuple[Action, ...]:
    """Every action in the order in which its failure is felt."""
    facts = trip_facts(plan)
    bought = {f"{name}_buys": _bought(plan, [row for row in plan.whatifs if row.name == name]) for name in OUTCOMES}
    lost = {
        backup_text(backup): _bought(plan, [row for row in plan.whatifs if row.lost_supply in supplies])
        for backup, supplies in by_backup(plan).items()
    }
    standby = _bought(plan, [row for row in plan.whatifs if row.name in STANDBY])
    one_lost = {f"{how}_buys": "" for how in ("next_cylinder", "one_regulator", "all_open")}
    for how in one_lost:
        rows = [row for row in plan.whatifs if row.name == "cylinder_lost"]
        of_this = [row for row in rows if f"{order_kind(plan.supplies[row.supply]) or 'next_cylinder'}_buys" == how]
        one_lost[how] = _bought(plan, of_this)
    texts = {**facts.texts, **bought, **lost, **one_lost, "standby_buys": standby, "raised_buys": _raised(plan)}
    found = items(plan, "action", Facts(facts.words, texts))
    return tuple(Action(item.ask, item.answer, item.part == IN_FRONT) for item in found)


def _raised(plan: Plan) -> str:
    """What comes of raised settings from departure to the end; where that fails, of the time planned for too."""
    to_end, while_planned = (
        [row for row in plan.whatifs if row.name == name and plan.trip.supplies[row.supply].gas == "oxygen"]
        for name in ("settings_rise", "deterioration")
    )
    text = _bought(plan, to_end)
    if all(row.holds for row in to_end):
        return text
    rise = figures.minutes_down(plan.trip.policy.rise_for_min)
    held = f"lasts for {rise} of it" if while_planned and all(row.holds for row in while_planned) else ""
    return "; ".join(filter(None, (held, f"from departure to the end {text}")))


def _bought(plan: Plan, rows: list[WhatIf]) -> str:
    """What comes of these what-ifs: every supply that does not last, else the minutes of the one that ends first."""
    failing = [row for row in rows if not row.holds]
    if failing:
        return "; ".join(dict.fromkeys(_fails(plan, row) for row in failing))
    spare = [row for row in rows if row.minutes_to_spare is not None]
    if not spare:
        return "to the end" if rows else ""
    least = min(spare, key=lambda row: row.minutes_to_spare or 0.0)
    at = _rate(plan, least) if least.name in DEVICE_FAILS else ""
    return f"{whatif_words.to_spare(least)}{at}, {least.supply}"


def _rate(plan: Plan, whatif: WhatIf) -> str:
    """At which flow minutes to spare are counted, where the line names another: as where failing late is the worst."""
    flow, devices = whatif.last_flow_l_per_min, plan.trip.devices
    others = (devices.get(one.if_it_fails or "") for one in devices.values())
    named = {resuscitator_flow_l_per_min(plan), *(demand_l_per_min(other) for other in others if other is not None)}
    if flow is None or any(abs(flow - other) < 0.05 for other in named):
        return ""
    return f" at {figures.flow_up(flow)}"


def _fails(plan: Plan, row: WhatIf) -> str:
    if whatif_words.only_one(plan, row):
        return f"ONLY ONE CYLINDER on {row.supply}: no oxygen at once"
    if row.runs_out_min is None:
        return f"{row.supply} does NOT last"
    return f"{row.supply} {whatif_words.ending(row)} {words.moment(plan, row.runs_out_min)}"
