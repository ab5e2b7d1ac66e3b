"""Options and help of the verb `new`; the work is done by `planner.command.make`."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from planner.command import completion

_FILE = click.Path(path_type=Path)
_EXIT_CODES = (
    "Exit codes: 0 written (go or no-go), 1 problems in a file or in an answer, 2 usage, or a file that exists already "
    "or cannot be written, 4 internal error, 130 left with Ctrl-C."
)


@click.command(epilog=_EXIT_CODES, short_help="Asks for a trip and writes its profile.")
@click.option(
    "--from",
    "template",
    type=_FILE,
    metavar="PROFILE",
    help="Makes the new profile from this one and asks nothing. Comments and order are kept.",
)
@click.option(
    "--set",
    "changes",
    multiple=True,
    metavar="PATH=VALUE",
    shell_complete=completion.set_paths,
    help='Changes or adds a value in what is written, as in legs[2].duration="40 min" or departs="2026-12-03 14:20"; '
    "may be given more than once. With questions, for values that are not asked.",
)
@click.option(
    "--output",
    type=_FILE,
    metavar="FILE",
    help="The file to write.  [default: asked; with --from, the name of PROFILE in this folder]",
)
@click.option("--force", is_flag=True, help="Writes over a file that exists already.")
@click.option(
    "--resume",
    type=_FILE,
    metavar="FILE",
    help="Goes on with the answers that Ctrl-C kept in this file.",
)
@click.option(
    "--devices",
    type=_FILE,
    metavar="FILE",
    help="The service's usual devices to choose from: `devices` as in a profile, a setting left out is asked.",
)
@click.option("--policy", type=_FILE, metavar="FILE", help="The service's policy; the profile then names it.")
@click.option(
    "--form",
    type=_FILE,
    metavar="FILE",
    help="Writes a blank request form (PDF) for a ward without this program, in the units and with the `form` of "
    "--policy; `plan` and --from read it when it is filled in.",
)
@click.option(
    "--say",
    "line",
    metavar="LINE",
    help="Takes a line of shorthand, says back what it understood, and asks for the rest.",
)
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", help="Of the form.  [default: a4]")
def new(**given: Any) -> int:
    """Asks for a trip and writes its profile for `plan`, or makes one from another profile.

    It asks in the order in which you think of a trip: from where to where, devices, legs with waits, cylinders with
    gauges. Answers are short (7 + 3 lift, cannula 4 L/min, US-E 1500 psi), and litres are shown as soon as they can be
    known. `?` helps, `back` takes the last answer back, Enter takes what stands in brackets. Ctrl-C leaves at once: no
    profile is written, and the answers are kept for `--resume`.

    \b
    Examples:
      transport-oxygen new
      transport-oxygen new --say "US-E 1900 psi, reservoir mask 15, 12 min"
      transport-oxygen new --from ward-to-scan.yaml \\
        --set legs[2].duration="40 min" --output trip.yaml
    """  # noqa: D301 - click's mark for lines that stay as they stand
    from planner.command.make import NewTrip, make_trip

    return make_trip(NewTrip(**given))
