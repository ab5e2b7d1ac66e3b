"""What a line says, in full sentences, and as answers to the questions of the interview."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from planner.naming import listed
from planner.new_trip.draft import CART, LegDraft
from planner.new_trip.interview import Interview
from planner.new_trip.questions import Question
from planner.new_trip.route import route_in_words
from planner.new_trip.shorthand.understood import CYLINDERS, DEVICE, OUTLETS, ROUTE, SETTING, TIMES, Said, SaidLeg
from planner.trade.catalog import device_types

_TRAVELS: Final[Mapping[str, str]] = {
    "in_house": "The patient travels inside the hospital.",
    "road": "The patient travels by road.",
    "air": "The patient travels by air.",
}
_LACKS: Final[Mapping[str, str]] = {
    SETTING: "how the patient travels: in house, by road or by air",
    ROUTE: "from where to where, as in ward to scanner and back",
    DEVICE: "the device with what is set, as in reservoir mask 15 L/min",
    TIMES: "the minutes of the way, as in 12 min + 3 min lift",
    CYLINDERS: "cylinders with size, system and gauge, as in US-E 1900 psi",
    OUTLETS: "the outlets of the cylinders, as in flowmeter 15 L/min, 50 psi outlet",
}
_WALKS: Final = ("walk", "there", "back")


class Taken:
    """Gives the interview what the line says, one answer a question; what it does not say is left to a person."""

    def __init__(self, said: Said) -> None:
        self.said = said
        self._theirs: set[tuple[int, str]] = set()

    def answer(self, interview: Interview) -> str | None:
        """The answer to the question at hand; None where a person has to be asked."""
        question = interview.question
        if question is None or (len(interview.answers), question.text) in self._theirs:
            return None
        return self._answer(interview, question)

    def leave(self, interview: Interview) -> None:
        """The question at hand is a person's: the answer of the line was refused, or taken back."""
        if interview.question is not None:
            self._theirs.add((len(interview.answers), interview.question.text))

    def _answer(self, interview: Interview, question: Question) -> str | None:
        said = self.said
        match question.key:
            case "setting":
                return said.setting or None
            case "route":
                return ", ".join(said.route) or None
            case "legs":
                return _kinds(said.legs)
            case "device":
                return self._device(int(question.about))
            case "time":
                return placed(said.legs, interview.way)[int(question.about)]
            case "cabin_altitude":
                flights = [leg for leg in interview.way if leg.kind == "fly"]
                return said.cabin or None if len(flights) == 1 else None
            case "vehicle":
                return "yes" if said.vehicle and len(interview.vehicles_asked) == 1 else None
            case "cylinders":
                return self._cylinders(question, interview)
            case "outlets":
                return ", ".join(said.outlets) or None if question.about == CART else None
        return None

    def _device(self, number: int) -> str | None:
        devices = self.said.devices
        if number >= len(devices):
            return "no" if devices else None
        return " ".join((devices[number].name, *(f"{key} {text}" for key, text in devices[number].settings)))

    def _cylinders(self, question: Question, interview: Interview) -> str | None:
        there = self.said.cart if question.about == CART else self.said.vehicle
        if question.about not in (CART, *interview.vehicles_asked) or not there:
            return None
        return "no" if question.default == "no" else ", ".join(there)


def _kinds(legs: Sequence[SaidLeg]) -> str | None:
    """The legs of a trip by vehicle, where each was said with its kind from the first walk to the last."""
    kinds = [leg.kind for leg in legs]
    whole = (
        kinds[:1] == kinds[-1:] == ["walk"] and {"road", "fly"} & set(kinds) and not {"", "there", "back"} & set(kinds)
    )
    return " ".join(kinds) if whole else None


def placed(said: Sequence[SaidLeg], way: Sequence[LegDraft]) -> list[str | None]:
    """The time of each leg of a way, None where the line does not say it for sure.

    All in their order where they are as many and none is of another kind; else only a time of a kind that one leg alone
    has, and that one time alone was said for.
    """
    if len(said) == len(way) and all(_fits(one.kind, leg.kind) for one, leg in zip(said, way, strict=True)):
        return [one.time for one in said]
    kinds = [one.kind for one in said]
    if not all(kinds):
        return [None] * len(way)
    alone = {one.kind: one.time for one in said if kinds.count(one.kind) == 1}
    of_way = [leg.kind for leg in way]
    return [alone.get(kind) if of_way.count(kind) == 1 else None for kind in of_way]


def _fits(said: str, kind: str) -> bool:
    return said in ("", kind) or (kind == "walk" and said in _WALKS)


def sentences(said: Said) -> Iterator[str]:
    """What was understood, in full sentences."""
    if said.setting:
        yield _TRAVELS[said.setting]
    if said.route:
        yield f"The way: {route_in_words(said.route)}."
    for device in said.devices:
        settings = (
            listed(f"{key} {text}" for key, text in device.settings)
            if device.settings
            else "nothing said of what is set"
        )
        yield f"Device: {device_types()[device.type].title}, {settings}."
    for leg in said.legs:
        yield f"{'Time' if not leg.kind else leg.kind.capitalize()}: {leg.time}."
    for texts, where in ((said.cart, "carried with the patient"), (said.vehicle, "fixed in the vehicle")):
        if texts:
            yield f"Cylinder{'s' * (len(texts) > 1)} {where}: {', '.join(texts)}."
    if said.outlets:
        yield f"Outlets of each cylinder: {listed(said.outlets)}."
    if said.cabin:
        yield f"Cabin altitude: {said.cabin}."
    for aside in said.asides:
        yield f"{aside}: not asked for, it changes no litres."


def lacks(said: Said) -> Iterator[str]:
    """What the line does not say, in words of how to say it; what is in doubt is told apart."""
    yield from (words for topic, words in _LACKS.items() if not said.of(topic) and topic not in said.asked)
