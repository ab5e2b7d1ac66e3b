"""The conversation that makes a profile: questions in the order in which people think of a trip.

The questions stand in one generator. To take an answer back, or to refuse one, the conversation is begun anew with the
answers that stand: it is short, and so nothing is ever half undone. After each answer the trip so far is read as a
profile is read, so that what `plan` would refuse is refused here, with the same mend.
"""

from __future__ import annotations

from collections.abc import Generator, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import count
from pathlib import Path
from string import ascii_uppercase
from typing import Any, Final, TypeAlias

from planner.findings.trip import names_magnet_room
from planner.go.regulators import needing_regulators
from planner.model import Trip
from planner.naming import of_another_gas
from planner.new_trip import litres, questions
from planner.new_trip.answers import AnswerError, of_problem
from planner.new_trip.cylinder_answers import CylinderAnswer
from planner.new_trip.draft import AIR, CART, VEHICLES, LegDraft, LegKind, SupplyDraft, TripDraft
from planner.new_trip.editor_line import editor_line
from planner.new_trip.questions import Question
from planner.new_trip.route import named_legs, route_in_words, usual_kinds
from planner.new_trip.template import path_beside
from planner.new_trip.usual import UsualDevices
from planner.problems import ProblemsError
from planner.profile.read import parse_trip
from planner.text.text_file import shown
from planner.trade.catalog import COMMON_KEYS, DeviceType, device_types, settings

Asking: TypeAlias = Generator[Question, Any, None]

_SIZES: Final[Mapping[bool, Mapping[str, tuple[str, ...]]]] = {
    True: {CART: ("US-E", "US-D"), AIR: ("US-E", "US-D"), "": ("US-M",)},
    False: {CART: ("UK-CD", "ISO-2", "ISO-5"), AIR: ("UK-E", "ISO-2", "ISO-5"), "": ("ISO-10", "ISO-20")},
}
"""Sizes to count while none is drawn, by supply, any vehicle last, where pressures are in psi, and where not."""

_EXAMPLES: Final[Mapping[bool, Mapping[bool, str]]] = {
    True: {True: "US-E 1500 psi", False: "ISO-5 150 bar"},
    False: {True: "US-M 1700 psi", False: "ISO-20 150 bar"},
}
"""Of an answer, for what is carried and for a vehicle, by the same."""

_FIRST_CYLINDERS: Final = "cylinders in the order of use, size and gauge with its unit", questions.NOT_DRAWN
_MORE_CYLINDERS: Final = "more cylinders", "no"
"""What is asked, and what Enter alone takes."""

_RELATIONS: Final[Mapping[str, str]] = {"if_it_fails": "fails", "may_rise_to": "has to rise"}
"""Settings that name a device which stands by, and in which case it is called on."""


