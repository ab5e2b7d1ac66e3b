"""A profile as a tree of texts, each with its place."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal, NamedTuple

from planner.problems import Position


class Node(NamedTuple):
    """One value of a YAML text: a scalar, a list or a map. A scalar is always text, as written.

    `line` and `column` count from 1. `file` is None for what stands in the profile itself, and the name to
    report in its place for a value that came from elsewhere. `quoted` is True for a scalar in quotes or in a
    block; an unquoted empty scalar is a key without a value.
    """

    kind: Literal["scalar", "list", "map"]
    text: str = ""
    quoted: bool = False
    items: tuple[Node, ...] = ()
    pairs: tuple[tuple[Node, Node], ...] = ()
    line: int = 0
    column: int = 0
    file: str | None = None

    @property
    def where(self) -> Position:
        """The place of this value."""
        return Position(self.line, self.column)

    @property
    def missing(self) -> bool:
        """True for a key without a value."""
        return self.kind == "scalar" and not self.quoted and not self.text

    def walk(self) -> Iterator[Node]:
        """The value itself and all within it, keys too."""
        yield self
        for item in self.items:
            yield from item.walk()
        for key, value in self.pairs:
            yield from key.walk()
            yield from value.walk()

    def keys(self) -> tuple[str, ...]:
        """The keys of a map in their order; nothing for a scalar or a list."""
        return tuple(key.text for key, _ in self.pairs)

    def get(self, name: str) -> Node | None:
        """The value of a key of a map, or None."""
        return next((value for key, value in self.pairs if key.text == name), None)

    def key(self, name: str) -> Node | None:
        """The key itself, for its place, or None."""
        return next((key for key, _ in self.pairs if key.text == name), None)

    def pick(self, *steps: str | int) -> Node | None:
        """The value reached by keys and by list places counted from 0, or None where there is none."""
        node: Node | None = self
        for step in steps:
            if node is None:
                return None
            if isinstance(step, str):
                node = node.get(step)
            else:
                node = node.items[step] if 0 <= step < len(node.items) else None
        return node
