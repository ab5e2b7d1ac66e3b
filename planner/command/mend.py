"""`check --fix`: shows each mend that is ready to type with what it does, and writes those that a person confirms."""

from __future__ import annotations

import codecs
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Final

from planner.command.keyboard import at_a_terminal, typed
from planner.command.plan import guarded
from planner.command.telling import GO, USAGE, say, worst_code
from planner.files.output import OutputError, write_bytes
from planner.problems import Mend, Problem, ProblemsError
from planner.report.screen import printable

if TYPE_CHECKING:
    from planner.profile.offers import Profile

_NO_TERMINAL: Final = (
    "check --fix: nobody sits at the keyboard. Fix: start it in a terminal, or add --yes for the mends that are the "
    "only one for their problem."
)


def mend_trips(trips: Sequence[str], *, yes: bool) -> int:
    """Mends every profile in turn; the worst exit code."""
    return worst_code([guarded(trip, partial(mend_trip, trip, yes=yes)) for trip in trips])


def mend_trip(trip: str, *, yes: bool) -> int:
    """Mends one profile with its person; the exit code of `check` for what then stands in the file.

    With `yes` every mend is taken that is the only one for its problem, and no choice is made. Raises
    `ProblemsError` with what is still wrong, and `OutputError` where the file cannot be written or has changed.
    """
    from planner.profile.offers import Profile

    if not yes and not at_a_terminal():
        say(_NO_TERMINAL, err=True)
        return USAGE
    path = Path(trip)
    before = Profile(_text(trip), trip, path.parent)
    after, taken = _taken(before, yes=yes)
    if taken:
        _write(path, before.text, after.text)
        say(f"Written: {printable(trip)}, {taken} mend{'s' * (taken != 1)}.", err=True)
    problems = after.problems()
    if problems:
        raise ProblemsError(problems)
    say(f"{printable(trip)}: no problems" + ("" if taken else ", nothing to mend"))
    return GO


def _text(trip: str) -> str:
    """The text of a profile as it is read. Raises `ProblemsError`."""
    from planner.text.text_file import ProblemList, read_text

    return read_text(trip, ProblemList(trip))


def _taken(profile: Profile, *, yes: bool) -> tuple[Profile, int]:
    """The profile with the mends that were confirmed, and how many those are. Ctrl-C ends it with nothing taken."""
    passed: set[tuple[str, str]] = set()
    count = 0
    while True:
        offer = next(
            ((problem, mends) for problem, mends in profile.offers() if _key(problem, mends) not in passed), None
        )
        if offer is None:
            return profile, count
        problem, mends = offer
        mend = _answer(profile, problem, mends, yes=yes)
        after = None if mend is None else profile.with_mend(problem, mend)
        if after is None:
            passed.add(_key(problem, mends))
        else:
            profile, count = after, count + 1


def _key(problem: Problem, mends: tuple[Mend, ...]) -> tuple[str, str]:
    """What a problem is known by while places move: its text and its mends."""
    return problem.found, repr(mends)


def _answer(profile: Profile, problem: Problem, mends: tuple[Mend, ...], *, yes: bool) -> Mend | None:
    """The mend that the person confirms; None where none."""
    say("")
    say(printable(str(problem)))
    for number, mend in enumerate(mends, 1):
        after = profile.with_mend(problem, mend)
        say(f"  {number}. {printable(mend.old)}  becomes  {printable(mend.new)}")
        for line in _effect(after):
            say(f"     {printable(line)}")
    if yes:
        say("  Taken." if len(mends) == 1 else "  Left: a person has to choose.")
        return mends[0] if len(mends) == 1 else None
    numbers = " or ".join(str(number) for number in range(1, len(mends) + 1))
    answer = typed(f"Write it? {numbers}, or Enter to leave it: ")
    return mends[int(answer) - 1] if answer.isdecimal() and 1 <= int(answer) <= len(mends) else None


def _effect(after: Profile | None) -> list[str]:
    """What a trip becomes with a mend: what each supply needs and has, and the verdict."""
    from planner.figures import need_l, supply_l_or_none
    from planner.planning import plan
    from planner.report.words import headline

    trip = None if after is None else after.trip()
    if after is None or trip is None:
        return ["What it does in litres can be told once the other problems are mended."]
    made = plan(trip)
    lines = [
        f"{name}: needs {need_l(supply.need.required_l)}, can use {supply_l_or_none(supply.usable_l)}."
        for name, supply in made.supplies.items()
    ]
    others = "" if not after.problems() else " with the other mends that are the only one"
    return [*lines, f"Then{others}: {headline(made)}"]


def _write(path: Path, before: str, after: str) -> None:
    """Writes the mended text in place of the one that was read, whole or not at all; quotes, breaks and mode stay."""
    real = path.resolve()
    try:
        data = real.read_bytes()
        mode = real.stat().st_mode & 0o7777
    except OSError as error:
        raise OutputError(
            f"{path}: cannot be read again ({(error.strerror or '').lower()}). Nothing written."
        ) from None
    mark = codecs.BOM_UTF8 if data.startswith(codecs.BOM_UTF8) else b""
    if data != mark + before.encode("utf-8"):
        raise OutputError(f"{path}: has changed since it was read. Nothing written. Fix: start check --fix again.")
    write_bytes(real, mark + after.encode("utf-8"), mode=mode)
