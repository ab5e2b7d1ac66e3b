"""The catalogue: cylinder sizes, device types and their settings, from the tables in `planner/trade/data/`.

Each table is a CSV file with a note of its sources beside it; units stand in the headers, or in a column of
units beside the figures. Tables are read once, when first asked for.
"""

from __future__ import annotations

import csv
from collections.abc import Collection, Iterator, Mapping
from functools import cache
from types import MappingProxyType
from typing import Final, Literal, NamedTuple, cast

from planner import constants
from planner.gas import contents
from planner.package_file import package_text

System = Literal["US", "UK", "ISO"]
Valve = Literal["pin_index", "threaded", "integral"]
Basis = Literal["factor", "contents", "water_capacity"]
Outlet = Literal["flowmeter", "high_pressure", "none"]
VENTILATOR_FAILS = "ventilator_fails"
"""The what-if of the types that breathe for a patient by themselves."""
Trait = Literal["part_time", "breathes", "by_hand", "battery", "makes_oxygen", "high_flow", "entrains"]

COMMON_KEYS: Final = ("outlet", "if_it_fails", "may_rise_to", "patient")
"""Settings that every device type takes."""

LITRES_PER_M3: Final = 1000.0

_KPA_PER_UNIT: Final = {
    "psi": constants.KPA_PER_PSI,
    "bar": constants.KPA_PER_BAR,
    "kPa": 1.0,
}


class CylinderSize(NamedTuple):
    """One size of cylinder, full of oxygen, or of air, at its filling pressure and temperature.

    `known_by` names the figure that the others follow from: the factor, the contents, or the water capacity
    (`water_capacity_l`, litres). `factor_l_per_psi` is that of the hand method: the published one, else
    contents divided by filling pressure. `tare_kg` is None where unknown; the heaviest make in common use is
    meant, and a mass on the scale wins. `valve` is None where it differs by country.
    `largest_label_contents_l` at `largest_label_gauge_kpa` is the published label of this size that asks for
    the largest water capacity, None where no larger one than the catalogue's is known. `recalled` names what
    is from memory and not seen in a source: basis, filling, tare, connection, label.
    """

    code: str
    system: System
    letter: str
    known_by: Basis
    water_capacity_l: float
    filling_gauge_kpa: float
    filling_degc: float
    factor_l_per_psi: float
    contents_l: float
    tare_kg: float | None
    valve: Valve | None
    connection: str
    largest_label_contents_l: float | None
    largest_label_gauge_kpa: float | None
    recalled: tuple[str, ...]
    source: str
    note: str
    gas: contents.Gas = "oxygen"

    @property
    def largest_water_capacity_l(self) -> float:
        """Water capacity by the largest published label, litres; the row's own where none is larger."""
        if self.largest_label_contents_l is None or self.largest_label_gauge_kpa is None:
            return self.water_capacity_l
        by_label = contents.water_capacity_l(
            self.largest_label_contents_l, self.largest_label_gauge_kpa, self.filling_degc, self.gas
        )
        return max(self.water_capacity_l, by_label)

    @property
    def full_mass_kg(self) -> float | None:
        """Mass of a full cylinder, kg: tare and the gas by the largest label; None where the tare is unknown.

        mass = tare + contents x rho_ref, with rho_ref the density of the gas at 21.1 degC and 101.325 kPa.
        """
        if self.tare_kg is None:
            return None
        most_l = contents.contents_l(self.filling_gauge_kpa, self.filling_degc, self.largest_water_capacity_l, self.gas)
        kg_per_l = contents.REFERENCE_DENSITY_KG_PER_M3[self.gas] / LITRES_PER_M3
        return self.tare_kg + most_l * kg_per_l


class DeviceSetting(NamedTuple):
    """One setting of a device: its key in a profile, its field in `planner.model.Device`, and what may stand there.

    `kind` is flow, volume, rate, fraction, choice (one of `choices`), device (the name of another device) or
    label (free text). `unit` is that of the field, empty where there is none.
    """

    key: str
    field: str
    kind: str
    unit: str
    choices: tuple[str, ...]
    example: str
    meaning: str


class UsualRange(NamedTuple):
    """The usual range of a setting, in `unit`; outside it a caution is due, not a refusal."""

    low: float
    high: float
    unit: str
    source: str


