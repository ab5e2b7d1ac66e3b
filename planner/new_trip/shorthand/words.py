"""The words of a line and what each stands for; what the trade calls a device or a setting comes from the schema.

A word that may mean two things is left out on purpose, so that it is asked about: a bare `mask`, `bag` or `trach`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any, Final, NamedTuple

from planner.trade.catalog import device_types, settings
from planner.trade.schemas import schema


class Word(NamedTuple):
    """What a word or phrase stands for: the letter of its kind in the grammar, and a value."""

    kind: str
    value: str


DEVICE, DRIVE, SETTING, KEY, WAIT, LEG = "D", "d", "E", "K", "W", "Q"
FLOWMETER, HIGH_PRESSURE, LONGEST, FLAG, EACH, CABIN = "O", "o", "X", "M", "U", "A"
MAIN, BEHIND, SAFE, READS, COUNT, NOISE, PLUS = "J", "B", "m", "r", "C", " ", "+"

NOT_HERE: Final = "?"
OTHER_GAS: Final = (
    "air or another gas is never counted as oxygen; cylinders of air are asked for with the device that takes air"
)
"""Words whose value says why a line cannot say that."""

WHICH_MASK: Final = "mask"
"""A device word that says too little."""

_OF_THE_TRADE: Final[Mapping[str, Mapping[str, tuple[str, ...]]]] = {
    SETTING: {
        "in_house": (
            *("in house", "inhouse", "in hospital", "inside the hospital", "intrahospital", "within the hospital"),
        ),
        "road": ("by road", "by ground", "ground", "ground transport", "by ambulance", "ambulance", "road transfer"),
        "air": ("by air", "by helicopter", "helicopter", "by plane", "by fixed wing", "fixed wing", "rotor wing"),
    },
    DRIVE: {
        "electric": ("electric", "turbine"),
        "pneumatic": ("gas driven", "gas powered", "pneumatic"),
    },
    LEG: {
        "walk": ("walk", "walking", "on foot"),
        "load": ("load", "loading"),
        "road": ("road", "drive", "driving"),
        "fly": ("flight", "flying"),
        "unload": ("unload", "unloading"),
        "stay": ("stay", "staying", "scan", "scanning"),
        "there": ("there", "way there"),
        "back": ("back", "way back"),
    },
    WAIT: {
        word: (word,)
        for word in (
            *("lift", "elevator", "traffic", "bridge", "roadworks", "handover", "wait", "waiting", "delay", "hold"),
            *("queue", "customs", "security", "weather", "refuelling", "bed not ready"),
        )
    },
    FLAG: {
        "magnet": ("magnet", "magnet room", "mri room", "mr room"),
        "wall": ("wall", "on the wall", "wall oxygen"),
    },
    FLOWMETER: {"flowmeter": ("flowmeter", "flow meter")},
    HIGH_PRESSURE: {
        "50 psi": (
            *("50 psi outlet", "50 psi port", "50 psi connection", "4 bar outlet", "high pressure outlet"),
            *("high pressure port", "diss", "diss outlet"),
        )
    },
    LONGEST: {"longest": ("longest", "at most", "max", "maximum", "worst", "worst case")},
    EACH: {"each": ("each", "both")},
    CABIN: {"cabin": ("cabin", "cabin altitude")},
    MAIN: {"main": ("main", "on board", "onboard", "ambulance main", "ambulance oxygen")},
    BEHIND: {"behind": ("behind", "behind it", "standby", "stands by", "standing by")},
    SAFE: {"safe": ("magnet safe", "mri safe", "mr safe")},
    READS: {"reads": ("reads", "reading")},
    COUNT: {"2": ("two",), "3": ("three",), "4": ("four",)},
    PLUS: {"+": ("plus", "and")},
    NOT_HERE: {
        OTHER_GAS: ("air", "room air", "medical air", "compressed air", "air cylinder", "air cylinders", "air tank"),
        "a line has no room for liquid oxygen: it stands in the request form, or as `liquid` in a profile": (
            *("liquid", "liquid oxygen", "lox", "vessel", "liquid vessel", "dewar"),
        ),
        "how long a battery lasts is asked for with its device": ("battery", "batteries", "on battery"),
    },
    NOISE: {
        "": (
            *("on", "at", "with", "the", "a", "an", "is", "set", "for", "of", "pt", "patient", "oxygen", "o2", "gauge"),
            *("cylinder", "cylinders", "tank", "tanks", "bottle", "bottles", "size"),
        )
    },
}
"""Common practice, no source."""

_TOO_LITTLE: Final = frozenset(
    {"bag", "tracheostomy", "respirator", "simple", "volume", "o2", "oxygen", "lpm", "pulse"}
)
"""Names of the schema that say too little in a line, where no key stands before them."""


@cache
def words() -> Mapping[str, Word]:
    """Every phrase in small letters, without hyphens, with what it stands for."""
    found: dict[str, Word] = {WHICH_MASK: Word(DEVICE, WHICH_MASK), "face mask": Word(DEVICE, WHICH_MASK)}
    for kind, name, called in _of_schema():
        for text in called:
            if plain(text) not in _TOO_LITTLE:
                found[plain(text)] = Word(kind, name)
    for kind, meanings in _OF_THE_TRADE.items():
        for value, phrases in meanings.items():
            found.update(dict.fromkeys(phrases, Word(kind, value)))
    return found


def plain(text: str) -> str:
    """A phrase in small letters with single blanks in place of hyphens and underscores."""
    return " ".join(text.casefold().replace("-", " ").replace("_", " ").split())


def _of_schema() -> Iterator[tuple[str, str, tuple[str, ...]]]:
    rules: Mapping[str, Any] = schema("profile")["$defs"]["device"]["properties"]
    called: Mapping[str, list[str]] = rules["type"]["x-called"]
    for name in device_types():
        if name != "fixed_flow":
            yield DEVICE, name, (name, *called.get(name, ()))
    for key, setting in settings().items():
        if setting.unit and setting.kind in ("flow", "volume", "rate", "fraction"):
            names = rules[key].get("x-called", ())
            yield KEY, key, (key, *names)
