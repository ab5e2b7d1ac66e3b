"""What a course through tanks would be if its flow had changed a little sooner or later.

For as long as the same tanks follow on one another, the litres of each and the minute of each change are linear in the
minute at which the flow changed. A tank that is emptied hands its share on to the one that follows it: if it lasts
longer, the other is drawn from so much less.

It is here for speed: without it a search for the worst minute follows every minute that it halves to by itself, and
finds the same, but a trip of 20 legs with 16 cylinders whose outlets differ takes some five times as long to plan:
several seconds in place of one.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

from planner.constants import LITRE_NOISE


class Drift:
    """Litres that each tank has more, for each minute that the flow changes later: `litres`, by tank.

    `low` and `high` are how much sooner and later it may change, minutes, with the same tanks in the same order.
    `rates` are the minutes by which each turn since begins later, for each minute; `rate` is that of the present
    moment.
    """

    def __init__(self, *, begins: bool) -> None:
        """`begins`: the flow that follows begins when the flow changes, and later if that is later."""
        self.litres: dict[int, float] = {}
        self.low, self.high = -inf, inf
        self.rate = 1.0 if begins else 0.0
        self.rates: list[float] = []
        self.begins = begins

    def copy(self) -> Drift:
        """The same, to be followed apart."""
        other = Drift(begins=self.begins)
        other.__dict__.update(self.__dict__, litres=self.litres.copy(), rates=self.rates.copy())
        return other

    def no_further_than(self, other: Drift) -> None:
        """Holds only where another one holds too."""
        self.low, self.high = max(self.low, other.low), min(self.high, other.high)

    def left_off(self, tank: int, flow_l_per_min: float, left_l: float) -> None:
        """The flow before was drawn from a tank until it changed: later, it has taken more."""
        self.litres[tank] = self.litres.get(tank, 0.0) - flow_l_per_min
        self.lasted(tank, left_l)

    def changes_again(self, tank: int | None, flow_l_per_min: float, left_l: float) -> None:
        """The flow changes once more, as long after the first change as before: what it was has been drawn longer."""
        self.rate = 1.0
        self.begins = True
        if tank is not None and flow_l_per_min > 0.0:
            self.left_off(tank, flow_l_per_min, left_l)

    def _stays_above(self, margin: float, slope: float) -> None:
        """Holds `low` and `high` where margin + slope x minutes is above zero."""
        if slope > 0.0:
            self.low = max(self.low, -max(0.0, margin) / slope)
        elif slope < 0.0:
            self.high = min(self.high, -max(0.0, margin) / slope)

    def drawn(self, tank: int | None, flow_l_per_min: float) -> None:
        """What begins when the flow changes takes less if that is later."""
        if tank is not None:
            self.litres[tank] = self.litres.get(tank, 0.0) + flow_l_per_min
        self.begins = False

    def lasted(self, tank: int, left_l: float) -> None:
        """A tank that lasts must go on to do so.

        One that is just emptied leaves no room: with a little more it would still be in use, with less not last.
        """
        slope = self.litres.get(tank, 0.0)
        self._stays_above(left_l - LITRE_NOISE, slope)
        if slope and left_l <= LITRE_NOISE:
            self.low = self.high = 0.0

    def emptied(self, tank: int, lacking_l: float, flow_l_per_min: float) -> None:
        """A tank that does not last must go on not to, and is empty so much later."""
        slope = self.litres.get(tank, 0.0)
        self._stays_above(lacking_l - LITRE_NOISE, -slope)
        self.rate = slope / flow_l_per_min

    def handed_on(self, emptied: int, follower: int | None) -> None:
        """What the emptied tank would give more, the one that follows it gives less."""
        slope = self.litres.pop(emptied, 0.0)
        if follower is not None and slope:
            self.litres[follower] = self.litres.get(follower, 0.0) + slope

    def compared(self, left: Sequence[float], least_l: float, flow_l_per_min: float) -> None:
        """Tanks with more than a no-change stretch draws must go on to have more, those with less to have less."""
        draw = -flow_l_per_min if self.begins else 0.0
        for tank in range(len(left)) if draw else self.litres:
            margin, slope = left[tank] - least_l, self.litres.get(tank, 0.0) - draw
            if margin >= 0.0:
                self._stays_above(margin, slope)
            else:
                self._stays_above(-margin, -slope)
