"""Need with its reserve, and whether litres cover it: the only place that adds reserve.

    planned  = sum of demand x time, delays included
    reserve  = max((reserve_factor - 1) x planned, reserve_time x peak flow)
    required = planned + reserve

Each layer is one line of `_layers`, of the sheet and of the result. Where nothing is planned to be drawn, the reserve
is what a patient who gets worse would draw. A supply of air has the layer of the factor alone (`layers`): what a blend
does without its air is the what-if `air_lost`.

A `GroupNeed` is one condition on the cylinders of a supply: after the `leave_out` largest are left out, so many litres
must be usable among those whose outlets carry the legs in question.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import reduce
from itertools import combinations
from math import ceil, fsum
from typing import NamedTuple

from planner.constants import NOISE
from planner.cylinders.depletion import Tank, serving_of
from planner.flow.flows import Flow, Segment, litres, peak_l_per_min
from planner.flow.outlets import Asks, Serving
from planner.model import Policy, Supply
from planner.results import Layer, Need

_MOST_SETS = 6


def need_of(flow: Flow, policy: Policy, *, pipeline: bool = False, rise_l: float = 0.0) -> Need:
    """Need of a flow by a policy. A pipeline has no reserve. `rise_l`: what a patient who gets worse would draw."""
    if pipeline:
        return Need(litres(flow), (), 0.0, peak_l_per_min(flow))
    return _need(litres(flow), peak_l_per_min(flow), policy, rise_l)


def _need(planned_l: float, peak: float, policy: Policy, rise_l: float = 0.0) -> Need:
    layers = tuple(_layers(planned_l, peak, policy, rise_l))
    largest = max([layer.litres for layer in layers if not layer.on_top])
    return Need(planned_l, layers, largest + fsum([layer.litres for layer in layers if layer.on_top]), peak)


def _layers(planned_l: float, peak: float, policy: Policy, rise_l: float) -> Iterator[Layer]:
    by_factor, by_time = (policy.reserve_factor - 1.0) * planned_l, time_reserve_l(peak, policy)
    yield Layer("factor", "Reserve by factor", by_factor, "(reserve_factor - 1) x planned", "reserve_factor")
    yield Layer("time", "Reserve by time", by_time, "reserve_time x peak flow", "reserve_time")
    if planned_l <= 0.0 < rise_l:
        yield Layer("rise", "Reserve by rise", rise_l, "what a patient who gets worse would draw", "rise_for")


def time_reserve_l(flow_l_per_min: float, policy: Policy) -> float:
    """The reserve by time at a flow, litres."""
    return policy.reserve_time_min * flow_l_per_min


def time_reserve(leg: int, flow_l_per_min: float, asks: Asks, policy: Policy) -> Segment:
    """The reserve by time at a flow, as that flow: from minute 0 on."""
    return Segment(0.0, policy.reserve_time_min, leg, flow_l_per_min, asks)


def reserve_begins_min(out_min: float, policy: Policy) -> float:
    """When the reserve by time begins to be spent, where oxygen runs out at a minute."""
    return out_min - policy.reserve_time_min


def minutes_less(short_l: float, flow_l_per_min: float, need: Need, policy: Policy) -> float | None:
    """Minutes less at a flow that would make up for litres that are short; None where the reserve by time stands."""
    if need.factor_reserve_l < need.time_reserve_l or flow_l_per_min <= 0.0:
        return None
    return short_l / (policy.reserve_factor * flow_l_per_min)


def with_less_reserve(policy: Policy, flow: Flow, less_l: float) -> Policy:
    """The policy with a reserve lower by so many litres of that of a flow, never below none.

    Both layers of the reserve shrink by one share, so that the greater of them, which counts, loses just those litres
    and no group of legs more than that.
    """
    reserve_l = need_of(flow, policy).reserve_l
    if reserve_l <= 0.0:
        return policy
    share = max(0.0, 1.0 - less_l / reserve_l)
    return policy._replace(
        reserve_factor=1.0 + (policy.reserve_factor - 1.0) * share, reserve_time_min=policy.reserve_time_min * share
    )


class GroupNeed(NamedTuple):
    """At least `need_l` litres from the tanks numbered `tanks`, without the `leave_out` largest of these."""

    need_l: float
    leave_out: int
    tanks: frozenset[int]


def layers(supply: Supply, policy: Policy) -> Policy:
    """The policy with the layers that it asks of a supply: of air neither reserve time nor spare."""
    if supply.gas == "oxygen":
        return policy
    return policy._replace(reserve_time_min=0.0, spare_cylinders=0)


def spares(supply: Supply, policy: Policy) -> int:
    """Cylinders to leave out as spare: the policy's number on portable cylinders of oxygen, none elsewhere."""
    if not supply.portable or supply.kind == "litres" or supply.gas != "oxygen":
        return 0
    return policy.spare_cylinders


