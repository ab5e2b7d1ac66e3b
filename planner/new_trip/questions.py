"""The questions, in words: what is asked, in which unit, and what may be answered."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from string import Template
from typing import Any, Final, NamedTuple

from planner import figures
from planner.new_trip import answers, cylinder_answers, device_answers
from planner.new_trip.draft import AIR, LegDraft
from planner.new_trip.usual import Settings, UsualDevices
from planner.text.text_file import shown
from planner.trade.catalog import DeviceType, device_types, settings

Choices = Sequence[tuple[str, str]]

SETTINGS: Final[Choices] = (("in_house", "inside the hospital"), ("road", "by road"), ("air", "by air"))
YES_NO: Final[Choices] = (("no", "no"), ("yes", "yes"))
KINDS: Final[Choices] = (
    ("walk", "on foot"),
    ("load", "loading"),
    ("road", "on the road"),
    ("fly", "in the air"),
    ("unload", "unloading"),
    ("stay", "staying somewhere"),
)
NOT_DRAWN: Final = "not drawn yet"
NONE: Final = ("", "0", "no", "none", NOT_DRAWN)
"""Answers that leave something out."""

_AIR_FROM: Final[Choices] = (("compressor", "compressor"), ("room", "room"), (AIR, "cylinders"))
"""What the air of a blend may come from, and what it is called in the question."""

_PART = re.compile(r"(?:(?P<time>[0-9].*?) )?(?:in )?(?:leg )?(?P<leg>[0-9]{1,2})")


class Question(NamedTuple):
    """One question. `read` takes the answer and raises `AnswerError`; Enter alone stands for `default`.

    `options` are shown with the question, `help` is shown on asking for it. `default` None means that an answer is due.
    `about`: the supply or vehicle that is asked about, the place of a leg, or how many devices there are, from 0.
    """

    key: str
    text: str
    read: Callable[[str], Any]
    help: str
    default: str | None = None
    options: tuple[str, ...] = ()
    about: str = ""

    def of(self, about: str = "", **named: str) -> Question:
        """The question with names in the places of its text that are marked `$so`."""
        return self._replace(text=Template(self.text).substitute(named, about=about), about=about)


def numbered(options: Choices) -> str:
    """Options in one line: `1 inside the hospital   2 by road`."""
    return "   ".join(f"{number} {meaning}" for number, (_, meaning) in enumerate(options, 1))


def _one_of(options: Choices) -> Callable[[str], str]:
    return partial(answers.choice, options=options)


def _measured(kind: str) -> Callable[[str], str]:
    return partial(answers.quantity, kind=kind)


SETTING: Final = Question(
    "setting",
    "How does the patient travel?",
    _one_of(SETTINGS),
    "The number or the word. Where no policy file does, it chooses reserve, spare and the what-ifs that must hold.",
    options=(numbered(SETTINGS),),
)
ROUTE: Final = Question(
    "route",
    "From where to where?",
    answers.places,
    "Places in order, with commas: ward, scanner, back. The trip is called so: never write a patient's name.",
)
LEGS: Final = Question(
    "legs",
    "Legs in order",
    lambda text: tuple(answers.choice(part, KINDS) for part in text.replace(",", " ").split()),
    f"Of {', '.join(f'{word} ({meaning})' for word, meaning in KINDS)}. With an ambulance at both ends of a "
    "flight: walk load road unload load fly unload load road unload walk. No cylinder is changed while loading.",
)
BATTERY: Final = Question(
    "battery",
    "$device: $meaning, as in $example; 0 where nobody knows",
    lambda text: {} if text in NONE else {"battery": answers.quantity(text, "duration")},
    "By its manual, for the settings that it runs at, all that are carried together. Where nobody knows it is left "
    "open: a concentrator off the mains is then no-go, a ventilator has a caution. A leg on mains gets "
    "`mains: true` in the profile.",
)
TIME: Final = Question(
    "time",
    "$leg: minutes, waits with +, as in $example, or 40 magnet room",
    lambda text: None if text in NONE else answers.leg(text),
    "The planned time. Waits follow with + and what for. Also: `longest 80` for the longest time, `wall` where a "
    "wall outlet is used, `magnet` for a magnet room, as in: 40 magnet, longest 55. 0 leaves the leg out.",
)
MAGNET: Final = Question(
    "magnet",
    "$leg: do patient and oxygen enter the magnet room? yes or no",
    _one_of(YES_NO),
    "yes: only cylinders that are marked safe for it go in, and the plan holds to that. no: they stay outside.",
    options=(numbered(YES_NO),),
)
CABIN: Final = Question(
    "cabin_altitude",
    "$leg: the highest cabin altitude, in ft or m",
    _measured("altitude"),
    "Of the cabin, not of the aircraft; without a pressure cabin it is the altitude flown. As in 8000 ft.",
)
VEHICLE: Final = Question(
    "vehicle",
    "Is the ${about}'s own oxygen used on the way?",
    _one_of(YES_NO),
    "yes where the patient is put on the vehicle's supply, whose cylinders are asked; no where the cart goes on.",
    default="no",
)
CYLINDERS: Final = Question(
    "cylinders",
    "$about: $what, as in $example",
    lambda text: None if text in NONE else cylinder_answers.litres(text) or cylinder_answers.cylinders(text),
    "Several with commas. A label of your own before it: B7: US-E 1900 psi. By the cylinder's own label: 680 L at "
    "2015 psi reads 1950 psi. Marked safe for a magnet room: US-E 2000 psi safe. A stated amount: 1500 L.",
)
OUTLETS: Final = Question(
    "outlets",
    "$about: outlets on each cylinder, as in 15 L/min, 50 psi",
    cylinder_answers.outlets,
    "Each flowmeter by the flow that it gives at most, and 50 psi for an outlet that feeds a ventilator or a "
    "blender. Where cylinders differ, give what each of them has.",
    default="15 L/min",
)
REGULATORS: Final = Question(
    "regulators",
    "$about: how many regulators are there for these $count cylinders? Enter: one on each",
    answers.number,
    "With one on each cylinder the next is open before the last is shut. With fewer, nothing flows while one is "
    "taken over, and the lists say what the patient breathes from meanwhile.",
)


def device(usual: UsualDevices, taken: Sequence[str]) -> Question:
    """A device, by number or name, with its settings."""
    listed = [f"{number} {usual_in_words(name, usual[name])}" for number, name in enumerate(usual, 1)]
    rest = f"another than {', '.join(taken)}" if taken else "which"
    return Question(
        "device",
        f"Device, {rest}? With what is set, as in: cannula 4 L/min",
        lambda text: None if taken and text in NONE else named_device(text, usual, taken),
        "The number or name from the list, and the settings with their units. What you leave out is asked.",
        default="no" if taken else None,
        options=() if taken else columns(listed),
        about=str(len(taken)),
    )


def kept_settings(name: str, kind: DeviceType, texts: Settings, behind: str | None) -> Question:
    """The usual settings of a device, to keep or to change."""
    return Question(
        "settings",
        f"{_standing_by(name, behind)}: as set",
        lambda text: device_answers.device_settings(text, kind),
        f"What is set, with units: {device_answers.settings_in_words(kind)}.",
        default=device_in_words(texts),
    )


def one_setting(name: str, kind: DeviceType, key: str, known: Sequence[str], behind: str | None) -> Question:
    """One setting that a device needs; `known` are the devices that may stand behind it."""
    what = settings()[key]
    if what.kind in ("device", "air"):
        others = _AIR_FROM if what.kind == "air" else [(other, other) for other in known if other != name]
        return Question(
            key,
            f"{name}: {what.meaning}",
            lambda text: {key: answers.choice(text, others)},
            "compressor: the device or vehicle makes it, and no cylinder is counted. room: it draws room air. "
            "cylinders: they are asked for, and counted as oxygen is."
            if what.kind == "air"
            else f"One of {', '.join(other for other, _ in others)}.",
            options=(numbered(others),) if what.kind == "air" else (),
        )
    usual = kind.usual.get(key)
    range_text = (
        ""
        if usual is None
        else f" Usual for a {kind.title}: {figures.plain(usual.low)} to {figures.plain(usual.high)} {usual.unit}."
    )
    unit = f" in {what.unit}" if what.kind in ("flow", "rate") else ""
    none = " Write 0 where there is none." if device_answers.may_be_zero(key) else ""
    return Question(
        key,
        f"{_standing_by(name, behind)}: {what.meaning}{unit}, as in {what.example}",
        lambda text: device_answers.asked_setting(text, kind, key),
        f"`{key}` of the {kind.title}, {what.meaning}.{none}{range_text}",
    )


def _standing_by(name: str, behind: str | None) -> str:
    return name + (f" (stands by, in case {behind})" if behind else "")


def part(name: str, legs: Sequence[LegDraft]) -> Question:
    """Where a device runs that rarely runs all the way."""
    return Question(
        "part",
        f"{name}: all the way, or in which legs and for how long, as in 10 min in leg 1",
        lambda text: part_of(text, len(legs)),
        "all; or numbers of legs, each with the minutes from its start where it does not run for the whole leg: "
        "10 min in leg 1, 5 min in leg 3.",
        default="all",
        options=tuple(f"leg {number} {leg.name}" for number, leg in enumerate(legs, 1)),
    )


def leg_in_words(leg: LegDraft) -> str:
    """A leg as it was understood: `Ward to scanner: 7 min + 3 min (lift)`."""
    time = leg.time
    text = " + ".join((time.duration, *(f"{wait} ({reason})" for reason, wait in time.delays)))
    text += f", longest {time.longest}" if time.longest else ""
    text += ", on the wall" if time.wall else ""
    text += ", in a magnet room" if time.magnet else ""
    return f"{leg.name}: {text}" + (f", cabin at {leg.cabin_altitude}" if leg.cabin_altitude else "")


def columns(items: Sequence[str], width: int = 76) -> tuple[str, ...]:
    """Items in two columns, down before across, where they fit, else in one."""
    down = -(-len(items) // 2)
    left, right = items[:down], [*items[down:], ""]
    wide = max(map(len, left), default=0) + 3
    if wide + max(map(len, right)) > width:
        return tuple(items)
    return tuple(f"{one:{wide}}{other}".rstrip() for one, other in zip(left, right, strict=False))


def usual_in_words(name: str, texts: Settings) -> str:
    """A device of the list: `cannula: nasal cannula, 2 L/min`."""
    named = settings()
    words = [text for key, text in texts.items() if key in named and named[key].kind == "choice"]
    title = device_types()[texts["type"]].title.partition(" (")[0]
    return ", ".join((f"{name}: {title}", *words, *filter(None, [" ".join(measured(texts).values())])))


def device_in_words(texts: Settings) -> str:
    """The measured settings of a device as they may be typed: `4 L/min`, or `flow 50 L/min, fio2 50 %`."""
    found = measured(texts)
    return ", ".join(found.values() if len(found) == 1 else (f"{key} {text}" for key, text in found.items()))


def measured(texts: Settings) -> dict[str, str]:
    """The settings of a device that are quantities."""
    return {key: text for key, text in texts.items() if key in settings() and settings()[key].unit}


def named_device(text: str, usual: UsualDevices, taken: Sequence[str]) -> tuple[str, Mapping[str, str]]:
    """Name of a device of the list, and what was set with it. Raises `AnswerError`."""
    names = [name for name in usual if name not in taken]
    whole = [name for name in names if f"{text.casefold()} ".startswith(f"{name.casefold()} ")]
    word = max(whole, key=len, default=text.partition(" ")[0])
    rest = text[len(word) :]
    wanted = word.casefold().strip(":,")
    if wanted.isdecimal() and not taken and 1 <= int(wanted) <= len(names):
        wanted = names[int(wanted) - 1]
    by_type = [name for name in names if usual[name]["type"] == wanted]
    found = [name for name in names if name.casefold() == wanted] or by_type[:1]
    found = found or [name for name in names if wanted and name.casefold().startswith(wanted)]
    if len(found) != 1:
        raise answers.AnswerError(f"`{shown(word)}`", ", ".join(names), "type a name or number of the list")
    name = found[0]
    return name, device_answers.device_settings(rest, device_types()[usual[name]["type"]])


def part_of(text: str, legs: int) -> dict[int, str | None] | None:
    """Legs (from 0) with the time in each, None for a whole leg; None for all the way. Raises `AnswerError`."""
    if text.casefold() in ("all", "all the way"):
        return None
    found: dict[int, str | None] = {}
    for one in text.split(","):
        match = _PART.fullmatch(" ".join(one.split()))
        number = int(match["leg"]) if match else 0
        if match is None or not 1 <= number <= legs:
            allowed = f"all, or times in legs from 1 to {legs}"
            raise answers.AnswerError(f"`{shown(one.strip())}`", allowed, "write for example 10 min in leg 1")
        found[number - 1] = answers.quantity(match["time"], "duration") if match["time"] else None
    return found
