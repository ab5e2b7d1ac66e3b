"""Files that a profile names beside itself: a policy, a store."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from planner.problems import ProblemsError
from planner.profile import structure
from planner.profile.faults import Faults, show
from planner.profile.fields import Fields
from planner.source import Node, load


@dataclass(slots=True)
class Folder:
    """The folder that paths in a profile start from, and the texts of the files read so far, in order."""

    path: Path
    texts: list[str] = field(default_factory=list)

    @contextmanager
    def opened(self, faults: Faults, node: Node, schema: str) -> Iterator[Fields | None]:
        """The file that a node names, held against a schema; None where it cannot be read, which is then told.

        Problems inside the file carry its own name. What the schema refused and nobody read is told at the end.
        """
        path = self.path / node.text.strip()
        try:
            document = load(path)
        except ProblemsError as error:
            for problem in error.problems:
                if problem.line:
                    faults.problems.append(problem)
                else:
                    found = f"{schema} file {show(str(path))}: {problem.found}"
                    faults.add(node, problem.code, found, problem.allowed, problem.fix)
            yield None
            return
        self.texts.append(document.text)
        inner = Faults(document.file, faults.problems)
        root, left = structure.check(inner, document.root, schema)
        yield Fields(inner, root, schema)
        structure.tell_left(inner, left)
