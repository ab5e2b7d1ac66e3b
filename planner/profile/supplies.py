"""The supplies of a trip."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final, NamedTuple, TypeAlias

from planner.constants import SAME_KPA
from planner.model import DEFAULT_OUTLETS, Cylinder, Outlet, Policy, SizeAsked, Supply, SupplyGas, SupplyKind
from planner.profile.beside import Folder
from planner.profile.clock import TripClock
from planner.profile.cylinders import read_cylinder, read_outlets, read_size, size_asked
from planner.profile.faults import Faults, listed_names, position
from planner.profile.fields import Fields
from planner.profile.liquid import read_liquid
from planner.profile.side_by_side import tell_backups, tell_listed_twice
from planner.text.source import Node
from planner.text.spelling import slip
from planner.text.text_file import show
from planner.trade.catalog import find_size
from planner.trade.schemas import schema

Names: TypeAlias = tuple[str, ...] | None
"""Names that a profile has, None where they cannot be known because what holds them is missing or wrong."""

_KINDS: Final = ("cylinders", "store", "litres", "liquid", "pipeline")
_ALLOWED: Final = (
    "one of `cylinders`, `store`, `litres`, `liquid`, `pipeline: true`, or `sizes` for cylinders still to be drawn"
)
_CHOICE: Final = ("weight_limit", "places", "prefer")
_OF_CYLINDERS: Final = ("manifold", "regulators", "gauge", "sizes", "temperature", "coldest", *_CHOICE)


class _Form(NamedTuple):
    """A form of supply in words, the keys that say it, and those that would be without effect on it."""

    words: str
    said_by: tuple[str, ...]
    of_no_use: tuple[str, ...]


_FORMS: Final[Mapping[str, _Form]] = {
    "cylinders": _Form("cylinders used one after another", ("cylinders", "sizes"), _CHOICE),
    "manifold": _Form("a manifold", ("cylinders", "sizes"), ("regulators", *_CHOICE)),
    "store": _Form("cylinders chosen from a store", ("store", "sizes"), ("manifold", "gauge")),
    "litres": _Form("a stated amount", ("litres",), _OF_CYLINDERS),
    "liquid": _Form("liquid oxygen", ("liquid",), (*_OF_CYLINDERS, "gas")),
    "pipeline": _Form("a pipeline", ("pipeline",), _OF_CYLINDERS),
    "sizes": _Form("cylinders still to be drawn", ("sizes",), ("manifold", "gauge", *_CHOICE)),
}


def read_supplies(root: Fields, policy: Policy, clock: TripClock, folder: Folder) -> dict[str, Supply]:
    """Every supply by name, each fixed one with its backup where that can be told."""
    supplies: dict[str, Supply] = {}
    names = names_under(root, "supplies")
    for name, value in root.entries("supplies"):
        fields = Fields(root.faults, value, f"supply {show(name.text)}")
        supplies[name.text] = _read(fields, name, names, policy, clock, folder)
    tell_listed_twice(root, supplies)
    tell_backups(root, supplies)
    portable = [supply.name for supply in supplies.values() if supply.portable and supply.gas == "oxygen"]
    if len(portable) == 1:
        for name_text, supply in supplies.items():
            if supply.fixed and supply.backup is None and supply.gas == "oxygen" and supply.name != portable[0]:
                supplies[name_text] = supply._replace(backup=portable[0])
    return supplies


def known(fields: Fields, key: str, names: Names, what: str = "supply") -> str | None:
    """The name of a supply or device that exists; None where none is given, or another one, which is then told."""
    name, node = fields.text(key), fields.get(key)
    if name is None or node is None or names is None or name in names:
        return name
    unknown(fields.faults, node, name, names, what)
    return None


def names_under(root: Fields, key: str) -> Names:
    """The names of the supplies or devices of a profile."""
    node = root.get(key)
    return None if node is None else node.keys()


def unknown(faults: Faults, node: Node, name: str, names: tuple[str, ...], what: str) -> None:
    """One problem: a name that no supply or device has; `what` says which."""
    place = {"supply": "supplies", "device": "devices"}[what]
    meant = slip(name, names)
    fix = f"add it under `{place}`" if meant is None else f"write {show(meant)}, or add {show(name)} under `{place}`"
    found = f"{what} {show(name)}, which the profile does not have"
    faults.add(node, f"{what}_unknown", found, f"one of the {place}: {listed_names(names)}", fix)


def _read(fields: Fields, name: Node, names: Names, policy: Policy, clock: TripClock, folder: Folder) -> Supply:
    kind = _kind(fields)
    form = next((key for key in ("store", "liquid") if fields.given(key)), kind)
    _refuse_useless(fields, form)
    backup = known(fields, "backup", names)
    if backup == name.text:
        others = tuple(other for other in names or () if other != name.text)
        fields.add(
            "backup",
            "own_backup",
            f"{fields.title} as its own backup",
            f"another supply: {listed_names(others) or 'none yet'}",
            "name another supply, or leave `backup` out",
        )
    outlets = read_outlets(fields)
    gas: SupplyGas = "air" if fields.text("gas") == "air" else "oxygen"
    cylinders = _cylinders(fields, kind, clock, gas)
    places, regulators = fields.quantity("places"), fields.quantity("regulators")
    return Supply(
        name=name.text,
        kind=kind,
        fixed=fields.flag("fixed") or False,
        backup=backup,
        cylinders=cylinders,
        sizes=_sizes(fields, cylinders, policy, outlets, gas),
        store=_store(fields, clock, folder),
        store_file=_store_file(fields, folder),
        weight_limit_kg=fields.quantity("weight_limit"),
        places=None if places is None else int(places),
        regulators=None if regulators is None else int(regulators),
        prefer="part_used" if fields.text("prefer") == "part_used" else None,
        stated_l=fields.quantity("litres"),
        outlets=outlets,
        temperature_degc=fields.quantity("temperature"),
        coldest_degc=fields.quantity("coldest"),
        where=position(name),
        gas=gas,
        liquid=read_liquid(fields, clock),
    )


def _kind(fields: Fields) -> SupplyKind:
    """The kind of a supply; anything stands in where it cannot be told, which is then a problem."""
    given = [key for key in _KINDS if fields.given(key)]
    if len(given) > 1:
        keys = " and ".join(f"`{key}`" for key in given)
        fields.add(given[1], "two_kinds", f"{fields.title} with {keys}", _ALLOWED, "make two supplies of it")
    if not given:
        if not fields.given("sizes"):
            found = f"{fields.title} that does not say what it is"
            fields.add(None, "key_missing", found, _ALLOWED, "add one of them")
        return "sizes"
    if given[0] == "store":
        return "cylinders"
    if given[0] == "cylinders":
        return "manifold" if fields.flag("manifold") else "cylinders"
    return "pipeline" if given[0] == "pipeline" else "litres"


def _refuse_useless(fields: Fields, kind: str) -> None:
    """Tells of keys that would be without effect."""
    form = _FORMS[kind]
    useless = {*form.of_no_use, *_KINDS, "sizes"} - {*form.said_by}
    for key in form.of_no_use:
        if fields.given(key):
            known_keys = schema("profile")["$defs"]["supply"]["properties"]
            allowed = listed_names(f"`{other}`" for other in known_keys if other not in useless)
            fields.add(key, "of_no_use", f"{key} on {form.words}", allowed, f"take `{key}` out")


def _store(fields: Fields, clock: TripClock, folder: Folder) -> tuple[Cylinder, ...] | None:
    """The cylinders to choose from, from the profile or from a file beside it; None without a store."""
    node = fields.get("store")
    if node is None:
        return None
    if node.kind == "list":
        return read_cylinders(fields, "store", None, clock)
    with folder.opened(fields.faults, node, "store") as there:
        if there is None:
            return ()
        there.title = f"store {show(node.text)}"
        return read_cylinders(there, "cylinders", None, clock)


def _store_file(fields: Fields, folder: Folder) -> str | None:
    """The path of the store, where it is a file of its own."""
    node = fields.get("store")
    return str(folder.path / node.text.strip()) if node is not None and node.kind == "scalar" else None


def _cylinders(fields: Fields, kind: SupplyKind, clock: TripClock, gas: SupplyGas) -> tuple[Cylinder, ...]:
    shared = fields.get("gauge")
    if kind == "manifold":
        fields.quantity("gauge")
    elif (
        kind == "cylinders"
        and shared is not None
        and (fields.flag("manifold") is not None or not fields.given("manifold"))
    ):
        fix = "write a `gauge` for each cylinder, or add `manifold: true` if all are open together"
        fields.add(
            "gauge", "of_no_use", "one gauge for cylinders used one after another", "a gauge for each cylinder", fix
        )
    for node in fields.items("cylinders"):
        if Fields(Faults(""), node, "cylinder").flag("out_of_use"):
            fields.faults.add(
                node,
                "out_of_use",
                "a cylinder out of use among those that the trip takes",
                "cylinders in use",
                "take another one, or leave `out_of_use` out once it is in order again",
            )
    return read_cylinders(fields, "cylinders", shared, clock, manifold=kind == "manifold", silent=gas)


def read_cylinders(
    fields: Fields,
    key: str,
    shared: Node | None,
    clock: TripClock,
    *,
    manifold: bool = False,
    silent: SupplyGas = "oxygen",
) -> tuple[Cylinder, ...]:
    """The cylinders of a list, each with a label of its own; those of a `manifold` with one gauge, `shared` or not.

    `silent`: the gas of those that do not say it. In a store that is oxygen, whichever supply chooses from it.
    """
    cylinders: dict[str, Cylinder] = {}
    for node in fields.items(key):
        gauge = shared if manifold or node.get("gauge") is None else None
        cylinder = read_cylinder(fields.faults, node, gauge, clock, silent)
        if cylinder.label and cylinder.label in cylinders:
            fields.faults.add(
                node.get("label") or node,
                "label_twice",
                f"label {show(cylinder.label)} for the second time on {fields.title}",
                "a label of its own for each cylinder",
                "write the label that stands on the cylinder, or a number",
            )
        elif manifold and shared is None:
            _same_gauge(fields, node, cylinder, tuple(cylinders.values()))
        cylinders.setdefault(cylinder.label, cylinder)
    return tuple(cylinders.values())


def _same_gauge(fields: Fields, node: Node, cylinder: Cylinder, before: tuple[Cylinder, ...]) -> None:
    """Cylinders that are open together stand at one pressure."""
    reading = node.get("gauge")
    if before and reading is not None and abs(cylinder.gauge_kpa - before[0].gauge_kpa) > SAME_KPA:
        fields.faults.add(
            reading,
            "gauges_differ",
            f"gauge {show(reading.text)} on a manifold where {show(before[0].label)} reads otherwise",
            "one gauge: cylinders of a manifold are open together",
            "read it with all valves open and write it once, as `gauge` of the supply",
        )


def _sizes(
    fields: Fields,
    cylinders: tuple[Cylinder, ...],
    policy: Policy,
    shared: tuple[Outlet, ...] | None,
    gas: SupplyGas,
) -> tuple[SizeAsked, ...]:
    """The sizes asked for and, after them, those in use."""
    found: dict[str, SizeAsked] = {}
    for item in fields.items("sizes"):
        inner = Fields(fields.faults, item, "size")
        code_node = item if item.kind == "scalar" else inner.get("size")
        outlets: tuple[Outlet, ...] | None = None if item.kind == "scalar" else read_outlets(inner)
        size = None if code_node is None else read_size(fields.faults, code_node, gas)
        if size is None or code_node is None:
            continue
        if size.code in found:
            fields.faults.add(
                code_node, "named_twice", f"size {show(size.code)} twice", "each size once", "take one out"
            )
        found[size.code] = size_asked(size, policy, outlets, item)
    for cylinder in cylinders:
        size = None if cylinder.size is None or cylinder.gas != gas else find_size(cylinder.size, gas)
        if size is not None and size.code not in found:
            asked = size_asked(size, policy, _most_outlets(size.code, cylinders, shared), fields.node)
            found[size.code] = asked._replace(where=cylinder.where)
    return tuple(found.values())


def _most_outlets(code: str, cylinders: tuple[Cylinder, ...], shared: tuple[Outlet, ...] | None) -> tuple[Outlet, ...]:
    """The outlets of the best fitted cylinder of a size in use, by what it, its supply or the default says."""
    unsaid = DEFAULT_OUTLETS if shared is None else shared
    stated = [unsaid if one.outlets is None else one.outlets for one in cylinders if one.size == code]
    return max(stated, key=len)
