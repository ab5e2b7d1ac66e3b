"""How far off the readings of a trip's gauges may be, as `planner.cylinders.fall` asks for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum
from typing import Final

from planner.constants import KPA_PER_BAR, KPA_PER_PSI
from planner.cylinders.fall import Doubt
from planner.model import Cylinder, Policy
from planner.problems import NOWHERE, Position
from planner.trade.catalog import find_size

HALF_DIVISION_PSI: Final = 50.0
HALF_DIVISION_BAR: Final = 5.0
"""What a gauge can be read to unless told: half a division of 100 psi or of 10 bar. Common practice, no source."""

SCALE_OVER_FILLING: Final = 2.0
"""Full scale of a gauge unless told, over the filling pressure. By decision; see `planner.cylinders.fall` on why it
hardly matters."""

TO_THE_MINUTE_MIN: Final = 0.5
"""A time that is known to a whole minute may be off by this."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading of one gauge: kPa as indicated, and how closely it was read, to either side.

    `temperature_degc` is that of the gas as far as it is known: as given, else the last given before. `degc_range` is
    between what it may be; None where nothing is known of it. `refilled`: the cylinder was filled since the reading
    before, which tells nothing of this one.
    """

    minute: float
    gauge_kpa: float
    read_to_kpa: float
    temperature_degc: float | None = None
    to_the_minute: bool = True
    degc_range: tuple[float, float] | None = None
    where: Position = NOWHERE
    refilled: bool = False

    @property
    def degc_between(self) -> tuple[float | None, float | None]:
        """The lowest and the highest that the temperature of the gas may be; None where nothing is known."""
        return self.degc_range or (self.temperature_degc, self.temperature_degc)


def half_division_kpa(unit: str) -> float:
    """What a gauge is read to unless told, by the unit of its scale, kPa."""
    return HALF_DIVISION_PSI * KPA_PER_PSI if unit == "psi" else HALF_DIVISION_BAR * KPA_PER_BAR


def water_capacities_l(cylinders: Sequence[Cylinder]) -> tuple[float, float]:
    """The water capacity reckoned with and the largest that it may be, litres; of several cylinders the sums.

    The largest is that of the largest published label of the size, and the one reckoned with where the label of the
    cylinder itself is known.
    """
    most = 0.0
    for cylinder in cylinders:
        size = None if cylinder.label_contents is not None else find_size(cylinder.size or "", cylinder.gas)
        known = cylinder.water_capacity_l
        most += known if size is None else max(known, size.largest_water_capacity_l)
    return fsum(cylinder.water_capacity_l for cylinder in cylinders), most


def gauge_scale_kpa(cylinder: Cylinder, policy: Policy) -> float:
    """Full scale of a cylinder's gauge: its own, else the policy's, else as assumed."""
    return cylinder.gauge_scale_kpa or policy.gauge_scale_kpa or SCALE_OVER_FILLING * cylinder.filling_gauge_kpa


def doubt_between(cylinders: Sequence[Cylinder], policy: Policy, first: Reading, second: Reading) -> Doubt:
    """How far off two readings of one gauge may be, on a cylinder or on a manifold of several."""
    minutes = TO_THE_MINUTE_MIN * (first.to_the_minute + second.to_the_minute)
    return Doubt(
        first_reading_kpa=first.read_to_kpa,
        second_reading_kpa=second.read_to_kpa,
        gauge_scale_kpa=gauge_scale_kpa(cylinders[0], policy),
        largest_water_capacity_l=water_capacities_l(cylinders)[1],
        minutes=min(minutes, (second.minute - first.minute) / 2.0),
    )
