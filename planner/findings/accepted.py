"""Go by decision: stops that a licensed clinician accepts within a limit, and what never can be accepted.

Accepted are a part of the reserve, the spare, a what-if that must hold, and an inspired oxygen that cannot be kept.
Never planned litres, outlets, readings, gas, magnet rooms or batteries, and for a device that draws nothing as planned
neither its reserve nor that the patient gets worse: for these the oxygen is carried.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from itertools import combinations

from planner import figures
from planner.constants import MINUTE_NOISE
from planner.cylinders.onhand import OnHand
from planner.findings.common import remark
from planner.flow.devices import demand_l_per_min
from planner.go.accepted import eased_policy
from planner.go.judge import Task, covers_need, serving_without_spare_l
from planner.go.sizing import need_of
from planner.go.worked import Worked
from planner.model import Accepted, Trip
from planner.problems import Finding
from planner.results import AcceptedStop, WhatIf

FIO2_ABOVE_1 = "fio2_above_1"
_OF_NEED = ("reserve", "spare")
LAPSES = "It lapses beyond its limit, and when the trip is planned again on the way."


class Decisions:
    """What is accepted for a trip, held against its stops one after another.

    `taken` are the stops accepted so far, `in_force` the acceptances that some stop needs, within limits or beyond.
    """

    def __init__(self, accepted: tuple[Accepted, ...]) -> None:
        self.accepted = accepted
        self.taken: list[AcceptedStop] = []
        self._beyond: set[Accepted] = set()

    @property
    def in_force(self) -> tuple[Accepted, ...]:
        """The acceptances with which a stop is accepted, in the order of the profile."""
        used = {each for stop in self.taken for each in stop.decisions}
        return tuple(each for each in self.accepted if each in used)

    def on_cabin(self, told: Iterable[Finding]) -> Iterator[Finding]:
        """The findings with the stops of inspired oxygen that cannot be kept accepted, where they are."""
        named = self._named(FIO2_ABOVE_1)
        for each in told:
            stop = each.level == "stop" and each.code == "inspired_oxygen_not_kept"
            yield self._take(each, named[:1]) if stop and named else each

    def on_need(self, told: Iterable[Finding], one: Worked) -> Iterator[Finding]:
        """The findings of one supply with its shortage accepted, where reserve or spare or both together make it up."""
        named = [each for what in _OF_NEED for each in self._named(what, one.task.supply.name)]
        for each in told:
            if one.stock is None or not named or each.level != "stop" or each.code != "not_enough":
                yield each
                continue
            enough = _fewest_that_do(named, one.task, one.stock)
            yield self._take(each, enough) if enough else self._refuse(each, named)

    def on_what_if(self, told: Iterable[Finding], trip: Trip, row: WhatIf) -> Iterator[Finding]:
        """The findings of a what-if with its stop accepted, where oxygen lasts at least to the minute accepted."""
        named = self._named(row.name, row.supply)
        for each in told:
            if not named or each.level != "stop":
                yield each
            elif _litres_alone(row) and not _carried_for(trip, row) and _lasts(row, named[0]):
                yield self._take(each, named[:1])
            else:
                yield self._refuse(each, named)

    def unneeded(self, every: Mapping[str, Worked], rows: Iterable[WhatIf]) -> Iterator[Finding]:
        """A caution for each acceptance that no stop needs. None where nothing is on hand yet to tell by."""
        failing = {(row.name, row.supply) for row in rows if row.must_hold and not row.holds}
        for each in self.accepted:
            if each in self.in_force or each in self._beyond or (each.what, each.supply) in failing:
                continue
            one = every.get(each.supply or "")
            if one is not None and self._may_be_needed(each, one):
                continue
            yield remark("accepted_unneeded", each, by=each.by, what=named(each))

    def _named(self, what: str, supply: str | None = None) -> list[Accepted]:
        return [each for each in self.accepted if each.what == what and each.supply == supply]

    def _may_be_needed(self, decision: Accepted, one: Worked) -> bool:
        """True where nothing is on hand yet, and where the need is short for a reason that has a stop of its own."""
        supply = one.task.supply
        if one.stock is None or (supply.store is not None and not supply.cylinders):
            return supply.kind != "pipeline"
        short = decision.what in _OF_NEED and bool(one.flow) and not one.covers_need
        return short and not any(each.what in _OF_NEED and each.supply == decision.supply for each in self.in_force)

    def _take(self, stop: Finding, decisions: Iterable[Accepted]) -> Finding:
        taken = AcceptedStop(tuple(decisions), stop.message)
        self.taken.append(taken)
        return stop._replace(level="caution", code="accepted", message=accepted_sentence(taken), fix=LAPSES)

    def _refuse(self, stop: Finding, decisions: Iterable[Accepted]) -> Finding:
        decisions = tuple(decisions)
        self._beyond.update(decisions)
        what = " and ".join(f"{named(each)} ({each.by})" for each in decisions)
        return stop._replace(message=f"{stop.message} What is accepted does not reach so far: {what}.")


def named(decision: Accepted) -> str:
    """What is accepted, with its supply and limit: `up to 30 L of the reserve missing on cart`."""
    if decision.what == FIO2_ABOVE_1:
        return "an inspired oxygen that cannot be kept in the cabin"
    if decision.what == "spare":
        return f"no spare on {decision.supply}"
    if decision.what == "reserve":
        return f"up to {figures.plain(decision.at_most_l or 0.0)} L of the reserve missing on {decision.supply}"
    at_least = figures.minutes_set(decision.not_before_min or 0.0)
    return f"{decision.what} on {decision.supply} if oxygen lasts to {at_least} after departure"


def accepted_sentence(taken: AcceptedStop) -> str:
    """Who accepts what, why, and the stop itself."""
    who = " ".join(
        f"Accepted by {each.by}: {named(each)}. Reason given: {each.why.rstrip('.')}." for each in taken.decisions
    )
    return f"{who} What it is about: {taken.stop}"


def _fewest_that_do(decisions: list[Accepted], task: Task, stock: OnHand) -> tuple[Accepted, ...]:
    """The fewest acceptances with which the need is covered; none where outlets are the cause."""
    if serving_without_spare_l(task, stock) >= task.need.required_l:
        return ()
    able = [each for each in decisions if each.what != "reserve" or task.need.planned_l > 0.0]
    for number in range(1, len(able) + 1):
        for some in combinations(able, number):
            policy = eased_policy(task.policy, some, task.flow)
            need = need_of(task.flow, policy) if task.need.planned_l > 0.0 else task.need
            if covers_need(replace(task, policy=policy, need=need), stock):
                return some
    return ()


def _litres_alone(row: WhatIf) -> bool:
    """True where nothing but litres is missing: no outlet, no mark for the magnet."""
    return row.misfit is None and row.short_l is not None and row.short_l > 0.0


def _carried_for(trip: Trip, row: WhatIf) -> bool:
    """True for the deterioration for which oxygen is carried: of a device that draws nothing as planned."""
    return row.name == "deterioration" and any(
        use.supply == row.supply
        and use.device.patient == row.patient
        and use.device.may_rise_to is not None
        and demand_l_per_min(use.device) <= 0.0
        for leg in trip.legs
        for use in leg.uses
    )


def _lasts(row: WhatIf, decision: Accepted) -> bool:
    if row.runs_out_min is None or decision.not_before_min is None:
        return False
    return row.runs_out_min >= decision.not_before_min - MINUTE_NOISE
