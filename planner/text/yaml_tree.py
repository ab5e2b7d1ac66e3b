"""From the events of the YAML parser to nodes, with everything refused that can hide or multiply a value.

The parser is read as a stream and the tree is built with a stack of its own: no recursion, no Python values, and
an end to reading as soon as a limit is passed.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any, Final

import yaml

from planner.text.node import Node
from planner.text.text_file import BREAK, UNSEEN, ProblemList, shown, unseen
from planner.text.yaml_words import plain_words

MOST_NODES: Final = 20_000
MOST_DEPTH: Final = 20
MOST_SCALAR_LETTERS: Final = 10_000

# The parser in C where PyYAML was built with it, the same in Python elsewhere.
_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)

_DIRECTIVE = re.compile(r"^%", re.MULTILINE)
_LOST = re.compile(r" +#[0-9]")
_NO_SPACE = re.compile(r"[^:\s]+:[^:\s]")


def build(text: str, problems: ProblemList, file: str | None = None) -> Node | None:
    """The root of the one document in a text, or None where it could not be read to its end.

    `file` goes into every node. Problems are added to `problems`; the tree is of use only if there are none.
    """
    # What tabs are left stand in comments and behind values, where the two parsers do not agree on them.
    text = text.replace("\t", " ")
    directive = _DIRECTIVE.search(text)
    if directive is not None:
        line = len(BREAK.findall(text, 0, directive.start())) + 1
        problems.add(line, 1, "directive", "a line that begins with %", "keys and values", "take the line away")
        return None
    return _Builder(text, problems, file).build()


@dataclass(slots=True)
class _Open:
    """A list or map under construction; `size` and `height` count what aliases stand for."""

    kind: str
    line: int
    column: int
    anchor: str | None
    items: list[Node] = field(default_factory=list)
    pairs: list[tuple[Node, Node]] = field(default_factory=list)
    first_lines: dict[str, int] = field(default_factory=dict)
    key: Node | None = None
    size: int = 1
    height: int = 1


class _Stop(Exception):  # noqa: N818  (it ends the reading; the problem is told already)
    """Reading on would be of no use."""


class _Builder:
    def __init__(self, text: str, problems: ProblemList, file: str | None) -> None:
        self.text = text
        self.lines = BREAK.split(text)
        self.problems = problems
        self.file = file
        self.stack: list[_Open] = []
        self.root: Node | None = None
        self.documents = 0
        self.nodes = 0
        self.anchors: dict[str, tuple[Node, int, int] | None] = {}
        """Finished value, size and height of each anchor; None while it is under construction."""

    def build(self) -> Node | None:
        """Read all events."""
        try:
            for event in yaml.parse(self.text, Loader=_LOADER):
                mark: Any = event.start_mark
                self._take(event, mark.line + 1, mark.column + 1)
        except _Stop:
            return None
        except yaml.YAMLError as error:
            line, column, *phrases = plain_words(error, self.lines)
            self.problems.add(line, column, "not_yaml", *phrases)
            return None
        except (ValueError, OverflowError):  # the parser in Python, on an escape beyond the last character
            may, fix = "text as it is typed", "write the character itself"
            self.problems.add(1, 1, "not_yaml", "an escape in double quotes that is no character", may, fix)
            return None
        if self.root is None or self.root.missing:
            fix = "write a trip or a policy into it"
            self.problems.add(1, 1, "empty", "nothing but space and comments", "keys and values", fix)
            return None
        return self.root

    def _take(self, event: yaml.Event, line: int, column: int) -> None:
        if isinstance(event, yaml.DocumentStartEvent):
            self.documents += 1
            if self.documents > 1:
                fix = "put it into a file of its own, or take --- away"
                self.problems.add(line, column, "second_document", "a second document", "one in a file", fix)
                raise _Stop
        elif isinstance(event, yaml.AliasEvent):
            self._alias(str(event.anchor), line, column)
        elif isinstance(event, yaml.CollectionEndEvent):
            done = self.stack.pop()
            kind: Any = done.kind
            node = Node(kind, "", False, tuple(done.items), tuple(done.pairs), done.line, done.column, self.file)
            self._place(node, done.size, done.height, done.anchor)
        elif isinstance(event, (yaml.ScalarEvent, yaml.CollectionStartEvent)):
            self._begin(event, line, column)

    def _begin(self, event: yaml.ScalarEvent | yaml.CollectionStartEvent, line: int, column: int) -> None:
        """A scalar, or the beginning of a list or map."""
        self.nodes += 1
        if self.nodes > MOST_NODES:
            self._too_many(line, column)
        if event.tag is not None:
            tag = shown(event.tag.replace("tag:yaml.org,2002:", "!!"))
            fix = "take the tag away, or put the text in quotes if it begins with an exclamation mark"
            self.problems.add(line, column, "tag", f"the tag {tag}", "values without tags", fix)
        if event.anchor is not None:
            if event.anchor in self.anchors:
                found = f"the anchor &{shown(event.anchor)} for the second time"
                self.problems.add(line, column, "anchor_twice", found, "each anchor once", "give it another name")
            self.anchors[event.anchor] = None
        if isinstance(event, yaml.ScalarEvent):
            self._scalar(event, line, column)
            return
        if len(self.stack) >= MOST_DEPTH:
            self._too_deep(line, column)
        kind = "list" if isinstance(event, yaml.SequenceStartEvent) else "map"
        self.stack.append(_Open(kind, line, column, event.anchor))

    def _scalar(self, event: yaml.ScalarEvent, line: int, column: int) -> None:
        text, quoted = event.value, bool(event.style)
        if len(text) > MOST_SCALAR_LETTERS:
            found, may = f"a value of {len(text)} letters", f"at most {MOST_SCALAR_LETTERS}"
            self.problems.add(line, column, "too_long", found, may, "shorten it, or close the quotes before it")
            text = text[:MOST_SCALAR_LETTERS]
        hidden = UNSEEN.search(text)
        if hidden is not None:
            found = f"an escape for {unseen(hidden.group())}"
            may = "characters that can be seen"
            self.problems.add(line, column, "unseen_character", found, may, "take the escape away")
        if text and not quoted:
            end: Any = event.end_mark
            self._check_lost(end.line, end.column)
        self._place(Node("scalar", text, quoted, (), (), line, column, self.file), 1, 0, event.anchor)

    def _check_lost(self, line: int, column: int) -> None:
        """Tell of `Bay #3`, which YAML reads as `Bay` and a comment."""
        lost = _LOST.match(self.lines[line], column) if line < len(self.lines) else None
        if lost is not None:
            rest = shown(self.lines[line][lost.end() - 2 :].strip())
            found = f"`{rest}` after a value, which would be lost as a comment"
            fix = "put the whole value in quotes, or a space after # if a comment is meant"
            self.problems.add(line + 1, lost.end() - 1, "value_or_comment", found, "a comment after # and a space", fix)

    def _alias(self, anchor: str, line: int, column: int) -> None:
        node, size, height = Node("scalar", "", True, (), (), line, column, self.file), 1, 0
        known = self.anchors.get(anchor)
        name = shown(anchor)
        if self.stack and self.stack[-1].kind == "map" and self.stack[-1].key is None:
            self._bad_key(line, column)
        elif known is not None:
            node, size, height = known
            if len(self.stack) + height > MOST_DEPTH:
                self._too_deep(line, column)
        elif anchor in self.anchors:
            found, may = f"*{name} inside the value that it names", "aliases of other values"
            self.problems.add(line, column, "alias_of_itself", found, may, "write the value out")
        else:
            found, may = f"*{name} without &{name} before it", "aliases of values that are named before"
            fix = "write the value out, or put the text in quotes if it begins with a star"
            self.problems.add(line, column, "unknown_alias", found, may, fix)
        self._place(node, size, height, None)

    def _place(self, node: Node, size: int, height: int, anchor: str | None) -> None:
        """Put a finished node where it belongs."""
        if anchor is not None:
            self.anchors[anchor] = (node, size, height)
        if not self.stack:
            self.root = node
            return
        top = self.stack[-1]
        top.size += size
        top.height = max(top.height, height + 1)
        if top.kind == "list":
            top.items.append(node)
        elif top.key is None:
            top.key = node
            self._check_key(top, node)
        else:
            if node.missing:
                # The two parsers differ on where nothing stands; the key is where a reader would look.
                node = node._replace(line=top.key.line, column=top.key.column)
            self._check_pair(top.key, node)
            top.pairs.append((top.key, node))
            top.key = None
        if sum(entry.size for entry in self.stack) > MOST_NODES:
            self._too_many(node.line, node.column)

    def _check_key(self, top: _Open, key: Node) -> None:
        if key.kind != "scalar" or key.missing:
            self._bad_key(key.line, key.column)
        elif key.text == "<<" and not key.quoted:
            may = "keys that stand where they are used"
            self.problems.add(key.line, key.column, "merge_key", "the merge key <<", may, "write the keys out")
        elif key.text in top.first_lines:
            found = f"the key `{shown(key.text)}` again, first on line {top.first_lines[key.text]}"
            self.problems.add(key.line, key.column, "duplicate_key", found, "each key once", "take one of them away")
        else:
            top.first_lines[key.text] = key.line

    def _check_pair(self, key: Node, value: Node) -> None:
        """Tell of `{flow:2 L/min}`, which YAML reads as a key without a value."""
        if key.kind == "scalar" and not key.quoted and value.missing and _NO_SPACE.match(key.text):
            name = key.text.partition(":")[0]
            found, fix = f"`{shown(key.text)}` as a key", f"put a space after `{shown(name)}:`"
            self.problems.add(key.line, key.column, "no_space_after_colon", found, "a space after the colon", fix)

    def _bad_key(self, line: int, column: int) -> None:
        may = "a plain word before the colon"
        self.problems.add(line, column, "bad_key", "a key that is no plain word", may, "write a word")

    def _too_deep(self, line: int, column: int) -> None:
        found, may = f"lists and maps more than {MOST_DEPTH} deep", f"at most {MOST_DEPTH} levels"
        self.problems.add(line, column, "too_deep", found, may, "check the brackets and the indentation")
        raise _Stop

    def _too_many(self, line: int, column: int) -> None:
        found = f"more than {MOST_NODES} values, aliases counted as what they stand for"
        fix = "check that this is the right file, and write no aliases of aliases"
        self.problems.add(line, column, "too_many_values", found, f"at most {MOST_NODES}", fix)
        raise _Stop
