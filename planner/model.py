"""What a trip is, as frozen plain data.

Units stand in the names. Pressures on cylinders are gauge pressures in kPa; a litre of oxygen is a litre
of dry gas at 21.1 degC and 101.325 kPa. Nothing here clamps, rounds or guesses: `planner.profile` fills
these classes from text that it has checked, and a library user may fill them by hand.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from math import fsum, inf
from types import MappingProxyType
from typing import Literal, NamedTuple

from planner.constants import FLOWMETER_LIMIT_L_PER_MIN
from planner.problems import NOWHERE, Position

Setting = Literal["in_house", "road", "air"]
OutletKind = Literal["flowmeter", "high_pressure", "none"]
SupplyKind = Literal["cylinders", "manifold", "litres", "pipeline", "sizes"]
SupplyGas = Literal["oxygen", "air"]

COMPRESSOR, ROOM = "compressor", "room"
"""What a device may take its air from beside a supply: a compressor of its own, or the room."""

NO_SOURCES: Mapping[str, str] = MappingProxyType({})


class Outlet(NamedTuple):
    """One outlet of a cylinder or supply: a flowmeter up to a limit, or a 50-psi outlet (no limit known)."""

    kind: OutletKind
    limit_l_per_min: float | None = None


DEFAULT_OUTLETS = (Outlet("flowmeter", FLOWMETER_LIMIT_L_PER_MIN),)


class Cylinder(NamedTuple):
    """One cylinder on hand.

    `gauge_kpa` is the reading, as indicated. `temperature_degc` is that of the gas when it was read, None
    where nobody said. `factor_l_per_psi` is the factor of the hand method. `outlets` is None where the
    profile says nothing: `Supply.outlets_of` then gives the default. `mass_kg` is the full mass where
    known. `out_of_use`: no trip is given it, but for one that has it `on_board` by its log; `out_of_use_why` is as
    noted.
    """

    label: str
    water_capacity_l: float
    filling_gauge_kpa: float
    factor_l_per_psi: float
    gauge_kpa: float
    size: str | None = None
    label_contents: str | None = None
    outlets: tuple[Outlet, ...] | None = None
    temperature_degc: float | None = None
    gas: str = "oxygen"
    magnet_safe: bool = False
    verified: bool | None = None
    checked: datetime | None = None
    mass_kg: float | None = None
    connection: str | None = None
    gauge_scale_kpa: float | None = None
    out_of_use: bool = False
    out_of_use_why: str = ""
    on_board: bool = False
    where: Position = NOWHERE

    @property
    def counted_as(self) -> SupplyGas:
        """The gas by whose density its litres are worked out: air, or else oxygen."""
        return "air" if self.gas == "air" else "oxygen"


class SizeAsked(NamedTuple):
    """A size of full cylinder to count for a supply.

    `full_gauge_kpa` is what a full one reads by policy; `full_mass_kg` None where not known; `outlets`
    None means: assume the outlets that the trip needs (the paper then asks for them).
    """

    size: str
    water_capacity_l: float
    filling_gauge_kpa: float
    factor_l_per_psi: float
    full_gauge_kpa: float
    outlets: tuple[Outlet, ...] | None = None
    full_mass_kg: float | None = None
    connection: str | None = None
    where: Position = NOWHERE
    gas: SupplyGas = "oxygen"


class Liquid(NamedTuple):
    """A vessel of liquid oxygen as it was read: weights in kg, whatever its gauge shows, and `text` as typed.

    `loss_kg_per_day` boils away whether anybody breathes or not. `waiting_min`: from the reading to the end of the
    longest trip, `lost_to_min` the elapsed minute of that end.
    """

    amount_kg: float
    keep_kg: float
    loss_kg_per_day: float
    text: str = ""
    keep_said: bool = True
    read_at: datetime | None = None
    waiting_min: float = 0.0
    lost_to_min: float = inf


class Supply(NamedTuple):
    """One supply, of oxygen or of air. `sizes` holds the sizes asked for and, after them, those in use.

    A supply may choose from a `store`: then `cylinders` is empty until `planner.store.choice` has chosen, within
    `weight_limit_kg` and `places` where these are given; `prefer` `part_used` uses part-used cylinders up first.
    `store_file` is the path of the store where it is a file of its own. `regulators` says how many there are for the
    cylinders, None where nobody says: then one a cylinder is taken.
    """

    name: str
    kind: SupplyKind
    fixed: bool = False
    backup: str | None = None
    cylinders: tuple[Cylinder, ...] = ()
    sizes: tuple[SizeAsked, ...] = ()
    stated_l: float | None = None
    outlets: tuple[Outlet, ...] | None = None
    temperature_degc: float | None = None
    coldest_degc: float | None = None
    store: tuple[Cylinder, ...] | None = None
    store_file: str | None = None
    weight_limit_kg: float | None = None
    places: int | None = None
    prefer: Literal["part_used"] | None = None
    regulators: int | None = None
    where: Position = NOWHERE
    gas: SupplyGas = "oxygen"
    liquid: Liquid | None = None

    @property
    def portable(self) -> bool:
        """True for what is carried with the patient: neither fixed to a vehicle nor a wall pipeline."""
        return not self.fixed and self.kind != "pipeline"

    def outlets_of(self, cylinder: Cylinder) -> tuple[Outlet, ...]:
        """The outlets of a cylinder: its own, else the supply's, else one flowmeter to 15 L/min."""
        if cylinder.outlets is not None:
            return cylinder.outlets
        return self.outlets if self.outlets is not None else DEFAULT_OUTLETS


