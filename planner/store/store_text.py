"""The text of a store file with new values in it, all else left as it is, to the last space.

Values are replaced where they stand: the events of the YAML parser tell from which character to which. Comments,
order, quotes, line breaks and blanks are not touched. The text that comes out is read again and held against what was
meant, so that nothing else can have changed.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final, Literal

import yaml

from planner.text import source
from planner.text.node import Node

_PLAIN: Final = re.compile(r"true|false|[0-9][0-9A-Za-z.+:-]*( [0-9A-Za-z.+:-]+)*", re.ASCII)
_ANCHOR: Final = re.compile(r"&\S+\s*")


NewValues = Mapping[str, Mapping[str, str | None]]
"""What is to stand at some cylinders: texts by key, by label; None for a key that is not to stand there."""


@dataclass(slots=True)
class _Spot:
    """A value of the file and where it stands, in characters from the beginning."""

    kind: Literal["scalar", "list", "map", "alias"]
    start: int
    end: int
    column: int
    text: str = ""
    anchor: str | None = None
    flow: bool = False
    items: list[_Spot] = field(default_factory=list)


def with_values(text: str, new: NewValues, file: str = "store") -> str:
    """The text of a store with new values of some cylinders.

    A key that a cylinder lacks is put behind its gauge, in the form of its mapping; one that is not to stand there is
    taken out with its line, or out of its braces. Raises `ProblemsError` for a text that cannot be read, `KeyError` for
    a label that is not there, and `ValueError` if anything else would have changed.
    """
    before = source.loads(text, file).root
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    text = text.removeprefix("\ufeff")
    root = _spots(text)
    anchors: dict[str, _Spot] = {}
    aliases: list[_Spot] = []
    _gather(root, anchors, aliases)
    cylinders = {_text(_value(spot, "label"), anchors): spot for spot in _list(_value(root, "cylinders"), anchors)}
    edits: list[tuple[int, int, str]] = []
    for label, values in new.items():
        cylinder = cylinders[label]
        gauge = _value(cylinder, "gauge")
        if gauge is None:
            raise KeyError(label)
        for key, value in values.items():
            spot = _value(cylinder, key)
            if value is None:
                edits += [] if spot is None else [_taken_out(text, cylinder, spot)]
            elif spot is not None:
                edits += _replaced(text, spot, value, aliases)
            else:
                edits.append(_inserted(text, cylinder, gauge, f"{key}: {_written(value)}"))
    # Of two edits at one place the insertion, which is empty, comes after what it follows.
    for start, end, put in sorted(edits, reverse=True):
        text = text[:start] + put + text[end:]
    after = mark + text
    if _tree(source.loads(after, file).root) != _tree(_meant(before, new)):
        raise ValueError("the store would change by more than was meant; nothing was written")
    return after


def _spots(text: str) -> _Spot:
    """The values of a YAML text with their places."""
    stack: list[_Spot] = []
    root: _Spot | None = None
    for event in yaml.parse(text, Loader=yaml.SafeLoader):
        start, column, end = _place(event)
        spot: _Spot | None = None
        if isinstance(event, (yaml.MappingStartEvent, yaml.SequenceStartEvent)):
            kind: Literal["list", "map"] = "map" if isinstance(event, yaml.MappingStartEvent) else "list"
            spot = _Spot(kind, start, end, column, anchor=event.anchor, flow=bool(event.flow_style))
        elif isinstance(event, yaml.ScalarEvent):
            spot = _Spot("scalar", start, end, column, event.value, event.anchor)
        elif isinstance(event, yaml.AliasEvent):
            spot = _Spot("alias", start, end, column, str(event.anchor))
        elif isinstance(event, yaml.CollectionEndEvent):
            stack.pop().end = end
        if spot is not None:
            if stack:
                stack[-1].items.append(spot)
            root = root or spot
            if spot.kind in ("list", "map"):
                stack.append(spot)
    if root is None:
        raise ValueError("a store without anything in it")
    return root


def _place(event: Any) -> tuple[int, int, int]:
    """Where an event begins, in characters and in columns from 0, and where it ends."""
    return event.start_mark.index, event.start_mark.column, event.end_mark.index


def _gather(spot: _Spot, anchors: dict[str, _Spot], aliases: list[_Spot]) -> None:
    if spot.anchor is not None:
        anchors[spot.anchor] = spot
    if spot.kind == "alias":
        aliases.append(spot)
    for item in spot.items:
        _gather(item, anchors, aliases)


def _key(spot: _Spot, name: str) -> _Spot | None:
    return next((key for key in spot.items[::2] if key.text == name), None) if spot.kind == "map" else None


def _value(spot: _Spot, name: str) -> _Spot | None:
    """The value of a key of a map."""
    key = _key(spot, name)
    return None if key is None else spot.items[spot.items.index(key) + 1]


def _list(spot: _Spot | None, anchors: Mapping[str, _Spot]) -> list[_Spot]:
    if spot is not None and spot.kind == "alias":
        spot = anchors[spot.text]
    return [] if spot is None else [anchors[item.text] if item.kind == "alias" else item for item in spot.items]


def _text(spot: _Spot | None, anchors: Mapping[str, _Spot]) -> str:
    if spot is None:
        return ""
    return (anchors[spot.text] if spot.kind == "alias" else spot).text.strip()


def _replaced(text: str, spot: _Spot, new: str, aliases: list[_Spot]) -> list[tuple[int, int, str]]:
    """A value replaced; where others point to it, the old one is written out for them."""
    old = text[spot.start : spot.end]
    ending = old[len(old.rstrip("\r\n")) :]
    edits = [(spot.start, spot.end, _written(new) + ending)]
    if spot.anchor is not None:
        plain = _ANCHOR.sub("", old, count=1).strip()
        edits += [(alias.start, alias.end, plain) for alias in aliases if alias.text == spot.anchor]
    return edits


def _inserted(text: str, cylinder: _Spot, gauge: _Spot, line: str) -> tuple[int, int, str]:
    """`key: value` after the gauge: in braces after its value, else on a line of its own below."""
    if cylinder.flow:
        return gauge.end, gauge.end, f", {line}"
    key = _key(cylinder, "gauge")
    indent = " " * (0 if key is None else key.column)
    line_end = re.compile(r"\r\n|\r|\n|$").search(text, max(gauge.start, gauge.end - 1))
    at = len(text) if line_end is None else line_end.start()
    newline = "\r\n" if "\r\n" in text else "\n"
    return at, at, f"{newline}{indent}{line}"


def _taken_out(text: str, cylinder: _Spot, value: _Spot) -> tuple[int, int, str]:
    """A key and its value away: from a mapping in braces with the comma before it, else with its line."""
    number = cylinder.items.index(value) - 1
    if number == 0:
        return cylinder.items[0].start, cylinder.items[2].start, ""
    if cylinder.flow:
        return cylinder.items[number - 1].end, value.end, ""
    key = cylinder.items[number]
    line_end = re.compile(r"\r\n|\r|\n|$").search(text, max(value.start, value.end - 1))
    return key.start - key.column, len(text) if line_end is None else line_end.end(), ""


def _written(text: str) -> str:
    return text if _PLAIN.fullmatch(text) else json.dumps(text, ensure_ascii=False)


def _meant(root: Node, new: NewValues) -> Node:
    """The tree of the store as it should be afterwards."""
    pairs = []
    for key, value in root.pairs:
        if key.text == "cylinders":
            value = Node("list", items=tuple(_meant_cylinder(item, new) for item in value.items))  # noqa: PLW2901
        pairs.append((key, value))
    return Node("map", pairs=tuple(pairs))


def _meant_cylinder(node: Node, new: NewValues) -> Node:
    label = node.get("label")
    values = new.get("" if label is None else label.text.strip(), {})
    pairs = [(key, value) for key, value in node.pairs if key.text not in values]
    pairs += [(Node("scalar", key), Node("scalar", value)) for key, value in values.items() if value is not None]
    return Node("map", pairs=tuple(pairs))


def _tree(node: Node) -> object:
    """A tree without places, for comparison; the order of keys does not count, that of lists does."""
    if node.kind == "map":
        return {key.text: _tree(value) for key, value in node.pairs}
    return [_tree(item) for item in node.items] if node.kind == "list" else node.text
