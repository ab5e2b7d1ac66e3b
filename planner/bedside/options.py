"""Options of the bedside verbs to a cylinder and figures, with every problem at once.

A cylinder is read as a profile reads it (`planner.profile`): the same sizes, labels and limits, the same words. A
problem carries the name of its option in the place of a file.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from planner.model import Cylinder
from planner.problems import Problem
from planner.profile.clock import TripClock
from planner.profile.cylinders import read_cylinder
from planner.profile.faults import Faults
from planner.profile.fields import read_quantity
from planner.profile.limits import LIMITS, Limit
from planner.text.node import Node
from planner.text.text_file import show
from planner.text.wall_clock import ALLOWED, ClockTime, mend, parse_clock

FLOW: Final = Limit("flow", "a flow from 1 mL/min to 300 L/min", 0.001, 300.0)
RESOLUTION: Final = Limit("gauge", "a gauge pressure above 0 and up to 50 bar (725 psi)", high=5000.0, above=0.0)
_NO_DATES: Final = TripClock(None, None)


class OptionReader:
    """Reads the options of one verb; `problems` gathers what is wrong, in the order in which it was read."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []

    def add(self, option: str, code: str, found: str, allowed: str, fix: str) -> None:
        """One problem of an option."""
        self._keep([Problem(option, 0, 0, code, found, allowed, fix)])

    def leftover(self, words: Sequence[str]) -> None:
        """Words that belong to no option: most often a value with a space in it and no quotation marks."""
        if words:
            shown = " ".join(show(word) for word in words[:5])
            self.add(
                "words",
                "no_option",
                f"{shown} without an option",
                "options with their values only",
                'put a value with a space in quotation marks, as in "2 L/min", or write it without the space, 2L/min',
            )

    def missing(self, option: str, allowed: str, example: str) -> None:
        """An option that the verb needs is not there."""
        self.add(option, "option_missing", f"no {option}", allowed, f"add {option} {example}")

    def quantity(self, option: str, text: str | None, limit: Limit | str) -> float | None:
        """A quantity in its base unit; None where it is not given, or wrong and told.

        `limit` is its range, or the key of a profile that has the same one.
        """
        if text is None:
            return None
        key = limit if isinstance(limit, str) else option.lstrip("-").replace("-", "_")
        faults = Faults(option)
        value = read_quantity(faults, _scalar(option, text), key, LIMITS[limit] if isinstance(limit, str) else limit)
        self._keep(faults.problems)
        return value

    def clock(self, option: str, text: str | None) -> ClockTime | None:
        """A clock time; None where it is not given, or wrong and told."""
        clock = None if text is None else parse_clock(text)
        if text is not None and clock is None:
            self.add(option, "not_a_time", f"{show(text)}", ALLOWED, mend(text))
        return clock

    def choices(self, option: str, text: str, allowed: Sequence[str]) -> tuple[str, ...]:
        """Words of a few, with commas between them, each once."""
        found = tuple(dict.fromkeys(part.strip().lower() for part in text.split(",") if part.strip()))
        unknown = [part for part in found if part not in allowed]
        if unknown or not found:
            given = ", ".join(map(show, unknown)) or "an empty list"
            self.add(option, "not_known", given, f"{', '.join(allowed)} or both", f"write {option} {allowed[0]}")
        return found

    def cylinder(self, given: Mapping[str, str | None], option_of: Mapping[str, str] | None = None) -> Cylinder | None:
        """A cylinder from size or label, reading, temperature and scale, by their keys in a profile.

        `option_of` names the option of a key that is not the key itself. None where anything is wrong, which is told.
        """
        names = {key: f"--{key.replace('_', '-')}" for key in given} | dict(option_of or {})
        pairs = tuple(
            (Node("scalar", key), _scalar(names[key], text)) for key, text in given.items() if text is not None
        )
        if given.get("size") is None and given.get("contents") is None:
            self.add(
                "--size",
                "option_missing",
                "neither --size nor --contents",
                "the size as the cylinder is marked, or the contents as on its label",
                'add --size US-E, or --contents "680 L at 2015 psi"',
            )
            for key in ("gauge", "temperature", "gauge_scale"):
                self.quantity(names.get(key, ""), given.get(key), key)
            return None
        if given.get("gauge") is None:
            pairs = (*pairs, (Node("scalar", "gauge"), _scalar("--gauge", "0 psi")))
        faults = Faults("--size")
        found = read_cylinder(faults, Node("map", pairs=pairs), None, _NO_DATES)
        self._keep([_as_option(problem, given) for problem in faults.problems])
        return None if faults else found

    def _keep(self, problems: Sequence[Problem]) -> None:
        self.problems += [problem for problem in problems if problem not in self.problems]


def line(problem: Problem) -> str:
    """A problem of an option in one line: `--gauge  unit_missing  ...; allowed: ... Fix: ...`."""
    return f"{problem.file}  {problem.code}  {problem.found}; allowed: {problem.allowed}. Fix: {problem.fix}."


def _scalar(option: str, text: str) -> Node:
    return Node("scalar", text.strip(), quoted=True, file=option)


def _as_option(problem: Problem, given: Mapping[str, str | None]) -> Problem:
    """A mend in words of a profile, `contents:`, in words of the command line, `--contents`."""
    fix = problem.fix
    for key in given:
        fix = fix.replace(f"`{key}:`", f"`--{key.replace('_', '-')}`")
    return Problem(problem.file, 0, 0, problem.code, problem.found, problem.allowed, fix)
