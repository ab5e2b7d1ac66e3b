"""Cylinders, their sizes and their outlets."""

from __future__ import annotations

import re
from datetime import datetime
from typing import Final, NamedTuple

from planner import figures
from planner.constants import (
    FULL_SHARE_OF_FILLING,
    KPA_PER_PSI,
    METRIC_FILLING_TEMPERATURE_DEGC,
    NOISE,
    REFERENCE_TEMPERATURE_DEGC,
)
from planner.figures import supply_l
from planner.gas import contents
from planner.model import Cylinder, Outlet, Policy, SizeAsked
from planner.naming import of_another_gas
from planner.profile.clock import TripClock, read_moment
from planner.profile.faults import Faults, position
from planner.profile.fields import Fields, read_quantity
from planner.profile.limits import HIGHEST_OVER_FILLING, LIMITS, MOST_LABEL_OVER_CATALOG
from planner.text.label_contents import label_contents
from planner.text.quantities import QuantityError
from planner.text.source import Node
from planner.text.text_file import show
from planner.trade.catalog import CylinderSize, air_sizes, clashing, find_size, of_system, same_code

_NO_CODE = re.compile(r"\b(?:size|sized|cylinders?|tanks?|bottles?|cyl)\b", re.IGNORECASE)
"""Words beside the code of a size: an `E-size` is an E, of a system that is still to be said."""

_BASES: Final = "`size`, `contents` as on the label, or `water_capacity` with `filling`"


class _Basis(NamedTuple):
    """What a cylinder's litres follow from."""

    water_capacity_l: float
    filling_gauge_kpa: float
    factor_l_per_psi: float


_UNKNOWN: Final = _Basis(1.0, contents.HIGHEST_GAUGE_KPA, 1.0)
"""Stands in for a basis that is wrong and told, so that reading can go on; no such trip is handed out."""


def read_outlets(fields: Fields) -> tuple[Outlet, ...] | None:
    """The outlets of a cylinder, a size or a supply; None where nothing is said."""
    if fields.get("outlets") is None:
        return None
    found = []
    for item in fields.items("outlets"):
        if item.kind == "scalar":
            found.append(Outlet("high_pressure"))
        else:
            limit = Fields(fields.faults, item, "outlet").quantity("flowmeter")
            found.append(Outlet("flowmeter", limit))
    return tuple(found)


def read_cylinder(
    faults: Faults, node: Node, shared_gauge: Node | None, clock: TripClock, silent: contents.Gas = "oxygen"
) -> Cylinder:
    """One cylinder; `shared_gauge` is the reading of its manifold, if the supply gives one.

    `silent`: the gas of a cylinder that does not say it, that of its supply.
    """
    fields = Fields(faults, node, "cylinder")
    label = fields.text("label") or ""
    fields.title = f"cylinder {show(label)}" if label else "cylinder"
    gas = fields.text("gas") or silent
    if gas == "oxygen" and not fields.given("gas") and of_another_gas(label):
        found, fix = f"label {show(label)} on a cylinder that is counted as oxygen", "add `gas:` with what is in it"
        fields.add("label", "gas_not_said", found, "`gas` beside a label that names another gas", fix)
    size_node = fields.get("size")
    size = None if size_node is None else read_size(faults, size_node, gas)
    basis = _basis(fields, size, "air" if gas == "air" else "oxygen") or _UNKNOWN
    mass, scale = fields.quantity("mass"), fields.quantity("gauge_scale")
    return Cylinder(
        label=label,
        water_capacity_l=basis.water_capacity_l,
        filling_gauge_kpa=basis.filling_gauge_kpa,
        factor_l_per_psi=basis.factor_l_per_psi,
        gauge_kpa=_gauge(fields, basis, scale, shared_gauge),
        size=None if size is None else size.code,
        label_contents=fields.text("contents"),
        outlets=read_outlets(fields),
        temperature_degc=fields.quantity("temperature"),
        gas=gas,
        magnet_safe=fields.flag("magnet_safe") or False,
        verified=fields.flag("verified"),
        checked=_checked(fields, clock),
        mass_kg=mass if mass is not None or size is None else size.full_mass_kg,
        connection=None if size is None else size.connection,
        gauge_scale_kpa=scale,
        out_of_use=fields.flag("out_of_use") or False,
        where=position(node),
    )


