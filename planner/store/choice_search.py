"""The exact search for the best set of cylinders among candidates that can all serve.

Cylinders of one mass (and, where part-used ones are preferred, of one fullness) form a class; within a class, more
litres never hurt. So for each number of cylinders the ways to spread it over the classes are searched for the
lightest that passes, each spread with the fullest of its classes and cut off where even the fullest of the rest
would not do. Ties are then settled by change-overs and by readings, oldest first, keeping each time only what the
fullest of the rest can still complete.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from itertools import permutations
from math import fsum
from typing import NamedTuple

from planner.cylinders.depletion import Tank, run
from planner.go.judge import Case
from planner.go.sizing import enough, without_largest
from planner.model import Cylinder

_PERMUTED_UP_TO = 5
_MASS_TOLERANCE_KG = 1e-9


class Candidate(NamedTuple):
    """A cylinder of the store that may be chosen; `usable_high_l` where its gauge is taken to read high."""

    place: int
    cylinder: Cylinder
    tank: Tank
    usable_l: float
    usable_high_l: float
    mass_kg: float
    full: bool

    @property
    def age(self) -> tuple[bool, float, int]:
        """Sorts the oldest reading first, readings without a time last, equal ones by their place in the store."""
        checked = self.cylinder.checked
        return (checked is None, 0.0 if checked is None else _seconds(checked), self.place)


def _seconds(moment: datetime) -> float:
    return (moment if moment.tzinfo is not None else moment.replace(tzinfo=UTC)).timestamp()


_Class = list[Candidate]
_Spread = tuple[int, ...]


class Search:
    """All that is asked of one supply, put to the candidates of its store."""

    def __init__(self, this: Case, candidates: Sequence[Candidate]) -> None:
        self.this = this
        self.part_used_first = this.supply.prefer == "part_used"
        self.demands = [need for need in this.litre_needs if need.need_l > 0.0]
        self.candidates = sorted(candidates, key=lambda candidate: candidate.age)
        self.classes = self._classes()
        self.planned_l = this.needed.planned_l

    def _classes(self) -> list[_Class]:
        by_key: dict[tuple[object, ...], _Class] = {}
        capacity_counts = any(high for _, _, high in self.demands)
        for candidate in self.candidates:
            key: tuple[object, ...] = (candidate.mass_kg, self.part_used_first and candidate.full)
            if capacity_counts:
                key += (candidate.cylinder.water_capacity_l, candidate.cylinder.temperature_degc)
            by_key.setdefault(key, []).append(candidate)
        classes = [sorted(group, key=lambda c: (-c.usable_l, c.age)) for group in by_key.values()]
        return sorted(classes, key=lambda group: group[0].mass_kg)

    def best(self, places: int, limit_kg: float) -> list[Candidate] | None:
        """The best set in the order of use, within places and weight; None where none passes."""
        if not self.demands:
            return []
        most = min(places, len(self.candidates))
        for fulls in range(most + 1) if self.part_used_first else (None,):
            for count in range(1, most + 1):
                if not self._could_pass(count, limit_kg):
                    continue
                spreads = self.lightest(count, limit_kg, fulls)
                if spreads:
                    return self._settled(spreads, count)
        return None

    def _could_pass(self, count: int, limit_kg: float) -> bool:
        lightest = fsum(sorted(candidate.mass_kg for candidate in self.candidates)[:count])
        return lightest <= limit_kg + _MASS_TOLERANCE_KG and self.passes(self._fullest(self.candidates, count))

    @staticmethod
    def _fullest(candidates: Sequence[Candidate], count: int) -> list[Candidate]:
        return sorted(candidates, key=lambda candidate: -candidate.usable_l)[:count]

    def passes(self, chosen: Sequence[Candidate]) -> bool:
        """True where the litres of a set meet every demand."""
        normal = [candidate.usable_l for candidate in chosen]
        high = [candidate.usable_high_l for candidate in chosen]
        return all(
            enough(without_largest(high if reads_high else normal, leave_out), need_l)
            for need_l, leave_out, reads_high in self.demands
        )

    def lightest(self, count: int, limit_kg: float, fulls: int | None = None) -> list[_Spread]:
        """Every way to spread `count` cylinders over the classes with the least mass that passes."""
        best_kg = limit_kg
        found: list[_Spread] = []
        tops = self._tops(count)

        def descend(at: int, spread: _Spread, chosen: list[Candidate], mass: float) -> None:
            nonlocal best_kg, found
            left = count - len(chosen)
            if left == 0:
                if (fulls is None or sum(c.full for c in chosen) == fulls) and self.passes(chosen):
                    if not _same(mass, best_kg) or not found:
                        found = []
                    best_kg = mass
                    found.append(spread + (0,) * (len(self.classes) - len(spread)))
                return
            if at == len(self.classes) or self._heavier(mass + left * self.classes[at][0].mass_kg, best_kg):
                return
            if fulls is not None and sum(c.full for c in chosen) > fulls:
                return
            if not self.passes([*chosen, *tops[at][:left]]):
                return
            group = self.classes[at]
            for take in range(min(left, len(group)), -1, -1):
                added = mass + (take * group[0].mass_kg if take else 0.0)
                if not self._heavier(added, best_kg):
                    descend(at + 1, (*spread, take), chosen + group[:take], added)

        descend(0, (), [], 0.0)
        return found

    @staticmethod
    def _heavier(mass: float, limit: float) -> bool:
        return mass > limit + _MASS_TOLERANCE_KG

    def _tops(self, count: int) -> list[list[Candidate]]:
        """For each class, the fullest of it and all later classes."""
        tops: list[list[Candidate]] = []
        rest: list[Candidate] = []
        for group in reversed(self.classes):
            rest = self._fullest([*group[:count], *rest], count)
            tops.append(rest)
        return tops[::-1]

    def _settled(self, spreads: Sequence[_Spread], count: int) -> list[Candidate]:
        """Of equal masses: fewest change-overs, then the oldest readings; then the order of use."""
        fewest = min(self._changes(self._completed(spread, [])) for spread in spreads)
        chosen: list[Candidate] = []
        for candidate in self.candidates:
            if len(chosen) == count:
                break
            trial = [*chosen, candidate]
            if any(self._can_complete(spread, trial, fewest) for spread in spreads):
                chosen = trial
        return self._ordered(chosen)

    def _can_complete(self, spread: _Spread, chosen: Sequence[Candidate], fewest: int) -> bool:
        whole = self._completed(spread, chosen)
        return bool(whole) and self.passes(whole) and self._changes(whole) <= fewest

    def _completed(self, spread: _Spread, chosen: Sequence[Candidate]) -> list[Candidate]:
        """A set that holds `chosen` and the fullest others of a spread; empty where it cannot hold them."""
        whole: list[Candidate] = []
        for take, group in zip(spread, self.classes, strict=True):
            mine = [candidate for candidate in chosen if candidate in group]
            if len(mine) > take:
                return []
            others = [candidate for candidate in group if candidate not in mine]
            whole += mine + others[: take - len(mine)]
        return whole

    def _changes(self, chosen: Sequence[Candidate]) -> int:
        """The fewest change-overs that the litres ask of any order of use, none brought forward."""
        total, used = 0.0, 0
        for candidate in self._largest_first(chosen):
            if enough(total, self.planned_l):
                break
            total += candidate.usable_l
            used += 1
        return max(0, used - 1)

    def _changes_in(self, order: Sequence[Candidate]) -> int:
        return len(run([candidate.tank for candidate in order], self.this.flow, self.this.stretches).changes)

    def _orders(self, chosen: Sequence[Candidate]) -> Iterator[tuple[Candidate, ...]]:
        """Orders to consider: all of up to five cylinders, else largest first; part-used first where preferred."""
        if len(chosen) > _PERMUTED_UP_TO:
            yield tuple(self._largest_first(chosen))
            return
        yield from filter(self._part_used_first, permutations(self._fullest(chosen, len(chosen))))

    def _ordered(self, chosen: Sequence[Candidate]) -> list[Candidate]:
        """The order of use with the fewest change-overs, and of these the one that uses the oldest readings first."""
        if len(chosen) <= _PERMUTED_UP_TO:
            orders = [(self._changes_in(order), [c.age for c in order], order) for order in self._orders(chosen)]
            return list(min(orders)[2])
        order: list[Candidate] = []
        rest = sorted(chosen, key=lambda candidate: candidate.age)
        fewest = self._changes_in(self._largest_first(rest))
        while rest:
            for candidate in rest:
                others = [other for other in rest if other is not candidate]
                trial = [*order, candidate, *self._largest_first(others)]
                if self._part_used_first(trial) and self._changes_in(trial) <= fewest:
                    order.append(candidate)
                    rest = others
                    break
        return order

    def _largest_first(self, chosen: Sequence[Candidate]) -> list[Candidate]:
        return sorted(chosen, key=lambda c: (self.part_used_first and c.full, -c.usable_l, c.age))

    def _part_used_first(self, order: Sequence[Candidate]) -> bool:
        return not self.part_used_first or list(order) == sorted(order, key=lambda c: c.full)


def _same(one_kg: float, other_kg: float) -> bool:
    return one_kg == other_kg or abs(one_kg - other_kg) <= _MASS_TOLERANCE_KG
