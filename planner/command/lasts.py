"""The verb `lasts`: how long a cylinder lasts at a gauge reading and a flow, or a vessel of liquid by its weight."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

from planner.bedside.lasts import lasting
from planner.bedside.liquid import LiquidLasts
from planner.bedside.options import OptionReader
from planner.command.answer import (
    FORMATS,
    bedside_policy,
    give,
    present,
    pressure_unit,
    read_flows,
    read_start,
    refuse,
)
from planner.findings.supply import plausible_gauge
from planner.profile.limits import Limit
from planner.report.bedside.bedside import LastsAnswer, lasts_lines, lasts_result
from planner.report.bedside.liquid import LiquidAnswer, liquid_lines, liquid_result
from planner.text import wall_clock

_DAY: Final = Limit("duration", "a time above 0 and up to 24 h", high=24 * 60.0, above=0.0)


def answer_lasts(
    words: Sequence[str],
    *,
    size: str | None,
    gas: str = "oxygen",
    contents: str | None,
    gauges: Sequence[str],
    flows: Sequence[str],
    change_over_at: str | None,
    temperature: str | None,
    coldest: str | None,
    at: str | None,
    form: str,
    liquid: str | None = None,
    keep: str | None = None,
    loss: str | None = None,
    each_day: str | None = None,
) -> int:
    """Reads the options, answers every gauge with every flow, and gives the exit code.

    `words` are what stood on the command line without an option.
    """
    options = OptionReader()
    options.leftover(words)
    vessel = Vessel(liquid, keep, loss, each_day)
    if any(vessel):
        given: dict[str, object] = {"--size": size, "--contents": contents, "--gauge": gauges}
        given |= {"--change-over-at": change_over_at, "--temperature": temperature, "--coldest": coldest}
        given["--gas air"] = gas == "air"
        return _of_liquid(options, vessel, flows, at, form, [name for name, value in given.items() if value])
    cylinders = [
        options.cylinder({"size": size, "contents": contents, "gauge": gauge, "temperature": temperature, "gas": gas})
        for gauge in gauges or (None,)
    ]
    if not gauges:
        options.missing("--gauge", "the reading of the gauge with its unit", '"1900 psi"')
    drawn = read_flows(options, flows)
    change_over_kpa = options.quantity("--change-over-at", change_over_at, "change_over_at")
    coldest_degc = options.quantity("--coldest", coldest, "coldest")
    now = present()
    starts = read_start(options, at, now)
    formats = options.choices("--format", form, FORMATS)
    if options.problems or starts is None:
        return refuse(options, "lasts")
    policy = bedside_policy(change_over_kpa, pressure_unit(gauges[-1]))
    answers = [
        lasting(cylinder, flow, policy, coldest_degc)
        for cylinder in cylinders
        for flow in drawn
        if cylinder is not None and flow is not None
    ]
    cautions = [found for each in answers for found in plausible_gauge("The cylinder", each.cylinder, policy)]
    asked = LastsAnswer(
        answers=tuple((each, wall_clock.later(starts, each.minutes, now)) for each in answers),
        starts=starts,
        unit=policy.pressure_unit,
        temperature_degc=answers[0].cylinder.temperature_degc,
        coldest_degc=coldest_degc,
        findings=tuple(dict.fromkeys(cautions)),
    )
    return give(formats, lasts_lines(asked), lasts_result(asked))


class Vessel(NamedTuple):
    """The options of a vessel as typed; None where they were not."""

    amount: str | None
    keep: str | None
    loss: str | None
    each_day: str | None


def _of_liquid(
    options: OptionReader, vessel: Vessel, flows: Sequence[str], at: str | None, form: str, of_cylinders: Sequence[str]
) -> int:
    """Reads the options, answers every flow, and gives the exit code.

    `of_cylinders`: options of a cylinder that were given beside those of a vessel.
    """
    for name in of_cylinders:
        fix = "take out one of the two: a vessel is weighed, a cylinder has a gauge"
        options.add(name, "two_ways", f"{name} beside --liquid", "a vessel of liquid or a cylinder", fix)
    amount = options.quantity("--liquid", vessel.amount, "amount")
    if vessel.amount is None:
        options.missing("--liquid", "what the vessel holds, by weight or as litres of liquid", '"12 lb"')
    keep = options.quantity("--keep", vessel.keep, "keep")
    loss = options.quantity("--loss", vessel.loss, "loss")
    if vessel.loss is None:
        options.missing(
            "--loss", "what boils away, from the vessel's manual; 0 lb/day where nothing does", '"1.5 lb/day"'
        )
    if keep is not None and amount is not None and keep >= amount:
        found = f"{vessel.keep} of {vessel.amount}"
        options.add("--keep", "out_of_range", found, "less than the amount", "check both weights and their units")
    day = options.quantity("--each-day", vessel.each_day, _DAY)
    drawn = read_flows(options, flows)
    now = present()
    starts = read_start(options, at, now)
    formats = options.choices("--format", form, FORMATS)
    if options.problems or starts is None or amount is None or loss is None:
        return refuse(options, "lasts")
    answers = [LiquidLasts(amount, keep or 0.0, loss, flow, day) for flow in drawn if flow is not None]
    asked = LiquidAnswer(
        amount=(vessel.amount or "").strip(),
        keep=vessel.keep,
        loss=(vessel.loss or "").strip(),
        answers=tuple((each, wall_clock.later(starts, each.minutes, now)) for each in answers),
        starts=starts,
    )
    return give(formats, liquid_lines(asked), liquid_result(asked))
