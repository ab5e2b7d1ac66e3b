"""Texts that the printed pages could not show, told where they stand."""

from __future__ import annotations

from planner.profile.faults import Faults
from planner.text.letters import named, unshown
from planner.text.source import Node
from planner.text.text_file import show

ALLOWED = "letters that the printed pages can show: Latin, Greek and Cyrillic, digits and common signs"


def tell_letters(faults: Faults, root: Node, *texts: str) -> None:
    """Tell of every name and value of a tree with letters that the pages cannot show, but where a fault was told.

    `texts` are what the tree was read from: nothing is searched where none can hold such a letter.
    """
    if all(text.isascii() and "\\" not in text for text in texts):
        return
    told = {(problem.file, problem.line, problem.column) for problem in faults.problems}
    for node in root.walk():
        letters = unshown(node.text)
        if letters and (node.file or faults.file, node.line, node.column) not in told:
            found = f"{show(node.text)} with {named(letters)}"
            faults.add(node, "not_printable", found, ALLOWED, "write it in such letters")
