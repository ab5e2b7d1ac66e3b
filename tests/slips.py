"""Slips of the hand in a profile, each with what was meant: made of field, kind of slip and meaning.

Nothing here is worked out by the program. `meant` is the profile as it should have been written, `typed` the one with
a slip in one place.
"""

# ruff: noqa: E501  (a profile in braces is written as people write it, in long lines)

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

FLOW_STYLE = """\
profile: 1
trip: Ward to magnet and away
setting: air
supplies:
  cart:
    outlets: [{flowmeter: 15 L/min}, high_pressure]
    cylinders:
      - {label: A, size: US-E, gauge: 1900 psi, temperature: 21.5 degC, magnet_safe: true}
      - {label: B, size: UK-CD, gauge: 207.5 bar, gauge_scale: 4000 psi, magnet_safe: true}
      - {label: C, contents: 2300 L at 230 bar, gauge: 20.5 MPa, mass: 16.5 kg, magnet_safe: true}
  main: {fixed: true, gauge: 1850 psi, manifold: true, outlets: [high_pressure], cylinders: [{label: M, size: US-M}]}
devices:
  cannula: {type: nasal_cannula, flow: 2.5 L/min}
  neonate: {type: nasal_cannula, flow: 1500 mL/min}
  bag: {type: manual_resuscitator, flow: 15 L/min}
  vent: {type: ventilator, tidal_volume: 480 mL, rate: 18 /min, fio2: 60 %, bias_flow: 1.5 L/min, leak: 2 L/min, drive: electric, if_it_fails: bag}
  turbine: {type: ventilator, minute_volume: 8.5 L/min, fio2: 0.60, bias_flow: 1 L/min, leak: 1.25 L/min, drive: pneumatic, drive_gas: 0.5 L/min, if_it_fails: bag}
  high: {type: high_flow_nasal, flow: 50 L/min, fio2: 80 %}
  pulse: {type: pulse_conserver, pulse_volume: 16.5 mL, rate: 20 /min, if_it_fails: cannula}
  driver: {type: cpap, oxygen_flow: 12.5 L/min}
legs:
  - {name: Ward to door, duration: 12 min, delays: [{reason: wait, time: 15 min}], supply: cart, devices: [{use: cannula, for: 10.5 min}]}
  - {name: Inside, duration: 25 min, longest: 40 min, supply: cart, magnet: true, devices: [pulse]}
  - {name: Flight, duration: 1 h 30 min, by: air, cabin_altitude: 8000 ft, supply: main, no_change: true, devices: [vent]}
  - {name: Low, duration: 5 min, by: air, cabin_altitude: 1250 m, supply: main, devices: [turbine]}
  - {name: Away, duration: 8 min, supply: cart, devices: [neonate]}
"""
"""Every value of this profile can be typed wrong."""


class Slip(NamedTuple):
    """One fault: the field, the kind of slip, the profile as typed and as meant."""

    field: str
    kind: str
    typed: str
    meant: str