def size_asked(size: CylinderSize, policy: Policy, outlets: tuple[Outlet, ...] | None, node: Node) -> SizeAsked:
    """A full cylinder of a size.

    Full reads `full_at` for US sizes, never above the filling pressure, and 0.9 of the filling pressure for others.
    """
    full = FULL_SHARE_OF_FILLING * size.filling_gauge_kpa
    if size.system == "US":
        full = min(policy.full_at_kpa, size.filling_gauge_kpa)
    return SizeAsked(
        size=size.code,
        water_capacity_l=size.water_capacity_l,
        filling_gauge_kpa=size.filling_gauge_kpa,
        factor_l_per_psi=size.factor_l_per_psi,
        full_gauge_kpa=full,
        outlets=outlets,
        full_mass_kg=size.full_mass_kg,
        connection=size.connection,
        where=position(node),
        gas=size.gas,
    )


def read_size(faults: Faults, node: Node, gas: str = "oxygen") -> CylinderSize | None:
    """A size of the catalogue by its code; a bare letter is refused and the sizes that share it are offered."""
    code = node.text.strip()
    size = find_size(code, gas)
    if size is not None:
        return size
    if find_size(code) is not None:
        known = ", ".join(f"{size.code} {supply_l(size.contents_l)}" for size in air_sizes().values())
        allowed = f"a size of which the catalogue knows that it comes with air: {known}"
        fix = "read its label: give `contents:` of air as it stands there, in place of the size"
        faults.add(node, "size_unknown", f"size {show(code)} of air", allowed, fix)
        return None
    code = _NO_CODE.sub("", code).strip(" -_") or code
    sharing = clashing(code)
    if sharing:
        shown = " or ".join(_in_words(other) for other in sharing)
        fix = " or ".join(f"`{other}`" for other in sharing)
        if len(sharing) == 1:
            fix += " if its label says these litres, else give `contents:` as on the label"
        else:
            fix += ", as the cylinder is marked"
        found = f"size {show(node.text)} without its system"
        faults.add(node, "size_without_system", found, shown, f"write {fix}")
        return None
    meant = same_code(code)
    if meant is not None:
        found, typed = f"size {show(node.text)}", node.text.strip()
        faults.add(node, "size_unknown", found, _in_words(meant), f"write `{meant}`", ((typed, meant),))
        return None
    known = ", ".join(f"{size.code} {supply_l(size.contents_l)}" for size in of_system(code))
    allowed = f"a size of the catalogue: {known}"
    fix = "read its label: give `contents:` as it stands there, in place of the size, or the size with these litres"
    faults.add(node, "size_unknown", f"size {show(node.text)}", allowed, fix)
    return None


def _in_words(code: str) -> str:
    size = find_size(code)
    if size is None:
        return code
    unit = "psi" if size.system == "US" else "bar"
    return f"{code} ({figures.supply_l(size.contents_l)} at {figures.gauge_read(size.filling_gauge_kpa, unit)})"


def _basis(fields: Fields, size: CylinderSize | None, gas: contents.Gas) -> _Basis | None:
    """What the litres follow from: the label, else the size, else the water capacity."""
    given = [key for key in ("size", "contents", "water_capacity", "filling") if fields.given(key)]
    by_water = [key for key in given if key in ("water_capacity", "filling")]
    if not given:
        fix = "add `size: US-E` with the cylinder's size, or `contents:` as on its label"
        fields.add(None, "key_missing", f"{fields.title} without `size` or `contents`", _BASES, fix)
        return None
    if by_water and len(by_water) < len(given):
        fields.add(
            by_water[0],
            "two_ways",
            f"{by_water[0]} beside {given[0]}",
            f"one of {_BASES}",
            f"take `{by_water[0]}` out, or `{given[0]}`",
        )
        return None
    if by_water:
        for key in ("water_capacity", "filling"):
            if not fields.given(key):
                allowed = "`water_capacity` and `filling` together, as stamped on the cylinder"
                fields.missing(
                    key,
                    allowed,
                    f"add `{key}: {'4.7 L' if key == 'water_capacity' else '200 bar'}` with what is stamped",
                )
        return _by_water(fields, gas)
    if fields.given("contents"):
        return _by_label(fields, size, gas)
    return None if size is None else _Basis(size.water_capacity_l, size.filling_gauge_kpa, size.factor_l_per_psi)


def _by_water(fields: Fields, gas: contents.Gas) -> _Basis | None:
    capacity, filling = fields.quantity("water_capacity"), fields.quantity("filling")
    if capacity is None or filling is None:
        return None
    in_psi = "psi" in (fields.text("filling") or "").casefold()
    degc = REFERENCE_TEMPERATURE_DEGC if in_psi else METRIC_FILLING_TEMPERATURE_DEGC
    full_l = contents.contents_l(filling, degc, capacity, gas)
    return _Basis(capacity, filling, full_l / (filling / KPA_PER_PSI))


