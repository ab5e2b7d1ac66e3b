"""The mark by which the file of a card is known, so that a later plan finds the card that it takes the place of.

Nothing else in the file is read.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final, NamedTuple

from planner.report.identity import Identity

VOID: Final = "transport-oxygen void"
"""The mark of a page that took the place of a card."""
_MOST_BYTES: Final = 50_000_000
_MARK = re.compile(rb"transport-oxygen card ([0-9a-f]{12}) revision ([0-9]{1,4})", re.ASCII)


class OldCard(NamedTuple):
    """A card that lies in a folder: its number and its revision."""

    number: str
    revision: int


def mark(print_: Identity) -> str:
    """What the file of a card carries, so that it is known as one."""
    return f"transport-oxygen card {print_.number} revision {print_.revision}"


def old_card(path: Path) -> OldCard | None:
    """The card in a file; None where there is no file, or one that is no card of this program."""
    try:
        if path.stat().st_size > _MOST_BYTES:
            return None
        data = path.read_bytes()
    except OSError:
        return None
    found = _MARK.search(data)
    if found is None or VOID.encode("ascii") in data:
        return None
    return OldCard(found[1].decode("ascii"), int(found[2]))