class Device(NamedTuple):
    """A device with its settings, resolved: what `use:` overrides is already in.

    `type` is one of the device types of planner/trade/data/devices.csv. Settings that a type does not use are
    None. `greatest_flow_l_per_min` and `altitude_limit_m` are what a concentrator can do by its manual.
    `battery_used_min` is how long it has been on its battery before the trip begins, as on one that is planned
    again on the way. `fio2` is a fraction from 0.21 to 1. `outlet` is None unless the profile overrides the table.
    `air` is `COMPRESSOR`, `ROOM` or the name of a supply; None means the room. `bleed_l_per_min` is what a blender lets
    go. `without_air` says what a ventilator does whose air is gone: it takes oxygen alone, or its fallback takes over.
    `driven_by` is the gas that drives it, oxygen unless said. `measured` is True for no device at all: for a flow that
    was measured above what is planned, which nobody sets.
    """

    name: str
    type: str
    flow_l_per_min: float | None = None
    total_flow_l_per_min: float | None = None
    oxygen_flow_l_per_min: float | None = None
    fio2: float | None = None
    minute_volume_l_per_min: float | None = None
    tidal_volume_l: float | None = None
    rate_per_min: float | None = None
    bias_flow_l_per_min: float | None = None
    leak_l_per_min: float | None = None
    drive: Literal["electric", "pneumatic"] | None = None
    drive_gas_l_per_min: float | None = None
    pulse_volume_l: float | None = None
    rule: Literal["minute_volume_times_fio2"] | None = None
    battery_min: float | None = None
    battery_used_min: float = 0.0
    greatest_flow_l_per_min: float | None = None
    altitude_limit_m: float | None = None
    measured: bool = False
    if_it_fails: str | None = None
    may_rise_to: str | None = None
    outlet: OutletKind | None = None
    patient: str | None = None
    where: Position = NOWHERE
    bleed_l_per_min: float | None = None
    air: str | None = None
    without_air: Literal["oxygen", "fallback"] | None = None
    driven_by: SupplyGas | None = None

    @property
    def air_supply(self) -> str | None:
        """The supply that its air comes from; None where it takes none, or makes do with the room or a compressor."""
        return None if self.air in (COMPRESSOR, ROOM) else self.air


