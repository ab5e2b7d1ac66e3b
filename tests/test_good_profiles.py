"""Good profiles, each with figures worked apart from the program.

Beside NAME.yaml stands NAME.figures.yaml. A figure names its place in the JSON result (`of`), says what must stand
there (`is`), how it is worked (`working`: plain arithmetic with the functions and values of `FUNCTIONS` and `VALUES`
below, and the names under `let`) and why (`because`). `within` is the tolerance, absolute or in per cent: that of the
file unless the figure has its own. The working is done here again, so that figure and working cannot drift apart:
it must give what `is` says to the last digit printed, and the program must give the same within the tolerance.

Litres in a cylinder come from the published equation of state (Schmidt and Wagner, Fluid Phase Equilibria
1985;19:175-200) as CoolProp carries it, air at altitude from the U.S. Standard Atmosphere, 1976, as `fluids`
carries it: none of the program's own code takes part in a working.

A part of `of` in square brackets picks from a list: by number from 0, or by name; of `whatifs` NAME/SUPPLY, of
`checkpoints` LEG/start or LEG/end with /SUPPLY where a leg has several. `of` may also begin with `plan.`, for
figures that the JSON result does not carry. `findings` lists the codes of findings by level: every stop and every
caution, and the notes that matter to the profile.
"""

from __future__ import annotations

import ast
import functools
import math
import operator
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import CoolProp
import pytest
import yaml
from CoolProp import AbstractState
from fluids.atmosphere import ATMOSPHERE_1976

from planner.model import Trip
from planner.planning import plan
from planner.profile.read import read_trip
from planner.report.json_result import result
from planner.results import Plan
from planner.trade.catalog import device_types
from planner.trade.policy_table import SETTINGS, what_if_names

GOOD = Path(__file__).parent / "profiles" / "good"
PROFILES = sorted(path.stem for path in GOOD.glob("*.yaml") if not path.stem.endswith(".figures"))

# NIST Special Publication 811: pound-force per square inch, conventional millimetre of mercury, foot.
KPA_PER_PSI = 6.894757293168361
KPA_PER_MMHG = 0.133322387415
M_PER_FT = 0.3048
EARTH_RADIUS_M = 6_356_766.0  # U.S. Standard Atmosphere, 1976, for height from geopotential altitude


@functools.cache
def density(kpa_absolute: float, degc: float, gas: str = "Oxygen") -> float:
    """Density of oxygen, kg/m3, by the published equation of state; of air by that of Lemmon and others (2000)."""
    state = AbstractState("HEOS", gas)
    state.update(CoolProp.PT_INPUTS, kpa_absolute * 1000.0, degc + 273.15)
    return float(state.rhomass())


def contents(capacity_l: float, psi: float, degc: float = 21.1) -> float:
    """Litres at 21.1 degC and 101.325 kPa that leave a cylinder down to zero gauge."""
    left = density(101.325, degc)
    return capacity_l * (density(psi * KPA_PER_PSI + 101.325, degc) - left) / density(101.325, 21.1)


def air_contents(capacity_l: float, psi: float, degc: float = 21.1) -> float:
    """The same of air."""
    left = density(101.325, degc, "Air")
    return capacity_l * (density(psi * KPA_PER_PSI + 101.325, degc, "Air") - left) / density(101.325, 21.1, "Air")


def air_gauge(capacity_l: float, litres: float, degc: float = 21.1) -> float:
    """Gauge in psi of a cylinder that holds so many litres of air, by halving."""
    low, high = 0.0, 3000.0
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if air_contents(capacity_l, middle, degc) < litres else (low, middle)
    return low


def capacity(litres: float, psi: float, degc: float = 21.1) -> float:
    """Water capacity, L, of a cylinder that holds so many litres at a gauge in psi."""
    return litres / contents(1.0, psi, degc)


def gauge(capacity_l: float, litres: float, degc: float = 21.1) -> float:
    """Gauge in psi of a cylinder that holds so many litres."""
    state = AbstractState("HEOS", "Oxygen")
    left = density(101.325, degc)
    state.update(CoolProp.DmassT_INPUTS, litres * density(101.325, 21.1) / capacity_l + left, degc + 273.15)
    return (float(state.p()) / 1000.0 - 101.325) / KPA_PER_PSI


def mass_kg(litres: float) -> float:
    """Mass of litres of oxygen."""
    return litres * density(101.325, 21.1) / 1000.0


