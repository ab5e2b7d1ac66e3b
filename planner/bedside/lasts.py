"""The bedside question: how long one cylinder lasts at a gauge reading and a flow.

    minutes = usable litres / flow

Usable litres are those of a plan (`planner.cylinders.stock`): contents at the reading less contents at change-over, by
the real gas, with warmth and cold never counted as gas. Beside them stands the hand method,

    minutes = (gauge - change-over) x factor / flow

and what makes the two differ, in two parts that add up: the real gas, and the temperatures.
Source of the hand method: respiratory care textbooks, from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

from planner.cylinders.stock import Held, hand_usable_l, held
from planner.model import Cylinder, Policy, Supply

_ALONE = Supply("bedside", "cylinders")


@dataclass(frozen=True, slots=True)
class Lasting:
    """How long a cylinder lasts at a steady flow, by the planner and by hand; every figure unrounded.

    `by_real_gas_l` and `by_temperature_l` are the litres by which the planner's usable litres exceed those of
    the hand method (negative: fall short), by each cause; they add up to the whole difference.
    """

    cylinder: Cylinder
    flow_l_per_min: float
    change_over_at_kpa: float
    held: Held
    hand_usable_l: float
    by_real_gas_l: float
    by_temperature_l: float

    @property
    def usable_l(self) -> float:
        """Litres above change-over, never negative."""
        return self.held.usable_l

    @property
    def minutes(self) -> float:
        """Minutes until the gauge is down to change-over."""
        return self.usable_l / self.flow_l_per_min

    @property
    def hand_minutes(self) -> float:
        """The same by the hand method."""
        return self.hand_usable_l / self.flow_l_per_min


def lasting(cylinder: Cylinder, flow_l_per_min: float, policy: Policy, coldest_degc: float | None = None) -> Lasting:
    """How long a cylinder lasts down to the policy's change-over.

    `cylinder`: with its reading, kPa gauge, and the temperature of its gas then, degC, where known.
    `flow_l_per_min`: L/min, above 0. `policy`: change-over and gauge allowance. `coldest_degc`: the coldest that the
    cylinder will be before it is changed, degC. Raises `ValueError` for a flow that is not above 0, and where gauge or
    temperature are outside what `planner.gas.contents` knows.
    """
    if not 0.0 < flow_l_per_min < inf:
        raise ValueError(f"flow {flow_l_per_min} L/min is not a number above 0 L/min")
    real = held(cylinder, _ALONE._replace(coldest_degc=coldest_degc), policy)
    temperate = held(cylinder._replace(temperature_degc=None), _ALONE, policy).usable_l
    by_hand = hand_usable_l(cylinder, policy)
    return Lasting(
        cylinder=cylinder,
        flow_l_per_min=flow_l_per_min,
        change_over_at_kpa=policy.change_over_at_kpa,
        held=real,
        hand_usable_l=by_hand,
        by_real_gas_l=temperate - by_hand,
        by_temperature_l=real.usable_l - temperate,
    )
