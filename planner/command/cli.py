"""The command `transport-oxygen`: one verb for each step of the job.

Only click is loaded to start; each verb loads what it needs. Exit codes: 0 go, 1 problems in a profile, 2 usage
(an output folder that cannot be written counts as usage), 3 a plan that is no-go, 4 internal error; for several
trips the worst in the order 4, 2, 1, 3, 0. Ctrl-C gives 130, and 141 says that nobody read the output to its end.
"""

from __future__ import annotations

import gc
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from planner import __version__
from planner.command.bedside import lasts, measured_flow
from planner.command.new import new
from planner.command.options import JOBS, PATH, TRIPS, formats, pages, printed, set_option
from planner.command.streams import drop_output, streams_held

PROGRAM = "transport-oxygen"
EXIT_USAGE, EXIT_STOPPED, EXIT_UNREAD = 2, 130, 141
COLLECT_EVERY = 200_000
"""New objects between two searches for garbage; at the usual 700 what is loaded to start is searched many times."""
EXIT_CODES = (
    "Exit codes: 0 go, 1 problems in a profile, 2 usage or output that cannot be written, 3 no-go, 4 internal error."
)


class Verbs(click.Group):
    """The group of verbs; ends with the exit codes of this program and never with a traceback."""

    def main(  # type: ignore[override]
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        complete_var: str | None = None,
        standalone_mode: bool = True,
        **extra: Any,
    ) -> int:
        """Runs a verb and exits with its code; with `standalone_mode=False` returns the code."""
        if standalone_mode:
            gc.set_threshold(COLLECT_EVERY)
        with streams_held() as lost:
            code = self._code(args, prog_name or PROGRAM, complete_var, **extra)
        for text in lost:
            click.echo(text, err=True)
            code = EXIT_USAGE
        if standalone_mode:
            gc.freeze()  # nothing is searched for garbage at the end: the system takes all of it back at once
            sys.exit(code)
        return code

    def _code(
        self,
        args: Sequence[str] | None,
        prog_name: str,
        complete_var: str | None,
        **extra: Any,
    ) -> int:
        try:
            code = super().main(args, prog_name, complete_var, standalone_mode=False, **extra)
        except click.ClickException as error:
            error.show()
            return EXIT_USAGE
        except click.Abort:
            click.echo("Stopped. Nothing is half written.", err=True)
            return EXIT_STOPPED
        except OSError as error:
            drop_output()
            click.echo(f"The output cannot be written: {(error.strerror or str(error)).lower()}.", err=True)
            return EXIT_USAGE
        return code if isinstance(code, int) else 0

    def invoke(self, ctx: click.Context) -> Any:
        """Runs a verb; what nobody reads any more ends it quietly, what was not foreseen with one line."""
        try:
            code = super().invoke(ctx)
            sys.stdout.flush()
        except BrokenPipeError:
            drop_output()
            return EXIT_UNREAD
        except (click.ClickException, click.Abort, click.exceptions.Exit, OSError):
            raise
        except Exception as error:  # noqa: BLE001 - the last line of defence: one line and code 4, no traceback
            from planner.command.telling import told

            return told(error)
        return code


@click.group(cls=Verbs, epilog=EXIT_CODES, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="transport-oxygen")
def main() -> None:
    """Plans the oxygen for moving a patient, and prints the cards for it.

    A planning aid: it decides nothing for a clinician; local protocol and licensed practice govern.
    """


@main.command(epilog=EXIT_CODES, short_help="Says go or no-go, with reasons, and writes the pages.")
@TRIPS
@printed("the files", "a line for each trip")
@click.option(
    "--pages",
    type=click.Choice(["crew", "all"]),
    default="crew",
    show_default=True,
    help="What to print: the two sheets that a crew carries, or these with lists by subject, log, charts and sheet.",
)
@click.option("--fillable", is_flag=True, help="Make fields of the boxes on the pages, to fill in on a screen.")
@click.option(
    "--return",
    "give_back",
    is_flag=True,
    help="Write a faulty request form as it was filled in, its faults in words beside the cells, for the ward to mend.",
)
@set_option(
    'Changes a value at the bedside, as in cart.A.gauge="1900 psi"; may be given more than once and applies to each '
    "trip. The paper shows it."
)
@JOBS
@click.option(
    "--from",
    "readings",
    type=PATH,
    metavar="READINGS",
    help="Plans what is left of one TRIP that is on its way, from the crew's readings (YAML, CSV or the filled-in "
    "form): a new card, with its revision and the card that it replaces.",
)
@click.option("--at", metavar="TIME", help='With --from: now, as in "52 min" or 14:52.  [default: the last reading]')
@click.option("--leg", type=click.IntRange(min=1), metavar="N", help="With --from: the number of the leg under way.")
@click.option(
    "--minutes-to-go",
    "to_go_min",
    type=click.FloatRange(min=0.0),
    metavar="M",
    help="With --from and --leg: minutes left of it.",
)
def plan(trips: tuple[str, ...], **given: Any) -> int:
    """Plans each TRIP, a profile or a filled-in request form; prints go or no-go with reasons, and writes the pages."""
    from planner.command.plan import PlanOptions, plan_trips
    from planner.command.telling import time_of_issue

    asked = PlanOptions(**given, issued=time_of_issue())
    if asked.readings is None and (asked.at, asked.leg, asked.to_go_min) != (None, None, None):
        raise click.UsageError("--at, --leg and --minutes-to-go go with --from READINGS.")
    if asked.readings is not None and len(trips) != 1:
        raise click.UsageError("--from goes with one trip. Fix: give one TRIP and its READINGS.")
    if (asked.leg is None) != (asked.to_go_min is None):
        raise click.UsageError("--leg and --minutes-to-go go together: which leg is under way, and what is left of it.")
    return plan_trips(trips, asked)


