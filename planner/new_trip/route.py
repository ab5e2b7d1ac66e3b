"""From the places of a trip to its legs with names."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planner.new_trip.answers import LegAnswer
from planner.new_trip.draft import LegDraft, LegKind

_NOT_ASKED = LegAnswer("1 min")
"""Stands in until the time of a leg is asked."""


def route_in_words(places: Sequence[str]) -> str:
    """What the trip is called: `Ward to scanner and back`.

    >>> route_in_words(["ward", "scanner", "theatre"])
    'Ward to scanner to theatre'
    """
    back = len(places) > 2 and _same(places[-1], places[0])
    return _capital(" to ".join(places[:-1] if back else places) + (" and back" if back else ""))


def usual_kinds(hops: int, *, by_air: bool) -> tuple[LegKind, ...]:
    """The usual legs of a trip by vehicle over so many hops, with a stay between two of them."""
    hop: tuple[LegKind, ...] = ("walk", "load", "fly" if by_air else "road", "unload", "walk")
    return hop + ("stay", *hop) * (hops - 1)


def named_legs(places: Sequence[str], kinds: Sequence[LegKind]) -> Iterator[LegDraft]:
    """The legs in order, their times still to be asked; without kinds on foot, with a stay at each place between."""
    if not kinds:
        kinds = ("walk", *("stay", "walk") * (len(places) - 2))
    parts = _split(kinds)
    for index, part in enumerate(parts):
        here, there = places[min(index, len(places) - 2)], places[min(index + 1, len(places) - 1)]
        home = index == len(places) - 2 and len(places) > 2 and _same(there, places[0])
        for place, kind in enumerate(part):
            yield LegDraft(kind, _capital(_name(part, place, here, there, home=home)), _NOT_ASKED)
        if index < len(parts) - 1:
            yield LegDraft("stay", f"At {there}", _NOT_ASKED)


def _split(kinds: Sequence[LegKind]) -> list[list[LegKind]]:
    """The legs of each hop; a stay parts two of them."""
    parts: list[list[LegKind]] = [[]]
    for kind in kinds:
        if kind == "stay":
            parts.append([])
        else:
            parts[-1].append(kind)
    return parts


def _name(part: Sequence[LegKind], place: int, here: str, there: str, *, home: bool) -> str:
    kind = part[place]
    moving = [index for index, other in enumerate(part) if other in ("road", "fly")]
    if kind == "walk":
        if not moving:
            return f"back to {there}" if home else f"{here} to {there}"
        if place < moving[0]:
            return f"{here} to vehicle"
        return f"vehicle to {there}" if place > moving[-1] else "from vehicle to vehicle"
    if kind in ("load", "unload"):
        return f"{kind}ing"
    way = "flight" if kind == "fly" else "road"
    last = max(index for index in moving if part[index] == kind)
    first = min(index for index in moving if part[index] == kind)
    if kind == "road" and "fly" in part:
        return "road to the airfield" if place < part.index("fly") else f"road to {there}"
    return f"{way} to {there}" if first == last else f"{way} {moving.index(place) + 1} towards {there}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _same(one: str, other: str) -> bool:
    return one.casefold() == other.casefold()
