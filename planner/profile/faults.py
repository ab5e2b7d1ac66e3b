"""Gathering every problem of one file, so that all are told at once and none twice."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from planner.problems import NOWHERE, Position, Problem
from planner.source import Node

LISTED = 40
SHOWN = 60
"""Longest piece of a file that a message repeats."""


@dataclass(slots=True)
class Faults:
    """The problems of one file, and the parts of it that were judged already.

    `refused` holds the identity of nodes that are wrong in kind, so that nobody reads them again. `told` holds
    (identity of a mapping, key) for keys that were called missing, so that nobody does so again.
    """

    file: str
    problems: list[Problem] = field(default_factory=list)
    refused: set[int] = field(default_factory=set)
    told: set[tuple[int, str]] = field(default_factory=set)

    def add(self, node: Node, code: str, found: str, allowed: str, fix: str) -> None:
        """One problem at a node."""
        self.problems.append(Problem(node.file or self.file, node.line, node.column, code, found, allowed, fix))

    def __bool__(self) -> bool:
        return bool(self.problems)


def position(node: Node) -> Position:
    """The place of a node in the profile; nowhere for one that the command line set."""
    return node.where if node.file is None else NOWHERE


def show(text: str) -> str:
    """A text in backquotes, in one line, without control characters and not too long."""
    clean = "".join(mark if mark.isprintable() else "?" for mark in text[: SHOWN + 1])
    return f"`{clean if len(clean) <= SHOWN else clean[: SHOWN - 3] + '...'}`"


def listed(names: Iterable[str]) -> str:
    """Names in one phrase, at most forty of them: `cart, wall`."""
    known = list(names)
    return ", ".join(known[:LISTED]) + (f" and {len(known) - LISTED} more" if len(known) > LISTED else "")


def near(name: str, known: Iterable[str]) -> str | None:
    """The known name that looks most like a misspelt one, None where none does.

    >>> near("FiO2", ["flow", "fio2"])
    'fio2'
    """
    import difflib  # needed only where something is misspelt

    plain = {_plain(other): other for other in known}
    found = difflib.get_close_matches(_plain(name), list(plain), n=1, cutoff=0.6)
    return plain[found[0]] if found else None


def _plain(name: str) -> str:
    return name.casefold().replace("-", "_").replace(" ", "_")
