"""Does a supply pass: its need with the spare withheld, its must-hold what-ifs, its duty as a backup.

One `Task` gathers all that is asked of one supply. It is put once to the cylinders on hand, again with one
gauge lowered (least departure gauge), and to full cylinders of a size (counts). The duties do not depend on the
cylinders; only which legs a cylinder can serve does.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import fsum
from typing import NamedTuple

from planner.constants import LITRE_NOISE
from planner.cylinders.course import Underway
from planner.cylinders.depletion import course_of
from planner.cylinders.onhand import OnHand
from planner.cylinders.stock import full
from planner.cylinders.ways import all_carried
from planner.flow.flows import Flow, NoChange, Segment, no_change_spans, peak_l_per_min
from planner.flow.outlets import Asks
from planner.go.sizing import (
    carriers,
    count_full,
    enough,
    group_needs,
    layers,
    meets,
    need_of,
    noise_l,
    spares,
    time_reserve_l,
    without_largest,
)
from planner.go.totals import most_drawn_l
from planner.go.whatif import oxygen_for, planned_way, readings_high, reads_high_kpa
from planner.go.whatifs.scenario import Scenario
from planner.go.worst_minute import Way, holds
from planner.model import Outlet, Policy, SizeAsked, Supply, Trip
from planner.results import FullCount, Need


class BackupDuty(NamedTuple):
    """What a supply must hold as the backup of a fixed one: reserve time at that one's highest flow."""

    fixed: str
    need_l: float
    busiest: Segment


class LitreNeed(NamedTuple):
    """Litres that must be there after the `leave_out` largest cylinders; `reads_high` if the gauges read high.

    `noise_l`: how much less still counts as enough.
    """

    need_l: float
    leave_out: int
    reads_high: bool
    noise_l: float


@dataclass(frozen=True)
class Task:
    """All that is asked of one supply.

    `must_hold` are the what-ifs on it that decide go and counts; `reads_high` is the one that every gauge reads too
    high, whether it must hold or not. `named`: a leg names it, whatever it draws.
    """

    supply: Supply
    policy: Policy
    flow: Flow
    need: Need
    must_hold: tuple[Scenario, ...]
    duties: tuple[BackupDuty, ...]
    no_change: tuple[NoChange, ...] = ()
    reads_high: Scenario | None = None
    named: bool = True

    @property
    def risen(self) -> tuple[Flow, ...]:
        """What the oxygen is carried for where nothing is planned to be drawn: the risen flows."""
        if self.need.planned_l > 0.0:
            return ()
        return tuple(scenario.after for scenario in self.must_hold if scenario.name == "deterioration")

    @property
    def flows(self) -> tuple[Flow, ...]:
        """Every flow that the cylinders may have to carry."""
        altered = [part for scenario in self.must_hold for part in (scenario.before, scenario.after)]
        return (self.flow, *altered, tuple(duty.busiest for duty in self.duties))

    @cached_property
    def asks(self) -> frozenset[Asks]:
        """All that a leg may ask of a cylinder, in one flow or another."""
        return frozenset(segment.asks for flow in self.flows for segment in flow)

    @cached_property
    def litre_needs(self) -> tuple[LitreNeed, ...]:
        """What is asked where every cylinder carries every leg, so that only litres count."""
        required_l = self.need.required_l if self.flow else 0.0
        required = LitreNeed(
            required_l, spares(self.supply, self.policy), reads_high=False, noise_l=noise_l(required_l)
        )
        duties = [LitreNeed(duty.need_l, 0, reads_high=False, noise_l=noise_l(duty.need_l)) for duty in self.duties]
        altered = [
            LitreNeed(most_drawn_l(s), int(s.lose_one), s.reads_high, noise_l=LITRE_NOISE) for s in self.must_hold
        ]
        return (required, *duties, *altered)

    def asks_for_litres_alone(self, stock: OnHand) -> bool:
        """True where every cylinder carries every leg, so that neither outlets nor the order of use matter."""
        return not any(s.lose_all for s in self.must_hold) and all(stock.serving.all_of(asks) for asks in self.asks)

    def has_litres(self, usable_l: Sequence[float], *, reads_high: bool = False) -> bool:
        """True where the litres of each cylinder cover all that is asked, or what is if every gauge reads high."""
        return all(
            without_largest(usable_l, each.leave_out) >= each.need_l - each.noise_l
            for each in self.litre_needs
            if each.reads_high == reads_high
        )


def tasks_of(trip: Trip, flows: Mapping[str, Flow], scenarios: Sequence[Scenario]) -> dict[str, Task]:
    """What a trip asks of each of its supplies, by name."""
    return {name: task_of(trip, supply, flows, scenarios) for name, supply in trip.supplies.items()}


def task_of(trip: Trip, supply: Supply, flows: Mapping[str, Flow], scenarios: Sequence[Scenario]) -> Task:
    """Gather what a trip asks of a supply."""
    flow = flows.get(supply.name, ())
    policy = layers(supply, trip.policy)
    duties = tuple(
        BackupDuty(
            other.name,
            time_reserve_l(peak_l_per_min(flows[other.name]), trip.policy),
            max(flows[other.name], key=lambda segment: segment.flow_l_per_min),
        )
        for other in trip.supplies.values()
        if other.gas == "oxygen"
        and other.fixed
        and other.kind != "pipeline"
        and other.backup == supply.name
        and flows.get(other.name)
    )
    mine = [scenario for scenario in scenarios if scenario.supply == supply.name]
    rises = [most_drawn_l(scenario) for scenario in mine if scenario.name == "deterioration"]
    return Task(
        supply,
        policy,
        flow,
        need_of(flow, policy, pipeline=supply.kind == "pipeline", rise_l=max(rises, default=0.0)),
        tuple(scenario for scenario in mine if scenario.name in trip.policy.must_hold),
        duties,
        no_change_spans(trip.legs),
        next((scenario for scenario in mine if scenario.reads_high), None),
        any(supply.name in (leg.supply, *leg.supplies) for leg in trip.legs),
    )


