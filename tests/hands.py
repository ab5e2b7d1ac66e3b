"""What hands do on a change list, followed apart from the code that writes it: regulator, valve, breathing source.

The worst equipment is taken: each supply has one regulator, which sits on its first cylinder at departure. A cylinder
gives gas only through the regulator, with its valve open. Taking the regulator off one cylinder and opening the next is
one act, during which nothing comes from that supply.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.report.checklist.data import Change
from planner.results import Plan

ALWAYS_OPEN = ("litres", "pipeline", "manifold")


class Hands:
    """The state between two acts. `faults` says what could not be done, or what left a patient without gas."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.regulator_on = {name: supply.order[0].cylinder for name, supply in plan.supplies.items() if supply.order}
        self.breathes_from = {use.device.name: use.supply for use in plan.trip.legs[0].uses}
        self.open = set(self.breathes_from.values())
        self.faults: list[str] = []

    def follow(self, changes: Sequence[Change]) -> list[str]:
        """Every change in the order in which it is printed; returns the faults."""
        for change in changes:
            for key in [item.key for item in change.items]:
                if change.kind == "source":
                    self._source(change, key)
                else:
                    self._cylinder(change, key)
            self._nobody_without_gas(f"after change {change.number}")
        return self.faults

    def _kind(self, supply: str) -> str:
        return self.plan.supplies[supply].supply.kind

    def _source(self, change: Change, key: str) -> None:
        new = change.new.supply or change.new.name
        old = None if change.old is None else change.old.supply or change.old.name
        if key in ("valve", "every_valve", "contents", "wall"):
            if self._kind(new) not in ALWAYS_OPEN and self.regulator_on.get(new, change.new.name) != change.new.name:
                self.faults.append(f"change {change.number}: the regulator is not on {change.new.name} yet")
            self.open.add(new)
        elif key == "move":
            if new not in self.open:
                self.faults.append(f"change {change.number}: moved to {new}, which is shut")
            for device in self._moved(change, old, new):
                self.breathes_from[device] = new
        elif key == "shut" and old is not None:
            self.open.discard(old)
            self._nobody_without_gas(f"change {change.number}, {old} shut")

    def _moved(self, change: Change, old: str | None, new: str) -> Iterator[str]:
        number = int(change.leg.split(":")[0].rsplit(" ", 1)[1])
        for use in self.plan.trip.legs[number - 1].uses:
            if use.supply == new and self.breathes_from.get(use.device.name) in (old, None):
                yield use.device.name
        if old is not None and old not in {use.supply for use in self.plan.trip.legs[number - 1].uses}:
            ended = [name for name, supply in self.breathes_from.items() if supply == old]
            for name in ended:
                if name not in {use.device.name for use in self.plan.trip.legs[number - 1].uses}:
                    del self.breathes_from[name]

    def _cylinder(self, change: Change, key: str) -> None:
        supply = change.new.supply
        feeds = supply in self.breathes_from.values()
        if key == "old":
            if feeds and any("still breathes from" in note for note in change.notes):
                self.faults.append(
                    f"change {change.number}: said to feed nobody, and the patient breathes from {supply}"
                )
            if self.regulator_on[supply] != change.old.name:  # type: ignore[union-attr]
                self.faults.append(f"change {change.number}: the regulator is not on {change.old.name}")  # type: ignore[union-attr]
        elif key in ("open", "open_first"):
            self.regulator_on[supply] = change.new.name

    def _nobody_without_gas(self, when: str) -> None:
        for device, supply in self.breathes_from.items():
            if supply not in self.open:
                self.faults.append(f"{when}: {device} has no gas")
