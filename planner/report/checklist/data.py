"""The checklists of a plan as plain data: texts in their final rounding, stable keys for ticks and blanks."""

from __future__ import annotations

from typing import Literal, NamedTuple


class ChecklistItem(NamedTuple):
    """One line to tick: `ask` is read aloud, `answer` is what must be true; `number` counts within its list.

    `key` names its tick. `own` marks a line of the service's own; its `answer` may be empty.
    """

    key: str
    number: int
    part: str
    ask: str
    answer: str
    source: str
    own: bool = False


class WriteIn(NamedTuple):
    """A box to write in: its name in the form, the short title above it, and what it is for in full."""

    name: str
    title: str
    tip: str


class Checklist(NamedTuple):
    """One list. `key` begins the names of its ticks; `readings` are gauges to write down at its end."""

    key: str
    title: str
    note: str
    items: tuple[ChecklistItem, ...]
    readings: tuple[WriteIn, ...] = ()
    signed: tuple[WriteIn, ...] = ()


class Side(NamedTuple):
    """What comes off or goes on at a change: its name, the supply it belongs to, and what it should read.

    `gauge` is empty where nothing shows a gauge; `supply` is empty where the name is that of the supply.
    """

    name: str
    supply: str
    gauge: str


class ChangeList(NamedTuple):
    """One change on the way, of source or of cylinder, with its own short list.

    `old` is None where a supply comes in beside those in use, `new` where one is only shut. `elapsed` and `clock` say
    when; `by_gauge` is true where the gauge of the old cylinder may come first; `notes` say what is unusual.
    """

    number: int
    kind: Literal["source", "cylinder"]
    leg: str
    old: Side | None
    new: Side | None
    elapsed: str
    clock: str
    by_gauge: bool
    notes: tuple[str, ...]
    items: tuple[ChecklistItem, ...]
    blanks: tuple[WriteIn, ...]

    @property
    def key(self) -> str:
        """What the names of its ticks and blanks begin with."""
        return f"change.{self.number}"


class Checklists(NamedTuple):
    """Every list of a plan in the order of the trip. `sources` names every line that has one."""

    go: bool
    before: tuple[Checklist, ...]
    changes: tuple[ChangeList, ...]
    after: tuple[Checklist, ...]
    sources: tuple[str, ...]
