"""What a line says of a trip, and what of it is not sure: each doubt with the part of the line and why.

Never guessed: a number without its unit where more than one can be meant, a letter that two systems of sizes share, a
flow that is unusual for its device, two devices at once, times that cannot be told apart.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import chain
from typing import Final

from planner import figures
from planner.new_trip.answers import AnswerError, places
from planner.new_trip.shorthand.devices import take_devices
from planner.new_trip.shorthand.statements import Statement, statements
from planner.new_trip.shorthand.tokens import MOST_LETTERS, Token, parts, tokens
from planner.new_trip.shorthand.understood import CABIN, CYLINDERS, ROUTE, SETTING, TIMES, UNCLEAR, Said, SaidLeg
from planner.new_trip.usual import UsualDevices
from planner.text.text_file import shown
from planner.trade.catalog import clashing, sizes

_SAY_AGAIN: Final = "say it in other words, or leave it out"
_ROUTE = re.compile(r"(?:(?P<from>from) )?(?P<places>[^\d].*?(?: to |\s*->\s*).+)", re.IGNORECASE)
_PLACE_WORD = re.compile(
    "ward|icu|picu|nicu|hdu|ed|er|resus|scanner|ct|mri|x-?ray|theatre|hospital|room|unit|clinic|home|house|airport|"
    "airfield|helipad|dialysis|lab|imaging|radiology|bed|recovery|floor|suite|hospice|rehab|back|[0-9]+",
    re.IGNORECASE,
)
_NO_PLACE = re.compile("up|down|rises?|weaned|wean|titrated?|increase|due|close|used|able|no|not", re.IGNORECASE)


def read_line(line: str, usual: UsualDevices) -> Said:
    """What a line says, with every doubt; `usual` are the devices of the service by name."""
    said = Said(line)
    if len(line) > MOST_LETTERS:
        said.doubt(UNCLEAR, line[:40], f"a line of more than {MOST_LETTERS} letters", "say it shorter")
        return said
    found = list(_statements(said, line))
    _setting(said, found)
    take_devices(said, [one for one in found if one.form in ("device", "settings")], usual)
    _times(said, found)
    _cylinders(said, [one for one in found if one.form == "cylinder"])
    _outlets(said, [one for one in found if one.form == "outlet"])
    _cabin(said, [one for one in found if one.form == "cabin"])
    said.asides = [one.text for one in found if one.form == "aside"]
    said.forget(*said.asked)
    return said


def with_part(line: str, part: str, instead: str) -> str:
    """The line with one of its parts said in other words; an empty text leaves it out."""
    kept = list(parts(line))
    place = kept.index(part)
    kept[place : place + 1] = [instead] if instead else []
    return "; ".join(kept)


def _statements(said: Said, line: str) -> Iterator[Statement]:
    for number, part in enumerate(parts(line)):
        if _route(said, part):
            continue
        found = tokens(part)
        unknown = [token for token in found if token.kind == "?"]
        ways = () if unknown else statements(found)
        if len(ways) == 1:
            yield from (one._replace(part=number) for one in ways[0])
        elif unknown:
            why = unknown[0].why or f"`{shown(unknown[0].text)}` is not understood"
            said.doubt(UNCLEAR, part, why, _SAY_AGAIN)
        elif ways:
            said.doubt(UNCLEAR, part, "it can be taken in two ways", "put commas between its parts")
        elif (bare := next((token for token in found if token.kind == "N"), None)) is not None:
            said.doubt(UNCLEAR, part, f"`{bare.text}` has no unit that says what it is", _SAY_AGAIN)
        else:
            said.doubt(UNCLEAR, part, "not understood as a whole", _SAY_AGAIN)


def _route(said: Said, part: str) -> bool:
    """True for a part that says from where to where, `ward to scanner and back`."""
    match = _ROUTE.fullmatch(part)
    if match is None or {token.kind for token in tokens(part)} & set("GFLVPRTSDK"):
        return False
    try:
        found = places(match["places"])
    except AnswerError:
        return False
    words = [place.split() for place in found]
    if any(map(_NO_PLACE.fullmatch, chain(*words))):
        return False
    if not (match["from"] or "->" in part or all(map(_PLACE_WORD.fullmatch, chain(*words)))):
        return False
    if said.route:
        said.doubt(
            ROUTE, part, "a second way from place to place", "say the whole way once, as in ward to scanner to ward"
        )
    said.route = found
    return True


def _setting(said: Said, found: Sequence[Statement]) -> None:
    told = {one.tokens[0].value: one.text for one in found if one.form == "setting"}
    moved = {"fly": "air", "road": "road"}
    legs = [token.value for one in found if one.form == "leg" for token in one.all("Q")]
    implied = next((moved[kind] for kind in moved if kind in legs), "")
    if len(told) > 1 or (told and implied and implied not in told):
        why = "more than one way to travel is said"
        said.doubt(SETTING, " and ".join(told.values()), why, "say one of in house, by road, by air")
    said.setting = next(iter(told), implied)


# Times


def _times(said: Said, found: Sequence[Statement]) -> None:
    legs = [one for one in found if one.form == "leg"]
    beside: dict[int, list[Statement]] = {}
    for one in legs:
        if one.after == "device" and (len(legs) > 1 or sum(other.form == "device" for other in found) > 1):
            why = "a time right behind a device may be how long it runs, or a leg"
            said.doubt(TIMES, one.text, why, "put a comma before the time of a leg")
    for one in found:
        if one.form not in ("wait", "longest"):
            continue
        near = [place for place, leg in enumerate(legs) if leg.part == one.part or len(legs) == 1]
        if len(near) == 1:
            beside.setdefault(near[0], []).append(one)
        else:
            why = "it is not said in which leg" if legs else "there is no leg with its minutes"
            said.doubt(TIMES, one.text, why, "write it with + behind the minutes of its leg, as in 7 min + 3 min lift")
    for place, one in enumerate(legs):
        kind = one.first("Q")
        if sum(other.form == "longest" for other in beside.get(place, [])) > 1:
            said.doubt(TIMES, one.text, "more than one longest time", "say it once")
        said.legs.append(SaidLeg(kind.value if kind else "", _time(one, beside.get(place, []))))


def _time(leg: Statement, beside: Sequence[Statement]) -> str:
    tail = list(leg.tokens)
    start = next(token for token in tail if token.kind == "T")
    tail.remove(start)
    text = start.value
    waits: list[Token] = []
    longest: str | None = None
    after_longest = False
    for token in (*tail, *(token for one in beside for token in one.tokens)):
        if token.kind == "X":
            after_longest = True
        elif token.kind in "NT" and after_longest:
            longest, after_longest = _minutes(token), False
        elif token.kind in "NTW":
            waits.append(token)
    for one, other in zip(waits[::2], waits[1::2], strict=False):
        reason, time = (one, other) if one.kind == "W" else (other, one)
        text += f" + {_minutes(time)} {reason.value}"
    text += f" + longest {longest}" if longest else ""
    return text + "".join(f" + {token.value}" for token in tail if token.kind == "M")


def _minutes(token: Token) -> str:
    return token.value if token.kind == "T" else f"{token.value} min"


# Cylinders, outlets, cabin


def _cylinders(said: Said, found: Sequence[Statement]) -> None:
    for one in found:
        text = _cylinder(said, one)
        if text is None:
            continue
        count = one.first("C")
        many = int(count.value) if count else 1
        if many > 1 and not one.first("U"):
            fix = "say each, or give each its own gauge"
            said.doubt(CYLINDERS, one.text, f"one gauge for {many} cylinders", fix)
            continue
        (said.vehicle if one.first("J") else said.cart).extend([text] * many)


def _cylinder(said: Said, one: Statement) -> str | None:
    letter, gauges = one.first("s"), one.all("G")
    if letter is not None:
        sharing = [f"{code} {figures.supply_l(sizes()[code].contents_l)}" for code in clashing(letter.value)]
        why = f"{letter.value} without its system: {' or '.join(sharing)}"
        said.doubt(CYLINDERS, one.text, why, "say the system as the cylinder is marked")
        return None
    if not gauges:
        bare = one.first("N")
        why = f"{bare.text} without a unit" if bare else "no gauge"
        said.doubt(CYLINDERS, one.text, why, "say the gauge with psi, bar, kPa or MPa")
        return None
    size, label = one.first("S"), one.first("Y")
    litres = one.first("L")
    text = f"{label.value}: " if label else ""
    if litres is not None:
        text += f"{litres.value} at {gauges[0].value} reads {gauges[1].value}"
    else:
        text += f"{size.value if size else ''} {gauges[0].value}"
    return text + (" safe" if one.first("m") else "")


def _outlets(said: Said, found: Sequence[Statement]) -> None:
    for one in found:
        value = one.first("FLN")
        text = "50 psi" if value is None else value.value
        said.outlets.append(text if value is None or value.kind == "F" else f"{text.partition(' ')[0]} L/min")


def _cabin(said: Said, found: Sequence[Statement]) -> None:
    if len(found) > 1:
        said.doubt(
            CABIN, " and ".join(one.text for one in found), "more than one cabin altitude", "say each with its leg"
        )
    for one in found:
        altitude = one.first("Z")
        said.cabin = altitude.value if altitude else ""
