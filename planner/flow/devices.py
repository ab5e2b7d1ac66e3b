"""Demand of each device type, in litres a minute of 100 % oxygen, and the outlet that it needs.

The share of pure oxygen in a blend is k = (FiO2 - 0.21) / 0.79 (`planner.gas.mixing.oxygen_share`; mass
balance of oxygen and air); the rest, 1 - k, is air, which may come from a supply of its own. What a blender lets go
(bleed) counts with its flow, of both gases. Ventilators may instead follow the guideline form, minute volume x FiO2 +
driving gas (rule `minute_volume_times_fio2`). Every function here is pure; units stand in the names.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

from planner import figures
from planner.constants import RESUSCITATOR_L_PER_MIN
from planner.gas.mixing import oxygen_share
from planner.model import ROOM, Device, OutletKind
from planner.trade.catalog import device_types

ASSUMED_RESUSCITATOR = Device(
    name="manual resuscitator (assumed)", type="manual_resuscitator", flow_l_per_min=RESUSCITATOR_L_PER_MIN
)
"""Stands in for a ventilator that names no `if_it_fails` (10 to 15 L/min: common practice, no source)."""


def demand_l_per_min(device: Device) -> float:
    """Oxygen drawn from the supply while the device runs, L/min of 100 % oxygen.

    Raises ValueError where a setting that the type needs is missing, or the type is unknown.
    """
    return _row(device)[0](device)


def air_l_per_min(device: Device) -> float:
    """Air drawn from a supply of air while the device runs, L/min; 0 where its air comes from none.

    A blend draws (flow + bleed) x (1 - k), a ventilator (minute volume + bias flow + leak) x (1 - k), and its driving
    gas where air drives it. Raises ValueError where a setting that the type needs is missing.
    """
    if device.type == "blended_flow" and device.air is None:
        raise ValueError(f"device {device.name} ({device.type}) has no air")
    if device.air_supply is None:
        return 0.0
    share = 1.0 - oxygen_share(_given(device, "fio2"))
    if device.type == "ventilator":
        return _mixed(device) * share + _driving(device, "air")
    return _with_bleed(device) * share


def air_formula(device: Device) -> str:
    """The formula of `air_l_per_min` with the numbers put in, for the calculation sheet."""
    share = f"(1 - {_share_text(device)})"
    if device.type == "ventilator":
        text = f"({_mixed_text(device)}) x {share} + {figures.plain(_driving(device, 'air'), 6)}"
    else:
        text = f"{_with_bleed_text(device)} x {share}"
    return f"{text} = {figures.significant(air_l_per_min(device), 4)} L/min"


def formula(device: Device) -> str:
    """The demand formula with the numbers put in, for the calculation sheet."""
    return f"{_row(device)[1](device)} = {figures.significant(demand_l_per_min(device), 4)} L/min"


def outlet_kind(device: Device) -> OutletKind:
    """The outlet that the device needs: what the profile says, else the table of device types."""
    if device.outlet is not None:
        return device.outlet
    if device.type == "cpap":
        return "high_pressure" if device.oxygen_flow_l_per_min is None else "flowmeter"
    return device_types()[device.type].outlet


def total_flow_l_per_min(device: Device) -> float | None:
    """Total flow of an air-entrainment mask whose FiO2 is known, flow / k; None otherwise."""
    if device.type != "air_entrainment_mask" or device.fio2 is None:
        return None
    return _given(device, "flow_l_per_min") / oxygen_share(device.fio2)


def minute_volume_l_per_min(device: Device) -> float:
    """Minute volume of a ventilator, L/min: as given, or tidal volume (L) x rate (/min)."""
    if device.minute_volume_l_per_min is not None:
        return device.minute_volume_l_per_min
    return _given(device, "tidal_volume_l") * _given(device, "rate_per_min")


def is_blend(device: Device) -> bool:
    """True where the device mixes oxygen with air to a set FiO2, so that its demand follows FiO2."""
    if device.type == "cpap":
        return device.oxygen_flow_l_per_min is None
    return device.type in ("high_flow_nasal", "blended_flow", "ventilator")


@lru_cache(maxsize=256)
def on_oxygen_alone(device: Device) -> Device:
    """The same blend or ventilator when its air is gone: its whole flow and bleed are oxygen, and oxygen drives it."""
    return device._replace(fio2=1.0, air=ROOM, driven_by=None)


@lru_cache(maxsize=256)
def at_fio2(device: Device, fio2: float) -> Device:
    """The same device at another FiO2 (a fraction from 0.21 to 1)."""
    return device._replace(fio2=fio2)


def guideline_demand_l_per_min(device: Device) -> float:
    """The demand that the published transfer formula takes: a ventilator as minute volume x FiO2 + driving gas.

    Every other device counts with its demand. Source: oxygen requirements for patient transfer, emergency
    medicine examination notes; the formula doubles the litres, which is left to the caller.
    """
    if device.type != "ventilator":
        return demand_l_per_min(device)
    return _guideline(device)


def _given(device: Device, key: str) -> float:
    value: float | None = getattr(device, key)
    if value is None:
        raise ValueError(f"device {device.name} ({device.type}) has no {key}")
    return value


def _flow(device: Device) -> float:
    return _given(device, "flow_l_per_min")


def _blend_flow_key(device: Device) -> str:
    return "total_flow_l_per_min" if device.total_flow_l_per_min is not None else "flow_l_per_min"


def _bleed(device: Device) -> float:
    """What a blender lets go, L/min; it must be said of one."""
    return _given(device, "bleed_l_per_min") if device.type == "blended_flow" else device.bleed_l_per_min or 0.0


def _with_bleed(device: Device) -> float:
    return _given(device, _blend_flow_key(device)) + _bleed(device)


def _blend(device: Device) -> float:
    return _with_bleed(device) * oxygen_share(_given(device, "fio2"))


def _cpap(device: Device) -> float:
    return _blend(device) if is_blend(device) else _given(device, "oxygen_flow_l_per_min")


def _guideline(device: Device) -> float:
    return minute_volume_l_per_min(device) * _given(device, "fio2") + _driving(device, "oxygen")


def _driving(device: Device, gas: str) -> float:
    """Driving gas that is this gas, L/min."""
    return _drive_gas(device) if gas == (device.driven_by or "oxygen") else 0.0


def _mixed(device: Device) -> float:
    """What a ventilator blends, L/min."""
    return minute_volume_l_per_min(device) + _given(device, "bias_flow_l_per_min") + _given(device, "leak_l_per_min")


def _drive_gas(device: Device) -> float:
    if device.drive == "pneumatic":
        return _given(device, "drive_gas_l_per_min")
    return device.drive_gas_l_per_min or 0.0


def _ventilator(device: Device) -> float:
    if device.rule == "minute_volume_times_fio2":
        return _guideline(device)
    return _mixed(device) * oxygen_share(_given(device, "fio2")) + _driving(device, "oxygen")


def _pulse(device: Device) -> float:
    return _given(device, "pulse_volume_l") * _given(device, "rate_per_min")


def _flow_text(_: Device) -> str:
    return "set flow"


def _with_bleed_text(device: Device) -> str:
    flow = figures.plain(_given(device, _blend_flow_key(device)), 6)
    bleeds = device.type == "blended_flow" or device.bleed_l_per_min is not None
    return f"({flow} + {figures.plain(_bleed(device), 6)})" if bleeds else flow


def _blend_text(device: Device) -> str:
    return f"{_with_bleed_text(device)} x {_share_text(device)}"


def _cpap_text(device: Device) -> str:
    return _blend_text(device) if is_blend(device) else "set oxygen flow"


def _share_text(device: Device) -> str:
    return f"({figures.plain(_given(device, 'fio2'))} - 0.21) / 0.79"


def _minute_volume_text(device: Device) -> str:
    if device.minute_volume_l_per_min is not None:
        return figures.plain(device.minute_volume_l_per_min, 6)
    return f"{figures.plain(_given(device, 'tidal_volume_l'), 6)} x {figures.plain(_given(device, 'rate_per_min'), 6)}"


def _mixed_text(device: Device) -> str:
    return (
        f"{_minute_volume_text(device)} + {figures.plain(_given(device, 'bias_flow_l_per_min'), 6)} + "
        f"{figures.plain(_given(device, 'leak_l_per_min'), 6)}"
    )


def _ventilator_text(device: Device) -> str:
    driving = figures.plain(_driving(device, "oxygen"), 6)
    if device.rule == "minute_volume_times_fio2":
        return f"{_minute_volume_text(device)} x {figures.plain(_given(device, 'fio2'))} + {driving}"
    return f"({_mixed_text(device)}) x {_share_text(device)} + {driving}"


def _pulse_text(device: Device) -> str:
    return f"{figures.plain(_given(device, 'pulse_volume_l'), 6)} x {figures.plain(_given(device, 'rate_per_min'), 6)}"


_Formula = tuple[Callable[[Device], float], Callable[[Device], str]]
_ROWS: dict[str, _Formula] = {
    "flow": (_flow, _flow_text),
    "(flow + bleed) x k": (_blend, _blend_text),
    "oxygen_flow | total_flow x k": (_cpap, _cpap_text),
    "pulse_volume x rate": (_pulse, _pulse_text),
    "0": (lambda _: 0.0, lambda _: "draws from no cylinder"),
}
"""By the formulas of the table of device types; a ventilator's are all of one function."""


@lru_cache(maxsize=64)
def _row_of(device_type: str) -> _Formula:
    kind = device_types()[device_type]
    ventilator: _Formula = (_ventilator, _ventilator_text)
    return ventilator if "drive" in kind.keys else _ROWS[" | ".join(kind.formulas)]


def _row(device: Device) -> _Formula:
    try:
        return _row_of(device.type)
    except KeyError:
        raise ValueError(f"device {device.name} is of the unknown type {device.type}") from None
