"""A supply's oxygen or air on hand, as cylinders with litres and as the tanks that the flow runs through."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import fsum
from typing import NamedTuple

from planner.cylinders.depletion import Tank, serving_of
from planner.cylinders.stock import Held, held
from planner.flow.outlets import Serving
from planner.gas import contents
from planner.model import Cylinder, Outlet, Policy, Supply

OXYGEN = "oxygen"


class OnHand(NamedTuple):
    """What a supply has.

    `each` holds the litres of every cylinder on its own (of a stated amount: the one amount). `tanks` is what the flow
    runs through: the same, or all cylinders of a manifold as one; `serving` tells which of them carry what a leg asks
    for. `together` is the manifold taken as one cylinder, None elsewhere; `helds` is empty for a stated amount.
    """

    supply: Supply
    helds: tuple[Held, ...]
    each: tuple[Tank, ...]
    tanks: tuple[Tank, ...]
    serving: Serving
    together: Held | None = None

    @property
    def usable_l(self) -> list[float]:
        """Usable litres of each cylinder, outlets ignored."""
        return [tank.usable_l for tank in self.each]

    def held_of(self, tank: int) -> Held | None:
        """The cylinder (or the manifold as one) behind a tank, None for a stated amount."""
        if self.together is not None:
            return self.together
        return self.helds[tank] if self.helds else None

    def label_of(self, tank: int) -> str | None:
        """Label of the cylinder behind a tank; of a manifold, all labels joined by a plus sign."""
        source = self.held_of(tank)
        return None if source is None else source.label

    def empty(self) -> OnHand:
        """The same with nothing usable."""
        each = tuple(tank._replace(usable_l=0.0) for tank in self.each)
        return self._replace(each=each, tanks=tuple(tank._replace(usable_l=0.0) for tank in self.tanks))

    def largest_of_each_kind(self) -> list[int]:
        """Of the cylinders of each kind the first that has the most usable; the largest of all comes first.

        A kind has the same outlets and goes into the same rooms: where they differ, a smaller cylinder may be the only
        one that carries a leg.
        """
        found: dict[object, int] = {}
        for index in sorted(range(len(self.each)), key=lambda index: -self.each[index].usable_l):
            found.setdefault(self.each[index].kind, index)
        return list(found.values())

    def without(self, index: int) -> OnHand:
        """The same with one cylinder lost."""
        if self.together is not None:
            left = self.tanks[0].usable_l - self.each[index].usable_l
            return self._replace(tanks=(self.tanks[0]._replace(usable_l=max(0.0, left)),))
        lost = self.each[index]._replace(usable_l=0.0)
        each = (*self.each[:index], lost, *self.each[index + 1 :])
        return self._replace(each=each, tanks=each)


Allowance = Callable[[Cylinder], float]
"""By how much the gauge of a cylinder is taken to read too high, kPa."""


def on_hand(supply: Supply, policy: Policy, *, allowance: Allowance | None = None) -> OnHand | None:
    """What a supply has by a policy; None for a pipeline and for cylinders still to be drawn.

    `allowance` replaces the policy's gauge allowance. A cylinder of another gas than its supply counts as empty.
    On a manifold one gauge stands for all cylinders: where their readings differ the lowest is taken.
    """
    if supply.kind in ("pipeline", "sizes"):
        return None
    if supply.kind == "litres":
        stated = Tank(supply.stated_l or 0.0, supply.outlets, magnet_safe=supply.fixed)
        return OnHand(supply, (), (stated,), (stated,), serving_of((stated,)))
    if supply.kind == "manifold":
        return _manifold(supply, policy, allowance)
    helds = tuple(
        held(cylinder, supply, policy, allowance_kpa=None if allowance is None else allowance(cylinder))
        for cylinder in supply.cylinders
    )
    each = tuple(_tank(supply, cylinder, h, h.outlets) for cylinder, h in zip(supply.cylinders, helds, strict=True))
    return OnHand(supply, helds, each, each, serving_of(each))


def at_gauges(stock: OnHand, policy: Policy, gauges_kpa: Sequence[float]) -> OnHand:
    """The same cylinders with other readings, one each, kPa gauge as indicated."""
    pairs = zip(stock.supply.cylinders, gauges_kpa, strict=True)
    cylinders = tuple(cylinder._replace(gauge_kpa=gauge) for cylinder, gauge in pairs)
    return on_hand(stock.supply._replace(cylinders=cylinders), policy) or stock


def _tank(supply: Supply, cylinder: Cylinder, source: Held, outlets: Sequence[Outlet] | None) -> Tank:
    usable = source.usable_l if cylinder.gas == supply.gas else 0.0
    return Tank(usable, None if outlets is None else tuple(outlets), cylinder.magnet_safe)


def _manifold(supply: Supply, policy: Policy, allowance: Allowance | None) -> OnHand:
    gauge = min(cylinder.gauge_kpa for cylinder in supply.cylinders)
    allowance_kpa = None if allowance is None else max(map(allowance, supply.cylinders))
    helds = tuple(
        held(cylinder, supply, policy, allowance_kpa=allowance_kpa, gauge_kpa=gauge) for cylinder in supply.cylinders
    )
    outlets = manifold_outlets(supply)
    each = tuple(_tank(supply, cylinder, h, outlets) for cylinder, h in zip(supply.cylinders, helds, strict=True))
    capacity = fsum(h.water_capacity_l for h in helds)
    warm = max(h.read_degc for h in helds)
    usable = fsum(tank.usable_l for tank in each)
    residual = fsum(h.residual_l for h in helds)
    together = Held(
        label="+".join(h.label for h in helds),
        gauge_kpa=gauge,
        water_capacity_l=capacity,
        filling_gauge_kpa=min(h.filling_gauge_kpa for h in helds),
        read_degc=warm,
        cold_degc=min(h.cold_degc for h in helds),
        allowance_kpa=helds[0].allowance_kpa,
        contents_l=contents.contents_l(max(0.0, gauge - helds[0].allowance_kpa), warm, capacity, supply.gas),
        residual_l=residual,
        outlets=outlets,
        gas=supply.gas,
    )
    safe = all(cylinder.magnet_safe for cylinder in supply.cylinders)
    tanks = (Tank(usable, outlets, safe),)
    return OnHand(supply, helds, each, tanks, serving_of(tanks), together)


def manifold_outlets(supply: Supply) -> tuple[Outlet, ...]:
    """The outlets of a manifold: its own, else all that its cylinders name, else those of one cylinder."""
    if supply.outlets is not None:
        return supply.outlets
    stated = [outlet for cylinder in supply.cylinders for outlet in cylinder.outlets or ()]
    return tuple(stated) if stated else supply.outlets_of(supply.cylinders[0])