class Use(NamedTuple):
    """A device at work in a leg on a supply of oxygen: for the whole leg, or for its first `for_min` minutes."""

    device: Device
    supply: str
    for_min: float | None = None
    where: Position = NOWHERE

    @property
    def supplies(self) -> tuple[str, ...]:
        """The supplies that it draws on: that of its oxygen, and that of its air where it has one."""
        air = self.device.air_supply
        return (self.supply,) if air is None else (self.supply, air)


class Delay(NamedTuple):
    """A wait that is planned for, added to its leg."""

    reason: str
    time_min: float


class Divert(NamedTuple):
    """A place on the way to which a leg can be broken off, and how long that takes from anywhere in the leg."""

    to: str
    time_min: float


class Leg(NamedTuple):
    """One leg of a trip. `supply` is where its devices draw unless a use says otherwise.

    `magnet_said` is True where the profile says of the leg whether it is in a magnet room or not.
    """

    name: str
    duration_min: float
    uses: tuple[Use, ...]
    supply: str | None = None
    delays: tuple[Delay, ...] = ()
    longest_min: float | None = None
    no_change: bool = False
    by: str | None = None
    cabin_pressure_kpa: float | None = None
    cabin_altitude_m: float | None = None
    magnet: bool = False
    divert: Divert | None = None
    mains: bool = False
    where: Position = NOWHERE
    magnet_said: bool = False

    @property
    def total_min(self) -> float:
        """Duration and delays together, minutes."""
        return self.duration_min + fsum([delay.time_min for delay in self.delays])

    @property
    def supplies(self) -> tuple[str, ...]:
        """The supplies that its devices draw on, each once."""
        return tuple(dict.fromkeys(name for use in self.uses for name in use.supplies))


def timed(legs: Iterable[Leg]) -> Iterator[tuple[int, Leg, float, float]]:
    """Each leg with its number from 0, and the elapsed minutes of its start and end."""
    start_min = 0.0
    for number, leg in enumerate(legs):
        end_min = start_min + leg.total_min
        yield number, leg, start_min, end_min
        start_min = end_min


OwnLineList = Literal["before_departure", "source_change", "cylinder_change", "arrival", "return"]


class OwnLine(NamedTuple):
    """A line that the service adds to one of the checklists, at its end; `source` is empty where none is stated."""

    list: OwnLineList
    text: str
    source: str = ""


class Listed(NamedTuple):
    """The texts that lines of the history may hold as they stand; all others become `other`."""

    legs: tuple[str, ...] = ()
    waits: tuple[str, ...] = ()
    devices: tuple[str, ...] = ()
    settings: tuple[str, ...] = ()


class OwnForm(NamedTuple):
    """What the request form of a service offers: codes of sizes, types of devices, kinds of outlet; None for all.

    `legs`: the names that stand in the first rows of its legs already.
    """

    sizes: tuple[str, ...] | None = None
    devices: tuple[str, ...] | None = None
    outlets: tuple[str, ...] | None = None
    legs: tuple[str, ...] = ()


class Policy(NamedTuple):
    """The policy in force: the column of the setting, with what the service or the trip overrides.

    `overrides` names the keys that differ from the column, as written. `sources` gives the source of every
    key in words. `rise_for_min`: how long a patient who gets worse needs the risen settings; `help_within_min`: how
    long a fallback has to last until help is there, None for the whole trip.
    """

    reserve_factor: float
    reserve_time_min: float
    spare_cylinders: int
    change_over_at_kpa: float
    full_at_kpa: float
    gauge_allowance_kpa: float
    handover_time_min: float
    must_hold: tuple[str, ...]
    rise_for_min: float = 0.0
    battery_factor: float = 1.5
    help_within_min: float | None = None
    gauge_scale_kpa: float | None = None
    reading_valid_for_min: float = 720.0
    pressure_unit: Literal["psi", "bar", "kPa", "MPa"] = "psi"
    name: str | None = None
    own_lines: tuple[OwnLine, ...] = ()
    history: Listed = Listed()
    form: OwnForm = OwnForm()
    overrides: tuple[str, ...] = ()
    sources: Mapping[str, str] = NO_SOURCES


