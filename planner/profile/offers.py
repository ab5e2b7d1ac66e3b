"""The mends of a profile that are ready to type, each with what it makes of the trip.

The trip as it stands cannot be read, so what a mend does is told of the trip that comes of it: with this mend and
those others of the same profile that are the only one for their problem.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Final, NamedTuple

from planner.model import Trip
from planner.problems import Mend, Problem, ProblemsError
from planner.profile.read import parse_trip
from planner.text.mended import mended

MOST_MENDS: Final = 200
"""So many mends follow each other at most: each takes a fault away, and nobody confirms more."""


class Profile(NamedTuple):
    """A profile on its way: its text, the name that problems carry, and the folder of the files that it names."""

    text: str
    file: str
    folder: Path

    def problems(self) -> tuple[Problem, ...]:
        """Everything that is wrong with it; empty where it can be read."""
        try:
            parse_trip(self.text, self.file, self.folder)
        except ProblemsError as error:
            return error.problems
        return ()

    def with_mend(self, problem: Problem, mend: Mend) -> Profile | None:
        """The same with one mend; None where it cannot be put in."""
        if problem.file != self.file:
            return None
        text = mended(self.text, problem.line, problem.column, mend)
        return None if text is None else self._replace(text=text)

    def offers(self) -> Iterator[tuple[Problem, tuple[Mend, ...]]]:
        """Each problem with the mends that can be put in, in the order of the text; nothing for one without."""
        for problem in self.problems():
            ready = tuple(mend for mend in problem.mends if self.with_mend(problem, mend) is not None)
            if ready:
                yield problem, ready

    def only_mends(self) -> Profile:
        """The same with every mend that is the only one for its problem."""
        profile = self
        for _ in range(MOST_MENDS):
            found = next(((problem, mends[0]) for problem, mends in profile.offers() if len(mends) == 1), None)
            after = None if found is None else profile.with_mend(*found)
            if after is None:
                break
            profile = after
        return profile

    def trip(self) -> Trip | None:
        """The trip, once every mend that is the only one is put in; None where that is not enough to read it."""
        profile = self.only_mends()
        try:
            return parse_trip(profile.text, profile.file, profile.folder)
        except ProblemsError:
            return None
