"""Which cylinders of a store a best set can hold: of those that give no less and weigh no more, the first few.

Whoever takes a cylinder that is beaten by as many others as a set has places may take one of them in its place, and
has a set that is as good: more litres through the same outlets never turn go into no-go.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf
from typing import Final

from planner.store.shelf import Candidate, Shelf

SLACK_KG: Final = 1e-6
"""Masses that differ by less count as one where sums of them are compared."""


def unbeaten(candidates: Sequence[Candidate], most: float) -> tuple[Candidate, ...]:
    """Candidates that are beaten by fewer than `most` others, in the order of the store.

    It is enough to count those that are kept: what beats one that is left out beats all that this one beats.
    """
    kept: dict[object, list[Candidate]] = {}
    for one in sorted(candidates, key=lambda one: (one.mass_kg, one.age)):
        rivals = kept.setdefault((one.full, one.stale, one.tank.kind), [])
        if sum(_beats(rival, one) for rival in rivals) < most:
            rivals.append(one)
    return tuple(sorted((one for rivals in kept.values() for one in rivals), key=lambda one: one.place))


def _beats(lighter: Candidate, one: Candidate) -> bool:
    """True where a cylinder can take the place of a heavier one, or of one as heavy that was read later."""
    return (
        lighter.usable_l >= one.usable_l
        and lighter.usable_high_l >= one.usable_high_l
        and (lighter.mass_kg == one.mass_kg or lighter.mass_kg < one.mass_kg - 2.0 * SLACK_KG)
    )


def most_in_a_set(shelf: Shelf) -> int:
    """How many cylinders fit a shelf's places and weight, the lightest first."""
    room_kg, fit = shelf.limit_kg, 0
    for mass_kg in sorted(one.mass_kg for one in shelf.candidates)[: shelf.places]:
        if room_kg < inf and (room_kg := room_kg - mass_kg) < -SLACK_KG:
            break
        fit += 1
    return fit


def put_off(shelf: Shelf, one: Candidate) -> int:
    """How late one is taken, whatever the number: an old reading last, a full one late where part-used go first."""
    return 2 * one.stale + (one.full and shelf.part_used_first)
