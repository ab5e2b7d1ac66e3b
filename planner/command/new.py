"""The verb `new`: asks for a trip and writes its profile, or makes one from another profile."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import click

from planner.command import completion

if TYPE_CHECKING:
    from planner.new_trip.interview import Interview
    from planner.new_trip.shorthand.taken import Taken

WRITTEN, PROBLEMS = 0, 1
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
    from planner.problems import ProblemsError

    asked = NewTrip(**given)
    template, form = asked.template, asked.form
    if form is not None and any((template, asked.changes, asked.output, asked.devices, asked.line)):
        raise click.UsageError("--form goes with --policy, --paper and --force alone. Fix: leave the others out.")
    if template is not None and (asked.devices or asked.policy):
        raise click.UsageError("--devices and --policy go with the questions. With --from, write --set policy=FILE.")
    if template is not None and asked.resume is not None:
        raise click.UsageError("--resume goes with the questions, and --from asks none. Fix: give one of them.")
    if asked.line is not None and (template is not None or asked.resume is not None):
        raise click.UsageError("--say begins a new trip. Fix: leave --from and --resume out.")
    for file in filter(None, (form or asked.output,)):
        from planner.command.conversation import not_to_be_written

        if reason := not_to_be_written(file, force=asked.force):
            raise click.UsageError(reason)
    try:
        if form is not None:
            return _form(form, asked)
        return _make(asked) if template is None else _from_template(template, asked)
    except ProblemsError as error:
        return _refuse([str(problem) for problem in error.problems])


class NewTrip(NamedTuple):
    """What the command line asks for; None where it does not."""

    template: Path | None
    changes: Sequence[str]
    output: Path | None
    force: bool
    resume: Path | None
    devices: Path | None
    policy: Path | None
    form: Path | None
    line: str | None
    paper: str


def _form(path: Path, asked: NewTrip) -> int:
    from planner.command.telling import say
    from planner.command.trips import write_form

    write_form(path, asked.policy, asked.paper)
    say(f"Written: {path}", err=True)
    return WRITTEN


def _make(asked: NewTrip) -> int:
    """Asks for a trip; Ctrl-C keeps the answers."""
    from planner.command.conversation import tell
    from planner.command.kept import keep, take_up
    from planner.command.keyboard import at_a_terminal
    from planner.command.telling import say
    from planner.new_trip.interview import Interview
    from planner.new_trip.usual import built_in, read_usual

    usual = built_in() if asked.devices is None else read_usual(asked.devices)
    interview = Interview(usual, asked.policy)
    interview.check(asked.changes)
    said: Taken | None = None
    if asked.line is not None:
        from planner.command.say import NOBODY, take

        said, ready = take(asked.line, usual, by_a_person=at_a_terminal())
        if not ready:
            return _refuse([NOBODY])
    click.echo("? helps, back takes the last answer back, Enter takes what stands in [ ].")
    if asked.resume is not None:
        tell([take_up(interview, asked.resume)])
    try:
        return _asked(interview, asked, said)
    except (click.Abort, KeyboardInterrupt):  # at a question, and while an answer is worked on
        if at_a_terminal():
            say(keep(interview, asked.resume), err=True)
        raise


def _asked(interview: Interview, asked: NewTrip, said: Taken | None) -> int:
    """Asks what is still to be asked, and writes the profile."""
    from planner.command.conversation import ask_for_file, converse
    from planner.command.keyboard import at_a_terminal

    while True:
        refused = converse(interview, said)
        if refused:
            return _refuse([refused])
        path = asked.output or ask_for_file(interview, force=asked.force, ask=said is None or at_a_terminal())
        if path is not None:
            code = _write(interview.text(path.parent), path, asked)
            if asked.resume is not None:
                asked.resume.unlink(missing_ok=True)
            return code
        interview.back()


def _from_template(template: Path, asked: NewTrip) -> int:
    from planner.command.telling import say
    from planner.command.trips import is_form, profile_of
    from planner.new_trip.editor_line import moved
    from planner.new_trip.template import edited, paths_kept, without_decisions
    from planner.text.source import load, loads

    if is_form(template):
        document, path = loads(profile_of(template), str(template)), asked.output or Path(f"{template.stem}.yaml")
    else:
        document, path = load(template), asked.output or Path(template.name)
    kept = paths_kept(document.root, template.parent, path.parent)
    text = without_decisions(document.text, str(template))
    if text != document.text:
        say("accepted: left out. What a clinician accepted holds for the trip that it was accepted for.", err=True)
    return _write(moved(edited(text, kept, str(template)), path.parent), path, asked)


def _write(text: str, path: Path, asked: NewTrip) -> int:
    """Writes a profile with changes, if `plan` takes it, and says what becomes of it where nobody has seen that yet."""
    from planner.command.conversation import not_to_be_written, tell
    from planner.command.telling import say
    from planner.files.output import OutputError, write_text
    from planner.new_trip.litres import judged
    from planner.new_trip.template import edited
    from planner.profile.read import parse_trip

    source = str(asked.template or path)
    parse_trip(text, source, path.parent, asked.changes)  # tells every problem where it stands, or by its --set
    text = edited(text, asked.changes, source)
    trip = parse_trip(text, str(path), path.parent)
    reason = not_to_be_written(path, force=asked.force)
    if reason:
        raise OutputError(reason)
    write_text(path, text)
    if asked.changes or asked.template is not None:
        tell(judged(trip))
    say(f"Written: {path}", err=True)
    say(f"Next: transport-oxygen plan {path}", err=True)
    return WRITTEN


def _refuse(lines: Sequence[str]) -> int:
    from planner.command.telling import say
    from planner.report.screen import printable

    for line in lines:
        say(printable(line), err=True)
    say("Nothing is written.", err=True)
    return PROBLEMS
