"""Options and help of the bedside verbs, `lasts` and `measured-flow`.

Values are taken as plain texts, so that every wrong one is told at once. Only click is loaded here; the work is done by
`planner.command.lasts` and `planner.command.measured`.
"""

from __future__ import annotations

from typing import Any

import click

from planner.command import completion
from planner.command.options import PATH, formats

_WORDS: dict[str, Any] = {"allow_extra_args": True}

_UNITS = "Every value carries its unit; one with a space in it stands in quotation marks."
_LASTS_END = f"{_UNITS} Exit codes: 0 an answer, 2 an option that is wrong, 4 internal error."
_MEASURED_END = (
    f"{_UNITS} Exit codes: 0 an answer (with a trip: go), 1 problems in the trip profile, 2 an option that is wrong, "
    "3 no-go at the measured flow, 4 internal error."
)


_SIZE = click.option(
    "--size",
    metavar="SIZE",
    shell_complete=completion.sizes,
    help="Size with its system, as in US-E, UK-CD or ISO-10.",
)
_CONTENTS = click.option(
    "--contents",
    metavar="LABEL",
    help='What the label of the cylinder itself says, as in "680 L at 2015 psi"; it wins over the size.',
)
_GAS = click.option(
    "--gas",
    type=click.Choice(["oxygen", "air"]),
    default="oxygen",
    show_default=True,
    help="What is in the cylinder: air of a blend is reckoned by the density of air.",
)
_CHANGE_OVER = click.option(
    "--change-over-at",
    metavar="PRESSURE",
    help="Gauge at which the cylinder is changed; what lies below stays in it.  [default: 500 psi]",
)
_FORM = formats(
    "text, json or both, with a comma. With json, standard output holds one document with unrounded figures and "
    "nothing else; text then goes to standard error.",
    ("text", "json"),
    "text",
    checked=False,
)


@click.command(
    epilog=_LASTS_END,
    context_settings=_WORDS,
    short_help="Says how long a cylinder or a vessel lasts at a flow.",
)
@_SIZE
@_CONTENTS
@_GAS
@click.option(
    "--gauge",
    "gauges",
    multiple=True,
    metavar="PRESSURE",
    help='Reading of the gauge, as in "1900 psi"; may be given more than once.',
)
@click.option(
    "--flow", "flows", multiple=True, metavar="FLOW", help='Flow drawn, as in "4 L/min"; may be given more than once.'
)
@_CHANGE_OVER
@click.option(
    "--temperature",
    metavar="TEMPERATURE",
    help='Temperature of the gas when the gauge was read, as in "35 degC". Warmth costs minutes, cold earns none.',
)
@click.option("--coldest", metavar="TEMPERATURE", help="The coldest that the cylinder gets before it is changed.")
@click.option("--liquid", metavar="AMOUNT", help='A vessel of liquid oxygen in place of a cylinder, as in "12 lb".')
@click.option("--keep", metavar="AMOUNT", help="What stays in the vessel: its gauge cannot tell that from empty.")
@click.option("--loss", metavar="AMOUNT/DAY", help='What boils away by its manual, as in "1.5 lb/day"; 0 is allowed.')
@click.option("--each-day", metavar="TIME", help='For how long the vessel is breathed from in a day, as in "8 h".')
@click.option("--at", metavar="HH:MM", help="Clock time of the reading.  [default: now]")
@_FORM
@click.pass_context
def lasts(context: click.Context, /, **given: Any) -> int:
    """Says how many minutes of oxygen a cylinder has left at a gauge reading and a flow, and until what time.

    Litres are reckoned as in a plan: by the real gas, down to change-over, each cylinder on its own. The hand method
    stands beside the answer, with what makes the difference. Several gauges or flows give a table. A vessel of liquid
    oxygen is asked by its weight.

    \b
    Example:
      transport-oxygen lasts --size US-E --gauge "1900 psi" --flow "4 L/min"
      transport-oxygen lasts --liquid "12 lb" --keep "1 lb" --loss "1.5 lb/day" --flow "2 L/min"
    """  # noqa: D301 - click's mark for lines that stay as they stand
    from planner.command.lasts import answer_lasts

    return answer_lasts(context.args, **given)


@click.command(
    "measured-flow",
    epilog=_MEASURED_END,
    context_settings=_WORDS,
    short_help="Works out the flow from two readings of a gauge.",
)
@_SIZE
@_CONTENTS
@_GAS
@click.option("--from-gauge", metavar="PRESSURE", help='First reading of the gauge, as in "1900 psi".')
@click.option("--to-gauge", metavar="PRESSURE", help="Second reading of the same gauge on the same cylinder.")
@click.option("--minutes", metavar="TIME", help='Time between the readings, as in "15 min" or "1 h 20 min".')
@click.option("--from-time", metavar="HH:MM", help="Clock time of the first reading, in place of --minutes.")
@click.option(
    "--to-time", metavar="HH:MM", help="Clock time of the second reading; after midnight if it is before the first."
)
@click.option("--from-temperature", metavar="TEMPERATURE", help="Temperature of the gas at the first reading.")
@click.option(
    "--to-temperature",
    metavar="TEMPERATURE",
    help="Temperature of the gas at the second reading. Both together narrow the answer.",
)
@click.option(
    "--resolution",
    metavar="PRESSURE",
    help="What the gauge can be read to.  [default: half a division, 50 psi or 5 bar; common practice, no source]",
)
@click.option(
    "--gauge-scale", metavar="PRESSURE", help="Full scale of the gauge.  [default: twice the filling pressure]"
)
@click.option(
    "--planned-flow", metavar="FLOW", help="Flow that was planned, to compare with and to say for how long to watch."
)
@_CHANGE_OVER
@click.option(
    "--trip",
    type=PATH,
    metavar="TRIP",
    help="A trip profile to plan again with the measured flow.",
)
@click.option("--supply", metavar="NAME", help="The supply of the trip on which it was measured.")
@click.option(
    "--leg",
    "legs",
    multiple=True,
    metavar="LEG",
    help="Number or name of a leg that the measured flow holds for; may be given more than once.  [default: all]",
)
@_FORM
@click.pass_context
def measured_flow(context: click.Context, /, **given: Any) -> int:
    """Works out the flow from two readings of a gauge and the time between them, and how far off it may be.

    Says so when the gauge cannot tell, and for how long to watch instead. With a trip it shows what the measured flow
    does to the plan: a leg that plans less is raised, and none is ever lowered.

    \b
    Example:
      transport-oxygen measured-flow --contents "680 L at 2015 psi" \\
        --from-gauge "1900 psi" --to-gauge "1500 psi" --minutes "25 min"
    """  # noqa: D301 - click's mark for lines that stay as they stand
    from planner.bedside.measured_options import MeasuredGiven
    from planner.command.measured import answer_measured

    return answer_measured(context.args, MeasuredGiven(**given))
