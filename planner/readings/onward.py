"""A trip planned again on the way, from a tree of readings, and the same once more from what a print of it holds.

What a print holds of each planning again is one text: the readings as a tree, with when and where the trip was. So the
form of a later card can be compared with its own plan too.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from typing import Any, Final

from planner.afterwards import onward as afterwards
from planner.afterwards.onward import Now
from planner.model import Trip
from planner.planning import plan as made
from planner.problems import Problem, ProblemsError
from planner.readings.book import logbook
from planner.readings.left import as_left
from planner.readings.on_board import with_those_on_board
from planner.report.identity import identity
from planner.results import Plan
from planner.text.node import Node

_MOST_STEPS: Final = 50


def again(plan: Plan, root: Node, file: str, now: Now) -> Trip:
    """What is left of a planned trip by a tree of readings. Raises `ProblemsError`."""
    before = identity(plan.trip)
    plan = with_those_on_board(plan, root)
    plan = as_left(plan, root, file)
    log = logbook(root, file, plan, late=now.leg is not None)
    trip = afterwards.onward(plan, log, now, before.revision + 1, before.number)
    if trip.onward is None:
        raise ValueError("a trip planned again says so")
    told = {"at_min": now.at_min, "leg": now.leg, "to_go_min": now.to_go_min, "readings": _plain(root)}
    step = json.dumps(told, ensure_ascii=False)
    earlier = () if plan.trip.onward is None else plan.trip.onward.steps
    digest = hashlib.sha256(f"{plan.trip.fingerprint}\n{step}".encode("utf-8", "surrogatepass")).hexdigest()
    return trip._replace(onward=trip.onward._replace(steps=(*earlier, step)), fingerprint=digest)


def planned_again(trip: Trip, steps: Sequence[str]) -> Trip:
    """A trip planned again as often as it was before. Raises `ProblemsError` where a step is none."""
    for step in steps[:_MOST_STEPS]:
        try:
            root, now = _read(step)
        except (ValueError, KeyError, TypeError, RecursionError):
            found, fix = "a planning again that cannot be read", "write the readings in a YAML file"
            raise ProblemsError([Problem(trip.file, 0, 0, "not_a_step", found, "one of this program's", fix)]) from None
        trip = again(made(trip), root, trip.file, now)
    return trip


def _read(step: str) -> tuple[Node, Now]:
    held = json.loads(step)
    at_min, leg, to_go_min = (held[name] for name in ("at_min", "leg", "to_go_min"))
    return _node(held["readings"]), Now(_number(at_min), None if leg is None else int(leg), _number(to_go_min))


def _plain(node: Node) -> Any:
    """A tree as lists: `[key, value, ...]` under `map`, so that nothing but the places is lost."""
    if node.kind == "map":
        return {"map": [[key.text, _plain(value)] for key, value in node.pairs]}
    if node.kind == "list":
        return {"list": [_plain(item) for item in node.items]}
    return [node.text, node.quoted]


def _node(held: Any) -> Node:
    if isinstance(held, list):
        text, quoted = held
        if not isinstance(text, str):
            raise TypeError(text)
        return Node("scalar", text, bool(quoted), line=1, column=1)
    if "map" in held:
        pairs = tuple((_node([key, False]), _node(value)) for key, value in held["map"])
        return Node("map", pairs=pairs, line=1, column=1)
    return Node("list", items=tuple(_node(item) for item in held["list"]), line=1, column=1)


def _number(value: Any) -> float | None:
    return None if value is None else float(value)
