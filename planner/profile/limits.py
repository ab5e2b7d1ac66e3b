"""How each quantity of the profile language is read, and the range outside of which it is refused.

The ranges refuse nonsense only: slips of unit or of a digit, and what cannot be. An unusual setting is read,
and the plan gives a caution. All ranges are by decision, chosen wide; those of gas pressure, gas temperature and
altitude are where the physics of the program is known to hold.
"""

from __future__ import annotations

from typing import Final, NamedTuple

from planner import figures
from planner.constants import KPA_PER_MMHG
from planner.gas import atmosphere, compact, contents

MIN_PER_DAY: Final = 24 * 60
LONGEST_MIN: Final = 14.0 * MIN_PER_DAY
LOWEST_FILLING_KPA: Final = 5000.0
"""No cylinder for transport is filled to less than 50 bar: such a figure is a slip of unit."""

HIGHEST_OVER_FILLING: Final = 1.25
"""By decision. Full at 15 degC, a cylinder reads about a fifth more at 50 degC by the real gas; a quarter is a slip."""

MOST_LABEL_OVER_CATALOG: Final = 1.5
"""Labels of one size differ by a quarter; a label half as large again belongs to another size."""


class Limit(NamedTuple):
    """How a quantity is read: its kind in `planner.text.quantities`, and its range in the base unit of that kind.

    `low` and `high` are inclusive; `above` is an exclusive lower limit in place of `low`.
    """

    kind: str
    allowed: str
    low: float | None = None
    high: float | None = None
    above: float | None = None

    def holds(self, value: float) -> bool:
        """True within the range."""
        return (
            (self.low is None or value >= self.low)
            and (self.high is None or value <= self.high)
            and (self.above is None or value > self.above)
        )


_GAUGE: Final = Limit("gauge", "a gauge pressure from 0 to 400 bar (5801 psi)", 0.0, contents.HIGHEST_GAUGE_KPA)
_FILLING: Final = Limit(
    "gauge", "a filling pressure from 50 to 400 bar (726 to 5801 psi)", LOWEST_FILLING_KPA, contents.HIGHEST_GAUGE_KPA
)
_FLOW: Final = Limit("flow", "a flow from 0 to 300 L/min", 0.0, 300.0)
_TIME: Final = Limit("duration", "a time above 0 and up to 14 days", high=LONGEST_MIN, above=0.0)
_TIME_OR_NONE: Final = Limit("duration", "a time from 0 to 24 h", 0.0, MIN_PER_DAY)
_TEMPERATURE: Final = Limit(
    "temperature",
    "a temperature from -60 to 80 degC",
    compact.LOWEST_TEMPERATURE_DEGC,
    compact.HIGHEST_TEMPERATURE_DEGC,
)

LIMITS: Final[dict[str, Limit]] = {
    # supplies and cylinders
    "gauge": _GAUGE,
    "filling": _FILLING,
    "gauge_scale": Limit("gauge", "a gauge scale from 50 to 600 bar (726 to 8702 psi)", LOWEST_FILLING_KPA, 60_000.0),
    "water_capacity": Limit("volume", "a water capacity from 0.05 to 1000 L", 0.05, 1000.0),
    "litres": Limit("volume", "a volume from 0 to 1000000 L", 0.0, 1e6),
    "amount": Limit("liquid", "a weight above 0 and up to 2000 kg, or litres of liquid", high=2000.0, above=0.0),
    "keep": Limit("liquid", "a weight from 0 to 2000 kg, or litres of liquid", 0.0, 2000.0),
    "loss": Limit("liquid_loss", "a loss from 0 to 100 kg/day", 0.0, 100.0),
    "flowmeter": Limit("flow", "a flow above 0 and up to 100 L/min", high=100.0, above=0.0),
    "temperature": _TEMPERATURE,
    "coldest": _TEMPERATURE,
    "mass": Limit("mass", "a mass above 0 and up to 500 kg", high=500.0, above=0.0),
    "weight_limit": Limit("mass", "a mass above 0 and up to 5000 kg", high=5000.0, above=0.0),
    "regulators": Limit("count", "a whole number from 1 to 1000", 1.0, 1000.0),
    "places": Limit("count", "a whole number from 1 to 1000", 1.0, 1000.0),
    # devices
    "flow": _FLOW,
    "total_flow": _FLOW,
    "oxygen_flow": _FLOW,
    "bleed": Limit("flow", "a flow from 0 to 50 L/min", 0.0, 50.0),
    "bias_flow": _FLOW,
    "leak": _FLOW,
    "drive_gas": Limit("flow", "a flow from 0 to 50 L/min", 0.0, 50.0),
    "fio2": Limit("fraction", "a fraction from 0.21 to 1, or a percentage from 21 % to 100 %", 0.21, 1.0),
    "minute_volume": Limit("flow", "a minute volume above 0 and up to 100 L/min", high=100.0, above=0.0),
    "tidal_volume": Limit("volume", "a volume above 0 and up to 5 L", high=5.0, above=0.0),
    "rate": Limit("rate", "a rate above 0 and up to 200 /min", high=200.0, above=0.0),
    "pulse_volume": Limit("volume", "a volume above 0 and up to 1 L", high=1.0, above=0.0),
    "battery": _TIME,
    "greatest_flow": Limit("flow", "a flow above 0 and up to 100 L/min", high=100.0, above=0.0),
    "altitude_limit": Limit(
        "altitude", "an altitude above 0 and up to 11000 m (36089 ft)", high=atmosphere.HIGHEST_ALTITUDE_M, above=0.0
    ),
    # legs
    "duration": _TIME,
    "longest": _TIME,
    "time": _TIME,
    "for": _TIME,
    "home_altitude": Limit("altitude", "an altitude from -600 to 6000 m", atmosphere.LOWEST_ALTITUDE_M, 6000.0),
    "cabin_altitude": Limit(
        "altitude",
        "an altitude from -600 to 11000 m (36089 ft)",
        atmosphere.LOWEST_ALTITUDE_M,
        atmosphere.HIGHEST_ALTITUDE_M,
    ),
    "cabin_pressure": Limit(
        "cabin_pressure",
        f"an absolute pressure from {figures.steps_up(atmosphere.LOWEST_PRESSURE_KPA / KPA_PER_MMHG, 1.0)} to "
        f"{figures.steps_down(atmosphere.HIGHEST_PRESSURE_KPA / KPA_PER_MMHG, 1.0)} mmHg",
        atmosphere.LOWEST_PRESSURE_KPA,
        atmosphere.HIGHEST_PRESSURE_KPA,
    ),
    # what is accepted
    "at_most": Limit("volume", "a volume above 0 and up to 1000000 L", high=1e6, above=0.0),
    "not_before": _TIME,
    # policy
    "reserve_factor": Limit("number", "a factor from 1 to 10", 1.0, 10.0),
    "reserve_time": _TIME_OR_NONE,
    "handover_time": _TIME_OR_NONE,
    "rise_for": _TIME_OR_NONE,
    "battery_factor": Limit("number", "a factor from 1 to 10", 1.0, 10.0),
    "help_within": _TIME_OR_NONE,
    "reading_valid_for": _TIME,
    "spare_cylinders": Limit("count", "a whole number from 0 to 50", 0.0, 50.0),
    "change_over_at": _GAUGE,
    "full_at": _FILLING,
    "gauge_allowance": Limit("gauge", "a gauge pressure from 0 to 50 bar (725 psi)", 0.0, 5000.0),
}
"""By key of the profile language."""