@main.command(epilog=EXIT_CODES, short_help="Lists every problem of a trip profile; plans nothing.")
@TRIPS
@click.option(
    "--fix",
    is_flag=True,
    help="Show each mend that is ready to type with its litres and verdict, and write those that you confirm.",
)
@click.option("--yes", is_flag=True, help="With --fix: take every mend that is the only one for its problem, unasked.")
def check(trips: tuple[str, ...], **given: bool) -> int:
    """Checks each TRIP and lists every problem with its place and a way to mend it; plans nothing."""
    if given["fix"]:
        from planner.command.mend import mend_trips

        return mend_trips(trips, yes=given["yes"])
    from planner.command.plan import check_trips

    if given["yes"]:
        raise click.UsageError("--yes goes with --fix.")
    return check_trips(trips)


@main.command(epilog=EXIT_CODES, short_help="Adds up the cylinders to draw for the trips of a shift.")
@TRIPS
@printed("shift.pdf and the CSV files", "for the whole shift")
@click.option(
    "--turnaround",
    metavar="TIME",
    help='Time after the end of each trip until its cylinders are back, as in "45 min".  [default: 30 min inside the '
    "hospital; by road and air 30 min and the trip's longest time once more, for the way back]",
)
@click.option(
    "--store",
    type=PATH,
    metavar="FILE",
    help="A file of cylinders, as a supply's store names it: says how many of each size are there, full and part-used, "
    "and how many are lacking.",
)
@click.option(
    "--refilled",
    is_flag=True,
    help="Counts every cylinder that comes back as full again for its next trip: the store then has to cover the most "
    "out at once. Without it, no cylinder is drawn twice.",
)
@JOBS
def shift(trips: tuple[str, ...], **given: Any) -> int:
    """Adds up the cylinders to draw for a whole shift of TRIPs, and the most that are out at once.

    No-go trips come first, with what would mend them; a profile with problems is told and left out, and the others are
    still counted. A trip without a departure counts as out all the time. For the coordinator it writes one sheet,
    shift.pdf. For example: transport-oxygen shift trips/*.yaml --store store.yaml --turnaround "45 min"
    """
    from planner.command.shift import ShiftOptions, shift_trips

    return shift_trips(trips, ShiftOptions(**given))


COMPARE_END = (
    "Exit codes: 0 nothing to act on, and the rest holds, 1 problems in a profile or its readings, or a trip that "
    "cannot be closed yet, 2 usage or a file that cannot be written, 3 look or act, 4 internal error. The comparison "
    "is told before a store is touched; with json, what became of the store is told on standard error."
)


@main.command(epilog=COMPARE_END, short_help="Holds what the crew read against the plan; closes a trip.")
@click.argument("trip", type=PATH, metavar="TRIP")
@click.argument("readings", type=PATH, metavar="READINGS")
@click.option(
    "--close",
    is_flag=True,
    help="Closes the trip: writes the last gauges into the store file that a supply names. Refused until every "
    "cylinder used has its last gauge and is said to be shut and bled.",
)
@click.option(
    "--undo-close",
    is_flag=True,
    help="Takes back what closing this trip wrote into its stores; a cylinder that was read again since keeps that "
    "reading. Nothing is compared.",
)
@click.option(
    "--history",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="With --close: add what the trip teaches to this file, for `review`; with --undo-close: take it out again. "
    "Free text stands in it only where the policy lists it.",
)
@formats(
    "text, json or both, with a comma. With json, standard output holds one JSON document and nothing else; text then "
    "goes to standard error.",
    ("text", "json"),
    "text",
)
@set_option('Changes a value of the profile, as in departs="2026-12-03 14:20"; may be given more than once.')
def compare(trip: str, readings: str, undo_close: bool, **given: Any) -> int:
    """Compares what the crew read on the way with the plan, and says whether to look at the patient or to act.

    READINGS is a file of gauge readings (YAML), a table of them (CSV), or the filled-in form of the pack (PDF). Both
    ways count: oxygen that is used too fast may be a leak, oxygen that is used too slowly may not reach the patient.
    On the way it says whether the rest of the trip still holds, and by when to act; afterwards it closes the trip.

    \b
    transport-oxygen compare night.yaml night-readings.yaml
    transport-oxygen compare night.yaml night-readings.yaml --close
    """  # noqa: D301 - click's mark for lines that stay as they stand
    from planner.command.compare import compare_trip, undo_closing

    if given["close"] and undo_close:
        raise click.UsageError("--close and --undo-close at once. Fix: give one of them.")
    if undo_close:
        return undo_closing(trip, given["changes"], given["history"])
    if given["history"] is not None and not given["close"]:
        raise click.UsageError("--history without --close. Fix: give --close too, a trip under way teaches nothing.")
    return compare_trip(trip, readings, **given)


