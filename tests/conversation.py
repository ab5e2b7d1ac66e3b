"""Answers to the questions of `new`, and what comes of them, for the tests."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from planner.model import Trip
from planner.new_trip.interview import Interview
from planner.new_trip.usual import built_in
from planner.profile.read import parse_trip

ROUTINE = [
    "1",  # inside the hospital
    "ward, scanner, back",
    "cannula 4",
    "",  # no other device
    "7 + 3 lift",
    "8",
    "7",
    "US-E 1500 psi",
    "",  # one flowmeter to 15 L/min
    "",  # no more cylinders
]
"""The worked example of the README, as it is told in a call. The name of the file makes eleven."""

BY_ROAD = [
    "road",
    "valley hospital to coast hospital",
    "vent 450 mL 16/min 60 %",
    "2",  # bias flow
    "0",  # leak
    "4 h",  # its battery
    "",  # the resuscitator behind it: 15 L/min
    "neb 6",
    "",
    "",  # walk, load, road, unload, walk
    "10 + 5 lift",
    "5",
    "55 + 10 bridge, longest 80",
    "5",
    "10 + 5 bed not ready",
    "yes",  # the ambulance has oxygen
    "10 min in leg 3",
    "US-E 2000 psi, US-E 1950 psi, US-E 1900 psi",
    "15, 50 psi",
    "",
    "",  # a regulator on each
    "US-M 1700 psi",
    "15, 15, 50 psi",
    "",
]


def held(answers: Sequence[str], policy: Path | None = None) -> Interview:
    """An interview after some answers."""
    interview = Interview(built_in(), policy)
    for text in answers:
        interview.answer(text)
    return interview


def trip_of(answers: Sequence[str]) -> Trip:
    interview = held(answers)
    assert interview.question is None
    return parse_trip(interview.text(Path()))