def air_mmhg(altitude_ft: float) -> float:
    """Pressure of the standard atmosphere at a geopotential altitude in feet."""
    altitude_m = altitude_ft * M_PER_FT
    height_m = EARTH_RADIUS_M * altitude_m / (EARTH_RADIUS_M - altitude_m)
    return float(ATMOSPHERE_1976(height_m).P) / 1000.0 / KPA_PER_MMHG


def share(fio2: float) -> float:
    """Share of pure oxygen in a blend with air that holds 0.21 of oxygen."""
    return (fio2 - 0.21) / 0.79


FUNCTIONS: Mapping[str, Callable[..., float]] = {
    "contents": contents,
    "air_contents": air_contents,
    "air_gauge": air_gauge,
    "capacity": capacity,
    "gauge": gauge,
    "mass_kg": mass_kg,
    "air_mmhg": air_mmhg,
    "share": share,
    "max": max,
    "min": min,
    "ceil": math.ceil,
}
VALUES: Mapping[str, float] = {
    "psi_per_bar": 100.0 / KPA_PER_PSI,
    "psi_per_kpa": 1.0 / KPA_PER_PSI,
    "kpa_per_psi": KPA_PER_PSI,
}
_STEPS: Mapping[type[ast.operator], Callable[[float, float], float]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
}


def work_out(text: str, names: Mapping[str, float]) -> float:
    """The value of a working: numbers, names, + - * / and the functions above."""

    def value(node: ast.expr) -> float:
        match node:
            case ast.Constant(value=int() | float() as number):
                return number
            case ast.Name(id=name):
                return names[name]
            case ast.UnaryOp(op=ast.USub(), operand=inner):
                return -value(inner)
            case ast.BinOp(left=left, op=op, right=right):
                return _STEPS[type(op)](value(left), value(right))
            case ast.Call(func=ast.Name(id=name), args=arguments, keywords=[]):
                return FUNCTIONS[name](*map(value, arguments))
        raise AssertionError(f"no arithmetic: {ast.unparse(node)}")

    return value(ast.parse(text, mode="eval").body)


@dataclass(frozen=True)
class Figure:
    """One figure of a file: texts as they stand there."""

    profile: str
    of: str
    stated: str
    working: str | None
    within: str

    def __str__(self) -> str:
        return f"{self.profile}: {self.of}"


@dataclass(frozen=True)
class Figures:
    """All that a file of figures says."""

    names: Mapping[str, float]
    figures: Sequence[Figure]
    findings: Mapping[str, Sequence[str]]


@functools.cache
def figures_of(profile: str) -> Figures:
    text = (GOOD / f"{profile}.figures.yaml").read_text(encoding="utf-8")
    # Everything as text: the digits printed count.
    document = yaml.load(text, Loader=yaml.BaseLoader)  # noqa: S506 - it builds strings, lists and mappings only
    assert set(document) <= {"let", "within", "figures", "findings"}
    names = dict(VALUES)
    for name, working in document.get("let", {}).items():
        names[name] = work_out(working, names)
    figures = []
    for entry in document["figures"]:
        assert set(entry) <= {"of", "is", "working", "because", "within"}, entry
        assert entry["because"], entry
        within = entry.get("within", document["within"])
        figures.append(Figure(profile, entry["of"], entry["is"], entry.get("working"), within))
    return Figures(names, figures, document["findings"])


def all_figures() -> list[Figure]:
    described = [profile for profile in PROFILES if (GOOD / f"{profile}.figures.yaml").exists()]
    return [figure for profile in described for figure in figures_of(profile).figures]


@functools.cache
def trip_of(profile: str) -> Trip:
    return read_trip(GOOD / f"{profile}.yaml")


@functools.cache
def plan_of(profile: str) -> Plan:
    return plan(trip_of(profile))


@functools.cache
def result_of(profile: str) -> dict[str, Any]:
    return result(plan_of(profile))


def at(whole: Any, path: str) -> Any:
    """What stands at a path such as `supplies.cart.order[0].to_min`."""
    found = whole
    for step in path.replace("[", ".[").split("."):
        if not step.startswith("["):
            found = found[step] if isinstance(found, Mapping) else getattr(found, step)
            continue
        name = step[1:-1]
        if name.isdigit():
            found = found[int(name)]
            continue
        chosen = [item for item in found if name in called(item)]
        assert len(chosen) == 1, f"{path}: {len(chosen)} are called {name}"
        found = chosen[0]
    return found