class Interview:
    """Asks for a trip. `question` is the one to answer, None at the end; `remarks` is what to say before it.

    `policy` is the path of the service's policy file, if any. Raises `ProblemsError` where that cannot be read.
    """

    def __init__(self, usual: UsualDevices, policy: Path | None = None) -> None:
        self._usual = usual
        self._policy = policy
        self._given: list[str] = []
        self._kept: dict[tuple[int, str], str] = {}
        self._begin()
        self._in_psi = parse_trip(self._text(Path())).policy.pressure_unit == "psi"

    @property
    def trip_name(self) -> str:
        """What the trip is called."""
        return self._draft.name

    @property
    def answers(self) -> tuple[str, ...]:
        """The answers that stand: given one after the other to a new interview, they lead to the same question."""
        return tuple(self._given)

    @property
    def way(self) -> tuple[LegDraft, ...]:
        """The legs that are asked about, in order, once the way is known."""
        return self._way

    @property
    def vehicles_asked(self) -> tuple[str, ...]:
        """The vehicles that the way takes, whether or not their oxygen is used."""
        return tuple(name for kind, name in VEHICLES.items() if any(leg.kind == kind for leg in self._way))

    @property
    def default(self) -> str | None:
        """What Enter alone takes: what was answered here before it was taken back, else the question's own default."""
        if self.question is None:
            return None
        return self._kept.get((len(self._given), self.question.text), self.question.default)

    def answer(self, text: str) -> None:
        """Takes an answer; an empty one takes the default. Raises `AnswerError`, and then asks the same again."""
        plain = " ".join(text.split()) or self.default
        if plain is None:
            raise AnswerError("no answer", "an answer, or `back`, or `?` for help", "type one")
        try:
            self._step(plain)
        except AnswerError:
            self._begin()
            raise
        self._given.append(plain)

    def check(self, changes: Sequence[str]) -> None:
        """Tries changes on what is known so far. Raises `ProblemsError` where they would not do."""
        parse_trip(self._text(Path()), "the profile to come", changes=changes)

    def back(self) -> bool:
        """Takes the last answer back; False where there is none. It stays as what Enter takes, if the same is asked."""
        if not self._given:
            return False
        text = self._given.pop()
        self._begin()
        if self.question is not None:
            self._kept[len(self._given), self.question.text] = text
        return True

    def text(self, folder: Path) -> str:
        """The profile, to be written into a folder. Raises `ProblemsError` where it could not be read back."""
        policy = None if self._policy is None else path_beside(self._policy, folder)
        text = self._draft.text(policy, editor_line(folder))
        parse_trip(text, folder=folder)
        return text

    def _text(self, folder: Path) -> str:
        return self._draft.text(None if self._policy is None else path_beside(self._policy, folder))

    def _begin(self) -> None:
        """Starts the conversation, and goes through the answers that stand."""
        self._draft = TripDraft()
        self._way: tuple[LegDraft, ...] = ()
        self.remarks: tuple[str, ...] = ()
        self._asking = self._ask()
        self.question: Question | None = next(self._asking)
        for text in self._given:
            self._step(text)

    def _step(self, text: str) -> None:
        if self.question is None:
            return
        value = self.question.read(text)
        self.remarks = ()
        try:
            self.question = self._asking.send(value)
        except StopIteration:
            self.question = None

    def _say(self, *lines: str) -> None:
        self.remarks = (*self.remarks, *lines)

    def _read(self) -> Trip:
        """The trip so far, as a profile is read. Raises `AnswerError` with the first problem."""
        try:
            return parse_trip(self._text(Path()))
        except ProblemsError as error:
            raise of_problem(error.problems[0]) from None

    def _ask(self) -> Asking:
        draft = self._draft
        draft.setting = yield questions.SETTING
        places = yield questions.ROUTE
        draft.name = route_in_words(places)
        self._read()
        yield from self._ask_devices()
        yield from self._ask_legs(places)
        yield from self._ask_vehicles()
        yield from self._ask_parts()
        self._say(*litres.needed(self._read()))
        drawn_from = {draft.supply_of(leg) for leg in draft.legs}
        if draft.takes_air:
            drawn_from.add(AIR)
        for name in (CART, *draft.vehicles, AIR):
            if name in drawn_from or (name == CART and draft.vehicles):  # the cart backs up the vehicles
                yield from self._ask_supply(name, draft.supplies()[name])

    def _ask_devices(self) -> Asking:
        draft = self._draft
        while True:
            working = [name for name in draft.devices if name not in draft.standing_by]
            chosen = yield questions.device(self._usual, working)
            if chosen is None:
                return
            name, given = chosen
            draft.standing_by.pop(name, None)
            yield from self._ask_device(name, given)
            self._read()

    def _ask_device(self, name: str, given: Mapping[str, str], behind: str | None = None) -> Asking:
        """Settles one device, and then those that stand by behind it."""
        draft, kind = self._draft, device_types()[self._usual[name]["type"]]
        texts = with_settings(kind, self._usual[name], given)
        asked = bool(given)
        while missing := kind.missing(texts):
            texts = with_settings(
                kind, texts, (yield questions.one_setting(name, kind, missing[0], list(self._usual), behind))
            )
            asked = True
        if not asked and questions.measured(texts):
            texts = with_settings(kind, texts, (yield questions.kept_settings(name, kind, texts, behind)))
        if behind is None and "battery" not in texts and _lives_on_battery(kind, texts):
            what = settings()["battery"]
            texts |= yield questions.BATTERY.of(device=name, meaning=what.meaning, example=what.example)
        draft.devices[name] = texts
        if behind is not None:
            draft.standing_by[name] = behind
        self._say(f"{name}: {questions.device_in_words(texts) or kind.title}")
        for key, case in _RELATIONS.items():
            if key in texts and texts[key] not in draft.devices:
                yield from self._ask_device(texts[key], {}, f"{name} {case}")

    def _ask_legs(self, places: tuple[str, ...]) -> Asking:
        draft = self._draft
        kinds: tuple[LegKind, ...] = ()
        if draft.setting != "in_house":
            usual = usual_kinds(len(places) - 1, by_air=draft.setting == "air")
            kinds = yield questions.LEGS._replace(default=" ".join(usual))
        self._way = tuple(named_legs(places, kinds))
        for place, leg in enumerate(self._way):
            example = "55 + 10 roadworks, longest 80" if leg.kind in VEHICLES else "7 + 3 lift"
            time = yield questions.TIME.of(str(place), leg=leg.name, example=example)
            if time is not None:
                leg.time = time
                if leg.kind == "stay" and names_magnet_room(leg.name) and not time.magnet:
                    enters = (yield questions.MAGNET.of(leg=leg.name)) == "yes"
                    leg.time = replace(time, magnet=enters, outside=not enters)
                if leg.kind == "fly":
                    leg.cabin_altitude = yield questions.CABIN.of(leg=leg.name)
                draft.legs.append(leg)
                self._read()
                self._say(questions.leg_in_words(leg))
            else:
                self._say(f"{leg.name}: left out")
        if not draft.legs:
            raise AnswerError("a trip without legs", "a time for one leg at least", "give this one its minutes")

    def _ask_vehicles(self) -> Asking:
        draft = self._draft
        draft.cart, draft.air = (SupplyDraft(_SIZES[self._in_psi][name]) for name in (CART, AIR))
        for kind, name in VEHICLES.items():
            if any(leg.kind == kind for leg in draft.legs) and (yield questions.VEHICLE.of(name)) == "yes":
                draft.vehicles[name] = SupplyDraft(_SIZES[self._in_psi][""])

    def _ask_parts(self) -> Asking:
        """Asks where a device runs that seldom runs all the way; not where it is the only one."""
        draft = self._draft
        working = [name for name in draft.devices if name not in draft.standing_by]
        for name in working if len(working) > 1 else ():
            if "part_time" in device_types()[draft.devices[name]["type"]].traits:
                part = yield questions.part(name, draft.legs)
                if part is not None:
                    draft.parts[name] = part
                    self._read()

    def _ask_supply(self, name: str, supply: SupplyDraft) -> Asking:
        example = _EXAMPLES[name in (CART, AIR)][self._in_psi]
        while True:
            what, left_out = _MORE_CYLINDERS if supply.cylinders else _FIRST_CYLINDERS
            answer = yield questions.CYLINDERS.of(name, what=what, example=example)._replace(default=left_out)
            if answer is None:
                break
            if isinstance(answer, str):
                if supply.cylinders:
                    raise AnswerError("a stated amount beside cylinders", "more cylinders, or no", "type no, or `back`")
                supply.stated = answer
            else:
                other = next((one.label for one in answer if one.label and of_another_gas(one.label)), None)
                if other is not None and name != AIR:
                    fix = "leave it out; cylinders of air are asked for where a device takes air from cylinders"
                    raise AnswerError(f"a cylinder labelled `{shown(other)}`", "cylinders of oxygen", fix)
                supply.cylinders += labelled(answer, [cylinder.label for cylinder in supply.cylinders], name)
            self._read()
            if supply.outlets is None:
                supply.outlets = yield questions.OUTLETS.of(name)
                self._read()
            if supply.stated is not None:
                break
            self._say(*litres.judged(self._read()))
        if not supply.cylinders:
            self._say(*litres.judged(self._read()))
        needing = needing_regulators(self._read().supplies[name])
        if len(needing) > 1:
            one_each = str(len(needing))
            supply.regulators = yield questions.REGULATORS.of(name, count=one_each)._replace(default=one_each)


