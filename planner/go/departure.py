"""The gauges to depart with, safe together, and the gauge that would mend a no-go.

The usable litres of all cylinders are lowered by the same share until the supply no longer passes (`planner.go.judge`).
Departing with every cylinder at or above its figure is then go. Where outlets matter, or no-change stretches the order
of use, that is proven at exactly these gauges, at the same rounded up as a gauge shows them, and with each cylinder
alone back at its reading; where the proof fails the readings themselves are the figures.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from math import ceil, fsum

from planner.cylinders.halving import least_by_search
from planner.cylinders.onhand import OnHand, at_gauges
from planner.figures import gauge_step_up_kpa
from planner.go.judge import Task, nothing_usable, passes, withstands
from planner.go.sizing import without_largest
from planner.go.worked import Worked

_Go = Callable[[Sequence[float]], bool]

_FINE_SHARE = 2.0**-14
"""To which the share is searched: below a fifth of a psi in any cylinder."""

_FINE_KPA = 1.0
"""To which a single gauge is searched: far below what any gauge shows."""


def start_at_least_kpa(one: Worked) -> list[float | None]:
    """The least readings with which to depart, one for each cylinder, as indicated, kPa gauge; safe together.

    None throughout where the supply does not pass as it is, and for a stated amount. A cylinder with nothing usable,
    and one of which nothing is asked, need not read more than it does.
    """
    task, stock = one.task, one.stock
    if stock is None:
        return []
    readings = [cylinder.gauge_kpa for cylinder in stock.supply.cylinders]
    if not stock.helds or not one.passes:
        return [None] * len(stock.each)
    high = task.reads_high
    if high is not None and high not in task.must_hold and withstands(task, high, stock):
        task = replace(task, must_hold=(*task.must_hold, high))
    litres_alone = task.asks_for_litres_alone(stock)

    def go(gauges: Sequence[float]) -> bool:
        return passes(task, at_gauges(stock, task.policy, gauges))

    def lowered(share: float) -> list[float]:
        return _lowered(task, stock, share)

    found = readings
    if litres_alone:  # sums tell the share with little work, but for gauges that read high
        found = lowered(_share_by_litres(task, stock.usable_l))
    if not (litres_alone and go(found)):
        found = lowered(_least_share(lambda share: go(lowered(share))))
    safe = litres_alone or found == readings or _proven(task, found, readings, go)
    return list(found if safe and not nothing_usable(task, at_gauges(stock, task.policy, found)) else readings)


def start_at_least_l(one: Worked) -> float | None:
    """The least litres with which a stated amount still passes; None where it does not, and for what has gauges."""
    stock = one.stock
    if stock is None or stock.helds or not one.passes:
        return None

    def go(share: float) -> bool:
        less = [
            tuple(one._replace(usable_l=share * one.usable_l) for one in held) for held in (stock.each, stock.tanks)
        ]
        return passes(one.task, stock._replace(each=less[0], tanks=less[1]))

    return _least_share(go) * fsum(stock.usable_l)


def _least_share(go: Callable[[float], bool]) -> float:
    share = least_by_search(go, 0.0, 1.0, fine=_FINE_SHARE)
    return 1.0 if share is None else share


def _share_by_litres(task: Task, usable_l: Sequence[float]) -> float:
    """The share of all litres that covers all that is asked, up to the next step of a search."""
    share = 0.0
    for need in task.litre_needs:
        least_l, have_l = need.need_l - need.noise_l, without_largest(usable_l, need.leave_out)
        if not need.reads_high and least_l > 0.0:
            share = max(share, least_l / have_l if have_l > least_l else 1.0)
    return ceil(share / _FINE_SHARE) * _FINE_SHARE


def _lowered(task: Task, stock: OnHand, share: float) -> list[float]:
    """The gauges at which every cylinder has the same share of its usable litres; never above the readings."""
    floor = task.policy.change_over_at_kpa
    if stock.together is not None:
        gauge = stock.together.gauge_for(share * stock.tanks[0].usable_l, floor)
        readings = [cylinder.gauge_kpa for cylinder in stock.supply.cylinders]
        return readings if gauge is None else [min(gauge, reading) for reading in readings]
    gauges = []
    for cylinder, held, tank in zip(stock.supply.cylinders, stock.helds, stock.each, strict=True):
        gauge = held.gauge_for(share * tank.usable_l, floor) if tank.usable_l > 0.0 else None
        gauges.append(cylinder.gauge_kpa if gauge is None else min(gauge, cylinder.gauge_kpa))
    return gauges


def _proven(task: Task, found: Sequence[float], readings: Sequence[float], go: _Go) -> bool:
    unit = task.policy.pressure_unit
    shown = [min(gauge_step_up_kpa(gauge, unit), reading) for gauge, reading in zip(found, readings, strict=True)]
    alone_back = (
        [*found[:index], reading, *found[index + 1 :]]
        for index, reading in enumerate(readings)
        if reading > found[index] and task.supply.kind != "manifold"
    )
    return go(found) and go(shown) and all(go(gauges) for gauges in alone_back)


def mending_gauges_kpa(task: Task, stock: OnHand) -> list[float | None]:
    """For a supply that does not pass, the least reading of each cylinder alone with which it would; None where none.

    As indicated, kPa gauge, up to the filling pressure; the other cylinders as they are. On a manifold one gauge stands
    for all.
    """
    found: list[float | None] = []
    for index, (cylinder, held) in enumerate(zip(stock.supply.cylinders, stock.helds, strict=False)):
        if cylinder.gas != stock.supply.gas:
            found.append(None)
            continue
        together = stock.together is not None

        def go(gauge_kpa: float, index: int = index, together: bool = together) -> bool:
            gauges = [
                gauge_kpa if together or other == index else each.gauge_kpa
                for other, each in enumerate(stock.supply.cylinders)
            ]
            again = at_gauges(stock, task.policy, gauges)
            return passes(task, again)

        low, high = cylinder.gauge_kpa, max(cylinder.gauge_kpa, held.filling_gauge_kpa)
        found.append(least_by_search(go, low, high, fine=_FINE_KPA))
    return found
