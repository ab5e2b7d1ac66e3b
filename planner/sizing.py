"""Need with its reserve, and whether litres cover it: the only place that adds reserve.

    planned  = sum of demand x time, delays included
    reserve  = max((reserve_factor - 1) x planned, reserve_time x peak flow)
    required = planned + reserve

A `Demand` is one condition on the cylinders of a supply: after the `leave_out` largest are left out, so many litres
must be usable among those whose outlets carry the legs in question.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import combinations
from math import ceil, fsum
from typing import NamedTuple

from planner.demand import Flow, litres, peak_l_per_min
from planner.depletion import Tank
from planner.model import Policy, Supply
from planner.outlets import Asks

RELATIVE_TOLERANCE = 1e-9
"""Rounding noise that never decides a go: one part in a thousand million of the litres compared."""

_MOST_SETS = 6


class Needed(NamedTuple):
    """Need of one supply, litres, each reserve layer on its own."""

    planned_l: float
    factor_reserve_l: float
    time_reserve_l: float
    reserve_l: float
    peak_flow_l_per_min: float

    @property
    def required_l(self) -> float:
        """Planned and reserve together, litres."""
        return self.planned_l + self.reserve_l


def need(flow: Flow, policy: Policy, *, pipeline: bool = False) -> Needed:
    """Need of a flow by a policy. A pipeline has no reserve."""
    planned = litres(flow)
    peak = peak_l_per_min(flow)
    by_factor = 0.0 if pipeline else (policy.reserve_factor - 1.0) * planned
    by_time = 0.0 if pipeline else policy.reserve_time_min * peak
    return Needed(planned, by_factor, by_time, max(by_factor, by_time), peak)


class Demand(NamedTuple):
    """At least `need_l` litres from the tanks numbered `tanks`, without the `leave_out` largest of these."""

    need_l: float
    leave_out: int
    tanks: frozenset[int]


def spares(supply: Supply, policy: Policy) -> int:
    """Cylinders to leave out as spare: the policy's number on portable cylinders, none elsewhere."""
    if not supply.portable or supply.kind == "litres":
        return 0
    return policy.spare_cylinders


def without_largest(usable_l: Sequence[float], leave_out: int) -> float:
    """Sum of litres without the `leave_out` largest."""
    return fsum(sorted(usable_l, reverse=True)[leave_out:]) if leave_out else fsum(usable_l)


def enough(have_l: float, need_l: float) -> bool:
    """True where litres cover a need, but for rounding noise."""
    return have_l >= need_l - RELATIVE_TOLERANCE * max(1.0, need_l)


def meets(demand: Demand, usable_l: Sequence[float]) -> bool:
    """True where the tanks cover a demand."""
    return enough(without_largest([usable_l[tank] for tank in demand.tanks], demand.leave_out), demand.need_l)


def carriers(tanks: Sequence[Tank], flow: Flow) -> list[frozenset[int]]:
    """For each segment of a flow, the numbers of the tanks whose outlets carry it."""
    found: dict[Asks, frozenset[int]] = {}
    for segment in flow:
        if segment.asks not in found:
            found[segment.asks] = frozenset(index for index, tank in enumerate(tanks) if tank.serves(segment.asks))
    return [found[segment.asks] for segment in flow]


def required_demands(
    tanks: Sequence[Tank],
    flow: Flow,
    policy: Policy,
    leave_out: int,
    *,
    carried_by: Sequence[frozenset[int]] | None = None,
) -> list[Demand]:
    """What a flow and its reserve ask of tanks, leg by leg where their outlets differ.

    Where every tank carries every leg this is one demand, `required`. Otherwise each group of legs that the same tanks
    carry, and each union of such groups, must be covered by the tanks that carry some of it (the marriage condition
    for a transport of litres to legs); of many groups, only single ones and the whole are asked.
    """
    carried_by = carriers(tanks, flow) if carried_by is None else carried_by
    groups = list(dict.fromkeys(carried_by))
    if len(groups) == 1:
        return [Demand(need(flow, policy).required_l, leave_out, groups[0])]
    return [
        Demand(need(_only(flow, carried_by, chosen), policy).required_l, leave_out, frozenset().union(*chosen))
        for chosen in _unions(groups)
    ]


def _unions(sets: Sequence[frozenset[int]]) -> Iterator[tuple[frozenset[int], ...]]:
    sizes = range(1, len(sets) + 1) if len(sets) <= _MOST_SETS else sorted({1, len(sets)})
    for size in sizes:
        yield from combinations(sets, size)


def _only(flow: Flow, carried_by: Sequence[frozenset[int]], chosen: Sequence[frozenset[int]]) -> Flow:
    return tuple(segment for segment, tanks in zip(flow, carried_by, strict=True) if tanks in chosen)


def least_litres(demand: Demand, usable_l: Sequence[float], tank: int) -> float | None:
    """The least usable litres of one tank, the others as they are, that meet a demand; None where none do.

    With s tanks left out and the others sorted o1 >= o2 >= ..., a tank with x <= o_s counts whole: it must make up
    what o_(s+1), o_(s+2), ... lack. Beyond o_s it would itself be one of those left out, so more does not help.
    """
    if tank not in demand.tanks:
        return 0.0 if meets(demand, usable_l) else None
    others = sorted((usable_l[other] for other in demand.tanks if other != tank), reverse=True)
    return _made_up(demand.need_l, demand.leave_out, others)


def least_litres_of_each(need_l: float, leave_out: int, usable_l: Sequence[float]) -> list[float | None]:
    """`least_litres` of every tank in turn, where all of them count."""
    order = sorted(usable_l, reverse=True)
    if enough(fsum(order[leave_out + 1 :]), need_l):  # even without the largest of those that count
        return [0.0] * len(order)
    found = []
    for own_l in usable_l:
        others = order.copy()
        others.remove(own_l)
        found.append(_made_up(need_l, leave_out, others))
    return found


def _made_up(need_l: float, leave_out: int, others: Sequence[float]) -> float | None:
    """What one tank must make up beside others, which are sorted with the largest first."""
    lacking = need_l - fsum(others[leave_out:])
    if lacking <= RELATIVE_TOLERANCE * max(1.0, need_l):
        return 0.0
    if leave_out == 0:
        return lacking
    if len(others) < leave_out or lacking > others[leave_out - 1]:
        return None
    return lacking


def count_full(demands: Sequence[tuple[float, int]], usable_each_l: float) -> int | None:
    """The smallest number of equal cylinders that meets every (need, leave out); None where none does.

    (n - leave_out) x usable >= need for each. A quotient that is whole but for rounding noise is not rounded up.
    """
    count = 0
    for need_l, leave_out in demands:
        if need_l <= 0.0:
            continue
        if usable_each_l <= 0.0:
            return None
        quotient = need_l / usable_each_l
        count = max(count, ceil(quotient - RELATIVE_TOLERANCE * max(1.0, quotient)) + leave_out)
    return count


def least_by_search(go: Callable[[float], bool], low: float, high: float, *, fine: float) -> float | None:
    """The least value between two for which `go` holds, by halving to within `fine`, from above.

    None where it does not hold at `high`; `go` must not fail above a value at which it holds.
    """
    if not go(high):
        return None
    if go(low):
        return low
    while high - low > fine:
        middle = (low + high) / 2.0
        if go(middle):
            high = middle
        else:
            low = middle
    return high
