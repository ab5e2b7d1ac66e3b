"""A store of cylinders by itself, as a supply's `store:` names it: a file with `cylinders:`."""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass

from planner.model import Cylinder
from planner.profile import structure
from planner.profile.clock import TripClock
from planner.profile.faults import Faults, told
from planner.profile.fields import Fields
from planner.profile.letters import tell_letters
from planner.profile.supplies import read_cylinders
from planner.text import source
from planner.text.text_file import show


@dataclass(frozen=True, slots=True)
class Store:
    """A store: its file as given, its name if it has one, its cylinders, and the SHA-256 of its text."""

    file: str
    name: str | None
    cylinders: tuple[Cylinder, ...]
    fingerprint: str

    @property
    def in_use(self) -> tuple[Cylinder, ...]:
        """Those that are not put out of use."""
        return tuple(cylinder for cylinder in self.cylinders if not cylinder.out_of_use)


def read_store(path: str | os.PathLike[str]) -> Store:
    """Read a store file. Raises `ProblemsError` with every problem at once, and no other error."""
    return _read(source.load(path))


def parse_store(text: str, file: str) -> Store:
    """The same of the text of a store."""
    return _read(source.loads(text, file))


def _read(document: source.Document) -> Store:
    faults = Faults(document.file)
    root, left = structure.check(faults, document.root, "store")
    fields = Fields(faults, root, f"store {show(document.file)}")
    cylinders = read_cylinders(fields, "cylinders", None, TripClock(None, None))
    name = fields.text("name")
    structure.tell_left(faults, left)
    tell_letters(faults, root, document.text)
    if faults:
        raise told(faults.problems)
    digest = hashlib.sha256(document.text.encode("utf-8", "surrogatepass")).hexdigest()
    return Store(document.file, name, cylinders, digest)
