"""YAML as text: what is kept as typed, what is refused and where, and values set by their path."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Any

import pytest
import yaml

from planner.problems import Position, ProblemsError
from planner.text import yaml_tree
from planner.text.node import Node
from planner.text.source import Document, load, loads
from planner.text.text_file import MOST_BYTES

pytestmark = pytest.mark.hazard(25)

REFUSED = Path(__file__).resolve().parent / "refused_yaml.txt"
PARSERS: list[Any] = [getattr(yaml, name) for name in ("SafeLoader", "CSafeLoader") if hasattr(yaml, name)]


@pytest.fixture(params=PARSERS, ids=lambda loader: str(loader.__name__))
def both_parsers(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """The parser in C, and the one in Python that stands in where there is none."""
    monkeypatch.setattr(yaml_tree, "_LOADER", request.param)


def problems_of(text: str) -> str:
    """Every problem of a text as it is printed, without the file name."""
    with pytest.raises(ProblemsError) as caught:
        loads(text, "trip.yaml")
    return str(caught.value).replace("trip.yaml:", "")


def plain(node: Node) -> object:
    """A node as Python would hold it, all scalars as text."""
    if node.kind == "map":
        return {key.text: plain(value) for key, value in node.pairs}
    return [plain(item) for item in node.items] if node.kind == "list" else node.text


@pytest.mark.usefixtures("both_parsers")
class TestKeptAsTyped:
    @pytest.mark.parametrize(
        "text",
        ["1:30", "010", "0x1F", "no", "yes", "~", "null", "1e3", ".nan", "2026-12-03", "1_000", "=", "true", "60 %"],
    )
    def test_nothing_turns_into_something_else(self, text: str) -> None:
        node = loads(f"key: {text}\n").root.get("key")
        assert node == Node("scalar", text, line=1, column=6)

    @pytest.mark.parametrize(
        ("written", "text"),
        [("'no'", "no"), ('"a: b"', "a: b"), ("|\n  one\n  two", "one\ntwo\n"), (">\n  one\n  two", "one two\n")],
    )
    def test_quotes_and_blocks_are_told_apart(self, written: str, text: str) -> None:
        node = loads(f"key: {written}\n").root.get("key")
        assert node is not None
        assert (node.text, node.quoted) == (text, True)

    def test_places_count_from_one_in_characters(self) -> None:
        root = loads("trip: Übung 😀\nlegs:\n  - {name: Weg, duration: 12 min}\n").root
        assert root.pick("legs", 0, "duration") == Node("scalar", "12 min", line=3, column=27)
        assert root.key("legs") == Node("scalar", "legs", line=2, column=1)
        assert loads("{a: '😀', b: c}").root.pick("b") == Node("scalar", "c", line=1, column=13)

    @pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
    def test_every_line_end_counts_once(self, line_end: str) -> None:
        root = loads(line_end.join(["a: 1", "# note", "b: 2", ""])).root
        assert root.pick("b") == Node("scalar", "2", line=3, column=4)

    def test_a_key_without_a_value(self) -> None:
        root = loads("policy:\nlegs: []\nname: ''\n").root
        assert [value.missing for _, value in root.pairs] == [True, False, False]
        assert [value.where for _, value in root.pairs] == [Position(1, 1), Position(2, 7), Position(3, 7)]

    def test_an_alias_stands_for_its_value(self) -> None:
        assert plain(loads("a: &one {flow: 2 L/min}\nb: *one\n").root) == {
            "a": {"flow": "2 L/min"},
            "b": {"flow": "2 L/min"},
        }

    @pytest.mark.parametrize(
        "text", ["\ufeffa: b", "---\na: b\n...\n", "a: b # note\t#3", "#\tnote\na: b \t\n\t\n", "a: b #note"]
    )
    def test_harmless_dress(self, text: str) -> None:
        assert plain(loads(text).root) == {"a": "b"}


def refused() -> dict[str, tuple[str, str]]:
    """By title, the text and the messages of each case in refused_yaml.txt."""
    _, *cases = re.split(r"^== ", REFUSED.read_text(encoding="utf-8"), flags=re.MULTILINE)
    found = {}
    for case in cases:
        title, _, rest = case.partition("\n")
        text, told = re.split(r"^--\n", rest, maxsplit=1, flags=re.MULTILINE)
        found[title] = (re.sub(r"<U\+([0-9A-F]{4,6})>", lambda code: chr(int(code[1], 16)), text), told.strip())
    return found


@pytest.mark.usefixtures("both_parsers")
class TestRefused:
    @pytest.mark.parametrize(("text", "told"), refused().values(), ids=refused().keys())
    def test_text(self, text: str, told: str) -> None:
        assert problems_of(text) == told

    def test_deep(self) -> None:
        # The root is one level, and nineteen lists are nineteen more.
        assert plain(loads("a: " + "[" * 19 + "]" * 19).root)
        deep = "lists and maps more than 20 deep; allowed: at most 20 levels"
        mend = "check the brackets and the indentation"
        assert problems_of("a: " + "[" * 20 + "]" * 20) == f"1:23  too_deep  {deep}. Fix: {mend}."
        assert problems_of("- " * 400_000) == f"1:41  too_deep  {deep}. Fix: {mend}."
        # Here the parser in C gives up by itself.
        assert problems_of("[" * 900_000).split("  ")[1] in ("too_deep", "not_yaml")

    def test_deep_by_aliases(self) -> None:
        chain = "a0: &a0 [x]\n" + "".join(f"a{n}: &a{n} [*a{n - 1}]\n" for n in range(1, 20))
        assert problems_of(chain).startswith("20:12  too_deep  ")

    def test_aliases_that_multiply(self) -> None:
        # Ten of ten of ten ...: line 5 stands for 11 111 values, and line 6 would for 111 111.
        tower = "a0: &a0 x\n" + "".join(f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 10)}]\n" for n in range(1, 7))
        many = "more than 20000 values, aliases counted as what they stand for; allowed: at most 20000"
        mend = "check that this is the right file, and write no aliases of aliases"
        assert problems_of(tower).partition("  ")[2] == f"too_many_values  {many}. Fix: {mend}."
        assert problems_of(tower).startswith("5:") or problems_of(tower).startswith("6:")
        assert (
            problems_of("a: [" + "x, " * 30_000 + "x]\n").partition("  ")[2] == f"too_many_values  {many}. Fix: {mend}."
        )

    def test_long_value(self) -> None:
        assert loads("a: " + "x" * 10_000).root.get("a") == Node("scalar", "x" * 10_000, line=1, column=4)
        told = "a value of 10001 letters; allowed: at most 10000. Fix: shorten it, or close the quotes before it."
        assert problems_of("a: " + "x" * 10_001) == f"1:4  too_long  {told}"

    def test_no_more_problems_than_anyone_reads(self) -> None:
        lines = problems_of("a: 1\n" * 151).split("\n")
        assert len(lines) == 101
        told = "50 problems more; allowed: a file without problems. Fix: mend the others first and try again."
        assert lines[-1] == f"102:1  too_many_problems  {told}"

    def test_unseen_characters_at_the_end_of_a_long_text(self) -> None:
        lines = problems_of("a:\r\n" + "\n" * 300_000 + "\x07\r\n x\x07" * 60).split("\n")
        assert len(lines) == 101
        # Lines 2 to 300001 are empty; two of the characters stand on each line from then on, but for the first.
        assert [line.split("  ")[0] for line in lines[:3]] == ["300002:1", "300003:3", "300003:4"]
        assert lines[-1].startswith("300052:4  too_many_problems  20 problems more;")

    def test_large_text(self) -> None:
        assert problems_of("#" * (MOST_BYTES + 1)).startswith("1:1  too_large  more than 1 MB; allowed: at most ")


def refused_file(path: Path | str) -> str:
    with pytest.raises(ProblemsError) as caught:
        load(path)
    (problem,) = caught.value.problems
    assert problem.file == str(path)
    return str(problem).removeprefix(f"{path}:")


A_FILE = "allowed: a YAML file with a trip or a policy"
PLAIN = "allowed: text in UTF-8. Fix: save the profile as plain text, and name that file."
SAVE = "allowed: text in UTF-8. Fix: save the file as UTF-8 in the editor."


class TestFile:
    def test_read(self, tmp_path: Path) -> None:
        path = tmp_path / "trip.yaml"
        path.write_bytes(b"\xef\xbb\xbftrip: \xc3\x9cbung\r\n")
        assert load(path) == Document(
            str(path),
            "trip: Übung\r\n",
            Node(
                "map",
                pairs=((Node("scalar", "trip", line=1, column=1), Node("scalar", "Übung", line=1, column=7)),),
                line=1,
                column=1,
            ),
        )

    def test_folder(self, tmp_path: Path) -> None:
        assert refused_file(tmp_path) == f"0:0  is_a_folder  a folder; {A_FILE}. Fix: name a file in it."

    def test_missing(self, tmp_path: Path) -> None:
        assert refused_file(tmp_path / "tirp.yaml") == (
            f"0:0  no_such_file  no file of this name; {A_FILE}. Fix: check the name and the folder."
        )

    def test_name_that_no_file_can_have(self) -> None:
        assert "not_readable" in refused_file("trip\0.yaml") or os.name == "nt"

    def test_not_readable(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        path = tmp_path / "trip.yaml"
        path.write_text("trip: x", encoding="utf-8")

        def refuse(*_: object) -> None:
            raise PermissionError(13, "Permission denied")

        monkeypatch.setattr(Path, "open", refuse)
        assert refused_file(path) == (
            f"0:0  not_readable  a file that may not be read; {A_FILE}. Fix: get leave to read it, or a copy."
        )

    @pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
    def test_pipe_does_not_hang(self, tmp_path: Path) -> None:
        path = tmp_path / "pipe"
        os.mkfifo(path)
        assert refused_file(path) == (
            f"0:0  not_a_file  not an ordinary file; {A_FILE}. Fix: save the text in a file and name that."
        )

    def test_two_megabytes(self, tmp_path: Path) -> None:
        path = tmp_path / "trip.yaml"
        path.write_bytes(b"# x\n" * 500_000)
        assert refused_file(path).startswith("1:1  too_large  more than 1 MB; allowed: at most 1000000 bytes. Fix: ")

    @pytest.mark.parametrize(
        ("data", "told"),
        [
            ("trip: Übung\n".encode("utf-16"), f"1:1  not_utf8  text in UTF-16; {SAVE}"),
            ("trip: x\n".encode("utf-16-le"), f"1:1  not_utf8  text in UTF-16; {SAVE}"),
            ("trip: x\n".encode("utf-16-be"), f"1:1  not_utf8  text in UTF-16; {SAVE}"),
            ("trip: x\n".encode("utf-32"), f"1:1  not_utf8  text in UTF-32; {SAVE}"),
            (
                "trip: é\n\r\nnote: naïve Übung\n".encode().replace("Ü".encode(), b"\xdc"),
                f"3:13  not_utf8  a byte that is not UTF-8 (hexadecimal DC); {SAVE}",
            ),
            (
                b"%PDF-1.4\n",
                f"1:1  not_text  a PDF file; {PLAIN}",
            ),
            (
                b"PK\x03\x04rest",
                f"1:1  not_text  a zip archive, or a file of an office program; {PLAIN}",
            ),
        ],
        ids=["utf-16", "utf-16-le", "utf-16-be", "utf-32", "latin-1", "pdf", "zip"],
    )
    def test_encoding(self, tmp_path: Path, data: bytes, told: str) -> None:
        path = tmp_path / "trip.yaml"
        path.write_bytes(data)
        assert refused_file(path) == told


@pytest.mark.parametrize(
    ("named", "what"), [("policy: beside.yaml\n", "policy"), ("supplies: {cart: {store: beside.yaml}}\n", "store")]
)
def test_a_file_beside_a_profile_may_not_be_too_large(tmp_path: Path, named: str, what: str) -> None:
    """It is told where it is named or in its own name, and never read to its end."""
    from planner.profile.read import read_trip

    (tmp_path / "beside.yaml").write_text("#" * (MOST_BYTES + 1), encoding="utf-8")
    rest = "" if what == "store" else "supplies: {cart: {cylinders: [{label: A, size: US-E, gauge: 2000 psi}]}}\n"
    (tmp_path / "trip.yaml").write_text(
        f"profile: 1\ntrip: Ward to scanner\n{named}{rest}devices: {{mask: {{type: simple_mask, flow: 6 L/min}}}}\n"
        "legs: [{name: Lift, duration: 10 min, supply: cart, devices: [mask]}]\n",
        encoding="utf-8",
    )
    with pytest.raises(ProblemsError) as caught:
        read_trip(tmp_path / "trip.yaml")
    told = [str(problem) for problem in caught.value.problems]
    assert any("beside.yaml:1:1  too_large  more than 1 MB; allowed: at most 1000000 bytes." in text for text in told)
