"""Options and arguments that several verbs share, with the checks that click makes of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NoReturn

import click

from planner.command import completion

_Command = Callable[..., Any]

FORMATS = ("text", "pdf", "json", "csv")
PATH = click.Path(readable=False)
"""A file that the shell completes; whether it can be read is for the reader to say, with its own words."""

TRIPS = click.argument("trips", nargs=-1, required=True, type=PATH, metavar="TRIP...")
JOBS = click.option(
    "--jobs",
    type=click.IntRange(min=1),
    metavar="N",
    help="Processes that plan at once; the result is the same for any number.  [default: as many as help]",
)


def formats(
    text: str, known: tuple[str, ...] = FORMATS, default: str = "text,pdf", *, checked: bool = True
) -> Callable[[_Command], _Command]:
    """The option `--format` with its help; where not `checked`, the verb is given the text as it was typed."""
    return click.option(
        "--format",
        "formats" if checked else "form",
        default=default,
        show_default=True,
        callback=(lambda _context, _parameter, value: _chosen(value, known)) if checked else None,
        metavar="LIST",
        shell_complete=completion.formats(known),
        help=text,
    )


def pages(files: str) -> Callable[[_Command], _Command]:
    """The options of a verb that writes pages: `--output` for its `files`, and `--paper`."""
    folder = click.option(
        "--output",
        type=click.Path(path_type=Path),
        default=Path("output"),
        show_default=True,
        metavar="DIR",
        help=f"Folder for {files}; made if it is missing.",
    )
    paper = click.option(
        "--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Size of the paper."
    )
    return lambda command: folder(paper(command))


def printed(files: str, documents: str) -> Callable[[_Command], _Command]:
    """`--format` and the options of `pages`; `documents` says for what there is one JSON document."""
    written = formats(
        "What to give, of text, pdf, json, csv, with commas. With json, standard output holds one JSON document "
        f"{documents} and nothing else; text then goes to standard error."
    )
    return lambda command: written(pages(files)(command))


def set_option(text: str) -> Callable[[_Command], _Command]:
    """The option `--set PATH=VALUE` with its help."""
    return click.option(
        "--set",
        "changes",
        multiple=True,
        callback=_changes,
        metavar="PATH=VALUE",
        shell_complete=completion.set_paths,
        help=text,
    )


def _chosen(text: str, known: Sequence[str]) -> tuple[str, ...]:
    """Words of a few with commas between them, each once. Raises `click.BadParameter`."""
    found = tuple(dict.fromkeys(part.strip().lower() for part in text.split(",") if part.strip()))
    unknown = [part for part in found if part not in known]
    if unknown or not found:
        _refuse(f"{', '.join(unknown) or 'an empty list'} is not known; give one or more of {', '.join(known)}")
    return found


def _changes(_context: click.Context, _parameter: click.Parameter, values: Sequence[str]) -> tuple[str, ...]:
    for value in values:
        path, equals, new = value.partition("=")
        if not equals or not path.strip() or not new.strip():
            _refuse(f'{value!r} has no path or no value; write PATH=VALUE, as in cart.A.gauge="1900 psi"')
    return tuple(values)


def _refuse(text: str) -> NoReturn:
    raise click.BadParameter(text)