@main.command(short_help="Says what the service's closed trips teach.")
@click.argument("files", nargs=-1, required=True, type=PATH, metavar="HISTORY...")
@click.option(
    "--cylinder",
    metavar="LABEL",
    help="Tell the history of this cylinder; the file is then that of its store, as in --cylinder E-02 store.yaml.",
)
@click.option(
    "--made",
    type=click.IntRange(min=0),
    metavar="NUMBER",
    help="How many trips the service made in the time of these files: says how many were never closed.",
)
@click.option(
    "--propose",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Write what is proposed as a policy file, with lines for profiles, the evidence beside each and a line to "
    "sign. Nothing changes until a person names the file in a profile.",
)
@click.option("--force", is_flag=True, help="Writes over the FILE of --propose where it exists already.")
@formats(
    "text, pdf, json or more of them, with commas. pdf is a page to print, with a dot for each trip. With json, "
    "standard output holds one JSON document and nothing else; text then goes to standard error.",
    ("text", "pdf", "json"),
    "text",
)
@pages("review.pdf")
def review(files: tuple[str, ...], cylinder: str | None, **given: Any) -> int:
    """Reads files of HISTORY and says what share of trips the plans covered, and how real flows and times differ.

    A file holds one line of JSON for each closed trip, its stretches, legs and waits. With --cylinder LABEL it tells
    instead what the journal of a STORE has of one cylinder: a slow leak in the rack shows.

    The limits hold whatever the distribution, with 95 % confidence, from 59 closed trips on. Nothing is a verdict on a
    person, and nothing changes by itself. For example: transport-oxygen review history/*.jsonl
    """
    from planner.command.review import ReviewOptions, review_cylinder, review_files

    asked = ReviewOptions(**given)
    if cylinder is None:
        return review_files(files, asked)
    if len(files) != 1:
        raise click.UsageError("--cylinder asks for one store. Fix: give the file of the store alone.")
    if asked.propose is not None or "pdf" in asked.formats:
        raise click.UsageError("--cylinder goes with text and json alone. Fix: leave pdf and --propose out.")
    return review_cylinder(cylinder, files[0], formats=asked.formats)


@main.command(short_help="Notes what was read, refilled or put out of use in a store.")
@click.argument("file", type=PATH, metavar="STORE")
@click.option("--read", multiple=True, metavar="LABEL=GAUGE", help='Its gauge was read again, as in E-02="1500 psi".')
@click.option(
    "--refilled", multiple=True, metavar="LABEL=GAUGE", help="It was filled or exchanged, and reads this now."
)
@click.option("--out-of-use", multiple=True, metavar="LABEL=WHY", help='As in E-04="valve leaks": no trip is given it.')
@click.option("--back-in-use", multiple=True, metavar="LABEL", help="It may be given to trips again.")
@click.option("--at", metavar="TIME", help='When gauges were read, as in "2026-12-04 09:00".  [default: now]')
def store(file: str, at: str | None, **noted: tuple[str, ...]) -> int:
    """Notes in a STORE, and in its journal, what was done with cylinders between trips.

    Each is a line of the journal with its time; `review --cylinder LABEL STORE` tells them. Nothing else in the file
    changes. For example: transport-oxygen store stores/cart-room.yaml --refilled E-02="2000 psi"
    """
    from planner.command.store import note_in_store
    from planner.store.noted import Note

    notes = []
    for what, given in noted.items():
        for text in given:
            label, _, value = (part.strip() for part in text.partition("="))
            if not label or not (value or what == "back_in_use"):
                option = f"--{what.replace('_', '-')}"
                raise click.UsageError(f"{option} {text!r} is not LABEL=VALUE. Fix: write it as the help shows.")
            notes.append(Note(what, label, value))
    return note_in_store(file, notes, at)


@main.command(short_help="Lists cylinder sizes and device types with their sources.")
def catalog() -> int:
    """Lists the cylinder sizes and device types with their sources."""
    from planner.command.lists import catalog_text

    click.echo(catalog_text(), nl=False)
    return 0


@main.command(short_help="Prints the JSON Schemas, for editors.")
@click.argument("name", type=click.Choice(["profile", "policy", "store", "readings"]), default="profile")
@click.option(
    "--write",
    "folder",
    type=click.Path(path_type=Path),
    metavar="DIR",
    help="Write every schema into this folder, and say the line with which a file names its own to an editor.",
)
def schema(name: str, folder: Path | None) -> int:
    """Prints the JSON Schema of a trip profile, or of a policy, a store or a readings file, for editors."""
    from planner.trade.schemas import schema_text

    if folder is not None:
        from planner.command.lists import write_schemas

        return write_schemas(folder)
    click.echo(schema_text(name), nl=False)
    return 0


main.add_command(new)
main.add_command(lasts)
main.add_command(measured_flow)
