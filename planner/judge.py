"""Does a supply pass: its need with the spare withheld, its must-hold what-ifs, its duty as a backup.

One `Case` gathers all that is asked of one supply. It is put once to the cylinders on hand, again with one
gauge lowered (least departure gauge), and to full cylinders of a size (counts). The duties do not depend on the
cylinders; only which legs a cylinder can serve does.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from planner.demand import Flow, Segment, Stretch, peak_l_per_min, stretches
from planner.depletion import run
from planner.model import Outlet, Policy, SizeAsked, Supply, Trip
from planner.onhand import OXYGEN, OnHand, on_hand
from planner.results import FullCount
from planner.scenarios import Scenario
from planner.sizing import (
    Demand,
    Needed,
    count_full,
    enough,
    least_by_search,
    least_litres,
    meets,
    need,
    required_demands,
    spares,
    without_largest,
)
from planner.stock import full
from planner.whatif import holds, oxygen_for, readings_high, reads_high_kpa, serves_all, worst_litres

_FINE_KPA = 0.01
"""To which a least gauge is searched: far below what any gauge shows."""


class BackupDuty(NamedTuple):
    """What a supply must hold as the backup of a fixed one: reserve time at that one's highest flow."""

    fixed: str
    need_l: float
    busiest: Segment


@dataclass(frozen=True, slots=True)
class Case:
    """All that is asked of one supply. `must_hold` are the what-ifs on it that decide go and counts."""

    supply: Supply
    policy: Policy
    flow: Flow
    needed: Needed
    must_hold: tuple[Scenario, ...]
    duties: tuple[BackupDuty, ...]
    stretches: tuple[Stretch, ...] = ()

    @property
    def flows(self) -> tuple[Flow, ...]:
        """Every flow that the cylinders may have to carry."""
        altered = [part for scenario in self.must_hold for part in (scenario.before, scenario.after)]
        return (self.flow, *altered, tuple(duty.busiest for duty in self.duties))


def case(trip: Trip, supply: Supply, flows: Mapping[str, Flow], scenarios: Sequence[Scenario]) -> Case:
    """Gather what a trip asks of a supply."""
    flow = flows.get(supply.name, ())
    duties = tuple(
        BackupDuty(
            other.name,
            trip.policy.reserve_time_min * peak_l_per_min(flows[other.name]),
            max(flows[other.name], key=lambda segment: segment.flow_l_per_min),
        )
        for other in trip.supplies.values()
        if other.fixed and other.kind != "pipeline" and other.backup == supply.name and flows.get(other.name)
    )
    return Case(
        supply,
        trip.policy,
        flow,
        need(flow, trip.policy, pipeline=supply.kind == "pipeline"),
        tuple(s for s in scenarios if s.supply == supply.name and s.name in trip.policy.must_hold),
        duties,
        stretches(trip.legs),
    )


def serving_without_spare_l(this: Case, stock: OnHand) -> float:
    """Usable litres of the cylinders that carry at least one leg, without the spare."""
    usable = [
        tank.usable_l for tank in stock.each if not this.flow or any(tank.serves(segment.asks) for segment in this.flow)
    ]
    return without_largest(usable, spares(this.supply, this.policy))


def covers_need(this: Case, stock: OnHand) -> bool:
    """True where required litres are there, the spare withheld, in cylinders that carry the legs."""
    demands = required_demands(stock.each, this.flow, this.policy, spares(this.supply, this.policy))
    if not all(meets(demand, stock.usable_l) for demand in demands):
        return False
    return serves_all(stock.each, this.flow) or run(stock.tanks, this.flow, this.stretches).out_min is None


def carries_duty(duty: BackupDuty, stock: OnHand) -> bool:
    """True where the backup holds its litres in cylinders whose outlets carry the fixed supply's devices."""
    return enough(sum(tank.usable_l for tank in stock.each if tank.serves(duty.busiest.asks)), duty.need_l)


def passes(this: Case, stock: OnHand) -> bool:
    """True where need, backup duties and every must-hold what-if are met."""
    return (
        covers_need(this, stock)
        and all(carries_duty(duty, stock) for duty in this.duties)
        and all(holds(scenario, oxygen_for(scenario, this.policy, stock).tanks) for scenario in this.must_hold)
    )


