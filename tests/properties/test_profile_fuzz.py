"""Whatever stands in the files of a trip, the answer is a trip or problems that can be told, soon and in little room.

The changed profiles come from `tests/fuzz/mutate.py`, the full-size ones from `tests/fuzz/hostile.py`.
`python -m tests.fuzz` searches on from the same beginnings, led by coverage; `python -m tests.fuzz.measure` runs the
command on every full-size sample and prints what each costs.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path
from random import Random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from planner.problems import ProblemsError
from planner.profile.conform import conforms
from planner.profile.read import read_trip
from planner.profile.refusal_words import plain
from planner.text.source import loads
from planner.text.text_file import MOST_PROBLEMS
from planner.trade.schemas import schema
from tests.fuzz.hostile import SAMPLES, SOUND, TRIP
from tests.fuzz.hostile_commands import COMMANDS
from tests.fuzz.judge import check_problem, judge
from tests.fuzz.mutate import OWN, POLICY, READINGS, STORE, TABLE, Case, mutated, seeds

if sys.platform == "win32":
    measure: Any = None
else:
    from tests.fuzz import measure

pytestmark = pytest.mark.hazard(4, 25)

BY_COMMAND = (
    *(
        "10 MB scalar",
        "1 MB of digits as flow",
        "control characters at the end",
        "1 MB of tabs",
        "UTF-16",
        "deep lists",
    ),
    *("alias bomb", "unknown uses", "misspelt at every level", "1 MB of legs", "one store for all"),
)
"""Samples that the command itself reads here, in a process of its own: one of each kind, and those that cost it most;
with `--long` it reads all."""

OTHERS = [name for name in SAMPLES if name not in BY_COMMAND]
SEEDS = seeds()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One folder for the files of every case, which lie over those of the case before."""
    return tmp_path_factory.mktemp("fuzz")


def changed(random: Random) -> Case:
    """A case of the project, changed up to three times over."""
    case = random.choice(SEEDS)
    for _ in range(random.randint(1, 3)):
        case = mutated(case, random, SEEDS)
    return case


@given(st.integers(0, 2**32).map(Random))
def test_changed_files_give_a_trip_or_problems_that_can_be_told(folder: Path, random: Random) -> None:
    judge(changed(random), folder)


DEVICE = "devices: {NAME: {type: nasal_cannula, flow: 2 L/min}}\n"
LEG = "legs: [{name: Ride, duration: 1 min, supply: cart, devices: [cannula]}]\n"
CART = "supplies: {cart: {cylinders: [{label: A, size: US-E, gauge: 2000 psi}]}}\n"
WALL = "supplies: {cart: {pipeline: true}}\n"
HEAD = "profile: 1\ntrip: Ward to scanner\n"
STORE_TEXT = "cylinders: [{label: A, size: US-E, gauge: 2000 psi}]\n"
READINGS_TEXT = "readings: 1\nlog: [{time: 0 min, cylinder: A, gauge: 2000 psi}]\n"
FOUND: dict[str, tuple[str, tuple[str, ...], str]] = {
    "a hidden space in the name that was meant": (
        HEAD + CART + DEVICE.replace("NAME", "can\u00a0nula") + LEG,
        (),
        "write `can?nula`",
    ),
    "a hidden space in the key that was meant": ("l\u00a0gs: x\n", ("legs[2].supply=cart",), "write l?gs"),
    "a hidden space in the name of a wrong value": (
        HEAD + "supplies: {ca\u00a0rt: x}\n" + DEVICE.replace("NAME", "cannula") + LEG,
        (),
        "not_allowed  ca?rt `x`; ",
    ),
    "an empty name without a value": (
        HEAD + "supplies: {'': }\n" + DEVICE.replace("NAME", "cannula") + LEG,
        (),
        "value_missing  `` without a value; ",
    ),
    "a device without a name": (HEAD + CART + DEVICE.replace("NAME", "''") + LEG, (), "one of the devices: ``. "),
    "a change of an empty profile": ("{}\n", ("supplies.cart=x",), "nothing, since the profile is empty"),
    "readings of a trip without cylinders": (
        HEAD + WALL + DEVICE.replace("NAME", "cannula") + LEG,
        (),
        "one of its cylinders: none",
    ),
}
"""What `python -m tests.fuzz` found: a profile, changes, and a part of what is told since."""


