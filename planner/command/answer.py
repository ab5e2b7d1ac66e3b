"""How a bedside verb answers: as text or JSON, or with everything that is wrong with its options."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any, Final, Literal

from planner.bedside.options import FLOW, OptionReader, line
from planner.command.telling import EPOCH_NAME, say, time_of_issue
from planner.model import Policy
from planner.report.screen import printable
from planner.text.wall_clock import ALLOWED, PresentMoment, moment_of
from planner.trade.policy_table import policy_defaults

FORMATS: Final = ("text", "json")
ANSWERED, USAGE = 0, 2

Unit = Literal["psi", "bar", "kPa", "MPa"]


def present() -> PresentMoment:
    """The present moment; `SOURCE_DATE_EPOCH` in its place makes output repeatable, in UTC."""
    return PresentMoment(time_of_issue(), UTC if os.environ.get(EPOCH_NAME, "").strip() else None)


def pressure_unit(text: str) -> Unit:
    """The unit in which a gauge was typed, to answer in the same one."""
    units: tuple[Unit, ...] = ("bar", "kPa", "MPa")
    return next((unit for unit in units if text.strip().endswith(unit)), "psi")


def bedside_policy(change_over_at_kpa: float | None, unit: Unit) -> Policy:
    """The default policy, with another change-over where one is given; all settings share the defaults used here."""
    policy = policy_defaults("road")._replace(pressure_unit=unit)
    return policy if change_over_at_kpa is None else policy._replace(change_over_at_kpa=change_over_at_kpa)


def read_flows(options: OptionReader, flows: Sequence[str]) -> list[float | None]:
    """The flows asked about, L/min; None for one that is wrong. That and the lack of any are told."""
    if not flows:
        options.missing("--flow", "the flow drawn with its unit", '"4 L/min"')
    return [options.quantity("--flow", flow, FLOW) for flow in flows]


def read_start(options: OptionReader, at: str | None, now: PresentMoment) -> datetime | None:
    """When the reading was made: at the clock time given, else now; None where that is wrong, which is told."""
    clock = options.clock("--at", at)
    starts = now.moment if clock is None else moment_of(clock, now)
    if starts is None:
        options.add("--at", "no_such_time", f"{at}, which clocks skip", ALLOWED, "write the time shown now")
    return starts


def give(formats: Sequence[str], lines: Sequence[str], result: Mapping[str, Any]) -> int:
    """Prints the answer as text, one JSON document or both; the exit code, unless the caller has a worse one.

    With JSON, standard output holds the document and nothing else; text then goes to standard error. Raises ValueError
    where a figure is not finite: such a result must not be handed on.
    """
    if "json" in formats:
        say(json.dumps(result, allow_nan=False))
    if "text" in formats:
        say("\n".join(printable(each) for each in lines), err="json" in formats)
    return ANSWERED


def refuse(options: OptionReader, verb: str) -> int:
    """Tells every problem on standard error, with a way to mend each."""
    for problem in options.problems:
        say(printable(line(problem)), err=True)
    number = len(options.problems)
    say(f"{verb}: {number} problem{'s' * (number != 1)}, nothing worked out.", err=True)
    return USAGE
