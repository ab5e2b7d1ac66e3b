"""Need against have, for the calculation sheet: the ledger, each reserve layer, spare and counts."""

from __future__ import annotations

from itertools import groupby

from planner import figures
from planner.findings.common import MAGNET_MARK, magnet_mark
from planner.go.sizing import layers
from planner.model import Policy
from planner.naming import listed
from planner.report import words
from planner.report.blocks import AS_ABOVE, Block, Figure, Section, Table, Text
from planner.report.gases import has_air
from planner.results import Layer, LedgerLine, Need, Plan, SupplyPlan
from planner.trade.policy_table import policy_rows

DOUBLING_SOURCE = "published transfer guideline: oxygen requirements for patient transfer, emergency medicine notes"
SECOND_LOOK = "For a second look"
DOUBLING = (
    "2 x minutes x (minute volume x FiO2 + driving gas), other devices 2 x minutes x flow; for comparison only: it "
    "takes the oxygen of the entrained air from the cylinder too, and doubles the sum"
)
RULE = "rule of this planner: never optimistic"


def ledger_section(plan: Plan) -> Section:
    """What each device draws, by supply and leg, with its demand worked out where it stands first."""
    rows: list[tuple[str, ...]] = []
    worked: set[tuple[str, str]] = set()
    for name, supply in plan.supplies.items():
        if not supply.ledger:
            continue
        for leg, lines in groupby(supply.ledger, key=lambda line: line.leg):
            for line in lines:
                known = (line.device, line.formula) in worked
                worked.add((line.device, line.formula))
                rows.append((name, *_ledger_row(leg, line, AS_ABOVE if known else line.formula)))
        rows.append((name, "Sum", "", "", "", "", f"{figures.worked(supply.need.planned_l)} L"))
    demand = "Demand of the supply's gas" if has_air(plan) else "Demand, 100 % oxygen"
    head = ("Supply", "Leg", "Device", demand, "Flow", "Time", "Litres")
    table = Table(head, tuple(rows), (4, 5, 6), "Litres = flow x time; k = (FiO2 - 0.21) / 0.79.")
    return Section("Ledger by leg and supply", (table, *(Text(line) for line in demand_sources(plan))) if rows else ())


def _ledger_row(leg: str, line: LedgerLine, formula: str) -> tuple[str, ...]:
    return (
        leg,
        line.device,
        formula,
        f"{figures.worked(line.flow_l_per_min, 3)} L/min",
        figures.minutes_set(line.minutes),
        f"{figures.worked(line.litres)} L",
    )


def demand_sources(plan: Plan) -> tuple[str, ...]:
    """One line for each device type in use: its formula in words, and its source."""
    from planner.trade.catalog import device_types

    names = {line.device_type for supply in plan.supplies.values() for line in supply.ledger}
    types = device_types()
    return tuple(
        f"Demand of a {types[name].title}: {' or '.join(types[name].formulas)}. Source: {types[name].source}."
        for name in sorted(names & set(types))
    )


def need_section(plan: Plan) -> Section:
    """Planned use, each reserve layer on its own line, the sum, and the published formula beside it."""
    blocks: list[Block] = []
    for name, supply in plan.supplies.items():
        blocks.append(Text(f"Supply {name}", strong=True))
        first = all(block.label != SECOND_LOOK for block in blocks if isinstance(block, Figure))
        blocks += _need(plan, supply, first=first)
    return Section("Need, with each reserve layer", tuple(blocks))


def _need(plan: Plan, supply: SupplyPlan, *, first: bool) -> list[Block]:
    """The figures of one supply; the formula for a second look is told in full on the `first`."""
    policy = layers(supply.supply, plan.trip.policy)
    planned = figures.worked(supply.need.planned_l)
    if supply.supply.kind == "pipeline" and not supply.ledger:
        return [Text("A pipeline that no device draws on; no credit is taken for it.")]
    parts = " + ".join(f"{figures.worked(x.flow_l_per_min, 3)} x {figures.plain(x.minutes, 2)}" for x in supply.ledger)
    lines: list[Block] = [Figure("Planned", "sum of flow x time, delays included", parts or "0", f"{planned} L")]
    if supply.supply.kind == "pipeline":
        return [*lines, Text("A pipeline does not run out: no reserve is kept on it, and no credit is taken for it.")]
    peak = figures.worked(supply.need.peak_flow_l_per_min, 3)
    reserve = figures.worked(supply.need.reserve_l)
    return [
        *lines,
        Figure("Peak flow", "highest sum of flows at one time, however short", "", f"{peak} L/min"),
        *(_layer(supply, layer, policy) for layer in supply.need.layers),
        Figure("Reserve", *_together(supply.need), f"{reserve} L", RULE),
        Figure(
            "Required",
            "planned + reserve, rounded up",
            f"{planned} + {reserve} = {figures.worked(supply.need.required_l)}",
            figures.need_l(supply.need.required_l),
            RULE,
        ),
        Figure(
            SECOND_LOOK,
            DOUBLING if first else AS_ABOVE,
            "",
            figures.need_l(supply.doubling_l),
            DOUBLING_SOURCE,
        ),
    ]


