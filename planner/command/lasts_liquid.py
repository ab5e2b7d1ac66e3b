"""The verb `lasts` for a vessel of liquid oxygen: by weight, at a flow."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

from planner.bedside.liquid import LiquidLasts
from planner.bedside.options import OptionReader
from planner.command.answer import FORMATS, give, present, read_flows, read_start, refuse
from planner.profile.limits import Limit
from planner.report.bedside.liquid import LiquidAnswer, liquid_lines, liquid_result
from planner.text import wall_clock

_DAY: Final = Limit("duration", "a time above 0 and up to 24 h", high=24 * 60.0, above=0.0)


class Vessel(NamedTuple):
    """The options of a vessel as typed; None where they were not."""

    amount: str | None
    keep: str | None
    loss: str | None
    each_day: str | None


def answer_liquid(
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
