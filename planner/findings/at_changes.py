"""What hands cannot do at a change without leaving somebody without gas, and what hangs on one regulator."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner import figures
from planner.go.regulators import needing_regulators, shares_regulators
from planner.model import Supply, Trip
from planner.naming import all_called, called, listed
from planner.problems import Finding, finding
from planner.results import HandsOn


def of_hands(trip: Trip, made: Sequence[HandsOn]) -> Iterator[Finding]:
    """Cautions on the changes of a plan, and on a supply with one regulator for several cylinders."""
    for supply in trip.supplies.values():
        if supply.regulators == 1 and shares_regulators(supply):
            yield _one_regulator(supply)
        bare = [hands for hands in made if hands.bare and hands.change is not None and _of(hands, supply)]
        if bare:
            yield _no_gas_while_swapping(supply, bare)
    for hands in made:
        if hands.bare and hands.change is None and hands.new is not None:
            yield _no_gas_while_moving(trip, hands, hands.new.supply)


def _of(hands: HandsOn, supply: Supply) -> bool:
    return hands.new is not None and hands.new.supply == supply.name


def _one_regulator(supply: Supply) -> Finding:
    return finding(
        "caution",
        "one_regulator",
        f"{supply.name} has one regulator for {all_called(needing_regulators(supply))}: if it fails, none of them "
        f"gives {supply.gas}, and nothing flows from {supply.name} while it is changed over.",
        f"Carry a second regulator that fits, and write how many there are under {supply.name}.",
        supply.where,
    )


def _no_gas_while_swapping(supply: Supply, bare: Sequence[HandsOn]) -> Finding:
    devices = tuple(dict.fromkeys(name for hands in bare for name in hands.bare))
    due = [hands.change for hands in bare if hands.change is not None]
    pairs = listed(f"{called(change.from_cylinder)} to {called(change.to_cylinder)}" for change in due)
    where = f"the change{'s' * (len(due) > 1)} from {pairs}"
    minutes = listed(figures.minutes_down(hands.minute) for hands in bare)
    return finding(
        "caution",
        "no_gas_at_change",
        f"{supply.name}: at {where} ({minutes} after departure) {listed(devices)} {_gets(devices)} no oxygen until the "
        "regulator sits on the next cylinder and that is open: nothing else at hand has oxygen to spare and a "
        "flowmeter free.",
        "Carry a second regulator, so that the next cylinder is open before the old one is shut, or another cylinder "
        "for a manual resuscitator meanwhile. Without either have the resuscitator in hand, on room air, and change at "
        "the calmest moment.",
        supply.where,
    )


def _no_gas_while_moving(trip: Trip, hands: HandsOn, place: str) -> Finding:
    leg = trip.legs[hands.leg_index]
    moved = listed(name for act in hands.acts if act.do == "move" for name in act.devices)
    return finding(
        "caution",
        "no_gas_at_change",
        f"Before {leg.name} {listed(hands.bare)} {_gets(hands.bare)} no oxygen while {moved} moves to {place}: the "
        "outlet there is needed first, and the next one of its own is still taken.",
        "Have one more outlet, or let one of them stay where it is. Without either have a manual resuscitator on "
        "another cylinder in hand.",
        leg.where,
    )


def _gets(devices: Sequence[str]) -> str:
    return "get" if len(devices) > 1 else "gets"
