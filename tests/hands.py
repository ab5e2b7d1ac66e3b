"""What hands do on a printed change list, followed line by line, apart from the code that writes it.

Known at departure: on which cylinders a regulator sits (the printed line on regulators), which sources the devices of
the first leg breathe from. A line that asks for what is not there, leaves a patient without gas without saying so, or
takes a regulator off an open valve is a fault. Each leg then has to find every device on its own supply, on the
cylinder that the plan has in use, and nothing else open.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import permutations

from planner.flow.devices import air_l_per_min, demand_l_per_min, outlet_kind
from planner.model import Leg, Outlet
from planner.report.checklist.data import ChangeList, ChecklistItem, Side
from planner.report.checklist.facts import trip_facts
from planner.results import Plan
from planner.trade.valves import valve_of

At = tuple[str, str | None]
"""A supply, and the cylinder of it where they are used one after another."""
OPENS = ("valve", "every_valve", "contents", "wall")


def printed_regulators(plan: Plan) -> dict[str, set[str]]:
    """On which cylinders a regulator sits at departure, by the words that are printed; all where no supply is named."""
    line = trip_facts(plan).texts["regulators"]
    told = dict(part.split(": ", 1) for part in line.split("; ")) if line else {}
    found = {}
    for name, supply in plan.supplies.items():
        labels = [one.cylinder.label for one in supply.cylinders]
        where = told.get(name, "")
        shared = re.match(r"\d+ regulators? on (?:cylinders? )?(.*)", where)
        built_in = {one.cylinder.label for one in supply.cylinders if valve_of(one.cylinder) == "integral"}
        found[name] = {*shared.group(1).split(", "), *built_in} if shared else set(labels)
    return found


def tubes(leg: Leg) -> list[tuple[str, str]]:
    """Every device with the supply of its oxygen, and `NAME air` with that of its air."""
    found = [(use.device.name, use.supply) for use in leg.uses]
    return found + [(f"{use.device.name} air", use.device.air_supply) for use in leg.uses if use.device.air_supply]


def _takes(outlet: Outlet, wanted: tuple[str, float]) -> bool:
    kind, flow = wanted
    limit = outlet.limit_l_per_min
    return outlet.kind == kind and (kind == "high_pressure" or limit is None or flow <= limit + 1e-9)


class Hands:
    """The state between two lines. `faults` says what could not be done, or what left a patient without gas."""

    def __init__(self, plan: Plan, regulators: dict[str, set[str]] | None = None) -> None:
        self.plan = plan
        self.legs = plan.trip.legs
        self.regulators = printed_regulators(plan) if regulators is None else regulators
        self.faults: list[str] = []
        self.open: set[At] = set()
        self.on: dict[str, At] = {}
        self.bagged: dict[str, At] = {}
        self.off: set[str] = set()
        self.expects_no_gas = False
        self.leg = -1
        self._begin(0)

    def follow(self, changes: Sequence[ChangeList]) -> list[str]:
        """Every change in the order in which it is printed, and every leg between; returns the faults."""
        for change in changes:
            told = re.match(r"(before|in) leg (\d+)", change.leg)
            assert told is not None
            due = int(told.group(2)) - (2 if told.group(1) == "before" else 1)
            if due < self.leg:
                self._fault(change, f"comes after leg {self.leg + 1} has begun")
            while self.leg < due:
                self._begin(self.leg + 1)
            self._do(change)
        while self.leg < len(self.legs) - 1:
            self._begin(self.leg + 1)
        return self.faults

    # Legs

    def _begin(self, index: int) -> None:
        """A leg begins: its devices are where the plan has them, and nothing is open that it does not draw on."""
        leg, first = self.legs[index], index == 0
        self.leg = index
        now: dict[str, At] = {}
        for name, supply in tubes(leg):
            planned = self._planned(supply, index)
            at = self.on.get(name, planned)
            if first:
                self.open.add(planned)
                if planned[1] is not None and planned[1] not in self.regulators[supply]:
                    self.faults.append(f"leg 1: no regulator on {planned[1]}")
            if at != planned:
                self.faults.append(f"leg {index + 1}: {name} is on {at}, the plan has it on {planned}")
            if at not in self.open:
                self.faults.append(f"leg {index + 1}: {name} is on {at}, which is shut")
            now[name] = at
        self.on = now
        idle = {at for at in self.open if at[0] not in {supply for _, supply in tubes(leg)}}
        self.faults += [f"leg {index + 1}: {at} is left open" for at in sorted(idle, key=str)]

    def _planned(self, supply: str, index: int) -> At:
        """What the order of use has in use on a supply as a leg begins."""
        planned = self.plan.supplies[supply]
        if planned.supply.kind != "cylinders":
            return (supply, None)
        minute = sum(leg.total_min for leg in self.legs[:index])
        held = (turn.cylinder for turn in planned.order if turn.from_min - 1e-6 <= minute < turn.to_min - 1e-6)
        return (supply, next(held, None))

    # Lines

    def _do(self, change: ChangeList) -> None:
        self.expects_no_gas = False
        for item in change.items:
            if change.kind == "source":
                self._source(change, item)
            else:
                self._cylinder(change, item)
            if not (change.kind == "cylinder" and self._taking_over(change, item)):
                self._nobody_without_gas(change, item)
        if self.bagged:
            self._fault(change, "somebody still breathes from the bag")

    def _fault(self, change: ChangeList, text: str) -> None:
        self.faults.append(f"change {change.number}: {text}")

    def _at(self, side: Side | None) -> At:
        assert side is not None
        supply = side.supply or side.name
        return (supply, side.name if self.plan.supplies[supply].supply.kind == "cylinders" and side.supply else None)

    def _open(self, change: ChangeList, at: At) -> None:
        supply, label = at
        if label is not None and label not in self.regulators[supply]:
            self._fault(change, f"the regulator is not on {label} yet")
        self.open.add(at)

    def _source(self, change: ChangeList, item: ChecklistItem) -> None:
        if item.key in OPENS:
            self._open(change, self._at(change.new))
        elif item.key == "valve_open" and self._at(change.new) not in self.open:
            self._fault(change, f"{self._at(change.new)} is not open")
        elif item.key == "move":
            at = self._at(change.new)
            if at not in self.open:
                self._fault(change, f"moved to {at}, which is shut")
            moved = self._named(item.ask)
            self.off -= set(moved)
            self._finds_outlets(change, at, moved)
            patients = {patient for name, patient in self._patients().items() if name in moved}
            self.on = {name: at for name, at in self.on.items() if not self._ends(name, patients)}
            self.on |= dict.fromkeys(moved, at)
        elif item.key == "shut":
            self.open.discard(self._at(change.old))
        elif item.key == "release":
            self.off |= {*item.ask.split(", ")}
            self.on = {name: where for name, where in self.on.items() if name not in self.off}
            said = any("NO OXYGEN" in note for note in change.notes)
            if not said or not any(finding.code == "no_gas_at_change" for finding in self.plan.findings):
                self._fault(change, f"{item.ask} without gas, and nobody said so")

    def _finds_outlets(self, change: ChangeList, at: At, moved: Sequence[str]) -> None:
        """Every device that moves finds an outlet which nothing else holds: each way to connect them is tried.

        What goes on holds one until it leaves. What ends holds one until its patient has moved, or gives it to what
        that patient goes on with on the same supply.
        """
        coming, patients = dict(tubes(self._next())), self._patients()
        here = [name for name, where in self.on.items() if where == at and name not in moved]
        ended = [name for name in here if name not in coming]
        wanted = [self._asked(name, self._next()) for name in {*moved, *here} - {*ended}]
        for name in ended:
            after = [other for other in coming if other not in self.on and patients.get(other) == patients.get(name)]
            if after and not {*after} & {*moved}:
                stays = [other for other in after if coming[other] == at[0]]
                wanted.append(self._asked(stays[0], self._next()) if stays else self._asked(name, self.legs[self.leg]))
        if not self._connects(at, wanted):
            self._fault(change, f"no outlet is free on {at} for {', '.join(moved)} beside {', '.join(here)}")

    def _asked(self, name: str, leg: Leg) -> tuple[str, float]:
        """Kind of outlet and flow of a device in a leg, or of the air of one."""
        device = next(use.device for use in leg.uses if use.device.name == name.removesuffix(" air"))
        flow = demand_l_per_min(device) if name == device.name else air_l_per_min(device)
        return (outlet_kind(device), flow)

    def _connects(self, at: At, asked: Sequence[tuple[str, float]]) -> bool:
        supply = self.plan.supplies[at[0]].supply
        cylinder = next((one for one in supply.cylinders if one.label == at[1]), None)
        outlets = supply.outlets if cylinder is None else supply.outlets_of(cylinder)
        if supply.kind == "manifold" and outlets is None:
            stated = tuple(outlet for one in supply.cylinders for outlet in one.outlets or ())
            outlets = stated or supply.outlets_of(supply.cylinders[0])
        if outlets is None:
            return True
        wanted = [each for each in asked if each[1] > 0.0]
        return any(all(map(_takes, way, wanted)) for way in permutations(outlets, len(wanted)))

    def _patients(self) -> dict[str, str | None]:
        """Whose each device is."""
        return {use.device.name: use.device.patient for leg in self.legs for use in leg.uses}

    def _ends(self, name: str, patients: set[str | None]) -> bool:
        """True for a device that the next leg does not use, of a patient who goes on by another."""
        mine = self._patients().get(name.removesuffix(" air"))
        return mine in patients and name not in dict(tubes(self._next()))

    def _named(self, text: str) -> list[str]:
        return [part.rsplit(" (", 1)[0] for part in text.split(", ")]

    def _taking_over(self, change: ChangeList, item: ChecklistItem) -> bool:
        """True within the one act of taking the regulator off and opening the next."""
        keys = [each.key for each in change.items]
        return "old" in keys and keys.index("old") <= keys.index(item.key) < keys.index("open")

    def _cylinder(self, change: ChangeList, item: ChecklistItem) -> None:
        old, new = self._at(change.old), self._at(change.new)
        on = [name for name, at in self.on.items() if at == old]
        if item.key in ("bridge_open", "bridge", "back", "bridge_shut"):
            self._bridge(change, item, on)
        elif item.key in ("regulator", "open", "gauge", "hose"):
            self._goes_on(change, item.key, new, on)
        elif item.key in ("old", "old_last"):
            if item.key == "old" and on and not self.bagged and not self.expects_no_gas:
                self._fault(change, f"{', '.join(on)} without gas, and nobody said so")
            self.open.discard(old)
        elif item.key in ("bare", "meanwhile"):
            self.expects_no_gas = True
        elif item.key == "ready":
            off = item.ask.removeprefix("Regulator of ").removeprefix("cylinder ")
            onto = item.answer.split(",")[0].removeprefix("onto ").removeprefix("cylinder ")
            self._carry(change, (new[0], off), (new[0], onto))
        elif item.key == "not_yet":
            self.open.discard(new)

    def _bridge(self, change: ChangeList, item: ChecklistItem, on: list[str]) -> None:
        """A resuscitator on another source, while nothing comes from this one."""
        if item.key == "bridge_open":
            self._open(change, self._other(item.ask))
        elif item.key == "bridge":
            other = self._other(item.answer.rsplit(" on ", 1)[1])
            if other not in self.open:
                self._fault(change, f"a bag on {other}, which is shut")
            there = [self._asked(name, self.legs[self.leg]) for name, at in self.on.items() if at == other]
            bags = [("flowmeter", 15.0)] * len({self._patients()[name] for name in on})
            if not self._connects(other, [*there, *bags]):
                self._fault(change, f"no flowmeter is free on {other} for a bag")
            self.bagged = dict.fromkeys(on, other)
        elif item.key == "back":
            self.bagged = {}
        else:
            self.open.discard(self._other(item.ask))

    def _goes_on(self, change: ChangeList, key: str, new: At, on: list[str]) -> None:
        if key == "regulator":
            self._carry(change, self._at(change.old), new)
        elif key == "open":
            self._open(change, new)
        elif key == "gauge" and new not in self.open:
            self._fault(change, f"the gauge of {new} is read with the valve shut")
        if key in ("regulator", "hose"):
            self.on |= dict.fromkeys(on, new)

    def _carry(self, change: ChangeList, off: At, onto: At) -> None:
        """A regulator goes from one cylinder to another."""
        if off in self.open:
            self._fault(change, f"the regulator comes off {off}, which is open")
        if off[1] not in self.regulators[off[0]]:
            self._fault(change, f"no regulator sits on {off}")
        self.regulators[off[0]] = {*self.regulators[off[0]], onto[1] or ""} - {off[1] or ""}

    def _other(self, text: str) -> At:
        supply, _, label = text.partition(", ")
        return (supply, label.removeprefix("cylinder ") or None)

    def _nobody_without_gas(self, change: ChangeList, item: ChecklistItem) -> None:
        """Every patient breathes from something open, by whatever device is at work in this leg or the next."""
        coming, patients = dict(tubes(self._next())), self._patients()
        fed = {patients[name] for name, at in self.on.items() if name in patients and at in self.open}
        fed |= {patients[name] for name, at in self.bagged.items() if at in self.open}
        fed |= {patients[name] for name in self.off if name in patients}  # said, and waiting for its own change
        for name, at in self.on.items():
            shut = at not in self.open and name in coming and name not in self.bagged
            if shut or (name in patients and patients[name] not in fed):
                self._fault(change, f"{name} has no gas after `{item.ask}: {item.answer}`")

    def _next(self) -> Leg:
        return self.legs[min(self.leg + 1, len(self.legs) - 1)]