_QUANTITIES = (
    ("flowmeter", "15", "L/min"),
    ("gauge", "1900", "psi"),
    ("gauge", "207.5", "bar"),
    ("gauge", "20.5", "MPa"),
    ("gauge", "1850", "psi"),
    ("gauge_scale", "4000", "psi"),
    ("temperature", "21.5", "degC"),
    ("mass", "16.5", "kg"),
    ("flow", "2.5", "L/min"),
    ("flow", "1500", "mL/min"),
    ("flow", "50", "L/min"),
    ("tidal_volume", "480", "mL"),
    ("rate", "18", "/min"),
    ("rate", "20", "/min"),
    ("fio2", "60", "%"),
    ("fio2", "80", "%"),
    ("bias_flow", "1.5", "L/min"),
    ("leak", "1.25", "L/min"),
    ("minute_volume", "8.5", "L/min"),
    ("drive_gas", "0.5", "L/min"),
    ("pulse_volume", "16.5", "mL"),
    ("oxygen_flow", "12.5", "L/min"),
    ("duration", "12", "min"),
    ("longest", "40", "min"),
    ("time", "15", "min"),
    ("for", "10.5", "min"),
    ("cabin_altitude", "8000", "ft"),
    ("cabin_altitude", "1250", "m"),
)
_WORDS_OF_UNITS = {
    "L/min": ("litres/min", "liters/min", "L per min", "L", "l/mn", "lit/min"),
    "mL/min": ("ML/MIN", "cc/min", "mL", "millilitres/min"),
    "psi": ("PSi", "lbs", "psia", "pounds"),
    "bar": ("bars", "Bar", "b"),
    "MPa": ("mpa", "MPA", "mega"),
    "degC": ("C", "celsius", "deg"),
    "kg": ("kilos", "KG", "lbs."),
    "mL": ("ML", "cc", "millilitres"),
    "/min": ("bpm", "breaths/min", "per minute", "x"),
    "%": ("percent", "pct", "per cent"),
    "min": ("mins", "minutes", "m", "MIN"),
    "ft": ("feet", "FT", "'"),
    "m": ("metres", "M", "meters"),
}
_KEYS = {
    "duration": ("durration", "Duration", "duraton", "dur", "time"),
    "longest": ("longst", "Longest", "longest_time", "max"),
    "delays": ("delay", "Delays", "wait", "waits"),
    "supply": ("suply", "Supply", "suppply"),
    "cabin_altitude": ("cabin-altitude", "cabin altitude", "cabin_altitud", "altitude", "Cabin_Altitude"),
    "no_change": ("no-change", "nochange", "no change"),
    "magnet": ("MRI", "mri", "Magnet", "magnett", "magnet_room"),
    "tidal_volume": ("tv", "vt", "VT", "volume", "tidal volume", "tidal_vol", "tidalvolume"),
    "minute_volume": ("MV", "mv", "volume", "minute volume", "minute_vol"),
    "rate": ("rr", "RR", "freq", "f", "respiratory_rate"),
    "fio2": ("FiO2", "FIO2", "fi02", "o2", "fio"),
    "bias_flow": ("bias", "bias flow", "biasflow"),
    "leak": ("leaks", "leakage", "Leak"),
    "drive_gas": ("drivegas", "driving_gas", "drive gas"),
    "drive": ("drve", "Drive", "driven"),
    "if_it_fails": ("if it fails", "fallback", "if_fails"),
    "pulse_volume": ("pulse", "volume", "pulse volume", "bolus"),
    "oxygen_flow": ("oxygen flow", "oxygenflow", "o2_flow", "flow"),
    "gauge": ("guage", "gage", "Gauge", "pressure", "reading", "psi"),
    "gauge_scale": ("gauge scale", "gauge-scale", "gaugescale", "scale"),
    "temperature": ("temp", "Temperature", "temprature"),
    "contents": ("content", "Contents", "capacity"),
    "mass": ("Mass", "weight", "masss"),
    "magnet_safe": ("magnet safe", "MRI_safe", "mri_safe", "magnetsafe"),
    "fixed": ("Fixed", "fixd", "fix"),
    "manifold": ("manifolds", "Manifold", "mainfold"),
    "outlets": ("outlet", "Outlets", "outlts"),
    "size": ("Size", "sise", "type"),
    "type": ("kind", "Type", "typ"),
    "use": ("Use", "device"),
    "for": ("For", "fro", "first"),
    "by": ("By", "via"),
    "profile": ("Profile", "profil"),
    "setting": ("Setting", "setings"),
}
_CHOICES = (
    ("type: nasal_cannula, flow: 2.5", "nasal_cannula", ("nasal_canula", "cannula", "Nasal cannula", "prongs", "mask")),
    ("type: manual_resuscitator", "manual_resuscitator", ("bag", "BVM", "manual resuscitator", "manual_resusitator")),
    ("type: ventilator, tidal", "ventilator", ("vent", "BPAP", "NIV", "ventilater", "Ventilator", "bilevel")),
    ("type: high_flow_nasal", "high_flow_nasal", ("HFNC", "high flow", "hi flow", "high-flow-nasal", "HFNO")),
    ("type: pulse_conserver", "pulse_conserver", ("conserver", "pulse conserver", "pulse_consever", "conc")),
    ("type: cpap", "cpap", ("CPAP", "c-pap", "face mask", "helmet")),
    ("drive: electric", "electric", ("Electric", "eletric", "turbine", "battery")),
    ("drive: pneumatic", "pneumatic", ("Pneumatic", "pnumatic", "gas", "air")),
    ("by: air, cabin_altitude: 8000", "air", ("helicopter", "Air", "plane", "jet")),
    ("setting: air", "air", ("flight", "Air", "aircraft", "sky")),
    ("high_pressure]\n    cylinders", "high_pressure", ("50 psi", "high pressure", "High_Pressure", "DISS", "wall")),
    ("size: US-E", "US-E", ("US E", "USE", "us-e", "E", "US-F", "US-EE", "UK-X", "ECYL")),
    ("size: UK-CD", "UK-CD", ("uk cd", "CD", "UK-CE", "UK-AZ", "UK-ZC")),
    ("size: US-M,", "US-M", ("US-M22", "US-M2", "M", "us m")),
    ("size: US-M}", "US-M", ("US-M22", "US-M2", "M", "us m", "US-N", "ISO-4", "ISO-15")),
    ("devices: [vent]", "vent", ("Vent", "ventt", "vnet", "venti")),
    ("supply: main, no_change", "main", ("Main", "mian", "wall", "mains")),
    ("if_it_fails: cannula", "cannula", ("canula", "Cannula", "mask")),
    ("magnet: true", "true", ("yes", "True", "on", "Y", "y e s")),
    ("no_change: true", "true", ("yes", "TRUE", "1", "ja")),
    ("fixed: true", "true", ("yes", "on", "stays")),
)


