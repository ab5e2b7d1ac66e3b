"""A line of shorthand is read as it was meant, or asked about; never as something else, and never as something easier.

The lines and their meanings stand in `shorthand_lines.txt`. What is changed in a line by one token has to change its
meaning, or be asked about.
"""

from __future__ import annotations

import re
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import pytest
from click.testing import CliRunner, Result

from planner.command.cli import main
from planner.new_trip.interview import Interview
from planner.new_trip.shorthand.said import read_line
from planner.new_trip.shorthand.taken import Taken
from planner.new_trip.shorthand.tokens import Token, parts, tokens
from planner.new_trip.shorthand.understood import Said
from planner.new_trip.usual import built_in
from planner.planning import plan
from planner.profile.read import parse_trip, read_trip
from tests.terminal import at_a_terminal

LINES = Path(__file__).with_name("shorthand_lines.txt")


class Line(NamedTuple):
    """A line, and its meaning as fields in any order."""

    text: str
    meaning: tuple[str, ...]


def _sorted(field: str) -> str:
    """A device with its settings in the order of the alphabet."""
    device, _, settings = field[2:].rstrip().partition(" ")
    return f"d {device} {', '.join(sorted(settings.split(', ')))}"


def corpus() -> Iterator[Line]:
    for row in LINES.read_text(encoding="utf-8").splitlines():
        if row and not row.startswith("#"):
            text, _, meaning = row.partition(" == ")
            yield Line(text, tuple(_sorted(one) if one.startswith("d ") else one for one in meaning.split(" | ")))


CORPUS = tuple(corpus())


def meaning(said: Said) -> tuple[str, ...]:
    """What was read, in the words of the corpus."""
    found = [f"s {said.setting}"] if said.setting else []
    found += [f"w {' > '.join(said.route)}"] if said.route else []
    for device in said.devices:
        found.append(_sorted(f"d {device.type} {', '.join(f'{key} {text}' for key, text in device.settings)}"))
    found += [f"t {leg.kind} {leg.time}".replace("  ", " ") for leg in said.legs]
    found += [f"c {text}" for text in said.cart] + [f"v {text}" for text in said.vehicle]
    found += [f"o {', '.join(said.outlets)}"] if said.outlets else []
    found += [f"a {said.cabin}"] if said.cabin else []
    return (*found, *(f"? {topic}" for topic in said.asked))


def test_the_corpus_is_large() -> None:
    assert len(set(CORPUS)) == len(CORPUS) >= 200
    assert sum(any(one.startswith("?") for one in line.meaning) for line in CORPUS) >= 80


@pytest.mark.hazard(35)
@pytest.mark.parametrize("line", CORPUS, ids=lambda line: line.text)
def test_a_line_is_read_as_it_was_meant_or_asked_about(line: Line) -> None:
    assert sorted(meaning(read_line(line.text, built_in()))) == sorted(line.meaning)


# One token dropped or changed


GOOD = tuple(line for line in CORPUS if not any(one.startswith("?") for one in line.meaning))


def read(text: str) -> tuple[str, ...]:
    return tuple(sorted(meaning(read_line(text, built_in()))))


def spans(text: str) -> Iterator[tuple[int, int, Token]]:
    """Where each token of a line stands."""
    place = 0
    for part in parts(text):
        for token in tokens(part):
            start = text.find(token.text, place)
            if start >= 0:
                place = start + len(token.text)
                yield start, place, token


def says_nothing_by_itself(line: Line, token: Token, after: str) -> bool:
    """True for a token that another makes needless.

    `FiO2 60%` and `RR 16/min` are what the unit says, `by air` what a flight says, a plus is what its wait says, and
    what is no matter of litres, as PEEP, is passed over. The words of a way are not tokens.
    """
    named = token.kind == "K" and re.match(r" ?[0-9.]+ ?(?:%|mL|/min|cc|percent)", after, re.IGNORECASE)
    return bool(named) or token.kind in "a+?" or (token.kind == "E" and "flight" in line.text)


@pytest.mark.hazard(35)
@pytest.mark.parametrize("line", GOOD, ids=lambda line: line.text)
def test_a_token_that_is_dropped_is_missed(line: Line) -> None:
    """What then is read is something else or asked about; a word that another one makes needless changes nothing."""
    for start, end, token in spans(line.text):
        without = f"{line.text[:start]} {line.text[end:]}"
        if not says_nothing_by_itself(line, token, line.text[end:]):
            assert read(without) != tuple(sorted(line.meaning)), token


@pytest.mark.hazard(35)
@pytest.mark.parametrize("line", GOOD, ids=lambda line: line.text)
def test_a_value_without_its_unit_is_asked_about(line: Line) -> None:
    """But for a flow on a device that is set by one, and for minutes of a wait: there `new` takes a bare number too."""
    beside = r"(?:lift|elevator|handover|longest|at most|max|\+|plus|h|sats|SpO2) ?$"
    units = r"([0-9]) ?(psig?|bars?|MPa|kPa|min\b|mins\b|minutes|h\b|ft|mL\b|cc|%|percent|/min)"
    for match in re.finditer(units, line.text):
        before = line.text[: match.end(1)].rstrip("0123456789")
        bare = f"{line.text[: match.end(1)]}{line.text[match.end() :]}"
        if re.search(beside, before) is None and not line.text[match.end() :].startswith((" lift", " outlet")):
            assert any(one.startswith("?") for one in read(bare)), (bare, read(bare))


