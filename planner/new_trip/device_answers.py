"""The settings of a device in one answer: `4 L/min`, `450 mL 16/min 60 %`, `minute_volume 8 L/min`.

A value goes to the one key that its unit fits; where several would fit, the key stands before it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from planner.new_trip.answers import AnswerError, choice, quantity
from planner.profile.limits import LIMITS
from planner.profile.meant import trade_names
from planner.text import quantities
from planner.text.spelling import letters
from planner.text.text_file import shown
from planner.trade.catalog import DeviceType, settings
from planner.trade.schemas import schema

_MEASURED: Final = ("flow", "volume", "rate", "fraction")
_BY_NAME_ALONE: Final = ("bleed",)
"""What is never meant by its unit alone: a flow beside the flow."""

_UNIT: Final = r"[A-Za-z]+/[A-Za-z]+|/ *[A-Za-z]+|%|[A-Za-z]+\b"
_VALUE = re.compile(rf"(?:(?P<key>[a-z][a-z_0-9]*)[ :=]+)?(?P<value>[0-9](?:[0-9.,:]*[0-9])?(?: *(?:{_UNIT}))?)[ ,]*")


def device_settings(text: str, kind: DeviceType) -> dict[str, str]:
    """Every setting named in an answer, by its key, with its unit. Raises `AnswerError`.

    The first way to set the device counts in which each value has one place.
    """
    told = _told(" ".join(text.split()), kind)
    names = [key for key, _ in told if key]
    twice = next((key for key in names if names.count(key) > 1), None)
    if twice is not None:
        raise AnswerError(f"`{shown(twice)}` twice", "each setting once", "write it once")
    could: list[str] = []
    unclear = ""
    for way in kind.needs:
        keys = (*way, *kind.optional)
        named = {key: value for key, value in told if key}
        if "rule" in way or not set(named) <= set(keys):
            continue
        found, value, doubtful = _placed([value for key, value in told if not key], keys, named)
        if found is not None:
            return {key: quantity(value, settings()[key].kind) for key, value in found.items()}
        if doubtful and unclear in ("", value):
            could, unclear = [*could, *doubtful], value
    if could:
        bare = " without a unit" if unclear.replace(".", "").isdigit() else ""
        raise AnswerError(
            f"`{shown(unclear)}`{bare}, which could be {' or '.join(dict.fromkeys(could))}",
            "each value with its unit, and the name before it where several fit",
            f"write its name before it, as in {could[0]} {unclear} if it is that",
        )
    raise next(_refusals(told, kind), AnswerError(f"`{shown(text)}`", settings_in_words(kind), "write each once"))


def asked_setting(text: str, kind: DeviceType, asked: str) -> dict[str, str]:
    """The answer to the question for one key: its value, or what takes its place. Raises `AnswerError`.

    Where the minute volume is asked, `450 mL 16/min` is an answer too.
    """
    what = settings()[asked]
    if what.kind == "choice":
        return {asked: choice(text, [(word, word) for word in what.choices])}
    try:
        value = quantity(text, what.kind)
    except AnswerError:
        try:
            others = device_settings(text, kind)
        except AnswerError:
            others = {}
        if asked in others or any(asked not in way and set(others) & set(way) - _shared(kind) for way in kind.needs):
            return others
        raise
    limit = LIMITS.get(asked)
    if limit is not None and not limit.holds(quantities.parse(value, what.kind)):
        raise AnswerError(f"{asked} `{shown(value)}`", limit.allowed, f"write what is set, as in {what.example}")
    return {asked: value}


def may_be_zero(key: str) -> bool:
    """True where 0 is within the range of a setting: a leak may be none, a breath may not."""
    limit = LIMITS.get(key)
    return limit is not None and limit.holds(0.0)


def settings_in_words(kind: DeviceType) -> str:
    """What can be set on a device, as a phrase."""
    keys = [key for key in kind.keys if settings()[key].kind in _MEASURED]
    return ", ".join(f"{key} (as in {settings()[key].example})" for key in keys) or "no settings"


def _shared(kind: DeviceType) -> set[str]:
    """The keys that every way to set a device has."""
    return set.intersection(*map(set, kind.needs))


def _told(text: str, kind: DeviceType) -> list[tuple[str, str]]:
    """Pairs of key, empty where none was told, and value."""
    found: list[tuple[str, str]] = []
    place = 0
    while place < len(text):
        match = _VALUE.match(text, place)
        if match is None:
            raise AnswerError(f"`{shown(text[place:])}`", settings_in_words(kind), "write each value with its unit")
        key = _named(match["key"] or "", match["value"], kind)
        if key and (key not in kind.keys or settings()[key].kind not in _MEASURED):
            raise AnswerError(f"`{shown(key)}` on a {kind.title}", settings_in_words(kind), "write one of these")
        found.append((key, match["value"]))
        place = match.end()
    return found


def _named(key: str, value: str, kind: DeviceType) -> str:
    """The key that a name stands for: itself, or what the trade calls the one that such a value fits."""
    if not key or key in kind.keys:
        return key
    rules = schema("profile")["$defs"]["device"]["properties"]
    meant = [other for other in kind.keys if letters(key) in trade_names(rules[other]) and _fits(value, other)]
    return meant[0] if len(meant) == 1 else key


def _placed(
    values: Sequence[str], keys: Sequence[str], named: Mapping[str, str]
) -> tuple[dict[str, str] | None, str, list[str]]:
    """Each value at the one key that its unit fits; None, the value and the keys that fit, where that is not so."""
    found = dict(named)
    for value in values:
        fitting = [key for key in keys if key not in found and key not in _BY_NAME_ALONE and _fits(value, key)]
        if len(fitting) != 1:
            return None, value, fitting
        found[fitting[0]] = value
    return found, "", []


def _fits(value: str, key: str) -> bool:
    what = settings()[key]
    if what.kind not in _MEASURED:
        return False
    try:
        quantity(value, what.kind)
    except AnswerError:
        return False
    return True


def _refusals(told: Sequence[tuple[str, str]], kind: DeviceType) -> Iterator[AnswerError]:
    """Why a value is none of the settings that it might have been, for the first value that is none."""
    for key, value in told:
        keys = [key] if key else [other for other in kind.keys if settings()[other].kind in _MEASURED]
        if not any(_fits(value, other) for other in keys):
            for other in keys:
                try:
                    quantity(value, settings()[other].kind)
                except AnswerError as error:
                    yield error
