"""One value of a profile changed by its path, as by `--set cart.A.gauge="1900 psi"`.

A path knows three things of the profile language: supplies and the labels of their cylinders may be named without
the words around them, a policy may come from a file, and a device may be named alone in a leg.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final, NamedTuple, TypeAlias

from planner.problems import Problem, ProblemsError
from planner.text.node import Node
from planner.text.spelling import same_letters, slip
from planner.text.text_file import shown

PathStep: TypeAlias = str | int
Trail: TypeAlias = tuple[PathStep, ...]

MOST_PATH_LETTERS: Final = 200
MOST_LISTED: Final = 20

_NAME = r"[^.\[\]=\s][^.\[\]=]*(?:\[[0-9]{1,4}\])*"
_PATH = re.compile(rf"{_NAME}(?:\.{_NAME})*")
_STEP = re.compile(r"\[([0-9]+)\]|([^.\[\]]+)")


def put(root: Node, path: str, value: Node, file: str) -> Node:
    """A copy of the tree with the value at a path changed, or added to the map that the path ends in.

    A path is names joined by dots, with `[2]` for the second of a list: places count from 1, as legs do on paper.
    `cart.A.gauge` stands for the cylinder labelled A of the supply cart; items of any list may be named by their
    `label` or `name`. `policy.reserve_time` may be set where the trip names a policy file or none.

    Problems and new keys carry `file`, line 1, column 1. Raises `ProblemsError` for a path that leads nowhere.
    """
    return _ByPath(file).put(root, path, value)


class _ByPath(NamedTuple):
    file: str

    def put(self, root: Node, path: str, value: Node) -> Node:
        if len(path) > MOST_PATH_LETTERS or _PATH.fullmatch(path) is None:
            raise self.error(
                "a path that cannot be read",
                "names joined by dots, with [2] for the second of a list, as in cart.A.gauge or legs[2].duration",
                "write the path to one value of the profile",
                "bad_path",
            )
        steps: Trail = tuple(int(place) if place else name.strip() for place, name in _STEP.findall(path))
        first = str(steps[0])
        if root.get(first) is not None or first == "policy":
            return self.changed(root, steps, value, ())
        supplies = root.get("supplies") or Node("map")
        if supplies.get(first) is not None:
            return self.changed(root, ("supplies", *steps), value, ())
        if len(steps) == 1:
            return self.changed(root, steps, value, ())
        choices = (*root.keys(), *supplies.keys())
        near = slip(first, choices) or same_letters(first, choices)
        if root.pick("devices", first) is not None:
            near = f"devices.{path}"
        raise self.error(
            f"`{first}`, which is neither a key of the profile nor a supply",
            f"one of {_listed(choices)}" if choices else "nothing, since the profile is empty",
            f"write {shown(near, 80)}" if near else "write the name of a key or of a supply",
        )

    def changed(self, node: Node, steps: Trail, value: Node, trail: Trail) -> Node:
        """The node with the value put in at the end of the steps; `trail` are the steps that led to the node."""
        if not steps:
            return value
        step, rest = steps[0], steps[1:]
        if node.kind == "list":
            place = step if isinstance(step, int) else self.place(node, step, trail)
            return self.changed_item(node, place, rest, value, trail)
        if isinstance(step, int):
            here = _written(trail)
            raise self.error(f"[{step}] after {here}, which is not a list", "a place in a list", f"take [{step}] away")
        return self.changed_key(self.as_map(node, step, trail), step, rest, value, trail)

    def changed_item(self, node: Node, place: int, rest: Trail, value: Node, trail: Trail) -> Node:
        many = len(node.items)
        if not 1 <= place <= many:
            raise self.error(
                f"[{place}] of {_written(trail)}, which has {many}",
                f"a place from 1 to {many}; places count from 1" if many else "nothing, since the list is empty",
                f"write a place from 1 to {many}" if many else "write the list into the profile",
            )
        new = self.changed(node.items[place - 1], rest, value, (*trail, place))
        return node._replace(items=(*node.items[: place - 1], new, *node.items[place:]))

    def changed_key(self, node: Node, name: str, rest: Trail, value: Node, trail: Trail) -> Node:
        old = node.get(name)
        if old is not None:
            new = self.changed(old, rest, value, (*trail, name))
            pairs = tuple((key, new if key.text == name else kept) for key, kept in node.pairs)
            return node._replace(pairs=pairs)
        cylinders = node.get("cylinders") if len(trail) == 2 and trail[0] == "supplies" else None
        labels = _labels(cylinders) if cylinders is not None else ()
        if name in labels:
            return self.changed_key(node, "cylinders", (name, *rest), value, trail)
        if rest and (trail or name != "policy"):
            choices = (*node.keys(), *labels)
            here, near = _written(trail), same_letters(name, choices) or slip(name, node.keys())
            raise self.error(
                f"`{name}`, which is not in {here}",
                f"one of {_listed(choices)}" if choices else f"nothing, since {here} is empty",
                f"write {shown(near)}" if near else f"write a name that is in {here}",
            )
        key = Node("scalar", name, line=1, column=1, file=self.file)
        new = self.changed(Node("map", line=1, column=1, file=self.file), rest, value, (*trail, name))
        return node._replace(pairs=(*node.pairs, (key, new)))

    def as_map(self, node: Node, name: str, trail: Trail) -> Node:
        """A map as it is; in place of a single value, the map that it is short for."""
        if node.kind == "map":
            return node
        if node.missing:
            return node._replace(kind="map")
        long_form = "file" if trail == ("policy",) else "use" if _is_use(trail) else None
        if long_form is None:
            here = _written(trail)
            raise self.error(
                f"`{name}` after {here}, which is a single value", "a path that ends there", f"set {here} itself"
            )
        key = node._replace(text=long_form, quoted=False)
        return node._replace(kind="map", text="", quoted=False, pairs=((key, node),))

    def place(self, node: Node, name: str, trail: Trail) -> int:
        """The place of the list item with this label or name."""
        labels, here = _labels(node), _written(trail)
        places = [place for place, label in enumerate(labels, 1) if label == name]
        if len(places) == 1:
            return places[0]
        if places:
            raise self.error(
                f"`{name}`, which stands {len(places)} times in {here}",
                "a label that stands once",
                f"write the place instead, such as {here}[{places[0]}]",
            )
        names = _listed(labels)
        near = same_letters(name, labels)
        raise self.error(
            f"`{name}`, which is not in {here}",
            (f"one of {names}, or " if names else "") + "a place; places count from 1",
            f"write {shown(near)}" if near else f"write a place, such as {here}[1]",
        )

    def error(self, found: str, allowed: str, fix: str, code: str = "unknown_path") -> ProblemsError:
        return ProblemsError([Problem(self.file, 1, 1, code, found, allowed, fix)])


def _is_use(trail: Trail) -> bool:
    """True for a device in a leg, `legs[1].devices[2]`."""
    return len(trail) == 4 and trail[0] == "legs" and trail[2] == "devices"


def _labels(node: Node) -> tuple[str, ...]:
    labels = (item.get("label") or item.get("name") for item in node.items)
    return tuple("" if label is None else label.text for label in labels)


def _listed(choices: Iterable[str]) -> str:
    names = [shown(choice) for choice in dict.fromkeys(choices) if choice]
    return ", ".join(names[:MOST_LISTED]) + (" and others" if len(names) > MOST_LISTED else "")


def _written(trail: Trail) -> str:
    text = ""
    for step in trail:
        text += f"[{step}]" if isinstance(step, int) else f".{step}"
    return shown(text.removeprefix("."), 80) or "the profile"
