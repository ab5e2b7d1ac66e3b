"""Gathering every problem of one file, so that all are told at once and none twice."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import islice
from typing import Final

from planner.problems import NOWHERE, Mend, Position, Problem, ProblemsError
from planner.text.source import Node
from planner.text.text_file import LONGEST_SHOWN, MOST_PROBLEMS, one_line, too_many

LISTED: Final = 40
"""Longest piece of a file that a message repeats."""

MOST_GATHERED: Final = 2 * MOST_PROBLEMS
"""With so many problems, reading ends: nobody mends them in one go, and to word each takes its time."""

MOST_COMPARED: Final = 200
"""So many names are looked through for one that a misspelt name may stand for."""

_CUTOFF: Final = 0.6
_MOST_RATIOS: Final = 4


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

    def add(
        self, node: Node, code: str, found: str, allowed: str, fix: str, mends: tuple[tuple[str, str], ...] = ()
    ) -> None:
        """One problem at a node. Raises `ProblemsError` where there are too many to read on.

        `mends` are pairs of what stands at the node and what to write in its place.
        """
        ready = tuple(Mend(old, new) for old, new in mends)
        self.keep(Problem(node.file or self.file, node.line, node.column, code, found, allowed, fix, ready))

    def keep(self, problem: Problem) -> None:
        """One problem. Raises `ProblemsError` where there are too many to read on."""
        self.problems.append(problem)
        if len(self.problems) >= MOST_GATHERED:
            raise told(self.problems, ended=True)

    def __bool__(self) -> bool:
        return bool(self.problems)


def told(problems: Iterable[Problem], *, ended: bool = False) -> ProblemsError:
    """The first problems by place, with a word on how many more there are; `ended` where reading ended before all."""
    found = sorted(set(problems))
    if len(found) <= MOST_PROBLEMS and not ended:
        return ProblemsError(found)
    first, more = found[:MOST_PROBLEMS], len(found) - MOST_PROBLEMS
    words = [f"{more} problems more"] if more > 0 else []
    words += ["perhaps others, since reading ended here"] if ended else []
    place = found[MOST_PROBLEMS] if more > 0 else found[-1]
    return ProblemsError([*first, too_many(place.file, place.line, place.column, ", and ".join(words))])


def position(node: Node) -> Position:
    """The place of a node in the profile; nowhere for one that the command line set."""
    return node.where if node.file is None else NOWHERE


def listed_names(names: Iterable[str]) -> str:
    """Names in one phrase, at most forty of them: `cart, wall`."""
    known = list(names)
    more = f" and {len(known) - LISTED} more" if len(known) > LISTED else ""
    return ", ".join(one_line(name) or "``" for name in known[:LISTED]) + more


def near(name: str, known: Iterable[str], most: int = MOST_COMPARED) -> str | None:
    """The known name that looks most like a misspelt one, None where none does or the name is very long.

    At most `most` names are looked through, and the likeness is worked out in full for the likeliest alone.

    >>> near("FiO2", ["flow", "fio2"])
    'fio2'
    """
    from difflib import SequenceMatcher  # needed only where something is misspelt

    if len(name) > LONGEST_SHOWN:
        return None
    plain = {_plain(other): other for other in islice(known, most)}
    matcher = SequenceMatcher(autojunk=False)
    matcher.set_seq2(_plain(name))
    likely = []
    for other in plain:
        matcher.set_seq1(other)
        if matcher.real_quick_ratio() >= _CUTOFF and (bound := matcher.quick_ratio()) >= _CUTOFF:
            likely.append((bound, other))
    best, meant = _CUTOFF, None
    for bound, other in sorted(likely, reverse=True)[:_MOST_RATIOS]:
        matcher.set_seq1(other)
        if bound >= best and (ratio := matcher.ratio()) >= best:
            best, meant = ratio, plain[other]
    return meant


def _plain(name: str) -> str:
    return name.casefold().replace("-", "_").replace(" ", "_")
