"""Values changed in the text of a profile; every letter around them stays, comments and order too.

A change is first made in the tree of values, as `--set` makes it. Where the changed tree differs from the old one, the
text is edited at the place that the tree names. What comes out is read again and must give the changed tree, so that a
place that this module does not understand is refused and never edited wrongly.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Sequence
from pathlib import Path

from planner.new_trip.wording import free, written
from planner.problems import Problem, ProblemsError
from planner.text.node import Node
from planner.text.source import apply_changes, loads
from planner.text.text_file import line_starts, shown

_GAP = re.compile(r"(?:[\s,]|(?<=\s)#[^\r\n]*)*")
_REST_OF_LINE = re.compile(r"[^\r\n]*")
_COLON = re.compile(r" *:")
_QUOTED = {"'": re.compile(r"'(?:[^'\r\n]|'')*'"), '"': re.compile(r'"(?:[^"\\\r\n]|\\.)*"')}


class _NoPlaceError(Exception):
    """The text at a node is not in a form that is edited here."""


def edited(text: str, changes: Sequence[str], file: str = "<text>") -> str:
    """The text of a profile with every `PATH=VALUE` changed in place, or added where it belongs.

    Paths are those of `--set`, as `planner.text.node_path.put` describes them. Raises `ProblemsError` with every
    problem of the text or of the changes, and for a place that cannot be edited without touching others.
    """
    text = loads(text, file).text
    apply_changes(loads(text, file).root, changes)  # tells every wrong change at once
    for change in changes:
        text = _with(text, change, file)
    return text


def paths_kept(root: Node, old: Path, new: Path) -> list[str]:
    """The changes that keep the files which a profile names in reach when it moves from one folder to another."""
    supplies = root.get("supplies") or Node("map")
    named = [("policy", root.get("policy"))]
    named += [(f"policy.{key}", root.pick("policy", key)) for key in ("file", "own_lines")]
    named += [(f"supplies.{name.text}.store", supply.get("store")) for name, supply in supplies.pairs]
    texts = [(path, node.text.strip()) for path, node in named if node is not None and node.kind == "scalar"]
    return [
        f"{path}={path_beside(old / text, new)}"
        for path, text in texts
        if text and not Path(text).is_absolute() and (old / text).resolve() != (new / text).resolve()
    ]


def without_decisions(text: str, file: str = "<text>") -> str:
    """The text of a profile without `accepted`: what a clinician accepted holds for the trip that it was accepted for.

    Raises `ProblemsError` where the text is no YAML, or the key cannot be taken out without touching others.
    """
    root = loads(text, file).root
    keys = [key for key, _ in root.pairs]
    found = next((key for key in keys if key.text == "accepted"), None)
    if found is None:
        return text
    lines = text.splitlines(keepends=True)
    after = min((key.line for key in keys if key.line > found.line), default=len(lines) + 1)
    while after > found.line + 1 and lines[after - 2].lstrip()[:1] in ("#", ""):
        after -= 1  # comments and blank lines above the next key are its own
    left = "".join(lines[: found.line - 1] + lines[after - 1 :])
    kept = [(key.text, written(value)) for key, value in root.pairs if key.text != "accepted"]
    try:
        now = [(key.text, written(value)) for key, value in loads(left, file).root.pairs]
    except ProblemsError:
        now = []
    if now != kept:
        fix = "take `accepted` out of the profile first: it holds for its own trip alone"
        allowed = "`accepted` on lines of its own"
        raise ProblemsError([Problem(file, found.line, found.column, "not_editable", "`accepted`", allowed, fix)])
    return left


def path_beside(path: Path, folder: Path) -> str:
    """A path as it is written in a profile of that folder, with slashes; absolute where there is no way from there."""
    try:
        found = os.path.relpath(path.resolve(), folder.resolve())
    except ValueError:  # another drive
        found = str(path.resolve())
    return found.replace(os.sep, "/")


def _with(text: str, change: str, file: str) -> str:
    root = loads(text, file).root
    wanted = apply_changes(root, [change])
    try:
        edits = sorted(_Editor(text).edits(root, wanted), reverse=True)
        for start, end, new in edits:
            text = text[:start] + new + text[end:]
        if _same(loads(text, file).root, wanted):
            return text
    except (_NoPlaceError, ProblemsError):
        pass
    place = f"--set {shown(change.partition('=')[0].strip(), 80)}"
    found = "a place of the profile that cannot be changed without touching others"
    allowed = "a value, a list or a map written out where it stands, without anchors and folded texts"
    fix = "copy the profile and change this place in an editor"
    raise ProblemsError([Problem(place, 1, 1, "not_in_place", found, allowed, fix)])


def _same(one: Node, other: Node) -> bool:
    """True where two trees say the same, wherever it stands; the order of keys says nothing."""
    if one.kind != other.kind or one.text != other.text or one.missing != other.missing:
        return False
    if one.text in ("true", "false") and one.quoted != other.quoted:
        return False
    values, others = ({key.text: value for key, value in node.pairs} for node in (one, other))
    return (
        len(one.items) == len(other.items)
        and all(map(_same, one.items, other.items))
        and values.keys() == others.keys()
        and all(_same(value, others[key]) for key, value in values.items())
    )


class _Editor:
    """Finds the places of nodes in a text."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.starts = line_starts(text)

    def edits(self, old: Node, new: Node, key: Node | None = None) -> Iterator[tuple[int, int, str]]:
        """Start, end and new text of every edit that makes one tree of the other."""
        if old is new or (old.kind == "scalar" and not old.missing and _same(old, new)):
            return
        if new.file is not None or new.kind != old.kind or new.kind == "scalar":
            yield self.replacement(old, new, key)
        elif new.kind == "list":
            for one, other in zip(old.items, new.items, strict=True):
                yield from self.edits(one, other)
        else:
            kept = len(old.pairs)
            for (name, one), (_, other) in zip(old.pairs, new.pairs, strict=False):
                yield from self.edits(one, other, name)
            for name, added in new.pairs[kept:]:
                yield self.addition(old, name, added)

    def replacement(self, old: Node, new: Node, key: Node | None) -> tuple[int, int, str]:
        if old.missing:
            after = self.end_of_key(key)
            return after, after, f" {written(new)}"
        return self.start(old), self.end(old), written(new)

    def addition(self, where: Node, name: Node, value: Node) -> tuple[int, int, str]:
        pair = f"{free(name.text)}: {written(value)}"
        start = self.start(where)
        if self.text[start : start + 1] == "{":
            if not where.pairs:
                return start + 1, start + 1, pair
            end = self.end_of_pair(*where.pairs[-1])
            return end, end, f", {pair}"
        end = self.skip(_REST_OF_LINE, self.end_of_pair(*self.neighbour(where)))
        line_break = "\r\n" if "\r\n" in self.text else "\n"
        return end, end, f"{line_break}{' ' * (where.pairs[0][0].column - 1)}{pair}"

    def neighbour(self, where: Node) -> tuple[Node, Node]:
        """The pair after which a new one stands: in the profile itself the last of its head, else the last of all."""
        if (where.line, where.column) == (where.pairs[0][0].line, 1):
            head = [pair for pair in where.pairs if pair[1].kind == "scalar" and not pair[1].missing]
            if head:
                return head[-1]
        return where.pairs[-1]

    def start(self, node: Node) -> int:
        return self.starts[node.line - 1] + node.column - 1

    def end(self, node: Node) -> int:
        """The place behind the last letter of a node."""
        start = self.start(node)
        first = self.text[start : start + 1]
        if node.kind == "scalar":
            return self.end_of_scalar(node, start, first)
        if first in ("{", "["):
            inside = start + 1
            if node.pairs:
                inside = self.end_of_pair(*node.pairs[-1])
            elif node.items:
                inside = self.end(node.items[-1])
            closed = self.skip(_GAP, inside)
            if self.text[closed : closed + 1] != {"{": "}", "[": "]"}[first]:
                raise _NoPlaceError
            return closed + 1
        return self.end_of_pair(*node.pairs[-1]) if node.pairs else self.end(node.items[-1])

    def end_of_scalar(self, node: Node, start: int, first: str) -> int:
        if not node.quoted:
            if node.missing or not self.text.startswith(node.text, start):
                raise _NoPlaceError
            return start + len(node.text)
        if first not in _QUOTED:
            raise _NoPlaceError
        return self.skip(_QUOTED[first], start)

    def end_of_pair(self, key: Node, value: Node) -> int:
        return self.end_of_key(key) if value.missing else self.end(value)

    def end_of_key(self, key: Node | None) -> int:
        """The place behind the colon of a key."""
        if key is None:
            raise _NoPlaceError
        return self.skip(_COLON, self.end(key))

    def skip(self, pattern: re.Pattern[str], start: int) -> int:
        """The place behind what must stand at a place."""
        match = pattern.match(self.text, start)
        if match is None:
            raise _NoPlaceError
        return match.end()
