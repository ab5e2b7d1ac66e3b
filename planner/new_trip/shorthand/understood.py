"""What a line says, as plain data: a field for each topic, and the doubts about each."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final, NamedTuple

from planner.text.text_file import shown

SETTING, ROUTE, DEVICE, TIMES = "setting", "route", "device", "times"
CYLINDERS, OUTLETS, CABIN, UNCLEAR = "cylinders", "outlets", "cabin", "unclear"

_SAID_OF: Final = {
    SETTING: ("setting",),
    ROUTE: ("route",),
    DEVICE: ("devices",),
    TIMES: ("legs",),
    CYLINDERS: ("cart", "vehicle"),
    OUTLETS: ("outlets",),
    CABIN: ("cabin",),
    UNCLEAR: (),
}
"""The fields of `Said` by topic, the one that must be said first."""


class Unsure(NamedTuple):
    """What is not sure: which topic is asked about, the part as typed, why, and how to say it."""

    topic: str
    part: str
    why: str
    fix: str

    def __str__(self) -> str:
        return f"`{shown(self.part)}`: {self.why}. To mend it: {self.fix}."


class SaidDevice(NamedTuple):
    """A device by its type, its settings as texts of a profile, and its name in the service's list."""

    type: str
    name: str
    settings: tuple[tuple[str, str], ...]


class SaidLeg(NamedTuple):
    """A leg: what moves it, where that was said, and its time as an answer of the interview."""

    kind: str
    time: str


@dataclass(slots=True)
class Said:
    """What a line says, field by field, and its doubts. An empty field was not said, or is in doubt."""

    line: str
    setting: str = ""
    route: tuple[str, ...] = ()
    devices: list[SaidDevice] = field(default_factory=list)
    legs: list[SaidLeg] = field(default_factory=list)
    cart: list[str] = field(default_factory=list)
    vehicle: list[str] = field(default_factory=list)
    outlets: list[str] = field(default_factory=list)
    cabin: str = ""
    asides: list[str] = field(default_factory=list)
    doubts: list[Unsure] = field(default_factory=list)

    def doubt(self, topic: str, part: str, why: str, fix: str) -> None:
        """One more doubt."""
        self.doubts.append(Unsure(topic, part, why, fix))

    @property
    def asked(self) -> tuple[str, ...]:
        """The topics in doubt, each once."""
        return tuple(dict.fromkeys(doubt.topic for doubt in self.doubts))

    def of(self, topic: str) -> object:
        """What is said of a topic, in its first field."""
        return getattr(self, _SAID_OF[topic][0])

    def forget(self, *topics: str) -> None:
        """Takes back what was said of topics in doubt: all of each is asked."""
        empty = Said(self.line)
        for name in (name for topic in topics for name in _SAID_OF[topic]):
            setattr(self, name, getattr(empty, name))
