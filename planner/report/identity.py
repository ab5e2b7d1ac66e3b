"""What a fillable print carries of itself: which trip it is, and what it was planned from.

Every page holds trip, revision and fingerprint in fields that nobody sees, so that no form is taken for that of another
trip. The texts that the trip was read from are attached, so that readings typed into an older print can be compared
with the plan that it was printed from.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, Final, NamedTuple

from planner.model import Trip

ATTACHMENT: Final = "planned-from.json"
MOST_BYTES: Final = 1_000_000
FORMAT: Final = 1
FIELDS: Final = ("plan.trip", "plan.revision", "plan.fingerprint")
"""Names of the hidden fields."""


class Identity(NamedTuple):
    """Which print it is. `trip` is the reference of the trip, its name where it has none."""

    trip: str
    revision: int
    fingerprint: str

    @property
    def number(self) -> str:
        """The number of the print, as it stands at the foot of every page."""
        return self.fingerprint[:12] or "unknown"


def identity(trip: Trip) -> Identity:
    """Which print of a trip this is."""
    revision = 1 if trip.onward is None else trip.onward.revision
    return Identity(trip.reference or trip.name, revision, trip.fingerprint)


def fields(trip: Trip) -> dict[str, str]:
    """The hidden fields of every page, by name."""
    return dict(zip(FIELDS, map(str, identity(trip)), strict=True))


def identity_of(values: Mapping[str, str]) -> Identity | None:
    """The identity that the hidden fields of a page hold; None where one is missing or no such field."""
    trip, revision, fingerprint = (values.get(name, "") for name in FIELDS)
    if not trip or not fingerprint or not (revision.isascii() and revision.isdigit() and len(revision) < 6):
        return None
    return Identity(trip, int(revision), fingerprint)


class PlannedFrom(NamedTuple):
    """What a print was planned from: the texts, each with the name of its file, and the values set at the bedside.

    `steps` are the times that it was planned again on the way (`planner.model.Onward`).
    """

    texts: tuple[tuple[str, str], ...]
    changes: tuple[str, ...]
    steps: tuple[str, ...]


def attachment(trip: Trip) -> bytes | None:
    """What a print of a trip is planned from, as JSON in UTF-8; None where that is not known, or more than 1 MB."""
    if not trip.texts:
        return None
    steps = () if trip.onward is None else trip.onward.steps
    held = {"format": FORMAT, "texts": trip.texts, "changes": trip.changes, "steps": steps}
    data = json.dumps(held, ensure_ascii=False).encode("utf-8", "surrogatepass")
    return data if len(data) <= MOST_BYTES else None


def planned_from(text: str) -> PlannedFrom | None:
    """What an attachment holds; None where it is none of this program's, or of another format."""
    try:
        held: Any = json.loads(text)
        if held["format"] != FORMAT:
            return None
        texts = tuple((_text(name), _text(content)) for name, content in held["texts"])
        changes, steps = (tuple(map(_text, held[name])) for name in ("changes", "steps"))
        return PlannedFrom(texts, changes, steps) if texts else None
    except (ValueError, KeyError, TypeError, RecursionError):
        return None


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise TypeError(value)
    return value