def _by_label(fields: Fields, size: CylinderSize | None, gas: contents.Gas) -> _Basis | None:
    text = fields.text("contents")
    if text is None:
        return None
    try:
        label = label_contents(text)
    except QuantityError as error:
        node = fields.get("contents") or fields.node
        mends = tuple((text, mend) for mend in error.mends)
        fields.faults.add(node, error.code, f"contents {error.found}", error.allowed, error.fix, mends)
        return None
    for key, value in (("filling", label.gauge_kpa), ("temperature", label.temperature_degc)):
        if not LIMITS[key].holds(value):
            found = f"contents {show(text)} with an unlikely {'pressure' if key == 'filling' else key}"
            fields.add("contents", "out_of_range", found, LIMITS[key].allowed, "check the number and its unit")
            return None
    capacity = contents.water_capacity_l(label.contents_l, label.gauge_kpa, label.temperature_degc, gas)
    if not LIMITS["water_capacity"].holds(capacity):
        found = (
            f"contents {show(text)}, for which a cylinder would have to hold "
            f"{figures.significant(capacity, 3)} L of water"
        )
        fields.add("contents", "out_of_range", found, LIMITS["water_capacity"].allowed, "check both numbers and units")
        return None
    if (
        size is not None
        and not 1 / MOST_LABEL_OVER_CATALOG <= capacity / size.water_capacity_l <= MOST_LABEL_OVER_CATALOG
    ):
        found = f"contents {show(text)} on a cylinder of size {size.code}"
        fields.add(
            "contents", "label_and_size", found, f"a label near {_in_words(size.code)}", "check the size and the label"
        )
        return None
    return _Basis(capacity, label.gauge_kpa, label.contents_l / (label.gauge_kpa / KPA_PER_PSI))


def _gauge(fields: Fields, basis: _Basis, scale: float | None, shared: Node | None) -> float:
    """The reading of a cylinder, kPa; 0 stands in where it is missing or wrong, which is then told."""
    own = fields.get("gauge")
    if own is not None and shared is not None:
        fix = "leave it out here: the gauge of the manifold holds for every cylinder"
        fields.add("gauge", "gauge_twice", "a gauge here and one for the whole manifold", "one gauge", fix)
        return 0.0
    node = shared if own is None else own
    if node is None:
        if not fields.given("gauge"):
            fix = "read it with the valve open and gas flowing, and add `gauge:` with the number and unit that it shows"
            fields.missing("gauge", "the reading of its gauge with its unit", fix)
        return 0.0
    value = fields.quantity("gauge") if own is not None else _quietly(node)
    if value is None:
        return 0.0
    most = HIGHEST_OVER_FILLING * basis.filling_gauge_kpa
    if basis is not _UNKNOWN and value > most * (1.0 + NOISE):
        fields.faults.add(
            node,
            "gauge_above_filling",
            f"gauge {show(node.text)} on {fields.title}, where full is "
            f"{figures.gauge_both_nearest(basis.filling_gauge_kpa)}",
            f"a gauge up to {figures.plain(HIGHEST_OVER_FILLING)} x the filling pressure, "
            f"{figures.gauge_both_down(most)}",
            "check the unit of the gauge and the size of the cylinder",
        )
    if scale is not None and value > scale:
        fix = "check both, a gauge cannot show more than the end of its scale"
        fields.faults.add(
            node,
            "gauge_above_scale",
            f"gauge {show(node.text)} on {fields.title}",
            f"a gauge up to its gauge_scale, {figures.gauge_both_down(scale)}",
            fix,
        )
    return value


def _quietly(node: Node) -> float | None:
    """The reading of a manifold, which the supply has told about already if it is wrong."""
    return read_quantity(Faults(""), node, "gauge", LIMITS["gauge"])


def _checked(fields: Fields, clock: TripClock) -> datetime | None:
    """When the gauge was read. It can be held against a departure only if both know their offset, or neither does."""
    checked = read_moment(fields, "checked", clock.zone)
    if (
        checked is not None
        and clock.departs is not None
        and clock.departs.tzinfo is None
        and checked.tzinfo is not None
    ):
        fields.add(
            "checked",
            "offset_missing",
            f"checked {show(fields.text('checked') or '')} with an offset, and `departs` without",
            "an offset in both, or in neither",
            "give the trip a `timezone`, or `departs` an offset",
        )
    return checked