class DeviceType(NamedTuple):
    """One device type: which settings it takes, and how its demand follows from them.

    `needs` holds the alternatives; the settings of one of them suffice. `outlets` and `formulas` run beside
    `needs`. `optional` keys may be added. `needed_with` holds (key, value, needed key): where the key has
    that value, the needed key must be given too. `usual` gives the usual range by key.
    `traits`: it seldom runs all the way, it can breathe for a patient, it is squeezed by hand, it runs on a battery
    whatever its settings say, it makes its own oxygen, it gives a high flow, it draws in room air. `fails` names the
    what-if in which its fallback takes over.
    """

    name: str
    title: str
    needs: tuple[tuple[str, ...], ...]
    outlets: tuple[Outlet, ...]
    formulas: tuple[str, ...]
    optional: tuple[str, ...]
    needed_with: tuple[tuple[str, str, str], ...]
    traits: tuple[Trait, ...]
    fails: str
    usual: Mapping[str, UsualRange]
    source: str

    @property
    def keys(self) -> tuple[str, ...]:
        """Every key that the type takes, those of all device types last."""
        own = [key for alternative in self.needs for key in alternative]
        return tuple(dict.fromkeys([*own, *self.optional, *COMMON_KEYS]))

    @property
    def outlet(self) -> Outlet:
        """The outlet of the first alternative."""
        return self.outlets[0]

    def nearest(self, given: Collection[str]) -> int:
        """Index in `needs` of the alternative that the given keys mean.

        That is the one with the fewest keys missing, then with the fewest given keys left unused, then the
        first. `rule` is never overlooked: where it is given, only alternatives with it count, and where it is
        not, only those without.
        """
        ruled = [index for index, keys in enumerate(self.needs) if ("rule" in keys) == ("rule" in given)]

        def distance(index: int) -> tuple[int, int]:
            keys = self.needs[index]
            return (len(set(keys) - set(given)), len(self.unused(given, index)))

        return min(ruled or range(len(self.needs)), key=distance)

    def missing(self, given: Mapping[str, str]) -> tuple[str, ...]:
        """Keys still to be given, by the nearest alternative; `given` maps keys to their texts."""
        keys = self.needs[self.nearest(given)]
        by_value = (needed for key, value, needed in self.needed_with if given.get(key) == value)
        return tuple(dict.fromkeys(key for key in (*keys, *by_value) if key not in given))

    def unused(self, given: Collection[str], index: int) -> tuple[str, ...]:
        """Keys of this type that were given, yet that the alternative `needs[index]` would not use."""
        used = {*self.needs[index], *self.optional, *COMMON_KEYS}
        return tuple(key for key in self.keys if key in given and key not in used)


def rows(table: str) -> Iterator[dict[str, str]]:
    """The rows of a table of `planner/trade/data/`, each cell as text by its header; no cell holds a line break."""
    lines = package_text(f"trade/data/{table}").splitlines()
    return iter(csv.DictReader(lines, strict=True))


def _number(text: str) -> float | None:
    return float(text) if text else None


def _split(text: str, mark: str | None = None) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(mark)) if text else ()


def _size(row: Mapping[str, str]) -> CylinderSize:
    """A size from its row: the one figure that it is known by decides water capacity, contents and factor."""
    gauge_kpa = float(row["filling_gauge"]) * _KPA_PER_UNIT[row["filling_gauge_unit"]]
    gauge_psi = gauge_kpa / constants.KPA_PER_PSI
    degc = float(row["filling_degc"])
    factor, full, capacity = (_number(row[key]) for key in ("factor_l_per_psi", "contents_l", "water_capacity_l"))
    if factor is not None:
        known_by: Basis = "factor"
        at_factor_gauge = factor * constants.FACTOR_GAUGE_PSI
        capacity = contents.water_capacity_l(
            at_factor_gauge, constants.FACTOR_GAUGE_PSI * constants.KPA_PER_PSI, constants.REFERENCE_TEMPERATURE_DEGC
        )
        full = contents.contents_l(gauge_kpa, degc, capacity)
    elif full is not None:
        known_by = "contents"
        capacity = contents.water_capacity_l(full, gauge_kpa, degc)
    else:
        known_by = "water_capacity"
        capacity = float(row["water_capacity_l"])
        full = contents.contents_l(gauge_kpa, degc, capacity)
    label = _number(row["largest_label_contents_l"])
    return CylinderSize(
        code=row["code"],
        system=cast(System, row["system"]),
        letter=row["code"].partition("-")[2],
        known_by=known_by,
        water_capacity_l=capacity,
        filling_gauge_kpa=gauge_kpa,
        filling_degc=degc,
        factor_l_per_psi=full / gauge_psi if factor is None else factor,
        contents_l=full,
        tare_kg=_number(row["tare_kg"]),
        valve=cast(Valve, row["valve"]) if row["valve"] else None,
        connection=row["connection"],
        largest_label_contents_l=label,
        largest_label_gauge_kpa=None if label is None else _label_gauge_kpa(row),
        recalled=_split(row["recalled"]),
        source=row["source"],
        note=row["note"],
    )


def _label_gauge_kpa(row: Mapping[str, str]) -> float:
    return float(row["largest_label_gauge"]) * _KPA_PER_UNIT[row["largest_label_gauge_unit"]]