class Accepted(NamedTuple):
    """A stop that a licensed clinician accepts. `by` is a role, never a person's name.

    `what` is a what-if that must hold, with `not_before_min`, the elapsed minute before which its oxygen must not end;
    `reserve`, with `at_most_l`, so many litres of it may be missing; `spare`; or `fio2_above_1`, which has no supply.
    """

    what: str
    by: str
    why: str
    supply: str | None = None
    at_most_l: float | None = None
    not_before_min: float | None = None
    where: Position = NOWHERE


class Carried(NamedTuple):
    """A gauge read on the way, and what it is taken to be at a later minute; both minutes as the trip before counts."""

    supply: str
    cylinder: str
    read_kpa: float
    read_min: float
    gauge_kpa: float


class Onward(NamedTuple):
    """What makes a trip the rest of one that is on its way, planned again.

    `revision` is that of its card, `replaces` the number of the card that it takes the place of. It begins `from_min`
    after the first departure, in leg `leg` (from 0, of the plan before), of which `to_go_min` are left: as it was said
    where `told`, else by the log. `gone` are the legs done since the first departure, the part of the last one too, at
    the flows that a way back would draw. `carried` are the gauges with how they were reckoned, `more_l_per_min` by how
    much each supply was measured to give more than planned and logged; `unread` supplies were drawn on and not read.
    `labels` in doubt: supply, the label of a reading, and the cylinder that it may be of, counted as what leaves less;
    `less`: supplies of which less was used than planned, what was not read of them counted at its least. `ashore`:
    supply and label of what the plan chose from a store that is not as it was, and the log does not name.
    """

    revision: int
    replaces: str
    from_min: float
    leg: int
    leg_name: str
    to_go_min: float
    told: bool
    gone: tuple[Leg, ...] = ()
    carried: tuple[Carried, ...] = ()
    more_l_per_min: tuple[tuple[str, float], ...] = ()
    unread: tuple[str, ...] = ()
    labels: tuple[tuple[str, str, str], ...] = ()
    less: tuple[str, ...] = ()
    ashore: tuple[tuple[str, str], ...] = ()
    steps: tuple[str, ...] = ()
    """How each planning again is made once more from the first plan: one text a step (`planner.readings.onward`)."""


class Trip(NamedTuple):
    """A whole trip. `devices` holds every device by name, standby ones too.

    `fingerprint` is the SHA-256 of the profile text, of the policy file and of the values set on the
    command line; `changes` are these values as typed. `texts` are the texts that it was read from, each with the name
    of its file: the profile, then what it names beside itself. `onward` is None for a trip that begins.
    """

    name: str
    setting: Setting
    policy: Policy
    supplies: Mapping[str, Supply]
    devices: Mapping[str, Device]
    legs: tuple[Leg, ...]
    setting_given: bool = True
    reference: str | None = None
    departs: datetime | None = None
    home_pressure_kpa: float = 101.325
    home_altitude_m: float = 0.0
    file: str = ""
    fingerprint: str = ""
    changes: tuple[str, ...] = ()
    accepted: tuple[Accepted, ...] = ()
    texts: tuple[tuple[str, str], ...] = ()
    onward: Onward | None = None

    @property
    def gone(self) -> tuple[Leg, ...]:
        """The legs done before this trip begins: none, but for one that is planned again on its way."""
        return () if self.onward is None else self.onward.gone

    @property
    def total_min(self) -> float:
        """Elapsed minutes from departure to the end of the last leg."""
        return fsum([leg.total_min for leg in self.legs])
