"""Whatever the text, the answer is a value or problems that can be told, and it comes soon."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from typing import Any

import pytest
import yaml
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from planner.problems import Problem, ProblemsError
from planner.text import yaml_tree
from planner.text.label_contents import label_contents
from planner.text.node import Node
from planner.text.quantities import QuantityError, parse
from planner.text.source import loads, set_value
from planner.text.unit_table import KINDS

pytestmark = pytest.mark.hazard(4, 25)

quick = settings(deadline=2000)
LONGEST_S = {"CSafeLoader": 2.0, "SafeLoader": 10.0}
"""Processor time for a megabyte; the parser in Python, which stands in where there is no other, takes about one."""

PARSERS: list[Any] = [getattr(yaml, name) for name in ("SafeLoader", "CSafeLoader") if hasattr(yaml, name)]
PIECES = (
    *(
        "a",
        "b: ",
        "- ",
        "? ",
        ": ",
        "[",
        "]",
        "{",
        "}",
        ",",
        "'",
        '"',
        "|",
        ">",
        "#",
        " #3",
        "&x ",
        "*x",
        "!t ",
        "!!str ",
    ),
    *("---", "\n---\n", "...", "%", "@", "<<: ", "~", "1:30", "2 L/min", "key: value\n", "  k: v\n", "\\", "\\u0041"),
    *("\n", "\n  ", "\n    ", " ", "\t", "\r", "\r\n", "|\n", ">-\n", "é", "😀", "\x00", "\u202e"),
)
YAML_LIKE = st.lists(st.sampled_from(PIECES), max_size=30).map("".join)
LETTERS = st.text(st.characters(categories=("L", "N", "P", "S"), include_characters=" "), max_size=12)
TREES = st.dictionaries(
    LETTERS.filter(bool),
    st.recursive(LETTERS, lambda part: st.lists(part) | st.dictionaries(LETTERS.filter(bool), part), max_leaves=12),
    min_size=1,
)
NUMBERS = st.from_regex(r"(0|[1-9][0-9]{0,5})(\.[0-9]{1,5})?", fullmatch=True)
QUANTITY_PIECES = (
    *("1", "0", "9", "60", ".", ",", "-", "+", " ", "e3", ":30", "_", "/", "%", "L", "l", "min", "Min", "m", "h", "s"),
    *("psi", "bar", "kPa", "ft", "degC", "°F", "nan", "inf", " at ", "é", "\u00a0"),
)
QUANTITY_LIKE = st.lists(st.sampled_from(QUANTITY_PIECES), max_size=8).map("".join)


def tree_or_problems(call: Callable[[], Node]) -> tuple[Node | None, tuple[Problem, ...]]:
    """What a reader gives. Any other error than `ProblemsError` fails the test."""
    try:
        return call(), ()
    except ProblemsError as error:
        return None, error.problems


def value_or_error(call: Callable[[], Any]) -> tuple[Any, QuantityError | None]:
    """What a reader of quantities gives. Any other error than `QuantityError` fails the test."""
    try:
        return call(), None
    except QuantityError as error:
        return None, error


@quick
@given(st.one_of(YAML_LIKE, st.text(max_size=200)))
@example("a: &a [*a]")
@example('"\\UFFFFFFFF"')
@example("? \n? \n")
def test_any_text_gives_a_map_or_problems(text: str) -> None:
    root, problems = tree_or_problems(lambda: loads(text, "trip.yaml").root)
    assert (root is None) == bool(problems)
    assert root is None or root.kind == "map"
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    for problem in problems:
        assert problem.file == "trip.yaml"
        assert 1 <= problem.line <= len(lines)
        assert 1 <= problem.column <= len(lines[problem.line - 1]) + 1
        assert str(problem).isprintable()
        assert all((problem.found, problem.allowed, problem.fix))


def read_by_each(text: str) -> list[Node | None]:
    """The root that each parser gives, None where it finds problems."""
    roots = []
    for parser in PARSERS:
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(yaml_tree, "_LOADER", parser)
            roots.append(tree_or_problems(lambda: loads(text).root)[0])
    return roots


def plain(node: Node) -> object:
    """A node as Python would hold it, all scalars as text."""
    if node.kind == "map":
        return {key.text: plain(value) for key, value in node.pairs}
    return [plain(item) for item in node.items] if node.kind == "list" else node.text


@quick
@given(YAML_LIKE)
@example("a:\nb: x\n")
def test_the_two_parsers_never_read_one_text_differently(text: str) -> None:
    # In corners such as `|#` one of them refuses what the other reads.
    read = [root for root in read_by_each(text) if root is not None]
    assert all(root == read[0] for root in read)


@quick
@given(TREES, st.sampled_from(('"', "'")), st.booleans(), st.sampled_from((20, 80, 1000)))
def test_what_is_written_as_yaml_is_read_back(tree: object, quotes: str, brackets: bool, width: int) -> None:
    text = yaml.safe_dump(tree, default_style=quotes, default_flow_style=brackets, allow_unicode=True, width=width)
    for root in read_by_each(text):
        assert root is not None
        assert plain(root) == tree


@quick
@given(st.one_of(st.text(max_size=60), st.from_regex(r"[a-c.\[\]0-2]{1,12}", fullmatch=True)), st.text(max_size=60))
@example("c.b.x", "1")
@example("a.b[2].c", "[1, {d: e}]")
def test_any_change_is_made_or_refused(path: str, value: str) -> None:
    before = loads("a: {b: [x, {c: y}]}\nsupplies: {c: {cylinders: [{label: b}]}}\n").root
    root, problems = tree_or_problems(lambda: set_value(before, path, value))
    assert (root is None) == bool(problems)
    assert root is None or (root.kind == "map" and root is not before)
    for problem in problems:
        assert (problem.line, problem.column) == (1, 1)
        assert str(problem).isprintable()


MEGABYTES = (
    *(
        "[",
        "{a: ",
        "- ",
        "? ",
        "a:\n",
        "x",
        "'",
        '"',
        "#",
        "\t",
        " ",
        "\n",
        "a: b\n",
        "!a ",
        "&a ",
        "*a ",
        "a ",
        "|\n ",
    ),
    *("\u202e", "a,", "---\n", "'' ", "{},", "a\n", "\n%TAG ! x", "a: 'x\n", "\\"),
)


@pytest.mark.parametrize("piece", MEGABYTES, ids=ascii)
@pytest.mark.longer("parser", PARSERS[-1:], PARSERS)
def test_a_megabyte_of_anything_ends_soon(piece: str, parser: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(yaml_tree, "_LOADER", parser)
    text = "a: " + piece * (999_000 // len(piece))
    began_s = time.process_time()
    _, problems = tree_or_problems(lambda: loads(text).root)
    assert time.process_time() - began_s < LONGEST_S[parser.__name__]
    assert len(problems) <= 101


@quick
@given(st.one_of(QUANTITY_LIKE, st.text(max_size=60)), st.sampled_from(sorted(KINDS)))
@example("9" * 400 + " L", "volume")
@example("1" + " " * 400 + "x", "volume")
@example("1e99 L", "volume")
def test_any_text_is_a_finite_quantity_or_refused(text: str, kind: str) -> None:
    value, error = value_or_error(lambda: parse(text, kind))
    if error is None:
        assert math.isfinite(value)
        assert value >= 0 or kind in {"temperature", "altitude"}
        return
    for phrase in (error.found, error.allowed, error.fix):
        assert phrase
        assert phrase.isprintable()
        assert phrase[-1] != "."


@quick
@given(st.one_of(QUANTITY_LIKE, st.text(max_size=60)))
@example("1 L at 1 psi")
def test_any_label_is_read_or_refused(text: str) -> None:
    label, error = value_or_error(lambda: label_contents(text))
    assert error is not None or (label.contents_l > 0 and label.gauge_kpa > 0)


@quick
@given(
    NUMBERS,
    st.sampled_from([(kind, unit) for kind in KINDS for unit in tuple(KINDS[kind].units)]),
    st.sampled_from(("", " ", "  ")),
)
def test_number_and_unit_keep_their_worth(number: str, kind_unit: tuple[str, str], space: str) -> None:
    kind, unit = kind_unit
    if kind == "fraction":
        assume(float(number) <= 100)
    spec = KINDS[kind]
    expected = float(number) * float(spec.units[unit]) + float(spec.offsets.get(unit, 0))
    assert parse(f"{number}{space}{unit}", kind) == pytest.approx(expected, rel=1e-12, abs=1e-12)