def _layer(supply: SupplyPlan, layer: Layer, policy: Policy) -> Figure:
    """One layer of the reserve, with the numbers put in for the terms of its rule."""
    values = {key: getattr(policy, row.field) for key, row in policy_rows().items()}
    terms = {key: figures.plain(value) for key, value in values.items() if isinstance(value, float)}
    terms["planned"] = figures.worked(supply.need.planned_l)
    terms["peak flow"] = figures.worked(supply.need.peak_flow_l_per_min, 3)
    numbers = layer.rule
    for term, number in terms.items():
        numbers = numbers.replace(term, number)
    rule = "none on a supply of air" if supply.supply.gas == "air" and layer.key == "time" else layer.rule
    put_in = "" if numbers == layer.rule else numbers
    source = policy.sources.get(layer.policy_key, "")
    return Figure(layer.title, rule, put_in, f"{figures.worked(layer.litres)} L", source)


def _together(need: Need) -> tuple[str, str]:
    """How the layers make the reserve, in words and in numbers."""
    either = [figures.worked(layer.litres) for layer in need.layers if not layer.on_top]
    on_top = [figures.worked(layer.litres) for layer in need.layers if layer.on_top]
    words = "the larger of the two, once" if len(either) == 2 else "the largest of them, once"
    return words + ", and what stands on top" * bool(on_top), " + ".join([f"max({', '.join(either)})", *on_top])


def go_section(plan: Plan) -> Section:
    """What is usable, what is held back as spare, and what is left over or short."""
    blocks: list[Block] = []
    spares = plan.trip.policy.spare_cylinders
    source = plan.trip.policy.sources.get("spare_cylinders", "")
    for name, supply in plan.supplies.items():
        if supply.supply.kind == "pipeline":
            continue
        blocks.append(Text(f"Supply {name}", strong=True))
        if supply.usable_l is None or supply.usable_without_spare_l is None:
            blocks.append(Text("No readings yet: nothing is credited until the cylinders are drawn and read."))
            continue
        each = " + ".join(figures.worked(item.usable_l) for item in supply.cylinders)
        usable = figures.supply_l(supply.usable_l)
        blocks.append(Figure("Usable", "sum over cylinders, down", each or "as stated", usable))
        held = supply.usable_l - supply.usable_without_spare_l
        rule = f"the {spares} largest left out" if supply.supply.portable else "fixed: no spare rule"
        rule = "air: no spare rule" if supply.supply.gas == "air" else rule
        numbers = f"{figures.worked(supply.usable_l)} - {figures.worked(held)}"
        blocks.append(
            Figure("Without the spare", rule, numbers, figures.supply_l(supply.usable_without_spare_l), source)
        )
        blocks += _serving(supply)
        have = supply.serving_without_spare_l
        if have is not None:
            numbers = f"{figures.worked(have)} - {figures.worked(supply.need.required_l)}"
            blocks.append(
                Figure("Margin", "have - required", numbers, words.margin(have, supply.need.required_l), RULE)
            )
        blocks += _backup(plan, supply)
    return Section("Have, against required", tuple(blocks))


def _backup(plan: Plan, supply: SupplyPlan) -> list[Block]:
    """What the backup of a fixed supply must carry, beside what it has."""
    name = supply.supply.backup
    backup = None if name is None else plan.supplies.get(name)
    if not supply.supply.fixed or backup is None:
        return []
    minutes, peak = plan.trip.policy.reserve_time_min, supply.need.peak_flow_l_per_min
    numbers = f"{figures.plain(minutes, 2)} x {figures.worked(peak, 3)}"
    if backup.usable_l is not None:
        numbers += f"; {name} has {figures.supply_l(backup.usable_l)}, spare included"
    result = figures.need_l(minutes * peak)
    return [Figure(f"Its backup {name} must carry", "reserve_time x peak flow", numbers, result, RULE)]


def _serving(supply: SupplyPlan) -> list[Block]:
    blocks: list[Block] = [
        Text(f"Cylinder {item.cylinder.label}: {words.sentence(item.unfit)}", strong=not item.serves)
        for item in supply.cylinders
        if item.unfit
    ]
    have, total = supply.serving_without_spare_l, supply.usable_without_spare_l
    if have is not None and total is not None and have < total - 0.5:
        rule = "of cylinders whose outlets carry the devices, spare left out"
        blocks.append(Figure("Can be given", rule, "", figures.supply_l(have), RULE))
    return blocks


def counts_section(plan: Plan) -> Section:
    """How many full cylinders of each size would do."""
    rows = tuple(
        (
            name,
            full.size,
            figures.supply_l(full.usable_each_l),
            "no number does" if full.count is None else str(full.count),
            figures.NONE if full.mass_kg is None else figures.mass_up(full.mass_kg),
        )
        for name, supply in plan.supplies.items()
        for full in supply.full_cylinders
    )
    policy = plan.trip.policy
    note = (
        "The smallest number of full cylinders of one size that passes go and every what-if that must hold, spare "
        f"included. Full reads {figures.gauge_read(policy.full_at_kpa, policy.pressure_unit)} for US sizes, 0.9 of the "
        "filling pressure for others."
    )
    if marked := [name for name in dict.fromkeys(row[0] for row in rows) if magnet_mark(plan.trip, name)]:
        note += f" Each one for {listed(marked)} must be {MAGNET_MARK}."
    head = ("Supply", "Size", "Usable each", "Full cylinders", "Mass together")
    return Section("How many full cylinders", (Table(head, rows, (2, 3, 4), note),) if rows else ())