def serving_without_spare_l(task: Task, stock: OnHand) -> float:
    """Usable litres of the cylinders that carry at least one leg, as planned or risen, without the spare."""
    asked = {segment.asks for flow in (task.flow, *task.risen) for segment in flow}
    usable = [tank.usable_l for tank in stock.each if not asked or any(tank.serves(asks) for asks in asked)]
    return without_largest(usable, spares(task.supply, task.policy))


def nothing_usable(task: Task, stock: OnHand) -> bool:
    """True where a leg names a supply and nothing is usable on it, though no litres are missing."""
    return task.named and fsum(stock.usable_l) <= LITRE_NOISE and covers_need(task, stock)


def covers_need(task: Task, stock: OnHand) -> bool:
    """True where required litres are there, the spare withheld, in cylinders that carry the legs."""
    carried_by = carriers(stock.each, task.flow, stock.serving if stock.together is None else None)
    needs = group_needs(stock.each, task.flow, task.policy, spares(task.supply, task.policy), carried_by=carried_by)
    if not all(meets(need, stock.usable_l) for need in needs):
        return False
    if task.need.planned_l <= 0.0 and not enough(serving_without_spare_l(task, stock), task.need.required_l):
        return False
    every_tank = all(len(tanks) == len(stock.each) for tanks in carried_by)
    return every_tank or course_of(stock.tanks, task.flow, task.no_change, serving=stock.serving).out_min is None


def carries_duty(duty: BackupDuty, stock: OnHand) -> bool:
    """True where the backup holds its litres in cylinders whose outlets carry the fixed supply's devices."""
    return enough(fsum(tank.usable_l for tank in stock.each if tank.serves(duty.busiest.asks)), duty.need_l)


def passes(task: Task, stock: OnHand) -> bool:
    """True where need, backup duties and every must-hold what-if are met."""
    return passing_way(task, stock) is not None


def passing_way(task: Task, stock: OnHand) -> Way | None:
    """The way of a planned course on which all that is asked is met; None where there is none.

    One and the same course has to hold in every what-if, since nobody knows beforehand which of them comes.
    """
    if task.asks_for_litres_alone(stock):
        enough_l = task.has_litres(stock.usable_l) and (
            not any(need.reads_high for need in task.litre_needs)
            or task.has_litres((readings_high(stock.supply, task.policy) or stock).usable_l, reads_high=True)
        )
        return () if enough_l else None
    if not (covers_need(task, stock) and all(carries_duty(duty, stock) for duty in task.duties)):
        return None
    course = Underway([tank.usable_l for tank in stock.tanks], stock.serving, task.no_change)
    apart = [scenario for scenario in task.must_hold if planned_way(scenario, ()) is None]
    going_on = [scenario for scenario in task.must_hold if planned_way(scenario, ()) is not None]
    if not all(withstands(task, scenario, stock) for scenario in apart):
        return None
    for one in all_carried(course, task.flow, lambda way: way.follow(task.flow, task.flow)):
        way = one.result().way
        if all(withstands(task, scenario, stock, way) for scenario in going_on):
            return way
    return None


def withstands(task: Task, scenario: Scenario, stock: OnHand, way: Way | None = None) -> bool:
    """True where a what-if holds on what a supply has; `way` is that of the planned course, where it is known."""
    left = oxygen_for(scenario, task.policy, stock).stock
    return holds(scenario, left.tanks, left.serving, planned_way(scenario, way))


def full_counts(task: Task, sizes: Sequence[SizeAsked]) -> tuple[FullCount, ...]:
    """How many full cylinders of each size make the supply pass; count None where no number does."""
    return tuple(_full_count(task, size) for size in sizes)


def _full_count(task: Task, size: SizeAsked) -> FullCount:
    normal = full(size, task.supply, task.policy)
    count: int | None = None
    if any(normal._replace(outlets=outlets).serves_all(task.asks) for outlets in _fittings(task.supply, size)):
        counts = [count_full([need[:2] for need in task.litre_needs if not need.reads_high], normal.usable_l)]
        if reading_high := [need[:2] for need in task.litre_needs if need.reads_high]:
            high = full(size, task.supply, task.policy, allowance_kpa=reads_high_kpa(task.policy))
            counts.append(count_full(reading_high, high.usable_l))
        count = None if None in counts else max(c for c in counts if c is not None)
    mass = None if size.full_mass_kg is None or count is None else size.full_mass_kg * count
    return FullCount(size.size, normal.usable_l, count, mass)


def _fittings(supply: Supply, size: SizeAsked) -> list[tuple[Outlet, ...] | None]:
    """Outlets to count a size with: those asked for; of a size in use, those of any cylinder of it on hand."""
    in_use = [cylinder for cylinder in supply.cylinders if cylinder.size == size.size]
    asked_for = size.outlets if size.outlets is not None else supply.outlets
    if all(cylinder.where != size.where for cylinder in in_use):
        return [asked_for]
    return [asked_for, *map(supply.outlets_of, in_use)]
