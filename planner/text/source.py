"""YAML as text: every value stays as it was typed, with its line and column.

Nothing is ever constructed from the text: `1:30`, `010`, `no` and `1e3` remain those letters. What can hide a value
or multiply it is refused: equal keys, tags, merge keys, second documents, unseen characters, deep nesting, aliases
that expand. All problems are gathered and raised at once in `planner.problems.ProblemsError`.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import NamedTuple

from planner.problems import Problem, ProblemsError
from planner.text.node import Node
from planner.text.node_path import put
from planner.text.text_file import ProblemList, check_letters, read_text, shown
from planner.text.yaml_tree import MOST_SCALAR_LETTERS, build

__all__ = ["Document", "Node", "apply_changes", "load", "loads", "set_value"]


class Document(NamedTuple):
    """A YAML text that could be read: its name as given, its text, and the map at its root."""

    file: str
    text: str
    root: Node


def load(path: str | os.PathLike[str]) -> Document:
    """A YAML file of at most 1 MB in UTF-8 whose root is a map.

    Raises `ProblemsError` with every problem found, and no other error.
    """
    file = os.fspath(path)
    return loads(read_text(file, ProblemList(file)), file)


def loads(text: str, file: str = "<text>") -> Document:
    """A YAML text, read as `load` reads a file; `file` is the name that its problems carry.

    >>> loads("flow: 010").root.get("flow").text
    '010'
    """
    problems = ProblemList(file)
    text = text.removeprefix("\ufeff")
    check_letters(text, problems)
    problems.check()
    root = build(text, problems)
    if root is not None and root.kind != "map":
        found = "a list" if root.kind == "list" else "text without a key"
        fix = "begin each line of the outermost level with a key, a colon and a space"
        problems.add(root.line, root.column, "not_a_map", found, "keys with values, as in `trip: Ward to scanner`", fix)
    problems.check()
    if root is None:  # pragma: no cover  (the builder tells why)
        raise problems.error()
    return Document(file, text, root)


def set_value(root: Node, path: str, value: str) -> Node:
    """A copy of the tree with one value changed or added, as by `--set cart.A.gauge="1900 psi"`.

    The path is as `planner.text.node_path.put` describes it. A value in brackets, braces or quotes is read as YAML, any
    other is taken as it stands. Problems and new nodes carry the file name `--set PATH` and line 1, column 1; what is
    inside brackets or braces carries its place in the value. Raises `ProblemsError`.
    """
    file = f"--set {shown(path, 80)}"
    problems = ProblemList(file, at_start=True)
    text = value.strip(" ")
    if len(text) > MOST_SCALAR_LETTERS:
        found, may = f"a value of {len(text)} letters", f"at most {MOST_SCALAR_LETTERS}"
        problems.add(1, 1, "too_long", found, may, "shorten it")
    else:
        check_letters(text, problems)
    problems.check()
    node: Node | None = Node("scalar", text, line=1, column=1, file=file)
    if text[:1] in ("[", "{", '"', "'"):
        node = build(text, problems, file)
    problems.check()
    if node is None:  # pragma: no cover  (the builder tells why)
        raise problems.error()
    return put(root, path, node, file)


def apply_changes(root: Node, changes: Sequence[str]) -> Node:
    """A copy of the tree with every `PATH=VALUE` set, in order. Raises `ProblemsError` with all problems at once."""
    problems: list[Problem] = []
    for change in changes:
        path, _, value = change.partition("=")
        if not path.strip() or not value.strip():
            found = "a path without a value" if path.strip() else "a value without a path"
            may = 'a path, an equals sign and a value, as in cart.A.gauge="1900 psi"'
            problems.append(Problem(f"--set {shown(change, 80)}", 1, 1, "bad_change", found, may, "write all three"))
            continue
        try:
            root = set_value(root, path.strip(), value)
        except ProblemsError as error:
            problems.extend(error.problems)
    if problems:
        raise ProblemsError(problems)
    return root
