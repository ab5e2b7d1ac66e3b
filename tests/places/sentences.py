"""Figures in sentences, as screen, sheet and card have them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from planner import figures
from tests.places.printed import Said

Document = dict[str, Any]


def what_if_said(number: int, truth: Document, text: str, place: str) -> Iterator[Said]:
    """What a what-if says, in the forms of the screen and of the sheet."""
    only_one = "ONLY ONE CYLINDER" in text
    if found := re.search(r"(\d+ min) (?:more|past the end)(?: at ([\d.]+ L/min))?", text):
        yield Said("to spare", (number,), place, found[1])
        if found[2]:
            yield Said("to spare at", (number,), place, found[2])
    if truth["runs_out_min"] is not None and not only_one:
        at = re.search(r"(?:at )?(\d+ min)(?: after departure)?(?: \(([^)]*)\))?", text)
        yield Said("runs out", (number,), place, at[1] if at else "0 min")
        if at:
            yield Said("runs out, clock", (number,), place, at[2] or "")


def turning_back(text: str, place: str) -> Iterator[Said]:
    form = (
        r"[Cc]an (?:turn (back)|divert to ([^,]*?)(?:, \d+ min away in leg [^)]*\))?)(?: from minute \d+)? until "
        r"(minute \d+(?: \([^)]*\))?)[:,] (\S+) (?:then|decides)"
    )
    for found in re.finditer(form, text):
        to = (found[1] or found[2].strip(),)
        yield Said("turn back until", to, place, found[3])
        yield Said("turn back decided by", to, place, found[4])
    form = r"A further delay in leg (\d+) .*?: (\S+) EMPTY after (\d+ min) more"
    form += r"(?:; it takes of the reserve after (\d+ min))?"
    for delay in re.finditer(form, text):
        yield Said("delay", (int(delay[1]), delay[2]), place, delay[3])
        yield Said("delay into the reserve", (int(delay[1]), delay[2]), place, delay[4] or figures.NONE)
    for on in re.finditer(r"Can go on until (minute \d+(?: \([^)]*\))?), .*?: (\S+) then ends", text):
        yield Said("go on until", (on[2],), place, on[1])


def change_sentences(document: Document, text: str, place: str) -> Iterator[Said]:
    """When to change a cylinder, as it is told in a sentence: by gauge or minute, or before a leg with gas left."""
    gauge = r"(\S+ (?:psi|bar|kPa|MPa))"
    by_gauge = rf"Change (\S+) to \S+ when \S+ shows {gauge} or (\d+ min) after departure"
    by_clock = rf"Change (\S+) to \S+ (\d+ min) after departure[^.]*? should still show {gauge}"
    found = [(label, shows, minute) for label, shows, minute in re.findall(by_gauge, text)]
    found += [(label, shows, minute) for label, minute, shows in re.findall(by_clock, text)]
    for label, shows, minute in found:
        for name, supply in document["supplies"].items():
            for number, turn in enumerate(supply["order"], start=1):
                if turn["cylinder"] == label and figures.minutes_down(turn["to_min"]) == minute:
                    yield Said("turn ends", (name, number), place, minute)
                    yield Said("gauge at the end of a turn", (name, number), place, shows)