def block_style(text: str) -> str:
    """The same profile with devices and legs on lines of their own."""
    lines = []
    for line in text.splitlines():
        name, brace, inner = line.partition(" {")
        if brace and line.startswith("  ") and not name.strip().startswith("-") and "cylinders" not in line:
            lines += [name, *(f"    {part}" for part in _parts(inner.rstrip("}")))]
        elif line.startswith("  - {"):
            lines += [f"{'  - ' if not number else '    '}{part}" for number, part in enumerate(_parts(line[5:-1]))]
        else:
            lines.append(line)
    return "\n".join(lines) + "\n"


def _parts(inner: str) -> list[str]:
    """The text within braces, cut at commas that stand in no bracket of their own."""
    parts, depth, start = [], 0, 0
    for place, letter in enumerate(inner):
        depth += (letter in "[{") - (letter in "]}")
        if letter == "," and not depth:
            parts.append(inner[start:place].strip())
            start = place + 1
    return [*parts, inner[start:].strip()]


def _wrong_quantities(number: str, unit: str) -> Iterator[tuple[str, str]]:
    """Kinds of slip and what is typed in place of a number and its unit."""
    whole, _, decimals = number.partition(".")
    right = f"{number} {unit}"
    yield "no unit", number
    yield "curly quotes", f"\u201c{right}\u201d"
    yield "plus sign", f"+{right}"
    yield "minus sign", f"-{right}"
    yield "leading zero", f"0{right}"
    yield "range", f"1-{right}"
    yield "about", f"~{right}"
    yield "two units", f"{right} {unit}"
    yield "letter for a digit", f"{number.replace('0', 'O').replace('1', 'l')} {unit}"
    yield "exponent", f"{number}e0 {unit}"
    yield "plain quotes", f'"{right}"'
    if len(whole) == 4 and not decimals:
        yield "comma of thousands", f"{whole[0]},{whole[1:]} {unit}"
        yield "space of thousands", f"{whole[0]} {whole[1:]} {unit}"
        yield "point of thousands", f"{whole[0]}.{whole[1:]} {unit}"
        yield "apostrophe of thousands", f"{whole[0]}'{whole[1:]} {unit}"
        yield "thin space of thousands", f"{whole[0]}\u202f{whole[1:]} {unit}"
        yield "underscore", f"{whole[0]}_{whole[1:]} {unit}"
    if decimals:
        yield "decimal comma", f"{whole},{decimals} {unit}"
        yield "three decimals behind a comma", f"{whole},{decimals.ljust(3, '0')} {unit}"
    if whole == "0":
        yield "no digit before the point", f".{decimals} {unit}"
    if not decimals:
        yield "point at the end", f"{number}. {unit}"
    for other in _WORDS_OF_UNITS.get(unit, ()):
        yield f"unit {other}", f"{number} {other}"
    if unit == "%":
        yield "share with a percent sign", f"0.{number} %"
        yield "no percent sign", number


def slips() -> Iterator[Slip]:
    """Every slip, in both styles of the profile."""
    return (slip for slip in _made() if slip.typed != slip.meant)


def _made() -> Iterator[Slip]:
    for meant in (FLOW_STYLE, block_style(FLOW_STYLE)):
        for key, number, unit in _QUANTITIES:
            right = f"{key}: {number} {unit}"
            assert right in meant, right
            for kind, wrong in _wrong_quantities(number, unit):
                yield Slip(key, kind, meant.replace(right, f"{key}: {wrong}", 1), meant)
            yield Slip(key, "no space", meant.replace(right, f"{key}:{number} {unit}", 1), meant)
        for key, wrongs in _KEYS.items():
            start = next(at for at in _places(meant, f"{key}: "))
            for wrong in wrongs:
                yield Slip(key, f"key {wrong}", meant[:start] + wrong + meant[start + len(key) :], meant)
        for wrong in ("1hr30", "1h30", "1:30", "90 mn", "1 hour 30 min", "1h30m", "1.5 hrs", "90", "1 h 90 min"):
            yield Slip("duration", wrong, meant.replace("1 h 30 min", wrong, 1), meant)
        for wrong in ("delays: 15 min", "wait: 15 min", "delay: 15 min", "delays: [15 min]", "waiting: 15 min"):
            yield Slip("delays", wrong, meant.replace("delays: [{reason: wait, time: 15 min}]", wrong, 1), meant)
        for wrong in (
            "2,300 L at 230 bar",
            "2300 L @ 230 bar",
            "2300 at 230 bar",
            "2300 L",
            "2300 L at 230",
            "2.300 L at 230 bar",
        ):
            yield Slip("contents", wrong, meant.replace("2300 L at 230 bar", wrong, 1), meant)
    for place, right, wrongs in _CHOICES:
        if place in FLOW_STYLE:
            for wrong in wrongs:
                typed = FLOW_STYLE.replace(place, place.replace(right, wrong, 1), 1)
                yield Slip(place.partition(":")[0], f"{right} as {wrong}", typed, FLOW_STYLE)


def _places(text: str, part: str) -> Iterator[int]:
    """Where a key stands at its beginning, not at the end of a longer one."""
    at = text.find(part)
    while at >= 0:
        if at == 0 or not (text[at - 1].isalnum() or text[at - 1] == "_"):
            yield at
        at = text.find(part, at + 1)
