"""The verb `new` at work: asks for a trip and writes its profile, makes one from another, or writes a blank form."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import click

from planner.command.conversation import ask_for_file, converse, not_to_be_written, tell
from planner.command.kept import keep, take_up
from planner.command.keyboard import at_a_terminal
from planner.command.say import NOBODY, take
from planner.command.telling import GO, PROBLEMS, say
from planner.command.trips import is_form, profile_of, write_form
from planner.files.output import OutputError, write_text
from planner.new_trip.editor_line import moved
from planner.new_trip.interview import Interview
from planner.new_trip.litres import judged
from planner.new_trip.shorthand.taken import Taken
from planner.new_trip.template import edited, paths_kept, without_decisions
from planner.new_trip.usual import built_in, read_usual
from planner.problems import ProblemsError
from planner.profile.read import parse_trip
from planner.report.screen import printable
from planner.text.source import load, loads

if TYPE_CHECKING:
    from planner.pages.pack import Paper


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
    paper: Paper


def make_trip(asked: NewTrip) -> int:
    """Makes a profile or a blank form; the exit code: written, or problems in a file or in an answer."""
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
        if reason := not_to_be_written(file, force=asked.force):
            raise click.UsageError(reason)
    try:
        if form is not None:
            return _form(form, asked)
        return _make(asked) if template is None else _from_template(template, asked)
    except ProblemsError as error:
        return _refuse([str(problem) for problem in error.problems])


def _form(path: Path, asked: NewTrip) -> int:
    write_form(path, asked.policy, asked.paper)
    say(f"Written: {path}", err=True)
    return GO


def _make(asked: NewTrip) -> int:
    """Asks for a trip; Ctrl-C keeps the answers."""
    usual = built_in() if asked.devices is None else read_usual(asked.devices)
    interview = Interview(usual, asked.policy)
    interview.check(asked.changes)
    said: Taken | None = None
    if asked.line is not None:
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
    return GO


def _refuse(lines: Sequence[str]) -> int:
    for line in lines:
        say(printable(line), err=True)
    say("Nothing is written.", err=True)
    return PROBLEMS
