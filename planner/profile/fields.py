"""Reading one mapping of a profile, key by key."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

from planner.problems import Position
from planner.profile.faults import Faults, position
from planner.profile.limits import LIMITS, Limit
from planner.text import quantities
from planner.text.source import Node
from planner.text.text_file import show


class Fields:
    """The values of one mapping.

    Every method gives None for a key that is absent, or wrong and thereby told. `title` names the mapping in
    messages, such as `cylinder A`.
    """

    def __init__(self, faults: Faults, node: Node, title: str) -> None:
        self.faults = faults
        self.node = node
        self.title = title

    @property
    def where(self) -> Position:
        """The place of the mapping."""
        return position(self.node)

    def given(self, key: str) -> bool:
        """True where the key stands, be its value right or wrong, or was called missing already."""
        return self.node.get(key) is not None or (id(self.node), key) in self.faults.told

    def get(self, key: str) -> Node | None:
        """The value of a key, unless it was refused as wrong in kind."""
        node = self.node.get(key)
        return None if node is None or id(node) in self.faults.refused else node

    def entries(self, key: str) -> Iterator[tuple[Node, Node]]:
        """Pairs of name and mapping below a key, without those that were refused."""
        node = self.get(key)
        for name, value in node.pairs if node is not None else ():
            if id(value) not in self.faults.refused and id(name) not in self.faults.refused:
                yield name, value

    def items(self, key: str) -> Iterator[Node]:
        """The items of a list, without those that were refused."""
        node = self.get(key)
        return (item for item in (node.items if node is not None else ()) if id(item) not in self.faults.refused)

    def text(self, key: str) -> str | None:
        """A text as it stands."""
        node = self.get(key)
        return None if node is None else node.text.strip()

    def flag(self, key: str) -> bool | None:
        """True or false."""
        node = self.get(key)
        return None if node is None else node.text == "true"

    def quantity(self, key: str) -> float | None:
        """A quantity in its base unit, within the range of its key."""
        node = self.get(key)
        return None if node is None else read_quantity(self.faults, node, key, LIMITS[key])

    def add(self, key: str | None, code: str, found: str, allowed: str, fix: str) -> None:
        """One problem at the value of a key, or at the mapping itself."""
        node = None if key is None else self.node.get(key)
        self.faults.add(self.node if node is None else node, code, found, allowed, fix)

    def missing(self, key: str, allowed: str, fix: str) -> None:
        """One problem: a key that this mapping needs is not there."""
        self.add(None, "key_missing", f"{self.title} without `{key}`", allowed, fix)


def read_quantity(faults: Faults, node: Node, key: str, limit: Limit) -> float | None:
    """The value of a scalar node in the base unit of its kind; None where it is wrong, which is then told."""
    inner = (limit.low, limit.high) if limit.kind == "fraction" else (None, None)
    out_of_range = f"{key} {show(node.text)} is out of range"
    try:
        value = _parsed(node.text, limit, *inner)
    except quantities.QuantityError as error:
        if limit.kind == "fraction" and error.code == "unit_missing" and not _is_percentage(node.text, limit):
            faults.add(node, "out_of_range", out_of_range, limit.allowed, "check the number")
        else:
            mends = tuple((node.text, mend) for mend in error.mends)
            faults.add(node, error.code, f"{key} {error.found}", error.allowed, error.fix, mends)
        return None
    if limit.holds(value):
        return value
    fix = "check the number and its unit"
    if value == 0.0 == limit.above:
        none = ", or leave out what does not take place" if limit.kind == "duration" else ""
        fix = f"write a value above zero{none}"
    faults.add(node, "out_of_range", out_of_range, limit.allowed, fix)
    return None


def _is_percentage(text: str, limit: Limit) -> bool:
    """True where a percent sign would make a fraction of the text that is in range."""
    try:
        _parsed(f"{text} %", limit, limit.low, limit.high)
    except quantities.QuantityError:
        return False
    return True


@lru_cache(maxsize=1024)
def _parsed(text: str, limit: Limit, low: float | None, high: float | None) -> float:
    """`planner.text.quantities.parse`, remembered: a profile repeats itself, and a shift repeats its profiles."""
    return quantities.parse(text, limit.kind, low=low, high=high, holds=limit.holds)