@pytest.mark.hazard(35)
@pytest.mark.parametrize("line", GOOD, ids=lambda line: line.text)
def test_a_number_that_is_changed_changes_its_own_field_alone_or_is_asked_about(line: Line) -> None:
    for match in re.finditer(r"(?<![\w.,/-])[0-9]+(?![\w-]*[0-9]*:)", line.text):
        for other in (int(match.group()) + 1, int(match.group()) * 10, int(match.group()) // 2):
            changed = f"{line.text[: match.start()]}{other}{line.text[match.end() :]}"
            found = read(changed)
            if other == int(match.group()) or any(one.startswith("?") for one in found):
                continue
            if any(token.kind == "a" and start <= match.start() < end for start, end, token in spans(line.text)):
                continue
            assert found != tuple(sorted(line.meaning)), changed
            before, after = Counter(line.meaning), Counter(found)
            new, gone = tuple((after - before).elements()), tuple((before - after).elements())
            assert len({one[0] for one in (*new, *gone)}) == 1, (changed, new, gone)
            assert all(str(other) in one or "h" in one or len(new) != len(gone) for one in new), (changed, new)


UNITS = (
    ("psi", "bar"),
    ("bar", "psi"),
    (" min", " h"),
    ("L/min", "mL/min"),
    ("mL", "L"),
    ("US-", "UK-"),
    ("UK-", "US-"),
)


@pytest.mark.hazard(35)
@pytest.mark.parametrize("line", GOOD, ids=lambda line: line.text)
def test_a_unit_or_a_system_that_is_changed_changes_the_meaning(line: Line) -> None:
    for old, new in UNITS:
        for match in re.finditer(rf"(?<![A-Za-z]){re.escape(old)}(?![A-Za-z/])", line.text):
            changed = f"{line.text[: match.start()]}{new}{line.text[match.end() :]}"
            assert read(changed) != tuple(sorted(line.meaning)), changed


@pytest.mark.hazard(35)
@pytest.mark.parametrize(
    "word", ["no", "not", "without", "maybe", "about", "or", "except", "half", "low", "?", "~", "off"]
)
def test_a_word_that_turns_or_weakens_what_is_said_is_never_passed_over(word: str) -> None:
    """Before and behind each part of a call, it makes that part a question."""
    call = "US-E 1900 psi, reservoir mask 15, 12 min, lift 3, in house, ward to CT, flowmeter 15"
    whole = read(call)
    for part in call.split(", "):
        for put in (f"{word} {part}", f"{part} {word}"):
            found = read(call.replace(part, put))
            assert any(one.startswith("?") for one in found), put
            sure = {one for one in found if one[0] not in "?t"}  # of the times a wait may now be missing: it is asked
            assert sure < set(whole), put


# The command


WHOLE = "US-E 1900 psi, reservoir mask 15, ward to CT, 12 min + 3 min lift, flowmeter 15, in house"


class TestCommand:
    @pytest.fixture(autouse=True)
    def folder(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
        monkeypatch.chdir(tmp_path)
        return tmp_path

    def say(self, line: str, *arguments: str) -> Result:
        return CliRunner().invoke(main, ["new", "--say", line, *arguments])

    def test_a_line_that_says_everything_writes_the_profile(self, folder: Path) -> None:
        result = self.say(WHOLE)
        assert result.exit_code == 0, result.output
        (path,) = folder.iterdir()
        made = plan(read_trip(path))
        # (12 + 3) min x 15 L/min = 225 L; half of it is less than 30 min x 15 L/min = 450 L.
        assert made.supplies["cart"].need.planned_l == pytest.approx(225.0)
        assert made.supplies["cart"].need.required_l == pytest.approx(675.0)
        assert made.verdict == "no-go"  # an E at 1900 psi holds some 400 L above 500 psi

    @pytest.mark.parametrize("left_out", WHOLE.split(", "))
    def test_without_a_terminal_what_is_left_out_is_told_and_nothing_is_written(
        self, folder: Path, left_out: str
    ) -> None:
        result = self.say(", ".join(part for part in WHOLE.split(", ") if part != left_out))
        assert result.exit_code == 1
        assert "Not said:" in result.stdout
        assert result.stderr.endswith("Nothing is written.\n")
        assert list(folder.iterdir()) == []

    @pytest.mark.parametrize("line", [one.text for one in CORPUS if one.meaning[-1].startswith("?")][::9])
    def test_without_a_terminal_what_is_not_sure_is_told_and_nothing_is_written(self, folder: Path, line: str) -> None:
        result = self.say(line)
        assert result.exit_code == 1
        assert "Not sure, so it is asked:" in result.stdout
        assert list(folder.iterdir()) == []

    @pytest.mark.parametrize(
        "line", ["", ",,,", "x" * 600, "\x1b[2J", "é三", ", ".join(["60"] * 200), "9" * 400, "+" * 90]
    )
    def test_any_line_is_told_about_and_ends_well(self, folder: Path, line: str) -> None:
        result = self.say(line)
        assert result.exit_code == 1, result.output
        assert "\x1b" not in result.output
        assert list(folder.iterdir()) == []

    def test_usage(self) -> None:
        assert self.say(WHOLE, "--from", "x.yaml").exit_code == 2
        assert self.say(WHOLE, "--resume", "x.txt").exit_code == 2
        assert self.say(WHOLE, "--form", "x.pdf").exit_code == 2

    def test_what_the_line_says_cannot_be_is_told(self, folder: Path) -> None:
        result = self.say(WHOLE.replace("1900 psi", "1900 bar"))
        assert result.exit_code == 1
        assert "1900 bar" in result.stderr
        assert list(folder.iterdir()) == []


def taken(line: str, answers: Sequence[str]) -> tuple[list[str], Interview]:
    """The questions that a person is asked behind a line, and the interview after their answers."""
    interview, said = Interview(built_in()), Taken(read_line(line, built_in()))
    asked, left = [], list(answers)
    while (question := interview.question) is not None:
        text = said.answer(interview)
        if text is None:
            asked.append(question.key)
            text = left.pop(0)
        if text == "back":
            interview.back()
            said.leave(interview)
        else:
            interview.answer(text)
    assert not left
    return asked, interview


def test_what_is_not_sure_and_what_is_not_said_is_asked_with_the_questions_of_new() -> None:
    line = "E 1900 psi, reservoir mask 15, 12 min, lift 3, in house"
    asked, interview = taken(line, ["ward, CT", "US-E 1900 psi", "", ""])
    assert asked == ["route", "cylinders", "outlets", "cylinders"]
    need = plan(parse_trip(interview.text(Path()))).supplies["cart"].need
    assert need.planned_l == pytest.approx(15 * 15.0)  # 12 and 3 min at 15 L/min


def test_times_that_do_not_fit_the_way_are_asked() -> None:
    """One time is said, and three legs come of the way there and back: none of them is taken to have it."""
    line = "US-E 1900 psi, cannula 2, 12 min, ward to CT and back, flowmeter 15, in house"
    asked, _ = taken(line, ["5", "20", "6"])
    assert asked == ["time", "time", "time"]


def test_by_road_a_time_of_the_road_is_that_of_the_road_alone() -> None:
    line = "US-E 1900 psi, cannula 2, road 45 min, home to hospital, flowmeter 15"
    asked, interview = taken(line, ["", "5", "3", "3", "5", "no"])
    assert asked == ["legs", "time", "time", "time", "time", "vehicle"]
    trip = parse_trip(interview.text(Path()))
    assert [leg.duration_min for leg in trip.legs] == [5.0, 3.0, 45.0, 3.0, 5.0]


def test_what_a_line_said_can_be_taken_back() -> None:
    """Each step back is one answer, and what was taken back is a person's to answer."""
    line = "US-E 1900 psi, cannula 2, ward to CT, 12 min, in house"
    asked, interview = taken(line, ["back", "back", "14", "US-E 1800 psi", ""])
    assert asked == ["outlets", "cylinders", "time", "cylinders", "outlets"]
    text = interview.text(Path())
    assert "duration: 14 min" in text
    assert "gauge: 1800 psi" in text
    assert "flow: 2 L/min" in text


@pytest.mark.skipif(sys.platform == "win32", reason="terminals of Unix")
def test_at_a_terminal_a_part_that_is_not_understood_is_asked_about_first(tmp_path: Path) -> None:
    line = "US-E 1900 psi, cannula 2, 60, ward to CT, 12 min, in house"
    said, code = at_a_terminal(tmp_path, ["--say", line], ["lift 4\n", "\n", "t.yaml\n"])
    assert code == 0, said
    assert "What does `60` mean?" in said
    text = (tmp_path / "t.yaml").read_text(encoding="utf-8")
    assert "{reason: lift, time: 4 min}" in text


@pytest.mark.hazard(19)
@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("AIR: US-E 1900 psi", "never counted as oxygen"),
        ("air US-E 1900 psi", "never counted as oxygen"),
        ("Heliox: US-E 1900 psi", "never counted as oxygen"),
        ("liquid oxygen 12 lb", "a line has no room for liquid oxygen"),
        ("LOX", "a line has no room for liquid oxygen"),
        ("concentrator, battery 3 h", "how long a battery lasts is asked for"),
    ],
)
def test_air_liquid_and_batteries_are_asked_about_with_the_reason(line: str, why: str) -> None:
    said = read_line(line, built_in())
    assert [why in doubt.why for doubt in said.doubts] == [True]
    assert said.cart == []


def test_a_device_that_the_list_of_the_service_lacks_is_asked_for() -> None:
    usual = {name: texts for name, texts in built_in().items() if texts["type"] != "simple_mask"}
    (doubt,) = read_line("US-E 1900 psi, simple mask 6 L/min, 12 min", usual).doubts
    assert doubt.why == "the list has no simple mask"
    assert doubt.fix == "take another one when it is asked for, or add it to the list"
