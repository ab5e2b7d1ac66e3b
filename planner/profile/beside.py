"""Files that a profile names beside itself: a policy, a store."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

from planner.problems import Problem, ProblemsError
from planner.profile import structure
from planner.profile.faults import Faults
from planner.profile.fields import Fields
from planner.profile.letters import tell_letters
from planner.text.source import Document, Node, load, loads
from planner.text.text_file import MOST_BYTES, show
from planner.text.yaml_tree import MOST_NODES

MOST_VALUES: Final = 2 * MOST_NODES
"""So many values may the files beside one profile hold together, each counted as often as it is named."""


@dataclass(slots=True)
class Folder:
    """The folder that paths in a profile start from, and the files read so far, in order, by their path from `base`.

    `sizes` are the bytes of every file tried, `values` the values of those read. With `kept`, no file is opened: these
    are their texts, as an earlier print holds them.
    """

    path: Path
    base: Path
    kept: Mapping[str, str] | None = None
    texts: list[tuple[str, str]] = field(default_factory=list)
    sizes: list[int] = field(default_factory=list)
    values: list[int] = field(default_factory=list)

    def within(self, file: Node) -> Folder:
        """The same, where paths start from the folder of a file that a node names."""
        return replace(self, path=(self.path / file.text.strip()).parent)

    @contextmanager
    def opened(self, faults: Faults, node: Node, schema: str) -> Iterator[Fields | None]:
        """The file that a node names, held against a schema; None where it cannot be read, which is then told.

        Problems inside the file carry its own name. What the schema refused and nobody read is told at the end.
        """
        path = self.path / node.text.strip()
        if self._over(path):
            found = f"{schema} file {show(str(path))}, with which the files named here are too much to read"
            may = f"at most {MOST_BYTES} bytes and {MOST_VALUES} values in all of them, each time that one is named"
            faults.add(node, "too_large", found, may, "name fewer or smaller files")
            yield None
            return
        try:
            document = self._document(path)
        except ProblemsError as error:
            for problem in error.problems:
                if problem.line:
                    faults.keep(problem)
                else:
                    found = f"{schema} file {show(str(path))}: {problem.found}"
                    faults.add(node, problem.code, found, problem.allowed, problem.fix)
            yield None
            return
        self.texts.append((self._name(path), document.text))
        self.values.append(sum(1 for _ in document.root.walk()))
        inner = Faults(document.file, faults.problems)
        root, left = structure.check(inner, document.root, schema)
        yield Fields(inner, root, schema)
        structure.tell_left(inner, left)
        tell_letters(inner, root, document.text)

    def _document(self, path: Path) -> Document:
        if self.kept is None:
            return load(path)
        text = self.kept.get(self._name(path))
        if text is None:
            may, fix = "what was printed", "give the profile as it was printed"
            raise ProblemsError([Problem(str(path), 0, 0, "no_such_file", "no text of this file", may, fix)])
        return loads(text, str(path))

    def _name(self, path: Path) -> str:
        """The path of a file from the folder of the profile; as it is where it does not start there."""
        return (path.relative_to(self.base) if path.is_relative_to(self.base) else path).as_posix()

    def _over(self, path: Path) -> bool:
        """True where a file would be too much; it is counted, also if it turns out to be none."""
        size = 0
        with suppress(OSError, ValueError):
            if self.kept is None:
                size = min(path.stat().st_size, MOST_BYTES)
        self.sizes.append(size)
        return sum(self.sizes) > MOST_BYTES or sum(self.values) > MOST_VALUES