def without_largest(usable_l: Sequence[float], leave_out: int) -> float:
    """Sum of litres without the `leave_out` largest."""
    return fsum(sorted(usable_l, reverse=True)[leave_out:]) if leave_out else fsum(usable_l)


def noise_l(litres: float) -> float:
    """How much less than so many litres still counts as these."""
    return NOISE * max(1.0, litres)


def enough(have_l: float, need_l: float) -> bool:
    """True where litres cover a need, but for rounding noise."""
    return have_l >= need_l - noise_l(need_l)


def meets(need: GroupNeed, usable_l: Sequence[float]) -> bool:
    """True where the tanks cover a need."""
    return enough(without_largest([usable_l[tank] for tank in need.tanks], need.leave_out), need.need_l)


def carriers(tanks: Sequence[Tank], flow: Flow, serving: Serving | None = None) -> list[frozenset[int]]:
    """For each segment of a flow, the numbers of the tanks whose outlets carry it; `serving` where it is known."""
    serving = serving_of(tanks) if serving is None else serving
    by_asks = {
        asks: frozenset([tank for tank, serves in enumerate(serving.of(asks)) if serves])
        for asks in {segment.asks for segment in flow}
    }
    return [by_asks[segment.asks] for segment in flow]


def group_needs(
    tanks: Sequence[Tank],
    flow: Flow,
    policy: Policy,
    leave_out: int,
    *,
    carried_by: Sequence[frozenset[int]] | None = None,
) -> list[GroupNeed]:
    """What a flow and its reserve ask of tanks, leg by leg where their outlets differ.

    Where every tank carries every leg this is one need, `required`. Otherwise each group of legs that the same tanks
    carry, and each union of such groups, must be covered by the tanks that carry some of it (the marriage condition
    for a transport of litres to legs); of many groups, only single ones and the whole are asked.
    """
    carried_by = carriers(tanks, flow) if carried_by is None else carried_by
    if len(groups := set(carried_by)) == 1:
        return [GroupNeed(need_of(flow, policy).required_l, leave_out, *groups)]
    return Ahead(flow, carried_by).needs(0, policy, leave_out)


class _Group(NamedTuple):
    """Legs that the same tanks carry: the litres of each, and the highest flow."""

    litres: tuple[float, ...] = ()
    peak_l_per_min: float = 0.0

    def and_more(self, litres: tuple[float, ...], flow_l_per_min: float) -> _Group:
        """The same with a segment, or with the litres and highest flow of another group."""
        return _Group(litres + self.litres, max(self.peak_l_per_min, flow_l_per_min))


class Ahead:
    """A flow and the tanks that carry each segment, summed up once so that the rest of it asks little work anywhere."""

    def __init__(self, flow: Flow, carried_by: Sequence[frozenset[int]]) -> None:
        groups: dict[frozenset[int], _Group] = {}
        from_the_end = [groups]
        for segment, tanks in zip(reversed(flow), reversed(carried_by), strict=True):
            here = groups.get(tanks, _Group()).and_more((segment.litres,), segment.flow_l_per_min)
            groups = {tanks: here, **{other: group for other, group in groups.items() if other != tanks}}
            from_the_end.append(groups)
        self._from = from_the_end[::-1]

    def needs(self, number: int, policy: Policy, leave_out: int) -> list[GroupNeed]:
        """`group_needs` of the flow from a segment on."""
        groups = self._from[number]
        found = []
        for chosen in _unions(list(groups)):
            together = reduce(lambda group, tanks: group.and_more(*groups[tanks]), chosen, _Group())
            need = _need(fsum(together.litres), together.peak_l_per_min, policy)
            tanks = chosen[0].union(*chosen[1:])
            found.append(GroupNeed(need.required_l, leave_out, tanks))
        return found


def _unions(sets: Sequence[frozenset[int]]) -> Iterator[tuple[frozenset[int], ...]]:
    sizes = range(1, len(sets) + 1) if len(sets) <= _MOST_SETS else sorted({1, len(sets)})
    for size in sizes:
        yield from combinations(sets, size)


def least_litres(need: GroupNeed, usable_l: Sequence[float], tank: int) -> float | None:
    """The least usable litres of one tank, the others as they are, that meet the need of a group; None where none do.

    With s tanks left out and the others sorted o1 >= o2 >= ..., a tank with x <= o_s counts whole: it must make up
    what o_(s+1), o_(s+2), ... lack. Beyond o_s it would itself be one of those left out, so more does not help.
    """
    if tank not in need.tanks:
        return 0.0 if meets(need, usable_l) else None
    others = sorted((usable_l[other] for other in need.tanks if other != tank), reverse=True)
    last = others[need.leave_out - 1] if 0 < need.leave_out <= len(others) else None
    lacking = need.need_l - fsum(others[need.leave_out :])
    if lacking <= noise_l(need.need_l):
        return 0.0
    if need.leave_out == 0:
        return lacking
    return None if last is None or lacking > last else lacking


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
        count = max(count, ceil(quotient - NOISE * max(1.0, quotient)) + leave_out)
    return count
