"""Short answers to text of a profile.

A number may stand alone where the question names its unit and no other is likely: minutes, L/min, breaths a minute.
What is kept always carries the unit. Gauges, volumes and fractions need theirs: psi and bar, mL and L, 0.6 and 60 % are
confused too easily. What is refused is told with what may stand there and how to mend it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from planner.problems import Problem
from planner.text import quantities
from planner.text.text_file import shown

UNIT_WHEN_BARE: Final[Mapping[str, str]] = {"duration": " min", "flow": " L/min", "rate": "/min"}
"""The unit that a number alone means, by kind; the question names it."""

_BARE = re.compile(r"[0-9]+(?:\.[0-9]+)?")
_CLOSE = re.compile(r"^([0-9.]+)([A-Za-z%°][^0-9]*)$")
_PARTS = re.compile(r" *(?:\+|;|\bplus\b|\band\b) *| *, +", re.IGNORECASE)
_MAGNET: Final = ("magnet", "mri", "mr")
_BESIDE: Final = ("in", "the", "room", "on")
_LONGEST = re.compile(r"(?:longest|at most|max(?:imum)?|worst) +", re.IGNORECASE)
_TIME = re.compile(r"[0-9][0-9.:]*(?: *(?:min|h|s)\b)?(?: *[0-9]+ *(?:min|s)\b)*")
_PLACES = re.compile(r" *(?:,|->|>|;|\bto\b|\band(?= +back\b)) *", re.IGNORECASE)


MOST: Final = 100
"""More than anybody carries."""


class AnswerError(Exception):
    """An answer that cannot be taken; the text says what was found, what is allowed and how to mend it."""

    def __init__(self, found: str, allowed: str, fix: str) -> None:
        super().__init__(f"{found}; allowed: {allowed}. Fix: {fix}.")


def of_problem(problem: Problem) -> AnswerError:
    """A problem that the reader of profiles finds with an answer."""
    return AnswerError(problem.found, problem.allowed, problem.fix)


def quantity(text: str, kind: str) -> str:
    """A quantity as it stands in a profile, with its unit. Raises `AnswerError`.

    >>> quantity("7", "duration"), quantity("1900psi", "gauge")
    ('7 min', '1900 psi')
    """
    plain = " ".join(text.split())
    if _BARE.fullmatch(plain):
        plain += UNIT_WHEN_BARE.get(kind, "")
    plain = _CLOSE.sub(r"\1 \2", plain)
    try:
        quantities.parse(plain, kind)
    except quantities.QuantityError as error:
        raise AnswerError(error.found, error.allowed, error.fix) from None
    return plain


def choice(text: str, options: Sequence[tuple[str, str]]) -> str:
    """One of a few words, by its number from 1, the word, or the beginning of what it means. Raises `AnswerError`.

    `options` are words with what they mean.
    """
    wanted = text.casefold().replace("-", "_").replace(" ", "_")
    if wanted.isdecimal() and 1 <= int(wanted) <= len(options):
        return options[int(wanted) - 1][0]
    found = [word for word, meaning in options if wanted == word or wanted == meaning.casefold().replace(" ", "_")]
    found = found or [word for word, meaning in options if wanted and word.startswith(wanted)]
    if len(found) == 1:
        return found[0]
    listed = ", ".join(f"{number} {meaning}" for number, (_, meaning) in enumerate(options, 1))
    raise AnswerError(f"`{shown(text)}`", listed, "type the number or the word")


def number(text: str) -> int:
    """A whole number from 1 on. Raises `AnswerError`."""
    if not (text.isascii() and text.isdecimal() and 1 <= int(text) <= MOST):
        raise AnswerError(
            f"`{shown(text)}`", f"a whole number from 1 to {MOST}", "count those that are with the cylinders"
        )
    return int(text)


def places(text: str) -> tuple[str, ...]:
    """The places of a trip in order, two at least; `back` at the end is the first place again. Raises `AnswerError`.

    >>> places("ward to scan and back")
    ('ward', 'scan', 'ward')
    """
    found = [" ".join(part.split()) for part in _PLACES.split(text)]
    if len(found) < 2 or not all(found):
        raise AnswerError(
            f"`{shown(text)}`",
            "two or more places in order, with commas",
            "write from where to where, as in: ward, scanner, back",
        )
    if found[-1].casefold() == "back":
        found[-1] = found[0]
    return tuple(found)


@dataclass(frozen=True, slots=True)
class LegAnswer:
    """How long a leg takes, and what was said beside."""

    duration: str
    delays: tuple[tuple[str, str], ...] = ()
    """Reason and time of each wait."""
    longest: str | None = None
    wall: bool = False
    magnet: bool = False
    outside: bool = False
    """Said to stay out of the magnet room that the leg is called after."""


def leg(text: str) -> LegAnswer:
    """The time of a leg with its waits: `7 + 3 lift, longest 15`, `40 magnet`, `8 wall`. Raises `AnswerError`.

    >>> leg("7 + 3 lift").delays
    (('lift', '3 min'),)
    """
    first, *rest = _PARTS.split(" ".join(text.split()))
    duration, words = _time_and_words(first)
    rest = [*(word for word in words.split() if word.casefold() not in _BESIDE), *rest]
    delays: list[tuple[str, str]] = []
    longest: str | None = None
    flags: set[str] = set()
    for part in rest:
        word = part.casefold().removeprefix("in ").removeprefix("the ").removesuffix(" room")
        if word in ("wall", *_MAGNET):
            flags.add("magnet" if word in _MAGNET else "wall")
        elif found := _LONGEST.match(part):
            longest = quantity(part[found.end() :], "duration")
        else:
            delays.append(_delay(part))
    return LegAnswer(duration, tuple(delays), longest, "wall" in flags, "magnet" in flags)


def _time_and_words(part: str) -> tuple[str, str]:
    match = _TIME.match(part)
    words = part[match.end() :].strip() if match else ""
    if match is None or not all(word.casefold() in ("wall", *_MAGNET, *_BESIDE) for word in words.split()):
        return quantity(part, "duration"), ""
    return quantity(match.group(), "duration"), words


def _delay(part: str) -> tuple[str, str]:
    """A wait: time and reason in either order."""
    first = _TIME.match(part)
    last = re.search(rf"(?:^| )({_TIME.pattern})$", part)
    time, reason = "", ""
    if first is not None and first.end() < len(part) and part[first.end()] == " ":
        time, reason = first.group(), part[first.end() :].strip()
    elif last is not None:
        time, reason = last.group(1), part[: last.start()].strip()
    if not time or not reason:
        allowed = "a wait with its reason, `longest` with a time, `wall`, or `magnet`"
        raise AnswerError(f"`{shown(part)}`", allowed, "write for example 7 + 3 lift, or 55 + 10 loading, longest 80")
    return reason, quantity(time, "duration")
