"""What hands cannot do at a change without leaving somebody without gas, and what hangs on one regulator."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner import figures
from planner.findings.common import remark
from planner.go.regulators import needing_regulators, shares_regulators
from planner.model import Supply, Trip
from planner.naming import all_called, called, listed
from planner.problems import Finding
from planner.results import HandsOn


def of_hands(trip: Trip, made: Sequence[HandsOn]) -> Iterator[Finding]:
    """Cautions on the changes of a plan, and on a supply with one regulator for several cylinders."""
    for supply in trip.supplies.values():
        if supply.regulators == 1 and shares_regulators(supply):
            cylinders = all_called(needing_regulators(supply))
            yield remark("one_regulator", supply, cylinders=cylinders, gas=supply.gas)
        bare = [hands for hands in made if hands.bare and hands.change is not None and _of(hands, supply)]
        if bare:
            yield _no_gas_while_swapping(supply, bare)
    for hands in made:
        if hands.bare and hands.change is None and hands.new is not None:
            moved = listed(name for act in hands.acts if act.do == "move" for name in act.devices)
            leg, place = trip.legs[hands.leg_index], hands.new.supply
            yield remark("no_gas_while_moving", leg, devices=_get(hands.bare), moved=moved, place=place)


def _of(hands: HandsOn, supply: Supply) -> bool:
    return hands.new is not None and hands.new.supply == supply.name


def _no_gas_while_swapping(supply: Supply, bare: Sequence[HandsOn]) -> Finding:
    due = [hands.change for hands in bare if hands.change is not None]
    return remark(
        "no_gas_while_swapping",
        supply,
        changes=f"change{'s' * (len(due) > 1)}",
        pairs=listed(f"{called(change.from_cylinder)} to {called(change.to_cylinder)}" for change in due),
        minutes=listed(figures.minutes_down(hands.minute) for hands in bare),
        devices=_get(tuple(dict.fromkeys(name for hands in bare for name in hands.bare))),
    )


def _get(devices: Sequence[str]) -> str:
    return f"{listed(devices)} {'get' if len(devices) > 1 else 'gets'}"
