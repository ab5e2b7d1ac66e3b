"""A line cut into parts, and each part into tokens: values with their units, words that are known, and the rest."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final, NamedTuple

from planner.naming import of_another_gas
from planner.new_trip.shorthand.words import MAIN, NOISE, NOT_HERE, OTHER_GAS, PLUS, plain, words
from planner.text import quantities
from planner.trade.catalog import clashing, same_code

GAUGE, FLOW, LITRES, VOLUME, SHARE, RATE, TIME, ALTITUDE = "G", "F", "L", "V", "P", "R", "T", "Z"
NUMBER, SIZE, LETTER, LABEL, ASIDE, UNKNOWN = "N", "S", "s", "Y", "a", "?"
MOST_LETTERS: Final = 500
_LONGEST_PHRASE: Final = 4

_AND: Final = r"\band\b(?! a (?:half|quarter)| back\b| [0-9]{1,2} ?min)|&"
_AT_COMMA = re.compile(rf"\s*(?:,(?![0-9])|,(?<![0-9],)|;|\n|\.(?=\s|$)|{_AND})\s*", re.IGNORECASE)
_NUMBER: Final = r"[0-9]+(?:[.,][0-9]+)?"
_UNITS: Final = (
    (GAUGE, "psi", "psig|psi"),
    (GAUGE, "bar", "bars?"),
    (GAUGE, "kPa", "kpa"),
    (GAUGE, "MPa", "mpa"),
    (FLOW, "mL/min", "ml ?/ ?min"),
    (FLOW, "L/min", "l ?/ ?min|lpm|l per min|(?:litre|liter)s? (?:per|a) minute"),
    (VOLUME, "mL", "mls?|cc"),
    (SHARE, "%", "%|percent|pct"),
    (RATE, "/min", "/ ?min|bpm|breaths ?/ ?min|breaths per minute"),
    (ALTITUDE, "ft", "ft|feet"),
    (LITRES, "L", "(?:litre|liter)s?|l"),
)
_TIMES: Final = (
    r"[0-9]+ ?(?:h|hrs?|hours?) ?(?:and )?[0-9]{1,2}(?: ?(?:min|mins|minutes?))?",
    r"[0-9]+(?:[.,][0-9]+)? ?(?:mins?|minutes?|h|hrs?|hours?)",
    r"(?:[0-9]+ )?[1-3]/[2-4] ?(?:h|hrs?|hours?)",
    r"(?:half|quarter of|three quarters of) an hour|half hour|an hour(?: and a (?:half|quarter))?",
)
_TIME = re.compile(rf"(?:{'|'.join(_TIMES)})\.?(?![\w/])", re.IGNORECASE)
_VALUE = re.compile(
    rf"(?P<number>{_NUMBER})(?:\s?(?:{'|'.join(f'(?P<u{place}>{unit})' for place, (_, _, unit) in enumerate(_UNITS))})"
    r"(?![\w/%]))?",
    re.IGNORECASE,
)
_ODD = re.compile(
    r"[<>~]?\s?[0-9][0-9.,]*(?:\s?(?:-|\u2013|/|:|x|\bto\b)\s?[0-9][0-9.,]*)+[^\s,;]*|[<>~+-]\s?[0-9]\S*", re.IGNORECASE
)
"""Ranges, fractions, clock times, products: never one number."""
_ASIDE = re.compile(r"(?:peep|spo2|sats?|ps)(?: of)? ?[0-9]+(?:\.[0-9]+)?(?: ?(?:%|cm ?h2o))?(?![\w/%])", re.IGNORECASE)
_SIZE = re.compile(r"(?:US|UK|ISO)[- ][A-Z]*[0-9]*(?![\w])", re.IGNORECASE)
_COUNT = re.compile(r"([2-9]) ?x(?= )", re.IGNORECASE)
_PLAINLY: Final = ((_ODD, UNKNOWN, "this is not one number"), (_ASIDE, ASIDE, ""), (_COUNT, "C", ""))
"""What a pattern alone tells: the kind of the token, and why it is not understood."""

_LABEL = re.compile(r"([A-Za-z][\w-]*):\s+")
_WORD = re.compile(r"[^\s,;+]+")


class Token(NamedTuple):
    """One value or word: the letter of its kind, as typed, and its value in the form in which a profile has it."""

    kind: str
    text: str
    value: str = ""
    why: str = ""
    """Why it is not understood, where that can be said."""


def parts(line: str) -> Iterator[str]:
    """The parts of a line between commas and their like; a comma between two digits parts nothing."""
    yield from filter(None, (part.strip() for part in _AT_COMMA.split(line)))


def tokens(part: str) -> tuple[Token, ...]:
    """The tokens of a part in their order, without words that say nothing, such as `on` and `at`."""
    found: list[Token] = []
    place = 0
    text = re.sub(r"\s+", " ", part)
    while place < len(text):
        if text[place] == " ":
            place += 1
            continue
        token, place = _next(text, place)
        if token.kind != NOISE:
            found.append(token)
    return tuple(found)


def _next(text: str, place: int) -> tuple[Token, int]:
    if text[place] == "+":
        return Token(PLUS, "+"), place + 1
    for read in (_label, _time, _phrase, _plainly, _size, _value, _letter):
        found = read(text, place)
        if found is not None:
            return found
    match = _WORD.match(text, place)
    end = match.end() if match else place + 1
    return Token(UNKNOWN, text[place:end]), end


def _phrase(text: str, place: int) -> tuple[Token, int] | None:
    """The longest phrase of the vocabulary that begins here."""
    rest = text[place:]
    ends = [match.end() for match in re.finditer(r"[^\s,;+]+", rest)][:_LONGEST_PHRASE]
    for end in reversed(ends):
        word = words().get(plain(rest[:end].rstrip(".")))
        if word is not None and not rest[end : end + 1].isalnum():
            value, why = ("", word.value) if word.kind == NOT_HERE else (word.value, "")
            return Token(word.kind, rest[:end], value, why), place + end
    return None


def _time(text: str, place: int) -> tuple[Token, int] | None:
    match = _TIME.match(text, place)
    if match is None:
        return None
    typed = match.group()
    if "," in typed:
        return Token(UNKNOWN, typed, why="a comma inside a time may part two values"), match.end()
    try:
        quantities.parse(typed, "duration")
        meant = typed
    except quantities.QuantityError as error:
        if len(error.mends) != 1:
            return Token(UNKNOWN, typed, why=error.fix), match.end()
        meant = error.mends[0]
    return Token(TIME, typed, re.sub(r"(?<=[0-9])(?=[a-z])", " ", meant)), match.end()


def _plainly(text: str, place: int) -> tuple[Token, int] | None:
    for pattern, kind, why in _PLAINLY:
        match = pattern.match(text, place)
        if match is not None:
            return Token(kind, match.group(), "" if why else match[match.lastindex or 0], why), match.end()
    return None


def _size(text: str, place: int) -> tuple[Token, int] | None:
    match = _SIZE.match(text, place)
    if match is None:
        return None
    code = same_code(match.group())
    if code is None:
        return Token(UNKNOWN, match.group(), why="no size of the catalogue has this code"), match.end()
    return Token(SIZE, match.group(), code), match.end()


def _value(text: str, place: int) -> tuple[Token, int] | None:
    match = _VALUE.match(text, place)
    if match is None or text[match.end() : match.end() + 1].isalnum():
        return None
    number, typed = match["number"], match.group()
    whole, mark, decimals = re.match(r"([0-9]+)([.,]?)([0-9]*)", number).groups()  # type: ignore[union-attr]
    if mark and len(decimals) == 3 and not whole.startswith("0"):
        why = "the mark before three digits may part thousands, or be a decimal mark"
        return Token(UNKNOWN, typed, why=why), match.end()
    metres = re.match(r" ?m(?![\w/])", text[match.end() :], re.IGNORECASE)
    if metres is not None:
        end = match.end() + metres.end()
        return Token(UNKNOWN, text[place:end], why="m may be minutes or metres"), end
    number = number.replace(",", ".")
    for index, (kind, unit, _) in enumerate(_UNITS):
        if match[f"u{index}"] is not None:
            return Token(kind, typed, f"{number} {unit}"), match.end()
    if mark == ",":
        why = "a comma between two numbers may be a decimal mark, or part two values"
        return Token(UNKNOWN, typed, why=why), match.end()
    return Token(NUMBER, typed, number), match.end()


def _label(text: str, place: int) -> tuple[Token, int] | None:
    match = _LABEL.match(text, place)
    if match is None:
        return None
    word = words().get(plain(match[1]))
    if word is not None and word.kind == MAIN:
        return Token(MAIN, match.group(), word.value), match.end()
    if of_another_gas(match[1]):
        return Token(UNKNOWN, match.group(), why=OTHER_GAS), match.end()
    return Token(LABEL, match.group(), match[1]), match.end()


def _letter(text: str, place: int) -> tuple[Token, int] | None:
    """The letter of a size without its system."""
    match = _WORD.match(text, place)
    if match is None or not clashing(match.group()):
        return None
    return Token(LETTER, match.group(), match.group().upper()), match.end()
