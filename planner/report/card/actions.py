"""What to do when something fails, for the front of the card: the verb first, then the minutes that it buys.

The lines stand in `planner/trade/data/checklists.csv` under the list `action`; the service's own procedure comes first.
"""

from __future__ import annotations

from typing import NamedTuple

from planner.report import whatif_words, words
from planner.report.card.lines import DEVICE_FAILS, OUTCOMES, rate
from planner.report.checklist.facts import Facts, trip_facts
from planner.report.checklist.items import backup_text, by_backup, items
from planner.results import Plan, WhatIf

STANDBY = ("conserver_fails", "concentrator_fails")
"""What-ifs that share one line."""


class Action(NamedTuple):
    """What to do, the verb first, and for how many minutes beyond the end of the trip oxygen then lasts."""

    do: str
    buys: str

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
    texts = {**facts.texts, **bought, **lost, "standby_buys": standby}
    found = items(plan, "action", Facts(facts.words, texts))
    return tuple(Action(item.ask, item.answer) for item in found)


def _bought(plan: Plan, rows: list[WhatIf]) -> str:
    """What comes of these what-ifs: every supply that does not last, else the minutes of the one that ends first."""
    failing = [row for row in rows if not row.holds]
    if failing:
        return "; ".join(dict.fromkeys(_fails(plan, row) for row in failing))
    spare = [row for row in rows if row.minutes_to_spare is not None]
    if not spare:
        return "to the end" if rows else ""
    least = min(spare, key=lambda row: row.minutes_to_spare or 0.0)
    at = rate(plan, least) if least.name in DEVICE_FAILS else ""
    return f"{whatif_words.to_spare(least)}{at}, {least.supply}"


def _fails(plan: Plan, row: WhatIf) -> str:
    if whatif_words.only_one(plan, row):
        return f"ONLY ONE CYLINDER on {row.supply}: no oxygen at once"
    if row.runs_out_min is None:
        return f"{row.supply} does NOT last"
    return f"{row.supply} {whatif_words.ending(row)} {words.moment(plan, row.runs_out_min)}"