@cache
def sizes() -> Mapping[str, CylinderSize]:
    """Every cylinder size by code, in the order of the table: US, UK, ISO, each from small to large."""
    return MappingProxyType({row["code"]: _size(row) for row in rows("cylinder_sizes.csv")})


@cache
def air_sizes() -> Mapping[str, CylinderSize]:
    """Every size that comes with air too, by code: the same shells, with what they hold of air."""
    return MappingProxyType({row["code"]: _air_size(row) for row in rows("air_sizes.csv")})


def _air_size(row: Mapping[str, str]) -> CylinderSize:
    shell = sizes()[row["code"]]
    full = contents.contents_l(shell.filling_gauge_kpa, shell.filling_degc, shell.water_capacity_l, "air")
    label = _number(row["largest_label_contents_l"])
    own = {"basis", "filling", "tare"} & {*shell.recalled}
    return shell._replace(
        gas="air",
        contents_l=full,
        factor_l_per_psi=full / (shell.filling_gauge_kpa / constants.KPA_PER_PSI),
        connection=row["connection"],
        largest_label_contents_l=label,
        largest_label_gauge_kpa=None if label is None else _label_gauge_kpa(row),
        recalled=(*(name for name in shell.recalled if name in own), *_split(row["recalled"])),
        source=row["source"],
        note=row["note"],
    )


def find_size(code: str, gas: str = "oxygen") -> CylinderSize | None:
    """The size with this code, such as `US-E`, in capitals or small letters; None where there is none.

    `gas`: what it is filled with, `air` or anything else, which is then looked up as oxygen.
    """
    known = air_sizes() if gas == "air" else sizes()
    return known.get(code) or known.get(code.upper())


def clashing(letter: str) -> tuple[str, ...]:
    """The codes of every system that share a bare letter: `D` gives `US-D` and `UK-D`.

    A letter of one system only gives that one code, for it still needs its system. Upper and lower case are
    the same. Empty where no size has the letter.
    """
    wanted = letter.strip().upper()
    return tuple(code for code, size in sizes().items() if size.letter == wanted)


def same_code(code: str) -> str | None:
    """The code that is written so in another spelling, such as `us e` or `USE`; None where there is none.

    Never a size that looks alike: `UK-AZ` is not UK-ZX, and the two need not hold the same litres.

    >>> same_code("uk d"), same_code("UK-AZ")
    ('UK-D', None)
    """
    squeezed = _squeezed(code)
    for known, size in sizes().items():
        if squeezed == size.system + size.letter:
            return known
    return None


def of_system(code: str) -> tuple[CylinderSize, ...]:
    """The sizes of the system that a code begins with, such as `UK-AZ`; every size where it names none."""
    squeezed = _squeezed(code)
    known = {size.system for size in sizes().values()}
    system = next((name for name in known if squeezed.startswith(name)), None)
    return tuple(size for size in sizes().values() if system in (None, size.system))


def _squeezed(code: str) -> str:
    return "".join(mark for mark in code.upper() if mark.isalnum())


@cache
def settings() -> Mapping[str, DeviceSetting]:
    """Every setting of a device by its key in a profile."""
    return MappingProxyType({row["key"]: _setting(**row) for row in rows("settings.csv")})


def _setting(choices: str, **row: str) -> DeviceSetting:
    return DeviceSetting(choices=_split(choices), **row)


@cache
def device_types() -> Mapping[str, DeviceType]:
    """Every device type by name, in the order of the table."""
    usual: dict[str, dict[str, UsualRange]] = {row["type"]: {} for row in rows("devices.csv")}
    for row in rows("device_ranges.csv"):
        usual[row["type"]][row["key"]] = UsualRange(float(row["low"]), float(row["high"]), row["unit"], row["source"])
    return MappingProxyType({row["type"]: _device_type(row, usual[row["type"]]) for row in rows("devices.csv")})


def _device_type(row: Mapping[str, str], usual: dict[str, UsualRange]) -> DeviceType:
    needed_with = []
    for clause in _split(row["needed_with"], ";"):
        condition, _, needed = clause.partition(": ")
        key, _, value = condition.partition("=")
        needed_with.append((key, value, needed))
    return DeviceType(
        name=row["type"],
        title=row["title"],
        needs=tuple(_split(alternative) for alternative in _split(row["alternatives"], "|")),
        outlets=cast("tuple[Outlet, ...]", _split(row["outlets"], "|")),
        formulas=_split(row["formula"], "|"),
        optional=_split(row["optional"]),
        needed_with=tuple(needed_with),
        traits=cast("tuple[Trait, ...]", _split(row["traits"])),
        fails=row["fails"],
        usual=MappingProxyType(usual),
        source=row["source"],
    )