def called(item: Any) -> tuple[str, ...]:
    """The names that an item of a list goes by."""
    if not isinstance(item, Mapping):
        return (item.cylinder.label,)
    if "size" in item:
        return (item["size"],)
    if "holds" in item:
        return (f"{item['name']}/{item['supply']}",)
    return (f"{item['leg']}/{item['at']}", f"{item['leg']}/{item['at']}/{item['supply']}")


def tolerance(within: str, number: float) -> float:
    return abs(number) * float(within.removesuffix("%")) / 100.0 if within.endswith("%") else float(within)


def last_digit(number: str) -> float:
    return 10.0 ** -len(number.partition(".")[2])


def of_text(stated: str) -> Any:
    """What a text stands for that is no number."""
    return {"null": None, "true": True, "false": False, "none": []}.get(stated, stated)


def is_number(stated: str) -> bool:
    return stated.lstrip("-").replace(".", "", 1).isdigit()


@pytest.mark.parametrize("profile", PROFILES)
def test_every_good_profile_has_its_figures(profile: str) -> None:
    assert (GOOD / f"{profile}.figures.yaml").exists()


def test_every_file_of_figures_has_its_profile() -> None:
    assert {path.name.removesuffix(".figures.yaml") for path in GOOD.glob("*.figures.yaml")} <= set(PROFILES)


@pytest.mark.parametrize("figure", [figure for figure in all_figures() if figure.working is not None], ids=str)
def test_the_working_gives_the_figure(figure: Figure) -> None:
    assert figure.working is not None
    worked = work_out(figure.working, figures_of(figure.profile).names)
    assert worked == pytest.approx(float(figure.stated), abs=0.51 * last_digit(figure.stated))


@pytest.mark.parametrize("figure", all_figures(), ids=str)
def test_the_program_gives_the_figure(figure: Figure) -> None:
    inside = figure.of.startswith("plan.")
    found = at(plan_of(figure.profile), figure.of[5:]) if inside else at(result_of(figure.profile), figure.of)
    if not is_number(figure.stated):
        expected = of_text(figure.stated)
        assert (list(found) if expected == [] else found) == expected
        return
    assert found is not None
    stated = float(figure.stated)
    assert found == pytest.approx(stated, abs=tolerance(figure.within, stated), rel=0)


@pytest.mark.parametrize("profile", PROFILES)
def test_the_program_stops_and_cautions_so_and_no_more(profile: str) -> None:
    found: dict[str, list[str]] = {}
    for finding in result_of(profile)["findings"]:
        found.setdefault(finding["level"], []).append(finding["code"])
    stated = figures_of(profile).findings
    for level in ("stop", "caution"):
        assert sorted(found.get(level, [])) == sorted(stated.get(level, []))
    assert set(found.get("note", [])) >= set(stated.get("note", []))


def every(attribute: Callable[[Trip], Iterable[object]]) -> set[object]:
    return {value for profile in PROFILES for value in attribute(trip_of(profile))}


def test_every_setting_has_a_good_profile() -> None:
    assert every(lambda trip: [trip.setting] if trip.setting_given else []) == set(SETTINGS)
    assert any(not trip_of(profile).setting_given for profile in PROFILES)


def test_every_kind_of_supply_has_a_good_profile() -> None:
    kinds = {"cylinders", "manifold", "litres", "pipeline", "sizes"}
    portable = {(kind, False) for kind in kinds}
    fixed = {(kind, True) for kind in kinds - {"pipeline", "sizes"}}
    assert every(lambda trip: [(supply.kind, supply.fixed) for supply in trip.supplies.values()]) == portable | fixed
    assert every(lambda trip: [supply.backup for supply in trip.supplies.values() if supply.fixed]) >= {"cart", None}


def test_every_device_type_is_at_work_in_a_good_profile() -> None:
    working = every(lambda trip: [use.device.type for leg in trip.legs for use in leg.uses])
    assert working == set(device_types())
    standing_by = every(
        lambda trip: [
            device.type
            for device in trip.devices.values()
            if device.name not in {use.device.name for leg in trip.legs for use in leg.uses}
        ]
    )
    assert {"manual_resuscitator", "nasal_cannula", "reservoir_mask"} <= standing_by


def test_every_what_if_holds_in_one_good_profile_and_fails_in_another() -> None:
    rows = [row for profile in PROFILES for row in result_of(profile)["whatifs"]]
    for holds in (True, False):
        found = {row["name"] for row in rows if row["holds"] is holds}
        assert {name for name in found if "+" not in name} == set(what_if_names())
        assert any("+" in name for name in found)
