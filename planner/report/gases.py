"""A plan as it is printed: air is told apart from oxygen in words, wherever a cylinder or a size of it is named.

`AIR` stands before the label of each cylinder of air, and before its size. Paper and screen alone say so: results for
other programs, and the readings that the crew writes, keep the labels of the profile.
"""

from __future__ import annotations

from collections.abc import Mapping, Set

from planner.model import Supply
from planner.naming import labelled
from planner.results import ChangeOver, Checkpoint, CylinderPlan, FullCount, HandsOn, Plan, Source, SupplyPlan


def has_air(plan: Plan) -> bool:
    """True where a supply of the trip holds air."""
    return any(supply.gas == "air" for supply in plan.trip.supplies.values())


def for_paper(plan: Plan) -> Plan:
    """The plan with the cylinders of its supplies of air named as such; the same plan where it has none."""
    if not has_air(plan):
        return plan
    supplies = {name: _supply(one) for name, one in plan.supplies.items()}
    trip = plan.trip._replace(supplies={name: _trip_supply(supply) for name, supply in plan.trip.supplies.items()})
    airs = frozenset(name for name, supply in plan.trip.supplies.items() if supply.gas == "air")
    return plan._replace(
        trip=trip,
        supplies=supplies,
        checkpoints=tuple(_read(one, airs) for one in plan.checkpoints),
        between=tuple(each._replace(check=_read(each.check, airs)) for each in plan.between),
        changes=tuple(_hands(one, airs) for one in plan.changes),
    )


def _read(one: Checkpoint, airs: Set[str]) -> Checkpoint:
    return one._replace(cylinder=_marked(one.cylinder)) if one.supply in airs else one


def _hands(one: HandsOn, airs: Set[str]) -> HandsOn:
    """A change with its cylinders of air named as such, in each act."""
    acts = tuple(
        act._replace(at=_source(act.at, airs), off=act.off if act.at.supply not in airs else _marked(act.off))
        for act in one.acts
    )
    old, new = (None if each is None else _source(each, airs) for each in (one.old, one.new))
    named = one.new or one.old
    change = one.change if named is None or named.supply not in airs or one.change is None else _over(one.change)
    return one._replace(acts=acts, old=old, new=new, change=change)


def _source(source: Source, airs: Set[str]) -> Source:
    return source._replace(cylinder=_marked(source.cylinder)) if source.supply in airs else source


def _marked(label: str | None) -> str | None:
    return None if label is None else labelled(label, "air")


def _over(change: ChangeOver) -> ChangeOver:
    return change._replace(
        from_cylinder=labelled(change.from_cylinder, "air"), to_cylinder=labelled(change.to_cylinder, "air")
    )


def as_written(plan: Plan) -> Mapping[tuple[str, str], str]:
    """The label of the profile by supply and label as printed; of a manifold that of all its cylinders together."""
    found = {}
    for name, supply in plan.trip.supplies.items():
        if supply.gas == "air":
            labels = [one.label for one in (*supply.cylinders, *(supply.store or ()))]
            labels += ["+".join(one.label for one in supply.cylinders)] if supply.kind == "manifold" else []
            found.update({(name, labelled(label, "air")): label for label in labels})
    return found


def _trip_supply(supply: Supply) -> Supply:
    if supply.gas == "oxygen":
        return supply
    return supply._replace(cylinders=tuple(one._replace(label=labelled(one.label, "air")) for one in supply.cylinders))


def _supply(one: SupplyPlan) -> SupplyPlan:
    if one.supply.gas == "oxygen":
        return one
    return one._replace(
        supply=_trip_supply(one.supply),
        cylinders=tuple(_cylinder(item) for item in one.cylinders),
        full_cylinders=tuple(
            FullCount(labelled(full.size, "air"), full.usable_each_l, full.count, full.mass_kg)
            for full in one.full_cylinders
        ),
        order=tuple(turn._replace(cylinder=labelled(turn.cylinder, "air")) for turn in one.order),
        change_overs=tuple(_over(change) for change in one.change_overs),
        waiting=tuple(labelled(label, "air") for label in one.waiting),
    )


def _cylinder(item: CylinderPlan) -> CylinderPlan:
    return item._replace(cylinder=item.cylinder._replace(label=labelled(item.cylinder.label, "air")))
