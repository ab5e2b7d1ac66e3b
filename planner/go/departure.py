"""The least reading of each cylinder at which its supply still passes, the others unchanged.

Where every cylinder carries every leg this follows from the litres that each must make up. Where outlets differ it is
searched by halving. Nearly all that is asked then has its answer without a new course through the cylinders: sums of
litres are kept ready, and a cylinder that no course ever touches may hold anything.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from math import fsum

from planner.cylinders.depletion import all_serve
from planner.cylinders.drift import LITRE_TOLERANCE
from planner.cylinders.onhand import OXYGEN, OnHand, on_hand
from planner.cylinders.stock import Held, held
from planner.flow.outlets import Serving
from planner.go.judge import Case, LitreNeed, passes
from planner.go.scenarios import Scenario
from planner.go.sizing import (
    Demand,
    Ranked,
    enough,
    least_by_search,
    least_litres_of_each,
    meets,
    required_demands,
    spares,
    without_largest,
)
from planner.go.totals import worst_litres
from planner.go.whatif import readings_high, reads_high_kpa
from planner.go.worst_minute import Answer, Trial

_FINE_KPA = 0.01
"""To which a least gauge is searched: far below what any gauge shows."""

_CLOSE_L = 1e-3
"""Litres beyond which a comparison of sums is decided, whatever rounding noise a course may add."""


def least_departure_gauges_kpa(this: Case, stock: OnHand) -> list[float | None]:
    """The least reading of each cylinder at which its supply still passes, the others unchanged.

    As indicated; None for a stated amount, and where no reading up to the filling pressure is enough. Never below
    change-over, unless nothing is asked of a cylinder that reads less. On a manifold one gauge stands for all.
    """
    if not stock.helds:
        return [None] * len(stock.each)
    found: list[float | None]
    if all(tank.serves(asks) for tank in dict.fromkeys(stock.each) for asks in this.asks):
        found = _from_litres(this, stock)
    elif stock.together is not None:
        found = [_on_manifold(this, stock.together)] * len(stock.helds)
    else:
        search = _Search(this, stock)
        oxygen = [cylinder.gas == OXYGEN for cylinder in this.supply.cylinders]
        found = [search.least_kpa(index) if is_oxygen else None for index, is_oxygen in enumerate(oxygen)]
    pairs = zip(this.supply.cylinders, found, strict=True)
    return [least if cylinder.gas == OXYGEN else None for cylinder, least in pairs]


def _from_litres(this: Case, stock: OnHand) -> list[float | None]:
    """Where every cylinder carries every leg: from the litres that each must make up."""
    high = None
    if any(need.reads_high for need in this.litre_needs):
        high = readings_high(this.supply, this.policy)
    bases = [high or stock if need.reads_high else stock for need in this.litre_needs]
    litres = [_least_of_each(need, base) for need, base in zip(this.litre_needs, bases, strict=True)]
    return [
        _highest_gauge_kpa(this, stock, index, [(base, each[index]) for base, each in zip(bases, litres, strict=True)])
        for index in range(len(stock.helds))
    ]


def _highest_gauge_kpa(
    this: Case, stock: OnHand, index: int, least: Sequence[tuple[OnHand, float | None]]
) -> float | None:
    """The gauge at which a cylinder has the litres that each need asks of it."""
    gauges = []
    for base, litres in least:
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


def _least_of_each(need: LitreNeed, stock: OnHand) -> list[float | None]:
    if stock.together is None:
        return least_litres_of_each(need.need_l, need.leave_out, stock.usable_l)
    capacities = [held.water_capacity_l for held in stock.helds]
    counted = without_largest(capacities, need.leave_out)
    least = 0.0 if need.need_l <= 0.0 else None if counted <= 0.0 else need.need_l * fsum(capacities) / counted
    return [least] * len(capacities)


def _on_manifold(this: Case, together: Held) -> float | None:
    """By halving, for all cylinders of a manifold together."""

    def go(gauge_kpa: float) -> bool:
        cylinders = tuple(cylinder._replace(gauge_kpa=gauge_kpa) for cylinder in this.supply.cylinders)
        again = on_hand(this.supply._replace(cylinders=cylinders), this.policy)
        return again is not None and passes(this, again)

    floor = this.policy.change_over_at_kpa + together.allowance_kpa
    least = least_by_search(go, floor, max(floor, together.filling_gauge_kpa), fine=_FINE_KPA)
    return min(floor, together.gauge_kpa) if least == floor else least


class _Sum:
    """A demand on litres, with one cylinder holding others."""

    def __init__(self, demand: Demand, usable_l: Sequence[float]) -> None:
        self.need_l = demand.need_l
        self._counting = {tank: usable_l[tank] for tank in demand.tanks}
        self._ranked = Ranked(list(self._counting.values()), demand.leave_out)
        self._met = meets(demand, usable_l)

    def met_with(self, index: int, litres: float) -> bool:
        """True where it is met; as it is where the cylinder does not count."""
        if index not in self._counting:
            return self._met
        return enough(self._ranked.sum_with(self._counting[index], litres), self.need_l)


class _Asked:
    """Courses that must hold, planned or altered, with the litres on hand; then with one cylinder holding others."""

    def __init__(self, scenario: Scenario, litres: Sequence[float], serving: Serving, kinds: Sequence[object]) -> None:
        self.scenario = scenario
        self._kinds = kinds
        self.trial = Trial(scenario, serving)
        self._litres = [0.0] * len(litres) if scenario.lose_all else list(litres)
        self._sum_l = fsum(self._litres)
        self._answers: dict[int | None, Answer] = {}
        self._near: float | None = None

    @cached_property
    def _draw_l(self) -> float:
        return worst_litres(self.scenario)

    @cached_property
    def _largest(self) -> dict[object, list[tuple[float, list[int]]]]:
        """The two largest amounts of each kind, each with the cylinders that hold it and whose loss may differ.

        Those that no course touches when nothing is lost can all be lost alike: two of them stand for the rest.
        """
        touched = () if self.trial.uniform else self._on_hand(None).touched
        found: dict[object, list[tuple[float, list[int]]]] = {}
        for kind in dict.fromkeys(self._kinds):
            members = [index for index, other in enumerate(self._kinds) if other == kind]
            for amount in sorted({self._litres[index] for index in members}, reverse=True)[:2]:
                holding = [index for index in members if self._litres[index] == amount]
                alike = [index for index in holding if index not in touched]
                those = [index for index in holding if index in touched] + alike[:2]
                found.setdefault(kind, []).append((amount, those))
        return found

    def _largest_but(self, index: int, kind: object) -> tuple[float, list[int]]:
        return next((found for found in self._largest[kind] if found[1] != [index]), (-1.0, []))

    def by_sum(self, index: int, litres: float) -> bool | None:
        """Whether litres are enough, where every cylinder carries every leg; None elsewhere, and if it is close."""
        if not self.trial.uniform or self.scenario.lose_all:
            return None
        have = self._sum_l - self._litres[index] + litres
        if self.scenario.lose_largest:
            have -= max(litres, *(self._largest_but(index, kind)[0] for kind in self._largest))
        spare = have - self._draw_l
        return None if abs(spare) <= _CLOSE_L else spare > 0.0

    def holds(self, index: int, litres: float) -> bool:
        """Whether all courses hold with one cylinder holding so many litres."""
        return all(self._holds(index, litres, lost) for lost in self._lost(index, litres))

    def _holds(self, index: int, litres: float, lost: int | None) -> bool:
        own, other = (0.0, None) if lost == index else (litres, lost)
        on_hand = self._on_hand(other)
        as_it_is = own == self._litres[index] or self.scenario.lose_all
        untouched = index not in on_hand.touched and self._litres[index] > LITRE_TOLERANCE
        if as_it_is or untouched:
            return on_hand.holds
        changed = self._litres.copy()
        changed[index] = own
        if other is not None:
            changed[other] = 0.0
        answer = self.trial.answer(changed, near=self._near)
        if not answer.holds:
            self._near = answer.minute
        return answer.holds

    def _lost(self, index: int, litres: float) -> list[int | None]:
        """The cylinders of which one at a time is lost, with one of them holding so many litres; None for none."""
        if not self.scenario.lose_largest:
            return [None]
        found: list[int | None] = []
        for kind in self._largest:
            most, largest = self._largest_but(index, kind)
            own = kind == self._kinds[index]
            if own and litres >= most:
                found.append(index)
            if not own or litres <= most:
                found += [other for other in largest if other != index]
        return found

    def _on_hand(self, lost: int | None) -> Answer:
        """The answer with the litres on hand, one cylinder lost."""
        if lost is not None and lost not in self._on_hand(None).touched:
            return self._on_hand(None)
        if lost not in self._answers:
            litres = self._litres.copy()
            if lost is not None:
                litres[lost] = 0.0
            self._answers[lost] = self.trial.answer(litres)
        return self._answers[lost]


class _Search:
    """Go or no-go with one cylinder at another gauge, as `planner.go.judge.passes` has it."""

    def __init__(self, this: Case, stock: OnHand) -> None:
        self.this, self.stock = this, stock
        normal = stock.usable_l
        high = normal
        if any(scenario.reads_high for scenario in this.must_hold):
            high = (readings_high(this.supply, this.policy) or stock).usable_l
        demands = required_demands(stock.tanks, this.flow, this.policy, spares(this.supply, this.policy))
        for duty in this.duties:
            serves = stock.serving.of(duty.busiest.asks)
            demands.append(Demand(duty.need_l, 0, frozenset(index for index, able in enumerate(serves) if able)))
        self.sums = [_Sum(demand, normal) for demand in demands]
        courses = list(this.must_hold)
        if not all_serve(stock.serving, this.flow):
            courses.insert(0, Scenario("as planned", this.supply.name, this.flow, this.flow, (), this.stretches))
        kinds = [tank.kind for tank in stock.tanks]
        self.asked = [_Asked(course, high if course.reads_high else normal, stock.serving, kinds) for course in courses]

    def least_kpa(self, index: int) -> float | None:
        """The least gauge of one cylinder, by halving."""
        source = self.stock.helds[index]
        floor = self.this.policy.change_over_at_kpa + source.allowance_kpa
        highest = max(floor, source.filling_gauge_kpa)
        least = least_by_search(lambda gauge: self._go(index, gauge), floor, highest, fine=_FINE_KPA)
        return min(floor, source.gauge_kpa) if least == floor else least

    def _litres(self, index: int, gauge_kpa: float) -> tuple[float, float]:
        """Usable litres of a cylinder at a gauge, and if it reads high."""
        cylinder, supply, policy = self.this.supply.cylinders[index], self.this.supply, self.this.policy
        normal = held(cylinder, supply, policy, gauge_kpa=gauge_kpa)
        high = held(cylinder, supply, policy, gauge_kpa=gauge_kpa, allowance_kpa=reads_high_kpa(policy, cylinder))
        return normal.usable_l, high.usable_l

    def _go(self, index: int, gauge_kpa: float) -> bool:
        normal, high = self._litres(index, gauge_kpa)
        if not all(each.met_with(index, normal) for each in self.sums):
            return False
        found = [(asked, high if asked.scenario.reads_high else normal) for asked in self.asked]
        by_sum = [asked.by_sum(index, litres) for asked, litres in found]
        if False in by_sum:
            return False
        pairs = zip(found, by_sum, strict=True)
        return all(asked.holds(index, litres) for (asked, litres), known in pairs if known is None)
