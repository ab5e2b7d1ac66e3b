"""What the crew wrote down on the way and at the end, as frozen plain data.

Units stand in the names; minutes count from departure. `planner.readings` fills these classes from a file that it
has checked against the plan. A manifold has one gauge: it is named by all its labels with plus signs between.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal, NamedTuple

from planner.model import Trip
from planner.problems import NOWHERE, Position
from planner.results import Plan

Value = float | str | None


@dataclass(frozen=True, slots=True)
class SettingsChange:
    """Settings of one device from then on: values by field of `planner.model.Device`."""

    device: str
    values: tuple[tuple[str, Value], ...]


class BatteryRead(NamedTuple):
    """What a battery shows, as typed: a share of full from the lowest to the highest that it may stand for, or minutes.

    A percentage stands for itself; of lamps, `3 of 5` is 0.4 to 0.6.
    """

    text: str
    lowest_share: float = 0.0
    highest_share: float = 0.0
    minutes: float | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the log.

    `gauge_text` is the gauge as typed, `read_to_kpa` how closely it was read, to either side. `to_the_minute` is True
    where the time is known to a whole minute only. `leg` counts from 0. `in_use` False: read without being in use.
    `amount_kg`: what a vessel of liquid holds. `wait` and `waited_min`: a wait that is over, its reason and length.
    `battery`: what the battery of `device` shows. `change_to`: went on when this cylinder came off. `refilled`: it was
    filled on the way, and this is its gauge since; what it held before has no bearing on it. `moment` is the clock time
    where a departure is known.
    """

    minute: float
    supply: str | None = None
    cylinder: str | None = None
    gauge_kpa: float | None = None
    gauge_text: str = ""
    read_to_kpa: float = 0.0
    temperature_degc: float | None = None
    amount_kg: float | None = None
    device: str | None = None
    battery: BatteryRead | None = None
    flow_l_per_min: float | None = None
    settings: tuple[SettingsChange, ...] = ()
    leg: int | None = None
    at: Literal["start", "end"] | None = None
    in_use: bool = True
    refilled: bool = False
    change_to: str | None = None
    wait: str | None = None
    waited_min: float = 0.0
    to_the_minute: bool = True
    moment: datetime | None = None
    note: str = ""
    where: Position = NOWHERE


@dataclass(frozen=True, slots=True)
class LastGauge:
    """The last gauge of one cylinder, and whether it was said to be shut and bled, or to have been refilled since.

    `refilled`: the gauge is the one after filling, and what was left of the trip is not known. `refilled_to` is the
    gauge after filling, as typed, where the gauge before it is known too; empty for none.
    """

    supply: str
    cylinder: str
    gauge_kpa: float
    gauge_text: str
    read_to_kpa: float
    shut_and_bled: bool
    temperature_degc: float | None = None
    refilled: bool = False
    refilled_to: str = ""
    where: Position = NOWHERE

    @property
    def was_filled(self) -> bool:
        """True where it was filled after the trip."""
        return self.refilled or bool(self.refilled_to)

    @property
    def stands_text(self) -> str:
        """The gauge that it stands at now, as typed."""
        return self.refilled_to or self.gauge_text


@dataclass(frozen=True, slots=True)
class Closing:
    """The end of a trip. `minute` is when the last gauges were read; `ended_min` when the patient came off, if told.

    `ran_out`: the crew say that oxygen ran out, or that the trip was cut short for lack of it.
    """

    minute: float
    last: tuple[LastGauge, ...]
    ended_min: float | None = None
    ran_out: bool = False
    to_the_minute: bool = True
    moment: datetime | None = None
    where: Position = NOWHERE


@dataclass(frozen=True, slots=True)
class Logbook:
    """Everything read from one file: entries in the order of time, and the closing of the trip, if it is closed.

    `printed_from` is the plan that the log belongs to, where that is not the one it is held against: an older print
    than that of the trip `asked` for, or the same that left at another time than was planned (`planned_departs`).
    """

    entries: tuple[Entry, ...]
    closing: Closing | None = None
    trip: str | None = None
    fingerprint: str | None = None
    file: str = ""
    printed_from: Plan | None = None
    asked: Trip | None = None
    planned_departs: datetime | None = None

    @property
    def tells_flows(self) -> bool:
        """True where a flow was read, or a setting changed."""
        return any(entry.flow_l_per_min is not None or entry.settings for entry in self.entries)

    @property
    def last_min(self) -> float:
        """Elapsed minute of the last entry, never before departure."""
        return max([0.0, *(entry.minute for entry in self.entries)])
