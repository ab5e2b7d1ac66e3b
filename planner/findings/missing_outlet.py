"""The one reason where no cylinder of a supply has the outlets that a leg asks for: what is missing, where, for what.

Litres that cannot be used, what-ifs that find nothing left and a backup that carries nothing all follow from it; they
stay in the figures and are not told as reasons of their own.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from planner import figures
from planner.constants import FLOWMETER_LIMIT_L_PER_MIN
from planner.flow.outlets import OutletNeed, refusal
from planner.go.worked import Worked
from planner.model import Outlet, Supply, Trip
from planner.naming import called, listed
from planner.problems import Finding, finding
from planner.results import WhatIf

_FOLLOWS = frozenset({"not_enough", "order_of_use", "outlets"})
"""Codes of findings of one supply that follow from a missing outlet."""


class Missing(NamedTuple):
    """A supply of which no cylinder carries a leg: the needs at once in that leg."""

    supply: Supply
    needs: tuple[OutletNeed, ...]
    outlets: tuple[Outlet, ...]


def missing_outlets(every: Mapping[str, Worked]) -> dict[str, Missing]:
    """Every supply of which no cylinder has the outlets for some leg, by its name."""
    found = {}
    for name, one in every.items():
        stock = one.stock
        if stock is None or not stock.each:
            continue
        held = [tank.outlets for tank in stock.each]
        for segment in one.flow:
            needs = segment.asks.needs
            if all(outlets is not None and refusal(outlets, needs) is not None for outlets in held):
                found[name] = Missing(one.task.supply, needs, held[0] or ())
                break
    return found


def of_missing_outlets(trip: Trip, found: Mapping[str, Missing]) -> Iterator[Finding]:
    """One stop for each way in which outlets are missing, with every supply that it holds for."""
    ways: dict[str, list[Missing]] = {}
    for each in found.values():
        ways.setdefault(refusal(each.outlets, each.needs) or "", []).append(each)
    for why, supplies in ways.items():
        names = "; ".join(_name(each.supply) for each in supplies)
        written = any(cylinder.outlets is not None for s in supplies for cylinder in s.supply.cylinders)
        written = written or all(s.supply.outlets is not None for s in supplies)
        stands = "" if written else " No outlets are written for them, so one flowmeter to 15 L/min is taken."
        places = listed(s.supply.name for s in supplies)
        short = why.replace("and it has", "and each has")
        text = f"An outlet is missing on {names}: {short}.{stands} So nothing of {places} can be used."
        where = min((each.supply.where for each in supplies), default=None)
        yield finding("stop", "outlet_missing", text, _mend(trip, supplies[0], places), where)


def _name(supply: Supply) -> str:
    """`A and B of cart`; the supply alone where it is a stated amount without cylinders."""
    labels = [called(cylinder.label, cylinder.gas) for cylinder in supply.cylinders]
    return f"{listed(labels)} of {supply.name}" if labels else supply.name


def without_consequences(found: list[Finding], supply: Supply, missing: Mapping[str, Missing]) -> Iterator[Finding]:
    """The findings of a supply but for those that follow from an outlet that it, or its backup, has not."""
    for each in found:
        if supply.name in missing and each.code in _FOLLOWS:
            continue
        if supply.backup in missing and each.code == "backup_short":
            continue
        yield each


def rows_apart(rows: tuple[WhatIf, ...], missing: Mapping[str, Missing]) -> tuple[WhatIf, ...]:
    """The what-ifs but for those that find nothing that fits on a supply whose outlets are missing."""
    return tuple(row for row in rows if row.holds or row.supply not in missing or row.short_l != 0.0)


def _mend(trip: Trip, each: Missing, places: str) -> str:
    """The line to write if they have the outlets; for several patients a supply each."""
    patients = {
        use.device.patient
        for leg in trip.legs
        for use in leg.uses
        if each.supply.name in use.supplies and use.device.name in {need.device for need in each.needs}
    }
    line = ", ".join(_written(outlet) for outlet in _wanted(each))
    write = f"write outlets: [{line}] under {places}"
    if len(patients) > 1:
        return f"Give each patient a supply of their own. If each cylinder has these outlets, {write}."
    return f"If they have it, {write}; else take cylinders that have it."


def _wanted(each: Missing) -> list[Outlet]:
    """The outlets that there are and those that are missing."""
    wanted = list(each.outlets)
    for kind in ("high_pressure", "flowmeter"):
        needs = sorted((need for need in each.needs if need.kind == kind), key=lambda need: -need.flow_l_per_min)
        there = [number for number, outlet in enumerate(wanted) if outlet.kind == kind]
        for place, need in enumerate(needs):
            limit = need.flow_l_per_min if kind == "flowmeter" else None
            if place >= len(there):
                wanted.append(Outlet(kind, limit))
            elif limit is not None and (wanted[there[place]].limit_l_per_min or limit) < limit:
                wanted[there[place]] = Outlet("flowmeter", limit)
    return wanted


def _written(outlet: Outlet) -> str:
    """An outlet as a profile writes it."""
    if outlet.kind == "high_pressure":
        return "high_pressure"
    limit = FLOWMETER_LIMIT_L_PER_MIN if outlet.limit_l_per_min is None else outlet.limit_l_per_min
    return f"{{flowmeter: {figures.plain(limit)} L/min}}"
