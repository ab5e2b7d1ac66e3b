"""The cylinders that a log names were on board, whatever the store says of them since."""

from __future__ import annotations

from planner.model import Trip
from planner.planning import plan as made
from planner.results import Plan
from planner.text.node import Node


def with_those_on_board(plan: Plan, root: Node) -> Plan:
    """The plan chosen once more with what the log names and the store has put out of use; itself where there is none.

    Each is marked as `on_board`, and stays out of use.
    """
    named = _named(root)
    stores = {
        name: tuple(
            one._replace(on_board=True) if one.out_of_use and one.label in named else one for one in supply.store
        )
        for name, supply in plan.trip.supplies.items()
        if supply.store is not None
    }
    if all(store == plan.trip.supplies[name].store for name, store in stores.items()):
        return plan
    supplies = {
        name: supply._replace(store=stores[name], cylinders=()) if name in stores else supply
        for name, supply in plan.trip.supplies.items()
    }
    return made(plan.trip._replace(supplies=supplies))


def out_since(rest: Trip, now: Trip) -> Trip:
    """The rest of an older print, with each of its cylinders that the store of `now` has put out of use."""
    supplies = dict(rest.supplies)
    for name, supply in rest.supplies.items():
        store = now.supplies[name].store if name in now.supplies else None
        out = {one.label: one.out_of_use_why for one in store or () if one.out_of_use}
        cylinders = (
            one._replace(out_of_use=True, out_of_use_why=out[one.label], on_board=True) if one.label in out else one
            for one in supply.cylinders
        )
        supplies[name] = supply._replace(cylinders=tuple(cylinders))
    return rest._replace(supplies=supplies)


def _named(root: Node) -> frozenset[str]:
    """Every label that stands in a log or its closing."""
    closed = root.get("closed")
    lists = (root.get("log"), None if closed is None else closed.get("last"))
    entries = [entry for found in lists if found is not None for entry in found.items]
    told = (entry.get(key) for entry in entries for key in ("cylinder", "change_to"))
    return frozenset(node.text for node in told if node is not None)
