"""The figures of the JSON result as they are to be read anywhere, each through its one rounding."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import datetime
from typing import Any, NamedTuple

import planner.model
from planner import figures
from planner.constants import KPA_PER_PSI
from tests.places.printed import Printed, Said
from tests.places.sentences import what_if_said

JSON = "JSON"
LEFT_OVER_PSI = 7.0 / 6.894757293168361
"""Within this of its gauge to change at a cylinder is used up."""

Document = dict[str, Any]


class Trip(NamedTuple):
    """A plan printed, with the trip as read, and the unit and the departure that its figures are told in."""

    printed: Printed
    read: planner.model.Trip
    unit: str
    departs: datetime | None


def kpa(psi: float) -> float:
    return psi * KPA_PER_PSI


class Truth:
    """The figures of a JSON result as they are to be read anywhere."""

    def __init__(self, trip: Trip) -> None:
        self.document: Document = trip.printed.document
        self.unit, self.departs = trip.unit, trip.departs
        self.ends = checkpoint_keys(self.document)

    def said(self) -> Iterator[Said]:
        for name, supply in self.document["supplies"].items():
            yield from (Said(figure, of, JSON, text) for figure, of, text in self._supply(name, supply))
        for key, point in self.ends.items():
            yield from (Said(figure, key, JSON, text) for figure, text in self._checkpoint(point))
        for number, row in enumerate(by_weight(self.document["whatifs"]), start=1):
            yield from (Said(figure, (number,), JSON, text) for figure, text in self._what_if(row))
        yield from self._by_name_of_leg()
        last = max((point["min"] for point in self.document["checkpoints"]), default=0.0)
        for minute in range(int(2.0 * last) + 60 if self.departs else 0):  # those that a chart may name, and more
            clock = figures.clock_down(self.departs, float(minute), narrow=True)
            yield Said("clock of a minute", (figures.minutes_down(minute),), JSON, clock)
        for device, battery in self.document["batteries"].items():
            for number, check in enumerate(battery["checks"]):
                left, least = check["left_min"], check["least_min"]
                key = (number, "battery", device)
                yield Said("expected gauge", key, JSON, figures.minutes_down_or_none(left))
                yield Said("least gauge", key, JSON, figures.minutes_up(least) if least > 0.0 else figures.NONE)
                yield Said("elapsed", key, JSON, figures.minutes_down(check["min"]))
                yield Said("clock", key, JSON, figures.clock_down(self.departs, check["min"], narrow=True))
        for name in ACTIONS.values():
            rows = [row for row in self.document["whatifs"] if row["name"] == name]
            if rows and all(row["holds"] and row["minutes_to_spare"] is not None for row in rows):
                least = min(rows, key=lambda row: float(row["minutes_to_spare"]))
                minutes = figures.minutes_at(
                    least["minutes_to_spare"] * least["last_flow_l_per_min"], least["last_flow_l_per_min"]
                )
                yield Said("least to spare", (name,), JSON, f"{minutes}, {least['supply']}")
        sentences = [found["message"] for found in self.document["findings"] if found["code"] == "what_if"]
        told = zip(sentences, by_weight(self.document["whatifs"]), strict=True)
        for number, (sentence, row) in enumerate(told, start=1):
            outcome = sentence.rpartition(": ")[2]
            yield Said("holds", (number,), "sentence", "yes" if " lasts " in outcome else "no")
            yield from what_if_said(number, row, outcome, "sentence")
        for window in self.document["turn_backs"]:
            if window["decided_by"]:
                to = (window["to"] or "back",)
                yield Said("turn back until", to, JSON, self._minute_and_clock(window["to_min"]))
                yield Said("turn back decided by", to, JSON, window["decided_by"])

    def _by_name_of_leg(self) -> Iterator[Said]:
        """Readings inside legs, and delays, where no two legs share a name."""
        names: list[str] = list(dict.fromkeys(point["leg"] for point in self.document["checkpoints"]))
        if len({key[0] for key in self.ends}) != len(names):
            return
        for point in self.document["between"]:
            leg = names.index(point["leg"]) + 1
            box = f"log.between.{leg}.{point['number']}.{point['supply']}.gauge"
            told = dict(self._checkpoint({**BETWEEN, **point}))
            for figure in ("expected gauge", "least gauge", "elapsed", "clock", "flow"):
                yield Said(figure, (box,), JSON, told[figure])
        for delay in self.document["breaking_delays"]:
            key = (names.index(delay["leg"]) + 1, delay["supply"])
            yield Said("delay", key, JSON, figures.minutes_down(delay["minutes"]))
            reserve = delay["into_reserve_min"]
            yield Said("delay into the reserve", key, JSON, figures.minutes_down_or_none(reserve))

    def _supply(self, name: str, supply: Document) -> Iterator[tuple[str, tuple[object, ...], str]]:
        of: tuple[object, ...] = (name,)
        yield "planned", of, figures.need_l(supply["planned_l"])
        yield "reserve", of, figures.need_l(supply["reserve_l"])
        yield "required", of, figures.need_l(supply["required_l"])
        yield "planned, worked", of, f"{figures.worked(supply['planned_l'])} L"
        yield "reserve, worked", of, f"{figures.worked(supply['reserve_l'])} L"
        for key, layer_l in supply["reserve_layers_l"].items():
            yield f"reserve by {key}", of, f"{figures.worked(layer_l)} L"
        yield "peak flow, worked", of, f"{figures.worked(supply['peak_flow_l_per_min'], 3)} L/min"
        yield "usable", of, figures.supply_l_or_none(supply["usable_l"])
        yield "without spare", of, figures.supply_l_or_none(supply["usable_without_spare_l"])
        have = supply["serving_without_spare_l"]
        yield "have", of, figures.supply_l_or_none(have)
        if have is not None:
            short = have < supply["required_l"]
            margin = abs(have - supply["required_l"])
            yield (
                "margin",
                of,
                f"SHORT by {figures.need_l(margin)}" if short else f"{figures.supply_l(margin)} to spare",
            )
        if supply["lasts_min"] is not None:
            yield "lasts", of, figures.minutes_down(supply["lasts_min"])
        for label, psi in supply["start_at_least_psi"].items():
            yield "start at least", (name, label), figures.gauge_to_start(None if psi is None else kpa(psi), self.unit)
        for label, psi in supply["change_at_psi"].items():
            yield "change at", (name, label), figures.gauge_up(kpa(psi), self.unit)
        if supply["order"]:
            yield "change at, highest", of, figures.gauge_up(kpa(max(supply["change_at_psi"].values())), self.unit)
        for full in supply["full_cylinders"]:
            key = (name, full["size"])
            yield "count", key, str(full["count"])
            yield "usable each", key, figures.supply_l(full["usable_each_l"])
            yield "mass", key, figures.NONE if full["mass_kg"] is None else figures.mass_up(full["mass_kg"])
        for number, turn in enumerate(supply["order"], start=1):
            key = (name, number)
            yield "turn begins", key, figures.minutes_down(turn["from_min"])
            yield "turn ends", key, figures.minutes_down(turn["to_min"])
            yield "turn ends, clock", key, figures.clock_down(self.departs, turn["to_min"], narrow=True)
            yield "gauge at the start of a turn", key, self._expected(name, turn["cylinder"], turn["gauge_start_psi"])
            yield "gauge at the end of a turn", key, self._expected(name, turn["cylinder"], turn["gauge_end_psi"])
        if supply["amount_unit"] is not None:
            yield (
                "gauge before departure",
                (name, "supply"),
                self._amount(name, supply["departs_with_kg"], figures.liquid_down),
            )
            yield "start at least", (name, "supply"), self._amount(name, supply["start_at_least_kg"], figures.liquid_up)
        labels = {turn["cylinder"]: turn for turn in reversed(supply["order"])}
        for label, turn in labels.items():
            yield "gauge before departure", (name, label), self._expected(name, label, turn["gauge_start_psi"])
        labels = {turn["cylinder"]: turn for turn in supply["order"] if turn["from_min"] < turn["to_min"]}
        for label, turn in labels.items():
            yield "gauge after return", (name, label), self._expected(name, label, turn["gauge_end_psi"])

    def _amount(self, supply: str, kg: float, rounded: Callable[[float], str]) -> str:
        """A weight in the unit of its vessel."""
        unit = self.document["supplies"][supply]["amount_unit"]
        return f"{rounded(kg / {'lb': 0.45359237, 'kg': 1.0}[unit])} {unit}"

    def _expected(self, supply: str, cylinder: str, psi: float | None) -> str:
        """Nearest; at the gauge to change at, that gauge, up."""
        if psi is None:
            return figures.NONE
        at = self.document["supplies"][supply]["change_at_psi"][cylinder.partition("+")[0]]
        used_up = abs(psi - at) <= LEFT_OVER_PSI
        return (figures.gauge_up if used_up else figures.gauge_nearest)(kpa(psi), self.unit)

    def _checkpoint(self, point: Document) -> Iterator[tuple[str, str]]:
        yield "elapsed", figures.minutes_down(point["min"])
        yield "clock", figures.clock_down(self.departs, point["min"], narrow=True)
        yield "cylinder in use", point["cylinder"] or figures.NONE
        least = point["least_gauge_psi"]
        if point["amount_kg"] is None:
            yield "expected gauge", self._expected(point["supply"], point["cylinder"] or "", point["gauge_psi"])
            yield "least gauge", figures.gauge_up_or_none(None if least is None else kpa(least), self.unit)
        else:
            yield "expected gauge", self._amount(point["supply"], point["amount_kg"], figures.liquid_down)
            yield "least gauge", self._amount(point["supply"], point["least_amount_kg"], figures.liquid_up)
        if point["leak_gauge_psi"] is not None:
            yield "leak gauge", figures.gauge_down(kpa(point["leak_gauge_psi"]), self.unit)
            yield "leak fall", figures.gauge_fall_up(kpa(point["leak_fall_psi_per_min"]), self.unit).split()[0]
        yield "flow", figures.flow_up(point["flow_l_per_min"])
        yield "flow, worked", f"{figures.worked(point['flow_l_per_min'], 3)} L/min"
        yield "litres left", figures.supply_l_or_none(point["litres_left"])
        yield "minutes left", figures.minutes_down_or_none(point["minutes_left"])
        yield "minutes left in the cylinder", figures.minutes_down_or_none(point["cylinder_minutes_left"])

    def _what_if(self, row: Document) -> Iterator[tuple[str, str]]:
        yield "must hold", "yes" if row["must_hold"] else "no"
        yield "holds", "yes" if row["holds"] else "no"
        flow = row["last_flow_l_per_min"]
        if flow is not None:
            yield "to spare", figures.minutes_at(row["minutes_to_spare"] * flow, flow)
            yield "to spare at", figures.flow_up(flow)
        if row["runs_out_min"] is not None:
            yield "runs out", figures.minutes_down(row["runs_out_min"])
            yield "runs out, clock", figures.clock_down(self.departs, row["runs_out_min"])
            yield "runs out, narrow clock", figures.clock_down(self.departs, row["runs_out_min"], narrow=True)

    def _minute_and_clock(self, minute: float) -> str:
        clock = figures.clock_down(self.departs, minute)
        return f"minute {figures.minutes_down(minute).split()[0]}{f' ({clock})' if clock else ''}"


def by_weight(rows: list[Document]) -> list[Document]:
    """What-ifs in the order in which they are told: failing first, of these those that must hold."""
    return sorted(rows, key=lambda row: (row["holds"], not row["must_hold"]))


def checkpoint_keys(document: Document) -> dict[tuple[object, ...], Document]:
    """The checkpoints by number of the leg, start or end, and supply."""
    found: dict[tuple[object, ...], Document] = {}
    leg, before = 0, "end"
    for point in document["checkpoints"]:
        leg += (before, point["at"]) == ("end", "start")
        before = point["at"]
        found[leg, point["at"], point["supply"]] = point
    return found


BETWEEN = dict.fromkeys(("litres_left", "minutes_left", "cylinder_minutes_left"))
"""What a reading inside a leg does not tell of."""
ACTIONS = {"BAG": "ventilator_fails", "SHUT": "cylinder_lost", "MOVE": "vehicle_supply_lost"}
