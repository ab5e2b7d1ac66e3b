"""What has come of a flow through tanks, as plain data: turns, changes, and the state at each start and end.

`planner.cylinders.course` works it out.
"""

from __future__ import annotations

from typing import NamedTuple


class TankTurn(NamedTuple):
    """A tank in use from one minute to another, with its usable litres at both."""

    tank: int
    from_min: float
    to_min: float
    start_l: float
    end_l: float


class TankChange(NamedTuple):
    """A change of tank, with what the old one still had. `early`: brought forward to keep a stretch free.

    `kept`: the old one would have lasted through the stretch, and is kept for a later leg.
    """

    minute: float
    leg: int
    from_tank: int
    to_tank: int
    left_l: float
    early: bool
    inside_stretch: bool
    kept: bool = False


class Moment(NamedTuple):
    """The state at the start or the end of a segment; `tank` None where oxygen has run out."""

    minute: float
    leg: int
    at_start: bool
    flow_l_per_min: float
    tank: int | None
    left_l: tuple[float, ...]


class Course(NamedTuple):
    """The course of a flow through tanks. `out_min` is the minute at which no tank is left, None where none."""

    turns: tuple[TankTurn, ...]
    changes: tuple[TankChange, ...]
    moments: tuple[Moment, ...]
    left_l: tuple[float, ...]
    out_min: float | None
    out_leg: int | None
    order: tuple[int, ...]
    """Tanks in the order in which they would be used at the end: one brought forward stands first."""
    way: tuple[int, ...] = ()
    """What was chosen wherever there was a choice (`Underway.way`)."""
    kept: bool = False
    """The first in order would have lasted through a stretch at departure, and is kept for a later leg."""


NO_COURSE = Course((), (), (), (), None, None, ())
"""Of a supply of which nothing is known, or nothing drawn."""
