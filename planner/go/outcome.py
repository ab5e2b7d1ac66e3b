"""How a case ends, and which of several is the worst: the one number that ranks them all.

It is the minute at which oxygen would end if the last flow never ended, counted from the end of the case, failing or
not; the earliest is the worst, and of equal ones the one that begins first.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import reduce
from math import inf
from typing import NamedTuple

from planner.constants import MINUTE_NOISE


class Outcome(NamedTuple):
    """How a case ends on some tanks: begun at `from_min`, over at `end_min` with `left_l` unless it ran out before."""

    from_min: float
    out_min: float | None
    out_leg: int | None
    left_l: float
    last_flow_l_per_min: float
    end_min: float

    @property
    def holds(self) -> bool:
        """True where oxygen lasts to the end."""
        return self.out_min is None

    @property
    def ends_min(self) -> float:
        """The elapsed minute at which oxygen would end if the last flow never ended, `inf` where nothing is drawn."""
        if self.out_min is not None:
            return self.out_min
        return self.end_min + self.left_l / self.last_flow_l_per_min if self.last_flow_l_per_min > 0.0 else inf

    def worse_than(self, other: Outcome) -> bool:
        """True where it ends earlier after the end of its case, or longer before it, by more than rounding noise."""
        own, others = self.ends_min - self.end_min, other.ends_min - other.end_min
        return own < others - MINUTE_NOISE


def worst(found: Iterable[Outcome]) -> Outcome:
    """The worst of some outcomes, the first of equal ones. Raises TypeError for none."""
    return reduce(lambda worst, one: one if one.worse_than(worst) else worst, found)