@pytest.mark.parametrize(("text", "changes", "part"), FOUND.values(), ids=FOUND.keys())
def test_what_was_found_before(text: str, changes: tuple[str, ...], part: str, folder: Path) -> None:
    files = {TRIP: text, STORE: STORE_TEXT, READINGS: READINGS_TEXT, TABLE: "time,cylinder,gauge\n0 min,A,2000 psi\n"}
    problems = judge(Case({name: data.encode() for name, data in files.items()}, changes), folder)
    assert part in " ".join(map(str, problems))


@given(st.integers(0, 2**32).map(Random))
def test_the_quick_answer_is_that_of_a_validation_library(random: Random) -> None:
    case = changed(random)
    for file, name in ((TRIP, "profile"), (POLICY, "policy"), (OWN, "own_lines"), (STORE, "store")):
        try:
            root = loads(case.files[file].decode("utf-8", "replace")).root
        except ProblemsError:
            continue
        value, rules = plain(root), schema(name)
        assert conforms(value, rules, rules) == Draft202012Validator(dict(rules)).is_valid(value)


@pytest.mark.longer("name", OTHERS[::6], OTHERS)
def test_a_full_size_sample_gives_problems_that_can_be_told(name: str, folder: Path) -> None:
    case = Case(SAMPLES[name]())
    for file, data in case.files.items():
        (folder / file).write_bytes(data)
    if name in SOUND:
        read_trip(folder / TRIP)
        return
    with pytest.raises(ProblemsError) as caught:
        read_trip(folder / TRIP)
    assert len(caught.value.problems) <= MOST_PROBLEMS + 1
    for problem in caught.value.problems:
        check_problem(problem, case, folder)


@pytest.mark.skipif(measure is None, reason="what a process took is asked of the system by means that this one lacks")
@pytest.mark.longer("name", BY_COMMAND, SAMPLES)
def test_the_command_refuses_a_full_size_sample_in_its_room(name: str, tmp_path: Path) -> None:
    """And ends by itself long before the system would end it; how long it takes is for `tests.fuzz.measure` to say."""
    cost = measure.check(name, tmp_path)
    assert cost.peak_mb <= measure.MOST_MB
    assert cost.code == (0 if name in SOUND else 1)
    assert "Traceback" not in cost.out + cost.err
    lines = [line for line in (cost.out + cost.err).splitlines() if line]
    assert 1 <= len(lines) <= MOST_PROBLEMS + 2
    told = [line for line in lines if re.match(r"\S+\.yaml:[1-9][0-9]*:[1-9][0-9]*  [a-z0-9_]+  \S", line)]
    assert len(told) == (0 if name in SOUND else len(lines) - 1)
    assert all("; allowed: " in line and " Fix: " in line and line.isprintable() for line in told)


@pytest.mark.skipif(measure is None, reason="what a process took is asked of the system by means that this one lacks")
@pytest.mark.longer("name", ["a history of one line", "2,000 readings in turn"], COMMANDS)
def test_every_verb_ends_in_its_room_whatever_the_file(name: str, tmp_path: Path) -> None:
    """By itself, in words: one that goes on without end is ended by the system, with a code below zero."""
    cost = measure.of(name, tmp_path)
    assert cost.code in (0, 1, 3)
    assert cost.peak_mb <= measure.MOST_MB
    told = cost.out + cost.err
    assert told
    assert "Traceback" not in told
    assert "fault of the program" not in told
    assert all(line.isprintable() for line in told.splitlines())