def least_departure_gauge_kpa(this: Case, stock: OnHand, index: int) -> float | None:
    """The least reading of one cylinder at which its supply still passes, the others unchanged; None where none is.

    As indicated, None above the filling pressure. Never below change-over, unless nothing is asked of a cylinder that
    reads less. On a manifold one gauge stands for all.
    """
    if not stock.helds or this.supply.cylinders[index].gas != OXYGEN:
        return None
    if not serves_all(stock.each, *this.flows):
        return _searched(this, stock, index)
    gauges = []
    for demand, high in litre_demands(this, len(stock.each)):
        base = _with_readings(this, high) or stock
        litres = _least(demand, base, index)
        if litres == 0.0:
            continue
        source = base.together or base.helds[index]
        gauge = None if litres is None else source.gauge_for(litres, this.policy.change_over_at_kpa)
        if gauge is None:
            return None
        gauges.append(gauge)
    source = stock.together or stock.helds[index]
    floor = this.policy.change_over_at_kpa + source.allowance_kpa
    return max([*gauges, floor]) if gauges else min(floor, source.gauge_kpa)


def _with_readings(this: Case, high: bool) -> OnHand | None:
    return readings_high(this.supply, this.policy) if high else None


def _least(demand: Demand, stock: OnHand, index: int) -> float | None:
    if stock.together is None:
        return least_litres(demand, stock.usable_l, index)
    capacities = [held.water_capacity_l for held in stock.helds]
    counted = without_largest(capacities, demand.leave_out)
    if demand.need_l <= 0.0:
        return 0.0
    return None if counted <= 0.0 else demand.need_l * sum(capacities) / counted


def _searched(this: Case, stock: OnHand, index: int) -> float | None:
    """By halving, where outlets differ so that more than the sum of litres counts."""
    source = stock.together or stock.helds[index]
    floor = this.policy.change_over_at_kpa + source.allowance_kpa
    highest = max(floor, source.filling_gauge_kpa)

    def go(gauge_kpa: float) -> bool:
        chosen = range(len(stock.helds)) if stock.together is not None else (index,)
        cylinders = tuple(
            replace(cylinder, gauge_kpa=gauge_kpa) if number in chosen else cylinder
            for number, cylinder in enumerate(this.supply.cylinders)
        )
        again = on_hand(replace(this.supply, cylinders=cylinders), this.policy)
        return again is not None and passes(this, again)

    least = least_by_search(go, floor, highest, fine=_FINE_KPA)
    return min(floor, source.gauge_kpa) if least == floor else least


def litre_demands(this: Case, tanks: int) -> list[tuple[Demand, bool]]:
    """What is asked where every cylinder carries every leg; the flag marks gauges that read high."""
    every = frozenset(range(tanks))
    spare = spares(this.supply, this.policy)
    found = [(Demand(this.needed.required_l if this.flow else 0.0, spare, every), False)]
    found += [(Demand(duty.need_l, 0, every), False) for duty in this.duties]
    found += [(Demand(worst_litres(s), s.leave_out, every), s.reads_high) for s in this.must_hold]
    return found


def full_counts(this: Case, sizes: Sequence[SizeAsked]) -> tuple[FullCount, ...]:
    """How many full cylinders of each size make the supply pass; count None where no number does."""
    return tuple(_full_count(this, size) for size in sizes)


def _full_count(this: Case, size: SizeAsked) -> FullCount:
    normal = full(size, this.supply, this.policy)
    high = full(size, this.supply, this.policy, allowance_kpa=reads_high_kpa(this.policy))
    count: int | None = None
    asked = [segment.asks for flow in this.flows for segment in flow]
    if any(normal._replace(outlets=outlets).serves_all(asked) for outlets in _fittings(this.supply, size)):
        demands = litre_demands(this, 1)
        counts = [
            count_full([(d.need_l, d.leave_out) for d, reads_high in demands if reads_high == flag], each.usable_l)
            for flag, each in ((False, normal), (True, high))
        ]
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
