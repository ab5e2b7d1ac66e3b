"""A trip on its way: what was answered so far, and the commented profile that it makes.

Texts are kept as they stand in a profile, units included; nothing is computed here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Final, Literal

from planner.new_trip.answers import LegAnswer
from planner.new_trip.cylinder_answers import CylinderAnswer
from planner.new_trip.usual import Settings
from planner.new_trip.wording import free, mapping, scalar, sequence

LegKind = Literal["walk", "load", "road", "fly", "unload", "stay"]

CART: Final = "cart"
WALL: Final = "wall"
AIR: Final = "air_cart"
"""The supply of air cylinders that a blend may name."""

VEHICLES: Final[Mapping[str, str]] = {"road": "ambulance", "fly": "aircraft"}
"""The supply of a vehicle by the kind of leg in which it carries the patient."""

_BY: Final = {"road": "road", "fly": "air"}
_STILL: Final = ("load", "unload")
_STAND_IN: Final = "  stand_in: {type: fixed_flow, flow: 1 L/min}"


@dataclass(slots=True)
class LegDraft:
    """One leg."""

    kind: LegKind
    name: str
    time: LegAnswer
    cabin_altitude: str | None = None


@dataclass(slots=True)
class SupplyDraft:
    """One supply; without cylinders and litres it is still to be drawn, in one of `sizes`."""

    sizes: tuple[str, ...]
    cylinders: list[CylinderAnswer] = field(default_factory=list)
    stated: str | None = None
    outlets: tuple[str, ...] | None = None
    regulators: int | None = None

    @property
    def drawn(self) -> bool:
        """True where readings or a stated amount are known."""
        return bool(self.cylinders) or self.stated is not None


@dataclass(slots=True)
class TripDraft:
    """The answers so far.

    `parts` names, for a device that does not run all the way, its legs (from 0) and the time in each, None for a whole
    leg.
    """

    setting: str = "in_house"
    name: str = "trip"
    policy: str | None = None
    devices: dict[str, Settings] = field(default_factory=dict)
    standing_by: dict[str, str] = field(default_factory=dict)
    """Devices that only another one calls on, with the case: `vent fails`."""
    legs: list[LegDraft] = field(default_factory=list)
    vehicles: dict[str, SupplyDraft] = field(default_factory=dict)
    cart: SupplyDraft | None = None
    air: SupplyDraft = field(default_factory=lambda: SupplyDraft(("US-E",)))
    parts: dict[str, dict[int, str | None]] = field(default_factory=dict)

    def supply_of(self, leg: LegDraft) -> str:
        """The name of the supply that a leg draws from."""
        if leg.time.wall:
            return WALL
        vehicle = VEHICLES.get(leg.kind)
        return vehicle if vehicle in self.vehicles else CART

    def supplies(self) -> dict[str, SupplyDraft]:
        """Every supply but the wall, the carried one first."""
        cart = {} if self.cart is None else {CART: self.cart}
        return cart | self.vehicles | ({AIR: self.air} if self.takes_air else {})

    @property
    def takes_air(self) -> bool:
        """True where the air of some device comes from cylinders."""
        return any(texts.get("air") == AIR for texts in self.devices.values())

    def text(self, policy: str | None = None, editor: str = "") -> str:
        """The profile; `policy` is the path of the policy file as seen from the profile's folder.

        `editor` is the first line, which names the schema to an editor.

        What is not answered yet is filled with stand-ins, so that the answers so far can be read as a profile is.
        """
        lines = [
            *([editor] if editor else []),
            "# Written from the answers to `new`. Change what changes, read each gauge again, and plan it again.",
            "profile: 1",
            f"trip: {free(self.name)}    # never a patient's name",
            f"setting: {self.setting}    # in_house, road or air: chooses the policy where no file does",
        ]
        if policy is not None:
            lines.append(f"policy: {free(policy)}")
        for block in (self._supplies(), self._devices(), self._legs()):
            lines += ["", *block]
        return "\n".join(lines) + "\n"

    def _supplies(self) -> Iterator[str]:
        yield "supplies:"
        if any(leg.time.wall for leg in self.legs):
            yield f"  {WALL}:"
            yield "    pipeline: true    # does not run out; not counted on at arrival"
        yield f"  {CART}:    # carried with the patient"
        yield from _supply(self.cart or SupplyDraft(("US-E",)))
        for name, supply in self.vehicles.items():
            yield f"  {name}:"
            yield "    fixed: true    # stays with the vehicle"
            yield f"    backup: {CART}    # carries on when it is lost"
            yield from _supply(supply)

        if self.takes_air:
            yield f"  {AIR}:"
            yield "    gas: air    # AIR, never oxygen: pin index 1-5"
            yield from _supply(self.air)

    def _devices(self) -> Iterator[str]:
        yield "devices:"
        for name, texts in self.devices.items():
            behind = self.standing_by.get(name)
            yield f"  {free(name)}:" + (f"    # stands by: draws nothing unless {behind}" if behind else "")
            yield from (f"    {key}: {scalar(text)}" for key, text in texts.items())
        if not self.devices:
            yield _STAND_IN

    def _legs(self) -> Iterator[str]:
        yield "legs:"
        for index, leg in enumerate(self.legs):
            yield f"  - name: {free(leg.name)}"
            yield f"    duration: {leg.time.duration}" + ("    # waits not counted" if leg.time.delays else "")
            if leg.time.delays:
                yield "    delays:"
                yield from (
                    f"      - {mapping([('reason', free(reason)), ('time', time)])}" for reason, time in leg.time.delays
                )
            if leg.time.longest:
                yield f"    longest: {leg.time.longest}"
            if leg.kind in _BY:
                yield f"    by: {_BY[leg.kind]}"
            if leg.cabin_altitude:
                yield f"    cabin_altitude: {leg.cabin_altitude}    # the highest in the cabin"
            if leg.kind in _STILL:
                yield "    no_change: true    # no cylinder is changed here"
            if leg.time.magnet:
                yield "    magnet: true    # only cylinders marked magnet_safe go in"
            if leg.time.outside:
                yield "    magnet: false    # as answered: patient and oxygen stay out of the magnet room"
            yield f"    supply: {self.supply_of(leg)}"
            yield f"    devices: {sequence(self._uses(index))}"
        if not self.legs:
            yield f"  - {{name: leg, duration: 1 min, supply: {CART}, devices: {sequence(self._uses(0))}}}"

    def _uses(self, index: int) -> Iterator[str]:
        working = [name for name in self.devices if name not in self.standing_by]
        for name in working:
            legs = self.parts.get(name)
            if legs is None:
                yield free(name)
            elif index in legs:
                time = legs[index]
                yield free(name) if time is None else mapping([("use", free(name)), ("for", time)])
        if not self.devices:
            yield "stand_in"


def _supply(supply: SupplyDraft) -> Iterator[str]:
    if supply.stated is not None:
        yield f"    litres: {supply.stated}    # as stated"
    elif not supply.cylinders:
        yield f"    sizes: {sequence(supply.sizes)}    # still to be drawn: then write `cylinders` in its place"
    if supply.outlets:
        yield f"    outlets: {sequence(supply.outlets)}" + ("    # on each cylinder" if supply.cylinders else "")
    if supply.regulators is not None:
        yield f"    regulators: {supply.regulators}    # for these cylinders; those built into a valve do not count"
    if supply.cylinders:
        yield "    cylinders:    # in the order of use; read again with the valve open and gas flowing"
        yield from (f"      - {mapping(_cylinder(cylinder))}" for cylinder in supply.cylinders)


def _cylinder(cylinder: CylinderAnswer) -> Iterator[tuple[str, str]]:
    yield "label", free(cylinder.label or "")
    if cylinder.size is not None:
        yield "size", scalar(cylinder.size)
    if cylinder.contents is not None:
        yield "contents", scalar(cylinder.contents)
    yield "gauge", cylinder.gauge
    if cylinder.magnet_safe:
        yield "magnet_safe", "true"
