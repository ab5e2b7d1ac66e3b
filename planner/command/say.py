"""A line of the trade's shorthand for `new`: what it says is said back, what is not clear is asked."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import click

from planner.command.conversation import tell
from planner.command.keyboard import typed
from planner.new_trip.shorthand.said import read_line, with_part
from planner.new_trip.shorthand.taken import Taken, lacks, sentences
from planner.new_trip.shorthand.understood import UNCLEAR
from planner.new_trip.usual import UsualDevices
from planner.report.screen import printable

_OUT: Final = "out"
NOBODY: Final = "Nobody sits at the keyboard. Fix: say what is missing in the line, or start it in a terminal."


def take(line: str, usual: UsualDevices, *, by_a_person: bool) -> tuple[Taken, bool]:
    """What a line says, ready for the interview; and whether that can begin: nobody may be there to ask.

    Everything is said back. At a terminal each part that is not understood is asked about until none is left.
    """
    said = read_line(line, usual)
    while True:
        _tell("Understood:", sentences(said))
        _tell("Not sure, so it is asked:", map(str, said.doubts))
        _tell("Not said:", (f"{words}." for words in lacks(said)))
        unclear = next((doubt for doubt in said.doubts if doubt.topic == UNCLEAR), None)
        if unclear is None or not by_a_person:
            break
        click.echo(printable(f"\nWhat does `{unclear.part}` mean? Say it in other words, or `{_OUT}` to leave it out."))
        instead = typed("> ")
        if instead and instead != "?":
            line = with_part(line, unclear.part, "" if instead.casefold() == _OUT else instead)
            said = read_line(line, usual)
    whole = not said.doubts and not any(lacks(said))
    return Taken(said), whole or by_a_person


def _tell(head: str, lines: Iterable[str]) -> None:
    told = list(lines)
    if told:
        click.echo(head)
    tell(told)
