"""The bedside question for a vessel of liquid oxygen: how long it lasts by its weight, at a flow.

    usable litres = (amount - keep) x litres of gas to a kg
    minutes       = usable litres / (flow + loss as litres of gas a minute)
    days          = usable litres / (flow x minutes a day + loss as litres of gas a day)

The loss goes on by day and night, whether anybody breathes or not. Beside it stands the hand method, 344 L to a lb and
no loss counted (respiratory care examination questions: 5 lb at 2 L/min last 860 min, 80 lb at 3 L/min for 8 h a day
19 days); the planner counts 342.0 L to a lb (`planner.gas.liquid`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from planner.constants import KG_PER_LB
from planner.gas.liquid import GAS_L_PER_KG, MIN_PER_DAY, usable_l

HAND_L_PER_LB: Final = 344.0


@dataclass(frozen=True, slots=True)
class LiquidLasts:
    """A vessel at a flow, L/min above 0: kg read, kg kept in it, kg a day lost.

    `day_min` is for how long it is breathed from in a day, minutes; None for all the time.
    """

    amount_kg: float
    keep_kg: float
    loss_kg_per_day: float
    flow_l_per_min: float
    day_min: float | None = None

    @property
    def usable_l(self) -> float:
        """Litres of gas above what is kept; what boils away on the way is not taken off yet."""
        return usable_l(self.amount_kg, self.keep_kg, 0.0, 0.0)

    @property
    def loss_l_per_min(self) -> float:
        """The loss as litres of gas a minute."""
        return self.loss_kg_per_day * GAS_L_PER_KG / MIN_PER_DAY

    @property
    def minutes(self) -> float:
        """Minutes that it lasts when it is breathed from all the time."""
        return self.usable_l / (self.flow_l_per_min + self.loss_l_per_min)

    @property
    def days(self) -> float | None:
        """Days that it lasts at so many minutes a day; None where it is breathed from all the time."""
        if self.day_min is None:
            return None
        return self.usable_l / (self.flow_l_per_min * self.day_min + self.loss_l_per_min * MIN_PER_DAY)

    @property
    def hand_minutes(self) -> float:
        """By the hand method, no loss counted."""
        return max(0.0, self.amount_kg - self.keep_kg) / KG_PER_LB * HAND_L_PER_LB / self.flow_l_per_min
