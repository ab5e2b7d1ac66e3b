"""How many regulators a supply has, and on which of its cylinders they sit as it goes on."""

from __future__ import annotations

from collections.abc import Iterator

from planner.cylinders.onhand import manifold_outlets
from planner.model import Outlet, Supply
from planner.results import Act, Source, SupplyPlan
from planner.trade.valves import valve_of


def shares_regulators(supply: Supply) -> bool:
    """True where a supply has fewer regulators than cylinders that need one."""
    return supply.regulators is not None and supply.regulators < len(needing_regulators(supply))


def needing_regulators(supply: Supply) -> tuple[str, ...]:
    """Labels of the cylinders used one after another whose valves have no regulator built in."""
    if supply.kind != "cylinders":
        return ()
    return tuple(one.label for one in supply.cylinders if valve_of(one) != "integral")


def regulators_on(planned: SupplyPlan) -> tuple[str, ...]:
    """Labels of the cylinders on which a regulator sits at departure, in the order of the supply."""
    fitted = Rack(planned).fitted
    return tuple(label for label in needing_regulators(planned.supply) if label in fitted)


class Rack:
    """The cylinders of one supply: which is in use, which have a regulator on."""

    def __init__(self, planned: SupplyPlan) -> None:
        self.supply = planned.supply
        self.planned = planned
        changed = planned.change_overs
        turns = [turn.cylinder for turn in planned.order if turn.to_min > turn.from_min]
        used = [changed[0].from_cylinder, *(change.to_cylinder for change in changed)] if changed else turns
        waiting = [one.cylinder.label for one in planned.unused if one.usable_l > 0.0]
        self._to_come = [*used, *waiting] if planned.supply.kind == "cylinders" else []
        self._need = needing_regulators(self.supply)
        self.current: str | None = self._to_come[0] if self._to_come else None
        self.fitted = {one.label for one in self.supply.cylinders} - set(self._need)
        self.fitted |= set(self._wanted() if shares_regulators(self.supply) else self._need)

    @property
    def source(self) -> Source:
        """What is drawn on, or would be."""
        return Source(self.supply.name, self.current)

    def _wanted(self) -> list[str]:
        """The cylinders that a regulator should sit on: the one in use and the next to come."""
        coming = [label for label in dict.fromkeys(self._to_come) if label in self._need]
        return coming[: self.supply.regulators]

    def next(self) -> None:
        """The next cylinder is the one in use."""
        self._to_come.pop(0)
        self.current = self._to_come[0]

    def ready(self) -> Iterator[Act]:
        """A regulator that is free goes on the next cylinder that has none."""
        if not shares_regulators(self.supply):
            return
        wanted = self._wanted()
        free = [label for label in self._need if label in self.fitted and label not in wanted]
        for label in wanted:
            if label not in self.fitted and free:
                off = free.pop(0)
                self.fitted = {*self.fitted, label} - {off}
                yield Act("ready", Source(self.supply.name, label), off=off)

    def outlets(self) -> tuple[tuple[Outlet, ...] | None, bool]:
        """Outlets of what is in use, None where nothing limits them, and whether it may go into a magnet room."""
        held = self.supply.cylinders
        if self.supply.kind == "manifold":
            return manifold_outlets(self.supply), all(one.magnet_safe for one in held)
        item = next((one for one in held if one.label == self.current), None)
        if item is None:
            return self.supply.outlets, self.supply.kind == "pipeline"
        return self.supply.outlets_of(item), item.magnet_safe
