"""Named values with their sources: units, reference state, and figures of the trade.

A value is exact by definition unless its comment says otherwise. This module imports nothing of the program.
"""

from __future__ import annotations

from typing import Final

# Units. Sources: NIST Special Publication 811 (2008), appendix B; the foot, inch and pound are exact by the
# international yard and pound agreement of 1959; millimetres and inches of mercury are the conventional
# ones, density 13 595.1 kg/m3 and gravity 9.80665 m/s2.
KPA_PER_PSI: Final = 6.894757293168361
KPA_PER_BAR: Final = 100.0
KPA_PER_MPA: Final = 1000.0
KPA_PER_MMHG: Final = 0.133322387415
KPA_PER_INHG: Final = KPA_PER_MMHG * 25.4
M_PER_FT: Final = 0.3048
KG_PER_LB: Final = 0.45359237
KELVIN_AT_0_DEGC: Final = 273.15

# The reference state of a litre of oxygen: dry gas at 70 degF, as the North American gas trade states
# contents, and one standard atmosphere (101.325 kPa, exact by definition of the atmosphere).
REFERENCE_TEMPERATURE_DEGC: Final = 21.1
STANDARD_PRESSURE_KPA: Final = 101.325

# Filling temperature of UK and ISO cylinders: contents at 15 degC and one atmosphere, as in Lutman and
# Petros, Emerg Med J 2006;23:703.
METRIC_FILLING_TEMPERATURE_DEGC: Final = 15.0

# The filling pressure at which a factor in L/psi gives the contents of a full cylinder.
# Respiratory care textbooks, from memory.
FACTOR_GAUGE_PSI: Final = 2200.0

# Oxygen in air as the trade reckons it; dry air holds 0.2095 (US Standard Atmosphere, 1976, table 3).
AIR_OXYGEN_FRACTION: Final = 0.21

# Holes of the pin index safety system, by gas: EN ISO 407, as listed in a public encyclopaedia.
PIN_INDEX: Final = {"oxygen": "2-5", "air": "1-5"}

# Weight counted for a litre of liquid oxygen, such that it gives 860 L of gas: respiratory care examination questions.
# At its boiling point it weighs 1.1412 kg (CoolProp), which would be 860.5 L; 2.5 lb in textbooks.
KG_PER_LIQUID_L: Final = 1.1405

# Pressure of saturated water vapour at 37 degC, in the airway. Standard respiratory physiology; the measured
# value is 47.1 mmHg.
WATER_VAPOUR_MMHG: Final = 47.0

# Flow of a manual resuscitator. Common practice, no source: 10 to 15 L/min, up to 25 at high flow.
RESUSCITATOR_L_PER_MIN: Final = 15.0

# Scale end of an ordinary oxygen flowmeter. Common practice, no source.
FLOWMETER_LIMIT_L_PER_MIN: Final = 15.0

# A gauge that reads high is off by the larger of 100 psi (common practice, no source) and 2.5 % of its full
# scale (gauge class 2.5, ISO 5171, from memory).
GAUGE_ERROR_PSI: Final = 100.0
GAUGE_ERROR_OF_FULL_SCALE: Final = 0.025

# Two readings of one gauge may differ by so much without anything lost or filled: in another hand, or a warmer room.
# By decision: the error of a gauge that reads high.
GAUGES_ALIKE_KPA: Final = GAUGE_ERROR_PSI * KPA_PER_PSI

# Share of its filling pressure at which a cylinder that is not of a US size counts as full.
# Common practice, no source.
FULL_SHARE_OF_FILLING: Final = 0.9

# Below these, a figure is more likely a slip by a factor of a thousand than meant. Flowmeters for newborns begin at
# some 10 to 25 mL/min (common practice, no source); nobody writes a cabin altitude of 1 to 30 m in place of 0. By
# decision: a caution, never a refusal.
LEAST_LIKELY_FLOW_L_PER_MIN: Final = 0.01
LEAST_LIKELY_ALTITUDE_M: Final = 30.0

# Rounding noise of sums and of units turned into one another, which must decide nothing: far below what anybody reads.
# By decision.
NOISE: Final = 1e-9  # as a share of what is compared
LITRE_NOISE: Final = 1e-9
MINUTE_NOISE: Final = 1e-9
FLOW_NOISE_L_PER_MIN: Final = 1e-9

# Minutes, gauges, and litres of sums of readings, that are the same to a person: what a plan foresees, matched with
# itself. By decision.
SAME_MIN: Final = 1e-6
SAME_L: Final = 1e-6
SAME_KPA: Final = 1e-6