def with_settings(kind: DeviceType, texts: Mapping[str, str], given: Mapping[str, str]) -> dict[str, str]:
    """The settings of a device with those given put in, and without what belongs to another way to set it.

    A ventilator that had a minute volume and is given tidal volume and rate loses the minute volume.
    """
    ways = [way for way in kind.needs if set(given) <= {*way, *kind.optional, *COMMON_KEYS}]
    way = max(ways, key=lambda keys: len(set(keys) & set(texts)), default=())
    kept = {"type", *way, *kind.optional, *COMMON_KEYS}
    return {key: text for key, text in texts.items() if not ways or key in kept} | dict(given)


def labelled(found: Iterable[CylinderAnswer], taken: Iterable[str | None], supply: str) -> list[CylinderAnswer]:
    """The cylinders, each with a label: its own, else a letter on the cart, `main` and a number in a vehicle."""
    labels = set(taken)
    done = []
    for cylinder in found:
        label = cylinder.label or next(name for name in _labels(supply) if name not in labels)
        labels.add(label)
        done.append(replace(cylinder, label=label))
    return done


def _labels(supply: str) -> Iterator[str]:
    if supply == CART:
        yield from ascii_uppercase
    if supply == AIR:
        yield from (f"air {number}" for number in count(1))
    yield "main"
    yield from (f"main {number}" for number in count(2))


def _lives_on_battery(kind: DeviceType, texts: Mapping[str, str]) -> bool:
    """True for what makes its own oxygen, and for what is electric."""
    return "makes_oxygen" in kind.traits or texts.get("drive") == "electric"
